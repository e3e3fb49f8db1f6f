"""The slow train by sound: exact beats, invariance, missed beats and stalls, refusals, hypotheses."""

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from camerawright.bench import codec
from camerawright.bench.escapement import run, simulate, tell
from camerawright.bench.escapement.measure import measure
from camerawright.bench.escapement.record import EscapementRecord, Measured
from camerawright.bench.escapement.simulate import Floats, Room, Scene, Train
from camerawright.recordings.sound import Waveform, read_sound
from camerawright.trouble import NotMeasurable, NotUnderstood

RATE_HZ = 48_000.0
QUIET = Room(noise=1e-3, reverb=0.05)
CAMERA_SOUND = Path("/usr/share/sounds/freedesktop/stereo/camera-shutter.oga")


def _waveform(samples: Floats, rate_hz: float = RATE_HZ) -> Waveform:
    return Waveform(samples.astype(np.float32), rate_hz, 16)


def _scene(train: Train | None, **more: object) -> Scene:
    return replace(Scene(train=train, room=QUIET, tick_db=-18.0, lever_db=-18.0), **more)  # type: ignore[arg-type]


def _samples(made: Scene, seed: int = 1) -> Floats:
    return simulate.recording(made, seed)[0]


def _measured(made: Scene, seed: int = 1) -> Measured:
    return measure(_waveform(_samples(made, seed)))


def _pulses(at_s: NDArray[np.floating], heights: Floats, length_s: float) -> Waveform:
    """Bursts of one and the same shape, in a little noise; an opening before them, a fifth of a second early."""
    samples = 1e-4 * np.random.default_rng(0).standard_normal(round(length_s * RATE_HZ))
    t = np.arange(480) / RATE_HZ
    burst = np.exp(-t / 6e-4) * (np.sin(2 * np.pi * 2700 * t) + np.sin(2 * np.pi * 7100 * t)) / 2
    opening = (float(at_s[0]) - 0.2, 0.8)
    for start_s, height in (opening, *zip(at_s, heights, strict=True)):
        first = round(start_s * RATE_HZ)
        samples[first : first + 480] += height * burst
    return _waveform(samples)


@pytest.mark.parametrize("rate_hz", [16.0, 50.0, 120.0])
def test_a_perfect_beat_is_measured_as_one(rate_hz: float) -> None:
    """Equal bursts at a whole number of samples: the rate is exact, and nothing is uneven."""
    step_s = round(RATE_HZ / rate_hz) / RATE_HZ
    result = measure(_pulses(0.5 + step_s * np.arange(24), np.full(24, 0.2), 1.0 + 24 * step_s))
    (train,) = result.runs
    assert train.n_beats == 24
    assert train.beat_rate.value == pytest.approx(1 / step_s, rel=1e-4)
    assert train.unevenness.value < 0.004
    assert train.drift.interval[0] <= 0 <= train.drift.interval[1]
    assert abs(train.alternation.value) <= train.alternation.expanded_u
    assert not train.stalls
    assert train.n_missed == 0


def test_a_beat_that_slows_evenly_is_said_to_by_its_closed_form() -> None:
    """Lengths L (1 + g (i - m) / n): first to last they grow by g."""
    lengths = np.round(0.02 * RATE_HZ * (1 + 0.2 * np.linspace(-0.5, 0.5, 40))) / RATE_HZ
    at_s = 0.5 + np.concatenate([[0], np.cumsum(lengths)])
    (train,) = measure(_pulses(at_s, np.full(41, 0.2), 1.8)).runs
    assert train.drift.value == pytest.approx(0.2, abs=0.01)
    assert train.beat_rate.value == pytest.approx(1 / lengths.mean(), rel=1e-3)


def test_every_other_beat_longer_is_told_from_unevenness() -> None:
    lengths = np.tile([0.0208, 0.0192], 20)
    at_s = 0.5 + np.concatenate([[0], np.cumsum(lengths)])
    (train,) = measure(_pulses(at_s, np.full(41, 0.2), 1.8)).runs
    assert train.alternation.value == pytest.approx(0.08, abs=0.004)
    assert train.unevenness.value < 0.005


