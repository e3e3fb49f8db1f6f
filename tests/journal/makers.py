"""Journals for tests: short to write, and at random."""

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import count

from hypothesis import strategies as st

from camerawright.journal.entries import (
    KINDS,
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Answered,
    Corrected,
    Entry,
    Fastener,
    Happening,
    Independent,
    Marked,
    Noted,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Shim,
    Tension,
)
from camerawright.journal.known import Known
from camerawright.journal.rules import troubles
from camerawright.journal.state import fold
from camerawright.trouble import Trouble

for _kind in KINDS.values():
    _kind.model_rebuild()  # here, and not in the time that a test has for making its entries

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
NOW = START + timedelta(days=2)
NOTHING = Known()


def against(journal: Sequence[Entry], entry: Entry, known: Known = NOTHING) -> list[Trouble]:
    """All that stands against an entry."""
    return list(troubles(fold(journal), entry, now=NOW, known=known))


def refused(journal: Sequence[Entry], entry: Entry, known: Known = NOTHING) -> list[str]:
    """The same in words."""
    return [trouble.what for trouble in against(journal, entry, known)]


class Clock:
    """Moments a minute apart."""

    def __init__(self) -> None:
        self._minutes = count()

    def __call__(self) -> datetime:
        return START + timedelta(minutes=next(self._minutes))


def turned(clock: Clock, act: str, turns: float, left: float | None = None, spring: str = "curtain") -> Tension:
    """A spring let down, or tensioned the other way."""
    direction = "anticlockwise" if act == "let down" else "clockwise"
    return Tension.model_validate(
        {"at": clock(), "spring": spring, "act": act, "turns": turns, "direction": direction, "left": left}
    )


def strip(*parts: str, clock: Clock | None = None) -> list[Entry]:
    """A strip-down, in that order, of parts that nothing else is known about."""
    moment = clock or Clock()
    return [Removed(at=moment(), part=part) for part in parts]


PARTS = st.sampled_from(["top plate", "front standard", "shutter", "dial", "bellows", "spool"])
FASTENERS = st.lists(
    st.builds(
        Fastener,
        count=st.integers(1, 6),
        size=st.sampled_from(["M1.7", "M1.4", "10BA"]),
        length_mm=st.sampled_from([None, 2.0, 3.5]),
        hand=st.sampled_from(["right", "left"]),
    ),
    max_size=3,
).map(tuple)
SHIMS = st.lists(
    st.builds(Shim, place=st.sampled_from(["NE", "SW"]), count=st.integers(1, 3), thickness_mm=st.just(0.1)), max_size=2
).map(tuple)


_HAPPENINGS: st.SearchStrategy[Happening] = st.one_of(
    st.builds(Removed, at=st.just(START), part=PARTS, fasteners=FASTENERS, shims=SHIMS),
    st.builds(Refitted, at=st.just(START), part=PARTS, fasteners=FASTENERS, shims=SHIMS),
    st.builds(Marked, at=st.just(START), part=PARTS, mark=st.just("dot at twelve")),
    st.builds(Reminded, at=st.just(START), part=PARTS, todo=st.just("hook the spring")),
    st.builds(Ordered, at=st.just(START), first=PARTS, then=PARTS, reason=st.just("covers it")),
    st.builds(Independent, at=st.just(START), part=PARTS, other=PARTS, reason=st.just("seen")),
    st.builds(AccountedFor, at=st.just(START), part=PARTS, reason=st.just("to the owner")),
    st.builds(AidFitted, at=st.just(START), aid=st.sampled_from(["wedge", "tape"])),
    st.builds(AidTakenOut, at=st.just(START), aid=st.sampled_from(["wedge", "tape"])),
    st.builds(Noted, at=st.just(START), note=st.just("tea")),
)
_ACTS = st.lists(
    st.tuples(st.sampled_from(["happen"] * 4 + ["answer", "strike", "replace"]), st.integers(0, 99), _HAPPENINGS),
    max_size=25,
)


def _journal(acts: list[tuple[str, int, Happening]]) -> list[Entry]:
    """Give each act its moment and, where it names an earlier entry, that entry's id."""
    entries: list[Entry] = []
    for i_act, (act, target, drawn) in enumerate(acts):
        at = START + timedelta(seconds=40 * i_act)
        happening = drawn.model_copy(update={"at": at, "id": f"{i_act:032x}"})
        earlier = entries[target % len(entries)].id if entries else None
        if act == "happen" or earlier is None:
            entries.append(happening)
        elif act == "answer":
            entries.append(Answered(id=f"{i_act:032x}", at=at, entry=earlier, answer="done"))
        else:
            becomes = happening.model_copy(update={"id": f"f{i_act:031x}"}) if act == "replace" else None
            entries.append(Corrected(id=f"{i_act:032x}", at=at, entry=earlier, becomes=becomes))
    return entries


def journals() -> st.SearchStrategy[list[Entry]]:
    """Journals well formed or hostile: parts off twice, refits of what is on, corrections of anything."""
    return _ACTS.map(_journal)
