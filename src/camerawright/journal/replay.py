"""What a correction in the middle does to what came after it: the journal is judged once more, entry by entry."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from camerawright.journal.corrections import in_force
from camerawright.journal.entries import (
    Cautioned,
    Corrected,
    Entry,
    Found,
    Lubricated,
    Marked,
    MarkWanted,
    Noted,
    Ordered,
    Refitted,
    Removed,
    Supplied,
    Worked,
)
from camerawright.journal.groups import groups_of
from camerawright.journal.known import Known
from camerawright.journal.order import Constraint, order_facts, said_by, spread
from camerawright.journal.state import State, fold, states_before
from camerawright.trouble import Trouble

Judge = Callable[[State, Entry, Known], Iterable[Trouble]]
"""What stands against an entry, in the state that it finds."""


@dataclass(frozen=True, kw_only=True)
class Broken:
    """An entry that would not have been accepted, had the journal been as it is with a correction; and why."""

    entry: Entry
    trouble: Trouble


def broken_by(state: State, corrections: Sequence[Corrected], known: Known, judge: Judge) -> tuple[Broken, ...]:
    """Find the entries that corrections take the ground from, or that one of them puts in place and should not.

    Parameters
    ----------
    state
        The fold of the journal without them.
    judge
        Is asked for each entry from the first that differs on. What stood against an entry before stands against it
        still, and is not told.
    """
    before = in_force(state.journal)[0]
    after = in_force([*state.journal, *corrections])[0]
    pairs = enumerate(zip(before, after, strict=False))
    start = next((i for i, (old, new) in pairs if old != new), min(len(before), len(after)))
    known_troubles = {(entry.id, trouble.what) for entry, trouble in _judged(before, start, known, judge)}
    return tuple(
        Broken(entry=entry, trouble=trouble)
        for entry, trouble in _judged(after, start, known, judge)
        if (entry.id, trouble.what) not in known_troubles
    )


def with_dependants(state: State, entry: Entry, known: Known, judge: Judge) -> tuple[Entry, ...]:
    """An entry and all that would not have been accepted without it, the newest first: what is undone together."""
    struck = {entry.id: entry}
    while True:
        corrections = [Corrected(at=state.journal[-1].at, entry=each.id) for each in _newest_first(state, struck)]
        broken = {each.entry.id: each.entry for each in broken_by(state, corrections, known, judge)}
        if broken.keys() <= struck.keys():
            return _newest_first(state, struck)
        struck |= broken


def _newest_first(state: State, entries: Mapping[str, Entry]) -> tuple[Entry, ...]:
    return tuple(entry for entry in reversed(state.journal) if entry.id in entries)


def _judged(standing: Sequence[Entry], start: int, known: Known, judge: Judge) -> Iterator[tuple[Entry, Trouble]]:
    """What stands against each entry in its place. What contains what is taken from the whole journal."""
    groups = known.learned.groups | groups_of(fold(standing))
    said = _Said(spread(known.learned.constraints, groups))
    for entry in standing[:start]:
        said.add(spread(said_by(entry), groups))
    then = replace(known, named=None, back_first={}, checks_first={}, clash=None, n_waiting=0)
    for state, entry in states_before(standing, start=start, wanted=is_judged):
        if state is not None:
            for trouble in judge(state, entry, _known_then(state, entry, then, said)):
                yield entry, trouble
        said.add(spread(said_by(entry), groups))


class _Said:
    """The constraints said so far; each is found again by either of its parts."""

    def __init__(self, constraints: Iterable[Constraint]) -> None:
        self.all: list[Constraint] = []
        self.by_first: dict[str, list[Constraint]] = {}
        self.by_then: dict[str, list[Constraint]] = {}
        self.add(constraints)

    def add(self, constraints: Iterable[Constraint]) -> None:
        """Put more to them."""
        for constraint in constraints:
            first, then = constraint.keys
            self.all.append(constraint)
            self.by_first.setdefault(first, []).append(constraint)
            self.by_then.setdefault(then, []).append(constraint)


def is_judged(entry: Entry) -> bool:
    """Whether something may stand against an entry, the job being open."""
    return not isinstance(entry, Noted | Worked | Supplied | Marked | MarkWanted | Found | Cautioned | Lubricated)


def known_in(state: State, known: Known) -> Known:
    """What is known of the order with another journal than the present one."""
    facts = known.learned | order_facts(state)
    return replace(known, constraints=spread(facts.constraints, facts.groups))


def _known_then(state: State, entry: Entry, known: Known, said: _Said) -> Known:
    """What was known when an entry was made: of the way back then, what is certain."""
    if not isinstance(entry, Removed | Refitted | Ordered):
        return known
    known = replace(known, constraints=tuple(said.all), beneath=said.by_then)
    if not isinstance(entry, Refitted):
        return known
    part = state.part(entry.part)
    bars = [
        constraint
        for constraint in said.by_first.get(part.key, ())
        if constraint.certain and state.part(constraint.then).status == "off"
    ]
    return replace(known, back_first={part.key: tuple(bars)})
