"""Firings at one setting of the dial taken together: means with their repeatability, and the gate against its mark."""

import math
from collections.abc import Callable
from dataclasses import replace

from camerawright.bench import comparison
from camerawright.bench.comparison import Comparison
from camerawright.bench.curtains.record import (
    Evenness,
    Exposure,
    Firing,
    GateComparison,
    Measured,
    Point,
    Speed,
    speed_compared,
)
from camerawright.bench.record import EFFECTIVE, Figure
from camerawright.handbook.exposure import marked_speed
from camerawright.handbook.tolerances import Profile
from camerawright.quantity import Quantity, Verdict, Word, mean_of, verdict
from camerawright.wording import numbers

SHARED = frozenset({
    "timing", "AC model", "sensor lag", "sensor linearity", "channel skew", "sensor position",
    "level", "motion between sensors", "lossy coding",
})  # fmt: skip
"""Budget lines that are the same error in every firing of a recording."""

CAPPED = (
    "Not compared: at this speed part of the gate gets no light at all, and no tolerance allows that. The exposures at"
    " the other sensors stand with the firings."
)
K_SHOWN = 2.0
"""Coverage factor of what is shown of curtains and evenness, whose degrees of freedom the record does not keep.
[jcgm-100] 6.3.3, from memory."""
_GAP_STOPS = 0.7  # speeds further apart are different settings. Common practice: neighbouring marks are 1 stop apart
_HALF_THE_WIDTH = "common practice: half the width of the tolerance"


def speeds(found: Measured) -> tuple[Speed, ...]:
    """The settings found in a recording, fastest first; firings that are dark at a sensor are in none."""
    n = max(len(firing.sensors) for firing in found.firings)
    whole = [
        (math.log2(firing.effective.value), i)
        for i, firing in enumerate(found.firings)
        if len(firing.sensors) == n and not firing.dark_mm
    ]
    groups: list[list[int]] = []
    last = -math.inf
    for stops, i in sorted(whole):
        if stops > last + _GAP_STOPS or not groups:
            groups.append([])
        groups[-1].append(i)
        last = stops
    return tuple(_speed(found, tuple(sorted(group))) for group in groups)


def nearest_first(found: Measured, marked: str) -> Measured:
    """The same with the firings that `compare` compares before the others, each in order."""
    nearest = _nearest(found, marked)
    if nearest is None:
        return found
    rest = [i for i in range(len(found.firings)) if i not in nearest.i_firings]
    return replace(found, firings=tuple(found.firings[i] for i in (*nearest.i_firings, *rest)))


def _nearest(found: Measured, marked: str) -> Speed | None:
    """The setting nearest to a mark; None where what is nearest leaves a sensor dark."""
    target_s = marked_speed(marked).target_s

    def stops(one: Firing | Speed) -> float:
        return abs(math.log2(one.effective.value / target_s))

    settings = speeds(found)
    return None if not settings or min(found.firings, key=stops).dark_mm else min(settings, key=stops)


def compare(found: Measured, marked: str, profile: Profile) -> GateComparison | None:
    """Compare the setting nearest to a mark with it; None where what is nearest leaves a sensor dark.

    Raises
    ------
    NotUnderstood
        `marked` cannot be read.

    Notes
    -----
    The tolerance holds at every sensor. How uneven the gate may be has no published limit that we know: half the width
    of the tolerance, common practice (1/3 stop for slide film, 1/2 else).
    """
    speed = _nearest(found, marked)
    if speed is None:
        return None
    firings = [found.firings[i] for i in speed.i_firings]

    def against(times: list[Quantity]) -> Comparison:
        return comparison.compare(times, marked, profile, shared=SHARED)

    mean = against([firing.effective for firing in firings])
    points = tuple(
        _point(one.at_mm, against([firing.sensors[k].exposure for firing in firings]))
        for k, one in enumerate(speed.points)
    )
    limit = None if mean.lower_ev is None or mean.upper_ev is None else (mean.upper_ev - mean.lower_ev) / 2
    even = _evenness(speed, limit)
    word, probability = _worst((*points, even))
    return GateComparison.of(
        mean,
        verdict=word,
        probability_within=probability,
        flags=(*_gate_flags(points, even, firings), *mean.flags) if limit is not None else mean.flags,
        i_firings=speed.i_firings,
        points=points,
        evenness=even,
    )


