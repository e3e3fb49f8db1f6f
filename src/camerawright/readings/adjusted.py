"""Readings between which only one adjuster was turned, gathered from a journal."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.comparison import Comparison
from camerawright.journal.entries import (
    AccountedFor,
    Adjusted,
    Cleaned,
    Entry,
    Lubricated,
    Measured,
    Refitted,
    Removed,
    Tension,
    part_key,
)
from camerawright.numeric.shared_slope import Run
from camerawright.readings.recorded import comparisons

_MOVES_MORE: Final = (Removed, Refitted, AccountedFor, Cleaned, Lubricated, Tension)
"""After these a reading may have changed for another reason than the adjuster."""


@dataclass(frozen=True, kw_only=True)
class Seen:
    """One reading of a mark, and where the adjuster stood: turns since the run began, and in how many moves."""

    reading: Measured
    against: Comparison
    i_run: int
    place: float
    n_moves: int


@dataclass(frozen=True, kw_only=True)
class Stretch:
    """Readings of one mark in one job, in order, between which only one adjuster moved."""

    job: str
    seen: tuple[Seen, ...]

    @property
    def is_told(self) -> bool:
        """Whether the adjuster stood at more than one place."""
        return len({seen.place for seen in self.seen}) > 1

    @property
    def run(self) -> Run:
        """As the fit takes it, in turns and stops."""
        against = [seen.against for seen in self.seen]
        return Run(
            at=np.array([seen.place for seen in self.seen]),
            n_moves=np.array([seen.n_moves for seen in self.seen], dtype=np.float64),
            value=np.array([one.mean.value for one in against]),
            u=np.array([one.mean.u for one in against]),
            dof=np.array([one.mean.dof for one in against]),
        )


@dataclass(frozen=True, kw_only=True)
class OfMark:
    """What one journal tells of one mark and one adjuster; the last stretch holds the newest reading.

    `stale` says why the newest reading does not hold any more; "" where it does.
    """

    marked: str
    target_s: float
    stretches: tuple[Stretch, ...]
    stale: str


def of_marks(entries: Sequence[Entry], *, job: str, adjuster: str, test: str) -> tuple[OfMark, ...]:
    """Gather the readings of each mark around the turns of an adjuster.

    Parameters
    ----------
    entries
        Of one job, those in force, in order.
    job
        Its id, kept with what is found.
    adjuster
        Its name, in any spelling.
    test
        The bench test whose readings are meant.

    Notes
    -----
    A stretch ends where a part moved, was cleaned or oiled, a spring's tension changed, this adjuster moved by an
    amount that was not entered, or another one was turned that is not known to be for something else
    (`is_elsewhere`).
    """
    by_mark: dict[str, list[Seen]] = {}
    stale: dict[str, str] = {}
    i_run, place, n_moves = 0, 0.0, 0
    for entry in entries:
        if isinstance(entry, Measured):
            for against in comparisons(entry) if entry.test == test else ():
                seen = Seen(reading=entry, against=against, i_run=i_run, place=place, n_moves=n_moves)
                by_mark.setdefault(against.marked, []).append(seen)
                stale.pop(against.marked, None)
            continue
        turns = _turns(entry, adjuster)
        why = _ends_a_stretch(entry, adjuster, test) if turns is None else f"{adjuster} was turned after it"
        if turns is not None:
            place, n_moves = place + turns, n_moves + 1
        elif why:
            i_run, place, n_moves = i_run + 1, 0.0, 0
        if why:
            stale = dict.fromkeys(by_mark, why) | stale
    return tuple(
        OfMark(
            marked=mark,
            target_s=of_mark[-1].against.target_s,
            stretches=tuple(_stretches(of_mark, job)),
            stale=stale.get(mark, ""),
        )
        for mark, of_mark in by_mark.items()
    )


def _turns(entry: Entry, adjuster: str) -> float | None:
    """By how much an entry turned the adjuster; None where it did not, or by an amount that was not entered."""
    return entry.turns if isinstance(entry, Adjusted) and part_key(entry.adjuster) == part_key(adjuster) else None


def is_elsewhere(turn: Adjusted, test: str) -> bool:
    """Whether a turn was made for a test that measures something else than this one; False where nobody said.

    Tests that are compared with marked speeds all measure the exposure.
    """
    if turn.test is None or part_key(turn.test) == part_key(test):
        return False
    compared = {part_key(one.name) for one in CATALOGUE if one.marked and one.marked.compares}
    return not {part_key(turn.test), part_key(test)} <= compared


def _ends_a_stretch(entry: Entry, adjuster: str, test: str) -> str:
    """Why readings before and after an entry cannot be compared; "" where they can."""
    if isinstance(entry, Adjusted):
        if part_key(entry.adjuster) == part_key(adjuster):
            return f"{entry.adjuster} was moved after it, by an amount that nobody entered"
        return "" if is_elsewhere(entry, test) else f"{entry.adjuster} was moved after it"
    if isinstance(entry, _MOVES_MORE):
        what = entry.spring if isinstance(entry, Tension) else entry.part
        return f"{what} was {_DONE.get(entry.kind, entry.kind)} after it"
    return ""


_DONE: Final = {"removed": "taken off", "refitted": "put back", "tension": "let down or tensioned"}


def _stretches(seen: Sequence[Seen], job: str) -> Iterator[Stretch]:
    """One for each run."""
    for i_run in dict.fromkeys(one.i_run for one in seen):
        yield Stretch(job=job, seen=tuple(one for one in seen if one.i_run == i_run))
