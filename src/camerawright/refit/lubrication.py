"""The lubrication chart of a job: for each point what, how much, why, and whether it is still to be done."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from camerawright.handbook import lubrication
from camerawright.handbook.lubrication import NONE, Spot
from camerawright.journal.entries import Amount, Lubricated, part_key
from camerawright.journal.state import Part, State
from camerawright.refit.learning import Lore, PartLore

HERE = "here"
HANDBOOK = "handbook"
GUESSED = "a guess from its name"

Standing = Literal["due", "done", "stays dry", "not off"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """One point of the chart.

    Parameters
    ----------
    amount, lubricant
        How much of what; no lubricant where it stays dry, or where nobody wrote which.
    meaning
        The amount in words.
    why, source
        The reason, and what it rests on: a key of docs/sources.md, `common practice`, or the origin where the handbook
        knows no such point.
    origin
        "here", "J1", "earlier jobs", "carried over from ...", "handbook"; "a guess from its name" where the
        name does not surely say what kind of part it is.
    standing
        "due" while its part is off, or went back, and this was not done since; "not off" where the part has not been
        off in this job.
    doubt
        Where journal and handbook disagree.
    """

    part: str
    point: str
    amount: Amount
    meaning: str
    lubricant: str | None
    why: str
    source: str
    origin: str
    standing: Standing
    doubt: str | None = None


def chart(state: State, lore: Lore) -> tuple[Point, ...]:
    """Draw up the chart. What was done here counts first, then what earlier jobs did, then the handbook.

    Parameters
    ----------
    state
        This job.
    lore
        What earlier jobs of the variant, and of its sisters, taught.

    Returns
    -------
    tuple of Point
        The parts that are off first, the last that came off leading; then those that went back, and those that were not
        off. Each point of a part stands there once.
    """
    off = [part.key for part in reversed(state.off)]
    touched = [key for key, part in state.parts.items() if part.removed or part.lubricated]
    gone = {key for key, part in state.parts.items() if part.status == "accounted for"}
    keys = [key for key in dict.fromkeys((*off, *touched, *lore.order, *lore.parts)) if key not in gone]
    return tuple(point for key in keys for point in _points(key, state, lore))


def _points(key: str, state: State, lore: Lore) -> Iterator[Point]:
    """The points of one part, in the order of the handbook, others last."""
    known = lore.parts.get(key)
    part = state.parts.get(key) or Part(key=key, name=known.name if known else key)
    here = {_same(entry): entry for entry in part.lubricated}
    before = {_same(entry): entry for entry in known.lubricated} if known else {}
    spots = {spot.name: spot for spot in lubrication.spots_of(part.name)}
    for name in dict.fromkeys((*spots, *here, *before)):
        entry = here.get(name) or before.get(name)
        if entry is None:
            yield _proposed(part, spots[name])
        else:
            origin = HERE if name in here else _origin(known, lore)
            yield _recorded(part, entry, origin, is_done=_is_done(part, here.get(name)))


def _same(entry: Lubricated) -> str:
    """What makes two entries one point: the handbook's name for it, or the words."""
    spot = lubrication.spot_called(entry.point)
    return spot.name if spot else part_key(entry.point)


def _is_done(part: Part, entry: Lubricated | None) -> bool:
    """Whether it was done since the part last came off."""
    return entry is not None and (part.removed is None or entry.at >= part.removed.at)


def _origin(known: PartLore | None, lore: Lore) -> str:
    """Which job it is from, as far as that was kept."""
    if known is not None and known.carried_from:
        return f"carried over from {known.carried_from}"
    return lore.jobs[0] if len(lore.jobs) == 1 else "earlier jobs"


def _standing(part: Part, amount: Amount, *, is_done: bool) -> Standing:
    """Whether anything is to be done about it."""
    if amount == "dry":
        return "stays dry"
    if is_done:
        return "done"
    return "due" if part.removed is not None else "not off"


def _meaning(amount: Amount) -> str:
    return lubrication.amounts()[amount].meaning.text


def _proposed(part: Part, spot: Spot) -> Point:
    """What the handbook says of it."""
    return Point(
        part=part.name,
        point=spot.name,
        amount=spot.amount,
        meaning=_meaning(spot.amount),
        lubricant=None if spot.lubricant == NONE else spot.lubricant,
        why=spot.why.text,
        source=spot.why.source,
        origin=GUESSED if lubrication.is_guess(part.name, spot) else HANDBOOK,
        standing=_standing(part, spot.amount, is_done=False),
    )


def _recorded(part: Part, entry: Lubricated, origin: str, *, is_done: bool) -> Point:
    """What a journal says of it."""
    spot = lubrication.spot_called(entry.point)
    return Point(
        part=part.name,
        point=entry.point,
        amount=entry.amount,
        meaning=_meaning(entry.amount),
        lubricant=entry.lubricant,
        why=spot.why.text if spot else "Recorded at the bench. The handbook does not know this point.",
        source=spot.why.source if spot else origin,
        origin=origin,
        standing=_standing(part, entry.amount, is_done=is_done),
        doubt=_doubt(entry, spot),
    )


def _doubt(entry: Lubricated, spot: Spot | None) -> str | None:
    """Where the journal has it dry and the handbook does not, or the other way."""
    if spot is None or (entry.amount == "dry") == spot.is_dry:
        return None
    said = "keep it dry" if spot.is_dry else f"{spot.amount} of {spot.lubricant}"
    return f"The handbook says: {said} [{spot.why.source}]. The journal says: {entry.amount}."


def not_known(state: State, points: Sequence[Point]) -> tuple[str, ...]:
    """Names of the parts that are off or went back, and that may be dry or greased: nobody said which."""
    charted = {part_key(point.part) for point in points}
    return tuple(
        part.name
        for key, part in state.parts.items()
        if part.removed and key not in charted and lubrication.is_not_known(part.name)
    )


NOT_KNOWN = "Their kind is dry in one camera and greased in another. Look how it was, and enter it."
"""What to say of them."""


def due(points: Sequence[Point]) -> tuple[Point, ...]:
    """Those that are still to be done."""
    return tuple(point for point in points if point.standing == "due")
