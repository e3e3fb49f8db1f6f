"""Undo the AC coupling of a sound card's input.

A capacitor C that feeds a resistor R is a high-pass. The input sees x less the capacitor's voltage, and that grows by
the current y/R: y' = x' - w y, with the angular corner w = 1/(R C). Two such stages in a row are (s + w1)(s + w2) Y =
s² X in Laplace's variable, which is

    x'' = y'' + a y' + b y    with a = w1 + w2 and b = w1 w2.

Integrate twice over a stretch of the recording:

    x = y + a∫y + b∬y + c + d t,

where c and d stand for what the capacitors held when the stretch began. One stage alone is b = 0.

A converter whose zero is off by o records y + o in place of y. Then ∫ is o t too large, which is a straight line and
goes into c and d; b∬ is b o t²/2 too large, which e t²/2 with e = -b o takes off.

Outside the firings the light x is zero, so there

    y = -a∫y - b∬y - e t²/2 - c - d t + noise.

That is linear in a, b, e, which the whole recording shares, and in c, d of each stretch: ordinary least squares over
the dark gives them all. Nobody need know the corners.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.firings import GUARD_S, Span
from camerawright.numeric.instrument import Instrument
from camerawright.numeric.samples import Samples
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

# Chosen, not cited; the honesty tests hold what comes of them.
_FIT_RATE_HZ = 2_000.0  # corners lie below 20 Hz: finer steps tell no more and cost more
_BEFORE_S = 0.3
_AFTER_S = 0.6
_LEAST_AFTER_S = 0.05
_SETTLED = 5.0  # time constants: exp(-5) = 0.7 % of the droop is left after them
_PASSES = 4
_LEAST_DARK = 8  # block means
_MOST_STRETCHES = 60


@dataclass(frozen=True)
class Coupling:
    """What undoes the input's high-pass.

    `a` [1/s] is the sum and `b` [1/s²] the product of the poles' angular corners; `e` [1/s²] is the converter's own
    zero times -b; `covariance` is theirs, shape (3, 3).
    """

    a: float
    b: float
    e: float
    covariance: Floats

    @property
    def corners_hz(self) -> tuple[float, ...]:
        """The corner frequencies, higher first; one where a second is not seen."""
        # w² - a w + b = 0; noise may carry b beyond a²/4, where both corners are a/2
        root = math.sqrt(max(0.0, self.a**2 / 4 - self.b))
        poles = (self.a / 2 + root, self.a / 2 - root) if self.b > 0 else (self.a,)
        return tuple(pole / (2 * math.pi) for pole in poles)


def terms(y: Floats, dt_s: float) -> Floats:
    """What a, b and e are multiplied by: the first and second integral of a stretch, and half its time squared.

    Parameters
    ----------
    y : shape (n,)
        The stretch as recorded.
    dt_s
        From one sample to the next. [s]

    Returns
    -------
    shape (3, n)
        Integrals from the first sample on, by the trapezium rule. [s, s², s²]
    """
    once = _running(y, dt_s)
    return np.stack([once, _running(once, dt_s), (np.arange(len(y)) * dt_s) ** 2 / 2])


def undone(y: Floats, dt_s: float, a: float, b: float, e: float) -> Floats:
    """Compute the light of a stretch from what was recorded of it, up to a straight line; shape (n,).

    Notes
    -----
    y + a∫y + b∬y + e t²/2; the head of this module derives it.
    """
    return np.asarray(y + np.array([a, b, e]) @ terms(y, dt_s))


def _running(y: Floats, dt_s: float) -> Floats:
    """Integral from the first sample to each, by the trapezium rule."""
    # dt (y0/2 + y1 + ... + yk/2): the running sum counts the first and the last sample whole, so half of each comes
    # off. Left on, they would make the light too high by a dt/2 of itself
    return np.asarray(np.cumsum(y) * dt_s - (y + y[:1]) * (dt_s / 2))


def identify(level: Samples, rate_hz: float, spans: tuple[Span, ...], prior: Instrument | None = None) -> Coupling:
    """Find a, b and e from the dark around the firings of a recording.

    There are two poles if the second is seen (b is at least three times its u) or known from before, else one.

    Parameters
    ----------
    level : shape (n,)
        One channel, as recorded. Only stretches around the firings are read.
    rate_hz
        Sampling rate. [Hz]
    spans
        Its firings, in order. Of more than 60 every second, third ... one is taken.
    prior
        What earlier recordings of the same input told of a and b.

    Raises
    ------
    NotMeasurable
        There is no dark between the firings.

    Notes
    -----
    Least squares assumes that ∫y and ∬y are exact, but they hold the integrals of the noise n, and the undone noise
    n + a∫n + b∬n holds them too. Their mean product is -a mean((∫n)²) and so on: it pulls a and b down, and it grows
    with the length of the dark, while the droop itself dies as exp(-w t). So the dark is cut off five time constants
    of the slowest pole after each firing. That time follows from the fit, so the fit is repeated, and stops as soon as
    the cut moves by less than a tenth.
    """
    every = max(1, math.ceil(len(spans) / _MOST_STRETCHES))
    stretches = [_Stretch(level, rate_hz, spans, i) for i in range(0, len(spans), every)]
    after_s = _AFTER_S
    for _ in range(_PASSES):
        solution, covariance = _fitted(stretches, after_s, prior)
        coupling = Coupling(max(0.0, float(solution[0])), float(solution[1]), float(solution[2]), covariance)
        slowest = 2 * math.pi * min(coupling.corners_hz)
        settled_s = float(np.clip(_SETTLED / max(slowest, 1e-3), _LEAST_AFTER_S, _AFTER_S))
        if settled_s > 0.9 * after_s:
            break
        after_s = settled_s
    return coupling


def _fitted(stretches: list["_Stretch"], after_s: float, prior: Instrument | None) -> tuple[Floats, Floats]:
    """Fit (a, b, e) and their covariance to the dark up to a time after each firing."""
    darks = [dark for stretch in stretches if (dark := stretch.dark(after_s)) is not None]
    if not darks:
        raise NotMeasurable(
            "there is no dark between the firings", "Leave a second of dark before and after each firing"
        )
    solution, covariance = _solved(darks, 3)
    if prior is not None:
        return _joined(solution, covariance, prior)
    # The poles of two RC stages are real, so a² ≥ 4b; noise may carry b somewhat beyond a²/4, but not to a²
    if solution[1] < 3 * math.sqrt(covariance[1, 1]) or solution[1] > solution[0] ** 2 or solution[0] < 0:
        solution, covariance = _solved(darks, 1)
    return solution, covariance


def _joined(solution: Floats, covariance: Floats, prior: Instrument) -> tuple[Floats, Floats]:
    """Join this recording's (a, b, e) with what is known of a and b, each by its weight."""
    # The most likely θ makes (θ - θ1)ᵀ C1⁻¹ (θ - θ1) + (θ - θ2)ᵀ C2⁻¹ (θ - θ2) least: its gradient is zero at
    # θ = (C1⁻¹ + C2⁻¹)⁻¹ (C1⁻¹ θ1 + C2⁻¹ θ2). Of e nothing is known: its row of C2⁻¹ is zero
    known = np.zeros((3, 3))
    known[:2, :2] = np.linalg.inv(prior.covariance)
    told = np.linalg.inv(covariance)
    joint = np.linalg.inv(told + known)
    return np.asarray(joint @ (told @ solution + known @ np.array([prior.a_per_s, prior.b_per_s2, 0.0]))), np.asarray(
        joint
    )


