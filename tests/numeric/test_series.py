"""The order of a few readings, against independent libraries and by chance."""

import numpy as np
import pytest
from scipy import stats

from camerawright.numeric.series import drift, first_against_others


def test_drift_has_the_probability_of_kendalls_tau_and_the_slope_of_theil_and_sen() -> None:
    """scipy.stats: kendalltau(method="exact") against time [mann-1945], and theilslopes [sen-1968]."""
    rng = np.random.default_rng(1)
    for n in (5, 6, 8, 10, 15):
        for _ in range(10):
            readings = rng.standard_normal(n) + 0.2 * rng.standard_normal() * np.arange(n)
            found = drift(readings)
            assert found is not None
            theirs = stats.kendalltau(np.arange(n), readings, method="exact")
            assert found.probability == pytest.approx(theirs.pvalue, rel=1e-9)
            assert found.total == pytest.approx(stats.theilslopes(readings).slope * (n - 1), rel=1e-12)


def test_a_steady_series_is_called_drifting_as_often_as_the_probability_says() -> None:
    rng = np.random.default_rng(2)
    called = [drift(rng.standard_normal(8)) for _ in range(2000)]
    part = np.mean([one is not None and one.probability <= 0.05 for one in called])
    assert 0.02 < part <= 0.06  # the exact test is a little conservative: its probabilities come in steps


def test_a_first_reading_like_the_others_stands_apart_one_time_in_a_hundred() -> None:
    rng = np.random.default_rng(3)
    found = [first_against_others(rng.standard_normal(6)) for _ in range(5000)]
    assert np.mean([one is not None and one.stands_apart for one in found]) == pytest.approx(0.01, abs=0.005)


def test_a_first_reading_eight_deviations_away_is_nearly_always_seen_among_eight() -> None:
    rng = np.random.default_rng(4)
    found = [first_against_others(rng.standard_normal(8) + 8 * (np.arange(8) == 0)) for _ in range(500)]
    assert np.mean([one is not None and one.stands_apart for one in found]) > 0.95


def test_too_few_readings_have_no_answer() -> None:
    assert first_against_others(np.arange(4.0)) is None
    assert drift(np.arange(4.0)) is None


def test_the_prediction_interval_is_that_worked_by_hand() -> None:
    """9 against 1, 2, 3, 4: mean 2.5, s² = 5/3; t(99 %, 3) = 5.841 (textbook table); reach t s √(1 + 1/4)."""
    found = first_against_others(np.array([9.0, 1.0, 2.0, 3.0, 4.0]))
    assert found is not None
    assert found.away == pytest.approx(6.5)
    assert found.reach == pytest.approx(5.841 * np.sqrt(5 / 3 * 5 / 4), rel=1e-4)
    assert not found.stands_apart
    for first, expected in ((11.0, True), (-6.0, True), (10.9, False), (-5.9, False)):
        other = first_against_others(np.array([first, 1.0, 2.0, 3.0, 4.0]))
        assert other is not None
        assert other.stands_apart is expected


def test_equal_readings_count_half_and_never_more_than_certain() -> None:
    """Two of five fall by no way: 10 pairs, one equal, none lower: as likely as the exact order of one, twice 1/120."""
    found = drift(np.array([1.0, 2.0, 2.0, 3.0, 4.0]))
    assert found is not None
    assert found.probability == pytest.approx(2 / 120)
    level = drift(np.full(6, 3.0))
    assert level is not None
    assert level.total == 0
    assert level.probability == pytest.approx(1)
    assert level.probability <= 1


def test_a_series_played_backwards_drifts_the_other_way_as_surely() -> None:
    readings = np.array([0.3, 0.1, 0.5, 0.6, 0.4, 0.9, 0.8])
    one, other = drift(readings), drift(readings[::-1])
    assert one is not None
    assert other is not None
    assert other.probability == one.probability
    assert other.total == pytest.approx(-one.total)
    assert one.total > 0
