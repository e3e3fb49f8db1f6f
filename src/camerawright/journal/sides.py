"""The sides of a camera: which parts nobody has put in one, though what was said of the side should count for them."""

from collections.abc import Iterable, Iterator
from typing import Final

from camerawright.journal.entries import Independent, part_key
from camerawright.journal.groups import Groups, groups_of
from camerawright.journal.known import Known
from camerawright.journal.order import OrderFacts
from camerawright.journal.state import State
from camerawright.trouble import Trouble

STANDS_FOR_SEVERAL: Final = frozenset(("side", "half", "end", "group", "assembly", "unit", "section"))
"""What a name ends in that stands for several parts and is none itself."""


def unsaid_members(state: State, entry: Independent, known: Known) -> Iterator[Trouble]:
    """Where a side of the camera is freed of another: a side of no parts, and parts named like it that are in none."""
    groups = known.learned.groups | groups_of(state)
    loose = in_no_side(groups, state)
    for name in (entry.part, entry.other):
        if not is_side(name, groups):
            continue
        alike = " and ".join(state.parts[key].name for key in named_like(name, loose))
        if not has_members(name, groups):
            yield Trouble(
                what=f"nobody has said which parts are in the {name}, so this frees none",
                mend=f"enter first what it contains{f', perhaps {alike}' if alike else ''}",
                can_overrule=True,
            )
        elif alike:
            yield Trouble(
                what=f"this does not free {alike}: nobody has put that in the {name}",
                mend="if it belongs there, enter first that it is in it; if not, say so",
                can_overrule=True,
            )


def is_side(name: str, groups: Groups) -> bool:
    """Whether a name stands for several parts: somebody said which, or it ends like one."""
    key = part_key(name)
    return key not in groups.parts and (key in groups.below or key.rpartition(" ")[2] in STANDS_FOR_SEVERAL)


def has_members(name: str, groups: Groups) -> bool:
    """Whether somebody said what is in it."""
    return part_key(name) in groups.below


def in_no_side(groups: Groups, state: State) -> tuple[str, ...]:
    """The keys of the parts that are off and that no side, sub-assembly or part contains, as they came off."""
    contained = {key for name in groups.below for key in groups.members(name) - {name}}
    return tuple(part.key for part in state.off if part.key not in contained)


def named_like(name: str, keys: Iterable[str]) -> tuple[str, ...]:
    """The parts whose names begin as that of a side does: "meter cell" and "meter needle" for "meter side"."""
    first = part_key(name).split()[0]
    return tuple(key for key in keys if first in key.split() and key != part_key(name))


def in_neither(facts: OrderFacts, state: State) -> dict[str, tuple[str, ...]]:
    """The parts off that are in neither of two free sides, by what the two are: "meter side and the shutter side"."""
    found: dict[str, tuple[str, ...]] = {}
    for one, other in (sorted(pair) for pair in facts.free if len(pair) > 1):
        names = [facts.groups.names.get(key, key) for key in (one, other)]
        if any(is_side(name, facts.groups) for name in names):
            inside = facts.groups.members(one) | facts.groups.members(other)
            outside = tuple(part.name for part in state.off if part.key not in inside)
            found |= {" and the ".join(names): outside} if outside else {}
    return found
