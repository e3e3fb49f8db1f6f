"""What all papers share: whose they are, of which job and camera, of which day; and a line with its label."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from camerawright.job.now import JobNow
from camerawright.journal.entries import Closed, HandedBack
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Camera


@dataclass(frozen=True, kw_only=True)
class Paper:
    """The head of every paper. What a paper adds to it is finished text, rounded and with its unit."""

    workshop: str
    address: str  # may hold several lines
    job: str
    date: date
    camera: Camera


@dataclass(frozen=True, kw_only=True)
class Line:
    """A label and what stands beside it; with a box before it where somebody has to tick it off."""

    label: str
    words: str
    to_tick: bool = False


@dataclass(frozen=True, kw_only=True)
class Picture:
    """The name under which an image is handed over, the same in words for who cannot see it, and what stands below."""

    name: str
    words: str
    caption: str = ""


def head(workshop: Workshop, here: JobNow) -> dict[str, Any]:
    """The fields of `Paper`."""
    terms = workshop.terms()
    return {
        "workshop": terms.name,
        "address": terms.address,
        "job": here.job.id,
        "date": day_of(here),
        "camera": here.job.camera,
    }


def day_of(here: JobNow) -> date:
    """The day of the closing, or of the last entry: a paper printed again says the same."""
    closing = [entry.at for entry in here.state.entries if isinstance(entry, Closed | HandedBack)]
    last = [entry.at for entry in here.state.journal]
    return (closing or last)[-1].astimezone().date() if last else here.job.visit.taken_in


def settings_words(here: JobNow) -> str:
    """How the machine is set, as far as that is known: ``shutter released, focus infinity``."""
    return ", ".join(f"{what} {how}" for what, how in here.state.settings.items())
