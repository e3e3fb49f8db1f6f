"""What undoes the coupling, against closed forms and scipy's filters; how well it is known, by drawing recordings."""

import math
from dataclasses import dataclass, field
from unittest.mock import Mock

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import integrate, stats

from camerawright.bench.shutter import simulate
from camerawright.bench.shutter.simulate import Unseen
from camerawright.numeric.coupling import Coupling, identify, terms, undone
from camerawright.numeric.firings import Span, find
from camerawright.numeric.instrument import Instrument
from camerawright.trouble import NotMeasurable
from tests.numeric.high_pass import PLATEAU, angular, off_line, openings, recorded, spans

Floats = NDArray[np.float64]

RATE_HZ = 4_000.0
TWO_POLES = (12.0, 1.3)


# Undoing


@pytest.mark.parametrize("rate_hz", [4_000.0, 48_000.0])
@pytest.mark.parametrize("corners_hz", [TWO_POLES, (9.0,)])
def test_what_scipys_filter_took_from_any_light_is_given_back(corners_hz: tuple[float, ...], rate_hz: float) -> None:
    """Identity: the bilinear transform of s is the trapezium rule, so both agree to the last digits (scipy.signal)."""
    light = np.random.default_rng(3).standard_normal(5_000)
    again = undone(recorded(light, corners_hz, rate_hz), 1 / rate_hz, *angular(corners_hz), 0.0)
    assert off_line(again - light) == pytest.approx(0, abs=1e-10)


@pytest.mark.parametrize("rate_hz", [6_000.0, 48_000.0])
def test_a_step_through_two_poles_is_given_back_but_for_the_trapezium_rules_own_error(rate_hz: float) -> None:
    """Closed form: s/((s + w1)(s + w2)) is (w1 e^-w1t - w2 e^-w2t)/(w1 - w2). The trapezium rule is off by at most
    dt²/12 (f'(t) - f'(0)) to leading order (Euler and Maclaurin, textbook, from memory)."""
    w1, w2 = (2 * math.pi * corner_hz for corner_hz in TWO_POLES)
    t = np.arange(round(0.2 * rate_hz)) / rate_hz
    y = (w1 * np.exp(-w1 * t) - w2 * np.exp(-w2 * t)) / (w1 - w2)
    left = off_line(undone(y, 1 / rate_hz, w1 + w2, w1 * w2, 0.0) - 1)
    bound = (w1 + w2 + w1 * w2 * t[-1]) * (w1 + w2) ** 2 / rate_hz**2 / 12
    assert np.abs(left).max() < bound


def test_the_integrals_of_a_parabola_are_those_of_the_closed_form() -> None:
    """∫(1 + t²) = t + t³/3, twice t²/2 + t⁴/12; the trapezium rule is off by t dt²/6 and less than t² dt²/6."""
    dt_s = 1e-3
    t = np.linspace(0, 0.999, 1_000)
    once, twice, half_square = terms(np.asarray(1 + t**2), dt_s)
    assert once == pytest.approx(t + t**3 / 3 + t * dt_s**2 / 6, abs=1e-12)
    assert twice == pytest.approx(t**2 / 2 + t**4 / 12, abs=dt_s**2 / 4)
    assert half_square == pytest.approx(t**2 / 2)
    assert (once[0], twice[0], half_square[0]) == (0, 0, 0)


def test_a_converter_whose_zero_is_off_is_undone_by_minus_b_times_that() -> None:
    light = openings(1, rate_hz=RATE_HZ)
    a, b = angular(TWO_POLES)
    again = undone(recorded(light, TWO_POLES, RATE_HZ) + 0.05, 1 / RATE_HZ, a, b, -b * 0.05)
    assert off_line(again - light) == pytest.approx(0, abs=1e-10)


# Finding the poles


