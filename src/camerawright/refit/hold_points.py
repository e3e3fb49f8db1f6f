"""Where a check belongs: as soon as what it needs is back, and before anything that would have to come off again."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from camerawright.journal.entries import HoldPoint, part_key
from camerawright.journal.order import Constraint, Pair, reached
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
    *,
    back: Sequence[Part],
    constraints: Iterable[Constraint],
    free: frozenset[Pair],
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
    back, constraints, free
        As `way_back` takes them: what they say of needed parts that are on the camera.

    Notes
    -----
    A check follows the parts it needs that are still off; those on the camera are met. It bars the part it names, and
    every part that goes over one of its needs, for that part would come off again if the check failed; all but those
    that another of its needs goes over. A bar that would make two checks wait for each other is left out.
    """
    if not holds:
        return ()
    over_on = _over_what_is_on(holds, parts, back, constraints, free)
    index = {part.key: i for i, part in enumerate(parts)}
    goes_over: dict[int, list[int]] = {}  # by part: those that go back over it
    for later, firsts in enumerate(before):
        for first in firsts:
            goes_over.setdefault(first, []).append(later)
    firsts_of: dict[int, set[int]] = {i: set(firsts) for i, firsts in enumerate(before)}  # checks come in as they go
    found = []
    for check, hold in enumerate(holds, start=len(parts)):
        needs = [part_key(need) for need in hold.needs]
        follows = tuple(index[key] for key in dict.fromkeys(needs) if key in index)
        firsts_of[check] = set(follows)
        on_top = {top for key in needs for top in over_on.get(key, ())}
        over = on_top | reached((*follows, *on_top), goes_over)
        named = {index[key] for key in (part_key(hold.part),) if key in index}
        beneath = reached([check], firsts_of)
        bars = tuple(sorted((over | named) - beneath))
        for bar in bars:
            firsts_of[bar].add(check)
        found.append(Placed(hold=hold, follows=follows, over=frozenset(over), bars=bars))
    return tuple(found)


def _over_what_is_on(
    holds: Sequence[HoldPoint],
    parts: Sequence[Part],
    back: Sequence[Part],
    constraints: Iterable[Constraint],
    free: frozenset[Pair],
) -> dict[str, set[int]]:
    """By key of a needed part that is on: which parts that are off go over it, surely or by the order of removal."""
    covers: dict[str, list[str]] = {}
    lies_on: dict[str, list[str]] = {}
    for first, then in (constraint.keys for constraint in constraints if constraint.certain):
        covers.setdefault(then, []).append(first)
        lies_on.setdefault(first, []).append(then)
    came_off = {part.key: part.n_removal for part in back}
    over_on = {}
    for key in {part_key(need) for hold in holds for need in hold.needs} - {part.key for part in parts}:
        surely, beneath = reached([key], covers), reached([key], lies_on)
        usually = {
            part.key
            for part in parts
            if part.n_removal < came_off.get(key, -1) and frozenset((part.key, key)) not in free
        }
        over = surely | (usually - beneath)
        over_on[key] = {i for i, part in enumerate(parts) if part.key in over}
    return over_on
