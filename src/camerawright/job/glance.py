"""Where one job stands, in the few words of a list."""

from datetime import datetime, time

from camerawright.job.now import JobNow
from camerawright.journal.entries import HoldPoint, Refitted, Reminded, Removed
from camerawright.workshop.rows import Glance


def glance(here: JobNow) -> Glance:
    """Where one job stands."""
    return Glance(
        stage=here.stage,
        is_done=here.is_shut,
        n_off=len(here.state.off),
        n_owed=len(here.owed),
        next_step=_next(here),
        good_until=_good_until(here),
    )


def _next(here: JobNow) -> str:
    """What a job wants next."""
    if here.state.handed_back:
        return ""
    if here.state.is_closed:
        return "to be handed back"
    moves = [entry for entry in here.state.entries if isinstance(entry, Removed | Refitted)]
    if moves and isinstance(moves[-1], Removed):
        return f"last off: {moves[-1].part}"
    if here.way.steps:
        return f"next back: {here.way.steps[0].part.name}"
    if here.way.waiting:
        return f"waits: {here.way.waiting[0].reason}"
    return "" if here.state.journal else "to be measured as found"


def _good_until(here: JobNow) -> datetime | None:
    """When the first wait ends that lasts now, or the first day comes that something waits for."""
    waits = [part.awaiting.until for part in here.state.parts.values() if part.awaiting and part.awaiting.until]
    due = [each.due for each in here.state.open_promises if isinstance(each, Reminded | HoldPoint) and each.due]
    days = [datetime.combine(day, time()).astimezone() for day in due]
    return min((moment for moment in (*waits, *days) if moment > here.now), default=None)
