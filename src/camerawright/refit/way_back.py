"""The way back together: an order of refit in which nothing has to come off again.

Two kinds of reason bind two parts. What somebody said or saw is *certain*. For the rest the order of removal stands in,
marked *assumed*: what came off later goes back earlier. An assumed reason yields where it opposes a certain one, where
the two parts were declared independent, and where two strip-downs of the variant disagree.
"""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from heapq import heappop, heappush

from camerawright.journal.entries import Awaited, HoldPoint, part_key
from camerawright.journal.order import Constraint, Pair, contradiction
from camerawright.journal.state import Part
from camerawright.refit.holds import Placed, placed
from camerawright.refit.sequence import Order, Traits, best_order
from camerawright.trouble import Troubled

LATEST = datetime.max.replace(tzinfo=UTC)


class Contradiction(Troubled):
    """The certain constraints cannot all hold; `ring` is the shortest set that clashes."""

    def __init__(self, ring: tuple[Constraint, ...]) -> None:
        self.ring = ring
        chain = "; ".join(f"{c.first} comes off before {c.then} ({c.reason})" for c in ring)
        super().__init__(f"these cannot all hold: {chain}", "correct the one that is wrong")


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
class Check:
    """A hold point in its place.

    `before` is the part that goes back next, None if nothing does. A failure there costs `n_off_now` parts that come
    off again; had the check been left to the end it would have cost `n_off_last`.
    """

    hold: HoldPoint
    before: Part | None
    n_off_now: int
    n_off_last: int
    bars: tuple[Part, ...]
    is_waiting: bool = False


@dataclass(frozen=True, kw_only=True)
class WayBack:
    """Every part that is off, in `steps` or in `waiting`; and every open check."""

    steps: tuple[Step, ...]
    waiting: tuple[Waiting, ...]
    checks: tuple[Check, ...] = ()
    is_proven: bool = True  # no allowed order is known to need fewer changes

    @property
    def back_first(self) -> dict[str, tuple[Constraint, ...]]:
        """What bars each part now, by part key: exactly the parts still off that must be back before it."""
        items: tuple[Step | Waiting, ...] = (*self.steps, *self.waiting)
        return {item.part.key: item.after for item in items if item.after}

    @property
    def checks_first(self) -> dict[str, tuple[HoldPoint, ...]]:
        """The checks that bar a part, by part key."""
        barring: dict[str, tuple[HoldPoint, ...]] = {}
        for check in self.checks:
            for part in check.bars:
                barring[part.key] = (*barring.get(part.key, ()), check.hold)
        return barring


def traits(part: Part) -> Traits:
    """What refitting a part asks for, as far as the journal says."""
    removed = part.removed
    tool = None
    if removed:
        tool = removed.tool or (removed.fasteners[0].size if removed.fasteners else None)
    states = [need for need in part.needs if need.moves in {"refit", "both"}]
    lubricants = [entry.lubricant for entry in part.lubricated if entry.amount != "dry" and entry.lubricant]
    return Traits(
        assembly=part_key(removed.assembly) if removed and removed.assembly else None,
        state=", ".join(f"{what} {how}" for need in states for what, how in need.settings.items()) or None,
        tool=part_key(tool) if tool else None,
        lubricant=part_key(lubricants[-1]) if lubricants else None,
    )