@pytest.mark.parametrize("rate_hz", [2_000.0, 8_000.0, 48_000.0])
@pytest.mark.parametrize("corners_hz", [TWO_POLES, (16.0, 0.3), (20.0, 10.0)])
def test_the_corners_of_a_clean_recording_are_found(corners_hz: tuple[float, float], rate_hz: float) -> None:
    level = recorded(openings(2, rate_hz=rate_hz), corners_hz, rate_hz) + 0.02
    found = identify(level, rate_hz, spans(2))
    a, b = angular(corners_hz)
    assert (found.a, found.b, found.e) == pytest.approx((a, b, -b * 0.02), rel=1e-6)
    assert found.corners_hz == pytest.approx(corners_hz, rel=1e-6)


def test_one_pole_is_found_and_no_second() -> None:
    level = recorded(openings(3, rate_hz=RATE_HZ), (7.0,), RATE_HZ)
    level += 1e-4 * np.random.default_rng(0).standard_normal(len(level))
    found = identify(level, RATE_HZ, spans(3))
    assert (found.b, found.e) == (0, 0)
    assert np.all(found.covariance[1:] == 0)
    assert found.corners_hz == pytest.approx((7.0,), rel=1e-3)


def test_an_input_without_a_capacitor_has_its_corner_near_zero() -> None:
    level = openings(3, rate_hz=RATE_HZ) + 1e-3 * np.random.default_rng(1).standard_normal(round(2.9 * RATE_HZ))
    found = identify(level, RATE_HZ, spans(3))
    assert 0 <= found.a < 4 * math.sqrt(found.covariance[0, 0])
    assert found.corners_hz == (found.a / (2 * math.pi),)


def test_two_equal_poles_whose_product_noise_has_raised_are_both_half_their_sum() -> None:
    assert Coupling(10.0, 26.0, 0.0, np.zeros((3, 3))).corners_hz == pytest.approx((5 / (2 * math.pi),) * 2)


def test_what_happens_in_the_dark_long_after_the_droop_has_died_is_not_looked_at() -> None:
    """After five time constants of a 10 Hz corner, 80 ms, the droop is 0.7 %: a lamp switched on later is not seen."""
    light = openings(2, rate_hz=RATE_HZ)
    quiet = recorded(light, (20.0, 10.0), RATE_HZ)
    late = light.copy()
    for span in spans(2):
        at = round((span.down_s + 0.25) * RATE_HZ)
        late[at : at + round(0.1 * RATE_HZ)] += 1e-3 * PLATEAU
    disturbed = recorded(late, (20.0, 10.0), RATE_HZ)
    one, other = (identify(level, RATE_HZ, spans(2)) for level in (quiet, disturbed))
    assert (other.a, other.b) == pytest.approx((one.a, one.b), rel=1e-4)


def test_noise_integrated_over_long_dark_does_not_pull_the_poles_down() -> None:
    """Errors in variables: over the whole dark a comes out lower by more than half its u, on average of 60."""
    light = recorded(openings(3, rate_hz=RATE_HZ), (16.0, 8.0), RATE_HZ)
    a, _ = angular((16.0, 8.0))
    away = []
    for seed in range(60):
        found = identify(
            light + 1e-3 * PLATEAU * np.random.default_rng(seed).standard_normal(len(light)), RATE_HZ, spans(3)
        )
        away.append((found.a - a) / math.sqrt(found.covariance[0, 0]))
    assert abs(np.mean(away)) < 0.5, np.mean(away)


