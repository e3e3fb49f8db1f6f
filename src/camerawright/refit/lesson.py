"""What one strip-down teaches of its variant: all that `learning` takes from a journal."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import timedelta
from itertools import pairwise

from camerawright.journal.entries import CLOSING, Refitted, Removed, Shim, part_key, written
from camerawright.journal.joints import Joint, hardware
from camerawright.journal.order import OrderFacts, order_facts
from camerawright.journal.slack import loosened_only
from camerawright.journal.state import State

PAUSE = timedelta(minutes=30)
"""A longer silence between two removals is a break, not work (common practice)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class PartLesson:
    """What one journal says of a part that came off. A text stands there as often as it was said.

    `last` is its last removal and `lubricated` how each point was lubricated last, as lines of JSON: of 200 jobs only
    the newest are read. `hardware` is what held the part and lay under it, removal by removal. Two are equal if they
    are one object: so what was added up from the same ones is found again at once.
    """

    name: str
    last: str
    marks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    escapes: bool = False
    frees: tuple[str, ...] = ()
    shims: tuple[str, ...] = ()
    hardware: tuple[tuple[tuple[Joint, int], ...], ...] = ()
    loosened: tuple[str, ...] = ()  # screws that were loosened and stayed in it
    reminders: tuple[str, ...] = ()
    lubricated: Mapping[str, str] = field(default_factory=dict)
    irreplaceable: str | None = None
    minutes: tuple[float, ...] = ()  # hands-on time of each removal that has one [min]
    material: str | None = None
    finish: str | None = None


@dataclass(frozen=True, kw_only=True)
class Lesson:
    """What one journal teaches; `parts` by key, in the order in which they came off first; `on_again` as below."""

    job: str
    parts: Mapping[str, PartLesson] = field(default_factory=dict)
    facts: OrderFacts = field(default_factory=OrderFacts)
    on_again: Mapping[str, frozenset[str]] = field(default_factory=dict)


def with_known(taught: Lesson, before: Lesson) -> Lesson:
    """A lesson made of the objects of an earlier one where that says the same; the earlier one, if all is the same."""
    parts = {
        key: before.parts[key] if key in before.parts and vars(before.parts[key]) == vars(part) else part
        for key, part in taught.parts.items()
    }
    now = replace(taught, parts=parts, facts=before.facts if before.facts == taught.facts else taught.facts)
    return before if now == before and list(now.parts) == list(before.parts) else now


def lesson(job: str, state: State) -> Lesson:
    """What the journal of a job teaches, as far as its entries are in force."""
    removals: dict[str, list[Removed]] = {}
    for entry in state.entries:
        if isinstance(entry, Removed):
            removals.setdefault(part_key(entry.part), []).append(entry)
    times = _minutes(state)
    parts = {key: _of_part(key, of_part, state, times.get(key, ())) for key, of_part in removals.items()}
    return Lesson(job=job, parts=parts, facts=order_facts(state), on_again=on_again(state))


def on_again(state: State) -> dict[str, frozenset[str]]:
    """For each part, by key: which parts had been off earlier and were back on when it came off."""
    off: set[str] = set()
    back: set[str] = set()
    found: dict[str, frozenset[str]] = {}
    for entry in state.entries:
        if isinstance(entry, Removed):
            key = part_key(entry.part)
            back.discard(key)
            off.add(key)
            if back:
                found[key] = found.get(key, frozenset()) | back
        elif isinstance(entry, Refitted) and part_key(entry.part) in off:
            off.discard(part_key(entry.part))
            back.add(part_key(entry.part))
    return found


def _of_part(key: str, removals: list[Removed], state: State, minutes: Iterable[float]) -> PartLesson:
    """What is said of one part; what stays with it counts with each of its removals."""
    part, n = state.part(key), len(removals)
    return PartLesson(
        name=removals[-1].part,
        last=written(removals[-1]),
        marks=tuple(mark.mark for mark in part.marks) * n,
        cautions=tuple(caution.hazard for caution in part.cautions) * n,
        escapes=any(caution.lets_loose for caution in part.cautions),
        frees=tuple(name for caution in part.cautions for name in caution.frees) * n,
        shims=tuple(_shim_words(shim) for entry in removals for shim in entry.shims),
        hardware=tuple(tuple(counts.items()) for counts in map(hardware, removals) if counts),
        loosened=loosened_only(state.entries, key),
        reminders=tuple(
            promise.asks
            for promise in state.promises_ever(key)
            if key != CLOSING and promise.kind not in {"found", "tried"}
        )
        * n,
        lubricated={entry.point: written(entry) for entry in part.lubricated},
        irreplaceable=part.irreplaceable,
        minutes=tuple(minutes),
        material=part.material,
        finish=part.finish,
    )


def _shim_words(shim: Shim) -> str:
    if shim.thickness_mm is None:
        return f"{shim.count}, {shim.place}"
    return f"{shim.count} × {shim.thickness_mm:.2f} mm, {shim.place}"


def _minutes(state: State) -> dict[str, list[float]]:
    """Time from the entry before to each removal, by part, breaks left out. [min]"""
    times: dict[str, list[float]] = {}
    for before, entry in pairwise(state.entries):
        took = entry.at - before.at
        if isinstance(entry, Removed) and timedelta(0) < took < PAUSE:
            times.setdefault(part_key(entry.part), []).append(took.total_seconds() / 60)
    return times
