"""The shape of one firing: its level, its times, and how each of them depends on every sample.

Smoothed light finds the places; the samples themselves give the values: a mean over the plateau, a sum over the pulse,
a short parabola at each crossing. Each value is linear in the samples to first order,

    d(value) = Σ w_i d(light_i),

and comes with these weights w. They turn the noise of the recording, whatever its spectrum, into an uncertainty
(`Noise.u_of`); no model of the pulse is needed.

Every derivative here comes from one line. If the light passes the part p of the level L at time t, then
light(t) = p L. Let the light change by δ there and the level by dL: slope dt + δ = p dL, so

    dt = (p dL - δ) / slope.

A width is the later crossing less the earlier one, and its derivatives are the difference of theirs.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.bounce import bounce_threshold, dipped, reopened
from camerawright.numeric.crossing import FOOT, Crossing, Crossings
from camerawright.numeric.plateau import ADVICE_EDGE, level_weights_of, plateau_of, smoothed
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_HIGH = 0.9  # of the firing's own top: where an opening ends and a closing begins
_U_BETWEEN_FOOT, _U_BETWEEN_HALF, _U_BETWEEN_SUM = 0.06, 0.03, 0.01  # samples; found by simulation


@dataclass(frozen=True)
class Timed:
    """A time, and its derivatives by everything that moves it.

    Attributes
    ----------
    value_s
        The time. [s]
    weights : shape (n,)
        By each sample of the window.
    per_level_s
        By a relative change of the level. [s]
    per_bend_s
        By the bend of a sensor that answers x + bend x (1 - x) to the light x. [s]
    per_lag2_1_s
        By the square of a lag that rise and fall share. [1/s]
    u_between
        Standard uncertainty of placing it between samples; the honesty tests hold it. [samples]
    """

    value_s: float
    weights: Floats
    per_level_s: float
    per_bend_s: float
    per_lag2_1_s: float
    u_between: float


@dataclass(frozen=True)
class Pulse:
    """One firing measured in its window; indices count from the window's start, times are in seconds."""

    light: Floats  # upright, coupling undone, baseline taken off
    dark: NDArray[np.bool_]  # what the baseline was taken from
    baseline: "Baseline"
    reach: tuple[int, int]  # first and last + 1 sample of the integral
    level: float
    level_weights: Floats  # zero if the level was given
    opens_to: float  # height of its own top, in levels: 1 unless the level was given
    top_weights: Floats  # of `opens_to`
    plateau: tuple[int, int]  # first and last + 1; empty if there is none
    plateau_slope: float  # change from one end of the plateau to the other, in levels
    slope_weights: Floats
    inner_level: float  # level of the inner half of the plateau or top, less the level, in levels
    inner_weights: Floats
    reopened: float  # how far it opened again after closing, in levels; 0 if that is not seen
    dipped: float  # how far it closed again after opening, in levels; 0 if that is not seen
    bounce_seen_from: float  # the smallest of either that would stand out from white noise, in levels
    tail: Timed  # light after the closing's foot over the foot's height: 0.83 of a lagging sensor's time constant
    # The tail over the time from half to foot. A sensor of lag τ falls as exp(-t/τ): half to foot is τ ln 5. The pulse
    # is held to end 0.8 τ ln 9 after the foot, so its tail is τ (1 - 9^-0.8): 0.51 in all. Blades that close with a
    # constant acceleration leave light as (end - t)²: (√0.1/3) over √0.5 - √0.1, 0.27
    tail_per_edge: float
    half_up_s: float
    half_down_s: float
    total: Timed
    half_peak: Timed
    effective: Timed
    opening: Timed
    closing: Timed
    edges: "_Edges"

    @property
    def has_plateau(self) -> bool:
        """Whether the shutter stood fully open."""
        return self.plateau[1] > self.plateau[0]

    def passing(self, part: float, *, rising: bool) -> Timed:
        """Time when the light passes a part of the level, from the window's start.

        Raises
        ------
        NotMeasurable
            The edge cannot be followed to there.
        """
        return self.edges.passing(part, rising=rising)


