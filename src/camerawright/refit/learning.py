"""What earlier strip-downs of a variant taught: order, hazards, marks, hardware and times."""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache
from itertools import chain
from statistics import fmean, median

from camerawright.journal.entries import Lubricated, Removed
from camerawright.journal.groups import Groups
from camerawright.journal.joints import Joint
from camerawright.journal.order import Constraint, OrderFacts, Pair, joined, spread
from camerawright.journal.reached import reached
from camerawright.journal.state import State
from camerawright.refit.bonds import stable_order
from camerawright.refit.freedom import Freedom, built_in, in_which
from camerawright.refit.lesson import Lesson, PartLesson, lesson


@dataclass(frozen=True, kw_only=True)
class Usual:
    """One kind of screw, shim or loose part of a joint: how many came out in each job that recorded any."""

    joint: Joint
    counts: tuple[int, ...]

    @property
    def differs(self) -> bool:
        """Whether two bodies disagree."""
        return len(set(self.counts)) > 1


@dataclass(frozen=True, kw_only=True)
class PartLore:
    """What is known of one part of a variant. `carried_from` names the sister variant it was seen on, if only there."""

    key: str
    name: str
    n_jobs: int
    marks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    escapes: bool = False
    frees: tuple[str, ...] = ()
    shims: tuple[str, ...] = ()
    hardware: tuple[Usual, ...] = ()
    loosened: tuple[str, ...] = ()  # screws that were loosened and stayed in it
    reminders: tuple[str, ...] = ()
    lubricated: tuple[Lubricated, ...] = ()
    irreplaceable: str | None = None
    minutes: tuple[float, ...] = ()  # hands-on time of each recorded removal [min]
    last: Removed | None = None
    material: str | None = None
    finish: str | None = None
    carried_from: str | None = None

    @property
    def median_minutes(self) -> float | None:
        """The middle of the recorded times, if there are any. [min]"""
        return median(self.minutes) if self.minutes else None


@dataclass(frozen=True, kw_only=True, eq=False)
class Sequences:
    """In which order parts came off, job by job; `orders` has the numbers of the parts in `keys`, each part once.

    `on_again` has, by key, the parts that were on when a part came off in some job, though they had been off before.
    """

    keys: tuple[str, ...]
    orders: tuple[tuple[int, ...], ...]
    on_again: Mapping[str, frozenset[str]] = field(default_factory=dict)

    @cached_property
    def index(self) -> dict[str, int]:
        """The number of each part."""
        return {key: i for i, key in enumerate(self.keys)}

    def off_each_time(self, key: str, others: int = -1) -> frozenset[str]:
        """The parts that were off whenever this one came off, of all or of a set. What never came off was on."""
        off = self._always_before[self.index[key]] & others
        return frozenset(self.keys[i] for i in _numbers(off)) - self.on_again.get(key, frozenset())

    def set_of(self, keys: Iterable[str]) -> int:
        """The set of those of these parts that came off, for `off_each_time`."""
        return sum(1 << self.index[key] for key in {*keys} if key in self.index)

    def both_orders(self) -> frozenset[Pair]:
        """Pairs that came off in one order here and in the other there."""
        sides = zip(self._ever_before, self._ever_after, strict=True)
        return frozenset(self._pair(i, j) for i, (before, after) in enumerate(sides) for j in _numbers(before & after))

    def in_the_other_order(self, came_off: Sequence[str]) -> frozenset[Pair]:
        """Pairs that came off in this order now and in the other one in some job."""
        found, later = set(), 0
        for i in reversed([self.index[key] for key in came_off if key in self.index]):
            found |= {self._pair(i, j) for j in _numbers(self._ever_before[i] & later)}
            later |= 1 << i
        return frozenset(found)

    # A set of parts is a whole number in which bit i stands for part i: so 4,000 parts take a moment.

    @cached_property
    def _always_before(self) -> list[int]:
        """Which parts were off in every job in which each part came off."""
        found = [(1 << len(self.keys)) - 1] * len(self.keys)
        for order in self.orders:
            off = 0
            for i in order:
                found[i] &= off
                off |= 1 << i
        return found

    @cached_property
    def _ever_before(self) -> list[int]:
        """Which parts came off before each part in some job."""
        return self._off_earlier(self.orders)

    @cached_property
    def _ever_after(self) -> list[int]:
        """Which parts came off after each part in some job."""
        return self._off_earlier(order[::-1] for order in self.orders)

    def _off_earlier(self, orders: Iterable[tuple[int, ...]]) -> list[int]:
        found = [0] * len(self.keys)
        for order in orders:
            off = 0
            for i in order:
                found[i] |= off
                off |= 1 << i
        return found

    def _pair(self, a: int, b: int) -> Pair:
        return frozenset((self.keys[a], self.keys[b]))


