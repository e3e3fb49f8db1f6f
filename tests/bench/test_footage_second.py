"""Footage against the second simulator: what is no firing, and tone curves that nobody told. The table: benchmarks."""

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from benchmarks.footage_second import LAMPS, drawn, sweep
from numpy.typing import NDArray
from scipy import optimize

from camerawright.bench.footage.measure import measure
from camerawright.bench.footage.record import Measured
from camerawright.bench.footage.tone import U_NAMED, U_NOT_NAMED, Tone, counted, straightened, tone_of
from camerawright.recordings.clips import clip_of_luma, linear_light
from camerawright.trouble import NotMeasurable
from tests.bench.second_film_simulator import Film, Held, Phone, Scene, coded, film

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


@pytest.mark.parametrize("curve", ["HLG", "knee"])
def test_the_interval_holds_the_truth_where_the_tone_curve_is_another_and_nobody_named_it(curve: str) -> None:
    """With the width of a curve that is named, a fifth of such firings of HLG was held, and none of the knee."""
    made = [replace(one, phone=replace(one.phone, exposure=0.9)) for one in _drawn(curve, 4)]
    cell = sweep(made, is_named=False)
    held = [one for clip in cell.held for one in clip]
    assert cell.n_refused == 0
    assert cell.n_flagged == len(made)
    assert np.mean(held) >= 0.75, (cell.errors, cell.u)  # all but one clip; of 40 clips, 97 % of the firings
    assert np.sqrt(np.mean(np.square(cell.u))) < 0.04  # not by an interval that holds anything


def _drawn(curve: str, n: int) -> list[Scene]:
    return [drawn(60, curve, LAMPS["battery"], seed) for seed in range(n)]


def test_a_curve_that_is_named_and_followed_is_told_as_well_as_before() -> None:
    """The u of its line was that of a bend of 0.12; the light of the same clips."""
    cell = sweep(_drawn("BT.709", 2), is_named=True)
    assert cell.n_flagged == 0
    assert np.mean([one for clip in cell.held for one in clip]) > 0.85
    assert np.sqrt(np.mean(np.square(cell.u))) < 0.03


# the code density test by itself: an edge leaves any part from 0 to 1 alike


def _ramps(bend: float, n_openings: int, seed: int) -> list[Floats]:
    """Blocks of openings whose parts are spread evenly, but for a chance lean of each, and then bent.

    A ramp through a box of exposure is spread so: the histogram test of converters, [ieee-1241].
    """
    rng = np.random.default_rng(seed)
    parts = [np.clip(rng.uniform(size=400) + 0.08 * rng.standard_normal(), 0, 1) for _ in range(n_openings)]
    return [counted(b + bend * b * (1 - b)) for b in parts]


@pytest.mark.parametrize("bend", [-0.5, -0.2, 0.0, 0.3, 0.7])
def test_straightening_undoes_a_bend(bend: float) -> None:
    b = np.linspace(0, 1, 21)
    assert straightened(b + bend * b * (1 - b), bend) == pytest.approx(b, abs=1e-12)


@pytest.mark.parametrize("bend", [-0.2, 0.2, 0.6])
def test_the_bend_of_an_unknown_curve_is_known_as_well_as_is_said(bend: float) -> None:
    found = [tone_of(False, _ramps(bend, 8, seed)) for seed in range(30)]
    off = np.array([abs(one.bend - bend) / one.u for one in found])
    assert all(one.is_checked for one in found)
    assert np.mean(off < 1.96) >= 0.85
    assert max(one.u for one in found) < U_NOT_NAMED


def test_what_no_edge_shows_is_as_wide_as_likely_curves_make_it() -> None:
    assert tone_of(False) == Tone(0.0, U_NOT_NAMED)
    assert tone_of(True) == Tone(0.0, U_NAMED)
    assert tone_of(False, _ramps(0.0, 2, 1)).u == U_NOT_NAMED


def test_edges_that_speak_against_the_curve_that_the_file_names_are_believed() -> None:
    against = tone_of(True, _ramps(0.8, 20, 1))
    assert against.is_contradicted
    assert abs(against.bend - 0.8) < 2 * against.u
    assert not tone_of(True, _ramps(0.0, 20, 1)).is_contradicted


@pytest.mark.parametrize("curve", ["sRGB", "HLG", "log", "knee", "contrast"])
def test_the_bends_of_the_curves_that_cameras_have_lie_within_what_is_taken_as_likely(curve: str) -> None:
    """The mean of what the curve adds, read as BT.709, over that of b (1 - b), which is 1/6.

    sRGB and HLG are as published ([iec-61966-2-1], [itu-r-bt-2100]).
    """
    b = np.linspace(0, 1, 201)
    for code in (0.6, 0.75, 0.85):
        full = float(optimize.brentq(lambda light, code=code: float(coded(np.array(light), curve)) - code, 1e-4, 4))
        shown = linear_light(coded(full * b, curve), "BT.709")
        bend = 6 * float(np.trapezoid(shown / shown[-1] - b, b))
        assert abs(bend) < 2.1 * U_NOT_NAMED
