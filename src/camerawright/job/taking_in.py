"""Taking a camera in: which one it is, whether it is on the bench already, and what was told wrongly."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from typing import Final

from camerawright.job.entering import enter, moment_after
from camerawright.job.now import job_now
from camerawright.job.states import state_of
from camerawright.journal.entries import Noted, Set
from camerawright.journal.film import FILM, NOT_KNOWN
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.workshop.rows import Camera, Job

FILMS: Final[Mapping[str, str]] = {"yes": "inside", "no": "out", NOT_KNOWN: NOT_KNOWN}
"""Whether film is inside, as it is asked and as the machine is set."""
TOLD: Final[Mapping[str, str]] = {
    "owner": "owner's name",
    "contact": "contact",
    "maker": "maker",
    "model": "model",
    "serial": "serial number",
    "variant": "variant",
}
"""What may be put right after the take-in, in words."""


def still_open(workshop: Workshop, camera: Camera) -> tuple[Job, ...]:
    """The jobs of this very camera that were not handed back."""
    return tuple(job for job in workshop.visits(camera) if state_of(workshop, job.id).handed_back is None)


def note_open(workshop: Workshop, job: Job, others: tuple[Job, ...], why: str = "") -> None:
    """Keep in the journal of a new job which jobs of its camera were open when it was taken in, and why that is so."""
    said = f"taken in while {', '.join(other.id for other in others)} of this camera was open"
    note = Noted(at=datetime.now(UTC), note=f"{said}: {why}" if why else said)
    enter(workshop, job.id, note)


def note_film_not_known(workshop: Workshop, job: Job) -> None:
    """Note that nobody knows whether film is inside. Until somebody says, it counts as inside."""
    enter(workshop, job.id, Set(at=datetime.now(UTC), settings={FILM: NOT_KNOWN}))


def as_told(job: Job) -> dict[str, str]:
    """What was told of owner and camera, by name."""
    camera = job.camera
    return {
        "owner": job.owner.name,
        "contact": job.owner.contact,
        "maker": camera.maker,
        "model": camera.model,
        "serial": camera.serial,
        "variant": camera.variant,
    }


def put_right(workshop: Workshop, job_id: str, told: Mapping[str, str], *, film: str = "", why: str = "") -> Job:
    """Put right what was told at the take-in; the journal keeps what stood before.

    Parameters
    ----------
    told
        What is different now, by the names of `TOLD`.
    film
        One of `FILMS`, or "" for as it was.

    Raises
    ------
    Refused
        Nothing is different; a name is blank.
    camerawright.job.entering.NotAllowed
        The job is closed.
    """
    here = job_now(workshop, job_id)
    before = as_told(here.job)
    now = {**before, **{name: " ".join(text.split()) for name, text in told.items()}}
    changed = [name for name in TOLD if now[name] != before[name]]
    blank = [TOLD[name] for name in ("owner", "maker", "model", "serial") if not now[name]]
    if blank:
        raise Refused(f"blank: {', '.join(blank)}", "give each", here.job.id)
    if not (changed or film):
        raise Refused("nothing is different from what was told", "say what was told wrongly", here.job.id)
    if changed:
        said = "; ".join(f"{TOLD[name]} “{now[name]}”, not “{before[name]}”" for name in changed)
        note = f"take-in put right: {said}" + (f". {why}" if why else "")
        here = enter(workshop, job_id, Noted(at=moment_after(here), note=note))
        owner = replace(here.job.owner, name=now["owner"], contact=now["contact"])
        camera = replace(
            here.job.camera,
            maker=now["maker"],
            model=now["model"],
            serial=now["serial"],
            variant=now["variant"],
        )
        workshop.correct_intake(job_id, owner, camera)
    if film:
        here = enter(workshop, job_id, Set(at=moment_after(here), settings={FILM: FILMS[film]}, words=why or None))
    return workshop.job(job_id)