@pytest.mark.parametrize("silent", [(), (20,), (15, 30, 31)])
def test_missed_beats_are_counted(silent: tuple[int, ...]) -> None:
    (train,) = _measured(_scene(Train(40, jitter=0.005, silent=silent))).runs
    assert train.n_missed == len(silent)
    assert train.beat_rate.value == pytest.approx(40, rel=0.005)


@pytest.mark.parametrize("length_s", [0.1, 0.3])
def test_a_stall_is_placed_and_timed(length_s: float) -> None:
    made = _scene(Train(60, jitter=0.005, stalls=((30, length_s),)))
    samples, (truth,) = simulate.recording(made, 2)
    (train,) = measure(_waveform(samples)).runs
    (stall,) = train.stalls
    assert stall.length_s == pytest.approx(length_s, abs=2e-3)
    assert stall.at_s == pytest.approx(truth.beats_s[29], abs=2e-3)
    assert train.beat_rate.value == pytest.approx(60, rel=0.005)
    assert "stands still" in " ".join(train.flags)


def test_a_late_beat_is_pointed_at() -> None:
    at_s = 0.5 + 0.02 * np.arange(40)
    at_s[25:] += 0.005
    (train,) = measure(_pulses(at_s, np.full(40, 0.2), 1.8)).runs
    (late,) = train.late
    assert late.at_s == pytest.approx(at_s[24], abs=1e-3)
    assert late.deviation == pytest.approx(0.25, abs=0.03)


def test_several_runs_in_one_recording_are_each_measured() -> None:
    result = _measured(_scene(Train(55), n_firings=3))
    assert len(result.runs) == 3
    assert all(one.beat_rate.value == pytest.approx(55, rel=0.01) for one in result.runs)


@pytest.mark.parametrize(
    "change",
    [
        lambda s: 0.3 * s,
        lambda s: -s,
        lambda s: s + 0.02,
        lambda s: np.concatenate([s[:4321], s]),
        lambda s: np.column_stack([1e-3 * s[::-1], s]),
    ],
    ids=["gain", "polarity", "offset", "time", "a second channel"],
)
def test_what_must_not_matter_does_not(change: Callable[[Floats], Floats]) -> None:
    samples = _samples(_scene(Train(60)))
    (one,), (other,) = (measure(_waveform(s)).runs for s in (samples, change(samples)))
    assert other.beat_rate.value == pytest.approx(one.beat_rate.value, rel=2e-4)
    assert other.n_beats == one.n_beats
    assert other.unevenness.value == pytest.approx(one.unevenness.value, abs=2e-3)


def test_a_long_recording_is_heard_in_pieces_and_loses_no_run_between_them() -> None:
    """Three runs about 15, 20 and 60 s, the second across the end of a piece: each as it is by itself."""
    train = Train(60, jitter=0.005)
    alone = _measured(_scene(train)).runs[0]
    own = _samples(_scene(train))
    long = 1e-4 * np.random.default_rng(4).standard_normal(round(70 * RATE_HZ))
    middle_s = (alone.at_s + alone.stop_s) / 2
    for at_s in (15.0, 20.0, 60.0):
        start = round((at_s - middle_s) * RATE_HZ)
        long[start : start + len(own)] = own
    found = measure(_waveform(long)).runs
    assert [round((one.at_s + one.stop_s) / 2) for one in found] == [15, 20, 60]
    for one in found:
        assert one.n_beats + one.n_missed == alone.n_beats
        assert one.beat_rate.value == pytest.approx(alone.beat_rate.value, rel=1e-3)


def test_of_two_channels_the_one_that_is_heard_is_told() -> None:
    own = _samples(_scene(Train(60)))
    record = run(_waveform(np.column_stack([1e-3 * RNG.standard_normal(len(own)), own])))
    assert record.input is not None
    assert record.input.channel == 2


