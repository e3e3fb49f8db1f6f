"""What the latest readings of the workshop tell, job by job; looked at again only where something was entered."""

from collections.abc import Callable
from typing import Final, TypeVar

from camerawright.job.remembered import Remembered
from camerawright.journal.state import State, fold
from camerawright.store.workshop import Workshop

Told = TypeVar("Told")

MOST_JOBS: Final = 1024
"""Jobs that are remembered: more than the latest readings are of."""
_KINDS: Final = ("measured", "removed", "adjusted")
"""The kinds of entry that are looked at: readings, and what makes a reading void. Corrections always count."""


def lately(workshop: Workshop, remembered: Remembered[Told], tell: Callable[[State], Told]) -> dict[str, Told]:
    """What is told by the journals in which the latest readings stand, by job, the newest reading's first.

    Parameters
    ----------
    tell
        Is given a state that knows readings, what makes one void, and corrections, and nothing else of the job.
    """
    last = workshop.lately_read()
    missing = [job for job, n in last.items() if remembered.kept((workshop.folder, job, n)) is None]
    new = {job: tell(fold(entries)) for job, entries in workshop.said(missing, _KINDS).items()} if missing else {}
    for job, told in new.items():
        remembered.keep((workshop.folder, job, last[job]), (), told)
    found = {job: new.get(job) or remembered.kept((workshop.folder, job, n)) for job, n in last.items()}
    return {job: told for job, told in found.items() if told is not None}
