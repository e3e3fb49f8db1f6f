"""Order constraints: which part comes off before which, and why."""

from collections.abc import Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

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
Node = TypeVar("Node", bound=Hashable)


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


def reached(starts: Iterable[Node], neighbours: Mapping[Node, Iterable[Node]]) -> set[Node]:
    """Everything that one step or more leads to from any of these.

    With a graph library (networkx 3.6) it is no shorter, a way back with checks takes half as long again, and every
    command waits 0.15 s for the import.
    """
    found: set[Node] = set()
    stack = list(starts)
    while stack:
        for neighbour in neighbours.get(stack.pop(), ()):
            if neighbour not in found:
                found.add(neighbour)
                stack.append(neighbour)
    return found


def contradiction(constraints: Iterable[Constraint]) -> tuple[Constraint, ...]:
    """The shortest ring of constraints that cannot all be true, or nothing."""
    after = _by_first(constraints)
    rings = (_ring(start, after) for start in after)
    return min((ring for ring in rings if ring), key=len, default=())


def ring_with(new: Constraint, constraints: Iterable[Constraint]) -> tuple[Constraint, ...]:
    """The shortest ring that a new constraint would close with those that hold already, or nothing."""
    start = new.keys[0]
    return _ring(start, {**_by_first(constraints), start: [new]})


def _by_first(constraints: Iterable[Constraint]) -> dict[str, list[Constraint]]:
    after: dict[str, list[Constraint]] = {}
    for constraint in constraints:
        after.setdefault(constraint.keys[0], []).append(constraint)
    return after


def _ring(start: str, after: Mapping[str, Sequence[Constraint]]) -> tuple[Constraint, ...]:
    """The shortest ring through a part: breadth first, so the first way back to it is the shortest."""
    seen: set[str] = set()
    paths: list[tuple[Constraint, ...]] = [()]
    while paths:
        longer = []
        for path in paths:
            for constraint in after.get(path[-1].keys[1] if path else start, ()):
                key = constraint.keys[1]
                if key == start:
                    return (*path, constraint)
                if key not in seen:
                    seen.add(key)
                    longer.append((*path, constraint))
        paths = longer
    return ()