def _numbers(parts: int) -> Iterator[int]:
    """The numbers of the parts in a set of parts."""
    while parts:
        lowest = parts & -parts
        yield lowest.bit_length() - 1
        parts ^= lowest


@dataclass(frozen=True, kw_only=True)
class Lore:
    """What is known of a variant, and from which jobs."""

    jobs: tuple[str, ...] = ()
    parts: Mapping[str, PartLore] = field(default_factory=dict)
    order: tuple[str, ...] = ()  # part keys, as they are expected to come off
    sequences: Sequences
    constraints: tuple[Constraint, ...] = ()
    free: frozenset[Pair] = frozenset()
    groups: Groups = field(default_factory=Groups)
    last: Mapping[str, str] = field(default_factory=dict)  # why a part goes on last, by its key

    @property
    def facts(self) -> OrderFacts:
        """What is known of the order."""
        return OrderFacts(constraints=self.constraints, free=self.free, groups=self.groups, last=self.last)

    def expected_next(self, state: State) -> PartLore | None:
        """The first part of the expected order that this camera has not had off yet."""
        touched = {part.key for part in state.parts.values() if part.removed is not None}
        return next((self.parts[key] for key in self.order if key not in touched), None)

    def always_before(self, keys: Sequence[str], among: Iterable[str], here: Sequences | None = None) -> dict[str, str]:
        """Which of `among` were off each time that one of some parts came off, each with the first such part.

        Left out are those that are known to be free of it, those that surely come off after it, and those that were on
        when it came off `here`. Of a part that came out of another one on the bench, only that one and what else is in
        it count. Part by part: so 4,000 parts take milliseconds.
        """
        index = self.sequences.index
        rest = self.sequences.set_of(among)
        found: dict[str, str] = {}
        for key in keys:
            if key not in index or not rest:
                continue
            off = self.sequences.off_each_time(key, rest)
            if off and here is not None and key in here.index:
                off &= here.off_each_time(key)
            if key in self.home:
                off &= self.groups.members(self.home[key])
            after = reached([key], self.thens) if off else set()
            new = [other for other in off - after if not self.freedom.has(other, key)]
            if new:
                found |= dict.fromkeys(new, key)
                rest &= ~self.sequences.set_of(new)
        return found

    @cached_property
    def freedom(self) -> Freedom:
        """Which parts are free of each other."""
        return Freedom(facts=self.facts)

    @cached_property
    def home(self) -> dict[str, str]:
        """The part that each came out of on the bench, by key."""
        return in_which(self.order, self.freedom)

    @cached_property
    def place(self) -> dict[str, int]:
        """Where in the expected order each part comes off."""
        return {key: i for i, key in enumerate(self.order)}

    @cached_property
    def firsts(self) -> dict[str, dict[str, Constraint]]:
        """What certainly comes off before each part, with the reason."""
        firsts: dict[str, dict[str, Constraint]] = {}
        names = {key: part.name for key, part in self.parts.items()}
        for constraint in (*spread(self.constraints, self.groups), *built_in(self.home, names)):
            if constraint.certain:
                first, then = constraint.keys
                firsts.setdefault(then, {}).setdefault(first, constraint)
        return firsts

    @cached_property
    def thens(self) -> dict[str, list[str]]:
        """What certainly comes off after each part."""
        thens: dict[str, list[str]] = {}
        for then, firsts in self.firsts.items():
            for first in firsts:
                thens.setdefault(first, []).append(then)
        return thens

    @cached_property
    def relative_variance(self) -> float | None:
        """The mean relative variance of the times of those parts that came off more than once."""
        scatters = [variance(p.minutes) / fmean(p.minutes) ** 2 for p in self.parts.values() if len(p.minutes) > 1]
        return fmean(scatters) if scatters else None


