"""What must come off to reach a part: against networkx 3.6 and counting on random strip-downs, and by hand."""

import math
from datetime import timedelta

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.journal.entries import Entry, Independent, Ordered, Refitted, Removed
from camerawright.journal.state import fold
from camerawright.refit.learning import Lore, learned
from camerawright.refit.reach import reach
from tests.journal.makers import START, Clock, strip

NAMES = [f"part {i}" for i in range(8)]
ORDERS = st.lists(st.lists(st.sampled_from(NAMES), min_size=1, unique=True), min_size=1, max_size=3)
PAIRS = st.lists(st.tuples(st.sampled_from(NAMES), st.sampled_from(NAMES)).filter(lambda ab: ab[0] < ab[1]), max_size=8)


def _lore(orders: list[list[str]], certain: list[tuple[str, str]], free: list[tuple[str, str]]) -> Lore:
    """Journals in these orders of removal; what is said of order and independence stands in the first."""
    clock = Clock()
    said: list[Entry] = [Ordered(at=clock(), first=a, then=b, reason="covers it") for a, b in certain]
    said += [Independent(at=clock(), part=a, other=b, reason="seen") for a, b in free]
    journals = [strip(*order) for order in orders]
    journals[0] = [*said, *strip(*orders[0], clock=clock)]
    return learned([(f"J{i}", fold(journal)) for i, journal in enumerate(journals)])


def _always_before(key: str, orders: list[list[str]], free: list[tuple[str, str]]) -> set[str]:
    """By counting: what had come off in each job by the time that this part did."""
    before = [set(order[: order.index(key)]) for order in orders if key in order]
    found = set.intersection(*before) if before else set()
    return {other for other in found if (key, other) not in free and (other, key) not in free}


@settings(deadline=None)
@given(ORDERS, PAIRS, PAIRS, st.data())
def test_the_smallest_set_is_everything_that_surely_covers_it(
    orders: list[list[str]], certain: list[tuple[str, str]], free: list[tuple[str, str]], data: st.DataObject
) -> None:
    """networkx 3.6, `ancestors` in the graph of certain reasons."""
    known = sorted({key for order in orders for key in order})
    target = data.draw(st.sampled_from(known))
    off = data.draw(st.lists(st.sampled_from(NAMES), unique=True, max_size=3))
    found = reach(target, _lore(orders, certain, free), fold(strip(*off)))
    assert found is not None
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(NAMES)
    graph.add_edges_from(certain)
    in_the_way = nx.ancestors(graph, target) - set(off)
    assert {item.part.key for item in found.certain} == in_the_way | {target}
    usually: set[str] = set()
    anchors: set[str] = {target} | in_the_way
    for key in anchors:
        later = nx.descendants(graph, key)
        if any(key in order for order in orders):
            usually |= _always_before(key, [*orders, off], free) - later
    assert {item.part.key for item in found.assumed} == usually - in_the_way - {target} - set(off)
    order = [item.part.key for item in found.parts]
    assert order[-1] == target
    place = {key: i for i, key in enumerate(order)}
    assert all(place[a] < place[b] for a, b in certain if a in place and b in place)


@given(ORDERS, PAIRS)
def test_what_came_off_before_every_time_is_found_by_counting_too(
    orders: list[list[str]], free: list[tuple[str, str]]
) -> None:
    lore = _lore(orders, [], free)
    for key in lore.parts:
        assert set(lore.always_before([key], lore.parts)) == _always_before(key, orders, free)


def test_the_way_to_a_part_follows_the_usual_order() -> None:
    found = reach("prism", learned([("J1", fold(strip("dial", "lever", "top plate", "prism", "shutter")))]), fold([]))
    assert found is not None
    assert [item.part.name for item in found.parts] == ["dial", "lever", "top plate", "prism"]
    assert [item.certain for item in found.parts] == [False, False, False, True]


def test_a_part_that_nobody_ever_took_off_is_not_known() -> None:
    assert reach("mirror", learned([("J1", fold(strip("dial")))]), fold([])) is None


def _timed(*minutes: tuple[str, float]) -> list[Entry]:
    """A strip-down in which each removal took that long."""
    at = START
    journal: list[Entry] = [Removed(at=at, part="case")]
    for part, took in minutes:
        at += timedelta(minutes=took)
        journal.append(Removed(at=at, part=part))
    return journal


