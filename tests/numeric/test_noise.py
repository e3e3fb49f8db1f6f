"""The noise of a recording, beside scipy's spectra and the covariances of known noise written out."""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import integrate, linalg, signal

from camerawright.numeric.coupling import Coupling, undone
from camerawright.numeric.firings import Span
from camerawright.numeric.noise import Noise, noise_between, noise_of
from camerawright.trouble import NotMeasurable
from tests.numeric.high_pass import angular, off_line, openings, recorded, spans

Floats = NDArray[np.float64]

RATE_HZ = 8_000.0
UNCOUPLED = Coupling(0.0, 0.0, 0.0, np.zeros((3, 3)))
CORNERS_HZ = (12.0, 1.3)
COUPLED = Coupling(*angular(CORNERS_HZ), 0.0, np.zeros((3, 3)))


def white(n: int, seed: int = 0) -> Floats:
    return np.random.default_rng(seed).standard_normal(n)


def of_pieces(level: Floats, n: int, coupling: Coupling = UNCOUPLED) -> Noise:
    return noise_of([level[at : at + n] for at in range(0, len(level) - n + 1, n // 2)], RATE_HZ, coupling)


def box_less_box(n: int) -> Floats:
    """Weights without a constant or a straight line: a piece less the means of its neighbours."""
    weights = np.zeros(n)
    third = n // 3
    weights[third : 2 * third] = 1 / third
    return off_line(weights)


def test_the_density_is_that_of_scipys_welch() -> None:
    """[welch-1967]: scipy.signal.welch, Hann, half overlap, linear detrend; one-sided, so white of 1 gives 2/rate."""
    level = signal.lfilter([1.0], [1.0, -0.7], white(40_000))
    _, power = signal.welch(level, fs=RATE_HZ, window="hann", nperseg=512, noverlap=256, detrend="linear")  # type: ignore[call-overload]
    noise = of_pieces(level, 512)
    assert noise.density[3:-1] == pytest.approx(power[3:-1] * RATE_HZ / 2, rel=1e-9)
    assert noise.density[-1] == pytest.approx(power[-1] * RATE_HZ, rel=1e-9)
    assert np.all(noise.density[:3] == noise.density[3])
    assert noise.n_segments == 155


def test_white_noise_moves_a_weighted_sum_by_sigma_times_the_root_of_the_squared_weights() -> None:
    noise = of_pieces(0.02 * white(400_000), 1024)
    assert noise.sigma == pytest.approx(0.02, rel=0.005)
    weights = box_less_box(700)
    assert noise.u_of(weights) == pytest.approx(0.02 * np.linalg.norm(weights), rel=0.01)


@pytest.mark.parametrize("echo", [0.9, -0.6])
def test_coloured_noise_moves_a_weighted_sum_as_its_covariance_says(echo: float) -> None:
    """First-order autoregressive noise: covariance echo^|i-j| / (1 - echo²), closed form; w C w written out."""
    noise = of_pieces(signal.lfilter([1.0], [1.0, -echo], white(400_000, 1)), 1024)
    weights = box_less_box(90)
    covariance = linalg.toeplitz(echo ** np.arange(90)) / (1 - echo**2)
    assert noise.u_of(weights) == pytest.approx(math.sqrt(weights @ covariance @ weights), rel=0.03)
    assert noise.sigma == pytest.approx(1 / math.sqrt(1 - echo**2), rel=0.02)


@pytest.mark.parametrize(("n", "louder", "within"), [(256, 1.05, 2e-4), (1000, 1.66, 0.015)])
def test_undoing_makes_white_noise_louder_as_its_matrix_says(n: int, louder: float, within: float) -> None:
    """G = 1 + a J + b J², J by scipy's cumulative_trapezoid: u² = v |Gᵀ w|² for weights without a straight line.

    The spectrum leaves zero frequency out, where b∬ has a limit: 1 % over an eighth of a second.
    """
    noise = Noise(np.full(513, 4e-6), 100, RATE_HZ, COUPLED)
    weights = box_less_box(n)
    integral = integrate.cumulative_trapezoid(np.eye(n), dx=1 / RATE_HZ, axis=0, initial=0)
    gain = np.eye(n) + COUPLED.a * integral + COUPLED.b * integral @ integral
    expected = 2e-3 * float(np.linalg.norm(gain.T @ weights))
    assert expected == pytest.approx(louder * 2e-3 * np.linalg.norm(weights), rel=0.01)
    assert noise.u_of(weights) == pytest.approx(expected, rel=within)
    assert noise.u_of(weights) == noise.u_of(weights)  # remembered from the first time


def test_noise_of_undone_pieces_is_the_noise_as_recorded_whatever_line_they_stand_on() -> None:
    """Poles of 60 and 20 Hz make 31 Hz seven times as loud when undone; that is taken off again: white is white."""
    coupled = Coupling(*angular((60.0, 20.0)), 0.0, np.zeros((3, 3)))
    level = 1e-3 * white(200_000, 3)
    pieces = [undone(level[at : at + 1024], 1 / RATE_HZ, coupled.a, coupled.b, 0.0) for at in range(0, 199_000, 512)]
    noise = noise_of(pieces, RATE_HZ, coupled)
    assert noise.density[4:9] == pytest.approx(1e-6, rel=0.3)
    assert noise.density[9:].mean() == pytest.approx(1e-6, rel=0.01)
    on_lines = noise_of([piece + 5 - np.linspace(0, 9, 1024) for piece in pieces], RATE_HZ, coupled)
    assert on_lines.density == pytest.approx(noise.density, rel=1e-6)


# Between the firings


def test_only_the_dark_between_the_firings_counts() -> None:
    light = openings(4, rate_hz=RATE_HZ)
    loud = np.where(light > 0, 0.1, 1e-3) * white(len(light), 5)
    level = recorded(light, CORNERS_HZ, RATE_HZ) + loud
    noise = noise_between(level, RATE_HZ, spans(4), COUPLED, None)
    assert noise.sigma == pytest.approx(1e-3, rel=0.03)
    assert len(noise.density) == 257  # pieces of 512 samples, the power of two below 0.1 s


def test_noise_is_taken_up_to_four_milliseconds_before_an_edge_and_from_eight_after_it() -> None:
    """Dark of whole pieces: 512 samples, half overlapping. Before the firing 4096 samples are 15 of them, after it 8192
    are 31; what is loud stands within a sample of their ends."""
    up_s, down_s = 4096 / RATE_HZ + 4e-3, 4096 / RATE_HZ + 0.1
    level = 1e-3 * white(round((down_s + 8e-3) * RATE_HZ) + 8192, 8)
    loud = np.arange(len(level)) / RATE_HZ
    level[(loud >= up_s - 4e-3) & (loud < down_s + 8e-3 - 1e-9)] += 1.0
    noise = noise_between(level, RATE_HZ, (Span(up_s, down_s),), UNCOUPLED, None)
    assert noise.n_segments == 15 + 31
    assert noise.sigma == pytest.approx(1e-3, rel=0.05)


def test_short_dark_has_short_pieces_and_sixty_four_samples_at_least() -> None:
    level = 1e-3 * white(400, 9)
    noise = noise_between(level, RATE_HZ, (Span(0.0165, 0.03),), UNCOUPLED, None)
    assert len(noise.density) == 33
    with pytest.raises(NotMeasurable, match="no dark between the firings"):
        noise_between(level[:100], RATE_HZ, (Span(0.0115, 0.0125),), UNCOUPLED, None)


def test_a_silent_recording_has_the_noise_of_its_converters_steps() -> None:
    """[jcgm-100] F.2.2.1: q/√12; the step of 16 bits is 2^-15 of full scale."""
    level = recorded(openings(2, rate_hz=RATE_HZ), CORNERS_HZ, RATE_HZ)
    assert noise_between(level, RATE_HZ, spans(2), COUPLED, 16).sigma == pytest.approx(2**-15 / math.sqrt(12), rel=1e-3)
    assert noise_between(level, RATE_HZ, spans(2), COUPLED, None).sigma < 1e-9


def test_of_a_long_recording_some_hundred_pieces_are_enough() -> None:
    level = 1e-3 * white(round(60 * RATE_HZ), 6)
    noise = noise_between(level, RATE_HZ, (Span(30.0, 30.01),), COUPLED, None)
    assert 120 <= noise.n_segments <= 240
    assert noise.sigma == pytest.approx(1e-3, rel=0.02)


def test_a_recording_that_is_all_firing_has_no_noise_to_show() -> None:
    with pytest.raises(NotMeasurable, match="no dark between the firings"):
        noise_between(np.zeros(1_000), RATE_HZ, (Span(0.001, 0.12),), COUPLED, 16)


# Unrest


def test_noise_alone_is_seldom_said_to_move() -> None:
    noise = Noise(np.full(513, 1.0), 100, RATE_HZ, UNCOUPLED)
    found = [noise.unrest(white(800, seed)) for seed in range(200)]
    assert np.mean([moves for moves, _ in found]) == pytest.approx(1 / math.sqrt(8), rel=0.05)  # means of 8 samples
    assert np.mean([times > 1 for _, times in found]) < 0.02


def test_a_lamp_that_flickers_moves_more_than_the_noise() -> None:
    """A sine of amplitude A has the standard deviation A/√2; over means of 1 ms 50 Hz keeps 99.6 % of it."""
    noise = Noise(np.full(513, 1.0), 100, RATE_HZ, UNCOUPLED)
    t = np.arange(800) / RATE_HZ
    moves, times = noise.unrest(5 * np.sin(2 * math.pi * 50 * t) + 0 * t)
    assert moves == pytest.approx(5 / math.sqrt(2), rel=0.01)
    assert times == pytest.approx(moves * math.sqrt(8) / (1 + 2 / math.sqrt(100)), rel=0.05)


def test_less_than_four_milliseconds_tell_no_movement() -> None:
    noise = Noise(np.full(513, 1.0), 100, RATE_HZ, UNCOUPLED)
    assert noise.unrest(100 * white(31)) == (0.0, 1.0)
    assert noise.unrest(100 * white(32))[1] > 1
