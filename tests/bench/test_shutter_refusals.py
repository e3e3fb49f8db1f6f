"""What a shutter recording can suffer from: named in a refusal or a flag, never passed over."""

import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from camerawright.bench.curtains import example as curtains_example
from camerawright.bench.shutter import run
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Measured
from camerawright.bench.shutter.simulate import Blades, Disturbance, Scene, SoundCard, hold_for
from camerawright.bench.sync.simulate import Contact
from camerawright.recordings.sound import read_sound
from camerawright.trouble import NotMeasurable
from tests.bench import sync_scenes
from tests.bench.scenes import RATE_HZ, Floats, recorded, scene, spoilt, waveform

RNG = np.random.default_rng(7)
T = np.arange(96_000) / RATE_HZ


def _refused(made: Scene) -> NotMeasurable:
    with pytest.raises(NotMeasurable) as caught:
        measure(recorded(made)[0])
    assert caught.value.mend
    return caught.value


def _flags(result: Measured) -> str:
    return " ".join([*result.flags, *(flag for firing in result.firings for flag in firing.flags)])


@pytest.mark.parametrize(
    ("samples", "reason"),
    [
        (np.zeros(96_000), "silent"),
        (np.full(96_000, 0.3), "silent"),
        (RNG.normal(0, 0.01, 96_000), "stands out from the noise"),
        (0.2 * np.sin(2 * np.pi * 50 * T) + RNG.normal(0, 1e-3, 96_000), "stands out from the noise"),
        (np.where(T > 1, 0.3, 0.0) + RNG.normal(0, 1e-3, 96_000), "no second one"),
        (np.zeros(100), "too short"),
        (np.where(np.arange(30_000) < 24, 0.3, 0.0), "very start or end"),
    ],
    ids=["silence", "a constant", "noise", "hum", "one edge", "a moment", "cut in an edge"],
)
def test_a_recording_without_firings_is_refused(samples: np.ndarray, reason: str) -> None:
    with pytest.raises(NotMeasurable, match=reason):
        measure(waveform(samples))


@pytest.mark.parametrize("time_s", [1 / 8, 1 / 60, 1 / 500])
@pytest.mark.parametrize("gain", [1.0, 0.5], ids=["at full scale", "turned down afterwards"])
def test_a_clipped_recording_is_refused(time_s: float, gain: float) -> None:
    made, _ = recorded(scene(time_s, card=SoundCard(plateau_fs=1.3)))
    with pytest.raises(NotMeasurable, match="clipped"):
        measure(waveform(gain * made.samples.astype(float)))


def test_one_clipped_firing_does_not_spoil_the_others() -> None:
    made, truths = recorded(scene(1 / 60, card=SoundCard(plateau_fs=0.6)))
    samples = made.samples.astype(float)
    second = slice(int((truths[1].at_s - 0.05) * RATE_HZ), int((truths[1].at_s + 0.05) * RATE_HZ))
    samples[second] *= 2.2
    result = measure(waveform(np.clip(samples, -1, 1 - 2**-15)))
    assert len(result.firings) == 3
    assert ["clipped" in skipped.reason for skipped in result.skipped] == [True]


@pytest.mark.parametrize("f_hz", [100, 120])
def test_mains_flicker_is_named_by_its_frequency(f_hz: float) -> None:
    strong = spoilt(scene(1 / 8), Disturbance(flicker=0.3, flicker_hz=f_hz))
    reason = _refused(strong).what
    assert f"flickers by 30 % at {f_hz:.0f} Hz" in reason or f"{f_hz:.0f} times a second" in reason
    weak = measure(recorded(spoilt(scene(1 / 8), Disturbance(flicker=0.05, flicker_hz=f_hz)))[0])
    assert f"at {f_hz:.0f} Hz, as a mains lamp does" in _flags(weak)
    assert "flicker" in {line.name for line in weak.firings[0].effective.budget}


@pytest.mark.parametrize("f_hz", [200, 1000, 20_000])
def test_a_switched_lamp_is_refused_with_its_rate(f_hz: float) -> None:
    reason = _refused(spoilt(scene(1 / 8), Disturbance(pwm_hz=f_hz))).what
    assert re.search(rf"switches on and off {f_hz:.0f} times", reason)


@pytest.mark.parametrize("time_s", [1 / 8, 1 / 500])
def test_equal_pulses_that_differ_are_called_automatic_gain(time_s: float) -> None:
    result = measure(recorded(spoilt(scene(time_s), Disturbance(gain_per_firing=1.1)))[0])
    assert "automatic gain" in _flags(result)


