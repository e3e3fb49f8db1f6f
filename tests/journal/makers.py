"""Journals for tests: short to write, and at random."""

from datetime import UTC, datetime, timedelta
from itertools import count

from hypothesis import strategies as st

from camerawright.journal.entries import (
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
)

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
NOW = START + timedelta(days=2)


class Clock:
    """Moments a minute apart."""

    def __init__(self) -> None:
        self._minutes = count()

    def __call__(self) -> datetime:
        return START + timedelta(minutes=next(self._minutes))


def strip(*parts: str) -> list[Entry]:
    """A strip-down, in that order, of parts that nothing else is known about."""
    clock = Clock()
    return [Removed(at=clock(), part=part) for part in parts]


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


@st.composite
def journals(draw: st.DrawFn, *, max_size: int = 30) -> list[Entry]:
    """Journals well formed or hostile: parts off twice, refits of what is on, corrections of anything, in any order."""
    entries: list[Entry] = []
    for i_entry in range(draw(st.integers(0, max_size))):
        at = START + timedelta(seconds=i_entry * 40)
        ids = [entry.id for entry in entries]
        if ids and draw(st.integers(0, 4)) == 0:
            becomes = draw(st.none() | _happening(at, ids))
            entries.append(Corrected(at=at, entry=draw(st.sampled_from(ids)), becomes=becomes))
        else:
            entries.append(draw(_happening(at, ids)))
    return entries


def _happening(at: datetime, ids: list[str]) -> st.SearchStrategy[Happening]:
    """Anything that can happen at a bench."""
    moment = st.just(at)
    answered = [st.builds(Answered, at=moment, entry=st.sampled_from(ids), answer=st.just("done"))] if ids else []
    return st.one_of(
        st.builds(Removed, at=moment, part=PARTS, fasteners=FASTENERS, shims=SHIMS),
        st.builds(Refitted, at=moment, part=PARTS, fasteners=FASTENERS, shims=SHIMS),
        st.builds(Marked, at=moment, part=PARTS, mark=st.just("dot at twelve")),
        st.builds(Reminded, at=moment, part=PARTS, todo=st.just("hook the spring")),
        st.builds(Ordered, at=moment, first=PARTS, then=PARTS, reason=st.just("covers it")),
        st.builds(Independent, at=moment, part=PARTS, other=PARTS, reason=st.just("seen")),
        st.builds(AccountedFor, at=moment, part=PARTS, reason=st.just("to the owner")),
        st.builds(AidFitted, at=moment, aid=st.sampled_from(["wedge", "tape"])),
        st.builds(AidTakenOut, at=moment, aid=st.sampled_from(["wedge", "tape"])),
        st.builds(Noted, at=moment, note=st.just("tea")),
        *answered,
    )