def _point(at_mm: float, mean: Comparison) -> Point:
    """The firings at one sensor against the mark."""
    return Point(at_mm=at_mm, error=mean.mean, verdict=mean.verdict, probability_within=mean.probability_within)


def _evenness(speed: Speed, limit: float | None) -> Evenness:
    """How uneven the gate is, over the whole of it where that can be told, against its limit. [stops]"""
    uneven = speed.uneven_gate or speed.uneven
    decided: Verdict | None = None
    if limit is not None:
        decided = verdict(uneven.value, uneven.u, uneven.dof, -math.inf, limit)
    return Evenness(
        uneven=uneven,
        limit_stops=limit,
        source=_HALF_THE_WIDTH,
        verdict=decided.word if decided else None,
        probability_within=decided.probability if decided else None,
    )


def _worst(parts: tuple[Point | Evenness, ...]) -> tuple[Word | None, float | None]:
    """The verdict of the whole gate: that of its least likely part; none without limits."""
    probabilities = [(one.probability_within, one.verdict) for one in parts if one.probability_within is not None]
    probability, word = min(probabilities, key=lambda one: one[0], default=(None, None))
    return word, probability


def _gate_flags(points: tuple[Point, ...], even: Evenness, firings: list[Firing]) -> tuple[str, ...]:
    """Where the gate is not within its limits."""
    verdicts = [
        *((one.verdict, f"at {numbers.short(one.at_mm)} mm") for one in points),
        (even.verdict, "evenness over the gate"),
    ]
    flags = [
        f"{word.capitalize()}: {', '.join(what)}."
        for word in ("outside", "undecided")
        if (what := [where for one, where in verdicts if one == word])
    ]
    if any(firing.capped for firing in firings):
        flags.append("Capped: part of the gate gets no light in some firings.")
    return tuple(flags)


def figures(settings: tuple[Speed, ...], compared: GateComparison | None) -> tuple[Figure, ...]:
    """The figures of a record: the effective time of every setting; with a mark all that is known of the one compared.

    They are the error, how uneven the gate is, and how long each curtain takes.
    """
    speed = speed_compared(settings, compared)
    if compared is None or speed is None:
        return tuple(Figure.of(EFFECTIVE, one.effective, n=len(one.firings)) for one in settings)
    n, marked, even = len(speed.firings), compared.marked, compared.evenness
    apart_mm = speed.points[-1].at_mm - speed.points[0].at_mm
    told = [
        Figure.of("uneven over the gate", even.uneven, n=n, verdict=even.verdict, marked=marked),
        *(
            Figure.of(
                f"{name} curtain over the {numbers.short(apart_mm)} mm between the outer sensors",
                time,
                n=n,
                marked=marked,
            )
            for name, time in speed.curtains
        ),
    ]
    return (
        Figure.of(EFFECTIVE, speed.effective, n=n, marked=marked),
        compared.figure(),
        *(replace(one, k95=K_SHOWN) for one in told),
    )


def _speed(found: Measured, group: tuple[int, ...]) -> Speed:
    """Means of the firings of one setting."""
    firings = [found.firings[i] for i in group]

    def of(pick: Callable[[Firing], Quantity]) -> Quantity:
        return mean_of([pick(firing) for firing in firings], SHARED)

    gates = [firing.uneven_gate for firing in firings if firing.uneven_gate is not None]
    return Speed(
        firings=tuple(i + 1 for i in group),
        points=tuple(
            Exposure(at_mm=one.at_mm, exposure=mean_of([firing.sensors[k].exposure for firing in firings], SHARED))
            for k, one in enumerate(firings[0].sensors)
        ),
        effective=of(lambda firing: firing.effective),
        uneven=of(lambda firing: firing.uneven),
        uneven_gate=mean_of(gates, SHARED) if len(gates) == len(firings) else None,
        first=of(lambda firing: firing.first.between),
        second=of(lambda firing: firing.second.between),
        later=of(lambda firing: firing.later),
    )
