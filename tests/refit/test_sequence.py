"""The best order of steps, against a mixed-integer programme solved by HiGHS (scipy 1.17, `milp`) and by counting."""

from collections.abc import Sequence
from itertools import pairwise, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from camerawright.refit import sequence
from camerawright.refit.sequence import Order, Traits, best_order, changes, cost

PRICES = {"assembly": 6, "state": 3, "lubricant": 2, "tool": 1}  # as `sequence.COSTS` states them
Problem = tuple[list[list[int]], list[Traits]]

_TRAITS = st.builds(
    Traits,
    assembly=st.sampled_from([None, "front", "top"]),
    state=st.sampled_from([None, "cocked", "released"]),
    tool=st.sampled_from([None, "1.2 mm", "1.5 mm", "spanner"]),
    lubricant=st.sampled_from([None, None, "grease"]),
)


def _problems(most: int) -> st.SearchStrategy[Problem]:
    """Steps with what comes before each, only ever an earlier one; and what each asks for."""

    def with_bonds(asked: list[Traits]) -> st.SearchStrategy[Problem]:
        n = len(asked)
        pairs = st.lists(st.tuples(st.integers(0, n - 1), st.integers(0, n - 1)), max_size=n)
        shuffled = st.permutations(range(n))
        return st.builds(_bonded, pairs, shuffled, st.just(asked))

    return st.lists(_TRAITS, min_size=1, max_size=most).flatmap(with_bonds)


def _bonded(pairs: list[tuple[int, int]], rank: Sequence[int], asked: list[Traits]) -> Problem:
    before: list[list[int]] = [[] for _ in asked]
    for a, b in pairs:
        if rank[a] < rank[b] and a not in before[b]:
            before[b].append(a)
    return before, asked


def _counted(order: Sequence[int], asked: Sequence[Traits]) -> int:
    """What the changes of an order cost, counted kind by kind."""
    total = 0
    for kind, price in PRICES.items():
        wanted = [want for step in order if (want := getattr(asked[step], kind)) is not None]
        total += price * sum(a != b for a, b in pairwise(wanted))
    return total


def _is_allowed(order: Sequence[int], before: Sequence[Sequence[int]]) -> bool:
    place = {step: i for i, step in enumerate(order)}
    return sorted(order) == list(range(len(before))) and all(
        place[first] < place[step] for step, firsts in enumerate(before) for first in firsts
    )


class _Programme:
    """A mixed-integer programme that grows: binary variables with a price, and rows that bound sums of them."""

    def __init__(self) -> None:
        self.prices: list[float] = []
        self.rows: list[tuple[dict[int, float], float, float]] = []

    def binary(self, price: float = 0.0) -> int:
        self.prices.append(price)
        return len(self.prices) - 1

    def bound(self, low: float, terms: dict[int, float], high: float = np.inf) -> None:
        self.rows.append((terms, low, high))

    def least(self) -> float:
        table: NDArray[np.float64] = np.zeros((len(self.rows), len(self.prices)))
        for i_row, (terms, _, _) in enumerate(self.rows):
            for variable, factor in terms.items():
                table[i_row, variable] = factor
        limits = LinearConstraint(table, [row[1] for row in self.rows], [row[2] for row in self.rows])
        found = milp(
            self.prices, constraints=limits, integrality=np.ones(len(self.prices), dtype=np.int64), bounds=Bounds(0, 1)
        )
        assert found.success, found.message
        return float(found.fun)


def _least_cost(before: Sequence[Sequence[int]], asked: Sequence[Traits]) -> int:  # noqa: C901 one programme
    """The least cost of any allowed order, by HiGHS.

    at[s][p] = 1 puts step s in place p. For each kind of trait the steps that ask for one form a chain:
    follows[s, t] = 1 makes t the next of them after s, and costs where the two differ.
    """
    n = len(before)
    programme = _Programme()
    at = [[programme.binary() for _ in range(n)] for _ in range(n)]
    for i in range(n):
        programme.bound(1, {at[i][p]: 1.0 for p in range(n)}, 1)
        programme.bound(1, {at[s][i]: 1.0 for s in range(n)}, 1)

    def later(first: int, step: int) -> dict[int, float]:
        """The place of a step less that of another."""
        return {at[step][p]: float(p) for p in range(n)} | {at[first][p]: -float(p) for p in range(n)}

    for step, firsts in enumerate(before):
        for first in firsts:
            programme.bound(1, later(first, step))
    for kind, price in PRICES.items():
        asking = [s for s in range(n) if getattr(asked[s], kind) is not None]
        links = {
            (s, t): programme.binary(price * (getattr(asked[s], kind) != getattr(asked[t], kind)))
            for s, t in permutations(asking, 2)
        }
        if len(asking) < 2:
            continue
        programme.bound(len(asking) - 1, dict.fromkeys(links.values(), 1.0))
        for s in asking:
            programme.bound(0, {link: 1.0 for (a, _), link in links.items() if a == s}, 1)
            programme.bound(0, {link: 1.0 for (_, b), link in links.items() if b == s}, 1)
        for (s, t), link in links.items():
            programme.bound(1 - n, {**later(s, t), link: -float(n)})
    return round(programme.least())


