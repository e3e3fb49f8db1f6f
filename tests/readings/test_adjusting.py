"""The adjustment log: which readings are paired around a turn, what follows, and when nothing does."""

import math
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from camerawright.journal.entries import ENTRY
from camerawright.readings.adjusting import U_TURN, Adjusting, Sensitivity, adjusting
from camerawright.readings.adjusting_words import adjusting_json, sensitivity_words, suggestion_words, turn_words
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.workshop.rows import Camera, Job, Owner, Visit
from tests.readings.records import shutter_result

MORNING = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop."""
    with create_workshop(tmp_path / "workshop") as opened:
        yield opened


def take_in(workshop: Workshop, serial: str) -> Job:
    """A camera of one variant."""
    camera = Camera(maker="Orlmann", model="Falter 6x6", variant="second pattern", serial=serial)
    return workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 2)))


def read(stops: float, *, marked: str = "1/25", u: float = 0.02, test: str = "shutter") -> dict[str, Any]:
    """A reading of a mark, as a bench test's record has it."""
    target_s = 1 / float(marked.removeprefix("1/"))
    return {
        "kind": "measured",
        "test": test,
        "phase": "as found",
        "method": "m 1",
        "setup": {"marked": marked},
        "result": shutter_result(marked, stops=stops, u=u, target_s=target_s, test=test),
        "recording": "0" * 64,
    }


def turned(turns: float | None, adjuster: str = "retard lever", **more: Any) -> dict[str, Any]:
    """An adjuster was moved."""
    return {"kind": "adjusted", "adjuster": adjuster, "after": "somewhere", "turns": turns, **more}


def known(workshop: Workshop, job: Job, *entries: dict[str, Any]) -> Adjusting:
    """What follows from these entries, a minute apart."""
    n = len(workshop.journal(job.id))
    at = [MORNING + timedelta(minutes=n + i) for i in range(len(entries))]
    workshop.append_all(
        job.id, [ENTRY.validate_python({"at": t, **entry}) for t, entry in zip(at, entries, strict=True)]
    )
    return adjusting(workshop, job.id)


def only(found: Adjusting) -> Sensitivity:
    """The one there is."""
    (one,) = found.sensitivities
    return one


def test_a_turn_between_two_readings_gives_stops_a_turn(workshop: Workshop) -> None:
    """By hand: (0.3 - 0.7)/0.5; u² = (2 x 0.02² + (0.8 U_TURN)²)/0.5²; ms at 1/25: 40 ms x ln 2 x -0.8."""
    one = only(known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), read(0.3)))
    assert (one.adjuster, one.test, one.marked) == ("retard lever", "shutter", "1/25")
    assert one.per_turn.value == pytest.approx(-0.8)
    assert one.per_turn.u == pytest.approx(2 * math.hypot(0.02, 0.02, 0.8 * U_TURN))
    assert one.ms_per_turn == pytest.approx(40 * math.log(2) * -0.8)
    assert "rests on one turn" in one.flags[0]


def test_the_next_turn_brings_the_reading_to_zero_and_says_how_surely(workshop: Workshop) -> None:
    found = known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), read(0.3))
    next_turn = only(found).suggestion
    assert next_turn.turns == pytest.approx(0.375)
    assert next_turn.low is not None
    assert next_turn.high is not None
    assert 0.25 < next_turn.low < 0.375 < next_turn.high < 0.55
    assert not next_turn.is_capped
    assert next_turn.expected_stops == pytest.approx(0)
    assert next_turn.expected_u_stops is not None
    assert next_turn.expected_u_stops > 0.02
    assert suggestion_words(next_turn).startswith("0.37 turn clockwise (0.28 to 0.50 turn clockwise)")
    assert turn_words(only(found).turns[0]) == "0.50 turn clockwise: +0.70 → +0.30 stops (J1)"
    assert "−0.80 ± " in sensitivity_words(only(found))


def test_nothing_is_suggested_beyond_twice_the_largest_turn_tried(workshop: Workshop) -> None:
    """1.5 stops at -0.8 a turn would take nearly two turns; half a turn was the most that was tried."""
    one = only(known(workshop, take_in(workshop, "1"), read(1.9), turned(0.5), read(1.5)))
    assert one.suggestion.is_capped
    assert one.suggestion.turns == pytest.approx(1.0)
    assert one.suggestion.expected_stops == pytest.approx(0.7)
    assert "no farther than 2 times the largest turn tried" in suggestion_words(one.suggestion)
    assert "zero would take" in suggestion_words(one.suggestion)


