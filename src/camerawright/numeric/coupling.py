"""Undoing the AC coupling of a sound card.

With one or two high-pass poles the light x follows from the recorded y as x = y + a∫y + b∬y + c + d·t, where a is the
sum and b the product of the poles' angular corners. Outside the firings the light is zero, so a and b, common to the
recording, and c and d of each stretch follow from the dark by least squares; no corner need be known.
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

_FIT_RATE_HZ = 2_000.0
_BEFORE_S = 0.3
_AFTER_S = 0.6
_LEAST_AFTER_S = 0.05
_SETTLED = 5.0  # time constants
_PASSES = 4
_LEAST_DARK = 8  # block means
_MOST_STRETCHES = 60


@dataclass(frozen=True)
class Coupling:
    """What undoes the input's high-pass: `a` [1/s], `b` [1/s²], and `e` [1/s²], the converter's own zero times -b.

    `covariance` is theirs, shape (3, 3).
    """

    a: float
    b: float
    e: float
    covariance: Floats

    @property
    def corners_hz(self) -> tuple[float, ...]:
        """The corner frequencies, higher first; one where a second is not seen."""
        root = math.sqrt(max(0.0, self.a**2 / 4 - self.b))
        poles = (self.a / 2 + root, self.a / 2 - root) if self.b > 0 else (self.a,)
        return tuple(pole / (2 * math.pi) for pole in poles)


def terms(y: Floats, dt_s: float) -> Floats:
    """What a, b and e stand before, shape (3, n): first and second integral of a stretch, and half its squared time.

    Both integrals are zero at the start of the stretch, by the trapezium rule. A converter whose zero is off by o adds
    o t²/2 to the second: one more unknown, common to the recording.
    """
    once = _running(y, dt_s)
    return np.stack([once, _running(once, dt_s), (np.arange(len(y)) * dt_s) ** 2 / 2])


def undone(y: Floats, dt_s: float, a: float, b: float, e: float) -> Floats:
    """The light of a stretch, up to a straight line."""
    return np.asarray(y + np.array([a, b, e]) @ terms(y, dt_s))


def _running(y: Floats, dt_s: float) -> Floats:
    """Cumulative trapezium sum."""
    return np.asarray(np.cumsum(y) * dt_s - (y + y[:1]) * (dt_s / 2))


def identify(level: Samples, rate_hz: float, spans: tuple[Span, ...], prior: Instrument | None = None) -> Coupling:
    """Find a and b from the dark around the firings of a recording.

    Two poles where the second is seen (b at least three times its u) or known, else one.

    Parameters
    ----------
    level : shape (n,)
        One channel, as recorded; only stretches about the firings are read.
    rate_hz
        Sampling rate. [Hz]
    spans
        Its firings, in order; of very many an even choice is taken.
    prior
        What earlier recordings of the same input told of a and b.

    Raises
    ------
    NotMeasurable
        There is no dark between the firings.
    """
    every = max(1, math.ceil(len(spans) / _MOST_STRETCHES))
    stretches = [_Stretch(level, rate_hz, spans, i) for i in range(0, len(spans), every)]
    after_s = _AFTER_S
    for _ in range(_PASSES):
        solution, covariance = _fitted(stretches, after_s, prior)
        coupling = Coupling(max(0.0, float(solution[0])), float(solution[1]), float(solution[2]), covariance)
        slowest = 2 * math.pi * min(coupling.corners_hz)
        # dark long after the slowest pole has settled tells nothing, and its integrated noise pulls a and b down
        settled_s = float(np.clip(_SETTLED / max(slowest, 1e-3), _LEAST_AFTER_S, _AFTER_S))
        if settled_s > 0.9 * after_s:
            break
        after_s = settled_s
    return coupling


def _fitted(stretches: list["_Stretch"], after_s: float, prior: Instrument | None) -> tuple[Floats, Floats]:
    """(a, b, e) and their covariance from the dark up to a time after each firing."""
    darks = [dark for stretch in stretches if (dark := stretch.dark(after_s)) is not None]
    if not darks:
        raise NotMeasurable(
            "there is no dark between the firings", "Leave a second of dark before and after each firing"
        )
    solution, covariance = _solved(darks, 3)
    if prior is not None:
        return _joined(solution, covariance, prior)
    # poles of two RC stages are real: b is a²/4 at most, and noise may carry it somewhat beyond
    if solution[1] < 3 * math.sqrt(covariance[1, 1]) or solution[1] > solution[0] ** 2 or solution[0] < 0:
        solution, covariance = _solved(darks, 1)
    return solution, covariance


def _joined(solution: Floats, covariance: Floats, prior: Instrument) -> tuple[Floats, Floats]:
    """This recording's (a, b, e) with what is known of a and b, each by its weight."""
    known = np.zeros((3, 3))
    known[:2, :2] = np.linalg.inv(prior.covariance)
    told = np.linalg.inv(covariance)
    joint = np.linalg.inv(told + known)
    return np.asarray(joint @ (told @ solution + known @ np.array([prior.a_per_s, prior.b_per_s2, 0.0]))), np.asarray(
        joint
    )