def measure_pulse(
    light: Floats, dark: NDArray[np.bool_], sigma: float, rate_hz: float, full_open: float | None = None
) -> Pulse:
    """Measure the only pulse in a window.

    Parameters
    ----------
    light : shape (n,)
        The undone light, upward, on any straight line.
    dark : shape (n,)
        Which samples are surely dark; some on both sides.
    sigma
        Standard deviation of the noise of a sample.
    rate_hz
        Sampling rate. [Hz]
    full_open
        The level, if it is known from elsewhere; else it is that of the plateau, or of the pulse's own top.

    Raises
    ------
    NotMeasurable
        The pulse does not stand out from the noise, or an edge cannot be followed.

    Notes
    -----
    effective = Σ light / level; so d(effective) = (d(Σ light) - effective dL) / L.

    Bend: where the light is x in levels, the sensor adds bend x (1 - x). At a crossing of the part p that is
    δ = bend p (1 - p) L; over the pulse it adds its sum. The level itself stays, as x (1 - x) is 0 at 1.

    Lag: a sensor with the time constant τ turns light f(t) into f(t - τ) + f''(t) τ²/2 + ... The delay τ is the same at
    both ends and no width feels it; what is left is δ = (curvature/2) τ².

    The tail is ∫light after the foot over the foot's height. That height is a part of the level, so a relative change
    of the level changes the tail by minus itself; the foot then moves too, which is left out.
    """
    found = _Places(light, dark, sigma, rate_hz, full_open)
    light, level, up, down = found.light, found.level, found.up, found.down
    baseline, level_weights, inner_weights = found.baseline, found.level_weights, found.inner_weights
    plateau, (first, last), high = found.plateau, found.reach, found.high
    for rising, edge in ((True, up), (False, down)):
        edge[0.5] = found.crossings.at(0.5, rising=rising)
    tail = _Tail(light, down, found.closed, level)
    sums = np.zeros_like(light)
    sums[first:last] = 1.0
    integral = float(sums @ light)
    dt = 1 / rate_hz

    def width_of(high: tuple[Crossing, float], low: tuple[Crossing, float]) -> Timed:
        """Time between two crossings; each moves as dt = (p dL - δ) / slope says."""
        ends = ((1.0, *high), (-1.0, *low))
        weights = sum(
            (sign * (part * level_weights - c.weights) / c.slope for sign, c, part in ends), np.zeros(len(light))
        )
        per_level = sum(sign * part * level / c.slope for sign, c, part in ends)
        per_bend = -sum(sign * part * (1 - part) * level / c.slope for sign, c, part in ends)
        per_lag2 = -sum(sign * c.curvature / c.slope for sign, c, part in ends) / 2
        return Timed(
            (high[0].at - low[0].at) * dt,
            baseline.taken_off(weights) * dt,
            per_level * dt,
            per_bend * dt,
            per_lag2 / dt,
            _U_BETWEEN_FOOT if FOOT in (high[1], low[1]) else _U_BETWEEN_HALF,
        )

    effective = integral / level
    part = light[first:last] / level
    slope_weights = _slope_weights(light, plateau) / level
    return Pulse(
        light=light,
        dark=dark,
        baseline=baseline,
        reach=(first, last),
        level=level,
        level_weights=baseline.taken_off(level_weights),
        opens_to=found.opens_to,
        top_weights=baseline.taken_off(found.top_weights),
        plateau=plateau,
        plateau_slope=float(slope_weights @ light),
        slope_weights=baseline.taken_off(slope_weights),
        inner_level=float((inner_weights - level_weights) @ light) / level,
        inner_weights=baseline.taken_off((inner_weights - level_weights) / level),
        reopened=found.reopened,
        dipped=dipped(light, plateau, level, sigma, rate_hz),
        bounce_seen_from=bounce_threshold(level, sigma, rate_hz) / level,
        tail=Timed(tail.value * dt, baseline.taken_off(tail.weights) * dt, -tail.value * dt, 0.0, 0.0, _U_BETWEEN_HALF),
        tail_per_edge=tail.value / (down[FOOT].at - down[0.5].at),
        half_up_s=up[0.5].at * dt,
        half_down_s=down[0.5].at * dt,
        total=width_of((down[FOOT], FOOT), (up[FOOT], FOOT)),
        half_peak=width_of((down[0.5], 0.5), (up[0.5], 0.5)),
        effective=Timed(
            effective * dt,
            baseline.taken_off((sums - effective * level_weights) / level) * dt,
            -effective * dt,
            float(part @ (1 - part)) * dt,
            0.0,
            _U_BETWEEN_SUM,
        ),
        opening=width_of((up[high], high), (up[FOOT], FOOT)),
        closing=width_of((down[FOOT], FOOT), (down[high], high)),
        edges=_Edges(found.crossings, baseline, level, level_weights, dt),
    )


def pulse_reach(
    light: Floats, dark: NDArray[np.bool_], sigma: float, rate_hz: float, full_open: float | None = None
) -> tuple[int, int]:
    """First and last + 1 sample of the only pulse in a window; takes the same and raises as `measure_pulse`."""
    return _Places(light, dark, sigma, rate_hz, full_open).reach


