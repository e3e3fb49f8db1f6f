"""Marked speeds given with a recording, and which of its firings are of which."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.handbook.exposure import MODERN_MARKS, OLD_MARKS, MarkedSpeed, Series, marked_speed, name_of, stops
from camerawright.trouble import NotUnderstood

APART = 0.4
"""Firings of one speed lie closer, neighbouring speeds further apart. [stops] Common practice."""
FAR = 0.75
"""So far from its mark it is more likely another speed than so bad a shutter. [stops] Common practice."""
_LEAST_APART = 0.15  # where marks say how many speeds there are
_DIALS: tuple[tuple[tuple[str, ...], Series], ...] = ((MODERN_MARKS, "power of two"), (OLD_MARKS, "as marked"))
_FAST_COUNTS = 2.0  # common practice


@dataclass(frozen=True)
class AtSpeed:
    """The firings of one setting of the speed dial.

    `i_firings` count in the recording's order, `usual_s` is the middle of their times; `mark` is the one that was
    given, `likely` the nearest, a guess, where none was.
    """

    i_firings: tuple[int, ...]
    usual_s: float
    mark: MarkedSpeed | None
    likely: MarkedSpeed | None

    @property
    def name(self) -> str:
        """The mark, or the time."""
        return self.mark.text if self.mark else name_of(self.usual_s)


def marks_in(text: str) -> tuple[MarkedSpeed, ...]:
    """The marks in a text, separated by commas: ``1/60`` or ``1/30, 1/60, 1/125``; slowest first.

    A mark that only the old series has (1/5, 1/10, 1/25, 1/50, 1/100) puts them all on an old dial, where 1/250 means
    1/250 and not 1/256.

    Raises
    ------
    NotUnderstood
        One cannot be read.
    NotUnderstood
        One is there twice.
    """
    given = [part.strip() for part in text.split(",")]
    marks = [marked_speed(part) for part in given]
    if len(marks) > 1 and any(mark.series == "as marked" for mark in marks):
        marks = [marked_speed(part, "as marked") for part in given]
    if len({mark.text for mark in marks}) < len(marks):
        raise NotUnderstood(f"{text!r} names a speed twice", "give each marked speed once", "marked")
    return tuple(sorted(marks, key=lambda mark: -mark.target_s))


def written(text: str) -> str:
    """Marks as they are written everywhere, slowest first: ``1 s, 1/2`` for ``1/2,1``. Raises as `marks_in`."""
    return ", ".join(mark.text for mark in marks_in(text))


def only_mark(text: str) -> MarkedSpeed:
    """The mark in a text, for a test that compares with one.

    Raises
    ------
    NotUnderstood
        It cannot be read.
    NotUnderstood
        There are several.
    """
    marks = marks_in(text)
    if len(marks) > 1:
        raise NotUnderstood(
            f"{text!r} names {len(marks)} speeds, and this test compares one at a time",
            "give one of them, and measure again with the next",
            "marked",
        )
    return marks[0]


def sorted_to(times_s: Sequence[float], marks: Sequence[MarkedSpeed]) -> tuple[AtSpeed, ...]:
    """Firings by their times sorted to the marks, slowest first.

    With marks, firings are parted at the widest gaps into as many sets as there are marks. Without a mark they are
    parted wherever neighbours are more than 0.4 stop apart, and a mark is only guessed.

    Raises
    ------
    NotUnderstood
        There are more, or fewer, speeds in the recording than marks were given.
    """
    times = np.asarray(times_s, dtype=np.float64)
    sets = _parted(times, len(marks))
    if marks and not all(_is_one_speed(times[list(one)]) for one in sets):
        fired = ", ".join(name_of(float(np.median(times[list(one)]))) for one in _parted(times, 0))
        raise NotUnderstood(
            f"{len(marks)} marked speed{'s were' if len(marks) > 1 else ' was'} given, and the firings are of more"
            f" speeds, about {fired}",
            "give the mark of each, or none",
            "marked",
        )
    usual = [float(np.median(times[list(one)])) for one in sets]
    given: Sequence[MarkedSpeed | None] = marks or [None] * len(sets)
    guessed = [None] * len(sets) if marks else likely_marks(usual)
    return tuple(AtSpeed(*one) for one in zip(sets, usual, given, guessed, strict=True))


def _parted(times_s: NDArray[np.float64], n_sets: int) -> list[tuple[int, ...]]:
    """Which firings belong together, slowest set first, each in the recording's order; 0 sets: find out."""
    order = np.argsort(-times_s, kind="stable")
    gaps = -np.diff(np.log2(times_s[order]))
    if n_sets == 0:
        cuts = np.flatnonzero(gaps > APART)
    else:
        cuts = np.sort(np.argsort(-gaps, kind="stable")[: n_sets - 1])
        if len(cuts) < n_sets - 1 or (len(cuts) and gaps[cuts].min() < _LEAST_APART):
            n = 1 + int(np.count_nonzero(gaps > _LEAST_APART))
            raise NotUnderstood(
                f"{n_sets} marked speeds were given, and the measured firings show {n} speed{'s' * (n != 1)}",
                "give the marks of those",
                "marked",
            )
    return [tuple(sorted(int(i) for i in part)) for part in np.split(order, cuts + 1)]


def _is_one_speed(times_s: NDArray[np.float64]) -> bool:
    """Whether firings may be of one speed.

    Two and more that agree among themselves and stand apart are of another speed where they were fired in a row, before
    or after the others, as when a dial is turned; in between the others they are the scatter of a shutter, up to 0.75
    stop. One firing may lie anywhere, and so may the first ones of a shutter that comes free as it is fired. Common
    practice.
    """
    sets = _parted(times_s, 0)
    most = max(sets, key=len)
    off = np.log2(times_s / np.median(times_s[list(most)]))
    alone = sorted(one[0] for one in sets if len(one) == 1 and one != most and abs(off[one[0]]) > FAR)
    comes_free = alone == list(range(len(alone))) and all(off[i] > 0 for i in alone)
    others = [one for one in sets if len(one) > 1 and one != most]
    in_a_row = any(one[-1] < most[0] or one[0] > most[-1] for one in others)
    is_far = any(abs(float(np.median(off[list(one)]))) > FAR for one in others)
    return not in_a_row and not is_far and (len(alone) <= 1 or comes_free) and len(alone) < len(times_s) / 2


def likely_marks(times_s: Sequence[float]) -> list[MarkedSpeed | None]:
    """The nearest marks, of the series that fits all times better; None for what is far from any mark."""
    guesses = []
    for names, series in _DIALS:
        marks = [marked_speed(name, series) for name in names]
        nearest = [min(marks, key=lambda mark: abs(stops(time_s, mark.target_s))) for time_s in times_s]
        errors = [stops(time_s, mark.target_s) for time_s, mark in zip(times_s, nearest, strict=True)]
        # old shutters run slow, hardly ever fast: a dial on which they would be fast is the less likely one
        unlikely = sum(max(error, -_FAST_COUNTS * error) for error in errors)
        guesses.append((unlikely, [m if abs(e) <= FAR else None for m, e in zip(nearest, errors, strict=True)]))
    return min(guesses, key=lambda guess: guess[0])[1]
