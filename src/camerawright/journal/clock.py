"""Moments that a wrong clock gave: the entries keep their order, and what their moments say is doubted."""

from datetime import datetime, timedelta
from typing import Final

from camerawright.journal.state import State

CLOCK_SLACK: Final = timedelta(minutes=5)
"""How far a tablet's clock may run ahead (common practice)."""


_AT_ONCE: Final = timedelta(microseconds=1)
"""How far behind the last entry one is put if the clock shows an earlier time (`job.entering.moment_after`)."""


def doubtful(state: State, now: datetime) -> frozenset[str]:
    """The ids of entries whose clock was wrong: in the future, or past what the clock showed at a later entry.

    Only what clocks showed is compared. A moment that somebody told for one entry says nothing of the others. A
    correction of the entry says when it was (`clock`); its place among the entries stays.
    """
    mended = {entry.id: entry for entry in state.entries}
    earliest_since = now
    found = []
    for i_entry in range(len(state.journal) - 1, -1, -1):
        written = state.journal[i_entry]
        entry = mended.get(written.id, written)
        is_told = entry.clock is not None
        if entry.moment > (now if is_told else earliest_since) + CLOCK_SLACK:
            found.append(entry.id)
        elif not is_told:
            earliest_since = min(earliest_since, entry.at)
        elif written.clock and i_entry and written.at - state.journal[i_entry - 1].at <= _AT_ONCE:
            earliest_since = min(earliest_since, written.clock)  # the clock had been set right, and showed this
    return frozenset(found)
