"""What was known when an entry was made, for judging it again in its place: of the way back, what is certain."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime

from camerawright.journal.entries import Entry, HoldPoint, Ordered, Refitted, Removed, part_key
from camerawright.journal.known import Known
from camerawright.journal.order import Constraint, OrderFacts
from camerawright.journal.reached import reached
from camerawright.journal.state import Part, State


@dataclass
class Said:
    """The constraints said so far; each is found again by either of its parts."""

    facts: OrderFacts  # of the whole journal: what contains what, and which parts are free of each other
    all: list[Constraint] = field(default_factory=list)
    by_first: dict[str, list[Constraint]] = field(default_factory=dict)
    by_then: dict[str, list[Constraint]] = field(default_factory=dict)

    def add(self, constraints: Iterable[Constraint]) -> None:
        """Put more to them."""
        for constraint in constraints:
            first, then = constraint.keys
            self.all.append(constraint)
            self.by_first.setdefault(first, []).append(constraint)
            self.by_then.setdefault(then, []).append(constraint)

    def covers(self) -> dict[str, list[str]]:
        """By part key: what certainly sits over it."""
        found: dict[str, list[str]] = {}
        for first, then in (constraint.keys for constraint in self.all if constraint.certain):
            found.setdefault(then, []).append(first)
        return found

    def is_free(self, one: str, other: str) -> bool:
        """Whether somebody said that two parts are free of each other."""
        for pair in self.facts.free:
            if pair == {one, other}:
                return True
            here, there = self.facts.groups.sides(*pair)
            if (one in here and other in there) or (one in there and other in here):
                return True
        return False


def known_then(state: State, entry: Entry, known: Known, said: Said, *, is_order_assumed: bool) -> Known:
    """What was known when an entry was made.

    Parameters
    ----------
    is_order_assumed
        Whether a part that came off earlier counts as lying over what a check needs, though nobody said so.
    """
    if not isinstance(entry, Removed | Refitted | Ordered | HoldPoint):
        return known
    known = replace(known, constraints=tuple(said.all), beneath=said.by_then)
    if not isinstance(entry, Refitted):
        return known
    part = state.part(entry.part)
    through = {part_key(fastener.through) for fastener in entry.fasteners if fastener.through}
    over = reached([part.key], said.covers()) if through else set[str]()
    bars = [
        constraint
        for constraint in said.by_first.get(part.key, ())
        if constraint.certain and state.part(constraint.then).status == "off"
    ]
    return replace(
        known,
        one_step=frozenset(frozenset((part.key, key)) for key in through & over),
        back_first={part.key: (*bars, *_contents(state, part, said))},
        checks_first={part.key: tuple(_checks(state, part, said, entry.moment, is_order_assumed=is_order_assumed))},
        curing=dict(_curing(state, part, said, entry.moment)),
    )


def _contents(state: State, whole: Part, said: Said) -> Iterator[Constraint]:
    """What came out of a part on the bench goes back into it first."""
    if whole.key not in said.facts.groups.inside:
        return
    goes_first = {constraint.keys[0] for constraint in said.by_then.get(whole.key, ()) if constraint.certain}
    for key in sorted(said.facts.groups.members(whole.key) - {whole.key} - goes_first):
        part = state.parts.get(key)
        if part is None or part.status != "off" or part.n_removal < whole.n_removal:
            continue
        if not said.is_free(key, whole.key):
            yield Constraint(first=whole.name, then=part.name, reason=f"it belongs in the {whole.name}")


def _checks(state: State, part: Part, said: Said, moment: datetime, *, is_order_assumed: bool) -> Iterator[HoldPoint]:
    """Checks that can be done now, and cannot once the part is back."""
    for check in state.open_promises:
        if not isinstance(check, HoldPoint) or check.is_at_closing:
            continue
        keys = {key for need in check.needs for key in said.facts.groups.members(part_key(need))}
        needed = [state.parts[key] for key in keys if key in state.parts]
        if part.key in keys or any(need.status == "off" for need in needed):
            continue
        is_later = check.due is not None and moment.astimezone().date() < check.due
        is_over = part.key in reached(keys, said.covers())
        if is_over or (is_order_assumed and not is_later and _came_off_before(part, needed, said)):
            yield check


def _came_off_before(part: Part, needed: Iterable[Part], said: Said) -> bool:
    return any(part.n_removal < need.n_removal and not said.is_free(part.key, need.key) for need in needed)


def _curing(state: State, part: Part, said: Said, moment: datetime) -> Iterator[tuple[str, str]]:
    """What cures in place beneath a part."""
    for under in state.parts.values():
        wait = under.waits(moment) if under.status == "on" and under.removed else None
        if wait and part.key in reached([under.key], said.covers()):
            yield part.key, f"{under.name} waits: {wait.awaiting}"
