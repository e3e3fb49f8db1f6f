"""Order constraints: which part comes off before which, and why."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from camerawright.journal.entries import Bond, Independent, Ordered, Removed, part_key
from camerawright.journal.state import State


@dataclass(frozen=True, kw_only=True)
class Constraint:
    """`first` comes off before `then`; so `then` goes back before `first`. Names are as said."""

    first: str
    then: str
    reason: str
    certain: bool = True
    bond: Bond | None = None  # how `then` hangs on `first`, where somebody said so
    carried: bool = False  # seen on a sister variant, not on this one

    @property
    def keys(self) -> tuple[str, str]:
        """What two constraints over the same pair share."""
        return part_key(self.first), part_key(self.then)


Pair = frozenset[str]


def constraints_said(state: State) -> Iterator[Constraint]:
    """The constraints that a journal states: those declared, and what each part was fitted under."""
    for entry in state.entries:
        if isinstance(entry, Ordered):
            yield Constraint(
                first=entry.first, then=entry.then, reason=entry.reason, certain=entry.certain, bond=entry.bond
            )
        elif isinstance(entry, Removed):
            for cover in entry.under:
                yield Constraint(first=cover, then=entry.part, reason=f"{cover} covers {entry.part}", bond="covered by")


def independent_pairs(state: State) -> frozenset[Pair]:
    """Pairs that somebody declared free of each other."""
    return frozenset(
        frozenset((part_key(entry.part), part_key(entry.other)))
        for entry in state.entries
        if isinstance(entry, Independent)
    )


def contradiction(constraints: Iterable[Constraint]) -> tuple[Constraint, ...]:
    """The shortest ring of constraints that cannot all hold, or nothing.

    Breadth-first from every part: the first ring back to a part, over all parts, is the shortest.
    """
    after: dict[str, list[Constraint]] = {}
    for constraint in constraints:
        after.setdefault(constraint.keys[0], []).append(constraint)
    shortest: tuple[Constraint, ...] = ()
    for start in after:
        ring = _ring(start, after, limit=len(shortest) or len(after) + 1)
        if ring and (not shortest or len(ring) < len(shortest)):
            shortest = ring
    return shortest


def ring_with(new: Constraint, constraints: Iterable[Constraint]) -> tuple[Constraint, ...]:
    """The shortest ring that a new constraint would close with those that hold already, or nothing."""
    after: dict[str, list[Constraint]] = {}
    for constraint in constraints:
        after.setdefault(constraint.keys[0], []).append(constraint)
    after[new.keys[0]] = [new]
    return _ring(new.keys[0], after, limit=len(after) + 1)


def _ring(start: str, after: dict[str, list[Constraint]], limit: int) -> tuple[Constraint, ...]:
    """The shortest ring through `start` of at most `limit` constraints."""
    reached: set[str] = set()
    paths: list[tuple[Constraint, ...]] = [()]
    for _ in range(limit):
        longer = []
        for path in paths:
            for constraint in after.get(path[-1].keys[1] if path else start, ()):
                key = constraint.keys[1]
                if key == start:
                    return (*path, constraint)
                if key not in reached:
                    reached.add(key)
                    longer.append((*path, constraint))
        paths = longer
    return ()
