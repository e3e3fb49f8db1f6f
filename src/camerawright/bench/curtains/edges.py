"""What one sensor sees of one firing: light between two edges that pass a disc, fitted whole.

A straight edge that crosses a disc uncovers it by a circle's segment; that the light comes from a round pupil smears
the edge by another such shape. Both are symmetric, so the half level of a full edge is when the curtain passed the
middle of the sensor, whatever the width and the smear.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

# nodes and weights for means over a semicircle's shape, 2/pi √(1 - x²): Gauss-Chebyshev of the second kind with n = 12,
# x_i = cos(pi i/13), w_i = 2/13 sin²(pi i/13), exact to a polynomial of 2 n - 1 = 23. Textbooks, from memory
_ANGLES = np.pi * np.arange(1, 13) / 13
_NODES, _WEIGHTS = np.cos(_ANGLES), np.sin(_ANGLES) ** 2 * 2 / 13
_SMEAR, _U_SMEAR = 0.15, 0.15  # part of an edge that is smear, where noise hides it
_MAX_SMEAR = 0.5
_BRIEF = 0.25  # light for less than this part of the longest is a click; what is longer may be the curtain thrown back


@dataclass(frozen=True)
class Passage:
    """A firing at one sensor, times in seconds from the window's first sample.

    `first_s` and `second_s` are when the curtains passed the middle of the sensor; `edges_s` how long each edge took
    from the first to the last ray. `per_bend_s` and `per_level_s` are what a bend of the sensor and a relative change
    of the level do to either; `per_fall_lag` what a sensor does that lags longer where the light falls, which moves
    the second alone where the sensor is fully lit. `rms` is that of what the model leaves.
    """

    first_s: float
    second_s: float
    level: float
    edges_s: tuple[float, float]
    smear: float
    per_bend_s: Floats
    per_level_s: Floats
    per_fall_lag: Floats
    rms: float

    @property
    def exposure_s(self) -> float:
        """From the one curtain to the other."""
        return self.second_s - self.first_s

    @property
    def edge_s(self) -> float:
        """Mean duration of the edges."""
        return sum(self.edges_s) / 2

    @property
    def fullness(self) -> float:
        """Exposure over the mean duration of the edges; from 1 on the sensor is fully lit at some time."""
        return self.exposure_s / self.edge_s


@dataclass(frozen=True)
class Fit:
    """A passage as fitted to n samples: the model, shape (n,), and what each of them does to either time, (2, n)."""

    passage: Passage
    model: Floats
    weights: Floats


def uncovered(u: Floats, smear: float) -> tuple[Floats, Floats]:
    """Part of a smeared disc that an edge has passed, and its derivative.

    Parameters
    ----------
    u : shape (n,)
        Where the edge is, in whole widths of disc and smear from the middle: all is dark at -1/2, lit at 1/2.
    smear
        The part of that width that is smear, up to 1/2.

    Notes
    -----
    A disc of radius 1 cut at z shows (1/2 + (z √(1 - z²) + asin z)/π) of itself: the integral of its chord 2 √(1 - z²)
    from -1 to z, over its area π. So the slope is 2/π √(1 - z²) over the half width. The light of a round pupil falls
    at slopes that are spread as the chords of a disc, a semicircle's shape: the smear is a mean over that.
    """
    part, slope = (u > 0).astype(np.float64), np.zeros_like(u)
    at = np.flatnonzero(np.abs(u) < 0.5)
    half = (1 - smear) / 2
    z = np.clip((u[at, None] - smear / 2 * _NODES) / half, -1, 1)
    chord = np.sqrt(1 - z**2)
    part[at] = (0.5 + (z * chord + np.arcsin(z)) / np.pi) @ _WEIGHTS
    slope[at] = (2 / np.pi * chord) @ _WEIGHTS / half
    return part, slope


@dataclass(frozen=True)
class Start:
    """First guess of a passage; with a `level` that, the duration of both edges and their smear are taken as known."""

    first_s: float
    second_s: float
    edge_s: float
    level: float | None = None
    edges_s: tuple[float, float] = (0.0, 0.0)
    smear: float = _SMEAR


def fit_passage(light: Floats, use: NDArray[np.bool_], start: Start, sigma: float, rate_hz: float) -> Fit:
    """Fit two edges, a level and a straight line beneath.

    Parameters
    ----------
    light : shape (n,)
        The undone light, upright.
    use : shape (n,)
        Which samples count.
    start
        First guess.
    sigma
        Standard deviation of the noise of a sample.
    rate_hz
        Sampling rate. [Hz]

    Raises
    ------
    NotMeasurable
        The two edges cannot be told.

    Notes
    -----
    Least squares over (t1, t2, edge 1, edge 2, smear); line and level are linear and solved for at every step (variable
    projection, [golub-pereyra-1973], from memory). The smear hardly moves a time; a weak prior, one more row of
    residuals, keeps it where noise hides it.
    """
    from scipy.optimize import least_squares  # noqa: PLC0415  slow to import

    t = np.arange(len(light)) / rate_hz
    fitted = _Fitted(t, light, use, start, sigma)
    guess = np.array([start.first_s, start.second_s, *([start.edge_s] * 2), _SMEAR][: fitted.n_shape])
    scale = np.array([start.edge_s] * (fitted.n_shape - 1) + [1.0]) if start.level is None else start.edge_s
    low = np.array([-np.inf, -np.inf, start.edge_s / 8, start.edge_s / 8, 0.0][: fitted.n_shape])
    high = np.array([np.inf, np.inf, start.edge_s * 8, start.edge_s * 8, _MAX_SMEAR][: fitted.n_shape])
    found = least_squares(
        fitted.residuals, guess, jac=fitted.jacobian, bounds=(low, high), x_scale=scale, max_nfev=60, xtol=1e-6
    )
    if not 0 < found.x[0] < found.x[1] < t[-1]:
        raise _lost()
    return fitted.fit(found.x)


def _lost() -> NotMeasurable:
    """No two edges can be told."""
    return NotMeasurable(
        "the edges of a firing cannot be followed",
        "Take other light away and use a steady lamp: what a sensor sees must be light between two edges",
    )


class _Fitted:
    """The model of a window, its linear part solved for at every step (variable projection)."""

    def __init__(self, t: Floats, light: Floats, use: NDArray[np.bool_], start: Start, sigma: float) -> None:
        self._t, self._light, self._use, self._start = t, light, use, start
        self._prior = sigma / _U_SMEAR
        self._line = np.stack([np.ones_like(t), (t - t.mean()) / (t[-1] - t[0])], axis=1)
        self._used_t = t[use]
        self._basis = np.linalg.qr(self._line[use])[0]
        self._upright = self._off_line(light[use])
        self._last: tuple[bytes, _Step] | None = None
        self.n_shape = 5 if start.level is None else 2

    def _off_line(self, columns: Floats) -> Floats:
        """What a straight line leaves of used samples, or of columns of them."""
        return np.asarray(columns - self._basis @ (self._basis.T @ columns))

    def _edges(self, shape: Floats) -> Floats:
        """Duration of either edge."""
        return shape[2:4] if self._start.level is None else np.array(self._start.edges_s)

    def _smear(self, shape: Floats) -> float:
        """Part of an edge that is smear."""
        return float(shape[4]) if self._start.level is None else self._start.smear

    def _parts(self, shape: Floats, t: Floats) -> tuple[Floats, Floats]:
        """Unit pulse, and the columns d(pulse)/d(t1, t2, edge 1, edge 2, smear)."""
        smear, edges = self._smear(shape), self._edges(shape)
        u = [(t - time) / edge for time, edge in zip(shape[:2], edges, strict=True)]
        (up, up_slope), (down, down_slope) = (uncovered(one, smear) for one in u)
        columns = [-up_slope / edges[0], down_slope / edges[1]]
        if self._start.level is None:
            more = smear - 0.02 if smear > _MAX_SMEAR / 2 else smear + 0.02
            smeared = (uncovered(u[0], more)[0] - up - uncovered(u[1], more)[0] + down) / (more - smear)
            columns += [-up_slope * u[0] / edges[0], down_slope * u[1] / edges[1], smeared]
        return up - down, np.stack(columns, axis=1)

    def _step(self, shape: Floats) -> "_Step":
        """Pulse, slopes and level at a shape, kept as residuals and their derivatives are asked for in turn."""
        key = shape.tobytes()
        if self._last is None or self._last[0] != key:
            pulse, slopes = self._parts(shape, self._used_t)
            pulse = self._off_line(pulse)
            level = self._start.level
            if level is None:
                level = float(pulse @ self._upright) / max(float(pulse @ pulse), 1e-300)
            self._last = key, _Step(pulse, slopes, level)
        return self._last[1]

    def residuals(self, shape: Floats) -> Floats:
        """What the best line and level leave, and the prior's row."""
        step = self._step(shape)
        left = step.level * step.pulse - self._upright
        return np.append(left, (shape[4] - _SMEAR) * self._prior) if self._start.level is None else left

    def jacobian(self, shape: Floats) -> Floats:
        """Of the residuals: the shape columns less what line and level take of them.

        The change of the best level, times what is left, is small and left out ([kaufman-1975], from memory).
        """
        step = self._step(shape)
        used = self._off_line(step.level * step.slopes)
        if self._start.level is not None:
            return used
        unit = step.pulse / max(float(np.linalg.norm(step.pulse)), 1e-300)
        return np.vstack([used - np.outer(unit, unit @ used), self._prior * np.eye(5)[4]])

    def fit(self, shape: Floats) -> Fit:
        """The passage, with what every sample, the level and a bend do to the two times.

        The two first rows of the pseudo-inverse of the design are what a small change of each sample does to the times.
        So a change of the light's shape moves them by `weights` times it: a bend by level p (1 - p), p the pulse from 0
        to 1; a lag by -dL/dt times its length, to first order.
        """
        pulse, slopes = self._parts(shape, self._t)
        level, edges = self._step(shape).level, self._edges(shape)
        under = np.linalg.lstsq(self._line[self._use], (self._light - level * pulse)[self._use], rcond=None)[0]
        model = self._line @ under + level * pulse
        known = self._start.level is not None
        columns = self._line if known else np.column_stack([self._line, pulse])
        design = np.column_stack([level * slopes, columns])[self._use]
        if not known:
            design = np.vstack([design, self._prior * np.eye(design.shape[1])[4]])
        norm = np.linalg.norm(design, axis=0)
        if not np.all(norm > 0):  # an edge between two samples: no curtain is as fast
            raise _lost()
        inverse = (np.linalg.pinv(design / norm) / norm[:, None])[:2]
        weights = np.zeros((2, len(self._t)))
        weights[:, self._use] = inverse[:, : int(self._use.sum())]
        passage = Passage(
            first_s=float(shape[0]),
            second_s=float(shape[1]),
            level=level,
            edges_s=(float(edges[0]), float(edges[1])),
            smear=self._smear(shape),
            per_bend_s=weights @ (level * pulse * (1 - pulse)),
            per_level_s=-(weights @ (level * pulse)) if known else np.zeros(2),
            # a lag adds the light's own slope, to first order
            per_fall_lag=weights @ np.maximum(0.0, -np.gradient(level * pulse, self._t)),
            rms=float(np.sqrt(np.mean((model - self._light)[self._use] ** 2))),
        )
        return Fit(passage, model, weights)