def way_back(
    off: Sequence[Part],
    constraints: Iterable[Constraint],
    *,
    free: frozenset[Pair] = frozenset(),
    now: datetime = LATEST,
    holds: Sequence[HoldPoint] = (),
    back: Sequence[Part] = (),
) -> WayBack:
    """Order the refit of everything that is off.

    Parameters
    ----------
    off
        The parts, in the order in which they came off.
    constraints
        Certain reasons, of this journal and of earlier ones; those about parts that are not off do not matter.
    free
        Pairs for which the order of removal is no reason.
    now
        When: a wait that has an end is over after it.
    holds
        Checks that nobody has passed yet.
    back
        Parts that came off and are back: a check that needs one of them still bars what goes over it.

    Raises
    ------
    Contradiction
        If the certain constraints form a ring.

    Notes
    -----
    A stable topological sort (Kahn 1962, with the reverse of the removal order as priority) gives one linear order T
    that keeps every certain constraint. A pair is bound by assumption if T and the reverse removal order agree on it:
    all bonds then run along T, so they cannot form a ring. Bonds implied by others are left out (transitive
    reduction), with sets of parts as the bits of one integer. Of the orders that keep all bonds, `sequence` picks one
    with few changes of sub-assembly, state, tool and lubricant, and `holds` puts each check where it costs least.
    """
    parts = list(reversed(off))
    index = {part.key: i for i, part in enumerate(parts)}
    certain: list[dict[int, Constraint]] = [{} for _ in parts]  # certain[i][j]: j must be back before i
    surely = [constraint for constraint in constraints if constraint.certain]
    for constraint in surely:
        first, then = (index.get(key) for key in constraint.keys)
        if first is not None and then is not None and first != then:
            certain[first].setdefault(then, constraint)
    stable = stable_order(certain)
    if stable is None:
        raise Contradiction(contradiction(c for bonds in certain for c in bonds.values()))
    after = _direct_bonds(parts, certain, stable, free)
    before = [[index[bond.keys[1]] for bond in after[i]] for i in range(len(parts))]
    checks = placed(holds, parts, before, _over_what_is_on(holds, parts, back, surely, free)) if holds else ()
    best = _with_checks(parts, before, checks)
    return _laid_out(parts, after, best, checks, now)


def _over_what_is_on(
    holds: Sequence[HoldPoint],
    parts: Sequence[Part],
    back: Sequence[Part],
    surely: Sequence[Constraint],
    free: frozenset[Pair],
) -> dict[str, set[int]]:
    """By key of a needed part that is on: which parts that are off go over it, surely or by the order of removal."""
    index = {part.key: i for i, part in enumerate(parts)}
    covers: dict[str, list[str]] = {}
    lies_on: dict[str, list[str]] = {}
    for first, then in (constraint.keys for constraint in surely):
        covers.setdefault(then, []).append(first)
        lies_on.setdefault(first, []).append(then)
    came_off = {part.key: part.n_removal for part in back}
    over_on = {}
    for key in {part_key(need) for hold in holds for need in hold.needs} - set(index):
        over = _reached(key, covers)
        beneath = _reached(key, lies_on)
        over |= {
            part.key
            for part in parts
            if part.n_removal < came_off.get(key, -1)
            and part.key not in beneath
            and frozenset((part.key, key)) not in free
        }
        over_on[key] = {index[cover] for cover in over if cover in index}
    return over_on


def _reached(key: str, neighbours: Mapping[str, Sequence[str]]) -> set[str]:
    """Everything that lies over a part, over what covers it, and so on; or beneath."""
    seen: set[str] = set()
    stack = [key]
    while stack:
        for neighbour in neighbours.get(stack.pop(), ()):
            if neighbour not in seen:
                seen.add(neighbour)
                stack.append(neighbour)
    return seen


def _with_checks(parts: list[Part], before: list[list[int]], checks: Sequence[Placed]) -> Order:
    """The best order of parts and checks; a check is a step that asks for nothing and is done at once."""
    n = len(parts)
    steps = [list(firsts) for firsts in before] + [list(check.follows) for check in checks]
    for i_check, check in enumerate(checks):
        for barred in check.bars:
            steps[barred].append(n + i_check)
    asked = [*(traits(part) for part in parts), *(Traits() for _ in checks)]
    return best_order(steps, asked, at_once=frozenset(range(n, n + len(checks))))


def stable_order(before: Sequence[Collection[int]]) -> list[int] | None:
    """The topological order nearest to 0, 1, 2 ..., or None if there is a ring (Kahn, CACM 5 (1962) 558)."""
    n_open = [len(firsts) for firsts in before]
    successors: list[list[int]] = [[] for _ in before]
    for i, firsts in enumerate(before):
        for j in firsts:
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
    return order if len(order) == len(before) else None