def learned(journals: Sequence[tuple[str, State]]) -> Lore:
    """Add up the journals of a variant.

    Parameters
    ----------
    journals
        Job id and state of each, oldest first.
    """
    return added_up([lesson(job, state) for job, state in journals])


def added_up(lessons: Sequence[Lesson]) -> Lore:
    """Add up what journals of a variant teach, oldest first."""
    stripped = [each for each in lessons if each.parts]
    sequences = sequences_of(stripped)
    seen: dict[str, list[PartLesson]] = {}
    for each in stripped:
        for key, part in each.parts.items():
            seen.setdefault(key, []).append(part)
    facts = joined(each.facts for each in lessons)
    constraints = {c.keys: c for c in facts.constraints if c.certain}
    return Lore(
        jobs=tuple(each.job for each in stripped),
        parts={key: _part_lore(key, tuple(of_part)) for key, of_part in seen.items()},
        order=_expected_order(sequences, spread(constraints.values(), facts.groups)),
        sequences=sequences,
        constraints=tuple(constraints.values()),
        free=facts.free | sequences.both_orders(),
        groups=facts.groups,
        last=facts.last,
    )


def variance(minutes: Sequence[float]) -> float:
    """Of single times about their mean; in floats, as thousands of exact ones would take too long. [min²]"""
    middle = fmean(minutes)
    return sum((minute - middle) ** 2 for minute in minutes) / (len(minutes) - 1)


def carried_over(own: Lore, sister: Lore, sister_name: str) -> Lore:
    """Add what a sister variant taught, each fact marked as carried over; what is known first-hand stands.

    A certain reason of the sister is only assumed here: it warns, and this camera's own strip-down settles it.
    """
    said = f"(seen on {sister_name})"
    parts = dict(own.parts)
    for key, lore in sister.parts.items():
        if key not in parts:
            parts[key] = replace(
                lore,
                carried_from=sister_name,
                marks=tuple(f"{mark} {said}" for mark in lore.marks),
                cautions=tuple(f"{caution} {said}" for caution in lore.cautions),
                reminders=tuple(f"{todo} {said}" for todo in lore.reminders),
            )
        else:
            known = parts[key]
            more = tuple(f"{caution} {said}" for caution in lore.cautions if caution not in known.cautions)
            parts[key] = replace(known, cautions=known.cautions + more, escapes=known.escapes or lore.escapes)
    have = {constraint.keys for constraint in own.constraints}
    constraints = tuple(
        replace(constraint, certain=False, carried=True, reason=f"{constraint.reason} {said}")
        for constraint in sister.constraints
        if constraint.keys not in have and constraint.keys[::-1] not in have
    )
    return replace(
        own,
        jobs=(*own.jobs, *sister.jobs),
        parts=parts,
        order=_with_added(own.order, sister.order),
        constraints=own.constraints + constraints,
    )


def sequences_of(lessons: Sequence[Lesson]) -> Sequences:
    """In which order the parts of each job came off first, as numbers of parts."""
    keys = tuple(dict.fromkeys(key for each in lessons for key in each.parts))
    index = {key: i for i, key in enumerate(keys)}
    on_again: dict[str, frozenset[str]] = {}
    for each in lessons:
        for key, others in each.on_again.items():
            on_again[key] = on_again.get(key, frozenset()) | others
    orders = tuple(tuple(index[key] for key in each.parts) for each in lessons)
    return Sequences(keys=keys, orders=orders, on_again=on_again)


