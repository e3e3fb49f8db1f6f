"""The refit: the way back, what goes back, and what waits or will not go back."""

from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.adjusting import aim
from camerawright.cli.entering import (
    LooseParts,
    Overrule,
    Photo,
    Say,
    Screws,
    Shims,
    Until,
    end_given,
    enter,
    hardware_given,
)
from camerawright.cli.shell import JobId, Json, Part, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_checks, tell_next_back, tell_state, tell_step

if TYPE_CHECKING:
    from camerawright.job.now import JobNow
    from camerawright.journal.order import Constraint

commands = typer.Typer()


@commands.command()
def refit(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Show the way back: which part, in which order, with what.

    Every part that is off stands in the steps or among those that wait. A reason that rests only on the order of
    removal says so. Each check stands where a failure costs the fewest parts, with what it would cost there and at
    the end.

    \b
    Example:
      camerawright refit J3
    """
    from camerawright.job.now import job_now
    from camerawright.job.refit import refit_json, refit_steps

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
        if as_json:
            tell_json(refit_json(here))
            return
        tell_state(here)
        if here.known.clash:
            tell_item("STOP", here.known.clash, indent=0)
        for step in refit_steps(here):
            tell_checks(here, step.part)
            cell = step.part.removed.cell if step.part.removed else None
            tell()
            tell_item(f"{step.n:>2}", f"{step.part.name}{f', cell {cell}' if cell else ''}", indent=0, label_width=4)
            tell_step(here, step, indent=4)
            _tell_after(step.after)
        tell_checks(here, None)
        if not here.way.is_proven:
            tell("\nThe order keeps every reason; that none needs fewer changes is not proven.")
        _tell_waiting(here)
        if here.owed:
            tell("\nOwed")
        for owed in here.owed:
            answer = f" [{owed.entry[:8]}]" if owed.entry else ""
            tell_item(owed.kind, f"{owed.part}: {owed.what}{answer}", indent=4, label_width=12)


def _tell_waiting(here: "JobNow") -> None:
    if here.way.waiting or any(check.is_waiting for check in here.way.checks):
        tell("\nWaiting")
    for item in here.way.waiting:
        tell_item("", f"{item.part.name}: {item.reason}", indent=4, label_width=0)
        _tell_after(item.after)
    for check in here.way.checks:
        if check.is_waiting:
            tell_item("check", f"{check.hold.check}, once back: {', '.join(check.hold.needs)}", indent=4)


def _tell_after(after: "tuple[Constraint, ...]") -> None:
    for bond in after:
        sure = "" if bond.certain else ", assumed"
        tell_item("after", f"{bond.then} ({bond.reason}{sure})", indent=4)


@commands.command()
def refitted(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    job: JobId,
    part: Part,
    everything: Annotated[
        bool, typer.Option("--all", help="With all its screws, shims and loose parts, as they came out.")
    ] = False,
    screw: Screws = None,
    shim: Shims = None,
    loose: LooseParts = None,
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
    from camerawright.job.now import job_now

    if everything and (screw or shim or loose):
        raise typer.BadParameter("--all puts back what came out; give either it, or --screw, --shim and --loose")
    hardware = hardware_given(screw, shim, loose)
    with workshop_of(ctx) as workshop:
        removed = job_now(workshop, job).state.part(part).removed
    if everything and removed:
        hardware = {"fasteners": removed.fasteners, "shims": removed.shims, "loose": removed.loose}
    enter(
        ctx,
        job,
        "refitted",
        part=part,
        **hardware,
        replacement=replacement,
        photo=photo,
        overrule=overrule,
        say=say,
        telling=tell_next_back,
    )


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
    enter(ctx, job, "accounted for", part=part, reason=reason, overrule=overrule, say=say)


@commands.command()
def wait(
    ctx: typer.Context,
    job: JobId,
    part: Part,
    awaiting: Annotated[str, typer.Option("--for", metavar="WHAT", help="What it waits for.", show_default=False)],
    until: Until = None,
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Enter that a part waits for something.

    A spare is on order, an adhesive cures. A wait with an end is over by itself.

    \b
    Examples:
      camerawright wait J3 shutter --for "main spring from a donor"
      camerawright wait J3 bellows --for "the adhesive cures" --until "2031-05-04 09:30"
    """
    enter(ctx, job, "awaited", part=part, awaiting=awaiting, until=end_given(until), overrule=overrule, say=say)


@commands.command()
def arrived(ctx: typer.Context, job: JobId, part: Part, overrule: Overrule = None, say: Say = None) -> None:
    """Enter that the wait for a part is over.

    \b
    Example:
      camerawright arrived J3 shutter
    """
    enter(ctx, job, "arrived", part=part, overrule=overrule, say=say)


@commands.command()
def adjust(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    job: JobId,
    adjuster: Annotated[str, typer.Argument(metavar="ADJUSTER", help="What was turned.", show_default=False)],
    after: Annotated[str, typer.Argument(metavar="AFTER", help="Where it stands now.", show_default=False)],
    before: Annotated[str | None, typer.Option(metavar="TEXT", help="Where it stood.")] = None,
    turns: Annotated[
        float | None, typer.Option(metavar="N", help="By how many turns: clockwise 0.25, anticlockwise -0.25.")
    ] = None,
    test: Annotated[str | None, typer.Option(metavar="TEST", help="The bench test that it is meant for.")] = None,
    marked: Annotated[str | None, typer.Option(metavar="SPEED", help="The marked speed that it is meant for.")] = None,
    say: Say = None,
) -> None:
    """Enter that an adjuster was moved.

    With the turns, and a reading before and after, `adjusting` says what a turn does and how far to turn next.

    \b
    Examples:
      camerawright adjust J3 "retard lever" "1/6 turn in" --before "flush"
      camerawright adjust J3 "retard lever" "at 2 o'clock" --turns 0.25 --test shutter --marked 1/25
    """
    test, marked = aim(test, marked)
    enter(
        ctx,
        job,
        "adjusted",
        adjuster=adjuster,
        before=before,
        after=after,
        turns=turns,
        test=test,
        marked=marked,
        say=say,
    )