def _direct_bonds(
    parts: list[Part], certain: list[dict[int, Constraint]], order: list[int], free: frozenset[Pair]
) -> dict[int, tuple[Constraint, ...]]:
    """The bonds of each part that no others imply. Bit k of a set is the k-th part of `order`."""
    place = {i: k for k, i in enumerate(order)}
    bits = [1 << place[i] for i in range(len(parts))]
    loose = _partners(parts, bits, free)
    earlier = 0  # bits of the parts with a smaller index than i, gathered in a second pass
    smaller = [0] * len(parts)
    for i in range(len(parts)):
        smaller[i] = earlier
        earlier |= bits[i]
    above = [0] * len(parts)  # everything that must be back before, by place
    above_surely = [0] * len(parts)  # the same by certain reasons alone
    direct: dict[int, tuple[Constraint, ...]] = {}
    for k, i in enumerate(order):
        sure, above_surely[k] = _reduced(sum(bits[j] for j in certain[i]), above_surely)
        # A certain bond is shown even where an assumed detour implies it: the detour may be taken back.
        implied = 0
        for latest in sure:
            implied |= above[latest] | (1 << latest)
        assumed, covered = _reduced(((1 << k) - 1) & smaller[i] & ~loose[i] & ~implied, above)
        above[k] = covered | implied
        direct[i] = tuple(
            certain[i].get(order[latest]) or _assumed(parts[i], parts[order[latest]]) for latest in (*sure, *assumed)
        )
    return direct


def _partners(parts: list[Part], bits: list[int], free: frozenset[Pair]) -> list[int]:
    """For each part the set of those that the order of removal does not bind it to."""
    index = {part.key: i for i, part in enumerate(parts)}
    loose = [0] * len(parts)
    for pair in free:
        known = [index[key] for key in pair if key in index]
        if len(known) == 2:
            i, j = known
            loose[i] |= bits[j]
            loose[j] |= bits[i]
    return loose


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


def _laid_out(
    parts: list[Part], after: dict[int, tuple[Constraint, ...]], best: Order, checks: Sequence[Placed], now: datetime
) -> WayBack:
    """What can go on now, in order, and what waits."""
    steps: list[Step] = []
    waiting: list[Waiting] = []
    found: list[tuple[Placed, list[int], int, bool]] = []  # check, parts back by then, steps before it, waits
    held_parts: set[str] = set()
    held_checks: list[Placed] = []
    back: list[int] = []
    for i in best.steps:
        if i >= len(parts):
            check = checks[i - len(parts)]
            waits_too = any(parts[need].key in held_parts for need in check.follows)
            found.append((check, list(back), len(steps), waits_too))
            held_checks += [check] if waits_too else []
            continue
        part = parts[i]
        barred = [bond for bond in after[i] if bond.keys[1] in held_parts]
        stuck = [check.hold.check for check in held_checks if i in check.bars]
        awaiting = part.awaiting if part.awaiting and part.awaiting.lasts(now) else None
        if awaiting or barred or stuck:
            held_parts.add(part.key)
            waiting.append(Waiting(part=part, reason=_why_it_waits(awaiting, barred, stuck), after=after[i]))
        else:
            steps.append(Step(part=part, after=after[i]))
            back.append(i)
    return WayBack(
        steps=tuple(steps),
        waiting=tuple(waiting),
        checks=tuple(
            Check(
                hold=check.hold,
                before=steps[n_before].part if n_before < len(steps) else None,
                n_off_now=len(check.over.intersection(done)),
                n_off_last=len(check.over),
                bars=tuple(parts[i] for i in check.bars),
                is_waiting=waits_too,
            )
            for check, done, n_before, waits_too in found
        ),
        is_proven=best.is_proven,
    )


def _why_it_waits(awaiting: Awaited | None, barred: list[Constraint], stuck: list[str]) -> str:
    """In words."""
    if awaiting:
        return awaiting.awaiting
    if barred:
        return f"{', '.join(bond.then for bond in barred)} must be back first"
    return f"this must be checked first: {'; '.join(stuck)}"
