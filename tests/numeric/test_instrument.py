"""The memory of a sound card's input."""

import json

import numpy as np
import pytest

from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.simulate import SoundCard
from camerawright.bench import codec
from camerawright.numeric.instrument import (
    Instrument,
    Instrument,
    combined,
    is_another,
)
from tests.bench.scenes import recorded, scene

CORNERS_HZ = (9.0, 1.2)
TRUE_A = 2 * np.pi * sum(CORNERS_HZ)


def _told(seed: int, snr_db: float = 40, corners_hz: tuple[float, ...] = CORNERS_HZ) -> tuple[float, float, np.ndarray]:
    card = SoundCard(corners_hz=corners_hz)
    coupling = measure(recorded(scene(1 / 30, n=2, snr_db=snr_db, card=card), seed)[0]).coupling_alone
    return coupling.a, coupling.b, coupling.covariance


def test_a_weighted_mean_of_two_equal_recordings_has_half_the_variance() -> None:
    covariance = np.array([[4.0, 1.0], [1.0, 9.0]])
    once = combined(None, 10.0, 20.0, covariance)
    twice = combined(once, 12.0, 20.0, covariance)
    assert twice.n_recordings == 2
    assert (twice.a_per_s, twice.b_per_s2) == pytest.approx((11.0, 20.0))
    assert twice.covariance == pytest.approx(covariance / 2)


def test_every_recording_refines_the_poles_and_the_truth_stays_within() -> None:
    known: Instrument | None = None
    u = []
    for seed in range(6):
        known = combined(known, *_told(seed))
        u.append(float(np.sqrt(known.covariance[0, 0])))
    assert known is not None
    assert u[-1] < 0.7 * u[0]
    assert abs(known.a_per_s - TRUE_A) < 4 * u[-1]


def test_a_remembered_input_narrows_what_the_coupling_adds() -> None:
    card = SoundCard(corners_hz=CORNERS_HZ)
    known: Instrument | None = None
    for seed in range(4):
        known = combined(known, *_told(seed, 50))
    waveform = recorded(scene(1 / 125, n=2, snr_db=34, card=card), 9)[0]
    alone, remembered = measure(waveform), measure(waveform, instrument=known)
    lines = [
        next(line.u for line in result.firings[0].effective.budget if line.name == "AC model")
        for result in (alone, remembered)
    ]
    assert lines[1] < 0.5 * lines[0]
    assert remembered.firings[0].effective.value == pytest.approx(1 / 125, rel=0.01)


def test_another_input_is_noticed_and_what_was_remembered_is_not_used() -> None:
    known = combined(None, *_told(0, 50))
    assert is_another(known, *_told(1, 50, (20.0, 1.2)))
    assert not is_another(known, *_told(1, 50))
    waveform = recorded(scene(1 / 30, n=2, card=SoundCard(corners_hz=(20.0, 1.2))))[0]
    result = measure(waveform, instrument=known)
    assert any("another input" in flag for flag in result.flags)
    assert result.coupling == result.coupling_alone


def test_it_is_stored_as_json_and_read_again() -> None:
    known = combined(None, *_told(0))
    again = codec.read(Instrument, json.loads(json.dumps(codec.written(known))))
    assert (again.a_per_s, again.b_per_s2, again.n_recordings) == (known.a_per_s, known.b_per_s2, 1)
    assert again.covariance == pytest.approx(known.covariance)
