"""Footage against the second simulator: what is no firing, and tone curves that nobody told. The table: benchmarks."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from camerawright.bench.footage.measure import measure
from camerawright.bench.footage.record import Measured
from camerawright.recordings.clips import clip_of_luma
from camerawright.trouble import NotMeasurable
from tests.bench.second_film_simulator import Film, Held, Phone, Scene, film

Floats = NDArray[np.float64]

SMALL = Phone(fps=120, rows=21, columns=24)


def _measured(made: Scene, marked_s: float | None = None) -> tuple[Measured, Film]:
    filmed = film(made, 1)
    return measure(clip_of_luma(filmed.luma, filmed.at_s), marked_s=marked_s), filmed


def _assert_only_firings_are_timed(result: Measured, filmed: Film, n: int) -> None:
    """Every time that is told lies at a firing and is that firing's."""
    assert len(result.firings) == n
    for one in result.firings:
        true = min(filmed.truths, key=lambda each: abs(each.at_s - one.at_s))
        assert true.is_firing
        assert one.effective.value == pytest.approx(true.effective_s, rel=0.03)


@pytest.mark.parametrize("held", ["at the start", "at the end"])
@pytest.mark.parametrize("speed", [1, 4, 60])
def test_a_gate_that_is_open_as_the_film_begins_or_ends_is_the_level_and_no_firing(held: Held, speed: float) -> None:
    result, filmed = _measured(Scene(times_s=(1 / speed,) * 2, held=held, phone=SMALL))
    _assert_only_firings_are_timed(result, filmed, 2)
    assert result.input.n_references == 1
    assert not result.flags
    assert not result.skipped


def test_the_level_of_a_gate_open_as_the_film_begins_serves_firings_that_never_show_it() -> None:
    """At 1/250 and 240 frames a second no firing stands open for three frames."""
    result, _ = _measured(
        Scene(times_s=(1 / 200,) * 3, held="at the start", phone=replace(SMALL, fps=240, exposure=0.95))
    )
    assert {one.level_from for one in result.firings} == {"the gate held open"}


@pytest.mark.parametrize("held", ["whole", "in the middle"])
@pytest.mark.parametrize("speed", [1, 4])
def test_an_opening_that_may_be_the_gate_held_open_is_refused_by_name(held: Held, speed: float) -> None:
    """Half a second beside 1 s or 1/4."""
    result, filmed = _measured(Scene(times_s=(1 / speed,) * 3, held=held, phone=SMALL))
    _assert_only_firings_are_timed(result, filmed, 3)
    (skipped,) = result.skipped
    assert skipped.reason.startswith("it lasts 0.5")
    assert "the gate held open" in skipped.reason


def test_of_two_openings_the_mark_tells_which_was_held() -> None:
    made = Scene(times_s=(1 / 3,), phone=SMALL)
    with pytest.raises(NotMeasurable, match=r"2 openings found, none can be measured: it lasts 0\.51 s"):
        _measured(made)
    result, filmed = _measured(made, marked_s=1 / 4)
    _assert_only_firings_are_timed(result, filmed, 1)


def test_an_opening_far_longer_than_the_others_in_the_middle_is_said() -> None:
    result, filmed = _measured(Scene(times_s=(1 / 15,) * 4, held="in the middle", phone=SMALL))
    _assert_only_firings_are_timed(result, filmed, 4)
    (skipped,) = result.skipped
    assert "we take it for the gate held open" in skipped.reason
    assert "hung" in skipped.advice


def _bump(at_s: float, length_s: float, level: float, rise_s: float) -> Callable[[Floats], Floats]:
    """Light all over the gate alike, of a part of the open level."""

    def light(t: Floats) -> Floats:
        return level * np.clip((t - at_s) / rise_s, 0, 1) * np.clip((at_s + length_s - t) / rise_s, 0, 1)

    return light


@pytest.mark.parametrize(
    ("other", "n"),
    [(_bump(0.62, 0.08, 0.1, 0.03), 3), (_bump(0.5, 0.5, 1.0, 0.08), 3), (_bump(0.6, 0.3, 0.04, 0.01), 3)],
    ids=["a hand before a firing", "a hand for long", "a leak in a firing"],
)
def test_light_that_comes_all_over_the_gate_alike_is_no_firing_and_no_level(
    other: Callable[[Floats], Floats], n: int
) -> None:
    made = Scene(times_s=(1 / 8,) * 4, held="at the start", held_s=0.3, gap_s=(0.3, 0.32), others=(other,), phone=SMALL)
    result, filmed = _measured(made)
    _assert_only_firings_are_timed(result, filmed, n)
    assert [one.reason[:26] for one in result.skipped] == ["light comes or goes here a"]
    assert not result.flags
