"""Layers of an order: against networkx, a planar drawing done by hand, and what any picture of an order must keep."""

from itertools import pairwise

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.refit.layers import Edge, Layers, layered


@st.composite
def graphs(draw: st.DrawFn, *, rings: bool = False) -> tuple[list[str], list[Edge]]:
    """Names, and bonds between them: all from an earlier to a later one, unless rings are wanted."""
    names = [f"part {i}" for i in range(draw(st.integers(0, 12)))]
    pairs = [(a, b) for i, a in enumerate(names) for b in names[i + 1 :]]
    edges = draw(st.lists(st.sampled_from(pairs), max_size=25, unique=True)) if pairs else []
    if rings:
        edges = [edge[::-1] if draw(st.booleans()) else edge for edge in edges]
    return draw(st.permutations(names)), edges


@given(graphs())
def test_a_row_is_the_longest_way_from_above_as_networkx_counts_it(graph: tuple[list[str], list[Edge]]) -> None:
    names, edges = graph
    reference: nx.DiGraph[str] = nx.DiGraph()
    reference.add_nodes_from(names)
    reference.add_edges_from(edges)
    longest: dict[str, int] = {}
    for name in nx.topological_sort(reference):
        longest[name] = max((longest[before] + 1 for before in reference.predecessors(name)), default=0)
    layers = layered(names, edges)
    assert {name: layers.row_of(name) for name in names} == longest


@given(graphs(rings=True))
def test_every_part_stands_once_and_no_two_overlap(graph: tuple[list[str], list[Edge]]) -> None:
    names, edges = graph
    layers = layered(names, edges)
    assert sorted(name for row in layers.rows for name in row) == sorted(names)
    for row in layers.rows:
        assert all(layers.x[right] - layers.x[left] >= 1 - 1e-9 for left, right in pairwise(row))
    assert all(at >= 0.5 - 1e-9 for at in layers.x.values())
    assert layers.width >= max((at + 0.5 for at in layers.x.values()), default=0)


@given(graphs(rings=True))
def test_every_bond_runs_from_its_first_to_its_then_through_each_row_between(
    graph: tuple[list[str], list[Edge]],
) -> None:
    names, edges = graph
    layers = layered(names, edges)
    assert set(layers.paths) == set(edges)
    for (first, then), path in layers.paths.items():
        rows = [row for _, row in path]
        assert path[0] == (layers.x[first], layers.row_of(first))
        assert path[-1] == (layers.x[then], layers.row_of(then))
        step = 1 if rows[-1] > rows[0] else -1
        assert rows == list(range(rows[0], rows[-1] + step, step))


@given(graphs(rings=True))
def test_a_bond_runs_upward_only_where_it_closes_a_ring(graph: tuple[list[str], list[Edge]]) -> None:
    names, edges = graph
    layers = layered(names, edges)
    upward = [edge for edge, path in layers.paths.items() if path[0][1] > path[-1][1]]
    kept = nx.DiGraph([edge for edge in edges if edge not in upward])
    assert nx.is_directed_acyclic_graph(kept)
    for first, then in upward:
        assert nx.has_path(nx.DiGraph(edges), then, first)


def _crossings(layers: Layers) -> int:
    """Pairs of bond pieces between the same two rows whose ends are in opposite order: all pairs tried."""
    pieces = [
        (min(a, b, key=lambda point: point[1]), max(a, b, key=lambda point: point[1]))
        for path in layers.paths.values()
        for a, b in pairwise(path)
    ]
    return sum(
        p[0][1] == q[0][1] and (p[0][0] - q[0][0]) * (p[1][0] - q[1][0]) < -1e-9
        for i, p in enumerate(pieces)
        for q in pieces[i + 1 :]
    )


@given(graphs())
def test_the_crossings_counted_are_those_drawn(graph: tuple[list[str], list[Edge]]) -> None:
    layers = layered(*graph)
    assert layers.n_crossings == _crossings(layers)


def test_what_can_be_drawn_without_a_crossing_is() -> None:
    # A tree given in the order that crosses most; drawn by hand without a crossing.
    edges = [("top", "left"), ("top", "right"), ("left", "a"), ("left", "b"), ("right", "c"), ("right", "d")]
    layers = layered(["d", "a", "c", "b", "right", "left", "top"], edges)
    assert layers.n_crossings == 0


def test_a_bond_that_passes_a_row_leaves_the_boxes_of_that_row_free() -> None:
    layers = layered(["a", "b", "c"], [("a", "b"), ("b", "c"), ("a", "c")])
    (bend,) = [x for x, row in layers.paths["a", "c"] if row == 1]
    assert abs(bend - layers.x["b"]) > 0.5


def test_a_chain_stands_straight() -> None:
    names = [f"part {i}" for i in range(60)]
    layers = layered(names, list(pairwise(names)))
    assert len(layers.rows) == 60
    assert len({round(x, 9) for x in layers.x.values()}) == 1


def test_a_bond_to_what_is_not_there_is_refused() -> None:
    with pytest.raises(ValueError, match="ghost"):
        layered(["a"], [("a", "ghost")])
    with pytest.raises(ValueError, match="different"):
        layered(["a"], [("a", "a")])
