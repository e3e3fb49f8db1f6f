"""One firing: its times against closed forms, and every derivative against the firing itself, changed a little."""

import math
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from camerawright.numeric.pulse import Baseline, Pulse, Timed, measure_pulse, pulse_reach
from camerawright.trouble import NotMeasurable
from tests.numeric.pulses import Known

Floats = NDArray[np.float64]

SIGMA = 1e-4
TIMES = ("total", "half_peak", "effective", "opening", "closing")
KNOWN = Known()
SHORT = Known(open_s=0.0)  # begins to close when it has just opened: no plateau


def measured(known: Known, light: Floats | None = None, full_open: float | None = None) -> Pulse:
    return measure_pulse(known.light if light is None else light, known.dark, SIGMA, known.rate_hz, full_open)


def times(pulse: Pulse) -> dict[str, float]:
    return {name: getattr(pulse, name).value_s for name in TIMES}


# Values


@pytest.mark.parametrize("edge_s", [1e-3, 2e-3])
@pytest.mark.parametrize("open_s", [2e-3, 6e-3, 15e-3])
@pytest.mark.parametrize("rate_hz", [48_000.0, 96_000.0])
def test_the_times_are_those_of_the_closed_form(edge_s: float, open_s: float, rate_hz: float) -> None:
    known = Known(edge_s=edge_s, open_s=open_s, rate_hz=rate_hz)
    found = measured(known)
    edge_between_s = known.reached_s(0.9) - known.reached_s(0.1)
    assert found.level == pytest.approx(known.level, rel=1e-3)
    assert times(found) == pytest.approx(
        {
            "total": known.width_s(0.1),
            "half_peak": known.width_s(0.5),
            "effective": known.effective_s,
            "opening": edge_between_s,
            "closing": edge_between_s,
        },
        abs=6e-6,
    )
    assert found.half_up_s == pytest.approx(known.up_s + edge_s / 2, abs=2e-6)
    assert found.half_down_s == pytest.approx(known.down_s - edge_s / 2, abs=2e-6)
    for part in (0.2, 0.5, 0.8):
        assert found.passing(part, rising=True).value_s == pytest.approx(known.up_s + known.reached_s(part), abs=3e-6)
        down_s = known.down_s - known.reached_s(part)
        assert found.passing(part, rising=False).value_s == pytest.approx(down_s, abs=3e-6)


def test_the_plateau_is_the_open_time_and_is_level() -> None:
    found = measured(KNOWN)
    assert found.has_plateau
    assert found.plateau[0] / KNOWN.rate_hz == pytest.approx(KNOWN.up_s + KNOWN.edge_s, abs=5e-4)
    assert found.plateau[1] / KNOWN.rate_hz == pytest.approx(KNOWN.down_s - KNOWN.edge_s, abs=5e-4)
    assert found.plateau_slope == pytest.approx(0, abs=1e-3)
    assert found.inner_level == pytest.approx(0, abs=1e-3)
    assert found.opens_to == 1
    assert np.array_equal(found.dark, KNOWN.dark)


def test_a_firing_without_a_plateau_has_the_height_of_its_top() -> None:
    """sin⁴ has the height 1 and the width of twice the time to sin² = √p, in closed form."""
    found = measured(SHORT)
    assert not found.has_plateau
    assert found.plateau_slope == 0
    assert found.level == pytest.approx(SHORT.level, rel=0.01)
    assert found.half_peak.value_s == pytest.approx(2 * (SHORT.edge_s - SHORT.reached_s(0.5)), rel=0.01)
    assert found.effective.value_s == pytest.approx(SHORT.edge_s, rel=0.01)


def test_a_level_that_is_given_is_taken() -> None:
    """Half as high as fully open: crossings are those of a fifth and of the whole of its own height."""
    found = measured(KNOWN, full_open=2 * KNOWN.level)
    assert found.level == 2 * KNOWN.level
    assert found.opens_to == pytest.approx(0.5, rel=1e-3)
    assert found.effective.value_s == pytest.approx(KNOWN.effective_s / 2, rel=1e-3)
    assert found.total.value_s == pytest.approx(KNOWN.width_s(0.2), abs=5e-6)
    opening_s = KNOWN.reached_s(0.9) - KNOWN.reached_s(0.2)  # to nine tenths of its own top
    assert found.opening.value_s == pytest.approx(opening_s, abs=6e-6)
    assert np.all(found.level_weights == 0)


