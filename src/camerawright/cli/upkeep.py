"""The workshop itself: serve its pages, back it up, restore and verify it, fill it with the demo."""

import ipaddress
import socket
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.shell import REFUSED, tell, tell_table, workshop_folder, workshop_of

if TYPE_CHECKING:
    from camerawright.store.workshop import Workshop
    from camerawright.trouble import Trouble

commands = typer.Typer()


@commands.command()
def serve(
    ctx: typer.Context,
    host: Annotated[
        str, typer.Option(metavar="ADDRESS", help="Where to listen; loopback only, unless you say otherwise.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, metavar="N", help="The port; 0 takes a free one.")] = 8470,
) -> None:
    """Serve the workshop as pages for the browser, until Ctrl-C.

    Only this machine can open them. With --host, other machines can too: then every browser needs the token that is
    printed here, and which is another one at each start. It travels without encryption, so use it in a network that
    you trust.

    \b
    Examples:
      camerawright serve
      camerawright serve --host 0.0.0.0
    """
    with workshop_of(ctx) as workshop, _listening(host, port) as listening:
        import uvicorn

        from camerawright.web.app import create_app
        from camerawright.web.token import NAME, new_token

        token = "" if _is_loopback(host) else new_token()
        hosts = _called(host)
        named = f"[{hosts[0]}]" if ":" in hosts[0] else hosts[0]
        address = f"http://{named}:{listening.getsockname()[1]}/{f'?{NAME}={token}' if token else ''}"
        tell(f"Serving {workshop.folder} at {address}  (Ctrl-C ends it)")
        if token:
            tell(f"{host} can be reached from other machines. A browser is let in by this token: {token}")
        sys.stdout.flush()
        app = create_app(workshop, hosts=hosts, token=token)
        config = uvicorn.Config(app, log_level="warning", ws="none", proxy_headers=False)
        uvicorn.Server(config).run(sockets=[listening])


def _listening(host: str, port: int) -> socket.socket:
    """A socket that listens there."""
    from camerawright.trouble import Refused

    try:
        family = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][0]
        return socket.create_server((host, port), family=family)
    except OSError as error:
        raise Refused(
            error.strerror or str(error), "name another with --host or --port", f"{host} port {port}"
        ) from None


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host.casefold() == "localhost"


def _called(host: str) -> tuple[str, ...]:
    """Under which names a browser may call us; all interfaces have this machine's names and its address."""
    if host not in ("0.0.0.0", "::"):
        return (host,)
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    name = socket.gethostname()
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        try:
            # Nothing is sent: connecting a datagram socket only picks the way out (addresses for documentation).
            probe.connect(("2001:db8::1" if family == socket.AF_INET6 else "192.0.2.1", 9))
            return (probe.getsockname()[0], name, f"{name}.local")
        except OSError:
            return (name, f"{name}.local")


@commands.command("back-up")
def back_up(
    ctx: typer.Context,
    target: Annotated[Path, typer.Argument(metavar="TARGET", help="A new folder.", show_default=False)],
    damaged: Annotated[
        bool, typer.Option("--damaged", help="Copy it although something is damaged or missing, as it is.")
    ] = False,
) -> None:
    """Copy the workshop, also while it is in use.

    The copy is read again before it gets its name. If something is damaged, missing or cannot be understood, nothing is
    copied, and you are told what.
    A backup is itself a workshop, which you can also open on a disk that cannot be written.

    \b
    Example:
      camerawright back-up /media/stick/workshop-2031-05-04
    """
    from camerawright.store import backup

    with workshop_of(ctx) as workshop:
        wrong = backup.back_up(workshop, target, progress, takes_damage=damaged)
    for trouble in wrong:
        tell(f"damaged: {trouble}")
    tell(f"backed up to {target}")


@commands.command()
def restore(
    source: Annotated[Path, typer.Argument(metavar="SOURCE", help="A backup.", show_default=False)],
    target: Annotated[Path, typer.Argument(metavar="TARGET", help="A new or empty folder.", show_default=False)],
) -> None:
    """Restore a backup into a new folder.

    Once all of it is found whole.

    \b
    Example:
      camerawright restore /media/stick/workshop-2031-05-04 ./workshop
    """
    from camerawright.store import backup

    backup.restore(source, target)
    tell(f"restored to {target}; use it with --workshop {target}")


@commands.command()
def verify(
    ctx: typer.Context,
    accept: Annotated[
        bool,
        typer.Option("--accept", help="Take what you edited yourself as it is now: directory, profiles, settings."),
    ] = False,
    recompute: Annotated[
        bool, typer.Option("--recompute", help="Compute every reading again from its recording, too.")
    ] = False,
) -> None:
    """Read everything once and say what is wrong.

    Database, directory, entries, recordings and photos, profiles and settings; exit code 1 if anything is wrong. Each
    line names the place and the mend. If you edited a profile or `workshop.toml`, accept it with --accept; an altered
    journal is never accepted. --recompute tells which readings give something else now, and by which version of the
    method; that a newer method gives something else is no damage.

    \b
    Examples:
      camerawright verify
      camerawright verify --accept
      camerawright verify --recompute
    """
    from camerawright.store import check
    from camerawright.store.folder import MEDIA
    from camerawright.trouble import Refused

    folder = workshop_folder(ctx)
    changed: list[tuple[Trouble, bool]] = []
    try:
        with workshop_of(ctx) as workshop:
            for words in workshop.accept() if accept else ():
                tell(f"accepted: {words}")
            found = workshop.checked()
            changed = _changed(workshop) if recompute and not found.damage else []
    except Refused as refused:
        if not folder.exists():
            raise
        found = check.Checked(damage=(*refused.troubles, *check.of_folder(folder / MEDIA)))
    if recompute and found.damage:
        tell("no reading was computed again: mend the damage first")
    for remark in (*found.remarks, *(trouble for trouble, is_newer in changed if is_newer)):
        tell(f"to know: {remark}")
    _refuse(
        [*found.damage, *found.unusable, *found.edited, *(trouble for trouble, is_newer in changed if not is_newer)]
    )
    tell("everything is whole")


def _changed(workshop: "Workshop") -> "list[tuple[Trouble, bool]]":
    """The readings that give something else when they are computed again."""
    from camerawright.readings import recomputed

    return list(recomputed.changed(workshop, progress))


def _refuse(wrong: "list[Trouble]") -> None:
    """Say everything that is wrong, and end with it, if anything is."""
    for trouble in wrong:
        tell(str(trouble))
    if wrong:
        raise typer.Exit(REFUSED)


@commands.command()
def demo(ctx: typer.Context) -> None:
    """Fill a new workshop with the invented demo.

    One camera goes through the whole job, each stage told.

    \b
    Example:
      camerawright --workshop demo-workshop demo
    """
    from camerawright.demo.run import run

    run(workshop_folder(ctx), tell, progress)


def progress(n_done: int, n_all: int) -> None:
    """A bar on the error stream, where somebody looks at it."""
    if sys.stderr.isatty():
        filled = 40 * n_done // max(n_all, 1)
        typer.echo(f"\r[{'#' * filled:<40}] {n_done}/{n_all}", err=True, nl=n_done >= n_all)


@commands.command()
def profiles(ctx: typer.Context) -> None:
    """List the tolerance profiles of the workshop.

    They are files in its folder `profiles`, to be edited there.

    \b
    Example:
      camerawright profiles
    """
    from camerawright.handbook.tolerances import read_profile

    with workshop_of(ctx) as workshop:
        tell_table([(name, read_profile(workshop.profile_path(name)).title) for name in workshop.profile_names()])
