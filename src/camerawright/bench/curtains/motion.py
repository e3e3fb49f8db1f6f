"""Where a curtain was when: from its times at two or three places to its way across the gate."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.wording import numbers

Floats = NDArray[np.float64]

# Two times do not tell how a curtain gathers speed: it is taken to come from rest, this part of the gate before it,
# under a steady pull. [army-manual], a cloth shutter: 7 mm of 36 (quoted); that a pull slackens makes it seem 2 more
_REST = 1 / 4
# What the fitted motion may be wrong by, in parts, normal; see `doubt`. The rms over 1000 simulated curtains along the
# gate: 0.055 with three sensors; 0.08 with two, 0.15 at its near edge; 0.011 of a pair's difference. Taken for them (no
# figures of real ones are known): from rest 1.5 to 15 mm before a gate of 36, evenly in the logarithm; the pull lower
# by 5 to 65 % at its end; somewhere, in each curtain's own place, a drag of 0 +- 5 % of it. A curtain that starts close
# to the gate is fitted worst: from 1.5 mm its time across the gate comes out 1.6 % short with three sensors
_CUBIC, _BOW, _DIFFERENCE = 0.055, 0.08, 0.011
_SLOWEST = 1 / 4  # of the mean speed: slower is extrapolated too far to say


@dataclass(frozen=True)
class Motion:
    """A steady acceleration: x = x0 + v (t - t0) + a/2 (t - t0)²; [mm], [s]."""

    t0_s: float
    x0_mm: float
    v_mm_s: float
    a_mm_s2: float

    def at(self, t_s: float) -> float:
        """Where its edge is. [mm]"""
        t = t_s - self.t0_s
        return self.x0_mm + self.v_mm_s * t + self.a_mm_s2 / 2 * t**2

    def when(self, x_mm: Floats) -> Floats:
        """When its edge passes places, going forward; where it never does, when it comes nearest. [s]

        Notes
        -----
        The root of the square equation in t - t0 at which the speed is positive is (-v + w)/a, w² = v² + 2 a (x - x0).
        Times (v + w)/(v + w) that is 2 (x - x0)/(v + w), which holds for a = 0 too and loses no digits near it.
        """
        under = np.maximum(0.0, self.v_mm_s**2 + 2 * self.a_mm_s2 * (x_mm - self.x0_mm))
        return np.asarray(self.t0_s + 2 * (x_mm - self.x0_mm) / (self.v_mm_s + np.sqrt(under)))

    def speed(self, x_mm: Floats) -> Floats:
        """How fast it passes places: v² + 2 a (x - x0), from t taken out of x(t) and of the speed v + a t. [mm/s]"""
        return np.sqrt(np.maximum(0.0, self.v_mm_s**2 + 2 * self.a_mm_s2 * (x_mm - self.x0_mm)))


def motion_through(t_s: Floats, x_mm: Floats, gate_mm: float) -> Motion:
    """Constant acceleration: through three places (least squares through more), or from rest through two.

    Parameters
    ----------
    t_s, x_mm : shape (n,), n >= 2
        Places count from the edge of the gate that the curtain comes in at.
    gate_mm
        Width of the gate; with two places it says where the curtain was at rest.

    Notes
    -----
    From rest at x0 under a steady pull x - x0 = a t²/2, so √(x - x0) grows with time at the steady rate r = √(a/2): two
    places tell r, the acceleration is 2 r², and the speed at a place is its derivative, 2 r √(x - x0).
    """
    if len(t_s) == 2:
        root = np.sqrt(x_mm + _REST * gate_mm)
        rate = float((root[1] - root[0]) / (t_s[1] - t_s[0]))
        return Motion(float(t_s[0]), float(x_mm[0]), 2 * rate * float(root[0]), 2 * rate**2)
    t0 = float(t_s.mean())
    # through three the fit is exact, and solved for it is a tenth of the work
    exact = len(t_s) == 3
    a, v, x0 = np.linalg.solve(np.vander(t_s - t0), x_mm) if exact else np.polyfit(t_s - t0, x_mm, 2)
    return Motion(t0, float(x0), float(v), 2 * float(a))


def doubt(motion: Motion, x_mm: Floats, at_mm: Floats) -> tuple[Floats, Floats]:
    """How far the fitted times may be off at places, one standard deviation, signed along the way. [s]

    Of either curtain's time, and of the difference of the two, which move alike; both shape (n,). With three sensors
    what is left out is a change of the acceleration, a cubic with its zeros at the sensors; with two the acceleration
    itself, a bow. A force f that was left out moves a fast curtain less: as v dv = f dx, it changes the speed v by
    f dx/v over a way dx, and the time for it, dx/v, by the part dv/v = f dx/v²: with the square of the slowness.
    """
    at = np.sort(at_mm)
    ends = at[[0, -1]] if len(at) == 2 else at[[0, len(at) // 2, -1]]
    span_s = float(np.ptp(motion.when(ends)))
    mean = float(np.ptp(at)) / span_s
    shape = np.prod([(x_mm - one) / np.ptp(at) for one in ends], axis=0)
    off = span_s * shape * (mean / np.maximum(motion.speed(x_mm), _SLOWEST * mean)) ** 2
    return np.asarray((_BOW if len(at) == 2 else _CUBIC) * off), np.asarray(_DIFFERENCE * off)


def exposure_zero_mm(first: Motion, second: Motion, width_mm: float, near_mm: float) -> float | None:
    """Where in the gate the second curtain catches up with the first, nearest to a place; None where it does not."""
    x = np.linspace(0, width_mm, 721)
    along = second.when(x) - first.when(x)
    crossings = np.flatnonzero(along[1:] * along[:-1] < 0)
    if not crossings.size:
        return None
    zeros = x[crossings] + (x[1] - x[0]) * along[crossings] / (along[crossings] - along[crossings + 1])
    return float(zeros[np.argmin(np.abs(zeros - near_mm))])


def is_plausible(t_s: Floats, x_mm: Floats) -> str | None:
    """Why the places and times of a curtain cannot be right, or None."""
    order = np.argsort(x_mm)
    steps_s, steps_mm = np.diff(t_s[order]), np.diff(x_mm[order])
    if np.any(steps_s <= 0):
        return "the light does not come to the sensors in the order of their places"
    speeds = steps_mm / steps_s / 1e3
    if speeds.min() < _SPEEDS[0] or speeds.max() > _SPEEDS[1]:
        slow, fast = numbers.short(speeds.min(), 2), numbers.short(speeds.max(), 2)
        return f"a curtain would run at {slow} to {fast} mm/ms, and curtains run at 1 to 10"
    if len(speeds) > 1 and not 1 / _MOST_GAIN < speeds[-1] / speeds[0] < _MOST_GAIN:
        before, after = numbers.fixed(speeds[0], 1), numbers.fixed(speeds[-1], 1)
        return f"a curtain would change its speed from {before} to {after} mm/ms between the sensors"
    return None


_SPEEDS = (0.3, 20.0)  # mm/ms, generous. Common practice: cloth 36 mm in 8 to 18 ms, metal 24 mm in 3 to 10
_MOST_GAIN = 3.0  # from rest under a steady pull, run-up 5 mm, sensors at 2, 18 and 34 mm: 1.7


def stops_per_ms(exposure_s: float, ms: float) -> float:
    """What a curtain that is late by so much does to an exposure: log2 of the longer one over what it was. [stop]"""
    return math.log2(1 + ms * 1e-3 / exposure_s)
