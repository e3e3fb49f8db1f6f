"""The best of the orders that are allowed: sub-assemblies kept together, few changes of state, tool and lubricant.

Dynamic programming over the sets of steps that may be done ([held-karp-1962], with precedence):
for each such set and each kind of last step only the cheapest beginning is kept. Where the beginnings grow too many the
cheapest few go on, and the answer says that it is no longer proven.
"""

from bisect import insort
from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from heapq import heappop, heappush

EXACT_STEPS = 14
"""Up to so many steps every beginning is kept."""

WORK = 40_000
"""Beginnings looked at beyond that: what keeps 400 parts under 50 ms (`benchmarks/refit.py`)."""


@dataclass(frozen=True, kw_only=True)
class Traits:
    """What a step asks for. A change from one step to the next costs time; what is None goes with anything."""

    assembly: str | None = None
    state: str | None = None
    tool: str | None = None
    lubricant: str | None = None


COSTS = {"assembly": 6, "state": 3, "lubricant": 2, "tool": 1}
"""What a change costs, a change of tool as one (common practice; only their order matters)."""

_NAMES = tuple(field.name for field in fields(Traits))
_Hand = tuple[str | None, ...]  # what is in hand after a step: the last trait of each kind that was asked for
_NOTHING: _Hand = (None,) * len(_NAMES)
_EVERY = 1 << EXACT_STEPS


@dataclass(frozen=True, kw_only=True)
class Order:
    """An allowed order of the steps, what its changes cost, and whether no allowed order is known to cost less."""

    steps: tuple[int, ...]
    cost: int
    is_proven: bool


@dataclass(slots=True)
class _Beginning:
    """Some steps done: which (as bits), what is in hand, what it cost, and how it came about."""

    done: int
    hand: _Hand
    cost: int
    ready: tuple[int, ...]
    last: int
    before: "_Beginning | None"


def changes(order: Sequence[int], traits: Sequence[Traits]) -> dict[str, int]:
    """How often an order changes sub-assembly, state, tool and lubricant."""
    counts = dict.fromkeys(COSTS, 0)
    hand = _NOTHING
    for step in order:
        asked = _asked(traits[step])
        for name, have, want in zip(_NAMES, hand, asked, strict=True):
            counts[name] += want is not None and have is not None and want != have
        hand = _after(hand, asked)
    return counts


def cost(order: Sequence[int], traits: Sequence[Traits]) -> int:
    """What the changes of an order cost."""
    return sum(COSTS[name] * n for name, n in changes(order, traits).items())


def best_order(before: Sequence[Sequence[int]], traits: Sequence[Traits], *, at_once: frozenset[int]) -> Order:
    """Find the order that costs least.

    Parameters
    ----------
    before
        For each step the steps that must be done first. Must not hold a ring.
    traits
        What each step asks for.
    at_once
        Steps that are done as soon as they may be: checks.

    Notes
    -----
    A step that asks for nothing but what is in hand is always done next: it costs nothing there, and taking it out of
    its later place can only save a change. Of orders that cost the same, one near to 0, 1, 2 ... is taken, and
    that one itself where nothing is asked for.
    """
    n = len(before)
    plan = _Plan(before, traits, at_once)
    n_kinds = len(set(plan.asked))
    width = _EVERY if n <= EXACT_STEPS else WORK // (n * n_kinds)
    if width < 2:
        return _greedy(plan)
    front = [_Beginning(0, _NOTHING, 0, tuple(i for i in range(n) if not before[i]), -1, None)]
    is_proven = True
    for _ in range(n):
        kept: dict[tuple[int, _Hand], _Beginning] = {}
        for beginning in front:
            for step in plan.worth_trying(beginning, every=is_proven):
                plan.extend(beginning, step, kept)
        front = list(kept.values())
        if len(front) > width:
            front = sorted(front, key=lambda item: item.cost)[:width]
            is_proven = False
    best = min(front, key=lambda item: item.cost)
    return Order(steps=_steps(best), cost=best.cost, is_proven=is_proven)


