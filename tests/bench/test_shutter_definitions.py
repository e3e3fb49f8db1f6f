"""The times of exact shapes of light, against closed forms.

ISO 516: the effective time is the integral of the light over the fully open level; here the total time is taken from
10 % to 10 % and the half-peak time at half the level.
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray

from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Firing
from camerawright.handbook.light_sensors import Sensor
from camerawright.quantity import Quantity
from tests.bench.scenes import RATE_HZ, exact

PERFECT = Sensor("perfect", 0.0, 0.0, 0.0, "none: the shape is given as numbers")
MS = 1e-3


def _first(shape: NDArray[np.float64]) -> Firing:
    return measure(exact(shape), sensor=PERFECT).firings[0]


def _is(quantity: Quantity, expected_s: float, within_s: float) -> None:
    """Right within a tolerance, and within its own 95 % interval and a half."""
    assert quantity.value == pytest.approx(expected_s, abs=within_s)
    assert abs(quantity.value - expected_s) < 1.5 * quantity.expanded_u


def _samples(length_s: float) -> NDArray[np.float64]:
    return np.arange(0, length_s, 1 / RATE_HZ) + 0.31 / RATE_HZ


@pytest.mark.parametrize(("hold_ms", "rise_ms", "fall_ms"), [(20, 1.0, 1.5), (5, 1.0, 1.0), (2, 1.2, 0.8), (400, 2, 2)])
def test_a_trapezoid_has_its_closed_form_times(hold_ms: float, rise_ms: float, fall_ms: float) -> None:
    hold, rise, fall = hold_ms * MS, rise_ms * MS, fall_ms * MS
    t = _samples(rise + hold + fall)
    firing = _first(np.clip(np.minimum(t / rise, (rise + hold + fall - t) / fall), 0, 1))
    assert firing.has_plateau
    _is(firing.effective, hold + (rise + fall) / 2, 2e-6)
    _is(firing.half_peak, hold + (rise + fall) / 2, 2e-6)
    _is(firing.total, hold + 0.9 * (rise + fall), 2e-6)
    _is(firing.opening, 0.8 * rise, 2e-6)
    _is(firing.closing, 0.8 * fall, 2e-6)
    assert firing.efficiency == pytest.approx((hold + (rise + fall) / 2) / (hold + 0.9 * (rise + fall)), abs=0.001)


@pytest.mark.parametrize("base_ms", [4.0, 8.0])
def test_a_triangle_is_measured_against_its_own_peak_and_says_so(base_ms: float) -> None:
    base = base_ms * MS
    t = _samples(base)
    firing = _first(1 - np.abs(2 * t / base - 1))
    assert not firing.has_plateau
    assert any("own peak" in flag for flag in firing.flags)
    _is(firing.effective, base / 2, 0.02 * base)
    _is(firing.half_peak, base / 2, 0.02 * base)
    _is(firing.total, 0.9 * base, 0.02 * base)


@pytest.mark.parametrize("width_ms", [4.0, 8.0])
def test_a_raised_cosine_has_its_closed_form_times(width_ms: float) -> None:
    width = width_ms * MS
    firing = _first((1 - np.cos(2 * np.pi * _samples(width) / width)) / 2)
    _is(firing.effective, width / 2, 0.01 * width)
    _is(firing.half_peak, width / 2, 0.01 * width)
    _is(firing.total, width * (1 - math.acos(0.8) / math.pi), 0.01 * width)


@pytest.mark.parametrize(("total_ms", "open_ms"), [(4.0, 1.0), (6.0, 1.5), (10.0, 2.0), (4.0, 1.5)])
def test_iris_blades_have_the_published_leaf_efficiency(total_ms: float, open_ms: float) -> None:
    """Radius uncovered at a steady rate: te = T - 4/3 t1, t50 = T - √2 t1; T 4, t1 1.5 ms gives 2.000 and 1.8787 ms."""
    total, opening = total_ms * MS, open_ms * MS
    t = _samples(total)
    firing = _first(np.clip(np.minimum(t, total - t) / opening, 0, 1) ** 2)
    assert firing.has_plateau
    _is(firing.effective, total - 4 / 3 * opening, 4e-6)
    _is(firing.half_peak, total - math.sqrt(2) * opening, 4e-6)
    _is(firing.total, total - 2 * math.sqrt(0.1) * opening, 4e-6)


def test_half_peak_time_is_short_of_effective_time_by_the_published_part_for_iris_blades() -> None:
    """te - t50 = (sqrt(2) - 4/3) t1 = 0.0809 t1."""
    total, opening = 8 * MS, 2 * MS
    t = _samples(total)
    firing = _first(np.clip(np.minimum(t, total - t) / opening, 0, 1) ** 2)
    assert firing.effective.value - firing.half_peak.value == pytest.approx(0.0809 * opening, abs=4e-6)