def test_a_straight_line_under_the_firing_changes_nothing() -> None:
    line = 0.05 - 0.8 * KNOWN.at_s
    found = measured(KNOWN, np.asarray(KNOWN.light + line))
    assert times(found) == pytest.approx(times(measured(KNOWN)), rel=1e-9)
    assert found.light == pytest.approx(KNOWN.light, abs=1e-9)
    assert found.baseline.of(line) == pytest.approx(line)


def test_gain_changes_no_time() -> None:
    found = measure_pulse(7 * KNOWN.light, KNOWN.dark, 7 * SIGMA, KNOWN.rate_hz)
    assert times(found) == pytest.approx(times(measured(KNOWN)), rel=1e-9)
    assert found.level == pytest.approx(7 * KNOWN.level, rel=1e-3)


def test_a_firing_played_backwards_closes_as_it_opened() -> None:
    slow = replace(KNOWN, edge_s=3e-3).opening
    light = np.asarray(KNOWN.level * slow * KNOWN.closing)
    forwards = measure_pulse(light, KNOWN.dark, SIGMA, KNOWN.rate_hz)
    backwards = measure_pulse(light[::-1], KNOWN.dark[::-1], SIGMA, KNOWN.rate_hz)
    assert forwards.opening.value_s > 1.3 * forwards.closing.value_s
    assert backwards.opening.value_s == pytest.approx(forwards.closing.value_s, rel=1e-3)
    assert backwards.closing.value_s == pytest.approx(forwards.opening.value_s, rel=1e-3)
    assert backwards.total.value_s == pytest.approx(forwards.total.value_s, rel=1e-6)


def test_a_plateau_that_falls_is_said_to_fall() -> None:
    """4 % over the open time; the plateau that is found is nearly as long."""
    fall = 1 - 0.04 * np.clip((KNOWN.at_s - KNOWN.up_s - KNOWN.edge_s) / KNOWN.open_s, 0, 1)
    found = measured(KNOWN, KNOWN.light * fall)
    part = (found.plateau[1] - found.plateau[0]) / KNOWN.rate_hz / KNOWN.open_s
    assert part > 0.8
    assert found.plateau_slope == pytest.approx(-0.04 * part / 0.98, rel=0.02)


def test_a_plateau_that_sags_in_the_middle_has_a_lower_inner_level() -> None:
    """A parabola of depth d from end to end: its mean is 2/3 d, that of its inner half 11/12 d: a quarter apart."""
    run = np.clip((KNOWN.at_s - KNOWN.up_s - KNOWN.edge_s) / KNOWN.open_s, 0, 1)
    found = measured(KNOWN, KNOWN.light * (1 - 0.02 * 4 * run * (1 - run)))
    assert found.inner_level == pytest.approx(-0.02 / 4, rel=0.15)


def test_the_tail_is_the_light_after_the_foot_over_the_foot() -> None:
    """∫sin² from 0 to s is s/2 - (E/2π) sin(π s/E)."""
    found = measured(KNOWN)
    foot_s = KNOWN.reached_s(0.1)
    tail_s = (foot_s / 2 - KNOWN.edge_s / (2 * math.pi) * math.sin(math.pi * foot_s / KNOWN.edge_s)) / 0.1
    assert found.tail.value_s == pytest.approx(tail_s, rel=0.02)
    assert found.tail_per_edge == pytest.approx(tail_s / (KNOWN.reached_s(0.5) - foot_s), rel=0.02)


def test_a_sensor_that_lags_has_a_tail_of_its_time_constant() -> None:
    """A closing much faster than the sensor: exp(-t/τ). Half to foot is τ ln 5, and 0.8 of its edge τ ln 9 is counted
    after the foot: τ (1 - 9^-0.8)."""
    known, lag_s = Known(edge_s=0.1e-3, length_s=0.1), 1.5e-3
    pole = math.exp(-1 / (lag_s * known.rate_hz))
    light = signal.lfilter([1 - pole], [1, -pole], known.light)
    dark = (known.at_s < known.up_s - 1e-3) | (known.at_s > known.down_s + 0.02)
    found = measure_pulse(light, dark, SIGMA, known.rate_hz)
    assert found.tail.value_s == pytest.approx(lag_s * (1 - 9**-0.8), rel=0.01)
    assert found.tail_per_edge == pytest.approx((1 - 9**-0.8) / math.log(5), rel=0.01)


# What blades do besides


def bump(known: Known, from_s: float, height: float, long_s: float = 1e-3) -> Floats:
    """Light that comes and goes once more."""
    run = np.clip((known.at_s - from_s) / long_s, 0, 1)
    return np.asarray(height * known.level * np.sin(math.pi * run) ** 2)


