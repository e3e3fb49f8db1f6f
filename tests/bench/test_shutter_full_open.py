"""Speeds too fast to stand fully open: the level comes from slower firings in the recording, or a flag says not."""

import math
from dataclasses import replace

import numpy as np
import pytest

from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Firing
from camerawright.bench.shutter.simulate import Disturbance, Unseen, drawn, hold_for, recording
from camerawright.handbook.light_sensors import PHOTODIODE
from tests.bench.scenes import RATE_HZ, exact, recorded, scene, spoilt, waveform


def _trapezoid(level: float, edge_s: float, full_s: float) -> np.ndarray:
    """Straight edges; half a sample more than full_s between them makes the integral exact."""
    up = np.linspace(0, 1, round(edge_s * RATE_HZ), endpoint=False)
    return level * np.concatenate([up, np.ones(round(full_s * RATE_HZ)), 1 - up])


@pytest.mark.parametrize("peak", [0.7, 0.95])
def test_a_triangle_beside_trapezoids_has_the_times_of_its_geometry_on_the_full_level(peak: float) -> None:
    """Plane geometry: a triangle of base b and height h under level 1 has area b h / 2 and width b (1 - p/h) at p."""
    base_s = 4e-3
    dark, slow, fast = np.zeros(round(0.3 * RATE_HZ)), _trapezoid(1, 2e-3, 20e-3), _trapezoid(peak, base_s / 2, 0)
    light = np.concatenate([dark, slow, dark, fast, dark, slow, dark])
    noise = 1e-4 * np.random.default_rng(0).standard_normal(light.size)
    firing = measure(waveform(light + noise, bits=None)).firings[1]
    assert firing.effective.value == pytest.approx(base_s * peak / 2, abs=3e-6)
    assert firing.total.value == pytest.approx(base_s * (1 - 0.1 / peak), abs=3e-6)
    assert firing.half_peak.value == pytest.approx(base_s * (1 - 0.5 / peak), abs=3e-6)
    assert firing.opens_to == pytest.approx(peak, abs=0.02)  # a sharp tip is rounded off by the parabola through it
    assert any("turn back before" in flag for flag in firing.flags) == (peak < 0.9)


def test_without_a_slower_firing_a_triangle_is_relative_to_its_own_peak_and_says_so() -> None:
    firing = measure(exact(_trapezoid(0.7, 2e-3, 0))).firings[0]
    assert firing.level_from == "its own peak"
    assert firing.opens_to == 1
    assert any("own peak" in flag for flag in firing.flags)


def test_the_interval_of_the_effective_time_on_the_full_level_holds_the_truth() -> None:
    """Pivoting blades of the simulator at 1/1000 to 1/2000, two slow firings before them; sensor and clock drawn."""
    held, errors, tops = [], [], []
    for seed in range(60):
        rng = np.random.default_rng([31, seed])
        time_s = 2.0 ** -rng.uniform(10, 10.8)
        made = drawn(time_s, 45, Unseen(PHOTODIODE.u_lag_s, PHOTODIODE.u_bend, 5e-5), rng, 1)
        slow_s = hold_for(1 / 60, made.blades)
        samples, truths = recording(replace(made, hold_s=(slow_s, slow_s, *made.hold_s * 2)), seed)
        result = measure(waveform(samples, made.card.rate_hz, made.card.bits))
        for firing in result.firings:
            truth = min(truths, key=lambda one: abs(one.at_s - firing.at_s - firing.half_peak.value / 2))
            if firing.level_from != "slower firings":
                continue
            low_s, high_s = firing.effective.interval
            held.append(low_s <= truth.effective_s <= high_s)
            errors.append(math.log2(firing.effective.value / truth.effective_s))
            tops.append((firing.opens_to - truth.peak) / firing.u_opens_to)
    assert len(held) > 40
    assert np.mean(held) > 0.84  # 0.95 less three standard errors of forty recordings
    assert np.sqrt(np.mean(np.square(errors))) < 0.02
    assert np.mean(np.abs(tops) < 2) > 0.84


def _fast(firings: tuple[Firing, ...]) -> list[Firing]:
    return [firing for firing in firings if not firing.has_plateau]


def test_slow_firings_in_different_lights_give_no_level() -> None:
    made = scene(1 / 1500, n=1)
    slow_s = hold_for(1 / 60, made.blades)
    brighter = spoilt(replace(made, hold_s=(slow_s, slow_s, *made.hold_s)), Disturbance(gain_per_firing=1.1))
    result = measure(recorded(brighter)[0])
    fast = _fast(result.firings)
    assert fast
    assert all(firing.level_from == "its own peak" for firing in fast)
    assert any("level differs" in flag for flag in result.flags)


def test_the_full_level_of_few_slow_firings_is_less_certain_than_that_of_many() -> None:
    """GUM 4.2 and G.4: one firing says nothing of the lamp's steadiness, and a scatter of two has one degree."""
    made = scene(1 / 1500, n=1)
    slow_s = hold_for(1 / 60, made.blades)
    levels = {}
    for n in (1, 6):
        result = measure(recorded(replace(made, hold_s=(slow_s,) * n + made.hold_s))[0])
        (fast,) = _fast(result.firings)
        levels[n] = next(line for line in fast.effective.budget if line.name == "level")
    assert levels[1].u > 2 * levels[6].u > 0
