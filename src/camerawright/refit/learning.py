"""What earlier strip-downs of a variant taught: order, hazards, marks, shims and times."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from itertools import pairwise
from statistics import median

from camerawright.journal.entries import CLOSING, Removed, part_key
from camerawright.journal.order import Constraint, Pair, constraints_said, independent_pairs
from camerawright.journal.rules import promise_text
from camerawright.journal.state import State

PAUSE = timedelta(minutes=30)
"""A longer silence between two removals is a break, not work (common practice)."""


@dataclass(frozen=True, kw_only=True)
class PartLore:
    """What is known of one part of a variant."""

    key: str
    name: str
    n_jobs: int
    marks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    escapes: bool = False
    shims: tuple[str, ...] = ()
    reminders: tuple[str, ...] = ()
    minutes: tuple[float, ...] = ()  # hands-on time of each recorded removal [min]
    last: Removed | None = None

    @property
    def median_minutes(self) -> float | None:
        """The middle of the recorded times, if there are any. [min]"""
        return median(self.minutes) if self.minutes else None


@dataclass(frozen=True, kw_only=True)
class Lore:
    """What is known of a variant, and from which jobs."""

    jobs: tuple[str, ...] = ()
    parts: Mapping[str, PartLore]
    order: tuple[str, ...] = ()  # part keys, as they are expected to come off
    constraints: tuple[Constraint, ...] = ()  # the certain ones
    free: frozenset[Pair] = frozenset()

    def expected_next(self, state: State) -> PartLore | None:
        """The first part of the expected order that this camera has not had off yet."""
        touched = {part.key for part in state.parts.values() if part.removed is not None}
        return next((self.parts[key] for key in self.order if key not in touched), None)


def learned(journals: Sequence[tuple[str, State]]) -> Lore:
    """Add up the journals of a variant.

    Parameters
    ----------
    journals
        Job id and state of each, oldest first.
    """
    places: dict[str, list[float]] = {}
    sequences = []
    lore: dict[str, list[tuple[str, State, Removed]]] = {}
    for job, state in journals:
        removals = [entry for entry in state.entries if isinstance(entry, Removed)]
        if not removals:
            continue
        sequence = list(dict.fromkeys(part_key(entry.part) for entry in removals))
        sequences.append(sequence)
        for i_part, key in enumerate(sequence):
            places.setdefault(key, []).append(i_part / len(sequence))
        for entry in removals:
            lore.setdefault(part_key(entry.part), []).append((job, state, entry))
    times = _minutes(state for _, state in journals)
    constraints: dict[tuple[str, str], Constraint] = {}
    for _, state in journals:
        for constraint in constraints_said(state):
            if constraint.certain:
                constraints[constraint.keys] = constraint
    free = frozenset().union(*(independent_pairs(state) for _, state in journals), _both_orders(sequences))
    return Lore(
        jobs=tuple(dict.fromkeys(job for seen in lore.values() for job, _, _ in seen)),
        parts={key: _part_lore(key, seen, times.get(key, ())) for key, seen in lore.items()},
        order=tuple(sorted(places, key=lambda key: (sum(places[key]) / len(places[key]), key))),
        constraints=tuple(constraints.values()),
        free=free,
    )


def _both_orders(sequences: Sequence[Sequence[str]]) -> frozenset[Pair]:
    """Pairs that came off in one order here and in the other there."""
    seen: set[tuple[str, str]] = set()
    for sequence in sequences:
        seen.update((a, b) for i, a in enumerate(sequence) for b in sequence[i + 1 :])
    return frozenset(frozenset((a, b)) for a, b in seen if a < b and (b, a) in seen)


def _minutes(states: Iterable[State]) -> dict[str, tuple[float, ...]]:
    """Time from the entry before to each removal, breaks left out. [min]"""
    times: dict[str, list[float]] = {}
    for state in states:
        for before, entry in pairwise(state.entries):
            took = entry.at - before.at
            if isinstance(entry, Removed) and timedelta(0) < took < PAUSE:
                times.setdefault(part_key(entry.part), []).append(took.total_seconds() / 60)
    return {key: tuple(minutes) for key, minutes in times.items()}


def _part_lore(key: str, seen: Sequence[tuple[str, State, Removed]], minutes: Sequence[float]) -> PartLore:
    """Add up one part over the journals in which it came off."""
    parts = [state.part(key) for _, state, _ in seen]
    last = seen[-1][2]
    return PartLore(
        key=key,
        name=last.part,
        n_jobs=len({job for job, _, _ in seen}),
        marks=_distinct(mark.mark for part in parts for mark in part.marks),
        cautions=_distinct(caution.hazard for part in parts for caution in part.cautions),
        escapes=any(caution.escapes for part in parts for caution in part.cautions),
        shims=_distinct(
            f"{shim.count} × {shim.thickness_mm:.2f} mm, {shim.place}"
            if shim.thickness_mm is not None
            else f"{shim.count}, {shim.place}"
            for _, _, entry in seen
            for shim in entry.shims
        ),
        reminders=_distinct(
            promise_text(promise)
            for _, state, _ in seen
            for promise in state.promises
            if part_key(promise.part) == key != CLOSING and promise.kind != "found"
        ),
        minutes=tuple(minutes),
        last=last,
    )


def _distinct(texts: Iterable[str]) -> tuple[str, ...]:
    """Each text once, the most frequent first."""
    return tuple(text for text, _ in Counter(texts).most_common())
