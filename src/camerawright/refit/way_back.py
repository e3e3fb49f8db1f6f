"""The way back together: an order of refit in which nothing has to come off again.

An assumed reason (`bonds`) yields where it opposes a certain one, where the two parts were declared independent, where
two strip-downs of the variant disagree, and where one of them lies in a sub-assembly on the bench (`freedom`).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime

from camerawright.journal.entries import HoldPoint, part_key
from camerawright.journal.order import Constraint, OrderFacts, Pair, contradiction, spread
from camerawright.journal.reached import reached
from camerawright.journal.state import Part
from camerawright.refit.bonds import certain_bonds, direct_bonds, stable_order, with_last, with_screws_through
from camerawright.refit.freedom import Freedom, apart, built_in, in_which
from camerawright.refit.hold_points import Beneath, OnTheCamera, Placed, placed
from camerawright.refit.sequence import Order, Traits, best_order
from camerawright.trouble import Troubled

LATEST = datetime.max.replace(tzinfo=UTC)


class Contradiction(Troubled):
    """The certain constraints cannot all be true; `ring` is the shortest set that clashes."""

    def __init__(self, ring: tuple[Constraint, ...]) -> None:
        self.ring = ring
        chain = "; ".join(f"{c.first} comes off before {c.then} ({c.reason})" for c in ring)
        super().__init__(f"these cannot all be true: {chain}", "correct the one that is wrong")


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
    home: Mapping[str, str] = field(default_factory=dict)  # the part that each is built into on the bench, by key
    curing: Mapping[str, str] = field(default_factory=dict)  # why a part waits for what cures beneath it, by its key
    one_step: frozenset[Pair] = frozenset()  # parts that one screw holds, and that surely go on in the other order

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


ON_THE_CAMERA = "rest of the camera"
"""Where a part goes that belongs to no sub-assembly, while another one is built on the bench."""


def traits(part: Part, home: str | None = None, elsewhere: str | None = None) -> Traits:
    """What refitting a part asks for, as far as the journal says.

    Parameters
    ----------
    home
        The part that it is built into on the bench, by key.
    elsewhere
        What counts as its sub-assembly if nobody named one.
    """
    removed = part.removed
    tool = None
    if removed:
        tool = removed.tool or (removed.fasteners[0].size if removed.fasteners else None)
    states = [need for need in part.needs if need.moves in {"refit", "both"}]
    lubricants = [entry.lubricant for entry in part.lubricated if entry.amount != "dry" and entry.lubricant]
    return Traits(
        assembly=home or (part_key(removed.assembly) if removed and removed.assembly else elsewhere),
        state=", ".join(f"{what} {how}" for need in states for what, how in need.settings.items()) or None,
        tool=part_key(tool) if tool else None,
        lubricant=part_key(lubricants[-1]) if lubricants else None,
    )


def way_back(
    off: Sequence[Part],
    facts: OrderFacts,
    *,
    now: datetime = LATEST,
    later: Mapping[str, str] | None = None,
    holds: Sequence[HoldPoint] = (),
    back: Sequence[Part] = (),
) -> WayBack:
    """Order the refit of everything that is off.

    Parameters
    ----------
    off
        The parts, in the order in which they came off.
    facts
        What is known of the order, by this journal and by earlier ones.
    now
        When: a wait that has an end is over after it.
    later
        Why a part, by its key, or a check, by its id, has to wait for a day to come.
    holds
        Checks that nobody has passed yet.
    back
        Parts that came off and are back: a check that needs one of them still bars what goes over it, and so does one
        that cures in place.

    Raises
    ------
    Contradiction
        If the certain constraints form a ring.

    Notes
    -----
    A stable topological sort (`bonds.stable_order`) gives one linear order that keeps every certain constraint;
    `bonds.direct_bonds` adds what is assumed and leaves out what other bonds imply. Of the orders that keep all bonds,
    `sequence` picks one with few changes of sub-assembly, state, tool and lubricant, and `hold_points` puts each check
    where it costs least.
    """
    parts = list(reversed(off))
    freedom = Freedom(facts=facts)
    home = in_which([part.key for part in off], freedom)
    constraints = spread(facts.constraints, facts.groups)
    names = {part.key: part.name for part in parts}
    certain, one_step = with_screws_through(parts, certain_bonds(parts, (*constraints, *built_in(home, names))))
    certain = with_last(parts, certain, facts.last)
    stable = stable_order(certain)
    if stable is None:
        raise Contradiction(contradiction(why for bonds in certain for why in bonds.values()))
    keys = [parts[i].key for i in stable]
    free = [a | b for a, b in zip(freedom.bits(keys), apart(keys, home, facts.groups), strict=True)]
    after = direct_bonds(parts, certain, stable, free)
    index = {part.key: i for i, part in enumerate(parts)}
    before = [[index[bond.keys[1]] for bond in after[i]] for i in range(len(parts))]
    curing = _beneath_what_cures(back, constraints, now)
    later = {**curing, **(later or {})}
    surely = [list(firsts) for firsts in certain] if later else []
    checks = placed(
        holds, parts, Beneath(before, surely), on=OnTheCamera(back, constraints, freedom, home), later=later
    )
    walk = _Walk(parts, after, checks, now, later)
    best = _with_checks(parts, before, checks, home)
    for step in best.steps:
        walk.take(step)
    return WayBack(
        steps=tuple(walk.steps),
        waiting=tuple(walk.waiting),
        checks=tuple(walk.checks()),
        is_proven=best.is_proven,
        home=home,
        curing=curing,
        one_step=one_step,
    )


def _beneath_what_cures(back: Sequence[Part], constraints: Sequence[Constraint], now: datetime) -> dict[str, str]:
    """Why each part waits that certainly covers one that still cures in place, by its key. No other part waits."""
    curing = [part for part in back if part.awaiting and part.awaiting.lasts(now)]
    if not curing:
        return {}
    covers: dict[str, list[str]] = {}
    for constraint in constraints:
        if constraint.certain:
            covers.setdefault(constraint.keys[1], []).append(constraint.keys[0])
    return {
        key: f"{part.name} must wait: {part.awaiting.awaiting}"
        for part in curing
        if part.awaiting
        for key in reached([part.key], covers)
    }


def _with_checks(
    parts: list[Part], before: list[list[int]], checks: Sequence[Placed], home: Mapping[str, str]
) -> Order:
    """The best order of parts and checks; a check is a step that asks for nothing and is done at once."""
    n = len(parts)
    steps = [list(firsts) for firsts in before] + [list(check.follows) for check in checks]
    for i_check, check in enumerate(checks):
        for barred in check.bars:
            steps[barred].append(n + i_check)
    elsewhere = ON_THE_CAMERA if home else None
    asked = [*(traits(part, home.get(part.key), elsewhere) for part in parts), *(Traits() for _ in checks)]
    return best_order(steps, asked, at_once=frozenset(range(n, n + len(checks))))


class _Walk:
    """The best order walked once: what can go on now, what waits, and what is back when each check is due."""

    def __init__(
        self,
        parts: Sequence[Part],
        after: Mapping[int, Sequence[Constraint]],
        checks: Sequence[Placed],
        now: datetime,
        later: Mapping[str, str],
    ) -> None:
        self._parts, self._after, self._checks, self._now, self._later = parts, after, checks, now, later
        self._back: list[int] = []
        self._held: set[str] = set()  # keys of the parts that wait
        self._due: list[tuple[Placed, frozenset[int], int, bool]] = []  # check, back by then, steps before it, waits
        self.steps: list[Step] = []
        self.waiting: list[Waiting] = []

    def take(self, i: int) -> None:
        """The next part or check of the order."""
        if i >= len(self._parts):
            self._take_check(self._checks[i - len(self._parts)])
        else:
            self._take_part(i, self._parts[i], tuple(self._after[i]))

    def _take_check(self, check: Placed) -> None:
        is_waiting = check.hold.id in self._later or any(self._parts[need].key in self._held for need in check.follows)
        self._due.append((check, frozenset(self._back), len(self.steps), is_waiting))

    def _take_part(self, i: int, part: Part, after: tuple[Constraint, ...]) -> None:
        barred = [bond for bond in after if bond.keys[1] in self._held]
        stuck = [
            self._later.get(check.hold.id) or self._why_it_cannot_be_checked(check)
            for check, _, _, is_waiting in self._due
            if is_waiting and i in check.bars
        ]
        awaiting = part.waits(self._now)
        waits_for = awaiting.awaiting if awaiting else self._later.get(part.key)
        if waits_for or barred or stuck:
            self._held.add(part.key)
            self.waiting.append(Waiting(part=part, reason=_why_it_waits(waits_for, barred, stuck), after=after))
        else:
            self.steps.append(Step(part=part, after=after))
            self._back.append(i)

    def _why_it_cannot_be_checked(self, check: Placed) -> str:
        needs = [self._parts[need].name for need in check.follows if self._parts[need].key in self._held]
        return f"{check.hold.check}" + (f", which needs {' and '.join(needs)} in place" if needs else "")

    def checks(self) -> Iterator[Check]:
        """The checks in the order in which they are due."""
        for check, back, n_before, is_waiting in self._due:
            yield Check(
                hold=check.hold,
                before=self.steps[n_before].part if n_before < len(self.steps) else None,
                n_off_now=len(check.over & back),
                n_off_last=len(check.over),
                bars=tuple(self._parts[i] for i in check.bars),
                is_waiting=is_waiting,
            )


def _why_it_waits(waits_for: str | None, barred: list[Constraint], stuck: list[str]) -> str:
    """In words."""
    if waits_for:
        return waits_for
    if barred:
        return f"{', '.join(bond.then for bond in barred)} must be back first"
    return f"check first: {'; '.join(stuck)}"