def test_a_turn_the_other_way_is_suggested_with_its_sign(workshop: Workshop) -> None:
    one = only(known(workshop, take_in(workshop, "1"), read(0.2), turned(0.5), read(-0.2)))
    assert one.suggestion.turns == pytest.approx(-0.25)
    assert "0.25 turn anticlockwise" in suggestion_words(one.suggestion)


def test_a_sensitivity_not_told_from_zero_is_undecided(workshop: Workshop) -> None:
    one = only(known(workshop, take_in(workshop, "1"), read(0.70), turned(0.1), read(0.68)))
    assert not one.is_told_from_zero
    assert one.suggestion.turns is None
    assert one.suggestion.says.startswith("undecided")


def test_a_reading_within_its_own_uncertainty_of_zero_is_left_alone(workshop: Workshop) -> None:
    one = only(known(workshop, take_in(workshop, "1"), read(0.4), turned(0.5), read(0.01)))
    assert (one.suggestion.turns, one.suggestion.says) == (0.0, "leave it: zero is within the reading's uncertainty")


def test_what_no_hand_can_turn_is_left_alone(workshop: Workshop) -> None:
    """0.06 stop at -4 stops a turn is 5°, and a turn is made to within 10°."""
    one = only(known(workshop, take_in(workshop, "1"), read(2.06), turned(0.5), read(0.06)))
    assert one.suggestion.turns == 0.0
    assert "less than a turn can be made to" in suggestion_words(one.suggestion)


@pytest.mark.parametrize(
    "between",
    [
        {"kind": "removed", "part": "speed ring"},
        {"kind": "refitted", "part": "speed ring"},
        {"kind": "cleaned", "part": "slow train", "route": "naphtha"},
        {"kind": "lubricated", "part": "slow train", "point": "pivots", "amount": "touch"},
        {"kind": "tension", "spring": "main spring", "act": "tensioned", "turns": 1, "direction": "clockwise"},
        turned(0.2, "pallet eccentric"),
        turned(None, "Retard  Lever"),
    ],
    ids=lambda entry: f"{entry['kind']} {entry.get('adjuster', '')}",
)
def test_what_else_moved_in_between_parts_the_readings(workshop: Workshop, between: dict[str, Any]) -> None:
    found = known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), between, read(0.3))
    assert found.sensitivities == ()
    assert any("nothing else moved in between" in why for why in found.useless)


def test_an_adjuster_of_another_test_may_be_turned_in_between(workshop: Workshop) -> None:
    elsewhere = turned(0.2, "vertical adjuster", test="rangefinder")
    one = only(known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), elsewhere, read(0.3)))
    assert one.per_turn.value == pytest.approx(-0.8)


def test_one_change_is_not_given_to_two_adjusters_when_exposure_is_timed_another_way(workshop: Workshop) -> None:
    """Turned for the leaf shutter's test and read by slow motion, which times the same; a contact moves no exposure."""
    before, after = read(0.48, test="footage"), read(0.03, test="footage")
    lever, contact = turned(0.25, test="shutter", marked="1/25"), turned(0.5, "contact blade", test="sync")
    one = only(known(workshop, take_in(workshop, "1"), before, lever, contact, after))
    assert one.adjuster == "retard lever"
    assert one.per_turn.value == pytest.approx(-1.8)
    both = known(workshop, take_in(workshop, "2"), before, lever, turned(0.1, "cam", test="shutter"), after)
    assert not any(turn.job == "J2" for each in both.sensitivities for turn in each.turns)


def test_notes_photos_and_settings_in_between_change_nothing(workshop: Workshop) -> None:
    noted = {"kind": "noted", "note": "warmer now"}
    setting = {"kind": "set", "settings": {"shutter": "released"}}
    one = only(known(workshop, take_in(workshop, "1"), read(0.7), noted, turned(0.5), setting, read(0.3)))
    assert len(one.turns) == 1


