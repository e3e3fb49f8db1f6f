"""The strip-down: what comes off, what is noted, found, warned of and owed."""

from pathlib import Path
from typing import Annotated, Any

import typer

from camerawright.cli.shell import JobId, Overrule, Part, Photo, Say, entered, kept_photo, workshop_of
from camerawright.cli.wording import tell_entered, tell_next_off

commands = typer.Typer()

Screws = Annotated[
    list[str] | None,
    typer.Option("--screw", metavar="TEXT", help='Like fasteners: "3 x M1.7 x 4 cheese LH"; once for each kind.'),
]
Shims = Annotated[
    list[str] | None, typer.Option("--shim", metavar="TEXT", help='"1 x 0.10 NE corner"; once for each place.')
]


def hardware_given(screw: list[str] | None, shim: list[str] | None) -> dict[str, Any]:
    """Fasteners and shims, read from their lines.

    Raises
    ------
    camerawright.journal.notation.NotUnderstood
        The first line that cannot be read.
    """
    from camerawright.journal import notation

    return {
        "fasteners": tuple(notation.fastener(text) for text in screw or ()),
        "shims": tuple(notation.shim(text) for text in shim or ()),
    }


def _enter(ctx: typer.Context, job: str, kind: str, *, photo: Path | None = None, **fields: Any) -> None:
    """Make one entry, and say where the job stands and what to expect next."""
    with workshop_of(ctx) as workshop:
        workshop.job(job)
        here = entered(workshop, job, kind, photo=kept_photo(workshop, photo), **fields)
        tell_entered(here)
        tell_next_off(here)


