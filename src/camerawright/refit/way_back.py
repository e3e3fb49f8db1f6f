"""The way back together: an order of refit in which nothing has to come off again.

Two kinds of reason bind two parts. What somebody said or saw is *certain*. For the rest the order of removal stands in,
marked *assumed*: what came off later goes back earlier. An assumed reason yields where it opposes a certain one, where
the two parts were declared independent, and where two strip-downs of the variant disagree.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush

from camerawright.journal.order import Constraint, Pair, contradiction
from camerawright.journal.state import Part


class Contradiction(Exception):
    """The certain constraints cannot all hold; `ring` is the shortest set that clashes."""

    def __init__(self, ring: tuple[Constraint, ...]) -> None:
        self.ring = ring
        chain = "; ".join(f"{c.first} comes off before {c.then} ({c.reason})" for c in ring)
        super().__init__(f"these cannot all hold: {chain}. Correct the one that is wrong")


@dataclass(frozen=True, kw_only=True)
class Step:
    """A part to go back, and what must be back before it, with the reasons. Only direct ones: no detours."""

    part: Part
    after: tuple[Constraint, ...]  # `then` of each is the part that must be back first


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """A part that cannot go back yet: it waits itself, or a part waits that must be back before it."""

    part: Part
    reason: str
    after: tuple[Constraint, ...]


@dataclass(frozen=True, kw_only=True)
class WayBack:
    """Every part that is off, in `steps` or in `waiting`."""

    steps: tuple[Step, ...]
    waiting: tuple[Waiting, ...]

    @property
    def back_first(self) -> dict[str, tuple[Constraint, ...]]:
        """What bars each part now, by part key: exactly the parts still off that must be back before it."""
        items: tuple[Step | Waiting, ...] = (*self.steps, *self.waiting)
        return {item.part.key: item.after for item in items if item.after}


def way_back(off: Sequence[Part], constraints: Iterable[Constraint], *, free: frozenset[Pair] = frozenset()) -> WayBack:
    """Order the refit of everything that is off.

    Parameters
    ----------
    off
        The parts, in the order in which they came off.
    constraints
        Certain reasons, of this journal and of earlier ones; those about parts that are not off do not matter.
    free
        Pairs for which the order of removal is no reason.

    Raises
    ------
    Contradiction
        If the certain constraints form a ring.

    Notes
    -----
    A stable topological sort (Kahn 1962, with the reverse of the removal order as priority) gives one linear order T
    that keeps every certain constraint. A pair is bound by assumption if T and the reverse removal order agree on it:
    all bonds then run along T, so they cannot form a ring. Bonds implied by others are left out (transitive
    reduction), with sets of parts as the bits of one integer.
    """
    parts = list(reversed(off))
    index = {part.key: i for i, part in enumerate(parts)}
    certain: list[dict[int, Constraint]] = [{} for _ in parts]  # certain[i][j]: j must be back before i
    for constraint in constraints:
        first, then = (index.get(key) for key in constraint.keys)
        if constraint.certain and first is not None and then is not None and first != then:
            certain[first].setdefault(then, constraint)
    order = _stable_order(certain)
    if order is None:
        raise Contradiction(contradiction(c for bonds in certain for c in bonds.values()))
    after = _direct_bonds(parts, certain, order, free)
    return _split([(parts[i], after[i]) for i in order])


def _stable_order(certain: list[dict[int, Constraint]]) -> list[int] | None:
    """The topological order nearest to 0, 1, 2 ..., or None if there is a ring."""
    n_open = [len(bonds) for bonds in certain]
    successors: list[list[int]] = [[] for _ in certain]
    for i, bonds in enumerate(certain):
        for j in bonds:
            successors[j].append(i)
    ready = [i for i, n in enumerate(n_open) if n == 0]
    order = []
    while ready:
        i = heappop(ready)
        order.append(i)
        for successor in successors[i]:
            n_open[successor] -= 1
            if n_open[successor] == 0:
                heappush(ready, successor)
    return order if len(order) == len(certain) else None


def _direct_bonds(
    parts: list[Part], certain: list[dict[int, Constraint]], order: list[int], free: frozenset[Pair]
) -> dict[int, tuple[Constraint, ...]]:
    """The bonds of each part that no others imply. Bit k of a set is the k-th part of `order`."""
    place = {i: k for k, i in enumerate(order)}
    partners: dict[str, set[str]] = {}
    for pair in free:
        for key in pair:
            partners.setdefault(key, set()).update(pair - {key})
    index = {part.key: i for i, part in enumerate(parts)}
    earlier = 0  # bits of the parts with a smaller index than i, gathered in a second pass
    smaller = [0] * len(parts)
    for i in range(len(parts)):
        smaller[i] = earlier
        earlier |= 1 << place[i]
    above = [0] * len(parts)  # everything that must be back before, by place
    above_surely = [0] * len(parts)  # the same by certain reasons alone
    direct: dict[int, tuple[Constraint, ...]] = {}
    for k, i in enumerate(order):
        loose = sum(1 << place[index[key]] for key in partners.get(parts[i].key, ()) if key in index)
        sure, above_surely[k] = _reduced(sum(1 << place[j] for j in certain[i]), above_surely)
        # A certain bond is shown even where an assumed detour implies it: the detour may be taken back.
        implied = 0
        for latest in sure:
            implied |= above[latest] | (1 << latest)
        assumed, covered = _reduced(((1 << k) - 1) & smaller[i] & ~loose & ~implied, above)
        above[k] = covered | implied
        direct[i] = tuple(
            certain[i].get(order[latest]) or _assumed(parts[i], parts[order[latest]]) for latest in (*sure, *assumed)
        )
    return direct


def _reduced(candidates: int, above: list[int]) -> tuple[list[int], int]:
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


def _split(ordered: list[tuple[Part, tuple[Constraint, ...]]]) -> WayBack:
    """What can go on now, and what waits."""
    steps: list[Step] = []
    waiting: list[Waiting] = []
    held: set[str] = set()
    for part, after in ordered:
        barred = [bond for bond in after if bond.keys[1] in held]
        if part.awaiting or barred:
            held.add(part.key)
            reason = part.awaiting or f"{', '.join(bond.then for bond in barred)} must be back first"
            waiting.append(Waiting(part=part, reason=reason, after=after))
        else:
            steps.append(Step(part=part, after=after))
    return WayBack(steps=tuple(steps), waiting=tuple(waiting))
