"""The way back."""

from typing import TYPE_CHECKING

import typer

from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_checks, tell_state, tell_step

if TYPE_CHECKING:
    from camerawright.job.now import JobNow
    from camerawright.journal.order import Constraint

commands = typer.Typer()


@commands.command()
def refit(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Show the way back: which part, in which order, with what.

    Every part that is off is in the steps or among those that wait. A reason says so if it comes only from the order
    of removal. Each check comes where a failure costs the fewest parts. You see what a failure costs there, and what it
    would cost at the end. Steps stand under the sub-assembly that they belong to; what came apart on the bench is built
    there first.

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
            tell(f"\n{step.begins[:1].upper()}{step.begins[1:]}" if step.begins else "")
            tell_item(f"{step.n:>2}", f"{step.part.name}{f', cell {cell}' if cell else ''}", indent=0, label_width=4)
            tell_step(here, step, indent=4)
            _tell_after(step.after)
        tell_checks(here, None)
        if not here.way.is_proven:
            tell("\nThe order keeps every reason. Perhaps another one needs fewer changes.")
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
