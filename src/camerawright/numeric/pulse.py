"""The shape of one firing: its places, its level, its times, and what each takes from every sample.

The level finds the places, the data give the values: a mean over the plateau, a sum over the pulse, a short parabola
at each crossing. All are linear in the samples to first order, so each time comes with the weights that turn the noise
of the recording, whatever its spectrum, into its uncertainty.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.plateau import ADVICE_EDGE, level_weights_of, plateau_of, running_mean, smoothed
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_FOOT = 0.1  # the level at which the total time is taken
_HIGH = 0.9  # of the firing's own top: where an opening ends and a closing begins
_U_BETWEEN_FOOT, _U_BETWEEN_HALF, _U_BETWEEN_SUM = 0.06, 0.03, 0.01
_BOUNCE_S = 0.2e-3
_BOUNCE_WITHIN_S, _DIP_WITHIN_S = 12e-3, 6e-3
_STEEP = 0.15  # half the length of a crossing's parabola, in edge durations


@dataclass(frozen=True)
class Timed:
    """A time [s], and what moves it: each sample (`weights`), the level as a whole, and a bend of the sensor.

    `weights` has the window's shape; `per_level_s` is d(time) per relative change of the level, `per_bend_s` per unit
    of bend (response x + bend x (1 - x)).
    """

    value_s: float
    weights: Floats
    per_level_s: float
    per_bend_s: float
    per_lag2_1_s: float  # d(time) / d(lag²): what an equal lag of rise and fall leaves at a curved edge
    u_between: float  # u of placing it between samples, in samples; the honesty test holds these


@dataclass(frozen=True)
class Pulse:
    """One firing measured in its window; indices count from the window's start, times are in seconds."""

    light: Floats  # undone, baseline off, upright
    dark: NDArray[np.bool_]  # what the baseline was taken from
    baseline: "Baseline"
    reach: tuple[int, int]  # first and last + 1 sample of the integral
    level: float
    level_weights: Floats  # nothing where the level was given
    opens_to: float  # height of its own top, in levels: 1 unless the level was given
    top_weights: Floats  # those of its own top, over the level
    plateau: tuple[int, int]  # first and last + 1; empty where there is none
    plateau_slope: float  # change along the plateau, in levels
    slope_weights: Floats
    inner_level: float  # level of the inner part of what the level was taken from, less the level, in levels
    inner_weights: Floats
    reopened: float  # how far it opened again after closing, in levels; 0 where that is not seen
    dipped: float  # how far it closed again after opening, in levels; 0 where that is not seen
    bounce_seen_from: float  # levels: the smallest of either that stands out of white noise
    tail: Timed  # the light after the closing's foot over the foot's level: a lagging sensor's time constant or less
    tail_per_edge: float  # the tail over the time from half to foot: 0.27 for blades, 0.62 for a sensor that lags
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
        """When the light passes a part of the level, from the window's start.

        Raises
        ------
        NotMeasurable
            The edge cannot be followed to there.
        """
        return self.edges.passing(part, rising=rising)


@dataclass(frozen=True)
class _Crossing:
    """Where the light passes a level."""

    at: float  # [samples]
    slope: float  # [1/sample]
    curvature: float  # [1/sample²]
    weights: Floats  # of the light at the crossing


