"""Where a check belongs: as soon as what it needs is back, and before anything that would have to come off again."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from camerawright.journal.entries import HoldPoint, part_key
from camerawright.journal.order import Constraint
from camerawright.journal.reached import reached
from camerawright.journal.state import Part
from camerawright.refit.freedom import Freedom


@dataclass(frozen=True, kw_only=True)
class Placed:
    """A check among the steps: the parts it follows, those that go over its needs, and those it bars, as places."""

    hold: HoldPoint
    follows: tuple[int, ...]
    over: frozenset[int]
    bars: tuple[int, ...]


@dataclass(frozen=True)
class Beneath:
    """For each part, which parts must be back before it; and which certainly must, where a check waits for a day."""

    before: Sequence[Sequence[int]]
    surely: Sequence[Sequence[int]]


@dataclass(frozen=True)
class OnTheCamera:
    """What tells whether a part that is off goes over one that is on.

    `back` are the parts that came off and are back, `home` is what parts that are off are built into, by key.
    """

    back: Sequence[Part]
    constraints: Sequence[Constraint]
    freedom: Freedom
    home: Mapping[str, str]


def placed(
    holds: Sequence[HoldPoint],
    parts: Sequence[Part],
    beneath: Beneath,
    *,
    on: OnTheCamera,
    later: Mapping[str, str],
) -> tuple[Placed, ...]:
    """Place every check among the parts that go back.

    Parameters
    ----------
    holds
        Checks nobody has passed yet.
    parts
        The parts that are off.
    beneath
        What must be back before each of them.
    on
        What is known of needed parts that are on the camera.
    later
        Why a check, by its id, has to wait for a day to come.

    Notes
    -----
    A check follows the parts it needs that are still off, with all that is in them; those on the camera are met. It
    bars the part it names, and every part that goes over one of its needs, for that part would come off again if the
    check failed; all but those that another of its needs goes over. A check that takes days bars till then only the
    part it names and what certainly goes over its needs. One at the closing comes after everything and bars nothing. A
    bar that would make two checks wait for each other is left out.
    """
    if not holds:
        return ()
    needs_of = [_needed(hold, on.freedom) for hold in holds]
    over_on = _OverWhatIsOn(set().union(*needs_of), parts, on)
    index = {part.key: i for i, part in enumerate(parts)}
    usually, surely = _turned(beneath.before), _turned(beneath.surely)
    firsts_of: dict[int, set[int]] = {i: set(firsts) for i, firsts in enumerate(beneath.before)}  # and checks, in turn
    found = []
    for check, (hold, needs) in enumerate(zip(holds, needs_of, strict=True), start=len(parts)):
        follows = tuple(index[key] for key in needs if key in index)
        over = _over(follows, over_on.usually(needs), usually)
        if hold.is_at_closing:
            found.append(Placed(hold=hold, follows=tuple(range(len(parts))), over=frozenset(over), bars=()))
            continue
        firsts_of[check] = set(follows)
        barred = _over(follows, over_on.surely(needs), surely) if hold.id in later else over
        named = {index[key] for key in (part_key(hold.part or ""),) if key in index}
        beneath_it = reached([check], firsts_of)
        bars = tuple(sorted((barred | named) - beneath_it))
        for bar in bars:
            firsts_of[bar].add(check)
        found.append(Placed(hold=hold, follows=follows, over=frozenset(over), bars=bars))
    return tuple(found)


def _needed(hold: HoldPoint, freedom: Freedom) -> list[str]:
    """The keys of the parts that a check needs, with all that is in them."""
    groups = freedom.facts.groups
    return list(dict.fromkeys(key for need in hold.needs for key in sorted(groups.members(part_key(need)))))


def _turned(before: Sequence[Sequence[int]]) -> dict[int, list[int]]:
    """By part: those that go back over it."""
    goes_over: dict[int, list[int]] = {}
    for later, firsts in enumerate(before):
        for first in firsts:
            goes_over.setdefault(first, []).append(later)
    return goes_over


def _over(follows: Iterable[int], on_top: set[int], goes_over: Mapping[int, Iterable[int]]) -> set[int]:
    return on_top | reached((*follows, *on_top), goes_over)


class _OverWhatIsOn:
    """Which parts that are off go over needed parts that are on: surely, or by the order of removal too."""

    def __init__(self, needs: Iterable[str], parts: Sequence[Part], on: OnTheCamera) -> None:
        covers: dict[str, list[str]] = {}
        lies_on: dict[str, list[str]] = {}
        for first, then in (constraint.keys for constraint in on.constraints if constraint.certain):
            covers.setdefault(then, []).append(first)
            lies_on.setdefault(first, []).append(then)
        came_off = {part.key: part.n_removal for part in on.back}
        self._surely: dict[str, set[int]] = {}
        self._usually: dict[str, set[int]] = {}
        for key in set(needs) - {part.key for part in parts}:
            surely, beneath = reached([key], covers), reached([key], lies_on)
            usually = {
                part.key
                for part in parts
                if part.n_removal < came_off.get(key, -1)
                and part.key not in on.home
                and not on.freedom.has(part.key, key)
            }
            self._surely[key] = {i for i, part in enumerate(parts) if part.key in surely}
            self._usually[key] = {i for i, part in enumerate(parts) if part.key in surely | (usually - beneath)}

    def surely(self, needs: Iterable[str]) -> set[int]:
        return {top for key in needs for top in self._surely.get(key, ())}

    def usually(self, needs: Iterable[str]) -> set[int]:
        return {top for key in needs for top in self._usually.get(key, ())}
