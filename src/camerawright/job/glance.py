"""Where each job stands, for lists: computed when something was entered since, else as it was kept."""

from datetime import UTC, datetime, time
from typing import Final

from camerawright.job.now import JobNow, at_a_glance
from camerawright.journal.entries import HoldPoint, Refitted, Reminded, Removed
from camerawright.store.workshop import Workshop
from camerawright.trouble import Damaged, Refused
from camerawright.workshop.rows import Glance, Job

DAMAGED: Final = Glance(stage="damaged", is_done=False, n_off=0, n_owed=0, next_step="see `camerawright verify`")
"""Of a job whose journal cannot be read: nothing else is known of it."""
MOST_AT_ONCE: Final = 300
"""Jobs that one list computes: an archive that was just brought up to date takes a few lists."""


def brought_up_to_date(
    workshop: Workshop, *, most: int | None = MOST_AT_ONCE, now: datetime | None = None
) -> tuple[tuple[Job, Glance], ...]:
    """Compute where jobs stand that no list knows, and keep it.

    Returns
    -------
    tuple
        What could not be kept, because the disk takes nothing or its journal cannot be read: it stands in no list of
        the workshop.
    """
    clock = now or datetime.now(UTC)
    jobs = workshop.without_a_glance(clock, most=most)
    found, damaged = [], []
    for job in jobs:
        try:
            here = at_a_glance(workshop, job, now=clock)
        except Damaged:
            damaged.append((job, DAMAGED))
        else:
            found.append((job, len(here.state.journal), glance(here)))
    try:
        workshop.keep_glances((job.id, n_entries, seen) for job, n_entries, seen in found)
    except Refused:
        return (*damaged, *((job, seen) for job, _, seen in found))
    return tuple(damaged)


def all_listed(workshop: Workshop) -> list[tuple[Job, Glance]]:
    """Every job with where it stands, the newest first."""
    not_kept = list(brought_up_to_date(workshop, most=None))
    kept = [line for is_done in (False, True) for line in workshop.listed(is_done=is_done)]
    return sorted(not_kept + kept, key=lambda line: int(line[0].id[1:]), reverse=True)


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
