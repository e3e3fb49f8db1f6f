"""Moments that a wrong clock gave: the entries keep their order, and what their moments say is doubted."""

from datetime import datetime, timedelta
from typing import Final

from camerawright.journal.state import State

CLOCK_SLACK: Final = timedelta(minutes=5)
"""How far a tablet's clock may run ahead (common practice)."""


def doubtful(state: State, now: datetime) -> frozenset[str]:
    """The ids of entries whose moment cannot be: in the future, or past that of an entry that came later.

    A correction of the entry says when it was (`clock`); its place among the entries stays.
    """
    mended = {entry.id: entry.moment for entry in state.entries}
    earliest_since = now
    found = []
    for entry in reversed(state.journal):
        moment = mended.get(entry.id, entry.moment)
        if moment > earliest_since + CLOCK_SLACK:
            found.append(entry.id)
        else:
            earliest_since = min(earliest_since, moment)
    return frozenset(found)