def test_blades_that_open_again_are_seen_and_their_light_counts() -> None:
    known = replace(KNOWN, length_s=0.08)
    light = known.light + bump(known, known.down_s + 3e-3, 0.2)
    dark = known.dark & (light < 1e-12)
    found = measure_pulse(light, dark, SIGMA, known.rate_hz)
    assert found.reopened == pytest.approx(0.2, rel=0.1)  # its top, over a fifth of a millisecond
    assert found.effective.value_s == pytest.approx(known.effective_s + 0.2 * 0.5e-3, rel=1e-3)
    assert found.total.value_s == pytest.approx(known.width_s(0.1), rel=1e-3)
    assert measured(known).reopened == 0


@pytest.mark.parametrize(("later_s", "height"), [(3e-3, 0.01), (25e-3, 0.2)])
def test_light_that_is_too_little_or_too_late_is_no_bounce(later_s: float, height: float) -> None:
    known = replace(KNOWN, length_s=0.08)
    light = known.light + bump(known, known.down_s + later_s, height)
    assert measure_pulse(light, known.dark & (light < 1e-12), SIGMA, known.rate_hz).reopened == 0


def test_blades_that_close_a_little_again_after_opening_are_seen() -> None:
    light = KNOWN.light - bump(KNOWN, KNOWN.up_s + KNOWN.edge_s + 1.5e-3, 0.15)
    found = measured(KNOWN, light)
    assert found.dipped == pytest.approx(0.15, rel=0.1)
    assert measured(KNOWN).dipped == 0
    late = measured(KNOWN, KNOWN.light - bump(KNOWN, KNOWN.up_s + KNOWN.edge_s + 11e-3, 0.15))
    assert late.dipped == 0


def test_a_plateau_too_short_to_tell_shows_no_dip() -> None:
    assert measured(replace(KNOWN, open_s=1.2e-3)).dipped == 0


@pytest.mark.parametrize(("sigma", "seen_from"), [(1e-4, 0.02), (0.02, 6 * 0.02 / math.sqrt(11) / 0.3)])
def test_a_bounce_is_seen_from_six_sigma_of_its_mean_or_a_fiftieth(sigma: float, seen_from: float) -> None:
    """A fifth of a millisecond is 11 samples of 48 kHz, to an odd number."""
    found = measure_pulse(KNOWN.light, KNOWN.dark, sigma, KNOWN.rate_hz)
    assert found.bounce_seen_from == pytest.approx(seen_from, rel=1e-3)


def test_noise_alone_is_no_bounce() -> None:
    rng = np.random.default_rng(4)
    for _ in range(20):
        light = KNOWN.light + 0.01 * KNOWN.level * rng.standard_normal(len(KNOWN.light))
        found = measure_pulse(light, KNOWN.dark, 0.01 * KNOWN.level, KNOWN.rate_hz)
        assert (found.reopened, found.dipped) == (0, 0)


# Derivatives


def by(changed: dict[float, dict[str, float]]) -> dict[str, float]:
    """Central differences of the times."""
    (low, before), (high, after) = sorted(changed.items())
    return {name: (after[name] - before[name]) / (high - low) for name in TIMES}


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("known", [KNOWN, Known(open_s=4e-3, edge_s=1.2e-3)])
def test_each_time_moves_with_the_samples_as_its_weights_say(known: Known, seed: int) -> None:
    way = np.random.default_rng(seed).standard_normal(len(known.light))
    noisy = known.light + SIGMA * np.random.default_rng(50 + seed).standard_normal(len(known.light))
    step = 1e-7
    pulse = measured(known, noisy)
    found = by({h: times(measured(known, noisy + h * way)) for h in (-step, step)})
    assert found == pytest.approx({name: getattr(pulse, name).weights @ way for name in TIMES}, rel=1e-3, abs=1e-7)
    for part, rising in ((0.3, True), (0.5, False)):
        low, high = (measured(known, noisy + h * way).passing(part, rising=rising).value_s for h in (-step, step))
        assert (high - low) / (2 * step) == pytest.approx(
            pulse.passing(part, rising=rising).weights @ way, rel=1e-3, abs=1e-7
        )


def test_the_level_and_what_is_told_of_it_move_as_their_weights_say() -> None:
    way = np.random.default_rng(9).standard_normal(len(KNOWN.light))
    light, step = KNOWN.light * (1 + 0.01 * np.sin(400 * KNOWN.at_s)), 1e-7
    here, low, high = (measured(KNOWN, light + h * way) for h in (0, -step, step))
    assert (high.level - low.level) / (2 * step) == pytest.approx(here.level_weights @ way, rel=1e-6)
    # the slope and the inner level are in levels: what the level's own change does to them is of second order
    assert (high.plateau_slope - low.plateau_slope) / (2 * step) == pytest.approx(here.slope_weights @ way, rel=0.02)
    assert (high.inner_level - low.inner_level) / (2 * step) == pytest.approx(here.inner_weights @ way, rel=0.02)
    given = [measured(KNOWN, light + h * way, full_open=0.5) for h in (0, -step, step)]
    moved = (given[2].opens_to - given[1].opens_to) / (2 * step)
    assert moved == pytest.approx(given[0].top_weights @ way, rel=1e-6)