def measure_pulse(
    light: Floats, dark: NDArray[np.bool_], sigma: float, rate_hz: float, full_open: float | None = None
) -> Pulse:
    """Measure the only pulse in a window.

    Parameters
    ----------
    light : shape (n,)
        The undone light, upward, any straight line on it.
    dark : shape (n,)
        Where there surely was no light, on both sides.
    sigma
        Standard deviation of the noise of a sample.
    rate_hz
        Sampling rate. [Hz]
    full_open
        The level, where it is known from elsewhere; else that of the plateau, or of the pulse's own top.

    Raises
    ------
    NotMeasurable
        The pulse does not stand out of the noise, or an edge cannot be followed.
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

    def width_of(high: tuple[_Crossing, float], low: tuple[_Crossing, float]) -> Timed:
        """Time between two crossings; each moves with the light there and with the level."""
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
            _U_BETWEEN_FOOT if _FOOT in (high[1], low[1]) else _U_BETWEEN_HALF,
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
        dipped=_dipped(light, plateau, level, sigma, rate_hz),
        bounce_seen_from=_bounce_threshold(level, sigma, rate_hz) / level,
        tail=Timed(tail.value * dt, baseline.taken_off(tail.weights) * dt, -tail.value * dt, 0.0, 0.0, _U_BETWEEN_HALF),
        tail_per_edge=tail.value / (down[_FOOT].at - down[0.5].at),
        half_up_s=up[0.5].at * dt,
        half_down_s=down[0.5].at * dt,
        total=width_of((down[_FOOT], _FOOT), (up[_FOOT], _FOOT)),
        half_peak=width_of((down[0.5], 0.5), (up[0.5], 0.5)),
        effective=Timed(
            effective * dt,
            baseline.taken_off((sums - effective * level_weights) / level) * dt,
            -effective * dt,
            float(part @ (1 - part)) * dt,
            0.0,
            _U_BETWEEN_SUM,
        ),
        opening=width_of((up[high], high), (up[_FOOT], _FOOT)),
        closing=width_of((down[_FOOT], _FOOT), (down[high], high)),
        edges=_Edges(found.crossings, baseline, level, level_weights, dt),
    )


def pulse_reach(
    light: Floats, dark: NDArray[np.bool_], sigma: float, rate_hz: float, full_open: float | None = None
) -> tuple[int, int]:
    """First and last + 1 sample of the only pulse in a window; takes and raises what `measure_pulse` does."""
    return _Places(light, dark, sigma, rate_hz, full_open).reach


class _Places:
    """The level of a pulse and where the light crosses parts of it."""

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
            raise NotMeasurable("a firing hardly stands out of the noise", ADVICE_EDGE)
        self.opens_to, self.top_weights = 1.0, self.level_weights / level
        if full_open is not None:
            self.opens_to, self.top_weights = level / full_open, self.level_weights / full_open
            self.level = level = full_open
            self.level_weights = self.inner_weights = np.zeros_like(light)
        self.high = high = _HIGH * min(1.0, self.opens_to)
        self.crossings = crossing = _Crossings(light, smooth, level, self.plateau, sigma, high)
        self.up = {part: crossing.at(part, rising=True) for part in (_FOOT, high)}
        self.down = {part: crossing.at(part, rising=False) for part in (_FOOT, high)}
        first, self.closed = _reach(self.up, self.down, high, dark)
        self.reopened, more = _reopened(light[self.closed :], level, sigma, rate_hz)
        self.reach = first, self.closed + more
        if self.reach[1] <= first:
            raise NotMeasurable("an edge of a firing is lost in the noise", ADVICE_EDGE)


class Baseline:
    """The straight line through the dark on both sides."""

    def __init__(self, dark: NDArray[np.bool_]) -> None:
        t = np.linspace(-1.0, 1.0, len(dark))
        mean, norm = t[dark].mean(), np.sqrt(float(dark.sum()))
        tilted = t - mean
        self._lines = np.stack([np.full(len(dark), 1 / norm), tilted / np.sqrt(np.sum(tilted[dark] ** 2))])
        self._dark = dark

    def of(self, light: Floats) -> Floats:
        """The line under a window."""
        return np.asarray((self._lines[:, self._dark] @ light[self._dark]) @ self._lines)

    def taken_off(self, weights: Floats) -> Floats:
        """Weights on the light with its line, from weights on the light without it."""
        off = weights.copy()
        off[self._dark] -= (self._lines @ weights) @ self._lines[:, self._dark]
        return off


class _Crossings:
    """Finds where the light passes a part of the level, by a short parabola about the first guess."""

    def __init__(
        self, light: Floats, smooth: Floats, level: float, plateau: tuple[int, int], sigma: float, high: float
    ) -> None:
        self._light, self._smooth, self._level = light, smooth, level
        self._steep = _STEEP * float(np.clip((sigma / (0.01 * level)) ** 0.4, 0.8, 2.0))
        top = int(np.argmax(smooth))
        self._top = plateau if plateau[0] < plateau[1] else (top, top + 1)
        self._edge = {rising: self._duration(rising, high) for rising in (True, False)}

    def _guess(self, part: float, rising: bool) -> float:
        """The crossing of the smoothed light nearest to the plateau, between samples."""
        level, smooth = part * self._level, self._smooth
        if rising:
            below = np.flatnonzero(smooth[: self._top[0] + 1] < level)
            i = int(below[-1]) if below.size else -1
            j = i + 1
        else:
            below = np.flatnonzero(smooth[self._top[1] - 1 :] < level) + self._top[1] - 1
            i = int(below[0]) if below.size else -1
            j = i - 1
        if i < 0 or smooth[j] == smooth[i]:
            raise NotMeasurable("an edge of a firing cannot be followed down to the dark", ADVICE_EDGE)
        return i + (j - i) * float((level - smooth[i]) / (smooth[j] - smooth[i]))

    def _duration(self, rising: bool, high: float) -> float:
        """From foot to nearly open. [samples]"""
        return abs(self._guess(high, rising) - self._guess(_FOOT, rising))

    def at(self, part: float, *, rising: bool) -> _Crossing:
        """The crossing of a part of the level."""
        guess = self._guess(part, rising)
        reach = max(2.0, self._steep * self._edge[rising])
        first, last = max(0, int(np.ceil(guess - reach))), min(len(self._light) - 1, int(guess + reach))
        if last < first:
            raise NotMeasurable("an edge of a firing cannot be followed down to the dark", ADVICE_EDGE)
        t: Floats = np.arange(first, last + 1, dtype=np.float64) - guess
        pseudo = _parabola_weights(t, reach)
        fit = pseudo @ self._light[first : last + 1]
        fit = np.concatenate([fit, np.zeros(3 - len(fit))])
        shift = _root(fit - np.array([part * self._level, 0, 0]), reach)
        slope = float(fit[1] + 2 * fit[2] * shift)
        if slope * (1 if rising else -1) <= 0:
            raise NotMeasurable("an edge of a firing is lost in the noise", ADVICE_EDGE)
        weights = np.zeros_like(self._light)
        weights[first : last + 1] = np.power(shift, np.arange(len(pseudo))) @ pseudo
        return _Crossing(guess + shift, slope, float(2 * fit[2]), weights)


@dataclass(frozen=True)
class _Edges:
    """What it takes to say when the light passes any part of the level."""

    crossings: _Crossings
    baseline: Baseline
    level: float
    level_weights: Floats
    dt_s: float

    def passing(self, part: float, *, rising: bool) -> Timed:
        """One passing, with what moves it."""
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


def _parabola_weights(t: Floats, reach: float) -> Floats:
    """Least-squares weights of the coefficients of a parabola over t; of a straight line through few points."""
    if len(t) < 5:
        return np.asarray(np.linalg.pinv(np.vander(t, 2, increasing=True)))
    design = np.vander(t / reach, 3, increasing=True)  # so scaled that the normal equations are well conditioned
    return np.asarray(np.linalg.solve(design.T @ design, design.T) / reach ** np.arange(3)[:, None])


def _root(fit: Floats, reach: float) -> float:
    """The zero of a parabola that is nearest to 0, held within a reach."""
    near = 0.0
    for _ in range(6):
        slope = fit[1] + 2 * fit[2] * near
        if slope == 0:
            break
        near = float(np.clip(near - (fit[0] + fit[1] * near + fit[2] * near**2) / slope, -reach, reach))
    return near


class _Tail:
    """The light after the closing's foot, over the level there. [samples]"""

    def __init__(self, light: Floats, down: dict[float, _Crossing], last: int, level: float) -> None:
        start = int(np.ceil(down[_FOOT].at))
        self.weights = np.zeros_like(light)
        self.weights[start:last] = 1 / (_FOOT * level)
        # the light between the crossing and the first sample, as a trapezium
        self.value = float(self.weights @ light) + (start - down[_FOOT].at) - 0.5


