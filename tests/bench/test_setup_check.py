"""The set-up check against a simulated LED, sensor and input that shares nothing with it."""

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from camerawright.bench import codec
from camerawright.bench.setup_check import tell
from camerawright.bench.setup_check.linearity import linearity
from camerawright.bench.setup_check.measure import setup_check
from camerawright.bench.setup_check.record import SetupCheck
from camerawright.bench.setup_check.signal import RATE_HZ, drive, signal
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable
from tests.bench.led_on_a_card import Bench, recorded
from tests.bench.second_leaf_shutter import _loaded

PLAYED = signal()
PULSES = [(each.at_s, each.width_s) for each in PLAYED.pulses]
GOOD = Bench()


def checked(bench: Bench, seed: int = 1) -> SetupCheck:
    """The check of a simulated set-up."""
    return setup_check(recorded(bench, PULSES, PLAYED.duration_s, seed), PLAYED)


def test_the_samples_for_the_output_light_the_led_for_the_widths_that_are_said() -> None:
    both = drive(PLAYED).astype(int)
    voltage = both[:, 0] - both[:, 1]
    edges = np.flatnonzero(np.diff(voltage > 0))
    widths_s = (edges[1::2] - edges[::2]) / RATE_HZ
    assert widths_s == pytest.approx([width_s for _, width_s in PULSES], abs=1e-12)
    assert voltage.max() == -voltage.min() < 2 * 32_767
    assert voltage.sum() == 0


def test_a_good_set_up_is_fit() -> None:
    check = checked(GOOD)
    assert check.is_fit
    assert check.flags == ()
    assert not check.is_inverted
    assert check.level_fs == pytest.approx(0.3, rel=2e-3)
    assert check.noise_db == pytest.approx(60, abs=0.5)
    assert check.verdict.startswith("Fit: ")


@pytest.mark.parametrize("corners_hz", [(8.0, 0.8), (16.0, 2.0), (4.0, 0.3), (5.0,)])
def test_the_poles_of_the_input_are_found_within_their_uncertainty(corners_hz: tuple[float, ...]) -> None:
    """The bilinear poles of the simulated high-pass are those of the analogue one to a millionth at these corners."""
    check = checked(replace(GOOD, input_corners_hz=corners_hz))
    for found, true in zip(check.corners_hz, corners_hz, strict=True):
        assert found.value == pytest.approx(true, abs=4 * found.u + 1e-3 * true)


@pytest.mark.parametrize("tau_s", [100e-6, 200e-6])
def test_a_slow_sensor_rises_in_ln_9_time_constants(tau_s: float) -> None:
    """10 % to 90 % of a first-order lag lasts ln 9 of its time constant; a fast input adds little to a slow one."""
    check = checked(replace(GOOD, rate_hz=192_000, sensor_rise_s=tau_s, sensor_fall_s=tau_s))
    assert check.rise_s.value == pytest.approx(math.log(9) * tau_s, rel=0.03)
    assert check.fall_s.value == pytest.approx(math.log(9) * tau_s, rel=0.03)
    assert check.iso_516_s == pytest.approx(100 * 2 * math.pi * tau_s, rel=0.04)
    assert any("use a photodiode" in wrong for wrong in check.wrong)


def test_a_fall_slower_than_the_rise_lengthens_every_pulse_by_ln_2_of_the_difference() -> None:
    """A first-order lag passes half its step ln 2 of its time constant late."""
    check = checked(replace(GOOD, rate_hz=192_000, sensor_rise_s=50e-6, sensor_fall_s=90e-6))
    assert check.fall_lag_s.value == pytest.approx(math.log(2) * 40e-6, abs=4 * check.fall_lag_s.u)


@pytest.mark.parametrize("clock", [-150e-6, 0.0, 80e-6])
def test_the_clocks_are_compared(clock: float) -> None:
    check = checked(replace(GOOD, clock=clock))
    assert check.clock.value == pytest.approx(clock, abs=4 * check.clock.u)
    assert check.is_fit
    assert bool(check.flags) == bool(clock)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"gain_after_long": 0.9}, "automatic gain"),
        ({"level_fs": 1.5}, "clipped"),
        ({"level_fs": 0.01}, "raise the gain"),
        ({"clock": 2e-3}, "clock"),
    ],
)
def test_what_is_wrong_is_said_with_its_mend(change: dict[str, float], said: str) -> None:
    check = checked(replace(GOOD, **change))  # type: ignore[arg-type]
    (wrong,) = check.wrong
    assert said in wrong
    assert check.verdict.startswith("Not fit yet")


def test_a_check_that_was_stored_says_what_it_said() -> None:
    check = checked(replace(GOOD, gain_after_long=0.9))
    assert codec.read(SetupCheck, json.loads(json.dumps(codec.written(check)))) == check
    assert tell.lines(check)[0].startswith("Not fit yet: Like pulses differ")
    assert ("Clipped", "0 samples") in tell.rows(check)


def test_polarity_is_told() -> None:
    assert checked(replace(GOOD, sign=-1.0)).is_inverted


def test_a_gain_that_changes_is_measured() -> None:
    check = checked(replace(GOOD, gain_after_long=0.9))
    assert check.gain_change.value == pytest.approx(0.1 / (2.9 / 3), rel=0.01)


@pytest.mark.parametrize("corner_hz", [0.1, 0.5, 2.0])
def test_an_output_that_is_ac_coupled_spoils_no_pole_and_is_told(corner_hz: float) -> None:
    check = checked(replace(GOOD, output_corner_hz=corner_hz, noise=1e-4))
    assert check.corners_hz[0].value == pytest.approx(8.0, rel=2e-3)
    assert check.is_fit
    assert any("the output is AC coupled too" in flag for flag in check.flags)


def test_a_recording_without_the_pulses_is_refused_with_advice() -> None:
    quiet = np.random.default_rng(2).standard_normal(5 * 48_000).astype(np.float32) * 1e-4
    with pytest.raises(NotMeasurable, match="LED"):
        setup_check(Waveform(quiet, 48_000.0, 24), PLAYED)


@pytest.mark.parametrize("bend", [0.0, 0.004, 0.05, 0.3])
def test_two_levels_of_light_tell_how_far_the_sensor_bends(bend: float) -> None:
    """A sensor that answers x + b x (1 - x), by its definition: small pulses in the dark, and beside the full light."""
    height = 0.02
    dark = height + bend * height * (1 - height)
    beside = height - bend * height * (1 + height)
    checks = [replace(checked(replace(GOOD, noise=1e-4)), level_fs=0.3 * each / height) for each in (dark, beside)]
    found = linearity(*checks)
    assert found.bend.value == pytest.approx(bend, abs=2 * found.bend.u + 0.03 * bend)
    assert found.bend.u < 2e-3
    assert found.verdict.startswith("Not linear" if bend >= 0.05 else "Linear, if the lamp was on")


def test_a_loaded_cell_is_not_linear_and_a_photodiode_is() -> None:
    """Shockley's junction over a load, as the second simulator solves it: pulses of a twentieth of the lamp's light."""
    for forward_v, said in ((0.02, "Linear"), (0.4, "Not linear")):
        volts = _loaded(forward_v * np.array([0.0, 0.05, 1.0, 1.05]))
        good = checked(replace(GOOD, noise=1e-4))
        checks = [replace(good, level_fs=float(height)) for height in (volts[1] - volts[0], volts[3] - volts[2])]
        assert linearity(*checks).verdict.startswith(said)
