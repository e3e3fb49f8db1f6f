"""What the curve of light says of the blades and the sensor beyond the times: bounce, slope, lag, smaller apertures."""

from dataclasses import replace

import numpy as np
import pytest

from camerawright.bench.shutter import simulate
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Firing
from camerawright.bench.shutter.simulate import Blades, Disturbance, Scene, Sensor
from camerawright.handbook.light_sensors import Sensor as SensorClass
from tests.bench.scenes import RATE_HZ, Floats, exact, recorded, scene, spoilt

PERFECT = SensorClass("perfect", 0.0, 0.0, 0.0, "none: the shape is given as numbers")
MS = 1e-3


def _firings(made: Scene, seed: int = 1) -> tuple[Firing, ...]:
    return measure(recorded(made, seed)[0]).firings


def _with_bump(part: float, width_s: float = 1e-3, at_s: float = 2e-3) -> Floats:
    """A trapezoid of 8 ms with edges of 1.5 ms, and a raised cosine soon after it."""
    t = np.arange(0, 16 * MS, 1 / RATE_HZ)
    bump = np.where(np.abs(t - 8 * MS - at_s) < width_s / 2, 1 + np.cos(2 * np.pi * (t - 8 * MS - at_s) / width_s), 0)
    return np.asarray(np.clip(np.minimum(t, 8 * MS - t) / (1.5 * MS), 0, 1) + part / 2 * bump)


@pytest.mark.parametrize("part", [0.03, 0.1])
@pytest.mark.parametrize("noise", [1e-3, 1e-2], ids=["60 dB", "40 dB"])
def test_a_bounce_is_seen_where_the_limit_says_so_and_measured(part: float, noise: float) -> None:
    for firing in measure(exact(_with_bump(part), noise), sensor=PERFECT).firings:
        assert firing.bounce_seen_from is not None
        if part > firing.bounce_seen_from:
            assert firing.bounce == pytest.approx(part, rel=0.35)
            assert any("opens again" in flag for flag in firing.flags)


def test_no_bounce_is_seen_where_there_is_none_and_the_limit_follows_the_noise() -> None:
    quiet, noisy = (measure(exact(_with_bump(0), noise, n=20), sensor=PERFECT).firings for noise in (1e-3, 3e-2))
    assert not any(firing.bounce or firing.dip for firing in (*quiet, *noisy))
    assert all(firing.bounce_seen_from == pytest.approx(0.03, abs=0.005) for firing in quiet)
    assert all((firing.bounce_seen_from or 1) > 0.05 for firing in noisy)


def test_blades_that_rebound_far_open_again_and_dip() -> None:
    """The simulator's ring rebounds from its stops; at 0.15 the overlap of the blades hides it."""
    hard = Blades(restitution=0.5, overlap_deg=3.0, free_deg=46.0)
    assert any(firing.bounce for firing in _firings(scene(1 / 60, blades=hard, snr_db=55)))
    assert any(firing.dip for firing in _firings(scene(1 / 60, blades=hard, snr_db=55)))
    assert not any(firing.bounce or firing.dip for firing in _firings(scene(1 / 60, snr_db=55)))


def test_beside_a_thump_nothing_is_said_of_a_bounce() -> None:
    made = spoilt(scene(1 / 125, n=3, snr_db=50), Disturbance(thump=0.2, n_thumps=14))
    told = _firings(made, seed=5)
    assert any(firing.bounce_seen_from is None or firing.bounce_seen_from > 0.05 for firing in told)


def test_the_slope_of_a_plateau_is_measured_with_its_uncertainty() -> None:
    t = np.arange(0, 30 * MS, 1 / RATE_HZ)
    shape = np.clip(np.minimum(t, 30 * MS - t) / (1.5 * MS), 0, 1)
    steady, falling = (
        measure(exact(shape * (1 + tilt * (t / (30 * MS) - 0.5)), 1e-3), sensor=PERFECT).firings for tilt in (0.0, -0.1)
    )
    for firing in steady:
        assert abs(firing.slope) < 4 * firing.u_slope + 1e-4
    for firing in falling:
        assert -0.1 < firing.slope < -0.07  # along the plateau, which is shorter than the opening
        assert any("plateau slopes" in flag for flag in firing.flags)


@pytest.mark.parametrize("lag_s", [300e-6, 600e-6])
def test_a_sensor_slower_than_the_blades_is_named_and_its_lag_bounded(lag_s: float) -> None:
    quick = Blades(open_s=1.0e-3, close_s=0.9e-3, restitution=0.0)
    slow = replace(scene(1 / 125, blades=quick, snr_db=55), sensor=Sensor(lag_s, lag_s))
    for firing in _firings(slow):
        assert any("sensor is slow" in flag for flag in firing.flags)
        assert 0.6 * lag_s < firing.tail_s < 1.6 * lag_s


def test_a_fast_sensor_is_not_called_slow() -> None:
    rng = np.random.default_rng(4)
    for seed in range(8):
        blades = Blades(n=int(rng.integers(3, 8)), close_s=rng.uniform(1e-3, 2e-3), pivot_radius=rng.uniform(1.2, 1.8))
        for firing in _firings(scene(1 / 125, n=2, blades=blades, snr_db=50), seed):
            assert not any("sensor is slow" in flag for flag in firing.flags)


@pytest.mark.parametrize("open_ms", [0.8, 1.5])
def test_iris_blades_stopped_down_have_the_published_effective_time(open_ms: float) -> None:
    """te = T - 4/3 r t1, r the radius over that of full aperture: T 4, t1 1.5 ms gives 3.000 ms at two stops."""
    total, opening = 4 * MS, open_ms * MS
    t = np.arange(0, total, 1 / RATE_HZ) + 0.31 / RATE_HZ
    shape = np.clip(np.minimum(t, total - t) / opening, 0, 1) ** 2
    firing = measure(exact(shape), sensor=PERFECT).firings[0]
    wide = total - 4 / 3 * opening
    for one in firing.stopped_down:
        expected = total - 4 / 3 * opening * 2 ** (-one.stops_down / 2)
        # a fixed 3 % of the gain is taken off for blades that are not round
        assert one.effective.value == pytest.approx(expected - 0.03 * (expected - wide), abs=6e-6)
        assert one.effective.interval[0] < expected < one.effective.interval[1]


def test_the_prediction_holds_what_the_simulated_blades_do_with_the_lens_stopped_down() -> None:
    rng = np.random.default_rng(8)
    held = []
    for seed in range(30):
        drawn = simulate.drawn(1 / 125, 50, simulate.Unseen(0, 0, 0), rng, 1)
        for firing in _firings(drawn, seed):
            for one in firing.stopped_down:
                iris = replace(drawn.blades, stop_radius=2 ** (-one.stops_down / 2))
                _, truths = simulate.recording(replace(drawn, blades=iris), 0)
                low, high = one.effective.interval
                held.append(low <= truths[0].effective_s <= high)
    assert len(held) > 80
    assert np.mean(held) >= 0.93


def test_a_firing_that_never_stands_open_predicts_nothing() -> None:
    assert all(firing.stopped_down == () for firing in _firings(scene(1 / 700)) if not firing.has_plateau)
