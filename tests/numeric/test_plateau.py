"""How high a firing stands: plateaus and tops of known height and place."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from camerawright.numeric.plateau import level_weights_of, plateau_of, running_mean, smoothed
from camerawright.trouble import NotMeasurable
from tests.numeric.pulses import Known

Floats = NDArray[np.float64]


def found(known: Known, light: Floats, sigma: float) -> tuple[float, tuple[int, int], int]:
    """Level, place and width of smoothing."""
    smooth, width = smoothed(light, ~known.dark, sigma)
    level, place = plateau_of(light, smooth, ~known.dark, width, sigma, known.rate_hz)
    return level, place, width


def noisy(known: Known, sigma: float, seed: int = 0) -> Floats:
    return np.asarray(known.light + sigma * np.random.default_rng(seed).standard_normal(len(known.light)))


@pytest.mark.parametrize("width", [1, 3, 15])
def test_a_running_mean_is_numpys_convolution_with_a_box(width: int) -> None:
    light = np.random.default_rng(1).standard_normal(60)
    assert running_mean(light, width) == pytest.approx(np.convolve(light, np.full(width, 1 / width), "same"))


@pytest.mark.parametrize(("part", "width"), [(0.001, 3), (0.02, 3), (0.1, 25), (0.14, 49)])
def test_smoothing_is_as_long_as_it_takes_to_bring_noise_to_a_fiftieth(part: float, width: int) -> None:
    """(sigma/(0.02 height))², to an odd number, 3 at least."""
    known = Known(open_s=0.05, length_s=0.12)
    smooth, n = smoothed(known.light, ~known.dark, part * known.level)
    assert n == pytest.approx(width, abs=2)
    assert n % 2 == 1
    assert smooth == pytest.approx(running_mean(known.light, n))


def test_smoothing_is_no_longer_than_a_sixth_of_the_opening() -> None:
    """3 ms between the half levels are 144 samples of 48 kHz."""
    known = Known(open_s=1e-3)
    _, n = smoothed(known.light, ~known.dark, 0.3 * known.level)
    assert 19 <= n <= 25


@pytest.mark.parametrize("part", [0.0, 0.2, -1.0])
def test_a_firing_below_the_noise_is_refused(part: float) -> None:
    known = Known()
    with pytest.raises(NotMeasurable, match="hardly stands out"):
        smoothed(part * known.light, ~known.dark, known.level)


@pytest.mark.parametrize("open_s", [3e-3, 8e-3, 40e-3, 0.5])
@pytest.mark.parametrize("part", [1e-4, 0.03])
def test_a_plateau_is_found_with_its_level_and_without_its_edges(open_s: float, part: float) -> None:
    known = Known(open_s=open_s, length_s=open_s + 0.06)
    sigma = part * known.level
    level, (first, last), _ = found(known, noisy(known, sigma), sigma)
    assert level == pytest.approx(known.level, abs=6 * sigma / np.sqrt(last - first) + 2e-3 * known.level)
    opened_s, closing_s = known.up_s + known.edge_s, known.down_s - known.edge_s
    assert first / known.rate_hz == pytest.approx(opened_s, abs=2e-3)
    assert last / known.rate_hz == pytest.approx(closing_s, abs=2e-3)
    light = known.light[first:last]
    assert light.min() > 0.95 * known.level


@pytest.mark.parametrize("open_s", [0.0, 0.2e-3])
def test_a_firing_that_hardly_opens_has_no_plateau_but_a_top(open_s: float) -> None:
    known = Known(open_s=open_s)
    level, place, _ = found(known, known.light, 1e-4)
    assert place == (0, 0)
    assert level == pytest.approx(known.level, rel=2e-3)


def test_a_long_opening_may_wander_and_keeps_its_plateau() -> None:
    """Twelve per cent from end to end: far more than the three that a short plateau is held to."""
    known = Known(open_s=0.2, length_s=0.26)
    wandering = known.light * (1 + 0.12 * (known.at_s / known.length_s - 0.5))
    level, (first, last), _ = found(known, wandering, 1e-4)
    assert (last - first) / known.rate_hz == pytest.approx(known.open_s, abs=4e-3)
    assert level == pytest.approx(known.level, rel=0.01)


def test_a_long_opening_that_only_rises_and_falls_has_a_top() -> None:
    """A triangle over 100 ms: its middle half is 0.875 high in the middle, half of it is above 85 % of that, and the
    edges then take all of it."""
    known = Known(open_s=0.1, length_s=0.16)
    light = np.asarray(known.level * np.clip(1 - np.abs(known.at_s - 0.07) / 0.05, 0, 1))
    level, place, _ = found(known, light, 1e-4)
    assert place == (0, 0)
    assert level == pytest.approx(known.level, rel=0.01)


def test_a_long_opening_with_a_spike_at_its_end_has_the_level_of_its_middle() -> None:
    known = Known(open_s=0.1, length_s=0.16)
    light = known.light.copy()
    light[round((known.down_s - known.edge_s) * known.rate_hz) - 30 :] *= 1.5
    level, (_, last), _ = found(known, light, 1e-4)
    assert level == pytest.approx(known.level, rel=0.01)
    assert last / known.rate_hz == pytest.approx(known.down_s - known.edge_s, abs=2e-3)


# Weights


def test_the_level_of_a_plateau_is_its_mean_and_the_second_opinion_that_of_its_inner_half() -> None:
    light = np.arange(100.0)
    level, inner = level_weights_of(light, 50.0, (20, 60), 3, 0.1)
    assert level @ light == pytest.approx(np.mean(light[20:60]))
    assert inner @ light == pytest.approx(np.mean(light[30:50]))
    assert np.count_nonzero(inner) == 20


@pytest.mark.parametrize("middle", [60.0, 60.3, 59.6])
@pytest.mark.parametrize("sigma", [0.0, 0.05])
def test_the_level_of_a_top_is_the_height_of_its_parabola(middle: float, sigma: float) -> None:
    n = np.arange(120)
    light = np.asarray(2.0 - ((n - middle) / 40) ** 2)
    level, inner = level_weights_of(light, 2.0, (0, 0), 3, sigma)
    for weights in (level, inner):
        assert weights @ light == pytest.approx(2.0, rel=1e-9)
        assert weights.sum() == pytest.approx(1)
    assert np.count_nonzero(level) > np.count_nonzero(inner)


def test_a_noisier_top_is_fitted_further_down() -> None:
    """Through all within 4 % of the top at least and 12 % at most: 2 (n/40)² = 0.04 x 2 at n = 11, 0.12 x 2 at 19."""
    light = np.asarray(2.0 - ((np.arange(120) - 60) / 40) ** 2)
    reach = [np.count_nonzero(level_weights_of(light, 2.0, (0, 0), 3, sigma)[0]) for sigma in (1e-4, 0.07, 1.0)]
    assert reach[0] == pytest.approx(2 * 40 * np.sqrt(0.08), abs=2)
    assert reach[1] == pytest.approx(2 * 40 * np.sqrt(2 * 4 * 0.07 / np.sqrt(3) / 2), abs=2)
    assert reach[2] == pytest.approx(2 * 40 * np.sqrt(0.24), abs=2)


@pytest.mark.parametrize("backwards", [False, True])
def test_a_top_that_ends_abruptly_is_as_high_as_its_end(backwards: bool) -> None:
    """The parabola's own top lies beyond the samples; the light never got there."""
    light = np.zeros(120)
    run = np.arange(100)
    light[:100] = 2 - ((run - 130) / 100) ** 2
    if backwards:
        light = light[::-1]
    top = float(light.max())
    weights, _ = level_weights_of(light, top, (0, 0), 3, 0.0)
    assert weights @ light == pytest.approx(top, rel=1e-6)


