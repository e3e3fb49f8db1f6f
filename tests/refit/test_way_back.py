"""The way back, against networkx on random constraints and against small strip-downs with a plain answer."""

from dataclasses import replace
from datetime import timedelta

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.journal.entries import Awaited
from camerawright.journal.order import Constraint, OrderFacts, Pair
from camerawright.journal.state import Part, fold
from camerawright.refit.bonds import stable_order
from camerawright.refit.way_back import Contradiction, WayBack, way_back
from tests.journal.makers import NOW, START, strip

WAIT = Awaited(at=START, part="any", awaiting="spring on order")


def _off(n: int) -> tuple[Part, ...]:
    return fold(strip(*(f"part {i:02d}" for i in range(n)))).off


def _certain(pairs: list[tuple[int, int]]) -> tuple[Constraint, ...]:
    return tuple(Constraint(first=f"part {a:02d}", then=f"part {b:02d}", reason="covers it") for a, b in pairs)


def _said(pairs: list[tuple[int, int]], free: frozenset[Pair] = frozenset()) -> OrderFacts:
    return OrderFacts(constraints=_certain(pairs), free=free)


PAIRS = st.lists(st.tuples(st.integers(0, 11), st.integers(0, 11)).filter(lambda ab: ab[0] != ab[1]), max_size=18)


def _order(way: WayBack) -> list[str]:
    return [step.part.name for step in way.steps]


@given(PAIRS)
def test_the_order_nearest_to_the_given_one_is_that_of_networkx(pairs: list[tuple[int, int]]) -> None:
    """[kahn-1962]: networkx 3.6, lexicographical_topological_sort."""
    graph = nx.DiGraph([(b, a) for a, b in pairs])
    graph.add_nodes_from(range(12))
    is_free_of_rings = nx.is_directed_acyclic_graph(graph)
    theirs = list(nx.lexicographical_topological_sort(graph)) if is_free_of_rings else None
    assert stable_order([list(graph.predecessors(i)) for i in range(12)]) == theirs


@given(PAIRS)
def test_a_way_exists_exactly_where_networkx_finds_no_cycle(pairs: list[tuple[int, int]]) -> None:
    """networkx 3.6, is_directed_acyclic_graph."""
    graph = nx.DiGraph([(f"part {b:02d}", f"part {a:02d}") for a, b in pairs])
    if nx.is_directed_acyclic_graph(graph):
        place = {name: i for i, name in enumerate(_order(way_back(_off(12), _said(pairs))))}
        assert all(place[before] < place[after] for before, after in graph.edges)
        assert len(place) == 12
    else:
        with pytest.raises(Contradiction) as clash:
            way_back(_off(12), _said(pairs))
        shortest = min(len(cycle) for cycle in nx.simple_cycles(graph, length_bound=len(clash.value.ring)))
        assert len(clash.value.ring) == shortest


@given(PAIRS, st.lists(st.tuples(st.integers(0, 11), st.integers(0, 11)), max_size=12))
def test_bonds_imply_every_reason_and_only_those(
    pairs: list[tuple[int, int]], free_pairs: list[tuple[int, int]]
) -> None:
    """The transitive closure (networkx 3.6) of the bonds shown is that of all reasons given."""
    graph = nx.DiGraph([(f"part {b:02d}", f"part {a:02d}") for a, b in pairs])
    if not nx.is_directed_acyclic_graph(graph):
        return
    free: frozenset[Pair] = frozenset(frozenset((f"part {a:02d}", f"part {b:02d}")) for a, b in free_pairs if a != b)
    way = way_back(_off(12), _said(pairs, free))
    names = _order(way)
    place = {name: i for i, name in enumerate(names)}
    graph.add_nodes_from(names)
    for first in range(12):
        for then in range(first + 1, 12):
            a, b = f"part {first:02d}", f"part {then:02d}"
            if frozenset((a, b)) not in free and place[b] < place[a]:
                graph.add_edge(b, a)
    shown: nx.DiGraph[str] = nx.DiGraph()
    shown.add_nodes_from(names)
    shown.add_edges_from((bond.then, step.part.name) for step in way.steps for bond in step.after)
    assert set(nx.transitive_closure_dag(shown).edges) == set(nx.transitive_closure_dag(graph).edges)
    certain = {(c.then, c.first) for c in _certain(pairs)}
    reduced = set(nx.transitive_reduction(nx.DiGraph(list(certain))).edges) if certain else set()
    bonds = {(bond.then, step.part.name) for step in way.steps for bond in step.after if bond.certain}
    assert bonds == reduced, "a certain reason is shown unless certain ones imply it"


def test_without_other_reasons_the_way_back_is_the_way_out_reversed() -> None:
    way = way_back(_off(5), OrderFacts())
    assert _order(way) == ["part 04", "part 03", "part 02", "part 01", "part 00"]
    assert [len(step.after) for step in way.steps] == [0, 1, 1, 1, 1]
    assert not any(bond.certain for step in way.steps for bond in step.after)


def test_a_certain_reason_beats_the_order_of_removal() -> None:
    """Entered in the wrong order, but the dial is known to cover the plate."""
    off = fold(strip("plate", "dial")).off
    way = way_back(off, OrderFacts(constraints=(Constraint(first="dial", then="plate", reason="covers its screw"),)))
    assert _order(way) == ["plate", "dial"]


def test_what_waits_holds_back_only_what_goes_on_after_it() -> None:
    off = tuple(part if part.name != "part 02" else replace(part, awaiting=WAIT) for part in _off(5))
    way = way_back(off, OrderFacts())
    assert _order(way) == ["part 04", "part 03"]
    assert [item.part.name for item in way.waiting] == ["part 02", "part 01", "part 00"]
    free: frozenset[Pair] = frozenset({frozenset(("part 02", "part 01"))})
    way = way_back(off, OrderFacts(free=free))
    assert _order(way) == ["part 04", "part 03", "part 01"]
    assert [item.part.name for item in way.waiting] == ["part 02", "part 00"]


def test_a_wait_with_an_end_is_over_by_itself() -> None:
    curing = Awaited(at=START, part="part 02", awaiting="adhesive curing", until=NOW)
    off = tuple(replace(part, awaiting=curing) if part.name == "part 02" else part for part in _off(4))
    assert _order(way_back(off, OrderFacts(), now=NOW - timedelta(minutes=1))) == ["part 03"]
    assert _order(way_back(off, OrderFacts(), now=NOW)) == ["part 03", "part 02", "part 01", "part 00"]


@given(st.sets(st.integers(0, 11)), PAIRS)
def test_every_part_stands_in_steps_or_waiting_and_nothing_goes_on_over_a_gap(
    awaited: set[int], pairs: list[tuple[int, int]]
) -> None:
    off = tuple(replace(part, awaiting=WAIT) if i in awaited else part for i, part in enumerate(_off(12)))
    try:
        way = way_back(off, _said(pairs))
    except Contradiction:
        return
    names = [*_order(way), *(item.part.name for item in way.waiting)]
    assert sorted(names) == [part.name for part in off]
    back: set[str] = set()
    for step in way.steps:
        assert all(bond.then in back for bond in step.after)
        back.add(step.part.name)
