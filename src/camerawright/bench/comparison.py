"""Firings against a marked speed: stops, verdicts, and how many more firings would decide."""

import math
from collections.abc import Sequence, Set
from dataclasses import dataclass, field, replace
from typing import Annotated

import numpy as np

from camerawright.bench.codec import Keys
from camerawright.bench.record import Figure
from camerawright.handbook.exposure import MarkedSpeed, Series, marked_speed, stops
from camerawright.handbook.tolerances import Limits, Profile, limits
from camerawright.numeric.series import drift, first_against_others
from camerawright.quantity import BudgetLine, Quantity, Verdict, Word, mean_of, shared_lines, verdict
from camerawright.wording import numbers

_MOST_FIRINGS = 60
_STICKY, _LEAST_AWAY = 0.25, 0.08  # stops. Common practice
_BY_CHANCE, _LEAST_DRIFT = 0.05, 0.08  # a part, and stops


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One firing against the target: its error in stops, positive slow, and the verdict (None without limits)."""

    error: Annotated[Quantity, Keys("stop", value="stops", u="u_stops", expanded="U95_stops")]
    verdict: Word | None
    probability_within: float | None


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """All firings of a recording against one marked speed.

    `mean` is the mean error in stops; its budget holds the repeatability of the mean and what all firings share.
    `mean_s` is the time that it stands for. `repeatability_stops` is the standard deviation of single firings, None for
    one firing. `more_firings` is how many more would decide an undecided set, None where it is decided or no reasonable
    number would. The limits are None where the profile has none for this speed.
    """

    marked: str
    target_s: float
    series: Series
    profile: str
    lower_ev: float | None
    upper_ev: float | None
    source: str | None
    firings: tuple[Compared, ...]
    mean: Annotated[
        Quantity,
        Keys("stop", value="mean_stops", u="u_mean_stops", expanded="U95_mean_stops", dof="dof", budget="budget_mean"),
    ]
    mean_s: float
    repeatability_stops: float | None
    verdict: Word | None
    probability_within: float | None
    more_firings: int | None
    flags: tuple[str, ...] = field(default=(), metadata={"stored": False})  # they stand with the record's own

    def figure(self, name: str = "error") -> Figure:
        """The mean error as a figure of the record."""
        return replace(
            Figure.of(name, self.mean, n=len(self.firings), verdict=self.verdict, marked=self.marked), is_error=True
        )


def compare(
    effective: Sequence[Quantity], marked: str, profile: Profile, *, shared: Set[str], series: Series | None = None
) -> Comparison:
    """Compare the effective times of firings, and their mean, with a marked speed.

    Parameters
    ----------
    effective
        One for each firing, in order. [s]
    shared
        Names of the budget lines that are the same error in every firing, so that more firings do not lessen them.
    series
        Of the marks on the dial; told by the mark where None.

    Raises
    ------
    NotUnderstood
        `marked` cannot be read.

    Notes
    -----
    Means are taken in stops. The mean's budget: the standard deviation of the firings over √n with n - 1 degrees of
    freedom (it holds the noise of the single readings too), and the largest of each line that all firings share.

    References
    ----------
    [jcgm-100] 4.2.3, G.4. [jcgm-106] 8.3.
    """
    speed = marked_speed(marked, series)
    bounds = limits(profile, speed.target_s)
    singles = tuple(_single(one, speed, bounds) for one in effective)
    errors = np.array([single.error.value for single in singles])
    spread = float(errors.std(ddof=1)) if len(errors) > 1 else None
    mean = mean_of([single.error for single in singles], shared)
    decided = _verdict(mean, bounds)
    return Comparison(
        marked=speed.text,
        target_s=speed.target_s,
        series=speed.series,
        profile=profile.name,
        lower_ev=bounds.lower_ev if bounds else None,
        upper_ev=bounds.upper_ev if bounds else None,
        source=bounds.source if bounds else None,
        firings=singles,
        mean=mean,
        mean_s=speed.target_s * 2.0**mean.value,
        repeatability_stops=spread,
        verdict=decided.word if decided else None,
        probability_within=decided.probability if decided else None,
        more_firings=_more(mean, spread, len(singles), bounds, decided),
        flags=order_flags(errors),
    )


def _single(effective: Quantity, speed: MarkedSpeed, bounds: Limits | None) -> Compared:
    """One firing's error in stops; the budget in stops too."""
    per_s = 1 / (effective.value * math.log(2))
    budget = tuple(replace(line, u=line.u * per_s) for line in effective.budget)
    error = Quantity(stops(effective.value, speed.target_s), "stop", budget)
    decided = _verdict(error, bounds)
    return Compared(
        error=error,
        verdict=decided.word if decided else None,
        probability_within=decided.probability if decided else None,
    )


def _verdict(error: Quantity, bounds: Limits | None) -> Verdict | None:
    """The guard-banded verdict, None without limits."""
    return verdict(error.value, error.u, error.dof, bounds.lower_ev, bounds.upper_ev) if bounds else None


def _more(mean: Quantity, spread: float | None, n: int, bounds: Limits | None, decided: Verdict | None) -> int | None:
    """How many more firings would decide, were mean and repeatability to stay."""
    if bounds is None or decided is None or decided.word != "undecided" or spread is None:
        return None
    shared = mean.budget[1:]
    for more in range(1, _MOST_FIRINGS - n + 1):
        m = n + more
        then = Quantity(mean.value, "stop", (BudgetLine("repeatability", spread / math.sqrt(m), m - 1, "A"), *shared))
        found = _verdict(then, bounds)
        if found is not None and found.word != "undecided":
            return more
    return None


def mean_time(times: Sequence[Quantity], shared: Set[str]) -> Quantity:
    """Mean of times taken in stops, with its budget in the unit of the times.

    Parameters
    ----------
    shared
        Names of the budget lines that are the same error in every time.

    Notes
    -----
    A small error of so many stops is ln 2 times as much of the time itself: the derivative of 2 to the power of stops.
    """
    if len(times) == 1:
        return times[0]
    logs = np.log2([one.value for one in times])
    value = float(2.0 ** logs.mean())
    u = float(logs.std(ddof=1)) * math.log(2) * value / math.sqrt(len(times))
    lines = shared_lines((replace(line, u=line.u * value / one.value) for one in times for line in one.budget), shared)
    return Quantity(value, times[0].unit, (BudgetLine("repeatability", u, len(times) - 1, "A"), *lines))


def order_flags(errors: "np.ndarray[tuple[int], np.dtype[np.float64]]") -> tuple[str, ...]:
    """What the errors of a set in stops, in order, say: few firings, a first one that stands apart, drift."""
    flags = []
    if len(errors) < 3:
        flags.append("Fewer than three firings do not show how well the shutter repeats: fire six.")
    first = first_against_others(errors)
    if first and first.stands_apart and abs(first.away) > _LEAST_AWAY:
        sticky = ": sticky after rest" if first.away > _STICKY else ""
        flags.append(
            f"The first firing is {numbers.fixed(abs(first.away), 2)} stop {'slower' if first.away > 0 else 'faster'}"
            " than the"
            f" others, more than chance explains ({numbers.fixed(first.reach, 2)} stop){sticky}."
        )
    changed = drift(errors if not flags else errors[1:])
    if changed and changed.probability < _BY_CHANCE and abs(changed.total) > _LEAST_DRIFT:
        flags.append(
            f"The firings get {'slower' if changed.total > 0 else 'faster'} by {numbers.fixed(abs(changed.total), 2)}"
            " stop from the"
            f" first to the last; chance alone does that {numbers.percent(changed.probability, 1)} of the time."
        )
    return tuple(flags)
