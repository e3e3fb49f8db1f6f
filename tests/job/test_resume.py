"""After a break: where you were, what is loose, what must not be moved, what takes its time."""

from datetime import timedelta
from typing import Any

from camerawright.job.resume import resume, resume_json
from camerawright.journal.entries import (
    AidFitted,
    Awaited,
    Cautioned,
    Closed,
    Loose,
    NeedsState,
    Refitted,
    Removed,
    Reopened,
    Set,
    Tension,
    Tried,
)
from camerawright.store.workshop import Workshop
from tests.job.test_now import Desk, workshop
from tests.journal.makers import NOW

__all__ = ["workshop"]  # the fixture


def test_the_last_entries_come_first_and_only_those_that_stand(workshop: Workshop) -> None:
    desk = Desk(workshop)
    entries = [desk.do(Removed, part=f"part {i}") for i in range(7)]
    assert resume(desk.here, n_last=3).last == tuple(reversed(entries[-3:]))


def test_what_got_free_is_loose_until_it_was_put_away_or_is_back(workshop: Workshop) -> None:
    desk = Desk(workshop)
    desk.do(Cautioned, part="dial", hazard="detent", escapes=True, frees=("ball", "spring", "pawl"))
    desk.do(Removed, part="pawl")
    desk.do(Removed, part="dial", loose=(Loose(what="spring"),), overruled="the ball was not seen")
    assert resume(desk.here).loose == ("ball (free since dial came off)",)
    desk.do(Refitted, part="dial", overruled="ball found beneath")
    assert resume(desk.here).loose == ()


def test_aids_let_down_springs_and_needed_states_are_left_alone(workshop: Workshop) -> None:
    desk = Desk(workshop)
    desk.do(NeedsState, part="drum", settings={"shutter": "released"}, moves="both", reason="the drum unwinds")
    desk.do(Set, settings={"Shutter": "Released"})
    desk.do(AidFitted, aid="wedge", place="under the lever")
    desk.do(Tension, spring="curtain", act="let down", turns=7, direction="anticlockwise")
    assert resume(desk.here).do_not_move == ("wedge: under the lever", "curtain: 7 turns are owed to it")
    desk.do(Removed, part="drum")
    assert "shutter stays released: the drum unwinds" in resume(desk.here).do_not_move


def test_every_fastener_that_soaks_has_its_own_timer_until_its_part_is_off(workshop: Workshop) -> None:
    desk = Desk(workshop)
    later, earlier = NOW + timedelta(hours=3), NOW - timedelta(hours=3)
    fields: dict[str, Any] = {"part": "plate", "rung": "solvent and wait", "outcome": "no change"}
    desk.do(Tried, fastener="NE screw", wait_until=later, **fields)
    desk.do(Tried, fastener="SW screw", wait_until=earlier, **fields)
    timers = [(timer.what, timer.is_over) for timer in resume(desk.here).timers]
    assert timers == [("NE screw: solvent and wait", False), ("SW screw: solvent and wait", True)]
    desk.do(Removed, part="plate", overruled="both came with the plate")
    assert resume(desk.here).timers == ()
    desk.do(Awaited, part="plate", awaiting="lacquer drying", until=earlier)
    assert [(timer.what, timer.is_over) for timer in resume(desk.here).timers] == [("lacquer drying", True)]


def test_a_complete_camera_that_was_reopened_is_measured_or_closed(workshop: Workshop) -> None:
    desk = Desk(workshop)
    desk.do(Removed, part="cover")
    desk.do(Refitted, part="cover")
    desk.do(Closed)
    desk.do(Reopened, reason="the counter sticks")
    assert resume(desk.here).next_step == "everything is back: measure as left, or close the job"


def test_the_next_step_is_said_with_its_hazard(workshop: Workshop) -> None:
    desk = Desk(workshop)
    assert resume(desk.here).next_step == "take the first part off, or measure as found"
    desk.do(Removed, part="cover")
    desk.do(Cautioned, part="cover", hazard="sharp edge")
    card = resume(desk.here)
    assert (card.next_step, card.next_hazard) == (
        "goes back next: cover, if nothing more comes off",
        "cover: sharp edge",
    )
    desk.do(Awaited, part="cover", awaiting="new one on order")
    assert resume(desk.here).next_step == "waits: cover, new one on order"
    other = Desk(workshop, "2")
    assert resume(other.here).next_step == "comes off next: cover"
    other.do(Closed, overruled="only looked at")
    assert resume(other.here).next_step == "nothing: the job is closed"


def test_the_card_for_scripts_holds_what_the_card_holds(workshop: Workshop) -> None:
    desk = Desk(workshop)
    entry = desk.do(Removed, part="cover")
    read = resume_json(resume(desk.here))
    assert read["last"] == [{"at": entry.at.isoformat(), "kind": "removed", "id": entry.id}]
    assert read["next_step"] == "goes back next: cover, if nothing more comes off"