@pytest.mark.parametrize("time_s", [1 / 8, 1 / 60, 1 / 500])
def test_a_firing_deep_in_noise_is_refused(time_s: float) -> None:
    assert _refused(scene(time_s, snr_db=14)).what


def test_firings_without_dark_between_them_are_refused() -> None:
    assert "no dark" in _refused(scene(1 / 8, gap_s=0.012)).what


def test_too_few_samples_a_second_are_refused() -> None:
    assert "too few" in _refused(scene(1 / 60, card=SoundCard(rate_hz=8000))).what


def test_a_firing_cut_off_at_either_end_is_left_out_and_the_others_are_measured() -> None:
    made, truths = recorded(scene(1 / 8))
    samples = made.samples.astype(float)
    headless = measure(waveform(samples[int(truths[0].at_s * RATE_HZ) :]))
    tailless = measure(waveform(samples[: int(truths[-1].at_s * RATE_HZ)]))
    for result in (headless, tailless):
        assert len(result.firings) == 3
        assert "no partner" in _flags(result)
        assert result.firings[0].effective.value == pytest.approx(truths[0].effective_s, rel=1e-3)


def test_a_lossy_file_widens_the_times_and_says_so() -> None:
    made, _ = recorded(scene(1 / 60))
    lossless, lossy = measure(made), measure(replace(made, is_lossy=True))
    assert "lossy" in _flags(lossy)
    assert lossy.firings[0].effective.u > 5 * lossless.firings[0].effective.u


def test_a_bounce_that_opens_again_is_reported_with_its_height() -> None:
    blades = Blades(overlap_deg=2.0, restitution=0.45)
    result = measure(recorded(scene(1 / 60, blades=blades))[0])
    assert "opens again after it closed" in _flags(result)


@pytest.mark.parametrize(("apart_stops", "is_flagged"), [(0.1, False), (0.4, True), (1.0, False)])
def test_firings_too_far_apart_for_one_speed_and_too_near_for_two_are_flagged(
    apart_stops: float, is_flagged: bool
) -> None:
    """A sticking shutter does it, and so does a lamp switched so slowly that each firing sees another piece of it."""
    times_s = [2.0 ** (step * apart_stops) / 125 for step in range(3)]
    made = scene(1 / 125)
    result = measure(recorded(replace(made, hold_s=tuple(hold_for(time_s, made.blades) for time_s in times_s)))[0])
    assert any("too far for one speed" in flag for flag in result.flags) == is_flagged


@pytest.mark.parametrize(("time_s", "n", "is_flagged"), [(1 / 250, 1, True), (1 / 250, 3, False), (1 / 8, 1, False)])
def test_a_single_short_firing_says_that_it_tells_nothing_of_the_lamp(time_s: float, n: int, is_flagged: bool) -> None:
    """Shorter than a cycle of mains light, any lamp looks steady in it."""
    flags = measure(recorded(scene(time_s, n=n))[0]).flags
    assert any("single firing" in flag for flag in flags) == is_flagged


@pytest.mark.parametrize(("flicker", "is_flagged"), [(0.0, False), (0.4, True)])
def test_edges_that_differ_from_firing_to_firing_are_flagged(flicker: float, is_flagged: bool) -> None:
    """The same springs move the blades each time; light that comes and goes does not cut each firing alike."""
    made = spoilt(scene(1 / 200, n=8, gap_s=0.3713), Disturbance(flicker=flicker, flicker_hz=120))
    flags = measure(recorded(made)[0]).flags
    assert any("in one firing and" in flag for flag in flags) == is_flagged


def test_a_switched_lamp_shorter_than_the_shutter_is_flagged_by_its_edges() -> None:
    result = measure(recorded(spoilt(scene(1 / 500), Disturbance(pwm_hz=200)))[0])
    assert all(any("faster than blades" in flag for flag in firing.flags) for firing in result.firings)


def test_thumps_beside_the_firings_widen_the_interval_to_hold_the_truth() -> None:
    made = spoilt(scene(1 / 125, n=6), Disturbance(thump=0.2, n_thumps=15))
    waveform_, truths = recorded(made)
    for firing in measure(waveform_).firings:
        truth = min(truths, key=lambda t: abs(t.at_s - firing.at_s))
        assert abs(firing.effective.value - truth.effective_s) < 1.5 * firing.effective.expanded_u


