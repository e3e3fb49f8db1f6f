"""Coming back to a job after a break."""

from typing import TYPE_CHECKING

import typer

from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import entry_line, tell_state, timer_end
from camerawright.wording.moments import moment

if TYPE_CHECKING:
    from camerawright.job.resume import Resume
    from camerawright.journal.state import State

commands = typer.Typer()


@commands.command()
def resume(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Show where you were: what is loose, what must not move.

    You also see the last entries, what soaks or cures, and what comes next with its hazard.

    \b
    Example:
      camerawright resume J3
    """
    from camerawright.job import resume as resuming
    from camerawright.job.now import job_now

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
    card = resuming.resume(here)
    if as_json:
        tell_json({"job": here.job.id, **resuming.resume_json(card), "conflicts": list(here.state.conflicts)})
        return
    tell_state(here)
    _say(card, here.state)


def _say(card: "Resume", state: "State") -> None:
    for label, texts in (
        ("loose now", card.loose),
        ("do not move", card.do_not_move),
        ("timers", tuple(f"{timer.part}: {timer.what}, {timer_end(timer)}" for timer in card.timers)),
        ("next", (card.next_step,)),
        ("CAUTION", (card.next_hazard,) if card.next_hazard else ()),
    ):
        for text in texts:
            tell_item(label, text, label_width=13)
    if card.last:
        tell("\nLast, the newest first")
    for entry in card.last:
        tell_item(moment(entry.at), entry_line(entry, state), label_width=18)
