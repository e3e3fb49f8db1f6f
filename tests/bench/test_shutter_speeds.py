"""Several speeds in one recording: told apart, matched with their marks, or refused."""

import math
from dataclasses import replace

import pytest

from camerawright.bench.marked_speeds import marks_in, only_mark, sorted_to
from camerawright.bench.shutter import run, simulate
from camerawright.bench.shutter.measure import measure
from camerawright.bench.shutter.record import Measured
from camerawright.bench.shutter.speeds import speeds
from camerawright.bench.shutter.tell import words
from camerawright.handbook.tolerances import find_profile
from camerawright.trouble import NotUnderstood
from tests.bench.scenes import recorded

USER = find_profile("user")


def _result(times_s: tuple[float, ...], n: int = 3, error_stops: float = 0.2, seed: int = 2) -> Measured:
    scene = simulate.example(times_s, seed, error_stops=error_stops, firings=n)
    return measure(recorded(simulate.with_noise_db(replace(scene, gap_s=0.5, lead_s=0.4), 50), seed)[0])


@pytest.fixture(scope="module")
def four_speeds() -> Measured:
    """Three firings each at 1/32, 1/64, 1/128, 1/256, all a fifth of a stop slow."""
    return _result((1 / 32, 1 / 64, 1 / 128, 1 / 256))


def test_without_marks_the_speeds_are_told_apart_and_named_by_the_nearest_mark(four_speeds: Measured) -> None:
    found = speeds(four_speeds, (), USER)
    assert [speed.likely if speed.likely else None for speed in found] == ["1/30", "1/60", "1/125", "1/250"]
    assert [speed.i_firings for speed in found] == [(0, 1, 2), (3, 4, 5), (6, 7, 8), (9, 10, 11)]
    assert all(speed.compared is None for speed in found)


def test_with_a_mark_for_each_every_speed_is_compared_with_its_own(four_speeds: Measured) -> None:
    found = speeds(four_speeds, marks_in("1/250, 125, 1/30, 60"), USER)
    for speed, target in zip(found, (32, 64, 128, 256), strict=True):
        assert speed.compared is not None
        assert speed.compared.target_s == 1 / target
        assert speed.compared.mean.value == pytest.approx(0.2, abs=0.05)


def test_speeds_only_half_a_stop_apart_are_told_apart_where_the_marks_say_how_many_there_are() -> None:
    found = speeds(_result((1 / 128, 1 / 160), error_stops=0), marks_in("1/125, 1/250"), USER)
    assert [speed.i_firings for speed in found] == [(0, 1, 2), (3, 4, 5)]


@pytest.mark.parametrize(
    ("marks", "why"),
    [
        ("1/60", "1 marked speed was given, and the firings are of more speeds, about 1/28, 1/5"),
        ("1/30, 1/60", "give the mark of each, or none"),
        ("1/30, 1/60, 1/125, 1/250, 1/500", "the measured firings show 4 speeds; give the marks of those"),
    ],
)
def test_too_few_marks_are_refused_and_so_are_too_many(four_speeds: Measured, marks: str, why: str) -> None:
    """A mean over several speeds is the error of none of them: it must not stand beside a mark."""
    with pytest.raises(NotUnderstood, match=why):
        speeds(four_speeds, marks_in(marks), USER)


@pytest.mark.parametrize(
    ("times_s", "is_one"),
    [
        ((1 / 20, 1 / 35, 1 / 52, 1 / 58, 1 / 60, 1 / 60), True),  # it sticks after a rest
        ((1 / 97, 1 / 96, 1 / 98, 1 / 157, 1 / 156, 1 / 158), False),  # a dial that was turned, 0.7 stop
        ((1 / 32, 1 / 32, 1 / 450, 1 / 454, 1 / 450, 1 / 453), False),  # two at 1/30 before four at 1/500
        ((1 / 97, 1 / 150, 1 / 96, 1 / 98, 1 / 152, 1 / 97), True),  # now and then a third of a stop and more short
        ((1 / 60, 1 / 61, 1 / 25, 1 / 60, 1 / 62), True),  # it stuck once
        ((1 / 60, 1 / 45, 1 / 62, 1 / 44), True),  # erratic by less than a speed is apart from the next
        ((1 / 60, 1 / 30, 1 / 60, 1 / 30, 1 / 60), False),
        ((1 / 30,) * 6 + (1 / 60,) * 6, False),
        ((1 / 60,) * 6 + (1 / 30,) * 2, False),
        ((1 / 8, 1 / 15, 1 / 30, 1 / 60, 1 / 125), False),
    ],
)
def test_a_shutter_that_sticks_is_one_speed_and_a_dial_is_not(times_s: tuple[float, ...], is_one: bool) -> None:
    """Neighbouring marks are a stop apart (ISO 516); oil slows the first firings after a rest (common practice)."""
    if is_one:
        assert len(sorted_to(times_s, marks_in("1/60"))) == 1
    else:
        with pytest.raises(NotUnderstood, match="give the mark of each"):
            sorted_to(times_s, marks_in("1/60"))


def test_an_old_dial_is_known_by_a_mark_that_only_it_has() -> None:
    """On a dial with 1/25 and 1/100, 1/250 means 1/250 and not 1/256 (common practice)."""
    assert [mark.target_s for mark in marks_in("1/25, 1/100, 1/250")] == [1 / 25, 1 / 100, 1 / 250]
    assert [mark.target_s for mark in marks_in("1/125, 1/250")] == [1 / 128, 1 / 256]
    found = speeds(_result((1 / 25, 1 / 50, 1 / 100), error_stops=0), (), USER)
    assert [speed.likely if speed.likely else None for speed in found] == ["1/25", "1/50", "1/100"]


def test_marks_that_cannot_be_read_or_stand_twice_are_refused() -> None:
    with pytest.raises(NotUnderstood):
        marks_in("1/60, soon")
    with pytest.raises(NotUnderstood, match="twice"):
        marks_in("1/60, 60")


def test_a_test_that_compares_with_one_mark_says_so_where_several_are_given() -> None:
    assert only_mark("1/60").text == "1/60"
    with pytest.raises(NotUnderstood, match="2 speeds, and this test compares one at a time"):
        only_mark("1/60, 1/125")


def test_one_marked_speed_leaves_the_record_as_it_was_and_several_stand_under_speeds() -> None:
    scene = simulate.with_noise_db(replace(simulate.example((1 / 32, 1 / 128), 1, firings=2), gap_s=0.5), 50)
    waveform, _ = recorded(scene)
    several = run(waveform, "1/30, 1/125")
    assert several.compared is None
    assert [one.marked for one in several.comparisons] == ["1/30", "1/125"]
    assert words(several)["waveform"].startswith("Firing 1 at 0.80 s, marked 1/30, as recorded")
    alone, _ = recorded(simulate.with_noise_db(simulate.example((1 / 32,), 1, firings=2), 50))
    one = run(alone, "1/30")
    assert one.compared == one.speeds[0].compared


def test_the_mean_of_a_set_is_taken_in_stops_and_its_budget_is_in_seconds(four_speeds: Measured) -> None:
    speed = speeds(four_speeds, (), USER)[0]
    times = [four_speeds.firings[i].effective.value for i in speed.i_firings]
    assert speed.effective.value == pytest.approx(math.prod(times) ** (1 / 3), rel=1e-12)
    assert speed.repeatability_stops is not None
    expected = speed.repeatability_stops * math.log(2) * speed.effective.value / math.sqrt(3)
    assert speed.effective.budget[0].u == pytest.approx(expected)
    assert speed.effective.dof == pytest.approx(2, abs=0.1)
