"""The refit: the way back, what goes back, what waits or will not go back, and the closing."""

from typing import TYPE_CHECKING, Annotated, Any

import typer

from camerawright.cli.shell import (
    REFUSED,
    JobId,
    Json,
    Overrule,
    Part,
    Photo,
    Say,
    entered,
    kept_photo,
    tell,
    tell_item,
    tell_json,
    workshop_of,
)
from camerawright.cli.strip import Screws, Shims, hardware_given
from camerawright.cli.wording import tell_entered, tell_next_back, tell_state, tell_step

if TYPE_CHECKING:
    from camerawright.journal.order import Constraint
    from camerawright.stages.bench import Bench

commands = typer.Typer()


@commands.command()
def refit(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Show the way back: which part, in which order, with what.

    Every part that is off stands in the steps or among those that wait. A reason that rests only on the order of
    removal says so.

    \b
    Example:
      camerawright refit J3
    """
    from camerawright.stages.bench import bench
    from camerawright.stages.refit import refit_json, refit_steps

    with workshop_of(ctx) as workshop:
        here = bench(workshop, job)
        if as_json:
            tell_json(refit_json(here))
            return
        tell_state(here)
        if here.known.clash:
            tell_item("STOP", here.known.clash, indent=0)
        for step in refit_steps(here):
            cell = step.part.removed.cell if step.part.removed else None
            tell()
            tell_item(f"{step.n:>2}", f"{step.part.name}{f', cell {cell}' if cell else ''}", indent=0, label_width=4)
            tell_step(step, indent=4)
            _tell_after(step.after)
        _tell_waiting(here)
        if here.owed:
            tell("\nOwed")
        for owed in here.owed:
            answer = f" [{owed.entry[:8]}]" if owed.entry else ""
            tell_item(owed.kind, f"{owed.part}: {owed.what}{answer}", indent=4, label_width=12)


def _tell_waiting(here: "Bench") -> None:
    if here.way.waiting:
        tell("\nWaiting")
    for item in here.way.waiting:
        tell_item("", f"{item.part.name}: {item.reason}", indent=4, label_width=0)
        _tell_after(item.after)


def _tell_after(after: "tuple[Constraint, ...]") -> None:
    for bond in after:
        sure = "" if bond.certain else ", assumed"
        tell_item("after", f"{bond.then} ({bond.reason}{sure})", indent=4)


@commands.command()
def refitted(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    job: JobId,
    part: Part,
    everything: Annotated[bool, typer.Option("--all", help="With all its screws and shims, as they came out.")] = False,
    screw: Screws = None,
    shim: Shims = None,
    replacement: Annotated[
        str | None, typer.Option(metavar="TEXT", help="Another specimen went in: new, made, donor J4.")
    ] = None,
    photo: Photo = None,
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Enter that a part went back.

    It is refused, with every reason, where another part goes back first, where something is owed before, or where
    what goes in differs from what came out.

    \b
    Examples:
      camerawright refitted J3 "lens board" --all
      camerawright refitted J3 "top cover" --screw "2 x M1.7 x 4 cheese" --overrule "one sheared, hole plugged"
    """
    from camerawright.stages.bench import bench

    if everything and (screw or shim):
        raise typer.BadParameter("--all puts back what came out; give either it, or --screw and --shim")
    hardware = hardware_given(screw, shim)
    with workshop_of(ctx) as workshop:
        removed = bench(workshop, job).state.part(part).removed
        if everything and removed:
            hardware = {"fasteners": removed.fasteners, "shims": removed.shims}
        here = entered(
            workshop,
            job,
            "refitted",
            part=part,
            **hardware,
            replacement=replacement,
            photo=kept_photo(workshop, photo),
            overrule=overrule,
            say=say,
        )
        tell_entered(here)
        tell_next_back(here)


def _enter(ctx: typer.Context, job: str, kind: str, **fields: Any) -> None:
    with workshop_of(ctx) as workshop:
        tell_entered(entered(workshop, job, kind, **fields))


@commands.command()
def account(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    reason: Annotated[str, typer.Option(metavar="WHY", help="Where it is instead.", show_default=False)],
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Account for a part that will not go back.

    Or, if the part is back, for its screws and shims that are not.

    \b
    Example:
      camerawright account J3 "self-timer" --reason "left out at the owner's wish, in a bag with the camera"
    """
    _enter(ctx, job, "accounted for", part=part, reason=reason, overrule=overrule, say=say)


@commands.command()
def wait(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    awaiting: Annotated[str, typer.Option("--for", metavar="WHAT", help="What it waits for.", show_default=False)],
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Enter that a part waits for something.

    A spare is on order, an adhesive cures.

    \b
    Example:
      camerawright wait J3 shutter --for "main spring from a donor"
    """
    _enter(ctx, job, "awaited", part=part, awaiting=awaiting, overrule=overrule, say=say)


@commands.command()
def arrived(ctx: typer.Context, job: JobId, part: Part, overrule: Overrule = None, say: Say = None) -> None:
    """Enter that the wait for a part is over.

    \b
    Example:
      camerawright arrived J3 shutter
    """
    _enter(ctx, job, "arrived", part=part, overrule=overrule, say=say)


@commands.command()
def adjust(
    ctx: typer.Context,
    job: JobId,
    adjuster: Annotated[str, typer.Argument(metavar="ADJUSTER", help="What was turned.", show_default=False)],
    after: Annotated[str, typer.Argument(metavar="AFTER", help="Where it stands now.", show_default=False)],
    before: Annotated[str | None, typer.Option(metavar="TEXT", help="Where it stood.")] = None,
    say: Say = None,
) -> None:
    """Enter that an adjuster was moved.

    \b
    Example:
      camerawright adjust J3 "retard lever" "1/6 turn in" --before "flush"
    """
    _enter(ctx, job, "adjusted", adjuster=adjuster, before=before, after=after, say=say)


@commands.command()
def balance(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Strike the balance: all that stands against closing.

    Exit code 1 if anything does.

    \b
    Example:
      camerawright balance J3
    """
    from camerawright.journal.rules import closing
    from camerawright.stages.bench import bench

    with workshop_of(ctx) as workshop:
        here = bench(workshop, job)
    against = closing(here.state)
    if as_json:
        tell_json(
            {
                "job": here.job.id,
                "is_zero": not against,
                "against": [{"what": p.what, "mend": p.mend, "can_overrule": p.can_overrule} for p in against],
            }
        )
    else:
        tell_state(here)
        for problem in against:
            tell_item("-", f"{problem.what}; {problem.mend}", label_width=2)
        tell("The balance is not zero." if against else "The balance is zero.")
    if against:
        raise typer.Exit(REFUSED)


@commands.command()
def close(ctx: typer.Context, job: JobId, overrule: Overrule = None, say: Say = None) -> None:
    """Close a job; refused until the balance is zero.

    \b
    Example:
      camerawright close J3
    """
    _enter(ctx, job, "closed", overrule=overrule, say=say)


@commands.command("hand-back")
def hand_back(
    ctx: typer.Context,
    job: JobId,
    to: Annotated[str, typer.Option(metavar="NAME", help="Who took it.", show_default=False)],
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Enter that the camera went back to its owner.

    \b
    Example:
      camerawright hand-back J3 --to "Ines Marrow"
    """
    _enter(ctx, job, "handed back", to=to, overrule=overrule, say=say)
