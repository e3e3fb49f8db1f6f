"""The folds of journals, remembered while nothing is entered."""

from collections.abc import Sequence

from camerawright.job.remembered import Remembered
from camerawright.journal.entries import Entry
from camerawright.journal.state import State, fold
from camerawright.store.workshop import Workshop
from camerawright.trouble import Damaged

_STATES: Remembered[State] = Remembered(n_most=1024)


def state_of(workshop: Workshop, job_id: str) -> State:
    """The fold of a job's journal.

    Raises
    ------
    Damaged
        It cannot be read.
    """
    return _state(workshop, job_id, workshop.journal(job_id))


def states_of(workshop: Workshop, job_ids: Sequence[str]) -> dict[str, State]:
    """The folds of several journals, by job. One that cannot be read is left out: the page of its own job says so."""
    journals = workshop.journals(job_ids)
    return {
        job_id: _state(workshop, job_id, entries)
        for job_id, entries in journals.items()
        if not isinstance(entries, Damaged)
    }


def _state(workshop: Workshop, job_id: str, entries: tuple[Entry, ...]) -> State:
    return _STATES.get((workshop.folder, job_id), (entries,), lambda: fold(entries))