def test_pops_and_steps_of_other_light_are_not_taken_for_firings() -> None:
    made, truths = recorded(scene(1 / 60))
    samples = made.samples.astype(float)
    samples[10_000] += 0.2  # a pop
    samples[150_000:] += 0.02  # the room's lamp goes on
    result = measure(waveform(samples))
    assert len(result.firings) == len(truths)


def _walk(rng: np.random.Generator, t: Floats) -> Floats:
    return np.cumsum(rng.normal(0, 1e-3, t.size))


def _steps(rng: np.random.Generator, t: Floats) -> Floats:
    return np.asarray(sum(rng.normal(0, 0.3) * (t > at) for at in rng.uniform(0, t[-1], int(rng.integers(1, 12)))))


def _clicks(rng: np.random.Generator, t: Floats) -> Floats:
    after = [np.maximum(t - at, 0) for at in rng.uniform(0, t[-1], 8)]
    return np.asarray(sum(0.3 * np.exp(-a * rng.uniform(20, 900)) * np.sin(rng.uniform(600, 24e3) * a) for a in after))


def _square(rng: np.random.Generator, t: Floats) -> Floats:
    return np.asarray(0.3 * np.sign(np.sin(2 * np.pi * rng.uniform(0.5, 300) * t)))


def _burst(rng: np.random.Generator, t: Floats) -> Floats:
    return np.asarray(0.3 * rng.normal(0, 1, t.size) * np.exp(-(((t - t.mean()) / rng.uniform(5e-4, 0.2)) ** 2)))


@pytest.mark.parametrize("seed", range(15))
@pytest.mark.parametrize("kind", [_walk, _steps, _clicks, _square, _burst])
def test_whatever_is_recorded_ends_in_a_reasoned_refusal_or_a_flagged_measurement(
    kind: Callable[[np.random.Generator, Floats], Floats], seed: int
) -> None:
    """Warnings are errors here, and so is any other exception."""
    rng = np.random.default_rng(seed)
    t = np.arange(int(rng.integers(2_000, 120_000))) / RATE_HZ
    record = run(waveform(np.clip(kind(rng, t) + rng.normal(0, 1e-3, t.size), -1, 1)))
    if record.refused:
        assert record.refused.reason
        assert record.refused.advice
    for firing in record.firings:
        assert firing.flags or record.flags


def test_a_contact_beside_its_light_is_no_shutter() -> None:
    """A stereo file of the sync simulator: the contact stands higher over its noise than the light."""
    for bridged_s, seed in ((0.0, 1), (0.5, 2)):
        made, _ = sync_scenes.recorded(sync_scenes.scene(Contact(2.2e-3, 14e-3), bridged_s=bridged_s), seed)
        record = run(made)
        assert record.refused
        assert "steps within two samples" in record.refused.reason
        assert "sync test" in record.refused.advice
        i_light = int(record.refused.advice.partition("(channel ")[2][0]) - 1
        assert run(waveform(made.samples[:, i_light].astype(float))).firings


def test_a_contact_that_is_alone_in_a_recording_is_flagged_and_a_switched_lamp_in_both_channels_too() -> None:
    """What steps in every channel may be a lamp that is switched, to try the chain out."""
    samples = sync_scenes.recorded(sync_scenes.scene(Contact(2.2e-3, 14e-3)))[0].samples.astype(float)
    contact = samples[:, 1]
    for both in (contact, np.column_stack([contact, contact])):
        assert "faster than blades" in str(run(waveform(both)))


FREEDESKTOP = Path("/usr/share/sounds/freedesktop/stereo/camera-shutter.oga")


@pytest.mark.skipif(not FREEDESKTOP.exists(), reason="Debian's sound-theme-freedesktop is not installed")
def test_the_camera_shutter_sound_of_a_desktop_is_refused_as_sound() -> None:
    with pytest.raises(NotMeasurable, match="sound or a switched lamp does that"):
        measure(read_sound(FREEDESKTOP))


def test_sensors_across_a_gate_are_not_timed_as_one_without_a_word_and_a_copy_is() -> None:
    """The curtains' own example, three sensors 16 mm apart; and one sensor on both channels of a stereo input."""
    made = curtains_example(1)
    found = measure(made)
    assert any(f"Only channel {found.i_channel + 1} was timed" in flag for flag in found.flags)
    alone = np.asarray(made.samples[:, 1])
    copied = measure(replace(made, samples=np.column_stack([alone, 0.7 * alone]).astype(np.float32)))
    assert not any("was timed" in flag for flag in copied.flags)
