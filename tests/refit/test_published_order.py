"""A published assembly precedence graph, put into journals: Jackson 1956, 11 tasks.

The numbers stand in `tests/published/jackson-1956.toml`. A task is a part that goes back; what is assembled later
comes off earlier.
"""

import random
import tomllib
from datetime import timedelta
from pathlib import Path

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.journal.entries import Entry, Independent, Ordered, Removed, Set
from camerawright.journal.order import Constraint, order_facts, ring_with
from camerawright.journal.state import fold
from camerawright.refit.learning import learned
from camerawright.refit.reach import reach
from camerawright.refit.way_back import way_back
from tests import published
from tests.journal.makers import START

JACKSON = published.load("jackson-1956")
_RAW = tomllib.loads((Path(published.__file__).parent / "jackson-1956.toml").read_text(encoding="utf-8"))
ARCS: list[tuple[int, int]] = [(int(a), int(b)) for a, b in (arc.split("-") for arc in _RAW["arcs"])]
FOLLOWERS: dict[int, list[int]] = {int(task): after for task, after in _RAW["followers"].items()}
TASKS = range(1, 12)


def _journal(came_off: list[int]) -> list[Entry]:
    """The arcs as what is known, all other pairs independent, then a strip-down in which each task takes its time."""
    journal: list[Entry] = [
        Ordered(at=START, first=f"task {after}", then=f"task {before}", reason="assembled after it")
        for before, after in ARCS
    ]
    journal += [
        Independent(at=START, part=f"task {a}", other=f"task {b}", reason="no arc between them")
        for a in TASKS
        for b in TASKS
        if a < b and b not in FOLLOWERS[a]
    ]
    at = START + timedelta(minutes=1)
    journal.append(Set(at=at, settings={"line": "stopped"}))
    for task in came_off:
        at += timedelta(minutes=JACKSON[f"time_{task}"].value)
        journal.append(Removed(at=at, part=f"task {task}"))
    return journal


@pytest.mark.parametrize("seed", range(5))
def test_the_way_back_is_an_assembly_order_whatever_the_order_of_removal(seed: int) -> None:
    """Jackson 1956. Removal in any order: where it opposes an arc, the arc wins."""
    came_off = list(TASKS)
    random.Random(seed).shuffle(came_off)
    state = fold(_journal(came_off))
    way = way_back(state.off, order_facts(state))
    order = [int(step.part.name.removeprefix("task ")) for step in way.steps]
    assert sorted(order) == list(TASKS)
    assert all(order.index(before) < order.index(after) for before, after in ARCS)
    shown = {(bond.then, bond.first) for step in way.steps for bond in step.after if bond.certain}
    assert shown == {(f"task {before}", f"task {after}") for before, after in ARCS}, "no arc implies another"


def test_the_sets_worked_by_hand_are_those_of_networkx() -> None:
    """networkx 3.6, `descendants`."""
    graph = nx.DiGraph(ARCS)
    assert {task: sorted(nx.descendants(graph, task)) for task in TASKS} == FOLLOWERS


@pytest.mark.parametrize("task", TASKS)
def test_to_reach_a_task_its_followers_come_off_and_the_time_is_its_positional_weight(task: int) -> None:
    """[jackson-1956], [helgeson-birnie-1961]."""
    lore = learned([("J1", fold(_journal(list(reversed(TASKS)))))])
    found = reach(f"task {task}", lore, fold([]))
    assert found is not None
    tasks = [int(item.part.name.removeprefix("task ")) for item in found.parts]
    assert sorted(tasks[:-1]) == FOLLOWERS[task]
    assert tasks[-1] == task
    assert all(item.certain for item in found.parts)
    assert all(tasks.index(after) < tasks.index(before) for before, after in ARCS if {before, after} <= set(tasks))
    assert found.minutes is not None
    assert JACKSON[f"weight_{task}"].holds(found.minutes)


@given(
    st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)).filter(lambda ab: ab[0] != ab[1]), max_size=14),
    st.tuples(st.integers(0, 7), st.integers(0, 7)).filter(lambda ab: ab[0] != ab[1]),
)
def test_the_ring_that_a_new_reason_closes_is_the_shortest(arcs: list[tuple[int, int]], new: tuple[int, int]) -> None:
    """networkx 3.6, `shortest_path_length` from the new arc's end back to its start."""

    def said(a: int, b: int) -> Constraint:
        return Constraint(first=str(a), then=str(b), reason="seen")

    graph = nx.DiGraph(arcs)
    graph.add_nodes_from(new)
    ring = ring_with(said(*new), [said(a, b) for a, b in arcs])
    if nx.has_path(graph, new[1], new[0]):
        assert len(ring) == 1 + nx.shortest_path_length(graph, new[1], new[0])
        assert ring[0] == said(*new)
        assert all(a.then == b.first for a, b in zip(ring, (*ring[1:], ring[0]), strict=True))
    else:
        assert ring == ()
