"""Order constraints: what a journal states, and rings that cannot hold, beside networkx."""

import networkx as nx
import numpy as np
import pytest

from camerawright.journal.entries import Entry, Independent, Ordered, Removed
from camerawright.journal.order import Constraint, constraints_said, contradiction, independent_pairs, ring_with
from camerawright.journal.state import fold
from tests.journal.makers import Clock


def before(*pairs: tuple[str, str]) -> list[Constraint]:
    return [Constraint(first=first, then=then, reason="covers it") for first, then in pairs]


def drawn(seed: int) -> list[Constraint]:
    """Some pairs of eight parts."""
    rng = np.random.default_rng(seed)
    return before(*((f"part {a}", f"part {b}") for a, b in rng.integers(0, 8, (int(rng.integers(4, 14)), 2)) if a != b))


def test_a_journal_states_what_was_declared_and_what_each_part_was_fitted_under() -> None:
    moment = Clock()
    journal: list[Entry] = [
        Ordered(at=moment(), first="dial", then="gear", reason="pins it", bond="retained by", certain=False),
        Removed(at=moment(), part="shutter", under=("front plate", "bezel")),
        Independent(at=moment(), part="Dial", other="bezel", reason="seen apart"),
    ]
    state = fold(journal)
    declared, *under = constraints_said(state)
    assert declared == Constraint(first="dial", then="gear", reason="pins it", bond="retained by", certain=False)
    for constraint, cover in zip(under, ("front plate", "bezel"), strict=True):
        assert (constraint.first, constraint.then, constraint.bond) == (cover, "shutter", "covered by")
        assert constraint.reason == f"{cover} covers shutter"
        assert constraint.certain
    assert independent_pairs(state) == {frozenset({"dial", "bezel"})}


@pytest.mark.parametrize("seed", range(40))
def test_the_contradiction_is_the_shortest_ring(seed: int) -> None:
    """networkx.simple_cycles."""
    constraints = drawn(seed)
    rings = list(nx.simple_cycles(nx.DiGraph([one.keys for one in constraints])))
    ring = contradiction(constraints)
    assert len(ring) == min(map(len, rings), default=0)
    assert all(one in constraints for one in ring)
    assert all(one.keys[1] == after.keys[0] for one, after in zip(ring, [*ring[1:], *ring[:1]], strict=True))


@pytest.mark.parametrize("seed", range(40))
def test_a_new_constraint_closes_the_shortest_way_back(seed: int) -> None:
    """networkx.shortest_path, without what else is said of the part that the new one begins at."""
    constraints = [one for one in drawn(seed) if one.keys[0] != "part 0"]
    new = Constraint(first="part 0", then="part 1", reason="holds it")
    graph = nx.DiGraph([one.keys for one in constraints])
    graph.add_nodes_from(["part 0", "part 1"])
    ring = ring_with(new, constraints)
    if nx.has_path(graph, "part 1", "part 0"):
        assert ring[0] is new
        assert len(ring) == nx.shortest_path_length(graph, "part 1", "part 0") + 1
        assert ring[-1].keys[1] == "part 0"
    else:
        assert ring == ()
