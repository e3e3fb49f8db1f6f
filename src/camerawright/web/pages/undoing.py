"""Undoing an entry together with all that rests on it: asked for where an undo alone was refused."""

from datetime import datetime

from camerawright.job.entering import undone_with
from camerawright.job.now import JobNow
from camerawright.journal.entries import Corrected, Entry
from camerawright.journal.sentences import sentence
from camerawright.web.forms import BECOMES, Refusal, Typed


def together_words(bench: JobNow, refusal: Refusal | None) -> list[str]:
    """What would be undone together, in words; nothing where that is not the question."""
    if refusal is None or not refusal.problems or bench.is_shut:
        return []
    typed = refusal.typed
    is_undo = typed.get("kind") == "corrected" and not any(name.startswith(BECOMES) for name in typed)
    entry = bench.state.by_id.get(typed.get("entry", "")) if is_undo else None
    together = undone_with(bench, entry) if entry else ()
    return [sentence(each, bench.state.by_id) for each in together] if len(together) > 1 else []


def entries(bench: JobNow, typed: Typed, at: datetime) -> tuple[Entry, ...]:
    """The corrections that undo an entry and all that rests on it; none if it is undone already."""
    entry = bench.state.by_id.get(typed.get("entry", ""))
    if entry is None or entry.id in bench.state.struck:
        return ()
    return tuple(Corrected(at=at, entry=each.id) for each in undone_with(bench, entry))
