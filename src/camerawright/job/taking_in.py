"""Taking in a camera whose earlier job is still open: it cannot be on the bench twice, so it is asked about."""

from datetime import UTC, datetime

from camerawright.job.entering import enter
from camerawright.job.states import state_of
from camerawright.journal.entries import Noted
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Camera, Job


def still_open(workshop: Workshop, camera: Camera) -> tuple[Job, ...]:
    """The jobs of this very camera that were not handed back."""
    return tuple(job for job in workshop.visits(camera) if state_of(workshop, job.id).handed_back is None)


def note_open(workshop: Workshop, job: Job, others: tuple[Job, ...], why: str = "") -> None:
    """Keep in the journal of a new job which jobs of its camera were open when it was taken in, and why that is so."""
    said = f"taken in while {', '.join(other.id for other in others)} of this camera was open"
    note = Noted(at=datetime.now(UTC), note=f"{said}: {why}" if why else said)
    enter(workshop, job.id, note)