@pytest.mark.parametrize("rate_hz", [44_100.0, 96_000.0])
def test_the_sampling_rate_does_not_matter(rate_hz: float) -> None:
    made = _scene(Train(60), room=replace(QUIET, rate_hz=rate_hz))
    (train,) = measure(_waveform(_samples(made), rate_hz)).runs
    assert train.beat_rate.value == pytest.approx(60, rel=0.01)


def test_the_time_from_opening_to_closing_is_told_where_two_clicks_stand_alone() -> None:
    (train,) = _measured(_scene(Train(60))).runs
    assert train.open_close.time is not None
    assert train.open_close.time.value == pytest.approx(1.0, abs=train.open_close.time.expanded_u)
    assert train.open_close.time.u > 1.5e-3
    assert {line.name for line in train.open_close.time.budget} == {"onsets", "sound to light", "clock"}


@pytest.mark.parametrize(
    ("made", "marked", "reason"),
    [
        (_scene(Train(60), lever_db=-4.0), None, "third click"),
        (_scene(Train(60), closing_db=-12.0, lever_db=-14.0), None, "third click"),
        (_scene(Train(60)), "1/30", "at this speed"),
        (_scene(Train(60)), "1/125", "at this speed"),
        (_scene(Train(60), closing_db=-40.0, lever_db=4.0), None, "only 30 ms apart"),
    ],
    ids=["a loud lever", "a soft closing", "1/30", "1/125", "no closing"],
)
def test_the_time_from_opening_to_closing_is_else_refused_and_the_beat_stays(
    made: Scene, marked: str | None, reason: str
) -> None:
    record = run(_waveform(_samples(made)), marked)
    (one,) = record.runs
    assert one.beat_rate.value == pytest.approx(60, rel=0.02)
    assert one.open_close.refused is not None
    assert reason in one.open_close.refused.reason
    assert "light" in one.open_close.refused.advice
    assert one.open_close.time is None


RNG = np.random.default_rng(5)
T = np.arange(96_000) / RATE_HZ


def _knocks(n: int) -> Floats:
    at_s = np.sort(np.random.default_rng(n).uniform(0.3, 1.7, n))
    return _pulses(at_s, np.random.default_rng(n).uniform(0.05, 0.3, n), 2.0).samples.astype(float)


@pytest.mark.parametrize(
    ("samples", "reason"),
    [
        (np.zeros(96_000), "silent"),
        (RNG.normal(0, 0.05, 96_000), "above the noise"),
        (0.2 * np.sin(2 * np.pi * 440 * T), "above the noise"),
        (_samples(_scene(None)), "no beat"),
        (_samples(_scene(Train(60), room=replace(QUIET, noise=0.12))), "above the noise"),
        (_samples(_scene(Train(60), tick_db=-34.0, room=replace(QUIET, noise=0.02))), "no beat"),
        (_knocks(7), "no beat"),
        (_knocks(40), "no beat"),
        (_knocks(90), "no beat"),
        (_samples(_scene(Train(60)))[: round(0.88 * RATE_HZ)], "no beat"),
        (np.full(40, 0.1), "too short"),
    ],
    ids=[
        "silence",
        "noise",
        "a tone",
        "no train",
        "18 dB",
        "soft beats",
        "7 knocks",
        "40 knocks",
        "90 knocks",
        "cut off",
        "a moment",
    ],
)
def test_what_holds_no_beat_is_refused_with_what_to_do(samples: Floats, reason: str) -> None:
    with pytest.raises(NotMeasurable, match=reason) as caught:
        measure(_waveform(samples))
    assert "by light" in caught.value.mend or "microphone" in caught.value.mend


def test_clicks_at_random_are_never_taken_for_a_beat() -> None:
    for n in range(8, 120, 3):
        with pytest.raises(NotMeasurable):
            measure(_waveform(_knocks(n)))


@pytest.mark.skipif(not CAMERA_SOUND.exists(), reason="sound-theme-freedesktop is not installed")
def test_the_desktops_camera_sound_is_refused() -> None:
    """sound-theme-freedesktop, camera-shutter.oga: seven transients and a motor, no slow train."""
    with pytest.raises(NotMeasurable):
        measure(read_sound(CAMERA_SOUND))