@pytest.mark.parametrize("weights", ["level_weights", "slope_weights", "inner_weights", "top_weights"])
def test_no_weights_feel_a_straight_line(weights: str) -> None:
    line = 3 - 50 * KNOWN.at_s
    assert getattr(measured(KNOWN), weights) @ line == pytest.approx(0, abs=1e-9)
    for name in (*TIMES, "tail"):
        assert getattr(measured(KNOWN), name).weights @ line == pytest.approx(0, abs=1e-9)


def test_each_time_moves_with_the_level_as_it_says() -> None:
    level, step = 0.9 * KNOWN.level, 1e-4
    pulse = measured(KNOWN, full_open=level)
    found = by({h: times(measured(KNOWN, full_open=level * (1 + h))) for h in (-step, step)})
    assert found == pytest.approx({name: getattr(pulse, name).per_level_s for name in TIMES}, rel=0.01)
    low, high = (measured(KNOWN, full_open=level * (1 + h)) for h in (-step, step))
    for part, rising in ((0.3, True), (0.5, False)):
        moved = (high.passing(part, rising=rising).value_s - low.passing(part, rising=rising).value_s) / (2 * step)
        assert moved == pytest.approx(pulse.passing(part, rising=rising).per_level_s, rel=0.01)
    assert pulse.tail.per_level_s == -pulse.tail.value_s


def bent(known: Known, bend: float) -> Floats:
    x = known.light / known.level
    return np.asarray(known.level * (x + bend * x * (1 - x)))


def test_each_time_moves_with_a_bend_of_the_sensor_as_it_says() -> None:
    step = 1e-4
    pulse = measured(KNOWN)
    found = by({h: times(measured(KNOWN, bent(KNOWN, h))) for h in (-step, step)})
    assert found == pytest.approx({name: getattr(pulse, name).per_bend_s for name in TIMES}, rel=0.02)
    low, high = (measured(KNOWN, bent(KNOWN, h)) for h in (-step, step))
    for part, rising in ((0.3, True), (0.5, False)):
        moved = (high.passing(part, rising=rising).value_s - low.passing(part, rising=rising).value_s) / (2 * step)
        assert moved == pytest.approx(pulse.passing(part, rising=rising).per_bend_s, rel=0.02)


def test_each_width_moves_with_the_square_of_an_equal_lag_as_it_says() -> None:
    """A first-order lag of 40 us, filtered at eight times the rate and sampled again."""
    lag_s = 40e-6
    fine = replace(KNOWN, rate_hz=8 * KNOWN.rate_hz)
    pole = math.exp(-1 / (lag_s * fine.rate_hz))
    lagging = signal.lfilter([(1 - pole) / 2, (1 - pole) / 2], [1, -pole], fine.light)[::8]
    before, after = measured(KNOWN), measured(KNOWN, lagging)
    for name in ("total", "half_peak", "opening", "closing"):
        moved_s = getattr(after, name).value_s - getattr(before, name).value_s
        assert moved_s == pytest.approx(getattr(before, name).per_lag2_1_s * lag_s**2, rel=0.15, abs=3e-8)
    assert before.total.per_lag2_1_s * lag_s**2 > 5e-7  # so that there is something to see
    assert before.effective.per_lag2_1_s == 0
    passed = [one.passing(0.3, rising=False) for one in (before, after)]
    moved_s = passed[1].value_s - passed[0].value_s - lag_s
    assert moved_s == pytest.approx(passed[0].per_lag2_1_s * lag_s**2, rel=0.15)


def test_where_a_firing_falls_between_the_samples_moves_it_no_more_than_it_says() -> None:
    """Forty places within one sample; edges of a millisecond."""
    known = Known(edge_s=1e-3, open_s=4e-3)
    found = [measured(known.moved(i / 40 / known.rate_hz)) for i in range(40)]
    for name in TIMES:
        each: list[Timed] = [getattr(one, name) for one in found]
        sd = float(np.std([one.value_s for one in each])) * known.rate_hz
        assert sd < each[0].u_between < 0.1
    assert found[0].effective.u_between < found[0].half_peak.u_between < found[0].total.u_between
    assert found[0].opening.u_between == found[0].total.u_between
    assert found[0].tail.u_between == found[0].half_peak.u_between
    assert found[0].passing(0.5, rising=True).u_between < found[0].passing(0.4, rising=True).u_between


