"""What was found and done, in words, from journals written entry by entry."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from camerawright.journal.entries import ENTRY, new_id
from camerawright.journal.state import State, fold
from camerawright.papers.work_done import findings, work_done

MORNING = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
ASKED = new_id()


def state(*entries: dict[str, Any]) -> State:
    """A journal with an entry a minute."""
    return fold(
        [ENTRY.validate_python({"at": MORNING + timedelta(minutes=n), **entry}) for n, entry in enumerate(entries)]
    )


def lines(*entries: dict[str, Any]) -> list[tuple[str, str]]:
    """What was done, label and words."""
    return [(line.label, line.words) for line in work_done(state(*entries))]


def off(part: str) -> dict[str, Any]:
    return {"kind": "removed", "part": part}


def back(part: str, **more: Any) -> dict[str, Any]:
    return {"kind": "refitted", "part": part, **more}


def test_nothing_done_is_no_line() -> None:
    assert lines({"kind": "noted", "note": "rust"}) == []


def test_parts_that_came_off_are_named_in_order_with_those_still_off() -> None:
    said = lines(off("ring"), off("cell"), off("plate"), back("plate"), back("ring"))
    assert said == [("Taken off and put back", "ring, plate"), ("Still off", "cell")]


def test_each_way_of_cleaning_has_its_parts_once() -> None:
    said = lines(
        {"kind": "cleaned", "part": "ring", "route": "soft dry brush"},
        {"kind": "cleaned", "part": "plate", "route": "naphtha"},
        {"kind": "cleaned", "part": "cell", "route": "soft dry brush"},
        {"kind": "cleaned", "part": "Ring", "route": "soft dry brush"},
    )
    assert said == [("Cleaned", "ring, cell: soft dry brush"), ("Cleaned", "plate: naphtha")]


def test_lubricated_points_are_told_with_the_newest_lubricant_and_what_stays_dry_apart() -> None:
    def point(point: str, amount: str, **more: str) -> dict[str, Any]:
        return {"kind": "lubricated", "part": "train", "point": point, "amount": amount, **more}

    said = lines(
        point("pivots", "touch", lubricant="old oil"),
        point("Pivots", "touch", lubricant="clock oil"),
        point("teeth", "dry"),
        point("cam", "film"),
    )
    assert said == [
        ("Lubricated", "train, Pivots: clock oil"),
        ("Lubricated", "train, cam: lubricant not noted"),
        ("Kept dry", "train, teeth"),
    ]


def test_a_part_that_is_another_one_says_where_it_is_from_and_one_left_out_why() -> None:
    said = lines(
        off("seal"), back("seal", replacement="made"), off("screw"),
        {"kind": "accounted for", "part": "screw", "reason": "sheared, replaced by the owner's"},
    )  # fmt: skip
    assert ("Replaced", "seal: made") in said
    assert ("Not put back", "screw: sheared, replaced by the owner's") in said


def test_an_adjuster_that_was_turned_twice_is_told_from_its_first_to_its_last_place() -> None:
    said = lines(
        {"kind": "adjusted", "adjuster": "retard lever", "before": "2", "after": "4"},
        {"kind": "adjusted", "adjuster": "arm", "after": "in by a turn"},
        {"kind": "adjusted", "adjuster": "Retard lever", "before": "4", "after": "3"},
    )
    assert said == [("Adjusted", "Retard lever: from 2 to 3"), ("Adjusted", "arm: in by a turn")]


def test_checks_and_what_was_asked_for_at_the_closing_are_told_and_the_benchs_own_reminders_are_not() -> None:
    hold, closing, own = (new_id() for _ in range(3))
    said = lines(
        {"kind": "hold point", "id": hold, "part": "ring", "check": "blades snap"},
        {"kind": "reminded", "id": closing, "part": "closing", "todo": "first shot after a rest"},
        {"kind": "reminded", "id": own, "part": "ring", "todo": "hook the spring"},
        {"kind": "hold point", "part": "ring", "check": "not yet passed"},
        *({"kind": "answered", "entry": one, "answer": f"answer {n}"} for n, one in enumerate((hold, closing, own))),
    )
    assert said == [("Checked", "blades snap: answer 0"), ("At the closing", "first shot after a rest: answer 1")]


@pytest.mark.parametrize(
    ("more", "answer", "done"),
    [
        ({"todo": "pull the dent"}, "pulled over rubber", "pulled over rubber"),
        ({"todo": "pull the dent"}, None, "not done yet: pull the dent"),
        ({"decision": "repair"}, None, "not repaired yet"),
        ({"decision": "repair"}, "soldered", "soldered"),
        ({"decision": "reuse knowingly"}, None, "left as it is, knowingly"),
        ({}, None, ""),
    ],
)
def test_a_finding_is_told_with_what_became_of_it(more: dict[str, str], answer: str | None, done: str) -> None:
    entries: list[dict[str, Any]] = [{"kind": "found", "id": ASKED, "part": "ring", "defect": "dent", **more}]
    if answer:
        entries.append({"kind": "answered", "entry": ASKED, "answer": answer})
    (found,) = findings(state(*entries))
    assert (found.part, found.defect, found.done) == ("ring", "dent", done)