@pytest.mark.parametrize("whirr_hz", [20, 30, 60])
def test_seven_transients_and_a_motor_are_refused(whirr_hz: float) -> None:
    """The pattern of a published camera sound, made anew: transients 60 to 200 ms apart, then a whirr that beats."""
    at_s = 0.3 + np.cumsum([0, 0.06, 0.11, 0.2, 0.08, 0.15, 0.07])
    samples = _pulses(at_s, np.array([0.5, 0.3, 0.45, 0.2, 0.4, 0.3, 0.1]), 2.0).samples.astype(float)
    whirr = np.random.default_rng(2).standard_normal(len(samples)) * (1 + np.sin(2 * np.pi * whirr_hz * T))
    with pytest.raises(NotMeasurable, match="does not click"):
        measure(_waveform(samples + 0.01 * whirr * (T > 1)))


@pytest.mark.parametrize("pitch_hz", [104, 208])
def test_a_plucked_note_between_two_clicks_is_never_a_beat_without_a_doubt(pitch_hz: float) -> None:
    """A string let go is a sawtooth (its Fourier series), which falls once a period; Fletcher and Rossing: from memory.

    Two clicks stand beside it as blades would.
    """
    since = np.maximum(T - 0.6, 0)
    note = sum(np.sin(2 * np.pi * k * pitch_hz * since) / k for k in range(1, 60)) * np.exp(-since / 0.2) * (T > 0.6)
    blades = _pulses(np.array([0.55, 0.9]), np.array([0.9, 0.9]), 2.0).samples.astype(float)
    try:
        found = measure(_waveform(blades + 0.1 * note + 1e-4 * np.random.default_rng(3).standard_normal(len(T))))
    except NotMeasurable:
        return
    assert all(any("a note" in flag for flag in one.flags) for one in found.runs)


@pytest.mark.parametrize("pitch_hz", [95, 130, 200])
def test_a_voice_is_refused(pitch_hz: float) -> None:
    """Vowels: pulses of the glottis, falling by 12 dB an octave, through four formants, after a plosive."""
    from scipy import signal

    source = np.zeros(96_000)
    source[14_400] = 8
    source[(24_000 + np.cumsum(np.full(90, RATE_HZ / pitch_hz) + RNG.normal(0, 2, 90))).astype(int)] = 1
    pulses = signal.lfilter([1], [1, -1.94, 0.941], source)
    voice = sum(
        gain * signal.lfilter(*signal.iirpeak(f_hz, f_hz / width_hz, fs=RATE_HZ), pulses)
        for f_hz, width_hz, gain in ((500, 80, 1.0), (1500, 120, 1.0), (2500, 160, 1.0), (5000, 500, 1.0))
    )
    voice = 0.3 * voice / np.abs(voice).max() + 1e-4 * RNG.standard_normal(96_000)
    with pytest.raises(NotMeasurable):
        measure(_waveform(voice))


def test_a_beat_without_blades_may_be_anything() -> None:
    """A clock, a motor: as even as a train, and no opening or closing beside it."""
    train = _pulses(0.5 + 0.02 * np.arange(40), np.full(40, 0.2), 1.8).samples.astype(float)
    train[: round(0.45 * RATE_HZ)] = 1e-4 * np.random.default_rng(1).standard_normal(round(0.45 * RATE_HZ))
    with pytest.raises(NotMeasurable, match="neither opening nor closing"):
        measure(_waveform(train))


def test_a_stall_at_the_same_place_and_one_that_moves_are_different_hypotheses() -> None:
    same = _scene(Train(60, jitter=0.005, stalls=((30, 0.1),)), n_firings=3)
    moving = np.concatenate([_samples(_scene(Train(60, jitter=0.005, stalls=((beat, 0.1),)))) for beat in (15, 30, 45)])
    tooth = run(_waveform(_samples(same))).hypotheses
    pivot = run(_waveform(moving)).hypotheses
    assert "tooth" in tooth[0].may_be
    assert "pivot" in pivot[0].may_be
    assert "pallet" in pivot[0].may_be
    assert all(one.test for one in (*tooth, *pivot))


