"""Where checks are placed, against networkx 3.6 on random bonds and by hand."""

from collections.abc import Sequence
from dataclasses import replace

import networkx as nx
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.journal.entries import CLOSING, Awaited, HoldPoint, Refitted
from camerawright.journal.order import Constraint, OrderFacts, Pair
from camerawright.journal.state import State, fold
from camerawright.refit.way_back import Check, WayBack, way_back
from tests.journal.makers import START, Clock, strip

N = 9
NAMES = [f"part {i}" for i in range(N)]
INDICES = st.integers(0, N - 1)
# The first of a pair comes off before the second, as in the strip-down: so no ring.
SAID = st.lists(st.tuples(INDICES, INDICES).filter(lambda ab: ab[0] < ab[1]), max_size=10)
FREE = st.frozensets(st.frozensets(st.sampled_from(NAMES), min_size=2, max_size=2), max_size=36)
HOLDS = st.lists(
    st.builds(
        HoldPoint,
        at=st.just(START),
        check=st.just("does it run free"),
        part=st.sampled_from([None, *NAMES]),
        needs=st.lists(st.sampled_from(NAMES), max_size=3).map(tuple),
    ).filter(lambda hold: not hold.is_at_closing),
    max_size=4,
)


def _said(pairs: Sequence[tuple[int, int]]) -> list[Constraint]:
    return [Constraint(first=NAMES[a], then=NAMES[b], reason="covers it") for a, b in pairs]


def _goes_over(way: WayBack) -> "nx.DiGraph[str]":
    """An edge from each part to what goes back over it."""
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from([*(step.part.key for step in way.steps), *(item.part.key for item in way.waiting)])
    graph.add_edges_from((bond.keys[1], key) for key, bonds in way.back_first.items() for bond in bonds)
    return graph


def _back_by(way: WayBack, check: Check) -> list[str]:
    """What is back when a check is made."""
    keys = [step.part.key for step in way.steps]
    return keys[: keys.index(check.before.key)] if check.before else keys


def _over(graph: "nx.DiGraph[str]", needs: Sequence[str]) -> set[str]:
    return set().union(*(nx.descendants(graph, need) for need in needs if need in graph))


@settings(deadline=None)
@given(SAID, FREE, HOLDS)
def test_a_check_comes_as_soon_as_what_it_needs_is_back(
    pairs: list[tuple[int, int]], free: frozenset[Pair], holds: list[HoldPoint]
) -> None:
    way = way_back(fold(strip(*NAMES)).off, OrderFacts(constraints=tuple(_said(pairs)), free=free), holds=holds)
    assert sorted(check.hold.id for check in way.checks) == sorted(hold.id for hold in holds)
    assert len(way.steps) == N, "two checks, or a check and a part, wait for each other"
    for check in way.checks:
        back = _back_by(way, check)
        assert set(check.hold.needs) <= set(back)
        assert not back or back[-1] in check.hold.needs, "something went back between the last need and the check"


@settings(deadline=None)
@given(SAID, FREE, HOLDS)
def test_a_check_comes_before_what_would_come_off_again_and_its_cost_is_counted_right(
    pairs: list[tuple[int, int]], free: frozenset[Pair], holds: list[HoldPoint]
) -> None:
    """What goes over a need is its descendants in the graph of bonds (networkx 3.6)."""
    off = fold(strip(*NAMES)).off
    for hold in holds:  # each alone: then nothing but its own needs can stand in its way
        way = way_back(off, OrderFacts(constraints=tuple(_said(pairs)), free=free), holds=[hold])
        graph, check = _goes_over(way), way.checks[0]
        beneath = set().union(*(nx.ancestors(graph, need) | {need} for need in hold.needs))
        over = _over(graph, hold.needs)
        named = {hold.part} - {None} - beneath
        assert {part.key for part in check.bars} == (over - beneath) | named
        back = set(_back_by(way, check))
        assert not back & (over - beneath)
        assert check.n_off_now == len(over & back)
        assert check.n_off_last == len(over)
        assert check.n_off_now <= check.n_off_last


@settings(deadline=None)
@given(SAID, FREE, HOLDS)
def test_of_several_checks_each_bars_what_goes_over_its_needs_unless_that_makes_a_ring(
    pairs: list[tuple[int, int]], free: frozenset[Pair], holds: list[HoldPoint]
) -> None:
    way = way_back(fold(strip(*NAMES)).off, OrderFacts(constraints=tuple(_said(pairs)), free=free), holds=holds)
    goes_over = _goes_over(way)
    whole: nx.DiGraph[str] = nx.DiGraph(goes_over)
    for check in way.checks:
        whole.add_edges_from((need, check.hold.id) for need in check.hold.needs)
        whole.add_edges_from((check.hold.id, part.key) for part in check.bars)
    assert nx.is_directed_acyclic_graph(whole)
    for check in way.checks:
        left_out = _over(goes_over, check.hold.needs) - {part.key for part in check.bars}
        assert all(nx.has_path(whole, key, check.hold.id) for key in left_out), "a bar was left out without need"