@dataclass(frozen=True)
class _Dark:
    """The dark of a stretch: which blocks from its start, and there its terms and what was recorded.

    Undoing is linear: light = G y, where G = 1 + a J + b J² and J is the trapezium integral as a matrix. White noise
    of variance v as recorded has the covariance v G Gᵀ once undone. `gathered` and `power` compute with G without
    ever writing it down: it has n² numbers.
    """

    at: NDArray[np.intp]
    terms: Floats
    y: Floats
    dt_s: float

    @cached_property
    def lines(self) -> Floats:
        """A constant and a straight line over the dark, orthonormal; shape (n, 2)."""
        return np.asarray(np.linalg.qr(np.column_stack([np.ones_like(self.y), self.at]))[0])

    def upright(self, n_terms: int) -> tuple[Floats, Floats]:
        """The terms that are fitted, shape (n, n_terms), and what they are fitted to, with straight lines taken off."""
        # Fitting what is left after the lines gives the same a, b, e as fitting the lines with them
        # ([frisch-waugh-1933])
        block = np.column_stack([*self.terms[:n_terms], self.y])
        block = block - self.lines @ (self.lines.T @ block)
        return -block[:, :-1], block[:, -1]

    def gathered(self, weights: Floats, a: float, b: float) -> Floats:
        """Gᵀ times weights on the undone dark, shape (n, m): what they take from each block as recorded."""
        full = np.zeros((int(self.at[-1]) + 1, weights.shape[1]))
        full[self.at] = weights
        once = self._later(full)
        return np.asarray(full + a * once + b * self._later(once))

    def power(self, a: float, b: float) -> float:
        """Expected sum of squares over the dark of undone white noise of variance 1, with straight lines taken off."""
        # Row k of G is the answer to a 1 that was recorded 0, 1, ... k blocks ago: 1 + a dt/2 (and b dt²/4, 2e-5,
        # which is left out), then (a + b t) dt. Its squares add up to the k-th running sum. The lines L, which are
        # orthonormal, take |Gᵀ L|² off
        since_s = np.arange(int(self.at[-1]) + 1) * self.dt_s
        response = (a + b * since_s) * self.dt_s
        response[0] = 1 + a * self.dt_s / 2
        return float(np.cumsum(response**2)[self.at].sum() - np.sum(self.gathered(self.lines, a, b) ** 2))

    def _later(self, weights: Floats) -> Floats:
        """Jᵀ times weights."""
        # The transposed sum runs backwards. The trapezium rule halves J's first column; leaving it whole adds a
        # constant to J and a straight line to J², and all that is computed here has those taken off
        return np.asarray((np.cumsum(weights[::-1], axis=0)[::-1] - weights / 2) * self.dt_s)