def test_a_hollow_top_has_the_height_of_its_middle() -> None:
    """Two unequal humps: a parabola through them has no top but a bottom, and that is beside the middle."""
    n = np.arange(120)
    light = np.asarray(np.where(np.abs(n - 60) <= 20, 1.97 + 0.03 * ((n - 62) / 22) ** 2, 0.0))
    weights, _ = level_weights_of(light, 2.0, (0, 0), 3, 0.0)
    assert weights @ light == pytest.approx(1.97 + 0.03 * (2 / 22) ** 2)


def test_the_narrowest_top_is_fitted_over_five_samples() -> None:
    light = np.zeros(40)
    light[20] = 1
    level, _ = level_weights_of(light, 1.0, (0, 0), 3, 0.0)
    assert np.flatnonzero(level).tolist() == [18, 19, 20, 21, 22]


def test_a_level_that_nothing_reaches_is_refused() -> None:
    with pytest.raises(NotMeasurable, match="hardly stands out"):
        level_weights_of(np.zeros(40), 1.0, (0, 0), 3, 0.0)


def test_a_brighter_lamp_finds_the_same_place() -> None:
    known = Known()
    assert found(known, known.light, 1e-3)[1] == found(replace(known, level=3.0), 10 * known.light, 1e-2)[1]
