"""The hazard card: every caution of the parts that have still to move."""

from collections.abc import Iterator
from dataclasses import dataclass

from camerawright.job.now import JobNow
from camerawright.job.refit import needs_words
from camerawright.job.resume import resume
from camerawright.papers.paper import Paper, head, settings_words
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused


@dataclass(frozen=True, kw_only=True)
class PartHazards:
    """What to mind when one part moves."""

    part: str
    moves: str  # "comes off", "goes back", "waits"
    escapes: str = ""  # "return spring", or that something gets loose
    cautions: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()  # states without which it may not move
    irreplaceable: str = ""


@dataclass(frozen=True, kw_only=True)
class HazardCard(Paper):
    """Every caution of the parts that have still to move."""

    state: str = ""
    parts: tuple[PartHazards, ...] = ()
    held: tuple[str, ...] = ()  # aids and springs that must stay as they are


def hazard_card(workshop: Workshop, here: JobNow) -> HazardCard:
    """Every caution of the parts that have still to move."""
    parts = tuple(filter(None, (_hazards(here, name, moves) for name, moves in _to_move(here))))
    held = resume(here).do_not_move
    if not parts and not held:
        raise Refused(
            f"no caution is known for the parts of {here.job.id} that have still to move",
            "enter cautions as you see them; a second job of this variant shows them before",
            "hazard card",
        )
    return HazardCard(**head(workshop, here), state=settings_words(here), parts=parts, held=held)


def _to_move(here: JobNow) -> Iterator[tuple[str, str]]:
    """Parts in the order in which they will move, and how: those that are off first."""
    yield from ((step.part.name, "goes back") for step in here.way.steps)
    yield from ((item.part.name, "waits") for item in here.way.waiting)
    if here.state.is_closed:
        return
    untouched = {part.key: part.name for part in here.state.parts.values() if part.removed is None}
    for key in here.lore.order:
        if here.state.part(key).removed is None:
            yield untouched.pop(key, here.lore.parts[key].name), "if it comes off"
    yield from ((name, "if it comes off") for name in untouched.values())


def _hazards(here: JobNow, name: str, moves: str) -> PartHazards | None:
    """What to mind when the part moves, if anything."""
    part = here.state.part(name)
    shown = PartHazards(
        part=name,
        moves=moves,
        escapes=", ".join(here.frees(name)) or ("something gets loose" if here.escapes(name) else ""),
        cautions=here.hazards(name),
        needs=needs_words(part, "removal" if part.status == "on" else "refit"),
        irreplaceable=here.irreplaceable(name),
    )
    return shown if shown.escapes or shown.cautions or shown.needs or shown.irreplaceable else None
