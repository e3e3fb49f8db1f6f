"""Where each job stands, for lists: computed when something was entered since, else as it was kept."""

from datetime import UTC, datetime
from typing import Final

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
    if not jobs:
        return ()
    from camerawright.job.glance import glance  # noqa: PLC0415  a list that is kept needs no journal
    from camerawright.job.now import at_a_glance  # noqa: PLC0415

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
