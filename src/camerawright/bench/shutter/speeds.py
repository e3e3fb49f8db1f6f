"""Several speeds in one recording: which firings belong together, and what each set says."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from camerawright.bench import comparison
from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import BadOption
from camerawright.bench.shutter.aperture import STOPS
from camerawright.bench.shutter.result import Firing, ShutterResult, StoppedDown
from camerawright.handbook.exposure import MODERN_MARKS, OLD_MARKS, MarkedSpeed, Series, marked_speed, stops
from camerawright.handbook.tolerances import Profile
from camerawright.numeric.series import Drift, First, drift, first_against_others
from camerawright.quantity import BudgetLine, Quantity

SHARED = frozenset({"timing", "AC model", "sensor lag", "sensor linearity", "lossy coding", "level", "blade shape"})
"""Budget lines that are the same error in every firing of a recording."""

_APART = 0.4  # stops: firings of one speed lie closer, neighbouring speeds further apart. Common practice
_LEAST_APART = 0.15  # where marks say how many speeds there are
_DIALS: tuple[tuple[tuple[str, ...], Series], ...] = ((MODERN_MARKS, "power of two"), (OLD_MARKS, "as marked"))
_FAST_COUNTS = 2.0  # common practice
_FAR = 0.75  # stops from its mark: more likely another speed than so bad a shutter


@dataclass(frozen=True)
class Speed:
    """The firings of one setting of the speed dial.

    `i_firings` count in the recording's order. `comparison` is with the mark that was given, None without one;
    `likely` is the nearest mark, a guess, where none was given. `effective` is the mean (in stops) of the effective
    times with its budget. [s]
    """

    i_firings: tuple[int, ...]
    likely: MarkedSpeed | None
    comparison: Comparison | None
    effective: Quantity
    repeatability_ev: float | None
    first: First | None
    drift: Drift | None
    stopped_down: tuple[StoppedDown, ...]
    flags: tuple[str, ...]


def marks_in(text: str) -> tuple[MarkedSpeed, ...]:
    """The marks in a text, separated by commas: ``1/60`` or ``1/30, 1/60, 1/125``; slowest first.

    A mark that only the old series has (1/5, 1/10, 1/25, 1/50, 1/100) puts them all on an old dial, where 1/250 means
    1/250 and not 1/256.

    Raises
    ------
    NotASpeed
        One cannot be read.
    BadOption
        One is there twice.
    """
    given = [part.strip() for part in text.split(",")]
    marks = [marked_speed(part) for part in given]
    if len(marks) > 1 and any(mark.series == "as marked" for mark in marks):
        marks = [marked_speed(part, "as marked") for part in given]
    if len({mark.text for mark in marks}) < len(marks):
        raise BadOption("marked", f"{text!r} names a speed twice: give each marked speed once")
    return tuple(sorted(marks, key=lambda mark: -mark.target_s))


def speeds(result: ShutterResult, marks: Sequence[MarkedSpeed], profile: Profile) -> tuple[Speed, ...]:
    """The speeds of a recording, slowest first.

    With one mark all firings are of that speed. With several, firings are parted at the widest gaps into as many sets
    as there are marks. Without a mark they are parted wherever neighbours are more than 0.4 stop apart, and a mark is
    only guessed.

    Raises
    ------
    BadOption
        There are not as many speeds in the recording as marks were given.
    """
    times_s = np.array([firing.effective.value for firing in result.firings])
    sets = _parted(times_s, len(marks))
    if not marks:
        likely = _likely([float(np.exp(np.log(times_s[list(one)]).mean())) for one in sets])
        return tuple(_speed(result, one, mark, None, profile) for one, mark in zip(sets, likely, strict=True))
    return tuple(_speed(result, one, None, mark, profile) for one, mark in zip(sets, marks, strict=True))


def _parted(times_s: "np.ndarray[tuple[int], np.dtype[np.float64]]", n_sets: int) -> list[tuple[int, ...]]:
    """Which firings belong together, slowest set first, each in the recording's order; 0 sets: find out."""
    order = np.argsort(-times_s, kind="stable")
    gaps = -np.diff(np.log2(times_s[order]))
    if n_sets == 0:
        cuts = np.flatnonzero(gaps > _APART)
    else:
        cuts = np.sort(np.argsort(-gaps, kind="stable")[: n_sets - 1])
        if len(cuts) < n_sets - 1 or (len(cuts) and gaps[cuts].min() < _LEAST_APART):
            n = 1 + int(np.count_nonzero(gaps > _LEAST_APART))
            raise BadOption(
                "marked",
                f"{n_sets} marked speeds were given, and the firings are of {n} speed{'s' * (n != 1)}:"
                " give the marks of those that were fired",
            )
    return [tuple(sorted(int(i) for i in part)) for part in np.split(order, cuts + 1)]


