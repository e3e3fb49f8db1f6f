"""The way back of a whole camera beside what an expert writes (`folding_camera`).

Two sides of one question. Nothing wrong gets past: whatever is said, no order of the planner puts a part on before what
it needs. Nothing true is refused: the expert's order is allowed, but for what only the order of removal speaks against.
"""

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import networkx as nx
import pytest

from camerawright.journal.entries import Awaited, Entry, Independent, Removed, part_key
from camerawright.journal.order import order_facts
from camerawright.journal.state import fold
from camerawright.refit.way_back import WayBack, way_back
from tests.journal.makers import START, Clock
from tests.refit import folding_camera

TRUTH = {part_key(part): tuple(map(part_key, firsts)) for part, firsts in folding_camera.truth().items()}
EXPERT = [part_key(part) for _, parts in folding_camera.expert() for part in parts]


def _journal() -> list[Entry]:
    clock = Clock()
    return [*folding_camera.removals(clock), *folding_camera.said(clock)]


def _only_taken_apart() -> list[Entry]:
    return list(folding_camera.removals(Clock()))


def _way(journal: Iterable[Entry], late: str = "") -> WayBack:
    state = fold(journal)
    off = [
        replace(part, awaiting=Awaited(at=START, part=part.name, awaiting="on order")) if part.key == late else part
        for part in state.off
    ]
    return way_back(off, order_facts(state))


def _keys(way: WayBack) -> list[str]:
    return [step.part.key for step in way.steps]


def _too_early(order: Sequence[str]) -> list[tuple[str, str]]:
    """Parts that stand before what they need."""
    return [(part, first) for n, part in enumerate(order) for first in TRUTH[part] if first not in order[:n]]


def _refused(way: WayBack, order: Sequence[str]) -> dict[str, list[str]]:
    """What the planner would refuse, going by this order; of all of it nothing may be certain."""
    refused = {}
    for n, part in enumerate(order):
        barring = [bond for bond in way.back_first.get(part, ()) if bond.keys[1] not in order[:n]]
        if barring:
            assert not any(bond.certain for bond in barring), barring
            refused[part] = [bond.then for bond in barring]
    return refused


def test_the_camera_has_70_parts_and_the_expert_puts_each_of_them_back_once() -> None:
    assert len(TRUTH) == len(folding_camera.strip_down()) == 70
    assert sorted(EXPERT) == sorted(TRUTH)
    assert not _too_early(EXPERT)
    assert not _too_early([part_key(row.part) for row in folding_camera.strip_down()][::-1])


def test_nothing_goes_on_before_what_it_needs() -> None:
    assert not _too_early(_keys(_way(_only_taken_apart())))
    assert not _too_early(_keys(_way(_journal())))


def test_the_expert_is_refused_only_what_came_off_in_another_order_within_a_sub_assembly() -> None:
    """17 statements. Without them 10 of the expert's steps are refused, with them 5; two parts of one unit each."""
    assert len(_refused(_way(_only_taken_apart()), EXPERT)) == 10
    assert _refused(_way(_journal()), EXPERT) == {
        "main lever": ["sync contact"],
        "cocking spring": ["slow train"],
        "slow train": ["self-timer train"],
        "infinity adjuster": ["fixed mirror"],
        "left strut": ["right strut"],
    }
    assert len(list(folding_camera.said(Clock()))) == 17


def test_the_way_back_keeps_each_sub_assembly_together_as_the_expert_does() -> None:
    way = _way(_journal())
    last = [part_key(part) for part in folding_camera.LAST]
    assert _keys(way)[-2:] == last
    homes = [way.home.get(step.part.key) or (step.part.removed and step.part.removed.assembly) for step in way.steps]
    runs = [home for n, home in enumerate(homes[:-2]) if n == 0 or homes[n - 1] != home]
    assert len(runs) == len(set(runs)) == len(folding_camera.expert()) - 1, runs


@pytest.mark.parametrize(
    ("late", "before", "after"),
    [("slow train", 60, 11), ("meter cell", 52, 13), ("beam splitter", 43, 12), ("spool fork", 39, 15)],
)
def test_a_part_on_order_stalls_what_needs_it_and_little_more(late: str, before: int, after: int) -> None:
    """How many other parts wait, without and with the statements; never fewer than what needs it."""
    graph = nx.DiGraph([(first, part) for part, firsts in TRUTH.items() for first in firsts])
    assert len(_way(_only_taken_apart(), late).waiting) - 1 == before
    way = _way(_journal(), late)
    assert len(way.waiting) - 1 == after
    assert nx.descendants(graph, late) <= {item.part.key for item in way.waiting}


def _another_strip_down(seed: int) -> Iterator[Entry]:
    """The same camera taken apart in another order that it allows, with the same things said."""
    rng = random.Random(seed)
    rows = {part_key(row.part): row for row in folding_camera.strip_down()}
    on_top = nx.DiGraph([(part, first) for part, firsts in TRUTH.items() for first in firsts])
    on_top.add_nodes_from(TRUTH)
    clock = Clock()
    yield from folding_camera.said(clock)
    while on_top:
        part = rng.choice([part for part in on_top if on_top.in_degree(part) == 0])
        on_top.remove_node(part)
        yield Removed(at=clock(), part=rows[part].part, assembly=rows[part].assembly)


@pytest.mark.parametrize("seed", range(20))
def test_taken_apart_in_any_order_it_goes_together_again(seed: int) -> None:
    journal = list(_another_strip_down(seed))
    assert not _too_early(_keys(_way(journal)))
    late = random.Random(seed).choice(sorted(TRUTH))
    assert not _too_early(_keys(_way(journal, late)))


def test_single_statements_would_have_been_many() -> None:
    """What eight statements about sides free, said pair by pair."""
    facts = order_facts(fold(_journal()))
    sides = [facts.groups.sides(part_key(one), part_key(other)) for one, other, _ in folding_camera.FREE]
    parts = facts.groups.parts
    assert sum(len(here & parts) * len(there & parts) for here, there in sides) == 1446
    assert sum(isinstance(entry, Independent) for entry in _journal()) == 8
