"""A job on the bench: entered one by one, refused with all reasons, undone, and what a kind of camera taught."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from camerawright.job.entering import NotAllowed, enter, moment_after, promise_called, undo
from camerawright.job.now import JobNow, job_now
from camerawright.job.refit import refit_json, refit_steps
from camerawright.journal.clock import doubtful
from camerawright.journal.entries import (
    Answered,
    Awaited,
    Cautioned,
    Closed,
    Contains,
    Corrected,
    Entry,
    Fastener,
    HoldPoint,
    Independent,
    Marked,
    Noted,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Set,
)
from camerawright.recordings.kept import WAITING, remove, write_setup
from camerawright.store.workshop import Workshop, create_workshop
from tests.journal.makers import NOW, START
from tests.store.invented import FALTER, INES, VISIT


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop."""
    with create_workshop(tmp_path / "workshop") as made:
        yield made


class Desk:
    """One job of a workshop, and a clock that ticks a minute an entry."""

    def __init__(self, workshop: Workshop, serial: str = "1", variant: str = "leaf shutter") -> None:
        self.workshop = workshop
        camera = replace(FALTER, serial=serial, variant=variant)
        self.job = workshop.take_in(INES, camera, replace(VISIT, film_inside=False)).id
        self.at = START

    def do(self, kind: type, **fields: Any) -> Entry:
        """Enter one thing."""
        self.at += timedelta(minutes=1)
        entry: Entry = kind(at=self.at, **fields)
        enter(self.workshop, self.job, entry, now=NOW)
        return entry

    def reasons(self, kind: type, **fields: Any) -> list[str]:
        """Why an entry is refused; nothing is entered."""
        with pytest.raises(NotAllowed) as refused:
            self.do(kind, **fields)
        return [problem.what for problem in refused.value.troubles]

    @property
    def here(self) -> JobNow:
        """The job as it lies there."""
        return job_now(self.workshop, self.job, now=NOW)


def test_a_whole_strip_down_and_refit_by_the_way_back_closes(workshop: Workshop) -> None:
    desk = Desk(workshop)
    screws = (Fastener(count=3, size="M1.7"),)
    for part in ("top plate", "front plate", "shutter"):
        desk.do(Removed, part=part, fasteners=screws)
    speeds = desk.do(HoldPoint, check="all speeds", needs=("shutter",))
    assert desk.reasons(Closed)[:3] == ["top plate is still off", "front plate is still off", "shutter is still off"]
    desk.do(Refitted, part="shutter", fasteners=screws)
    assert desk.here.way.steps[0].part.name == "front plate"
    assert refit_steps(desk.here)[0].hold_points == ("all speeds",)
    assert desk.reasons(Refitted, part="front plate", fasteners=screws) == [
        "check before front plate goes back: all speeds"
    ], "the shutter is back, and now the check is due"
    desk.do(Answered, entry=speeds.id, answer="within a third of a stop")
    for part in ("front plate", "top plate"):
        desk.do(Refitted, part=part, fasteners=screws)
    desk.do(Closed)
    assert desk.here.stage == "closed"


def test_the_way_back_as_data_names_the_check_and_what_a_failure_costs(workshop: Workshop) -> None:
    desk = Desk(workshop)
    for part in ("top plate", "front plate", "shutter"):
        desk.do(Removed, part=part)
    desk.do(HoldPoint, check="all speeds", needs=("shutter",))
    read = refit_json(desk.here)
    assert isinstance(read["checks"], list)
    (check,) = read["checks"]
    assert isinstance(check, dict)
    assert (check["before"], check["failure_costs_parts"], check["failure_at_the_end_costs_parts"]) == (
        "front plate",
        0,
        2,
    )


def test_a_refit_beneath_a_gap_is_refused_until_the_two_are_independent(workshop: Workshop) -> None:
    desk = Desk(workshop)
    for part in ("spool", "bellows"):
        desk.do(Removed, part=part)
    assert desk.reasons(Refitted, part="spool") == [
        "bellows goes back before spool (assumed from the order of removal): spool came off before bellows"
    ]
    desk.do(Independent, part="spool", other="bellows", reason="different ends")
    desk.do(Refitted, part="spool")


def test_the_same_entry_twice_is_once(workshop: Workshop) -> None:
    desk = Desk(workshop)
    entry = desk.do(Removed, part="dial")
    enter(workshop, desk.job, entry, now=NOW)
    assert len(desk.here.state.journal) == 1


