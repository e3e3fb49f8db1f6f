"""Marked speeds, stops and exposure values against published tables."""

import itertools
import math

import pytest

from camerawright.handbook import exposure
from camerawright.handbook.exposure import MODERN_MARKS, OLD_MARKS, marked_speed, stops
from camerawright.trouble import NotUnderstood
from tests import published

ISO_516 = published.load("iso-516")
ISO_2720 = published.load("iso-2720")
COLOUR_HDRI = published.load("colour-hdri")


@pytest.mark.parametrize(("mark", "name"), [("1/15", "t_1_15_ms"), ("1/125", "t_1_125_ms"), ("1/1000", "t_1_1000_ms")])
def test_a_modern_mark_stands_for_the_printed_power_of_two(mark: str, name: str) -> None:
    assert ISO_516[name].holds(marked_speed(mark).target_s * 1e3)


def test_the_modern_targets_halve_from_mark_to_mark() -> None:
    targets = [marked_speed(mark).target_s for mark in MODERN_MARKS]
    assert targets[0] == 1
    assert all(slow == 2 * fast for slow, fast in itertools.pairwise(targets))


@pytest.mark.parametrize(("mark", "name"), [("1/60", "from_1_60_ev"), ("1/125", "from_1_125_ev")])
def test_a_mark_differs_from_its_target_by_the_printed_fraction_of_a_stop(mark: str, name: str) -> None:
    speed = marked_speed(mark)
    assert ISO_516[name].holds(stops(speed.marked_s, speed.target_s))


def test_an_old_mark_is_its_own_target() -> None:
    assert [marked_speed(mark, "as marked").target_s for mark in OLD_MARKS] == pytest.approx(
        [1, 0.5, 0.2, 0.1, 0.04, 0.02, 0.01, 0.004, 0.002]
    )
    assert marked_speed("1/25").series == "as marked"
    assert marked_speed("1/250").series == "power of two"


@pytest.mark.parametrize(
    ("text", "marked_s"),
    [("1/125", 1 / 125), ("125", 1 / 125), (" 1/125 s ", 1 / 125), ("1", 1), ("1s", 1), ('2"', 2), ("0.5s", 0.5)],
)
def test_a_mark_is_read_as_engraved_or_as_spoken(text: str, marked_s: float) -> None:
    assert marked_speed(text).marked_s == pytest.approx(marked_s)


@pytest.mark.parametrize(
    "text", ["B", "t", "", "0", "1/0", "fast", "-125", "1/125/2", "1e9", "nan", "1/999999", "9999s"]
)
def test_what_is_no_speed_is_refused_with_a_word_on_what_is(text: str) -> None:
    with pytest.raises(NotUnderstood, match=r"write|between|leave"):
        marked_speed(text)


@pytest.mark.parametrize("text", ["B", "t", "Z", "d", "bulb", "TIME"])
def test_a_mark_without_a_time_of_its_own_is_left_out(text: str) -> None:
    with pytest.raises(NotUnderstood, match="leave"):
        marked_speed(text)


@pytest.mark.parametrize(
    ("text", "is_read"), [("1/16000", True), ("1/16001", False), ("3600s", True), ("3601s", False)]
)
def test_a_speed_lies_between_a_sixteen_thousandth_and_an_hour(text: str, is_read: bool) -> None:
    if is_read:
        assert marked_speed(text).marked_s > 0
    else:
        with pytest.raises(NotUnderstood, match="between"):
            marked_speed(text)


@pytest.mark.parametrize(("mark", "target_s"), [("2s", 2), ("4s", 4), ("1/2", 0.5)])
def test_marks_of_whole_seconds_double_as_the_others_do(mark: str, target_s: float) -> None:
    assert marked_speed(mark, "power of two").target_s == target_s


@pytest.mark.parametrize(("time_s", "name"), [(1 / 125.4, "1/125"), (1 / 3.1, "1/3.1"), (0.25, "1/4"), (2.0, "2 s")])
def test_a_time_is_written_as_the_trade_does(time_s: float, name: str) -> None:
    assert exposure.name_of(time_s) == name


def test_an_old_mark_cannot_be_forced_into_the_modern_series() -> None:
    with pytest.raises(NotUnderstood, match="not in the series"):
        marked_speed("1/25", "power of two")


@pytest.mark.parametrize(
    ("error_ev", "percent"), [("+1/3", "26.0"), ("-1/3", "-20.6"), ("+1/2", "41.4"), ("-1/2", "-29.3"), ("+1", "100")]
)
def test_stops_and_percent_agree_with_the_trade_table(error_ev: str, percent: str) -> None:
    """Arithmetic of the trade's rule-of-thumb table (±1/3 stop is +26 and -21 %)."""
    sign, _, size = error_ev[0], None, error_ev[1:].split("/")
    value = float(size[0]) / float(size[-1] if len(size) > 1 else 1) * (1 if sign == "+" else -1)
    assert published.printed(percent).holds((exposure.time_from_stops(value, 1.0) - 1) * 100)
    assert stops(exposure.time_from_stops(value, 0.01), 0.01) == pytest.approx(value)


@pytest.mark.parametrize("ev", [0, 3, 5, 10, 13, 15, 16])
def test_luminance_against_ev_is_the_printed_table(ev: int) -> None:
    value = ISO_2720[f"luminance_ev{ev}"]
    assert value.holds(exposure.luminance_of_ev(ev, 100, 12.5))
    assert exposure.ev_of_luminance(value.value, 100, 12.5) == pytest.approx(ev)


def test_luminance_and_illuminance_at_f8_and_one_second_are_those_of_a_colour_library() -> None:
    ev = exposure.exposure_value(8, 1)
    assert COLOUR_HDRI["average_luminance_f8_1s"].holds(exposure.luminance_of_ev(ev, 100, 12.5))
    assert COLOUR_HDRI["average_illuminance_f8_1s"].holds(exposure.illuminance_of_ev(ev, 100, 250))
    assert exposure.ev_of_illuminance(160, 100, 250) == pytest.approx(ev)


@pytest.mark.parametrize("luminance_cd_m2", [4.0, 128.0, 4096.0])
def test_the_apex_sum_holds(luminance_cd_m2: float) -> None:
    """[apex]: Av + Tv = Bv + Sv (constants from memory)."""
    ev = exposure.ev_of_luminance(luminance_cd_m2, 100, 12.5)
    assert exposure.luminance_value(luminance_cd_m2, 12.5) + exposure.speed_value(100) == pytest.approx(ev)
    assert exposure.aperture_value(8) + exposure.time_value(1 / 64) == pytest.approx(12)


def test_the_two_meter_constants_in_use_differ_by_a_sixth_of_a_stop() -> None:
    assert published.printed("0.1635").holds(math.log2(14 / 12.5))
    low, high = exposure.ISO_2720_K_CD_S_M2
    assert low <= 12.5 <= 14 * 0.96 <= high * 1.01
