"""The memory of a sound card's input."""

import json

import numpy as np
import pytest

from camerawright.bench import codec
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.simulate import SoundCard
from camerawright.numeric.instrument import Instrument, agrees, combined, is_another
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


def test_unlike_recordings_weigh_by_how_well_they_know() -> None:
    """One least-squares problem of both, solved by numpy.linalg.lstsq."""
    covariances = [np.array([[4.0, 1.0], [1.0, 9.0]]), np.array([[1.0, -0.5], [-0.5, 2.0]])]
    told = [np.array([80.0, 600.0]), np.array([82.0, 603.0])]
    roots = [np.linalg.inv(np.linalg.cholesky(each)) for each in covariances]
    rows = np.concatenate(roots)
    expected, *_ = np.linalg.lstsq(rows, np.concatenate([r @ t for r, t in zip(roots, told, strict=True)]), rcond=None)
    known = combined(combined(None, 80.0, 600.0, covariances[0]), 82.0, 603.0, covariances[1])
    assert (known.a_per_s, known.b_per_s2) == pytest.approx(tuple(expected))
    assert known.covariance == pytest.approx(np.linalg.inv(rows.T @ rows))
    assert known.n_recordings == 2


def test_of_a_larger_covariance_the_part_of_a_and_b_counts() -> None:
    whole = np.array([[4.0, 1.0, 7.0], [1.0, 9.0, 7.0], [7.0, 7.0, 99.0]])
    assert combined(None, 1.0, 2.0, whole).covariance == pytest.approx(whole[:2, :2])
    assert whole[1, 1] == 9


def test_a_second_pole_that_was_not_seen_may_be_anything_up_to_ten_hertz() -> None:
    """b = w1 w2, so with both at 10 Hz (2π 10)²."""
    unseen = np.array([[0.01, 0.0], [0.0, 0.0]])
    known = combined(None, 63.0, 0.0, unseen)
    assert np.sqrt(known.covariance[1, 1]) == pytest.approx((2 * np.pi * 10) ** 2)
    seen = combined(known, 63.0, 400.0, np.diag([0.01, 100.0]))
    assert seen.b_per_s2 == pytest.approx(400, rel=1e-4)


@pytest.mark.parametrize(("apart", "expected"), [(3.70, True), (3.73, False)])
def test_recordings_of_one_input_disagree_once_in_a_thousand(apart: float, expected: bool) -> None:
    """Two normal values are further than r from their mean with probability exp(-r²/2): once in 1000 from 3.717 on.
    In all directions of a covariance so wide that no drift shows beside it."""
    root = np.array([[3.0, 0.0], [-20.0, 40.0]])
    known = Instrument(0.8, 6.0, root @ root.T, 1)
    for angle in np.linspace(0, 2 * np.pi, 12, endpoint=False):
        a, b = np.sqrt(2) * apart * root @ [np.cos(angle), np.sin(angle)] + [0.8, 6.0]
        assert agrees(known, a, b, root @ root.T) is expected


def test_a_drift_of_half_a_per_cent_agrees_and_of_five_does_not() -> None:
    """Both corners by the same part: their sum a by that, their product b by twice that."""
    known = Instrument(80.0, 600.0, np.diag([1e-6, 1e-4]), 9)
    for part, expected in ((0.005, True), (-0.01, True), (0.05, False), (-0.05, False)):
        assert agrees(known, 80 * (1 + part), 600 * (1 + part) ** 2, np.diag([1e-6, 1e-4])) is expected
    assert agrees(known, 80 * 1.018, 600.0, np.diag([1e-6, 1e-4]))  # 3.717 drifts of half a per cent are 1.86 %
    assert not agrees(known, 80 * 1.019, 600.0, np.diag([1e-6, 1e-4]))
    assert agrees(known, 80.0, 612.0, np.diag([1e-6, 1e-4]))  # 2 % of b is two of its drifts
    assert not agrees(known, 80.0, 630.0, np.diag([1e-6, 1e-4]))


def test_a_quarter_apart_is_another_input_and_less_is_a_poor_recording() -> None:
    known = Instrument(80.0, 600.0, np.diag([0.01, 1.0]), 9)
    told = np.diag([0.01, 1.0])
    assert is_another(known, 101.0, 600.0, told)
    assert is_another(known, 59.0, 600.0, told)
    assert not is_another(known, 99.0, 600.0, told)
    assert not is_another(known, 101.0, 600.0, np.diag([400.0, 1.0]))  # it may well be: 20 is its u


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