def test_an_even_beat_gives_rise_to_no_hypothesis_and_never_to_a_certificate() -> None:
    record = run(_waveform(_samples(_scene(Train(60, jitter=0.005), n_firings=2))), "1s")
    assert record.hypotheses == ()
    assert record.compared is None
    assert "never for a certificate" in record.flags[0]


def _at_speeds() -> Waveform:
    """Two runs each of 1, 1/2 and 1/4 s, mixed; the train stands still once at 1 s."""
    stalled = Train(60, jitter=0.005, stalls=((30, 0.09),))
    even = Train(60, jitter=0.005)
    order = ((1.0, stalled), (0.5, even), (0.25, even), (0.5, even), (1.0, even), (0.25, even))
    return _waveform(
        np.concatenate([_samples(_scene(train, open_s=open_s), i) for i, (open_s, train) in enumerate(order)])
    )


def test_runs_are_sorted_to_the_marks_and_each_speed_has_its_beat() -> None:
    record = run(_at_speeds(), "1/4,1s,1/2")
    assert [at.marked for at in record.at_speeds] == ["1 s", "1/2", "1/4"]
    assert [at.i_firings for at in record.at_speeds] == [(0, 4), (1, 3), (2, 5)]
    assert [at.n_stalls for at in record.at_speeds] == [1, 0, 0]
    for at in record.at_speeds:
        assert at.beat_rate.value == pytest.approx(60, rel=0.01)
        assert 0 <= at.unevenness.value < 0.02
    table = tell.lines(record)
    assert any(line.startswith("1/4 ") for line in table)


def test_the_figures_of_each_speed_compare_a_train_before_and_after() -> None:
    record = run(_at_speeds(), "1/4,1s,1/2")
    assert [one.marked for one in record.figures] == [mark for mark in ("1 s", "1/2", "1/4") for _ in range(4)]
    rate, uneven, slowing, stalls = record.figures[:4]
    assert (rate.name, rate.unit, rate.n) == ("beats a second", "1/s", 2)
    assert rate.value == pytest.approx(60, rel=0.01)
    assert uneven.name == "unevenness of the beat"
    assert slowing.name == "slowing from first to last beat"
    assert (stalls.name, stalls.value) == ("stalls", 1)
    assert record.is_relative
    assert not any(one.is_error for one in record.figures)


def test_what_may_be_behind_a_beat_is_told_as_advice() -> None:
    record = run(_at_speeds())
    (one,) = record.hypotheses
    assert record.advice == (f"{one.seen}: may be {one.may_be}. To find out: {one.test}",)


def test_a_stored_record_says_what_it_said_when_it_was_measured() -> None:
    """With stalls, marks and a refused time; an older record, which has no figures, gets them."""
    for marked in (None, "1/4,1s,1/2"):
        record = run(_at_speeds(), marked)
        stored = json.loads(json.dumps(codec.written(record)))
        older = {key: value for key, value in stored.items() if key != "figures"}
        for again in (codec.read(EscapementRecord, stored), codec.read(EscapementRecord, older)):
            assert (tell.lines(again), tell.table(again)) == (tell.lines(record), tell.table(record))
            assert [one.value for one in again.figures] == [one.value for one in record.figures]
            assert again.runs[0].beat_rate.budget == record.runs[0].beat_rate.budget


def test_runs_without_a_mark_are_told_apart_and_more_marks_than_speeds_are_refused() -> None:
    record = run(_at_speeds())
    assert [at.likely for at in record.at_speeds] == ["1 s", "1/2", "1/4"]
    with pytest.raises(NotUnderstood, match="4 marked speeds were given"):
        run(_at_speeds(), "1s,1/2,1/4,1/8")