@settings(max_examples=30, deadline=None)
@given(_problems(6))
def test_no_allowed_order_costs_less_by_highs(problem: Problem) -> None:
    """scipy 1.17, `milp` (HiGHS 1.12)."""
    before, asked = problem
    best = best_order(before, asked, at_once=frozenset())
    assert best.is_proven
    assert _is_allowed(best.steps, before)
    assert best.cost == _counted(best.steps, asked) == _least_cost(before, asked)


@settings(deadline=None)
@given(_problems(6), st.integers(2, 40))
def test_what_is_called_proven_is_the_least_however_little_work_is_allowed(problem: Problem, width: int) -> None:
    """[held-karp-1962]: every permutation counted."""
    before, asked = problem
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sequence, "EXACT_STEPS", 0)
        patch.setattr(sequence, "WORK", width * len(before))
        best = best_order(before, asked, at_once=frozenset())
    least = min(_counted(order, asked) for order in permutations(range(len(before))) if _is_allowed(order, before))
    assert _is_allowed(best.steps, before)
    assert best.cost == _counted(best.steps, asked)
    assert best.cost == least if best.is_proven else best.cost >= least


@settings(deadline=None)
@given(_problems(40))
def test_every_order_is_allowed_and_its_cost_is_counted_right(problem: Problem) -> None:
    before, asked = problem
    best = best_order(before, asked, at_once=frozenset())
    assert _is_allowed(best.steps, before)
    assert best.cost == _counted(best.steps, asked) == cost(best.steps, asked)
    counted = changes(best.steps, asked)
    assert sum(PRICES[kind] * n for kind, n in counted.items()) == best.cost


@pytest.mark.parametrize("work", [sequence.WORK, 1])  # 1: the quick way for very many steps
@settings(deadline=None)
@given(_problems(12), st.data())
def test_a_check_that_is_due_is_done_at_once(work: int, problem: Problem, data: st.DataObject) -> None:
    before, asked = problem
    checks = data.draw(st.frozensets(st.integers(0, len(asked) - 1)))
    asked = [Traits() if i in checks else trait for i, trait in enumerate(asked)]
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sequence, "WORK", work)
        patch.setattr(sequence, "EXACT_STEPS", sequence.EXACT_STEPS if work > 1 else 0)
        order = best_order(before, asked, at_once=checks).steps
    done: set[int] = set()
    for step in order:
        due = [check for check in checks - done if set(before[check]) <= done]
        assert step in checks or not due, f"{step} was done while {due} were due in {order}"
        done.add(step)


@given(_problems(30))
def test_where_nothing_is_asked_for_the_order_is_the_one_given(problem: Problem) -> None:
    """The first in the order of the alphabet of all allowed orders."""
    before, _ = problem
    order = best_order(before, [Traits()] * len(before), at_once=frozenset()).steps
    done: list[int] = []
    while len(done) < len(before):
        done.append(min(s for s in range(len(before)) if s not in done and set(before[s]) <= set(done)))
    assert list(order) == done
    free: list[list[int]] = [[] for _ in before]
    assert best_order(free, [Traits()] * len(before), at_once=frozenset()).steps == tuple(range(len(before)))


def test_one_tool_is_not_laid_down_between_two_screws_of_its_size() -> None:
    """By hand: in the order given the driver changes three times, in the best once."""
    asked = [Traits(tool=tool) for tool in ("1.2", "1.5", "1.2", "1.5")]
    best = best_order([[], [], [], []], asked, at_once=frozenset())
    assert best == Order(steps=(0, 2, 1, 3), cost=1, is_proven=True)
    assert cost((0, 1, 2, 3), asked) == 3


def test_an_assembly_is_kept_together_even_if_the_tool_changes_more_often() -> None:
    """By hand: keeping it together costs 6 + 3 × 1, splitting it by tools 3 × 6 + 1."""
    asked = [
        Traits(assembly="front", tool="1.2"),
        Traits(assembly="top", tool="1.2"),
        Traits(assembly="front", tool="1.5"),
        Traits(assembly="top", tool="1.5"),
    ]
    best = best_order([[], [], [], []], asked, at_once=frozenset())
    assert changes(best.steps, asked)["assembly"] == 1
    assert best.cost == 8
