"""What must not matter does not: gain, offset, time, polarity, sampling rate, the input's corners, the neighbours."""

import numpy as np
import pytest
from numpy.typing import NDArray

from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Firing
from camerawright.bench.shutter.simulate import SoundCard
from camerawright.recordings.sound import Waveform
from tests.bench.scenes import RATE_HZ, recorded, scene, waveform

Floats = NDArray[np.float64]


@pytest.fixture(scope="module")
def samples() -> Floats:
    """Four firings at 1/125, as floats."""
    return recorded(scene(1 / 125))[0].samples.astype(float)


def _firings(samples: Floats, bits: int | None = None) -> tuple[Firing, ...]:
    return measure(waveform(samples, bits=bits)).firings


def _same(ours: tuple[Firing, ...], theirs: tuple[Firing, ...], rel: float) -> None:
    assert len(ours) == len(theirs)
    for one, other in zip(ours, theirs, strict=True):
        assert one.total.value == pytest.approx(other.total.value, rel=rel)
        assert one.half_peak.value == pytest.approx(other.half_peak.value, rel=rel)
        assert one.effective.value == pytest.approx(other.effective.value, rel=rel)
        assert one.effective.u == pytest.approx(other.effective.u, rel=0.02)


def test_gain_does_not_matter(samples: Floats) -> None:
    _same(_firings(samples), _firings(0.37 * samples), 1e-5)


def test_an_offset_does_not_matter(samples: Floats) -> None:
    _same(_firings(samples), _firings(samples + 0.05), 1e-5)


def test_polarity_does_not_matter(samples: Floats) -> None:
    _same(_firings(samples), _firings(-samples), 1e-5)
    assert measure(waveform(-samples)).is_inverted


def test_when_it_fired_does_not_matter(samples: Floats) -> None:
    shift = 1234
    later = _firings(np.concatenate([samples[:shift], samples]))
    _same(_firings(samples), later, 1e-3)
    assert later[0].at_s - _firings(samples)[0].at_s == pytest.approx(shift / RATE_HZ, abs=1e-6)


def test_a_second_quiet_channel_does_not_matter(samples: Floats) -> None:
    noise = 1e-3 * np.random.default_rng(2).standard_normal(samples.size)
    stereo = Waveform(np.column_stack([noise, samples]).astype(np.float32), RATE_HZ)
    result = measure(stereo)
    assert result.i_channel == 1
    _same(_firings(samples), result.firings, 1e-6)


@pytest.mark.parametrize("rate_hz", [44_100.0, 96_000.0, 192_000.0])
@pytest.mark.parametrize("time_s", [1 / 8, 1 / 125, 1 / 500])
def test_the_sampling_rate_does_not_matter(rate_hz: float, time_s: float) -> None:
    made, truths = recorded(scene(time_s, n=2, card=SoundCard(rate_hz=rate_hz)))
    for firing, truth in zip(measure(made).firings, truths, strict=True):
        assert abs(firing.effective.value - truth.effective_s) < firing.effective.expanded_u
        assert abs(firing.half_peak.value - truth.half_peak_s) < firing.half_peak.expanded_u


@pytest.mark.parametrize("corners_hz", [(), (8.0,), (20.0,), (14.0, 14.0), (20.0, 0.8), (4.0, 0.3), (10.0, 10.0)])
@pytest.mark.parametrize("time_s", [1, 1 / 60, 1 / 500])
def test_the_corners_of_the_input_do_not_matter(corners_hz: tuple[float, ...], time_s: float) -> None:
    made, truths = recorded(scene(time_s, n=3, card=SoundCard(corners_hz=corners_hz)))
    for firing, truth in zip(measure(made).firings, truths, strict=True):
        assert abs(np.log2(firing.effective.value / truth.effective_s)) < 0.008
        assert abs(np.log2(firing.half_peak.value / truth.half_peak_s)) < 0.008


def test_several_speeds_in_one_recording_are_each_measured() -> None:
    slow, fast = recorded(scene(1 / 8, n=2)), recorded(scene(1 / 500, n=2))
    joined = np.concatenate([slow[0].samples, fast[0].samples]).astype(float)
    firings = _firings(joined, 16)
    for firing, truth in zip(firings, [*slow[1], *fast[1]], strict=True):
        assert firing.effective.value == pytest.approx(truth.effective_s, rel=0.01)