@pytest.mark.parametrize("rate_hz", [24.0, 61.0, 90.0])
def test_a_beat_that_goes_on_beyond_opening_and_closing_is_not_the_trains(rate_hz: float) -> None:
    """A clock or a motor that clicks evenly through the whole recording, the shutter's blades among it."""
    ticks = _pulses(0.25 + np.arange(int(2.3 * rate_hz)) / rate_hz, np.full(int(2.3 * rate_hz), 0.1), 3.0)
    blades = _samples(_scene(None))
    both = ticks.samples.astype(float)[: len(blades)]
    both += blades[: len(both)]
    with pytest.raises(NotMeasurable):
        measure(_waveform(both))


@pytest.mark.parametrize("rate_hz", [7.0, 10.0])
def test_a_beat_as_slow_as_a_clocks_is_said_to_be(rate_hz: float) -> None:
    """A watch beats 5, 6, 8 or 10 times a second (18,000 to 36,000 an hour; from memory); two bangs stand about it."""
    at_s = 0.5 + np.arange(12) / rate_hz
    heights = np.full(12, 0.1)
    both = _pulses(np.concatenate([[0.4], at_s, [at_s[-1] + 0.06]]), np.concatenate([[0.9], heights, [0.9]]), 2.6)
    try:
        found = measure(both)
    except NotMeasurable:
        return
    assert all(any("clock" in flag for flag in one.flags) for one in found.runs)


def test_a_first_beat_picked_in_the_echo_of_the_opening_is_left_out() -> None:
    """The first of 24 beats 4 ms late, a twelfth of its length: the beat is that of the others."""
    at_s = 0.5 + 0.048 * np.arange(24)
    at_s[0] += 0.004
    (train,) = measure(_pulses(at_s, np.full(24, 0.2), 2.2)).runs
    assert train.n_beats == 23
    assert train.beat_rate.value == pytest.approx(1 / 0.048, rel=1e-4)


def test_an_alternating_beat_keeps_its_first() -> None:
    """Every other beat 8 % longer: the first is off from its neighbours and like its own kind."""
    at_s = 0.5 + np.concatenate([[0], np.cumsum(np.tile([0.0499, 0.0461], 12))])
    (train,) = measure(_pulses(at_s, np.full(25, 0.2), 2.3)).runs
    assert train.n_beats == 25


def test_a_pallet_much_softer_than_the_other_is_not_taken_for_half_the_rate() -> None:
    """Every other beat 14 dB softer."""
    heights = np.tile([0.3, 0.06], 20)
    with pytest.raises(NotMeasurable, match="twice as high"):
        measure(_pulses(0.5 + 0.02 * np.arange(40), heights, 1.8))


@pytest.mark.parametrize("noise", [0.019, 0.022, 0.03])
def test_beats_near_the_noise_may_be_those_of_one_pallet(noise: float) -> None:
    """Every other beat silent, as one pallet that the noise hides: refused, or said that the rate may be double."""
    train = Train(80, jitter=0.003, silent=tuple(range(1, 80, 2)))
    made = _scene(train)
    made = replace(made, room=replace(made.room, noise=noise))
    try:
        found = _measured(made)
    except NotMeasurable:
        return
    assert all("twice as high" in " ".join(one.flags) for one in found.runs)


@pytest.mark.parametrize("seed", [1, 2, 4, 6])
def test_where_a_few_beats_lie_between_the_others_the_rate_may_be_twice_as_high(seed: int) -> None:
    """Seventeen beats at 27 a second of which mostly every other is heard."""
    train = Train(27, jitter=0.005, silent=(0, 4, 6, 8, 10, 14, 16))
    for one in measure(_waveform(_samples(_scene(train, open_s=0.66), seed))).runs:
        assert one.beat_rate.value == pytest.approx(27, rel=0.05) or "twice as high" in " ".join(one.flags)


def test_a_sound_that_is_cut_off_as_for_speech_is_said() -> None:
    """Nothing above 6 kHz."""
    samples = _samples(_scene(Train(60)))
    spectrum = np.fft.rfft(samples)
    spectrum[np.fft.rfftfreq(len(samples), 1 / RATE_HZ) > 6000] = 0
    assert not any("10 kHz" in flag for flag in measure(_waveform(samples)).flags)
    assert any("10 kHz" in flag for flag in measure(_waveform(np.fft.irfft(spectrum, len(samples)))).flags)