def test_an_undo_is_undone_by_its_name(workshop: Workshop) -> None:
    desk = Desk(workshop)
    entry = desk.do(Removed, part="dial")
    target, here = undo(workshop, desk.job)
    assert (target, here.state.off) == ((entry,), ())
    _, here = undo(workshop, desk.job, entry_id=here.state.journal[-1].id[:12])
    assert [part.name for part in here.state.off] == ["dial"]
    with pytest.raises(NotAllowed, match="no entry begins with zz"):
        undo(workshop, desk.job, entry_id="zz")


def test_there_is_a_moment_after_the_last_entry_even_if_the_clock_was_set_back(workshop: Workshop) -> None:
    desk = Desk(workshop)
    entry = desk.do(Removed, part="dial")
    assert moment_after(desk.here, now=START - timedelta(days=1)) > entry.at


def test_a_promise_is_called_by_its_words_if_they_fit_one_only(workshop: Workshop) -> None:
    desk = Desk(workshop)
    hook = desk.do(Reminded, part="dial", todo="hook the spring")
    desk.do(Reminded, part="dial", todo="hook the lead")
    assert promise_called(desk.here, "SPRING") == hook.id
    for words, why in (("hook", "2 things owed fit"), ("roll", "nothing owed fits")):
        with pytest.raises(NotAllowed, match=why):
            promise_called(desk.here, words)


def test_the_next_camera_of_the_kind_starts_from_what_the_first_taught(workshop: Workshop) -> None:
    first = Desk(workshop, "1")
    first.do(Cautioned, part="dial", hazard="detent", escapes=True, frees=("ball",))
    first.do(Marked, part="dial", mark="25 at the stop")
    first.do(Ordered, first="dial", then="top plate", reason="pins it", is_new=True)
    first.do(Removed, part="dial", overruled="no ball in this one")
    first.do(Removed, part="top plate")
    second = Desk(workshop, "2")
    assert second.here.escapes("dial")
    assert second.here.hazards("dial") == ("detent",)
    assert second.here.frees("Dial") == ("ball",)
    assert second.reasons(Removed, part="top plate") == ["dial comes off before top plate: pins it"]
    assert second.reasons(Removed, part="dial") == [
        "the reference mark of dial is not noted: 25 at the stop",
        "ball gets loose when dial moves",
    ]


def test_a_sister_variant_warns_and_does_not_bind(workshop: Workshop) -> None:
    first = Desk(workshop, "1", "first pattern")
    first.do(Ordered, first="dial", then="top plate", reason="pins it", is_new=True)
    first.do(Cautioned, part="dial", hazard="detent", escapes=True)
    first.do(Removed, part="dial")
    first.do(Removed, part="top plate")
    sister = Desk(workshop, "2", "second pattern")
    assert sister.here.hazards("dial") == ("detent (seen on first pattern)",)
    sister.do(Removed, part="top plate")


def test_reasons_that_clash_leave_no_way_back_and_are_told_in_words(workshop: Workshop) -> None:
    desk = Desk(workshop)
    desk.do(Ordered, first="a", then="b", reason="covers it")
    desk.do(Removed, part="b", overruled="the cover was loose")
    desk.do(Removed, part="a", under=("b",))
    assert desk.here.way.steps == ()
    assert "these cannot all be true" in (desk.here.known.clash or "")
    assert any("these cannot all be true" in reason for reason in desk.reasons(Refitted, part="a"))


def test_this_strip_down_in_another_order_than_an_earlier_one_frees_what_was_assumed(workshop: Workshop) -> None:
    first = Desk(workshop, "1")
    for part in ("cap", "dial", "plate"):
        first.do(Removed, part=part)
    second = Desk(workshop, "2")
    for part in ("dial", "cap", "plate"):
        second.do(Removed, part=part)
    after = {key: [bond.then for bond in bonds] for key, bonds in second.here.way.back_first.items()}
    assert after == {"cap": ["plate"], "dial": ["plate"]}
    first_again = {key: [bond.then for bond in bonds] for key, bonds in first.here.way.back_first.items()}
    assert first_again == after, "the second strip-down taught the first job too"


def test_a_reminder_for_a_day_to_come_makes_its_part_wait_and_nothing_beside_it(workshop: Workshop) -> None:
    """The dial is free of the cover; it goes on, and the cover waits for its day."""
    desk = Desk(workshop)
    desk.do(Removed, part="dial")
    desk.do(Removed, part="cover")
    desk.do(Independent, part="dial", other="cover", reason="apart")
    desk.do(Reminded, part="cover", todo="fire it after its rest", due=(NOW + timedelta(days=2)).date())
    way = job_now(workshop, desk.job, now=NOW).way
    assert [step.part.name for step in way.steps] == ["dial"]
    assert [(item.part.name, item.reason) for item in way.waiting] == [
        ("cover", f"fire it after its rest, not before {(NOW + timedelta(days=2)).date().isoformat()}")
    ]
    assert not job_now(workshop, desk.job, now=NOW + timedelta(days=2, hours=12)).way.waiting