def _bounce_width(rate_hz: float) -> int:
    """Over how many samples a bounce is looked for: blades do not bounce faster."""
    return max(3, round(_BOUNCE_S * rate_hz)) | 1


def _bounce_threshold(level: float, sigma: float, rate_hz: float) -> float:
    """What is surely no noise."""
    return max(0.02 * level, 6 * sigma / float(np.sqrt(_bounce_width(rate_hz))))


def _reopened(after: Floats, level: float, sigma: float, rate_hz: float) -> tuple[float, int]:
    """Height (in levels) of a second opening soon after the closing, and after how many samples it is over."""
    width = _bounce_width(rate_hz)
    soon = running_mean(after, width)[: round(_BOUNCE_WITHIN_S * rate_hz)]
    seen = np.flatnonzero(soon[width:] > _bounce_threshold(level, sigma, rate_hz))
    if seen.size < width:
        return 0.0, 0
    return float(soon[width:].max()) / level, int(seen[-1]) + 3 * width


def _dipped(light: Floats, plateau: tuple[int, int], level: float, sigma: float, rate_hz: float) -> float:
    """Depth (in levels) of a closing soon after the opening, 0 where none is seen; noise sags less and later."""
    width = _bounce_width(rate_hz)
    open_n = plateau[1] - plateau[0]
    soon = running_mean(light, width)[plateau[0] : plateau[0] + min(open_n // 2, round(_DIP_WITHIN_S * rate_hz))]
    if len(soon) < 3 * width:
        return 0.0
    rest = float(np.median(light[plateau[0] + len(soon) : plateau[1]]))
    seen = np.count_nonzero(soon < rest - _bounce_threshold(level, sigma, rate_hz))
    return (rest - float(soon.min())) / level if width <= seen <= len(soon) // 2 else 0.0


def _slope_weights(light: Floats, plateau: tuple[int, int]) -> Floats:
    """Weights of the change of the light from one end of the plateau to the other, by a straight line."""
    weights = np.zeros_like(light)
    n = plateau[1] - plateau[0]
    if n >= 8:
        t = np.linspace(-0.5, 0.5, n)
        weights[slice(*plateau)] = t / (t @ t)
    return weights


def _reach(
    up: dict[float, _Crossing], down: dict[float, _Crossing], high: float, dark: NDArray[np.bool_]
) -> tuple[int, int]:
    """First and last + 1 sample of the integral: from the feet about as far out again as the edges are long."""
    first = up[_FOOT].at - 1.0 * (up[high].at - up[_FOOT].at)
    last = down[_FOOT].at + 0.8 * (down[_FOOT].at - down[high].at)
    return max(0, int(first)), min(len(dark), int(np.ceil(last)) + 1)