@dataclass(frozen=True)
class _Step:
    """Over the used samples: unit pulse off the straight line, its slopes by shape, and the level."""

    pulse: Floats
    slopes: Floats
    level: float


def first_guess(light: Floats, sigma: float, rate_hz: float, shortest_edge_s: float) -> Start | None:
    """Where the light of a window with a flat dark is first above half its height for long; None where none is.

    Parameters
    ----------
    light : shape (n,)
        Upright, its dark at zero.
    sigma
        Noise of a sample.
    rate_hz
        Sampling rate. [Hz]
    shortest_edge_s
        No edge can be shorter.
    """
    width = max(3, round(0.1e-3 * rate_hz)) | 1
    smooth = np.convolve(light, np.full(width, 1 / width), mode="same")
    top = float(np.quantile(smooth[smooth > smooth.max() / 2], 0.6)) if smooth.max() > 0 else 0.0
    if top < 8 * sigma / math.sqrt(width):
        return None
    above = np.concatenate([[False], smooth > top / 2, [False]]).astype(int)
    ups, downs = np.flatnonzero(np.diff(above) == 1), np.flatnonzero(np.diff(above) == -1)
    i = int(np.argmax(downs - ups > _BRIEF * (downs - ups).max()))
    first, last = int(ups[i]), int(downs[i])
    steep = [abs(float(smooth[min(at + width, len(light) - 1)] - smooth[max(at - width, 0)])) for at in (first, last)]
    edge_s = 1.3 * 2 * width / rate_hz * top / max(*steep, 1e-12)
    return Start(first / rate_hz, last / rate_hz, max(shortest_edge_s, edge_s))
