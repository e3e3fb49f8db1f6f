"""Firings against a marked speed: stops, verdicts, and how many more would decide."""

import math
from dataclasses import replace

import numpy as np
import pytest

from camerawright.bench.comparison import Comparison
from camerawright.bench.marked_speeds import marks_in
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Firing, Measured
from camerawright.bench.shutter.simulate import Blades, hold_for
from camerawright.bench.shutter.speeds import speeds
from camerawright.handbook.tolerances import Profile, find_profile
from camerawright.trouble import NotUnderstood
from tests.bench.scenes import recorded, scene

USER = find_profile("user")


def compare(result: Measured, marked: str, profile: Profile) -> Comparison:
    """All firings against one mark."""
    (speed,) = speeds(result, marks_in(marked), profile)
    assert speed.compared is not None
    return speed.compared


def _compared(time_s: float, marked: str, n: int = 5) -> Comparison:
    return compare(measure(recorded(scene(time_s, n=n))[0]), marked, USER)


@pytest.fixture(scope="module")
def steady() -> Measured:
    """Five firings at 1/64."""
    return measure(recorded(scene(1 / 64, n=5))[0])


def _with_times(result: Measured, errors_ev: list[float]) -> Measured:
    """The same firings with other effective times, so many stops off 1/64."""
    firings: list[Firing] = [
        replace(result.firings[0], effective=replace(result.firings[0].effective, value=2**ev / 64)) for ev in errors_ev
    ]
    return replace(result, firings=tuple(firings))


def test_the_errors_are_stops_from_the_power_of_two_for_a_modern_mark_and_from_an_old_mark_itself() -> None:
    modern, old = _compared(1 / 50, "1/60", n=2), _compared(1 / 50, "1/50", n=2)
    assert modern.target_s == 1 / 64
    assert modern.mean.value == pytest.approx(math.log2(64 / 50), abs=0.003)
    assert old.mean.value == pytest.approx(0, abs=0.003)


@pytest.mark.parametrize(("error", "word"), [(0.1, "within"), (-0.2, "within"), (0.6, "outside"), (-0.5, "outside")])
def test_a_clear_case_is_decided(error: float, word: str) -> None:
    comparison = _compared(2**error / 64, "1/60")
    assert comparison.verdict is not None
    assert comparison.verdict == word
    assert all(single.verdict is not None and single.verdict == word for single in comparison.firings)
    assert comparison.more_firings is None


def test_a_mean_near_the_limit_is_undecided_and_says_how_many_more_firings_would_decide(steady: Measured) -> None:
    errors = [0.20, 0.36, 0.22, 0.34, 0.26]
    comparison = compare(_with_times(steady, errors), "1/60", USER)
    assert comparison.verdict is not None
    assert comparison.verdict == "undecided"
    assert comparison.mean.value == pytest.approx(np.mean(errors))
    assert comparison.repeatability_stops == pytest.approx(np.std(errors, ddof=1))
    assert comparison.more_firings is not None
    more = comparison.more_firings
    again = compare(_with_times(steady, errors * 9), "1/60", USER)
    assert again.verdict is not None
    assert again.verdict == "within"
    assert 1 <= more <= 40


def test_the_mean_has_the_degrees_of_freedom_of_its_firings(steady: Measured) -> None:
    """JCGM 100:2008 4.2.3: n - 1 = 4, and k(95 %) = 2.78, when the spread of the firings is all there is."""
    comparison = compare(_with_times(steady, [0.0, 0.1, 0.2, 0.1, 0.0]), "1/60", USER)
    assert comparison.mean.dof == pytest.approx(4, abs=0.1)
    assert comparison.mean.expanded_u == pytest.approx(2.776 * np.std([0, 0.1, 0.2, 0.1, 0], ddof=1) / 5**0.5, rel=0.02)


def test_a_sticky_first_firing_is_flagged(steady: Measured) -> None:
    sticky = compare(_with_times(steady, [0.6, 0.01, 0.0, 0.02, 0.01]), "1/60", USER)
    assert any("sticky" in flag for flag in sticky.flags)
    assert not compare(_with_times(steady, [0.03, 0.01, 0.0, 0.02, 0.01]), "1/60", USER).flags


def test_a_single_firing_is_compared_with_its_own_uncertainty_and_flagged() -> None:
    comparison = _compared(1 / 64, "1/60", n=1)
    assert comparison.repeatability_stops is None
    assert any("Fewer than three" in flag for flag in comparison.flags)


def test_a_speed_without_limits_has_no_verdict(steady: Measured) -> None:
    assert compare(steady, "1/4000", USER).verdict is None


def test_a_mark_that_is_none_is_refused(steady: Measured) -> None:
    with pytest.raises(NotUnderstood):
        compare(steady, "B", USER)


def test_the_simulator_holds_what_it_is_asked_to() -> None:
    """Physical identity: the effective time asked for is the light integral of the truth."""
    blades = Blades()
    assert hold_for(1 / 60, blades) > 1 / 60
    _, truths = recorded(scene(1 / 60, n=1, blades=blades))
    assert truths[0].effective_s == pytest.approx(1 / 60, rel=1e-6)
    assert truths[0].peak == pytest.approx(1, abs=1e-9)
