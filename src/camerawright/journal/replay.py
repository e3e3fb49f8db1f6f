"""A journal judged once more, entry by entry: after a correction in its middle, and when it was read in."""

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
    Supplied,
    Worked,
)
from camerawright.journal.known import Known
from camerawright.journal.known_then import Said, known_then
from camerawright.journal.order import order_facts, said_by, spread
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


def brought_by(before: Sequence[Entry], after: Sequence[Entry], known: Known, judge: Judge) -> tuple[Broken, ...]:
    """What would have been refused in a journal that was read in, and was not in the journal that it came to.

    Parameters
    ----------
    before, after
        The journal without and with what was read in, both in order.

    Notes
    -----
    Of the order, only what is certain counts: what made an assumed reason yield may stand in the journals of another
    bench. What a correction let stand with a reason is not told.
    """
    there = {(entry.id, trouble.what) for entry, trouble in _judged(in_force(before)[0], 0, known, judge, False)}
    found = [
        Broken(entry=entry, trouble=trouble)
        for entry, trouble in _judged(in_force(after)[0], 0, known, judge, False)
        if (entry.id, trouble.what) not in there
    ]
    excused = _excused(after, known, judge) if found else set()
    return tuple(broken for broken in found if (broken.entry.id, broken.trouble.what) not in excused)


def _excused(journal: Sequence[Entry], known: Known, judge: Judge) -> set[tuple[str, str]]:
    """What corrections that carry a reason of their own took the ground from."""
    return {
        (broken.entry.id, broken.trouble.what)
        for i, entry in enumerate(journal)
        if isinstance(entry, Corrected) and entry.overruled
        for broken in broken_by(fold(journal[:i]), [entry], known, judge)
    }


def _judged(
    standing: Sequence[Entry], start: int, known: Known, judge: Judge, is_order_assumed: bool = True
) -> Iterator[tuple[Entry, Trouble]]:
    """What stands against each entry in its place. What contains what is taken from the whole journal."""
    facts = known.learned | order_facts(fold(standing))
    groups = facts.groups
    said = Said(facts)
    said.add(spread(known.learned.constraints, groups))
    for entry in standing[:start]:
        said.add(spread(said_by(entry), groups))
    then = replace(known, named=None, back_first={}, checks_first={}, curing={}, clash=None, n_waiting=0)
    for state, entry in states_before(standing, start=start, wanted=is_judged):
        if state is not None:
            for trouble in judge(state, entry, known_then(state, entry, then, said, is_order_assumed=is_order_assumed)):
                yield entry, trouble
        said.add(spread(said_by(entry), groups))


def is_judged(entry: Entry) -> bool:
    """Whether something may stand against an entry, the job being open."""
    return not isinstance(entry, Noted | Worked | Supplied | Marked | MarkWanted | Found | Cautioned | Lubricated)


def known_in(state: State, known: Known) -> Known:
    """What is known of the order with another journal than the present one."""
    facts = known.learned | order_facts(state)
    return replace(known, constraints=spread(facts.constraints, facts.groups))
