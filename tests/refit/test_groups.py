"""Groups, what contains what, and what goes on last: against every order of a few parts, counted out, and by hand."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from itertools import permutations

from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.journal.entries import (
    Awaited,
    Contains,
    Entry,
    GoesLast,
    HoldPoint,
    Independent,
    Ordered,
    Refitted,
    Removed,
)
from camerawright.journal.order import order_facts
from camerawright.journal.state import fold
from camerawright.refit.learning import learned
from camerawright.refit.reach import reach
from camerawright.refit.way_back import Contradiction, WayBack, way_back
from tests.journal.makers import START, Clock, strip

# -- by hand -----------------------------------------------------------------------------------------------------------


def _way(*journal: Entry, late: Iterable[str] = (), holds: tuple[HoldPoint, ...] = ()) -> WayBack:
    state = fold(journal)
    off = [
        replace(part, awaiting=Awaited(at=START, part=part.name, awaiting="on order")) if part.key in late else part
        for part in state.off
    ]
    back = [part for part in state.parts.values() if part.status == "on" and part.removed]
    return way_back(off, order_facts(state), holds=holds, back=back)


def _names(way: WayBack) -> list[str]:
    return [step.part.name for step in way.steps]


def _waiting(way: WayBack) -> list[str]:
    return [item.part.name for item in way.waiting]


def _sides(clock: Clock) -> list[Entry]:
    """Three parts of the meter side and three of the shutter side, taken off in turn."""
    both = [("meter side", f"meter {n}") for n in range(3)] + [("shutter side", f"shutter {n}") for n in range(3)]
    return [Removed(at=clock(), part=part, assembly=side) for side, part in both[::2] + both[1::2]]


def test_one_statement_frees_one_side_of_the_camera_from_the_other() -> None:
    clock = Clock()
    journal = _sides(clock)
    assert len(_waiting(_way(*journal, late=["shutter 2"]))) > 3
    free = Independent(at=clock(), part="Meter Side", other="shutter side", reason="one on top, one in front")
    way = _way(*journal, free, late=["shutter 2"])
    assert all(name.startswith("shutter") for name in _waiting(way))
    assert len([name for name in _names(way) if name.startswith("meter")]) == 3


def test_a_certain_reason_between_two_sides_that_are_free_still_binds() -> None:
    clock = Clock()
    said: list[Entry] = [
        Independent(at=clock(), part="meter side", other="shutter side", reason="apart"),
        Ordered(at=clock(), first="meter 0", then="shutter 2", reason="the coupling ring lies over it"),
    ]
    assert "meter 0" in _waiting(_way(*_sides(clock), *said, late=["shutter 2"]))


def test_what_covers_a_side_of_the_camera_covers_all_its_parts() -> None:
    clock = Clock()
    cover = Ordered(at=clock(), first="top cover", then="meter side", reason="it covers all of it")
    journal = [*_sides(clock), *strip("top cover", clock=clock), cover]
    names = _names(_way(*journal))
    assert all(names.index(f"meter {n}") < names.index("top cover") for n in range(3))


def test_what_came_out_of_a_part_on_the_bench_goes_back_into_it_and_binds_nothing_else() -> None:
    """The blades are on order: the camera goes on, and only the shutter waits for them."""
    clock = Clock()
    journal = [*strip("shutter", "bellows", "blades", "door", clock=clock)]
    assert _waiting(_way(*journal, late=["blades"])) == ["blades", "bellows", "shutter"]
    inside = Contains(at=clock(), part="shutter", parts=("blades", "slow train"))
    way = _way(*journal, inside, late=["blades"])
    assert _waiting(way) == ["blades", "shutter"]
    assert _names(way) == ["door", "bellows"]
    assert [bond.reason for bond in way.waiting[1].after if bond.then == "blades"] == ["it belongs in the shutter"]


def test_what_came_off_before_the_part_that_contains_it_goes_back_after_it() -> None:
    clock = Clock()
    inside = Contains(at=clock(), part="shutter", parts=("front cell",))
    assert _names(_way(*strip("front cell", "shutter", clock=clock), inside)) == ["shutter", "front cell"]


def test_a_part_that_may_also_go_in_on_the_camera_is_bound_as_any_other() -> None:
    """Free of the shutter, it need not go in on the bench; then what lies over the shutter bars it too."""
    clock = Clock()
    journal = strip("shutter", "bellows", "rear cell", clock=clock)
    inside = Contains(at=clock(), part="shutter", parts=("rear cell",))
    free = Independent(at=clock(), part="rear cell", other="shutter", reason="it screws in from behind")
    way = _way(*journal, inside, free)
    assert [bond.then for bond in way.back_first["bellows"]] == ["rear cell"]


def test_a_check_that_needs_a_part_needs_all_that_is_in_it() -> None:
    clock = Clock()
    journal = strip("front plate", "shutter", "blades", clock=clock)
    inside = Contains(at=clock(), part="shutter", parts=("blades",))
    hold = HoldPoint(at=clock(), check="all speeds", needs=("shutter",))
    way = _way(*journal, Refitted(at=clock(), part="shutter"), inside, holds=(hold,), late=["blades"])
    assert way.checks[0].is_waiting, "the shutter is on, but its blades are not in it"
    assert _waiting(way) == ["blades", "front plate"]


def test_a_covering_goes_on_last_whenever_it_came_off() -> None:
    clock = Clock()
    journal = strip("lever", "plate", "covering", "prism", clock=clock)
    last = GoesLast(at=clock(), part="covering", reason="it hides the adjusters")
    way = _way(*journal, last)
    assert _names(way) == ["prism", "plate", "lever", "covering"]
    assert "it hides the adjusters" in way.back_first["covering"][0].reason
    assert _waiting(_way(*journal, last, late=["prism"]))[-1] == "covering"
    lug = Ordered(at=clock(), first="lever", then="covering", reason="its screw goes through the covering")
    assert _names(_way(*journal, last, lug)) == ["prism", "plate", "covering", "lever"]


def test_a_covering_hangs_on_the_last_layer_only() -> None:
    """By hand: two stacks under one covering; the tops of both lie directly beneath it."""
    clock = Clock()
    left, right = (tuple(f"{side} {n}" for n in range(4)) for side in ("left", "right"))
    journal = [
        *strip("covering", *left, *right, clock=clock),
        *(Independent(at=clock(), part=a, other=b, reason="apart") for a in left for b in right),
        GoesLast(at=clock(), part="covering", reason="it hides the adjusters"),
    ]
    way = _way(*journal)
    assert {bond.then for bond in way.back_first["covering"]} == {"left 0", "right 0"}
    assert _waiting(_way(*journal, late=["left 3"]))[-1] == "covering"
    check = HoldPoint(at=clock(), check="stays tight for two days", needs=("left 3",))
    state = fold(journal)
    held = way_back(state.off, order_facts(state), holds=(check,), later={check.id: "two days"})
    assert _waiting(held) == ["covering"], "it surely goes over the left side, the rest of that side only by assumption"


def test_what_goes_on_last_does_not_bind_the_next_strip_down() -> None:
    clock = Clock()
    journal: list[Entry] = [*strip("plate", "covering", clock=clock), GoesLast(at=clock(), part="covering", reason="x")]
    lore = learned([("J1", fold(journal))])
    found = reach("plate", lore, fold([]))
    assert found is not None
    assert [item.part.name for item in found.parts] == ["plate"]
    assert not lore.constraints
    assert lore.last == {"covering": "x"}


def test_to_reach_a_part_inside_another_one_nothing_beside_that_comes_off() -> None:
    """The bellows came off between them, and every time before the blades."""
    clock = Clock()
    inside = Contains(at=clock(), part="shutter", parts=("blades", "cam"))
    journal = [*strip("front plate", "shutter", "bellows", "cam", "blades", clock=clock), inside]
    found = reach("blades", learned([("J1", fold(journal))]), fold([]))
    assert found is not None
    assert [item.part.name for item in found.parts] == ["front plate", "shutter", "cam", "blades"]


def test_a_group_is_not_a_part_that_has_to_come_off() -> None:
    clock = Clock()
    cover = Ordered(at=clock(), first="top cover", then="meter side", reason="it covers all of it")
    state = fold([*strip("top cover", clock=clock), *_sides(clock), cover])
    found = reach("meter 1", learned([("J1", state)]), fold([]))
    assert found is not None
    assert "meter side" not in [item.part.key for item in found.parts]
    assert found.parts[0].certain


def test_a_group_named_on_an_earlier_camera_holds_on_this_one() -> None:
    clock = Clock()
    free = Independent(at=clock(), part="meter side", other="shutter side", reason="apart")
    earlier = learned([("J1", fold([*_sides(clock), free]))])
    state = fold(strip("shutter 0", "meter 0", "shutter 1"))
    way = way_back(state.off, earlier.facts | order_facts(state))
    assert [bond.then for bond in way.back_first["shutter 0"]] == ["shutter 1"]


# -- every order of a few parts ----------------------------------------------------------------------------------------

PARTS = "abcde"
ANY = st.sampled_from(PARTS)
NAMES = st.sampled_from([*PARTS, "left", "right"])


def _two(names: st.SearchStrategy[str], most: int) -> st.SearchStrategy[list[tuple[str, str]]]:
    return st.lists(st.tuples(names, names).filter(lambda ab: ab[0] != ab[1]), max_size=most)


@dataclass(frozen=True)
class Said:
    """What somebody said of five parts; they came off in the order of the alphabet."""

    certain: list[tuple[str, str]]
    free: list[tuple[str, str]]
    inside: Mapping[str, set[str]]
    side: Mapping[str, str]
    last: set[str]

    def journal(self) -> list[Entry]:
        clock = Clock()
        return [
            *(Removed(at=clock(), part=part, assembly=self.side.get(part)) for part in PARTS),
            *(Ordered(at=clock(), first=a, then=b, reason="seen") for a, b in self.certain),
            *(Independent(at=clock(), part=a, other=b, reason="seen") for a, b in self.free),
            *(Contains(at=clock(), part=a, parts=tuple(sorted(b))) for a, b in self.inside.items()),
            *(GoesLast(at=clock(), part=part, reason="seen") for part in sorted(self.last)),
        ]

    def stands_for(self, name: str) -> set[str]:
        """The parts of a side, or a part with all that is in it."""
        found = {part for part in PARTS if self.side.get(part) == name} or {name}
        for _ in PARTS:
            found |= {each for whole in found for each in self.inside.get(whole, ())}
        return found

    def is_free(self, one: str, other: str) -> bool:
        for a, b in self.free:
            if {a, b} == {one, other}:
                return True
            here, there = self.stands_for(a) - self.stands_for(b), self.stands_for(b) - self.stands_for(a)
            if (one in here and other in there) or (other in here and one in there):
                return True
        return False

    def home(self, part: str) -> str | None:
        """The smallest part on the bench that it came out of."""
        wholes = [
            whole
            for whole in PARTS
            if part in self.stands_for(whole) and whole < part
            if not self.is_free(part, whole) and (part, whole) not in self.certain
        ]
        said = list(self.inside)
        return min(wholes, key=lambda whole: (len(self.stands_for(whole)), said.index(whole)), default=None)

    def orders(self) -> set[tuple[str, ...]]:
        """Every order in which the parts may go back, taken from all there are."""
        surely = {(b, a) for a, b in self.certain}  # b goes back before a
        for part in PARTS:
            whole = self.home(part)
            if whole:
                surely.add((part, whole))
        for late in sorted(self.last, reverse=True):
            after = _after(late, surely)
            surely |= {(part, late) for part in PARTS if part not in {late, *after, *self.last}}
        allowed = [order for order in permutations(PARTS[::-1]) if _keeps(order, surely)]
        if not allowed:
            return set()
        nearest = allowed[0]  # permutations come sorted by the order of their input
        bound = set(surely)
        for i, one in enumerate(nearest):
            for other in nearest[i + 1 :]:
                if one > other and not self.is_free(one, other) and not self._apart(one, other):
                    bound.add((one, other))
        return {order for order in allowed if _keeps(order, bound)}

    def _apart(self, one: str, other: str) -> bool:
        homes = [(self.home(one), other), (self.home(other), one)]
        return any(whole is not None and part not in self.stands_for(whole) for whole, part in homes)


def _after(part: str, pairs: set[tuple[str, str]]) -> set[str]:
    found: set[str] = set()
    for _ in PARTS:
        found |= {b for a, b in pairs if a in {part, *found}}
    return found


def _keeps(order: tuple[str, ...], pairs: set[tuple[str, str]]) -> bool:
    return all(order.index(a) < order.index(b) for a, b in pairs)


SAID = st.builds(
    Said,
    certain=_two(ANY, 4),
    free=_two(NAMES, 3),
    inside=st.dictionaries(ANY, st.sets(ANY, min_size=1, max_size=3), max_size=3),
    side=st.dictionaries(ANY, st.sampled_from(["left", "right"])),
    last=st.sets(ANY, max_size=2),
).filter(lambda said: all(whole not in said.stands_for(part) for whole in said.inside for part in said.inside[whole]))


@settings(deadline=None, max_examples=200)
@given(SAID)
def test_the_bonds_allow_exactly_the_orders_that_counting_out_allows(said: Said) -> None:
    allowed = said.orders()
    try:
        way = _way(*said.journal())
    except Contradiction:
        assert not allowed
        return
    bonds = {(bond.keys[1], key) for key, firsts in way.back_first.items() for bond in firsts}
    assert {order for order in permutations(PARTS[::-1]) if _keeps(order, bonds)} == allowed
    assert tuple(_names(way)) in allowed