def test_a_check_for_a_day_to_come_is_not_answered_before_it(workshop: Workshop) -> None:
    desk = Desk(workshop)
    desk.do(Removed, part="shutter")
    due = (NOW + timedelta(days=2)).date()
    hold = desk.do(HoldPoint, check="all speeds after a rest", needs=("shutter",), due=due)
    assert desk.reasons(Answered, entry=hold.id, answer="all right") == [
        f"check: all speeds after a rest: not before {due.isoformat()}"
    ]


def test_a_group_cannot_be_free_of_itself_or_contain_itself(workshop: Workshop) -> None:
    desk = Desk(workshop)
    assert desk.reasons(Independent, part="Shutter", other="shutter", reason="x") == [
        "Shutter cannot be free of itself"
    ]
    assert desk.reasons(Contains, part="shutter", parts=("cam", "shutter")) == ["shutter cannot contain itself"]


def test_what_covers_a_side_of_the_camera_is_asked_for_before_any_part_of_it_comes_off(workshop: Workshop) -> None:
    desk = Desk(workshop)
    desk.do(Contains, part="meter side", parts=("needle", "meter cell"))
    desk.do(Ordered, first="top cover", then="meter side", reason="it covers all of it", is_new=True)
    assert desk.reasons(Removed, part="needle") == ["top cover comes off before needle: it covers all of it"]
    desk.do(Removed, part="top cover")
    desk.do(Removed, part="needle")


def test_what_cures_in_place_holds_up_only_what_surely_covers_it(workshop: Workshop) -> None:
    """The bellows are glued in: the frame over them waits a day, the dial does not."""
    desk = Desk(workshop)
    for part in ("dial", "frame", "bellows"):
        desk.do(Removed, part=part, under=("frame",) if part == "bellows" else ())
    desk.do(Independent, part="dial", other="frame", reason="apart")
    desk.do(Refitted, part="bellows")
    assert desk.reasons(Awaited, part="bellows", awaiting="the adhesive") == ["bellows is not off"]
    desk.do(Awaited, part="bellows", awaiting="the adhesive cures", until=NOW + timedelta(days=1))
    way = job_now(workshop, desk.job, now=NOW).way
    assert [step.part.name for step in way.steps] == ["dial"]
    assert [(item.part.name, item.reason) for item in way.waiting] == [
        ("frame", "bellows must wait: the adhesive cures"),
    ]
    assert "frame goes over what is not ready: bellows must wait: the adhesive cures" in desk.reasons(
        Refitted, part="frame"
    )
    desk.do(Refitted, part="dial")
    assert not job_now(workshop, desk.job, now=NOW + timedelta(days=2)).way.waiting


def test_a_check_does_not_pass_while_something_in_the_part_it_needs_is_off(workshop: Workshop) -> None:
    """The shutter is on the camera, its blades are in the tray."""
    desk = Desk(workshop)
    desk.do(Contains, part="shutter", parts=("blades",))
    desk.do(Contains, part="meter side", parts=("needle",))
    for part in ("shutter", "blades", "needle"):
        desk.do(Removed, part=part)
    desk.do(Refitted, part="shutter", overruled="for a trial")
    hold = desk.do(HoldPoint, check="all speeds", needs=("shutter", "meter side"))
    assert desk.reasons(Answered, entry=hold.id, answer="ten of ten") == [
        "all speeds: it needs shutter, and blades is off",
        "all speeds: it needs meter side, and needle is off",
    ]
    desk.do(Refitted, part="needle")
    desk.do(Refitted, part="blades")
    desk.do(Answered, entry=hold.id, answer="ten of ten")
    assert hold.id not in [promise.id for promise in desk.here.state.open_promises]
    desk.do(Removed, part="needle")
    assert hold.id in [promise.id for promise in desk.here.state.open_promises], "checked with it in place: owed again"