class _Stretch:
    """A firing with the dark around it, and its integrals, in block means.

    The integrals are taken at the full rate and averaged afterwards: the model is linear, so it holds for the means.
    """

    def __init__(self, level: Samples, rate_hz: float, spans: tuple[Span, ...], i: int) -> None:
        self._span = span = spans[i]
        width = max(1, round(rate_hz / _FIT_RATE_HZ))
        self._dt_s = width / rate_hz
        start_s = max(0.0, span.up_s - _BEFORE_S, spans[i - 1].down_s + GUARD_S if i else 0.0)
        stop_s = min(
            span.down_s + max(_AFTER_S, span.duration_s),
            spans[i + 1].up_s - GUARD_S if i + 1 < len(spans) else len(level) / rate_hz,
        )
        self._start = round(start_s * rate_hz)
        n = max(0, (round(stop_s * rate_hz) - self._start) // width)
        fine = level[self._start : self._start + n * width]
        n = len(fine) // width
        fine = fine[: n * width]
        self._y = fine.reshape(n, width).mean(axis=1)
        self._at_s = (self._start + (np.arange(n) + 0.5) * width) / rate_hz
        self._fine_terms = terms(fine, 1 / rate_hz).reshape(3, n, width).mean(axis=2)

    def dark(self, after_s: float) -> "_Dark | None":
        """Where it is dark, up to a time after the firing; None for too little."""
        span, at_s = self._span, self._at_s
        used = (at_s >= span.up_s - min(_BEFORE_S, after_s)) & (at_s < span.down_s + max(after_s, span.duration_s))
        is_dark = used & ((at_s < span.up_s - GUARD_S) | (at_s > span.down_s + GUARD_S))
        if np.count_nonzero(is_dark) < _LEAST_DARK:
            return None
        return _Dark(np.flatnonzero(is_dark), self._fine_terms[:, is_dark], self._y[is_dark], self._dt_s)


def _solved(darks: list[_Dark], n_terms: int) -> tuple[Floats, Floats]:
    """Fit the first `n_terms` of (a, b, e), the rest zero, and their covariance; each stretch has its own line.

    With the terms X (lines taken off) and what they are fitted to z, the solution is θ = M⁻¹ Xᵀ z, where M = XᵀX. Its
    error is M⁻¹ Xᵀ times the undone noise, so its covariance is M⁻¹ S M⁻¹ with S = cov(Xᵀ noise). S comes from two
    sides:

    - White noise of variance v as recorded: S = v (Gᵀ X)ᵀ (Gᵀ X). A single stretch tells v: what is left after the
      fit has the expected sum of squares v (tr(P G Gᵀ P) - tr(M⁻¹ (Gᵀ X)ᵀ (Gᵀ X))), P taking the lines off.
    - Whatever the noise is: the m stretches are independent, so S is the sum of s sᵀ over their scores s = Xᵀ (what is
      left), times m/(m - 1) because the fit makes the scores add up to zero (cluster-robust covariance,
      [liang-zeger-1986]). Hum and thumps show here and only here.

    Few stretches tell the second badly, so it only raises the first, in those directions in which it is larger.
    """
    # terms of unlike units and sizes are brought to length 1, else M is singular in floating point
    pairs = [dark.upright(n_terms) for dark in darks]
    scale = np.maximum(np.sqrt(sum((np.sum(rows**2, axis=0) for rows, _ in pairs), np.zeros(n_terms))), 1e-150)
    pairs = [(rows / scale, target) for rows, target in pairs]
    design, target = (np.concatenate(each) for each in zip(*pairs, strict=True))
    scaled, *_ = np.linalg.lstsq(design, target, rcond=None)
    solution = np.zeros(3)
    solution[:n_terms] = scaled / scale
    a, b, _ = solution
    inverse = np.linalg.pinv(design.T @ design)
    gathered = [dark.gathered(rows, a, b) for dark, (rows, _) in zip(darks, pairs, strict=True)]
    from_white = sum((each.T @ each for each in gathered), np.zeros((n_terms, n_terms)))
    left = sum(dark.power(a, b) for dark in darks) - float(np.trace(inverse @ from_white))
    from_white *= float(np.sum((target - design @ scaled) ** 2)) / max(left, 1.0)
    scores = np.stack([rows.T @ (part - rows @ scaled) for rows, part in pairs])
    scatter = scores.T @ scores * len(scores) / max(1, len(scores) - 1)
    covariance = np.zeros((3, 3))
    covariance[:n_terms, :n_terms] = inverse @ _at_least(from_white, scatter) @ inverse / np.outer(scale, scale)
    return solution, covariance


def _at_least(least: Floats, scatter: Floats) -> Floats:
    """A covariance, raised to another one in the directions in which that is larger."""
    # With least = R Rᵀ and R⁻¹ scatter R⁻ᵀ = T diag(d) Tᵀ, both are diagonal over the columns of R T: 1 and d there
    values, vectors = np.linalg.eigh(least)
    root = vectors * np.sqrt(np.maximum(values, max(1e-12 * float(values[-1]), 1e-300)))
    apart, turned = np.linalg.eigh(np.linalg.solve(root, np.linalg.solve(root, scatter).T))
    spread = root @ turned
    return np.asarray((spread * np.maximum(1.0, apart)) @ spread.T)