def _expected_order(sequences: Sequences, constraints: Iterable[Constraint]) -> tuple[str, ...]:
    """The order of the job in which most came off, of equals the newest; the others add what did not come off there.

    So a part stands after all that was off whenever it came off. Where a certain constraint says otherwise, it counts.
    """
    order: tuple[str, ...] = ()
    for numbers in reversed(sorted(sequences.orders, key=len)):  # noqa: C413  of equals the newest first
        order = _with_added(order, [sequences.keys[i] for i in numbers])
    place = {key: i for i, key in enumerate(order)}
    pairs = [tuple(place.get(key, -1) for key in each.keys) for each in constraints if each.certain]
    pairs = [pair for pair in pairs if min(pair) >= 0 and pair[0] != pair[1]]
    if all(first < then for first, then in pairs):
        return order
    certain = [{first for first, then in pairs if then == i} for i in range(len(order))]
    seen = [{place[other] for other in sequences.off_each_time(key)} for key in order]
    mended = stable_order([a | b for a, b in zip(certain, seen, strict=True)]) or stable_order(certain)
    return order if mended is None else tuple(order[i] for i in mended)


def _with_added(order: Sequence[str], came_off: Sequence[str]) -> tuple[str, ...]:
    """An order, and the parts that it lacks: each right after the last of those that came off before it."""
    place = {key: i for i, key in enumerate(order, start=1)}
    added: dict[int, list[str]] = {}
    after = 0
    for key in came_off:
        if key in place:
            after = max(after, place[key])
        else:
            added.setdefault(after, []).append(key)
    return (*added.get(0, ()), *chain.from_iterable((key, *added.get(i, ())) for key, i in place.items()))


@lru_cache(maxsize=10_000)
def _part_lore(key: str, seen: tuple[PartLesson, ...]) -> PartLore:
    """Add up one part over the journals in which it came off."""
    last = seen[-1]
    lubricated = {point: line for part in seen for point, line in part.lubricated.items()}
    return PartLore(
        key=key,
        name=last.name,
        n_jobs=len(seen),
        marks=_distinct(part.marks for part in seen),
        cautions=_distinct(part.cautions for part in seen),
        escapes=any(part.escapes for part in seen),
        frees=_distinct(part.frees for part in seen),
        shims=_distinct(part.shims for part in seen),
        hardware=_usual([dict(counts) for part in seen for counts in part.hardware]),
        loosened=_distinct(part.loosened for part in seen),
        reminders=_distinct(part.reminders for part in seen),
        lubricated=tuple(map(Lubricated.model_validate_json, lubricated.values())),
        irreplaceable=_newest(part.irreplaceable for part in seen),
        minutes=tuple(minute for part in seen for minute in part.minutes),
        last=Removed.model_validate_json(last.last),
        material=_newest(part.material for part in seen),
        finish=_newest(part.finish for part in seen),
    )


def _usual(counted: Sequence[Mapping[Joint, int]]) -> tuple[Usual, ...]:
    """What held and lay under a part, removal by removal; a kind that one of them lacks counts there as none."""
    joints = dict.fromkeys(joint for counts in counted for joint in counts)
    return tuple(Usual(joint=joint, counts=tuple(counts.get(joint, 0) for counts in counted)) for joint in joints)


def _newest(said: Iterable[str | None]) -> str | None:
    """What was said last, if anything was."""
    return next((text for text in reversed(list(said)) if text), None)


def _distinct(said: Iterable[Sequence[str]]) -> tuple[str, ...]:
    """Each text once, the most frequent first."""
    return tuple(text for text, _ in Counter(chain.from_iterable(said)).most_common())