def test_noise_moves_the_times_as_their_weights_say() -> None:
    """White noise, 40 dB: the scatter of 120 firings over sigma |weights| is 1 to within 4/√240."""
    sigma = 0.01 * KNOWN.level
    rng = np.random.default_rng(12)
    found = [
        measure_pulse(KNOWN.light + sigma * rng.standard_normal(len(KNOWN.light)), KNOWN.dark, sigma, KNOWN.rate_hz)
        for _ in range(120)
    ]
    for name in TIMES:
        scatter = np.std([getattr(one, name).value_s for one in found])
        stated = np.mean([sigma * np.linalg.norm(getattr(one, name).weights) for one in found])
        assert scatter / stated == pytest.approx(1, abs=0.26), name


@pytest.mark.parametrize(("part", "longer"), [(1e-4, 0.8), (0.01, 1.0), (0.03, 3**0.4), (0.07, 2.0)])
def test_a_crossing_is_fitted_over_more_of_its_edge_where_there_is_more_noise(part: float, longer: float) -> None:
    """0.15 of the edge on both sides at 1 % of noise; with more by its power 0.4, within 0.8 and 2 times."""
    edge = (KNOWN.reached_s(0.9) - KNOWN.reached_s(0.1)) * KNOWN.rate_hz
    found = measure_pulse(KNOWN.light, KNOWN.dark, part * KNOWN.level, KNOWN.rate_hz)
    middle = found.half_up_s * KNOWN.rate_hz
    weights = found.passing(0.5, rising=True).weights
    inside = weights[round(middle) - 40 : round(middle) + 40]  # away from the dark and the plateau
    assert np.count_nonzero(inside) == pytest.approx(2 * 0.15 * longer * edge, abs=1.6)


def test_an_edge_of_a_few_samples_is_a_straight_line() -> None:
    known = Known(edge_s=0.08e-3, open_s=5e-3)
    for i in range(5):
        moved = known.moved(i / 5 / known.rate_hz)
        found = measured(moved)
        assert found.half_peak.value_s == pytest.approx(known.width_s(0.5), abs=3e-6)
        assert found.half_up_s == pytest.approx(moved.up_s + moved.edge_s / 2, abs=3e-6)


# The rest


def test_the_reach_is_the_pulse_with_an_edge_to_spare() -> None:
    first, last = pulse_reach(KNOWN.light, KNOWN.dark, SIGMA, KNOWN.rate_hz)
    assert (first, last) == measured(KNOWN).reach
    lit = np.flatnonzero(KNOWN.light > 1e-6)
    assert first <= lit[0]
    assert last > lit[-1]
    assert lit[0] - first < KNOWN.edge_s * KNOWN.rate_hz
    assert last - lit[-1] < KNOWN.edge_s * KNOWN.rate_hz


def test_a_baseline_is_a_least_squares_line_through_the_dark() -> None:
    """numpy.polyfit."""
    light = KNOWN.light + np.random.default_rng(2).standard_normal(len(KNOWN.light))
    n = np.arange(len(light))
    line = np.polyval(np.polyfit(n[KNOWN.dark], light[KNOWN.dark], 1), n)
    baseline = Baseline(KNOWN.dark)
    assert baseline.of(light) == pytest.approx(line)
    weights = np.random.default_rng(3).standard_normal(len(light))
    assert baseline.taken_off(weights) @ light == pytest.approx(weights @ (light - line))


@pytest.mark.parametrize(
    ("light", "why"),
    [
        (0 * KNOWN.light, "hardly stands out"),
        (-KNOWN.light, "hardly stands out"),
        (2e-4 / 0.3 * KNOWN.light, "hardly stands out"),
        (np.where(KNOWN.at_s > KNOWN.up_s, 0.3, 0.0), "followed down to the dark"),
        (KNOWN.level * KNOWN.closing, "followed down to the dark"),
    ],
)
def test_what_is_no_firing_is_refused(light: Floats, why: str) -> None:
    dark = KNOWN.at_s < KNOWN.up_s - 1e-3 if light[-1] > 0 else KNOWN.dark
    if light[0] > 0:
        dark = KNOWN.at_s > KNOWN.down_s + 1e-3
    with pytest.raises(NotMeasurable, match=why):
        measure_pulse(light, dark, SIGMA, KNOWN.rate_hz)
