"""Which part must be back before which: the bonds that need showing, with their reasons.

What somebody said or saw is *certain*. For the rest the order of removal stands in, marked *assumed*: what came off
later goes back earlier.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from heapq import heappop, heappush

from camerawright.journal.entries import part_key
from camerawright.journal.order import Constraint, Pair
from camerawright.journal.reached import reached
from camerawright.journal.state import Part

Bonds = Sequence[Mapping[int, Constraint]]
"""`bonds[i][j]`: part j must be back before part i, and why."""


def certain_bonds(parts: Sequence[Part], constraints: Iterable[Constraint]) -> Bonds:
    """The certain constraints between these parts, by place; the first over each pair counts."""
    index = {part.key: i for i, part in enumerate(parts)}
    certain: list[dict[int, Constraint]] = [{} for _ in parts]
    for constraint in constraints:
        first, then = (index.get(key) for key in constraint.keys)
        if constraint.certain and first is not None and then is not None and first != then:
            certain[first].setdefault(then, constraint)
    return certain


def with_screws_through(parts: Sequence[Part], certain: Bonds) -> tuple[Bonds, frozenset[Pair]]:
    """The certain bonds, and those of screws that hold two parts; then the pairs that go on as one step.

    A part whose screw goes through another one goes back after it. Where it surely goes back before, the screw waits
    for both, and says nothing of the order.
    """
    index = {part.key: i for i, part in enumerate(parts)}
    bonds: list[dict[int, Constraint]] = [dict(firsts) for firsts in certain]
    one_step = set()
    for i, part in enumerate(parts):
        for fastener in part.removed.fasteners if part.removed else ():
            j = index.get(part_key(fastener.through)) if fastener.through else None
            if j is None or j == i:
                continue
            if i in reached([j], dict(enumerate(bonds))):
                one_step.add(frozenset((part.key, parts[j].key)))
            elif j not in bonds[i]:
                reason = f"a screw of {part.name} goes through {parts[j].name}, too"
                bonds[i][j] = Constraint(first=part.name, then=parts[j].name, reason=reason)
    return bonds, frozenset(one_step)


def with_last(parts: Sequence[Part], certain: Bonds, last: Mapping[str, str]) -> Bonds:
    """The certain bonds, and those of the parts that go on last.

    Such a part goes back after every other one, but for those that certainly go over it.
    """
    late = [i for i, part in enumerate(parts) if part.key in last]
    if not late:
        return certain
    bonds = [dict(firsts) for firsts in certain]
    goes_over: dict[int, list[int]] = {}
    for i, firsts in enumerate(bonds):
        for j in firsts:
            goes_over.setdefault(j, []).append(i)
    for i in late:
        over = reached([i], goes_over)
        reason = f"{parts[i].name} goes on last: {last[parts[i].key]}"
        for j in range(len(parts)):
            if j not in over and j not in late and j not in bonds[i]:
                bonds[i][j] = Constraint(first=parts[i].name, then=parts[j].name, reason=reason, is_last=True)
                goes_over.setdefault(j, []).append(i)
    return bonds


def stable_order(before: Sequence[Collection[int]]) -> list[int] | None:
    """The topological order nearest to 0, 1, 2 ..., or None if there is a ring [kahn-1962].

    The standard library's sorter is six times as slow: to reach a part among 4,000 would take half as long again.
    """
    n_open = [len(firsts) for firsts in before]
    successors: list[list[int]] = [[] for _ in before]
    for i, firsts in enumerate(before):
        for j in firsts:
            successors[j].append(i)
    ready = [i for i, n in enumerate(n_open) if n == 0]  # sorted, so a heap
    order = []
    while ready:
        i = heappop(ready)
        order.append(i)
        for successor in successors[i]:
            n_open[successor] -= 1
            if n_open[successor] == 0:
                heappush(ready, successor)
    return order if len(order) == len(before) else None


def direct_bonds(
    parts: Sequence[Part], certain: Bonds, order: Sequence[int], free: Sequence[int]
) -> dict[int, tuple[Constraint, ...]]:
    """The bonds of each part that no other bonds imply.

    Parameters
    ----------
    parts
        Those that are off, the last to come off first.
    certain
        As `certain_bonds` gives them.
    order
        A topological order of `certain`.
    free
        For each place in `order` those for which the order of removal is no reason: bit k is the k-th of `order`.

    Notes
    -----
    A pair is bound by assumption if `order` and the order of `parts` agree on it: all bonds then run along `order`, so
    they cannot form a ring. A certain bond is shown even where an assumed detour implies it: the detour may be taken
    back. A part that goes on last waits for all the others; shown are its bonds with the last of them.

    This is a transitive reduction of nearly complete graphs, with a set of parts as the bits of one integer: bit k is
    the k-th part of `order`. networkx's `transitive_reduction` takes 1.0 s for 400 parts half of which are free of
    each other; the whole way back takes 0.03 s so (`benchmarks/refit.py`).
    """
    place = {i: k for k, i in enumerate(order)}
    smaller = _came_off_later(order)
    above = [0] * len(parts)  # everything that must be back before, by place
    above_surely = [0] * len(parts)  # the same by certain reasons alone
    direct: dict[int, tuple[Constraint, ...]] = {}
    for k, i in enumerate(order):
        sure, above_surely[k] = _reduced(sum(1 << place[j] for j in certain[i]), above_surely)
        implied = 0
        for latest in sure:
            implied |= above[latest] | (1 << latest)
        assumed, covered = _reduced(((1 << k) - 1) & smaller[i] & ~free[k] & ~implied, above)
        above[k] = covered | implied
        shown = [each for each in sure if not (certain[i][order[each]].is_last and _is_implied(each, sure, above))]
        firsts = [order[latest] for latest in (*shown, *assumed)]
        direct[i] = tuple(certain[i].get(j) or _assumed(parts[i], parts[j]) for j in firsts)
    return direct


def _is_implied(bond: int, bonds: Sequence[int], above: Sequence[int]) -> bool:
    """Whether another one of these bonds leads to the same part."""
    return any(above[other] >> bond & 1 for other in bonds if other != bond)


def _came_off_later(order: Sequence[int]) -> list[int]:
    """For each part the bits of those with a smaller index."""
    bits = [0] * len(order)
    for k, i in enumerate(order):
        bits[i] = 1 << k
    smaller, earlier = [], 0
    for bit in bits:
        smaller.append(earlier)
        earlier |= bit
    return smaller


def _reduced(candidates: int, above: Sequence[int]) -> tuple[list[int], int]:
    """The latest of the candidates that do not imply each other, and everything they imply."""
    bonds = []
    covered = 0
    while rest := candidates & ~covered:
        latest = rest.bit_length() - 1
        bonds.append(latest)
        covered |= above[latest] | (1 << latest)
    return bonds, covered


def _assumed(part: Part, back_first: Part) -> Constraint:
    """The order of removal as a reason."""
    return Constraint(
        first=part.name, then=back_first.name, reason=f"{part.name} came off before {back_first.name}", certain=False
    )