class _Plan:
    """The steps, what each asks for, and what it opens."""

    def __init__(self, before: Sequence[Sequence[int]], traits: Sequence[Traits], at_once: frozenset[int]) -> None:
        self.before = before
        self.at_once = at_once
        self.asked = [_asked(trait) for trait in traits]
        self.after: list[list[int]] = [[] for _ in before]
        for step, firsts in enumerate(before):
            for first in firsts:
                self.after[first].append(step)

    @cached_property
    def needs(self) -> list[int]:
        """What must be done before each step, as bits."""
        return [sum(1 << first for first in set(firsts)) for firsts in self.before]

    def worth_trying(self, beginning: _Beginning, *, every: bool) -> Sequence[int]:
        """The next steps that can matter; unless `every`, the first of each kind will do."""
        kinds: dict[_Hand, int] = {}
        due = next((step for step in beginning.ready if step in self.at_once), None)
        if due is not None:
            return (due,)
        for step in beginning.ready:
            if _after(beginning.hand, self.asked[step]) == beginning.hand:
                return (step,)
            kinds.setdefault(self.asked[step], step)
        return beginning.ready if every else tuple(kinds.values())

    def extend(self, beginning: _Beginning, step: int, kept: dict[tuple[int, _Hand], _Beginning]) -> None:
        """Do one more step, and keep the result if nothing cheaper leads to the same."""
        done = beginning.done | 1 << step
        hand = _after(beginning.hand, self.asked[step])
        paid = beginning.cost + _price(beginning.hand, self.asked[step])
        rival = kept.get((done, hand))
        if rival is not None and rival.cost <= paid:
            return
        ready = [item for item in beginning.ready if item != step]
        for later in self.after[step]:
            if self.needs[later] & done == self.needs[later]:
                insort(ready, later)
        kept[done, hand] = _Beginning(done, hand, paid, tuple(ready), step, beginning)


def _greedy(plan: _Plan) -> Order:  # noqa: C901 one loop, its two queues beside it
    """For very many steps: always the step that changes least, of equals the first."""
    n_open = [len(set(firsts)) for firsts in plan.before]
    kinds: dict[_Hand, list[int]] = {}
    checks: list[int] = []

    def open_up(step: int) -> None:
        heappush(checks if step in plan.at_once else kinds.setdefault(plan.asked[step], []), step)

    for step, n in enumerate(n_open):
        if n == 0:
            open_up(step)
    order: list[int] = []
    hand, paid = _NOTHING, 0
    while len(order) < len(n_open):
        if checks:
            step = heappop(checks)
        else:
            kind = min(kinds, key=lambda asked: (_price(hand, asked), kinds[asked][0]))
            step = heappop(kinds[kind])
            if not kinds[kind]:
                del kinds[kind]
            paid += _price(hand, kind)
            hand = _after(hand, kind)
        order.append(step)
        for later in plan.after[step]:
            n_open[later] -= 1
            if n_open[later] == 0:
                open_up(later)
    return Order(steps=tuple(order), cost=paid, is_proven=False)


def _asked(traits: Traits) -> _Hand:
    return (traits.assembly, traits.state, traits.tool, traits.lubricant)


def _after(hand: _Hand, asked: _Hand) -> _Hand:
    """What is in hand after a step: what it asked for, else what was there."""
    return tuple(have if want is None else want for have, want in zip(hand, asked, strict=True))


_PRICES = tuple(COSTS[name] for name in _NAMES)


def _price(hand: _Hand, asked: _Hand) -> int:
    """What the changes of one step cost."""
    total = 0
    for have, want, price in zip(hand, asked, _PRICES, strict=True):
        if want is not None and have is not None and want != have:
            total += price
    return total


def _steps(beginning: _Beginning) -> tuple[int, ...]:
    """The steps of a beginning, in order."""
    steps = []
    here: _Beginning | None = beginning
    while here is not None and here.last >= 0:
        steps.append(here.last)
        here = here.before
    return tuple(reversed(steps))
