"""The marked speeds of a job, as found beside as left, and how a reading of one is written."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import BenchTest
from camerawright.handbook.exposure import name_of
from camerawright.journal.entries import Measured, Phase
from camerawright.quantity import Word
from camerawright.readings.recorded import comparisons
from camerawright.wording import numbers

DECISION_RULE = (
    "within, or outside, where the true value is so with at least 95 % probability; otherwise undecided"
    " (JCGM 106:2012, 8.3)"
)


@dataclass(frozen=True, kw_only=True)
class Reading:
    """One reading: `value` with its unit ("1/310 s"), `error` in the unit of its table, `expanded_u` likewise."""

    value: str
    error: str
    n: int
    expanded_u: str | None = None
    verdict: Word | None = None


@dataclass(frozen=True, kw_only=True)
class Read:
    """One reading of one marked speed: the entry, and what it says against the mark."""

    entry: Measured
    against: Comparison

    @property
    def method(self) -> str:
        """How it was read."""
        return self.entry.method


@dataclass(frozen=True, kw_only=True)
class Row:
    """One marked speed: the newest reading of each phase."""

    marked: str
    as_found: Read | None
    as_left: Read | None

    @property
    def read(self) -> tuple[Read, ...]:
        """Those that are there."""
        return tuple(read for read in (self.as_found, self.as_left) if read)


def rows(measured: Iterable[Measured], test: BenchTest[Any]) -> tuple[Row, ...]:
    """The readings of a test that were compared with a mark, slowest first; of several the newest counts."""
    newest: dict[tuple[str, Phase], Read] = {}
    for entry in measured:
        for against in comparisons(entry) if entry.test == test.name else ():
            newest[against.marked, entry.phase] = Read(entry=entry, against=against)
    targets = {mark: read.against.target_s for (mark, _), read in newest.items()}
    return tuple(
        Row(marked=mark, as_found=newest.get((mark, "as found")), as_left=newest.get((mark, "as left")))
        for mark in sorted(targets, key=lambda mark: -targets[mark])
    )


def reading_shown(against: Comparison) -> Reading:
    """A reading of one speed as text, rounded by its own uncertainty."""
    expanded = against.mean.expanded_u
    return Reading(
        value=f"{dial_time(against.mean_s)} ({milliseconds(against.mean_s, 2**expanded - 1)})",
        error=numbers.signed(against.mean.value),
        expanded_u=numbers.never_less(expanded),
        n=len(against.firings),
        verdict=against.verdict,
    )


def milliseconds(time_s: float, relative_u: float) -> str:
    """A time in ms with as many digits as its uncertainty leaves it, four at the most."""
    digits = 4 if relative_u <= 0 else min(4, max(2, 2 - math.floor(math.log10(relative_u))))
    return f"{numbers.significant(time_s * 1e3, digits)} ms"


def dial_time(time_s: float) -> str:
    """A time as it stands on a dial: 1/51 s, 1/5.3 s, or 1.04 s."""
    return f"{name_of(time_s)} s" if time_s < 0.4 else f"{numbers.fixed(time_s, 2)} s"
