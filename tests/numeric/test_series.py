"""The order of a few readings, against independent libraries and by chance."""

import numpy as np
import pytest
from scipy import stats

from camerawright.numeric.series import drift, first_against_others


def test_drift_has_the_probability_of_kendalls_tau_and_the_slope_of_theil_and_sen() -> None:
    """scipy.stats: kendalltau(method="exact") against time, and theilslopes."""
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
