"""Which parts are free of each other: by what somebody said of parts and groups, and by what lay apart on the bench."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from camerawright.journal.groups import Groups
from camerawright.journal.order import Constraint, OrderFacts


@dataclass(frozen=True, kw_only=True)
class Freedom:
    """For which parts the order of removal is no reason."""

    facts: OrderFacts

    @cached_property
    def _sides(self) -> tuple[tuple[frozenset[str], frozenset[str]], ...]:
        """Where a pair names a group: every part of one side is free of every part of the other."""
        groups = self.facts.groups
        if not groups.below:
            return ()
        named = frozenset(groups.below)
        return tuple(groups.sides(*pair) for pair in [pair for pair in self.facts.free if not named.isdisjoint(pair)])

    def has(self, one: str, other: str) -> bool:
        """Whether two parts, by key, are free of each other."""
        return frozenset((one, other)) in self.facts.free or any(
            (one in here and other in there) or (one in there and other in here) for here, there in self._sides
        )

    def bits(self, keys: Sequence[str]) -> list[int]:
        """For each part those that it is free of: bit k stands for the k-th of `keys`."""
        place = {key: k for k, key in enumerate(keys)}
        free = [0] * len(keys)
        for one, other in self.facts.free:
            a, b = place.get(one), place.get(other)
            if a is not None and b is not None:
                free[a] |= 1 << b
                free[b] |= 1 << a
        for sides in self._sides:
            here, there = ([place[key] for key in side if key in place] for side in sides)
            for side, opposite in ((here, there), (there, here)):
                bits = sum(1 << k for k in opposite)
                for k in side:
                    free[k] |= bits
        return free


def in_which(came_off: Sequence[str], freedom: Freedom) -> dict[str, str]:
    """Of each part that came out of another one on the bench, the key of the innermost part that it belongs in.

    Parameters
    ----------
    came_off
        The keys of the parts that are off, in the order in which they came off.

    Notes
    -----
    It came off after the part that contains it, so it came out of it on the bench. It is built in before that part
    goes back, and nothing else touches it till then. This does not hold where the two were said or seen to be free of
    each other, or where somebody said that it comes off first: then it may also go in on the camera.
    """
    groups = freedom.facts.groups
    if not groups.inside:
        return {}
    said = {constraint.keys for constraint in freedom.facts.constraints if constraint.certain}
    place = {key: k for k, key in enumerate(came_off)}
    size: dict[str, int] = {}
    home: dict[str, str] = {}
    for whole in groups.inside:
        if whole not in place:
            continue
        members = groups.members(whole)
        size[whole] = len(members)
        for key in members:
            is_later = place.get(key, -1) > place[whole]
            if not is_later or freedom.has(key, whole) or (key, whole) in said:
                continue
            if key not in home or size[whole] < size[home[key]]:
                home[key] = whole
    return home


def built_in(home: Mapping[str, str], names: Mapping[str, str]) -> Iterator[Constraint]:
    """What goes into a part on the bench goes back before it."""
    for key, whole in home.items():
        yield Constraint(first=names[whole], then=names[key], reason=f"it belongs in the {names[whole]}")


def apart(keys: Sequence[str], home: Mapping[str, str], groups: Groups) -> list[int]:
    """For each part those that lie apart from it on the bench, as bits like those of `Freedom.bits`.

    What belongs in a part that is off touches nothing but that part and what else is in it.
    """
    if not home:
        return [0] * len(keys)
    place = {key: k for k, key in enumerate(keys)}
    built: dict[str, int] = {}  # what is built in each whole
    for key, whole in home.items():
        built[whole] = built.get(whole, 0) | 1 << place[key]
    everything = sum(built.values())
    within = {whole: [place[key] for key in groups.members(whole) if key in place] for whole in built}
    free = [everything] * len(keys)
    for whole, members in within.items():
        for k in members:
            free[k] &= ~built[whole]
    for whole, members in within.items():
        outside = ~sum(1 << k for k in members)
        for key in (key for key, each in home.items() if each == whole):
            free[place[key]] |= outside
    return free