@settings(deadline=None)
@given(SAID, FREE, HOLDS, st.sets(st.sampled_from(NAMES), min_size=1, max_size=3))
def test_a_need_that_waits_makes_the_check_wait_and_what_it_bars(
    pairs: list[tuple[int, int]], free: frozenset[Pair], holds: list[HoldPoint], late: set[str]
) -> None:
    off = tuple(
        replace(part, awaiting=Awaited(at=START, part=part.name, awaiting="on order")) if part.key in late else part
        for part in fold(strip(*NAMES)).off
    )
    way = way_back(off, OrderFacts(constraints=tuple(_said(pairs)), free=free), holds=holds)
    going_on = {step.part.key for step in way.steps}
    waiting = {item.part.key for item in way.waiting}
    assert going_on | waiting == set(NAMES)
    assert not going_on & waiting
    assert late <= waiting
    for check in way.checks:
        assert check.is_waiting == bool(set(check.hold.needs) & waiting)
        if check.is_waiting:
            assert {part.key for part in check.bars} <= waiting
    for item in way.waiting:
        barred = {bond.keys[1] for bond in item.after} & waiting
        held = any(check.is_waiting and item.part in check.bars for check in way.checks)
        assert item.part.key in late or barred or held, f"{item.part.name} waits for no reason"


def _way(
    state: State, *holds: HoldPoint, free: frozenset[Pair] = frozenset(), said: Sequence[Constraint] = ()
) -> WayBack:
    back = [part for part in state.parts.values() if part.status == "on" and part.removed]
    return way_back(state.off, OrderFacts(constraints=tuple(said), free=free), holds=holds, back=back)


def _bars(way: WayBack) -> list[str]:
    return [part.name for check in way.checks for part in check.bars]


SPEEDS = HoldPoint(at=START, check="all speeds", needs=("shutter",))


def test_a_check_still_bars_the_cover_when_what_it_needs_has_gone_back() -> None:
    """The moment at which it matters: the shutter is back, the front plate is next."""
    clock = Clock()
    journal = [*strip("front plate", "shutter", clock=clock), Refitted(at=clock(), part="shutter")]
    way = _way(fold(journal), SPEEDS)
    assert _bars(way) == ["front plate"]
    assert way.checks[0].before is not None
    assert way.checks[0].before.name == "front plate"
    assert (way.checks[0].n_off_now, way.checks[0].n_off_last) == (0, 1)
    free: frozenset[Pair] = frozenset({frozenset(("front plate", "shutter"))})
    assert _bars(_way(fold(journal), SPEEDS, free=free)) == []


def test_a_check_bars_what_surely_goes_over_a_part_that_never_came_off() -> None:
    said = [
        Constraint(first="top plate", then="front plate", reason="covers its screws"),
        Constraint(first="front plate", then="shutter", reason="covers it"),
    ]
    assert _bars(_way(fold(strip("top plate", "strap lug")), SPEEDS, said=said)) == ["top plate"]


def test_a_check_at_the_closing_bars_nothing_before_it_and_comes_at_the_end() -> None:
    clock = Clock()
    journal = [*strip("front plate", "shutter", clock=clock), Refitted(at=clock(), part="shutter")]
    for hold in (HoldPoint(at=START, check="look it over"), SPEEDS.model_copy(update={"part": CLOSING})):
        way = _way(fold(journal), hold)
        assert _bars(way) == []
        assert way.checks[0].before is None
        assert not way.waiting


def test_a_check_that_takes_days_bars_only_what_surely_covers_its_needs_until_its_day() -> None:
    """The shutter rests for two days: the plate that surely goes over it waits, the dial goes on."""
    state = fold(strip("dial", "front plate", "shutter"))
    said = OrderFacts(
        constraints=(Constraint(first="front plate", then="shutter", reason="covers it"),),
        free=frozenset({frozenset(("dial", "front plate"))}),
    )
    way = way_back(state.off, said, holds=[SPEEDS])
    assert _bars(way) == ["front plate", "dial"]
    way = way_back(state.off, said, holds=[SPEEDS], later={SPEEDS.id: "all speeds, not before 2026-03-04"})
    assert [step.part.name for step in way.steps] == ["shutter", "dial"]
    assert [(item.part.name, item.reason) for item in way.waiting] == [
        ("front plate", "check first: all speeds, not before 2026-03-04")
    ]


def test_a_check_without_needs_bars_the_part_it_names() -> None:
    hold = HoldPoint(at=START, part="top plate", check="prism clean?")
    way = _way(fold(strip("top plate", "prism")), hold)
    assert _bars(way) == ["top plate"]
    assert way.checks[0].before is not None
    assert way.checks[0].before.name == "prism", "nothing is needed, so it can be done now"


def test_a_need_that_goes_over_another_need_comes_off_again_if_the_other_fails() -> None:
    """By hand: speeds need the shutter and the cocking rack over it; a failure in the shutter costs the rack."""
    hold = HoldPoint(at=START, check="all speeds", needs=("shutter", "rack"))
    way = _way(fold(strip("front plate", "rack", "shutter")), hold)
    assert [step.part.name for step in way.steps] == ["shutter", "rack", "front plate"]
    check = way.checks[0]
    assert check.before is not None
    assert (check.before.name, check.n_off_now, check.n_off_last) == ("front plate", 1, 2)
