"""One step of a refit sheet: a part that moves, with all that belongs to that moment."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from camerawright.job.now import JobNow
from camerawright.job.refit import RefitStep
from camerawright.journal.entries import Refitted, Removed
from camerawright.journal.notation import written_fastener, written_lead, written_loose, written_shim
from camerawright.journal.order import Constraint
from camerawright.journal.state import Part
from camerawright.papers.paper import Line, Picture

ASSUMED = "assumed from the order of removal"


@dataclass(frozen=True, kw_only=True)
class Step:
    """One part that moves, with all that belongs to that moment."""

    n: int
    part: str
    cautions: tuple[str, ...] = ()
    lines: tuple[Line, ...] = ()
    cell: str = ""  # tray cell
    photos: tuple[Picture, ...] = ()
    heading: str = ""  # the sub-assembly that begins with this step


def step_of(here: JobNow, n: int, part: Part, lines: Iterable[Line]) -> Step:
    """A step with what belongs to the part whichever way it moves."""
    only_one = here.irreplaceable(part.name)
    return Step(
        n=n,
        part=part.name,
        cautions=(*here.hazards(part.name), *((f"Irreplaceable: {only_one}",) if only_one else ())),
        lines=tuple(lines),
        cell=(part.removed.cell or "") if part.removed else "",
        photos=tuple(_photos(part)),
    )


def _photos(part: Part) -> Iterator[Picture]:
    """How it sat, and its newest reference mark."""
    if part.removed and part.removed.photo:
        yield Picture(name=part.removed.photo, words=f"Photo of {part.name} as it came off")
    marked = [mark for mark in part.marks if mark.photo]
    if marked and (photo := marked[-1].photo):
        yield Picture(name=photo, words=f"Photo of the mark of {part.name}: {marked[-1].mark}", caption="the mark")


def lines_of(label: str, words: Iterable[str], *, to_tick: bool = False) -> tuple[Line, ...]:
    return tuple(Line(label=label, words=each, to_tick=to_tick) for each in words)


def hardware_lines(moved: RefitStep | Removed | Refitted) -> tuple[Line, ...]:
    """What goes in or came out with a part, and what holds it."""
    return (
        *lines_of("shims", map(written_shim, moved.shims)),
        *lines_of("fasteners", map(written_fastener, moved.fasteners)),
        *lines_of("loose", map(written_loose, moved.loose)),
        *lines_of("leads", map(written_lead, moved.leads)),
        *lines_of("held with", filter(None, [moved.locked_with])),
    )


def after_words(other: str, bond: Constraint) -> str:
    """The part that moves first, and why. That it once came off so is no reason: it is assumed."""
    is_told = bond.certain or bond.reason != f"{bond.first} came off before {bond.then}"
    reason = f": {bond.reason}" if bond.reason and is_told else ""
    return f"{other}{reason}" if bond.certain else f"{other}{reason} ({ASSUMED})"