def test_the_marks_of_a_test_and_its_tests_are_kept_apart(workshop: Workshop) -> None:
    found = known(
        workshop,
        take_in(workshop, "1"),
        read(0.7),
        read(0.5, marked="1/100"),
        read(9, test="curtains"),
        turned(0.5),
        read(0.3),
        read(0.4, marked="1/100"),
    )
    values = {(one.test, one.marked): one.per_turn.value for one in found.sensitivities}
    assert values == pytest.approx({("shutter", "1/25"): -0.8, ("shutter", "1/100"): -0.2})


def test_only_what_an_adjuster_is_turned_for_gets_a_suggestion(workshop: Workshop) -> None:
    found = known(
        workshop,
        take_in(workshop, "1"),
        read(0.7),
        read(0.9, marked="1/100"),
        turned(0.5, test="shutter", marked="25"),
        read(0.3),
        read(0.4, marked="1/100"),
    )
    says = {one.marked: one.suggestion for one in found.sensitivities}
    assert says["1/25"].turns == pytest.approx(0.375)
    assert says["1/100"].turns is None
    assert says["1/100"].says == "none: it is not turned for this mark"


def test_what_an_earlier_camera_of_the_variant_taught_serves_the_next(workshop: Workshop) -> None:
    known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), read(0.3))
    second = take_in(workshop, "2")
    assert "measure this mark on this camera first" in only(adjusting(workshop, second.id)).suggestion.says
    one = only(known(workshop, second, read(0.4)))
    assert one.suggestion.turns == pytest.approx(0.5)
    assert [turn.job for turn in one.turns] == ["J1"]
    both = only(known(workshop, second, turned(0.25), read(0.2)))
    assert [turn.job for turn in both.turns] == ["J1", "J2"]
    assert both.per_turn.value == pytest.approx(-0.8)
    assert both.per_turn.u < one.per_turn.u


def test_a_turn_after_the_last_reading_asks_for_a_new_one(workshop: Workshop) -> None:
    one = only(known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), read(0.3), turned(0.3)))
    assert one.suggestion.turns is None
    assert one.suggestion.says == "measure again first: retard lever was turned after it"


def test_a_part_that_came_off_after_the_last_reading_asks_for_a_new_one(workshop: Workshop) -> None:
    off = {"kind": "removed", "part": "speed ring"}
    one = only(known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), read(0.3), off))
    assert one.suggestion.says == "measure again first: speed ring was taken off after it"
    again = only(known(workshop, workshop.job("J1"), {"kind": "refitted", "part": "speed ring"}, read(0.4)))
    assert again.suggestion.turns == pytest.approx(0.5)


def test_cameras_that_disagree_are_told_and_widen_the_interval(workshop: Workshop) -> None:
    known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), read(0.3))
    one = only(known(workshop, take_in(workshop, "2"), read(0.7), turned(0.5), read(0.6)))
    assert "farther from one line" in one.flags[0]
    assert not one.is_told_from_zero


def test_turns_without_amounts_tell_nothing_and_say_so(workshop: Workshop) -> None:
    found = known(workshop, take_in(workshop, "1"), read(0.7), turned(None), read(0.3))
    assert found.sensitivities == ()
    assert found.useless == (
        "retard lever: it is not entered how far it was turned; give the turns with each adjustment",
    )


def test_an_entry_struck_out_is_no_turn(workshop: Workshop) -> None:
    job = take_in(workshop, "1")
    known(workshop, job, read(0.7), turned(0.5), read(0.3))
    turn = next(entry for entry in workshop.journal(job.id) if entry.kind == "adjusted")
    found = known(workshop, job, {"kind": "corrected", "entry": turn.id})
    assert found == Adjusting(sensitivities=(), useless=())


def test_the_json_holds_what_the_words_say(workshop: Workshop) -> None:
    found = known(workshop, take_in(workshop, "1"), read(0.7), turned(0.5), read(0.3))
    (row,) = adjusting_json(found)["sensitivities"]
    one = only(found)
    assert row["stops_per_turn"] == one.per_turn.value
    assert math.hypot(*(line["u"] for line in row["budget"])) == pytest.approx(row["u_stops_per_turn"])
    assert row["suggestion"]["turns"] == one.suggestion.turns
    assert row["turns"][0]["before_stops"] == 0.7
