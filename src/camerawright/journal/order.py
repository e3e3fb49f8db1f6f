"""Order: which part comes off before which, and why; which parts are free of each other; which go on last."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from camerawright.journal.entries import Bond, Entry, GoesLast, Independent, Ordered, Removed, part_key
from camerawright.journal.groups import Groups, groups_of, joined_groups
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
    is_last: bool = False  # because `first` goes on last

    @cached_property
    def keys(self) -> tuple[str, str]:
        """What two constraints over the same pair share."""
        return part_key(self.first), part_key(self.then)


Pair = frozenset[str]


@dataclass(frozen=True, kw_only=True)
class OrderFacts:
    """What is known of the order, from one journal or several.

    Parameters
    ----------
    constraints
        What comes off before what; a name may be that of a group.
    free
        Pairs of names that are free of each other, of groups too: for them the order of removal is no reason.
    groups
        What the names of groups stand for.
    last
        Why a part goes on last, by part key.
    """

    constraints: tuple[Constraint, ...] = ()
    free: frozenset[Pair] = frozenset()
    groups: Groups = field(default_factory=Groups)
    last: Mapping[str, str] = field(default_factory=dict)

    def __or__(self, other: "OrderFacts") -> "OrderFacts":
        return OrderFacts(
            constraints=(*self.constraints, *other.constraints),
            free=self.free | other.free,
            groups=self.groups | other.groups,
            last={**self.last, **other.last},
        )


def joined(facts: Iterable[OrderFacts]) -> OrderFacts:
    """What several journals say of the order, oldest first: the same as `|` one after another, in one go."""
    every = tuple(facts)
    return OrderFacts(
        constraints=tuple(constraint for each in every for constraint in each.constraints),
        free=frozenset().union(*(each.free for each in every)),
        groups=joined_groups(each.groups for each in every),
        last={key: why for each in every for key, why in each.last.items()},
    )


def constraints_said(state: State) -> Iterator[Constraint]:
    """The constraints that a journal states: those declared, and what each part was fitted under."""
    for entry in state.entries:
        yield from said_by(entry)


def said_by(entry: Entry) -> Iterator[Constraint]:
    """The constraints that one entry states."""
    if isinstance(entry, Ordered):
        yield Constraint(
            first=entry.first, then=entry.then, reason=entry.reason, certain=entry.certain, bond=entry.bond
        )
    elif isinstance(entry, Removed):
        for cover in entry.under:
            yield Constraint(first=cover, then=entry.part, reason=f"{cover} covers {entry.part}", bond="covered by")


def spread(constraints: Iterable[Constraint], groups: Groups) -> tuple[Constraint, ...]:
    """The constraints, and for each group that one names, the same for all its parts."""
    found = []
    for constraint in constraints:
        found.append(constraint)
        if any(map(groups.is_group, constraint.keys)):
            firsts, thens = (groups.members(key) if groups.is_group(key) else {key} for key in constraint.keys)
            found += [
                replace(constraint, first=groups.names.get(first, first), then=groups.names.get(then, then))
                for first in sorted(firsts - thens)
                for then in sorted(thens - firsts)
                if (first, then) != constraint.keys
            ]
    return tuple(found)


def order_facts(state: State) -> OrderFacts:
    """What a journal says of the order."""
    return OrderFacts(
        constraints=tuple(constraints_said(state)),
        free=independent_pairs(state),
        groups=groups_of(state),
        last={part_key(entry.part): entry.reason for entry in state.entries if isinstance(entry, GoesLast)},
    )


def independent_pairs(state: State) -> frozenset[Pair]:
    """Pairs that somebody declared free of each other."""
    return frozenset(
        frozenset((part_key(entry.part), part_key(entry.other)))
        for entry in state.entries
        if isinstance(entry, Independent) and part_key(entry.part) != part_key(entry.other)
    )


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