@commands.command()
def remove(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    job: JobId,
    part: Part,
    place: Annotated[str | None, typer.Option(metavar="TEXT", help="From where.")] = None,
    screw: Screws = None,
    shim: Shims = None,
    under: Annotated[
        list[str] | None, typer.Option(metavar="PART", help="Fitted under this; once for each part.")
    ] = None,
    torque: Annotated[
        str | None, typer.Option(metavar="TEXT", help="How it felt: free, normal, tight or seized.")
    ] = None,
    cell: Annotated[str | None, typer.Option(metavar="TEXT", help="The tray cell it lies in.")] = None,
    photo: Photo = None,
    material: Annotated[str | None, typer.Option(metavar="TEXT", help="What it is made of: decides its route.")] = None,
    finish: Annotated[str | None, typer.Option(metavar="TEXT", help="How it is finished: decides its route.")] = None,
    soil: Annotated[list[str] | None, typer.Option(metavar="TEXT", help="What is stuck to it; once for each.")] = None,
    looked: Annotated[
        bool, typer.Option("--looked", "--no-shim-beneath", help="Looked beneath: no shims but those given.")
    ] = False,
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Enter that a part came off.

    It is refused, with every reason, where a reference mark that was asked for is not noted, where another part comes
    off first, or where a like joint had shims and nobody looked.

    \b
    Examples:
      camerawright remove J3 "top cover" --screw "3 x M1.7 x 4 cheese" --cell A1
      camerawright remove J3 "lens board" --under "front plate" \\
        --shim "1 x 0.10 NE corner" --shim "2 x 0.05 SW corner" --torque tight
    """
    fields = hardware_given(screw, shim)
    _enter(
        ctx,
        job,
        "removed",
        part=part,
        place=place,
        **fields,
        under=tuple(under or ()),
        torque=torque,
        cell=cell,
        photo=photo,
        material=material,
        finish=finish,
        soil=tuple(soil or ()),
        looked_beneath=looked or None,
        overrule=overrule,
        say=say,
    )


@commands.command()
def mark(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    position: Annotated[str, typer.Argument(metavar="MARK", help="Where it stands, in words.", show_default=False)],
    photo: Photo = None,
    say: Say = None,
) -> None:
    """Note a reference mark before the part moves.

    \b
    Example:
      camerawright mark J3 "focus ring" "infinity: dot 1.5 mm left of the index, hard stop"
    """
    _enter(ctx, job, "marked", part=part, mark=position, photo=photo, say=say)


@commands.command("want-mark")
def want_mark(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    position: Annotated[str, typer.Argument(metavar="MARK", help="What is to be noted.", show_default=False)],
    say: Say = None,
) -> None:
    """Ask for a reference mark.

    The part may not come off before it is noted.

    \b
    Example:
      camerawright want-mark J3 "front cell" "angle and gap where the thread parts"
    """
    _enter(ctx, job, "mark wanted", part=part, mark=position, say=say)


@commands.command()
def find(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    defect: Annotated[str, typer.Argument(metavar="FINDING", help="What is out of the ordinary.", show_default=False)],
    todo: Annotated[
        str | None, typer.Option(metavar="TEXT", help="What is to be done about it: owed until answered.")
    ] = None,
    photo: Photo = None,
    say: Say = None,
) -> None:
    """Enter a finding: a defect, or previous work.

    \b
    Example:
      camerawright find J3 bellows "pinhole in the second fold" --todo "patch it from inside"
    """
    _enter(ctx, job, "found", part=part, defect=defect, todo=todo, photo=photo, say=say)


@commands.command()
def caution(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    hazard: Annotated[str, typer.Argument(metavar="HAZARD", help="What to beware of.", show_default=False)],
    escapes: Annotated[bool, typer.Option("--escapes", help="A spring, ball or pawl gets loose.")] = False,
    say: Say = None,
) -> None:
    """Warn of what happens when a part moves.

    Shown one step early, on this job and on the next of its kind.

    \b
    Example:
      camerawright caution J3 "speed dial" "detent ball jumps out" --escapes
    """
    _enter(ctx, job, "cautioned", part=part, hazard=hazard, escapes=escapes, say=say)


@commands.command()
def order(
    ctx: typer.Context,
    job: JobId,
    first: Annotated[str, typer.Argument(metavar="FIRST", help="Comes off first.", show_default=False)],
    then: Annotated[str, typer.Argument(metavar="THEN", help="Comes off after it.", show_default=False)],
    because: Annotated[str, typer.Option(metavar="WHY", help="Covers its screws, pins it ...", show_default=False)],
    assumed: Annotated[bool, typer.Option("--assumed", help="Not seen, only supposed.")] = False,
    say: Say = None,
) -> None:
    """State that one part comes off before another.

    So it goes back after it.

    \b
    Example:
      camerawright order J3 "top cover" "rewind shaft" --because "covers its screw"
    """
    _enter(ctx, job, "ordered", first=first, then=then, reason=because, certain=not assumed, say=say)


@commands.command()
def independent(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    other: Annotated[str, typer.Argument(metavar="OTHER", help="The other part.", show_default=False)],
    because: Annotated[str, typer.Option(metavar="WHY", help="How that is known.", show_default=False)],
    say: Say = None,
) -> None:
    """State that two parts may move in either order.

    \b
    Example:
      camerawright independent J3 "front cell" "back cover" --because "opposite ends"
    """
    _enter(ctx, job, "independent", part=part, other=other, reason=because, say=say)


@commands.command("aid-in")
def aid_in(
    ctx: typer.Context,
    job: JobId,
    aid: Annotated[str, typer.Argument(metavar="AID", help="Tape, a wedge, a slave screw.", show_default=False)],
    place: Annotated[str | None, typer.Option(metavar="TEXT", help="Where it sits.")] = None,
    say: Say = None,
) -> None:
    """Enter a temporary aid that was fitted.

    The job does not close while it is in.

    \b
    Example:
      camerawright aid-in J3 "tape on the shutter blades" --place "behind the lens board"
    """
    _enter(ctx, job, "aid fitted", aid=aid, place=place, say=say)


@commands.command("aid-out")
def aid_out(
    ctx: typer.Context,
    job: JobId,
    aid: Annotated[str, typer.Argument(metavar="AID", help="As it was called.", show_default=False)],
    say: Say = None,
) -> None:
    """Enter that a temporary aid was taken out.

    \b
    Example:
      camerawright aid-out J3 "tape on the shutter blades"
    """
    _enter(ctx, job, "aid taken out", aid=aid, say=say)


@commands.command("set")
def set_state(
    ctx: typer.Context,
    job: JobId,
    setting: Annotated[list[str], typer.Argument(metavar="NAME=VALUE...", help="shutter=released", show_default=False)],
    say: Say = None,
) -> None:
    """Enter the state of the machine, as far as it changed.

    \b
    Example:
      camerawright set J3 shutter=released focus=infinity
    """
    pairs = [text.partition("=") for text in setting]
    wrong = [
        text for text, (name, _, value) in zip(setting, pairs, strict=True) if not (name.strip() and value.strip())
    ]
    if wrong:
        raise typer.BadParameter(f"“{wrong[0]}” is not NAME=VALUE; write it like shutter=released")
    _enter(ctx, job, "set", settings={name: value for name, _, value in pairs}, say=say)