def test_a_clock_that_ran_ahead_does_not_lock_the_bench_when_it_is_set_right(workshop: Workshop) -> None:
    """The laptop's battery was empty: the first entry of the day is of another year."""
    desk = Desk(workshop)
    ahead = Removed(at=NOW + timedelta(days=3650), part="dial")
    enter(workshop, desk.job, ahead, now=ahead.at)
    for part in ("ring", "plate"):
        at = moment_after(desk.here, now=NOW)
        enter(workshop, desk.job, Removed(at=at, part=part), now=NOW)
    here = desk.here
    assert [part.name for part in here.state.off] == ["dial", "ring", "plate"], "in order by sequence"
    assert [entry.moment for entry in here.state.journal] == [ahead.at, NOW, NOW]
    assert doubtful(here.state, NOW) == {ahead.id}
    mended = ahead.model_copy(update={"clock": NOW - timedelta(hours=1)})
    correction = Corrected(at=moment_after(here, now=NOW), entry=ahead.id, becomes=mended)
    enter(workshop, desk.job, correction, now=NOW)
    assert doubtful(desk.here.state, NOW) == frozenset()
    assert [part.name for part in desk.here.state.off] == ["dial", "ring", "plate"]


def test_a_note_entered_late_makes_no_other_clock_wrong(workshop: Workshop) -> None:
    desk = Desk(workshop)
    for minutes, part in enumerate(("dial", "ring")):
        enter(workshop, desk.job, Removed(at=NOW + timedelta(minutes=minutes), part=part), now=NOW)
    late = Noted(at=NOW + timedelta(minutes=2), note="lid was bent", clock=NOW - timedelta(hours=3))
    enter(workshop, desk.job, late, now=NOW)
    assert doubtful(desk.here.state, NOW + timedelta(hours=1)) == frozenset()
    enter(workshop, desk.job, Corrected(at=NOW + timedelta(minutes=3), entry=late.id), now=NOW)
    assert doubtful(desk.here.state, NOW + timedelta(hours=1)) == frozenset()


@pytest.mark.parametrize("days", [1, 30, 365])
def test_a_moment_to_come_is_refused_unless_the_clock_here_is_wrong(workshop: Workshop, days: int) -> None:
    desk = Desk(workshop)
    ahead = Noted(at=NOW, note="lid was bent", clock=NOW + timedelta(days=days))
    with pytest.raises(NotAllowed, match="is in the future") as refused:
        enter(workshop, desk.job, ahead, now=NOW)
    assert refused.value.can_overrule
    plain = ahead.model_copy(update={"clock": None})
    enter(workshop, desk.job, plain, now=NOW)
    with pytest.raises(NotAllowed, match="is in the future"):
        enter(workshop, desk.job, Corrected(at=NOW, entry=plain.id, becomes=ahead), now=NOW)


def test_film_that_came_in_with_the_camera_bars_its_back(workshop: Workshop) -> None:
    job = workshop.take_in(INES, replace(FALTER, serial="77"), replace(VISIT, film_inside=True)).id
    with pytest.raises(NotAllowed, match="film is inside"):
        enter(workshop, job, Removed(at=START, part="back"), now=NOW)
    enter(workshop, job, Set(at=START, settings={"film": "out"}), now=NOW)
    enter(workshop, job, Removed(at=START + timedelta(minutes=1), part="back"), now=NOW)


def test_an_undo_takes_along_what_rests_on_it_when_asked_to(workshop: Workshop) -> None:
    desk = Desk(workshop)
    desk.do(Ordered, first="cover", then="wheel", reason="covers it")
    cover = desk.do(Removed, part="cover")
    wheel = desk.do(Removed, part="wheel")
    with pytest.raises(NotAllowed, match="wheel came off"):
        undo(workshop, desk.job, entry_id=cover.id)
    struck, here = undo(workshop, desk.job, entry_id=cover.id, together=True)
    assert (struck, here.state.off) == ((wheel, cover), ())


def test_a_correction_of_an_order_is_judged_without_the_order_that_it_replaces(workshop: Workshop) -> None:
    desk = Desk(workshop)
    wrong = desk.do(Ordered, first="cover", then="wheel", reason="covers it")
    right = Ordered(at=wrong.at, first="wheel", then="cover", reason="pins it")
    enter(workshop, desk.job, Corrected(at=desk.at + timedelta(minutes=1), entry=wrong.id, becomes=right), now=NOW)
    assert [constraint.first for constraint in desk.here.known.constraints] == ["wheel"]


def test_recordings_that_wait_are_told_before_the_closing(workshop: Workshop) -> None:
    desk = Desk(workshop)
    desk.do(Removed, part="dial")
    desk.do(Refitted, part="dial")
    (workshop.folder / WAITING).mkdir(exist_ok=True)
    recording = workshop.folder / WAITING / "sent-1.wav"
    recording.write_bytes(b"sound")
    write_setup(recording, {"job": desk.job})
    assert desk.reasons(Closed) == ["1 recording of this job still waits to be entered"]
    remove(recording)
    desk.do(Closed)