def test_expected_times_add_and_so_do_their_variances() -> None:
    """By hand (JCGM 100:2008, 5.1.2).

    Plate 4 and 6 min: mean 5, s² 2, one more of them 2 × (1 + 1/2) = 3; relative s² 2/25.
    Dial 10 min, once: one more after one observation 2 × 2/25 × 100 = 16. Together 15 min, u² 19. The case has no time.
    """
    said = Ordered(at=START, first="dial", then="plate", reason="covers it")
    one = fold([said, *_timed(("dial", 10), ("plate", 4))])
    two = fold([Removed(at=START, part="case"), Removed(at=START + timedelta(minutes=6), part="plate")])
    found = reach("plate", learned([("J1", one), ("J2", two)]), fold([]))
    assert found is not None
    assert [item.part.name for item in found.parts] == ["case", "dial", "plate"]
    assert found.minutes == pytest.approx(15)
    assert found.u_minutes == pytest.approx(math.sqrt(19))
    assert found.untimed == ("case",)


def test_times_seen_once_each_have_no_spread_and_none_is_made_up() -> None:
    found = reach("plate", learned([("J1", fold(_timed(("dial", 10), ("plate", 4))))]), fold([]))
    assert found is not None
    assert found.minutes == pytest.approx(14)
    assert found.u_minutes is None


def test_what_went_back_is_in_the_way_again() -> None:
    clock = Clock()
    lore = learned([("J1", fold(strip("dial", "plate")))])
    here = [*strip("dial", clock=clock), Refitted(at=clock(), part="dial")]
    found = reach("plate", lore, fold(here))
    assert found is not None
    assert [item.part.name for item in found.parts] == ["dial", "plate"]


def test_a_half_stripped_body_teaches_what_it_shows_and_no_more() -> None:
    """By hand: on the second body the meter cell, the shoe and the knob came off with the top cover on."""
    one = fold(strip("accessory shoe", "wind knob", "top cover", "meter needle", "meter cell", "red window"))
    two = fold(strip("meter cell", "accessory shoe", "wind knob"))
    lore = learned([("J1", one), ("J2", two)])
    assert lore.order == ("accessory shoe", "wind knob", "top cover", "meter needle", "meter cell", "red window")
    cell = reach("meter cell", lore, fold([]))
    assert cell is not None
    assert [item.part.name for item in cell.parts] == ["meter cell"], "it came off first on the second body"
    shoe = reach("wind knob", lore, fold([]))
    assert shoe is not None
    assert [item.reason for item in shoe.assumed] == ["came off before wind knob every time"]
    window = reach("red window", lore, fold([]))
    assert window is not None
    assert {item.reason for item in window.assumed} == {"came off before red window in the one job that shows it"}


def test_a_part_that_was_back_on_as_another_came_off_need_not_come_off_first() -> None:
    clock = Clock()
    one = [*strip("dial", "plate", clock=clock), Refitted(at=clock(), part="plate"), Refitted(at=clock(), part="dial")]
    lore = learned([("J1", fold([*one, *strip("plate", clock=clock)]))])
    assert lore.always_before(["plate"], lore.parts) == {}


def test_the_camera_on_the_bench_is_evidence_too() -> None:
    clock = Clock()
    lore = learned([("J1", fold(strip("dial", "plate")))])
    found = reach("plate", lore, fold([*strip("plate", clock=clock), Refitted(at=clock(), part="plate")]))
    assert found is not None
    assert [item.part.name for item in found.parts] == ["plate"]


MOVES = st.lists(st.lists(st.sampled_from(NAMES[:5]), max_size=9), min_size=1, max_size=4)
"""Job by job: the parts that move; one that is on comes off, one that is off goes back."""


@settings(deadline=None)
@given(MOVES, PAIRS)
def test_no_journal_contradicts_what_is_said_to_come_off_before(
    moves: list[list[str]], certain: list[tuple[str, str]]
) -> None:
    """By walking through each journal."""
    clock = Clock()
    journals: list[list[Entry]] = [[Ordered(at=clock(), first=a, then=b, reason="covers it") for a, b in certain]]
    off_as_it_came_off: dict[str, list[set[str]]] = {}
    for job in moves:
        off: set[str] = set()
        journals.append([])
        for part in job:
            if part in off:
                off.remove(part)
                journals[-1].append(Refitted(at=clock(), part=part))
            else:
                off_as_it_came_off.setdefault(part, []).append(set(off))
                off.add(part)
                journals[-1].append(Removed(at=clock(), part=part))
    lore = learned([(f"J{i}", fold(journal)) for i, journal in enumerate(journals)])
    for part in lore.parts:
        found = reach(part, lore, fold([]))
        assert found is not None
        for item in found.assumed:
            claim = item.reason.removeprefix("came off before ")
            assert all(item.part.name in off for off in off_as_it_came_off[claim[: len(NAMES[0])]]), item.reason
    place = {key: i for i, key in enumerate(lore.order)}
    assert all(place[a] < place[b] for a, b in certain if a in place and b in place)
    if not certain:
        assert all(place[a] < place[b] for b in place for a in lore.always_before([b], place))