@pytest.mark.parametrize(("corners_hz", "n_fits"), [(TWO_POLES, 1), ((12.0, 4.0), 2)])
def test_the_fit_is_repeated_only_while_less_dark_would_do(
    corners_hz: tuple[float, float], n_fits: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Five time constants of 1.3 Hz are 0.61 s, all the dark there is; those of 4 Hz are 0.20 s, found at once."""
    solve = Mock(wraps=np.linalg.lstsq)
    monkeypatch.setattr(np.linalg, "lstsq", solve)
    identify(recorded(openings(2, rate_hz=RATE_HZ), corners_hz, RATE_HZ), RATE_HZ, spans(2))
    assert solve.call_count == n_fits


@dataclass
class Counted:
    """A channel that remembers which stretches were asked for."""

    level: Floats
    asked: list[slice] = field(default_factory=list)

    def __len__(self) -> int:
        return len(self.level)

    def __getitem__(self, stretch: slice, /) -> Floats:
        self.asked.append(stretch)
        return self.level[stretch]


def test_of_very_many_firings_an_even_choice_is_read_and_nothing_far_from_them() -> None:
    n = 130
    level = Counted(recorded(openings(n, rate_hz=2_000.0), TWO_POLES, 2_000.0))
    identify(level, 2_000.0, spans(n))
    assert len(level.asked) == 44  # every third
    starts_s = np.array([stretch.start for stretch in level.asked]) / 2_000.0
    assert np.diff(starts_s) == pytest.approx(3 * 0.8, abs=1e-3)
    assert starts_s[0] == pytest.approx(0.2)


def test_a_recording_without_dark_is_refused() -> None:
    close = tuple(Span(0.1 * i + 0.001, 0.1 * i + 0.099) for i in range(5))
    with pytest.raises(NotMeasurable, match="no dark between the firings"):
        identify(np.random.default_rng(0).standard_normal(2_000), RATE_HZ, close)


def test_after_a_firing_of_two_seconds_two_seconds_of_dark_are_used() -> None:
    light = openings(1, rate_hz=RATE_HZ, open_s=2.0, apart_s=4.5)
    level = recorded(light, (5.0, 0.4), RATE_HZ)
    late = level.copy()
    late[round((2.5 + 1.9) * RATE_HZ) :] += 1e-3
    one, other = (identify(each, RATE_HZ, spans(1, open_s=2.0)) for each in (level, late))
    assert one.corners_hz == pytest.approx((5.0, 0.4), rel=1e-6)
    assert abs(other.a / one.a - 1) > 1e-6


def test_a_recording_that_is_a_millionth_as_loud_tells_the_same() -> None:
    level = recorded(openings(3, rate_hz=RATE_HZ), TWO_POLES, RATE_HZ)
    level += 1e-3 * PLATEAU * np.random.default_rng(2).standard_normal(len(level))
    loud, quiet = (identify(gain * level, RATE_HZ, spans(3)) for gain in (1, 1e-6))
    assert (quiet.a, quiet.b, quiet.e) == pytest.approx((loud.a, loud.b, 1e-6 * loud.e), rel=1e-6)
    units = np.array([1, 1, 1e-6])
    assert quiet.covariance == pytest.approx(loud.covariance * np.outer(units, units), rel=1e-6)


# How well they are known


def _apart(corners_hz: tuple[float, ...], levels: list[Floats], at: tuple[Span, ...]) -> float:
    """Mean squared distance of (a, b) from the truth by their covariance, over 2: 1 if that is right."""
    squares = []
    for level in levels:
        found = identify(level, RATE_HZ, at)
        away = np.array([found.a, found.b]) - angular(corners_hz)
        squares.append(away @ np.linalg.solve(found.covariance[:2, :2], away) / 2)
    return float(np.mean(squares))


@pytest.mark.parametrize(("n_firings", "n"), [(1, 150), (2, 100), (6, 50)])
def test_a_and_b_are_as_sure_as_their_covariance_says(n_firings: int, n: int) -> None:
    """White noise: 2 n times the mean is chi squared of 2 n degrees of freedom; one in a million passes on a side."""
    clean = recorded(openings(n_firings, rate_hz=RATE_HZ), TWO_POLES, RATE_HZ)
    draws = [1e-3 * PLATEAU * np.random.default_rng([n_firings, i]).standard_normal(len(clean)) for i in range(n)]
    low, high = (float(stats.chi2.ppf(p, 2 * n)) / (2 * n) for p in (1e-6, 1 - 1e-6))
    # more noise shows as scatter by chance, never less: what few stretches say raises u a little
    assert 0.85 * low < _apart(TWO_POLES, [clean + draw for draw in draws], spans(n_firings)) < high


def test_light_that_wanders_between_the_firings_widens_the_covariance() -> None:
    """The lamp's brightness walks at random by 0.3 % in a second: four times what white noise says of (a, b)."""
    light = openings(20, rate_hz=RATE_HZ)
    levels = []
    for seed in range(30):
        rng = np.random.default_rng(seed)
        walk = 0.003 * PLATEAU * np.cumsum(rng.standard_normal(len(light))) / math.sqrt(RATE_HZ)
        levels.append(recorded(light + walk, TWO_POLES, RATE_HZ) + 1e-3 * PLATEAU * rng.standard_normal(len(light)))
    assert _apart(TWO_POLES, levels, spans(20)) < 2.2


def test_the_covariance_of_one_stretch_is_that_of_matrices_written_out() -> None:
    """v M⁻¹ Xᵀ G Gᵀ X M⁻¹ with every matrix in full, J by scipy's cumulative_trapezoid; v from what the fit leaves.

    Here the lines are fitted with the rest, there they are taken off first: the same by [frisch-waugh-1933].
    """
    rate_hz, corners_hz = 2_000.0, (12.0, 0.8)
    (span,) = at = spans(1)
    level = recorded(openings(1, rate_hz=rate_hz, apart_s=0.3), corners_hz, rate_hz)
    level += 1e-3 * PLATEAU * np.random.default_rng(8).standard_normal(len(level))
    found = identify(level, rate_hz, at)

    start, stop = round((span.up_s - 0.3) * rate_hz), len(level)
    t = (np.arange(stop - start) + 0.5) / rate_hz + span.up_s - 0.3
    dark = (t < span.up_s - 4e-3) | (t > span.down_s + 4e-3)
    integral = integrate.cumulative_trapezoid(np.eye(len(t)), dx=1 / rate_hz, axis=0, initial=0)
    y = level[start:stop]
    model = np.column_stack([-integral @ y, -integral @ integral @ y, -((t - t[0]) ** 2) / 2, np.ones_like(t), t])[dark]
    theta, *_ = np.linalg.lstsq(model, y[dark], rcond=None)
    assert (found.a, found.b, found.e) == pytest.approx(tuple(theta[:3]), rel=1e-6)
    light = (np.eye(len(t)) + theta[0] * integral + theta[1] * integral @ integral)[dark]
    inverse = np.linalg.pinv(model)
    left = (np.eye(len(model)) - model @ inverse) @ light
    v = np.sum((y[dark] - model @ theta) ** 2) / np.sum(left**2)
    expected = (v * inverse @ light @ light.T @ inverse.T)[:3, :3]
    assert found.covariance == pytest.approx(expected, rel=1e-4)  # b dt²/4 of a sample's own step is left out: 2e-5


def test_light_that_wanders_far_more_than_the_noise_gives_the_covariance_of_the_scatter_alone() -> None:
    """[liang-zeger-1986]: M⁻¹ (Σ s sᵀ m/(m - 1)) M⁻¹ with the scores s of m = 8 stretches.

    numpy.linalg.lstsq takes their lines off.
    """
    rate_hz, n = 2_000.0, 8
    light = openings(n, rate_hz=rate_hz, apart_s=1.2)
    light += 0.02 * np.cumsum(np.random.default_rng(6).standard_normal(len(light))) / math.sqrt(rate_hz)
    level, at = recorded(light, (12.0, 0.8), rate_hz), spans(n, apart_s=1.2)
    found = identify(level, rate_hz, at)
    rows, left = [], []
    for span in at:
        y = level[round((span.up_s - 0.3) * rate_hz) : round((span.down_s + 0.6) * rate_hz)]
        t = (np.arange(len(y)) + 0.5) / rate_hz + span.up_s - 0.3
        dark = (t < span.up_s - 4e-3) | (t > span.down_s + 4e-3)
        once = integrate.cumulative_trapezoid(y, dx=1 / rate_hz, initial=0)
        twice = integrate.cumulative_trapezoid(once, dx=1 / rate_hz, initial=0)
        block = np.column_stack([-once, -twice, -((t - t[0]) ** 2) / 2, y])[dark]
        line = np.column_stack([np.ones_like(t), t - t[0]])[dark]
        block -= line @ np.linalg.lstsq(line, block, rcond=None)[0]
        rows.append(block[:, :3])
        left.append(block[:, 3] - block[:, :3] @ [found.a, found.b, found.e])
    scores = np.array([one.T @ rest for one, rest in zip(rows, left, strict=True)])
    inverse = np.linalg.inv(sum(one.T @ one for one in rows))
    expected = inverse @ scores.T @ scores @ inverse * n / (n - 1)
    assert found.covariance == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize("n_firings", [1, 2, 3, 8])
def test_what_few_firings_tell_of_the_corners_is_as_sure_as_it_says(n_firings: int) -> None:
    """Simulated blades and corners, white noise: the sum of 30 squared normalised errors is chi squared, which passes
    66 once in 6000 by chance (textbook, from memory)."""
    n = 30
    squares = []
    for seed in range(n):
        rng = np.random.default_rng([seed, n_firings])
        made = simulate.drawn(1 / 60, 40, Unseen(0, 0, 0), rng, n_firings)
        level, _ = simulate.recording(made, seed)
        found = find(level, made.card.rate_hz)
        coupling = identify(level * found.sign, made.card.rate_hz, found.spans)
        away = np.array([coupling.a, coupling.b]) - angular(made.card.corners_hz)
        squares.append(away**2 / np.diag(coupling.covariance)[:2])
    of_a, of_b = np.transpose(squares)
    assert 0.3 < of_a.mean() < 66 / n
    assert 0.3 < of_b.mean() < 66 / n


# What is known from before


def _noisy(seed: int) -> Floats:
    level = recorded(openings(3, rate_hz=RATE_HZ), TWO_POLES, RATE_HZ)
    return np.asarray(level + 3e-3 * PLATEAU * np.random.default_rng(seed).standard_normal(len(level)))


def test_poles_that_are_known_exactly_are_kept() -> None:
    a, b = angular(TWO_POLES)
    found = identify(_noisy(0), RATE_HZ, spans(3), Instrument(a, b, np.diag([1e-10, 1e-10]), 9))
    assert (found.a, found.b) == pytest.approx((a, b), rel=1e-6)


def test_what_was_known_and_what_is_told_are_weighted_as_two_measurements_of_one_thing() -> None:
    """One least-squares problem with both as observations, solved by numpy.linalg.lstsq."""
    alone = identify(_noisy(1), RATE_HZ, spans(3))
    known = Instrument(84.0, 600.0, np.array([[0.04, 0.5], [0.5, 400.0]]), 3)
    joint = identify(_noisy(1), RATE_HZ, spans(3), known)
    root = [np.linalg.inv(np.linalg.cholesky(each)) for each in (alone.covariance, known.covariance)]
    rows = np.concatenate([root[0], root[1] @ np.eye(2, 3)])
    told = np.concatenate([root[0] @ [alone.a, alone.b, alone.e], root[1] @ [known.a_per_s, known.b_per_s2]])
    theta, *_ = np.linalg.lstsq(rows, told, rcond=None)
    assert (joint.a, joint.b, joint.e) == pytest.approx(tuple(theta), rel=1e-6)
    assert joint.covariance == pytest.approx(np.linalg.inv(rows.T @ rows), rel=1e-6)
