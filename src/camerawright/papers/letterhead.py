"""What stands at the head of every paper and card."""

from datetime import date
from typing import Any

from camerawright.job.now import JobNow
from camerawright.journal.entries import Closed, HandedBack
from camerawright.papers import content
from camerawright.store.workshop import Workshop


def letterhead(workshop: Workshop) -> content.Workshop:
    """Who signs."""
    terms = workshop.terms()
    return content.Workshop(name=terms.name, address=terms.address)


def dated(here: JobNow) -> date:
    """The day of the closing, or of the last entry: a paper printed again says the same."""
    closing = [entry.at for entry in here.state.entries if isinstance(entry, Closed | HandedBack)]
    last = [entry.at for entry in here.state.journal]
    return (closing or last)[-1].astimezone().date() if last else here.job.visit.taken_in


def state_words(here: JobNow) -> str:
    """How the machine is set, as far as that is known."""
    return ", ".join(f"{what} {how}" for what, how in here.state.settings.items())


def card_head(workshop: Workshop, here: JobNow) -> dict[str, Any]:
    """The fields that every card has."""
    return {
        "workshop": workshop.terms().name,
        "job": here.job.id,
        "date": dated(here),
        "camera": here.job.camera,
    }