class _Places:
    """The level of a pulse, and the places where the light crosses parts of it."""

    def __init__(
        self, light: Floats, dark: NDArray[np.bool_], sigma: float, rate_hz: float, full_open: float | None
    ) -> None:
        self.baseline = Baseline(dark)
        self.light = light = light - self.baseline.of(light)
        smooth, width = smoothed(light, ~dark, sigma)
        level, self.plateau = plateau_of(light, smooth, ~dark, width, sigma, rate_hz)
        self.level_weights, self.inner_weights = level_weights_of(smooth, level, self.plateau, width, sigma)
        self.level = level = float(self.level_weights @ light)
        if level < 4 * sigma:
            raise NotMeasurable("a firing hardly stands out from the noise", ADVICE_EDGE)
        self.opens_to, self.top_weights = 1.0, self.level_weights / level
        if full_open is not None:
            self.opens_to, self.top_weights = level / full_open, self.level_weights / full_open
            self.level = level = full_open
            self.level_weights = self.inner_weights = np.zeros_like(light)
        self.high = high = _HIGH * min(1.0, self.opens_to)
        self.crossings = crossing = Crossings(light, smooth, level, self.plateau, sigma, high)
        self.up = {part: crossing.at(part, rising=True) for part in (FOOT, high)}
        self.down = {part: crossing.at(part, rising=False) for part in (FOOT, high)}
        first, self.closed = _reach(self.up, self.down, high, dark)
        self.reopened, more = reopened(light[self.closed :], level, sigma, rate_hz)
        self.reach = first, self.closed + more
        if self.reach[1] <= first:
            raise NotMeasurable("an edge of a firing is lost in the noise", ADVICE_EDGE)


class Baseline:
    """The straight line through the dark on both sides.

    With q0, q1 a constant and a straight line that are orthonormal over the dark, the least-squares line is
    Σ q_i (q_i · light over the dark). Taking it off is linear too: weights w on what is left are, on the light itself,
    w - Σ q_i (q_i · w), the subtraction in the dark only.
    """

    def __init__(self, dark: NDArray[np.bool_]) -> None:
        t = np.linspace(-1.0, 1.0, len(dark))
        mean, norm = t[dark].mean(), np.sqrt(float(dark.sum()))
        tilted = t - mean
        self._lines = np.stack([np.full(len(dark), 1 / norm), tilted / np.sqrt(np.sum(tilted[dark] ** 2))])
        self._dark = dark

    def of(self, light: Floats) -> Floats:
        """Fit the line under a window; shape (n,)."""
        return np.asarray((self._lines[:, self._dark] @ light[self._dark]) @ self._lines)

    def taken_off(self, weights: Floats) -> Floats:
        """Turn weights on the light without its line into weights on the light with it."""
        off = weights.copy()
        off[self._dark] -= (self._lines @ weights) @ self._lines[:, self._dark]
        return off


@dataclass(frozen=True)
class _Edges:
    """What is needed to tell when the light passes any part of the level."""

    crossings: Crossings
    baseline: Baseline
    level: float
    level_weights: Floats
    dt_s: float

    def passing(self, part: float, *, rising: bool) -> Timed:
        """Time one passing; its derivatives are those of one end of a width."""
        c = self.crossings.at(part, rising=rising)
        weights = self.baseline.taken_off((part * self.level_weights - c.weights) / c.slope)
        per_level = part * self.level / c.slope
        return Timed(
            c.at * self.dt_s,
            weights * self.dt_s,
            per_level * self.dt_s,
            -(1 - part) * per_level * self.dt_s,
            -c.curvature / c.slope / 2 / self.dt_s,
            _U_BETWEEN_HALF if part == 0.5 else _U_BETWEEN_FOOT,
        )


class _Tail:
    """The sum of the light after the closing's foot, over the light at the foot. [samples]"""

    def __init__(self, light: Floats, down: dict[float, Crossing], last: int, level: float) -> None:
        start = int(np.ceil(down[FOOT].at))
        self.weights = np.zeros_like(light)
        self.weights[start:last] = 1 / (FOOT * level)
        # trapezium rule: the sum counts the first sample whole, half of it too much; and from the foot (height 1) to
        # that sample (height about 1) the area is their distance
        self.value = float(self.weights @ light) + (start - down[FOOT].at) - 0.5


def _slope_weights(light: Floats, plateau: tuple[int, int]) -> Floats:
    """Weights of the change of the light from one end of the plateau to the other."""
    # the least-squares slope over t is Σ t y / Σ t²; t runs from -1/2 to 1/2, so slope and change are the same
    weights = np.zeros_like(light)
    n = plateau[1] - plateau[0]
    if n >= 8:
        t = np.linspace(-0.5, 0.5, n)
        weights[slice(*plateau)] = t / (t @ t)
    return weights


def _reach(
    up: dict[float, Crossing], down: dict[float, Crossing], high: float, dark: NDArray[np.bool_]
) -> tuple[int, int]:
    """First and last + 1 sample of the integral: beyond each foot by about the length of its edge."""
    first = up[FOOT].at - 1.0 * (up[high].at - up[FOOT].at)
    last = down[FOOT].at + 0.8 * (down[FOOT].at - down[high].at)
    return max(0, int(first)), min(len(dark), int(np.ceil(last)) + 1)
