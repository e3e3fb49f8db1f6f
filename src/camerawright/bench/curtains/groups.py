"""Firings at one speed taken together: means with their repeatability, and what the curtains do on the whole."""

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from camerawright.bench import comparison
from camerawright.bench.comparison import Comparison
from camerawright.bench.curtains.measure import CurtainResult
from camerawright.bench.curtains.results import Firing
from camerawright.handbook.exposure import marked_speed
from camerawright.handbook.tolerances import Profile
from camerawright.quantity import Quantity, Verdict, mean_of, verdict

SHARED = frozenset({
    "timing", "AC model", "sensor lag", "sensor linearity", "channel skew", "sensor position", "level",
    "motion between sensors", "lossy coding",
})  # fmt: skip
CAPPED = (
    "Not compared: at this speed part of the gate gets no light at all, which is outside any tolerance; the exposures"
    " at the other sensors stand with the firings."
)
_GAP_STOPS = 0.7  # speeds further apart are different settings


@dataclass(frozen=True)
class Speed:
    """Firings at one setting: which of the result's (`i_firings`), exposures by sensor, and the curtains' times.

    `points` are the mean exposures at the sensors from the near edge on; `later` by how much longer the second curtain
    takes between the outer sensors.
    """

    i_firings: tuple[int, ...]
    at_mm: tuple[float, ...]
    points: tuple[Quantity, ...]
    effective: Quantity
    uneven: Quantity
    uneven_gate: Quantity | None
    first: Quantity
    second: Quantity
    later: Quantity


@dataclass(frozen=True)
class Compared:
    """A speed against its mark: the mean over the gate, each sensor's point, and how even it is.

    `verdict` is that of the whole gate: within where every point and the evenness are. `limit_ev` is how uneven it may
    be: half the width of the tolerance; None without limits.
    """

    speed: Speed
    mean: Comparison
    points: tuple[Comparison, ...]
    limit_ev: float | None
    evenness: Verdict | None
    verdict: Verdict | None
    flags: tuple[str, ...]


def speeds(result: CurtainResult) -> tuple[Speed, ...]:
    """The settings found in a recording, fastest first; firings that are dark at a sensor are in none."""
    n = max(len(firing.sensors) for firing in result.firings)
    whole = [
        (math.log2(firing.effective.value), i)
        for i, firing in enumerate(result.firings)
        if len(firing.sensors) == n and not firing.dark_mm
    ]
    groups: list[list[int]] = []
    last = -math.inf
    for stops, i in sorted(whole):
        if stops > last + _GAP_STOPS or not groups:
            groups.append([])
        groups[-1].append(i)
        last = stops
    return tuple(_speed(result, tuple(sorted(group))) for group in groups)


def nearest_first(result: CurtainResult, marked: str) -> CurtainResult:
    """The result with the firings that `compare` compares before the others, each in order."""
    nearest = _nearest(result, marked)
    if nearest is None:
        return result
    rest = [i for i in range(len(result.firings)) if i not in nearest.i_firings]
    return replace(result, firings=tuple(result.firings[i] for i in (*nearest.i_firings, *rest)))


def _nearest(result: CurtainResult, marked: str) -> Speed | None:
    """The setting nearest to a mark; None where what is nearest leaves a sensor dark."""
    target_s = marked_speed(marked).target_s

    def stops(one: Firing | Speed) -> float:
        return abs(math.log2(one.effective.value / target_s))

    found = speeds(result)
    return None if not found or min(result.firings, key=stops).dark_mm else min(found, key=stops)


def compare(result: CurtainResult, marked: str, profile: Profile) -> Compared | None:
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
    speed = _nearest(result, marked)
    if speed is None:
        return None
    firings = [result.firings[i] for i in speed.i_firings]
    mean = comparison.compare([firing.effective for firing in firings], marked, profile, shared=SHARED)
    points = tuple(
        comparison.compare([firing.sensors[k].exposure for firing in firings], marked, profile, shared=SHARED)
        for k in range(len(speed.points))
    )
    limits = mean.limits
    if limits is None:
        return Compared(speed, mean, points, None, None, None, mean.flags)
    limit_ev = (limits.upper_ev - limits.lower_ev) / 2
    uneven = speed.uneven_gate or speed.uneven
    evenness = verdict(uneven.value, uneven.u, uneven.dof, -math.inf, limit_ev)
    verdicts = [(one.verdict, f"at {x:g} mm") for one, x in zip(points, speed.at_mm, strict=True)]
    verdicts.append((evenness, "evenness over the gate"))
    worst = min((one for one, _ in verdicts if one is not None), key=lambda one: one.probability)
    flags = [
        f"{word.capitalize()}: {', '.join(what)}."
        for word in ("outside", "undecided")
        if (what := [where for one, where in verdicts if one is not None and one.word == word])
    ]
    if any(firing.capped_mm for firing in result.firings):
        flags.append("Capped: part of the gate gets no light in some firings.")
    return Compared(speed, mean, points, limit_ev, evenness, worst, (*flags, *mean.flags))


def _speed(result: CurtainResult, group: tuple[int, ...]) -> Speed:
    """Means of the firings of one setting."""
    firings = [result.firings[i] for i in group]

    def of(pick: Callable[[Firing], Quantity]) -> Quantity:
        return mean_of([pick(firing) for firing in firings], SHARED)

    at_mm = tuple(one.at_mm for one in firings[0].sensors)
    points = tuple(of(lambda firing, k=k: firing.sensors[k].exposure) for k in range(len(at_mm)))  # type: ignore[misc]
    gates = [firing.uneven_gate for firing in firings if firing.uneven_gate is not None]
    return Speed(
        i_firings=group,
        at_mm=at_mm,
        points=points,
        effective=of(lambda firing: firing.effective),
        uneven=of(lambda firing: firing.uneven),
        uneven_gate=mean_of(gates, SHARED) if len(gates) == len(firings) else None,
        first=of(lambda firing: firing.first.between),
        second=of(lambda firing: firing.second.between),
        later=of(lambda firing: firing.later),
    )