@dataclass(frozen=True)
class _Dark:
    """Where a stretch is dark (blocks from its start), its terms and the light as recorded there."""

    at: NDArray[np.intp]
    terms: Floats
    y: Floats
    dt_s: float

    @cached_property
    def lines(self) -> Floats:
        """Straight lines over it, shape (n, 2), orthonormal."""
        return np.asarray(np.linalg.qr(np.column_stack([np.ones_like(self.y), self.at]))[0])

    def upright(self, n_terms: int) -> tuple[Floats, Floats]:
        """The terms that are fitted, shape (n, n_terms), and what they are fitted to, straight lines off."""
        block = np.column_stack([*self.terms[:n_terms], self.y])
        block = block - self.lines @ (self.lines.T @ block)
        return -block[:, :-1], block[:, -1]

    def gathered(self, weights: Floats, a: float, b: float) -> Floats:
        """What weights on the undone light, shape (n, m), take from each block of the stretch as recorded."""
        full = np.zeros((int(self.at[-1]) + 1, weights.shape[1]))
        full[self.at] = weights
        once = self._later(full)
        return np.asarray(full + a * once + b * self._later(once))

    def power(self, a: float, b: float) -> float:
        """Sum of squares of undone white noise of unit variance, straight lines off."""
        since_s = np.arange(int(self.at[-1]) + 1) * self.dt_s
        response = (a + b * since_s) * self.dt_s
        response[0] = 1 + a * self.dt_s / 2
        return float(np.cumsum(response**2)[self.at].sum() - np.sum(self.gathered(self.lines, a, b) ** 2))

    def _later(self, weights: Floats) -> Floats:
        """The transpose of `_running`, but for a constant that weights without a straight line do not feel."""
        return np.asarray((np.cumsum(weights[::-1], axis=0)[::-1] - weights / 2) * self.dt_s)


class _Stretch:
    """A firing with the dark about it, in block means, and its integrals."""

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
    """The first `n_terms` of (a, b, e), the rest zero, and their covariance; each stretch has its own straight line.

    What is white as recorded is integrated once and twice by the undoing: its share of the covariance follows from the
    weights, so that it is known from a single stretch. What else there is shows as scatter between the stretches,
    which few of them tell badly: it counts in the directions in which it is more.
    """
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
    values, vectors = np.linalg.eigh(least)
    root = vectors * np.sqrt(np.maximum(values, max(1e-12 * float(values[-1]), 1e-300)))
    apart, turned = np.linalg.eigh(np.linalg.solve(root, np.linalg.solve(root, scatter).T))
    spread = root @ turned
    return np.asarray((spread * np.maximum(1.0, apart)) @ spread.T)