def _likely(means_s: list[float]) -> list[MarkedSpeed | None]:
    """The nearest marks, of the series that fits all sets better; None for what is far from any mark."""
    guesses = []
    for names, series in _DIALS:
        marks = [marked_speed(name, series) for name in names]
        nearest = [min(marks, key=lambda mark: abs(stops(mean_s, mark.target_s))) for mean_s in means_s]
        errors = [stops(mean_s, mark.target_s) for mean_s, mark in zip(means_s, nearest, strict=True)]
        # old shutters run slow, hardly ever fast: a dial on which they would be fast is the less likely one
        unlikely = sum(max(error, -_FAST_COUNTS * error) for error in errors)
        guesses.append((unlikely, [m if abs(e) <= _FAR else None for m, e in zip(nearest, errors, strict=True)]))
    return min(guesses, key=lambda guess: guess[0])[1]


def _speed(
    result: ShutterResult, i_firings: tuple[int, ...], likely: MarkedSpeed | None, mark: MarkedSpeed | None,
    profile: Profile,
) -> Speed:  # fmt: skip
    """What the firings of one speed say."""
    firings = [result.firings[i] for i in i_firings]
    effective = [firing.effective for firing in firings]
    mean, spread = _mean(effective)
    errors = np.asarray(np.log2([one.value for one in effective]))
    compared = comparison.compare(effective, mark.text, profile, shared=SHARED, series=mark.series) if mark else None
    return Speed(
        i_firings, likely, compared, mean, spread, first_against_others(errors), drift(errors), _stopped_down(firings),
        _flags(errors, compared),
    )  # fmt: skip


def _mean(times: Sequence[Quantity]) -> tuple[Quantity, float | None]:
    """Mean of times, taken in stops, with its budget in seconds, and the standard deviation of one in stops."""
    logs = np.log2([one.value for one in times])
    value = float(2.0 ** logs.mean())
    if len(times) == 1:
        return times[0], None
    spread = float(logs.std(ddof=1))
    largest: dict[str, BudgetLine] = {}
    for line in (replace(line, u=line.u * value / one.value) for one in times for line in one.budget):
        if line.name in SHARED and (line.name not in largest or line.u > largest[line.name].u):
            largest[line.name] = line
    u = spread * math.log(2) * value / math.sqrt(len(times))
    return Quantity(value, "s", (BudgetLine("repeatability", u, len(times) - 1, "A"), *largest.values())), spread


def _stopped_down(firings: Sequence[Firing]) -> tuple[StoppedDown, ...]:
    """Mean over the firings that have a plateau, for each number of stops."""
    usable = [firing.stopped_down for firing in firings if firing.stopped_down]
    if not usable:
        return ()
    return tuple(StoppedDown(down, _mean([one[i].effective for one in usable])[0]) for i, down in enumerate(STOPS))


def _flags(errors: "np.ndarray[tuple[int], np.dtype[np.float64]]", compared: Comparison | None) -> tuple[str, ...]:
    """What is odd about the set."""
    if compared is None:
        return comparison.order_flags(errors)
    flags = list(compared.flags)
    widest = float(np.diff(np.sort(errors)).max(initial=0.0))
    mean = compared.mean_ev.value
    if widest > _APART:
        flags.append(
            f"The firings compared with {compared.speed.text} lie {widest:.1f} stops apart: where they are of several"
            " speeds, give the mark of each, or none."
        )
    if abs(mean) > _FAR:
        flags.append(
            f"The firings compared with {compared.speed.text} are {mean:+.1f} stops from it: is the mark right?"
        )
    return tuple(flags)
