"""Where a check belongs: as soon as what it needs is back, and before anything that would have to come off again."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from camerawright.journal.entries import HoldPoint, part_key
from camerawright.journal.state import Part


@dataclass(frozen=True, kw_only=True)
class Placed:
    """A check among the steps: the parts it follows, those that go over its needs, and those it bars, as places."""

    hold: HoldPoint
    follows: tuple[int, ...]
    over: frozenset[int]
    bars: tuple[int, ...]


def placed(
    holds: Sequence[HoldPoint],
    parts: Sequence[Part],
    before: Sequence[Sequence[int]],
    over_on: Mapping[str, Collection[int]],
) -> tuple[Placed, ...]:
    """Place every check among the parts that go back.

    Parameters
    ----------
    holds
        Checks nobody has passed yet.
    parts
        The parts that are off.
    before
        For each part, the parts that must be back first.
    over_on
        By key of a needed part that is on the camera: the parts that go over it.

    Notes
    -----
    A check follows the parts it needs that are still off; those on the camera are met. It bars the part it names, and
    every part that goes over one of its needs, for that part would come off again if the check failed; all but those
    that another of its needs goes over. A bar that would make two checks wait for each other is left out.
    """
    after = _successors(before)
    index = {part.key: i for i, part in enumerate(parts)}
    n = len(parts)
    firsts: list[set[int]] = [set(items) for items in before]  # parts, then checks: grows as checks are placed
    found = []
    for i_hold, hold in enumerate(holds):
        node = n + i_hold
        follows = tuple(index[key] for key in dict.fromkeys(map(part_key, hold.needs)) if key in index)
        firsts.append(set(follows))
        upstream = _reached([node], firsts)
        named = index.get(part_key(hold.part))
        tops = [later for need in follows for later in after[need]]
        tops += [top for need in hold.needs for top in over_on.get(part_key(need), ())]
        over = frozenset(_reached(tops, after))
        bars = sorted((over | ({named} if named is not None else set())) - upstream)
        for bar in bars:
            firsts[bar].add(node)
        found.append(Placed(hold=hold, follows=follows, over=over, bars=tuple(bars)))
    return tuple(found)


def _successors(before: Sequence[Sequence[int]]) -> list[list[int]]:
    after: list[list[int]] = [[] for _ in before]
    for later, firsts in enumerate(before):
        for first in firsts:
            after[first].append(later)
    return after


def _reached(starts: Sequence[int], neighbours: Sequence[Collection[int]]) -> set[int]:
    """Everything that can be reached from any of these, these included."""
    seen = set(starts)
    stack = list(starts)
    while stack:
        for neighbour in neighbours[stack.pop()]:
            if neighbour not in seen:
                seen.add(neighbour)
                stack.append(neighbour)
    return seen
