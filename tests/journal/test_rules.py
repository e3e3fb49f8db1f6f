"""What is refused, with which reason, and what a stated reason lets through (common practice of the bench)."""

from datetime import timedelta
from typing import Any

import pytest

from camerawright.journal.balance import closing
from camerawright.journal.entries import (
    AccountedFor,
    Adjusted,
    AidFitted,
    AidTakenOut,
    Answered,
    Arrived,
    Awaited,
    Cautioned,
    Closed,
    Corrected,
    Entry,
    Fastener,
    Found,
    HandedBack,
    Happening,
    HoldPoint,
    Irreplaceable,
    Loose,
    Marked,
    MarkWanted,
    Measured,
    NeedsState,
    Noted,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Shim,
    Tension,
    Tried,
)
from camerawright.journal.known import Known
from camerawright.journal.order import Constraint, OrderFacts
from camerawright.journal.rules import standing, troubles
from camerawright.journal.state import fold
from camerawright.refit.way_back import way_back
from tests.journal.makers import NOTHING, NOW, Clock, refused, strip


def test_a_first_removal_meets_no_objection() -> None:
    assert refused([], strip("lens cap")[0]) == []


def test_a_part_that_is_off_cannot_come_off_again_whatever_the_reason() -> None:
    again = Removed(at=NOW, part="Dial", overruled="I say so")
    found = troubles(fold(strip("dial")), again, now=NOW, known=NOTHING)
    assert [problem.what for problem in found] == ["dial is already off"]
    assert standing(found, again) == found


def test_the_cover_comes_off_before_what_it_covers() -> None:
    cover = Ordered(at=Clock()(), first="top plate", then="prism", reason="covers its screws")
    entry = Removed(at=NOW, part="prism")
    assert refused([cover], entry) == ["top plate comes off before prism: covers its screws"]
    overruled = entry.model_copy(update={"overruled": "the plate is cut away on this one"})
    found = troubles(fold([cover]), overruled, now=NOW, known=NOTHING)
    assert standing(found, overruled) == ()


def test_what_an_earlier_strip_down_taught_binds_this_one() -> None:
    known = Known(constraints=(Constraint(first="dial", then="top plate", reason="pins it"),))
    assert refused([], Removed(at=NOW, part="top plate"), known) == ["dial comes off before top plate: pins it"]
    assert refused(strip("dial"), Removed(at=NOW, part="top plate"), known) == []


def test_a_mark_that_was_asked_for_is_noted_before_the_part_moves() -> None:
    clock = Clock()
    wanted = MarkWanted(at=clock(), part="dial", mark="which figure stands at the stop")
    entry = Removed(at=NOW, part="dial")
    assert refused([wanted], entry) == ["the reference mark of dial is not noted: which figure stands at the stop"]
    noted = Marked(at=clock(), part="dial", mark="25 at the stop, released")
    assert refused([wanted, noted], entry) == []


def test_where_a_like_joint_had_a_shim_somebody_looks_beneath() -> None:
    known = Known(shims_seen={"front standard": "1 × 0.10 mm, upper left"})
    entry = Removed(at=NOW, part="front standard")
    assert "did you look beneath" in refused([], entry, known)[0]
    assert refused([], entry.model_copy(update={"looked_beneath": True}), known) == []
    found = entry.model_copy(update={"shims": (Shim(place="upper left", count=1, thickness_mm=0.1),)})
    assert refused([], found, known) == []


def test_a_removal_from_under_a_part_that_is_still_on_is_refused() -> None:
    entry = Removed(at=NOW, part="spring", under=("cam",))
    assert refused([], entry) == ["spring lies under cam, and the journal has cam still on"]


def test_a_refit_waits_for_what_goes_beneath_it() -> None:
    journal = strip("cover", "wheel")
    known = Known(back_first=way_back(fold(journal).off, OrderFacts()).back_first)
    found = refused(journal, Refitted(at=NOW, part="cover"), known)
    assert found == ["wheel goes back before cover (assumed from the order of removal): cover came off before wheel"]
    assert refused(journal, Refitted(at=NOW, part="wheel"), known) == []


def test_a_reminder_and_a_hold_point_bar_the_refit_until_answered() -> None:
    clock = Clock()
    reminder = Reminded(at=clock(), part="cover", todo="solder the lead first")
    hold = HoldPoint(at=clock(), part="cover", check="all speeds within tolerance")
    journal = [*strip("cover", clock=clock), reminder, hold]
    refit = Refitted(at=NOW, part="cover")
    assert refused(journal, refit) == [
        "owed before cover goes back: solder the lead first",
        "owed before cover goes back: check: all speeds within tolerance",
    ]
    answers = [Answered(at=clock(), entry=owed.id, answer="done") for owed in (reminder, hold)]
    assert refused([*journal, *answers], refit) == []
    assert refused([*journal, *answers], Answered(at=NOW, entry=hold.id, answer="again")) == [
        "nothing owed has that id"
    ]


def test_screws_and_shims_go_back_as_they_came_out_or_the_difference_is_explained() -> None:
    screws = (Fastener(count=4, size="M1.4", length_mm=3),)
    journal = [Removed(at=Clock()(), part="plate", fasteners=screws)]
    short = Refitted(at=NOW, part="plate", fasteners=(Fastener(count=3, size="M1.4", length_mm=3),))
    assert refused(journal, short) == ["plate: 4 × screw M1.4 × 3 mm came out, 3 going back"]
    assert refused(journal, Refitted(at=NOW, part="plate", fasteners=screws)) == []


def test_a_part_that_waits_goes_back_on_arrival_or_as_another_specimen() -> None:
    clock = Clock()
    journal = [*strip("spring", clock=clock), Awaited(at=clock(), part="spring", awaiting="new one on order")]
    refit = Refitted(at=NOW, part="spring")
    assert refused(journal, refit) == ["spring must still wait: new one on order"]
    assert refused([*journal, Arrived(at=clock(), part="spring")], refit) == []
    assert refused(journal, refit.model_copy(update={"replacement": "donor J4"})) == []


def test_an_order_that_contradicts_what_is_certain_is_refused_with_the_whole_ring() -> None:
    clock = Clock()
    known = [
        Ordered(at=clock(), first="a", then="b", reason="covers it"),
        Ordered(at=clock(), first="b", then="c", reason="pins it"),
    ]
    found = refused(known, Ordered(at=NOW, first="c", then="a", reason="retains it"))
    assert len(found) == 1
    assert all(words in found[0] for words in ("a before b (covers it)", "b before c (pins it)", "c before a"))
    assert refused(known, Ordered(at=NOW, first="a", then="a", reason="?")) == ["a cannot come off before itself"]


def test_the_future_is_refused() -> None:
    found = refused([], Removed(at=NOW + timedelta(days=1), part="dial"))
    assert found == [f"the entry is dated {NOW + timedelta(days=1):%Y-%m-%d %H:%M}, in the future"]


def test_an_undo_that_would_break_a_later_entry_is_refused() -> None:
    clock = Clock()
    removed = Removed(at=clock(), part="dial")
    journal: list[Entry] = [removed, Refitted(at=clock(), part="dial")]
    assert refused(journal, Corrected(at=NOW, entry=removed.id)) == [
        "with that correction, dial went back while it was on"
    ]
    assert refused(journal, Corrected(at=NOW, entry="0" * 32)) == ["no entry has that id"]


def test_an_aid_is_taken_out_under_its_own_name() -> None:
    fitted = AidFitted(at=Clock()(), aid="rubber band")
    assert refused([fitted], AidTakenOut(at=NOW, aid="wedge")) == ["no aid called wedge is in"]
    assert refused([fitted], AidTakenOut(at=NOW, aid="Rubber  band")) == []


def test_the_job_does_not_close_until_everything_is_back_or_accounted_for() -> None:
    clock = Clock()
    screws = (Fastener(count=2, size="M2"),)
    journal: list[Entry] = [
        Removed(at=clock(), part="plate", fasteners=screws),
        Removed(at=clock(), part="washer"),
        AidFitted(at=clock(), aid="tape"),
        Reminded(at=clock(), part="closing", todo="test roll"),
        Refitted(at=clock(), part="plate", fasteners=(Fastener(count=1, size="M2"),), overruled="one lost"),
    ]
    assert [problem.what for problem in closing(fold(journal))] == [
        "washer is still off",
        "plate: 1 × screw M2 not back",
        "the aid tape is still in",
        "owed: test roll (closing)",
    ]
    journal += [
        AccountedFor(at=clock(), part="washer", reason="crumbled; a new one is made"),
        AccountedFor(at=clock(), part="plate", reason="a new screw fitted"),
        AidTakenOut(at=clock(), aid="tape"),
        Answered(at=clock(), entry=journal[3].id, answer="shot and scanned"),
    ]
    assert refused(journal, Closed(at=NOW)) == []


@pytest.mark.parametrize("entry", [Removed(at=NOW, part="dial"), Refitted(at=NOW, part="dial"), Closed(at=NOW)])
def test_a_closed_job_stays_closed(entry: Entry) -> None:
    closed = Closed(at=Clock()())
    assert "the job is closed" in refused([closed], entry)


def test_a_camera_that_is_handed_back_takes_no_reading_and_no_turn() -> None:
    """Its certificate is with the owner."""
    clock = Clock()
    gone: list[Entry] = [Closed(at=clock()), HandedBack(at=clock(), to="the owner")]
    turn = Adjusted(at=NOW, adjuster="retard lever", after="1/8 turn in")
    reading = Measured(at=NOW, test="shutter", phase="as left", method="m 1", setup={}, result={}, recording="0" * 64)
    for entry in (turn, reading):
        assert "the camera is handed back" in refused(gone, entry)


def test_nothing_is_handed_back_before_it_is_closed() -> None:
    seen = Found(at=Clock()(), part="bellows", defect="sound")
    assert refused([seen], HandedBack(at=NOW, to="the owner")) == ["the job is not closed"]
    assert refused([Closed(at=Clock()())], HandedBack(at=NOW, to="the owner")) == []


def test_a_mark_noted_before_the_last_refit_is_asked_for_again() -> None:
    """The dial was set anew while it was on: its old mark may no longer hold."""
    clock = Clock()
    journal: list[Entry] = [
        Marked(at=clock(), part="dial", mark="25 at the stop"),
        *strip("dial", clock=clock),
        Refitted(at=clock(), part="dial"),
    ]
    again = Removed(at=NOW, part="dial")
    assert refused(journal, again) == ["dial has been back since its reference mark was noted: 25 at the stop"]
    assert refused([*journal, Marked(at=clock(), part="dial", mark="50 at the stop")], again) == []


def test_what_gets_free_is_caught_before_the_part_moves() -> None:
    clock = Clock()
    caution = Cautioned(at=clock(), part="dial", hazard="detent", escapes=True, frees=("ball",))
    plain = Removed(at=NOW, part="dial")
    assert refused([caution], plain) == ["ball gets loose when dial moves"]
    assert refused([], plain, Known(frees={"dial": ("ball",)})) == ["ball gets loose when dial moves"]
    caught = plain.model_copy(update={"loose": (Loose(what="ball 1.5 mm"),)})
    assert refused([caution], caught) == []
    assert refused([caution, *strip("ball", clock=clock)], plain) == [], "it came off as a part of its own"


def test_a_part_that_was_accounted_for_turns_up_by_an_undo() -> None:
    clock = Clock()
    stripped = strip("washer", clock=clock)
    gone = AccountedFor(at=clock(), part="washer", reason="lost")
    journal: list[Entry] = [*stripped, gone]
    found = troubles(fold(journal), Refitted(at=NOW, part="washer"), now=NOW, known=NOTHING)
    assert [(p.what, p.mend, p.can_overrule) for p in found] == [
        ("washer was accounted for", "if it turned up, undo that entry first", False)
    ]
    assert refused(journal, Removed(at=NOW, part="washer")) == ["washer was accounted for"]
    undo = Corrected(at=clock(), entry=gone.id)
    assert refused(journal, undo) == []
    assert refused([*journal, undo], Refitted(at=NOW, part="washer")) == []


def test_a_check_and_a_reminder_are_owed_again_when_what_they_are_about_comes_off_again() -> None:
    clock = Clock()
    hook = Reminded(at=clock(), part="cover", todo="hook the spring")
    speeds = HoldPoint(at=clock(), part="cover", check="all speeds", needs=("shutter",))
    worn = Found(at=clock(), part="cover", defect="dent", todo="press it out")
    promises: list[Entry] = [hook, speeds, worn]
    answers = [Answered(at=clock(), entry=owed.id, answer="done") for owed in (hook, speeds, worn)]
    journal = [*promises, *answers]
    assert fold(journal).open_promises == ()
    assert fold([*journal, *strip("cover", clock=clock)]).open_promises == (hook,), "the shutter was not touched"
    both = fold([*journal, *strip("cover", "shutter", clock=clock)])
    assert both.open_promises == (hook, speeds), "a repair stays done"
    assert refused([*journal, *strip("cover", clock=clock)], Answered(at=NOW, entry=hook.id, answer="again")) == []


def test_an_order_is_judged_by_its_own_ring_alone() -> None:
    """The ring between a and b was there before: it says nothing against c and d."""
    ring = (Constraint(first="a", then="b", reason="seen"), Constraint(first="b", then="a", reason="seen too"))
    assert refused([], Ordered(at=NOW, first="c", then="d", reason="covers it"), Known(constraints=ring)) == []


def test_a_correction_cannot_bring_in_what_would_be_refused_by_itself() -> None:
    clock = Clock()
    stripped = strip("cover", "wheel", clock=clock)
    slip = Noted(at=clock(), note="cover back")
    ordered = Ordered(at=clock(), first="a", then="b", reason="covers it")
    other = Ordered(at=clock(), first="c", then="d", reason="covers it")
    journal: list[Entry] = [*stripped, slip, ordered, other]
    known = Known(back_first=way_back(fold(journal).off, OrderFacts()).back_first)

    def becomes(of: Entry, new: Happening) -> list[str]:
        return refused(journal, Corrected(at=NOW, entry=of.id, becomes=new), known)

    assert becomes(slip, Refitted(at=slip.at, part="cover")) == [
        "wheel goes back before cover (assumed from the order of removal): cover came off before wheel"
    ]
    assert becomes(slip, Refitted(at=slip.at, part="wheel")) == []
    assert becomes(slip, Removed(at=slip.at, part="closing")) == ["“closing” stands for the closing of the job"]
    assert "cover is still off" in becomes(slip, Closed(at=slip.at))
    assert len(becomes(other, Ordered(at=other.at, first="b", then="a", reason="pins it"))) == 1
    assert becomes(other, Ordered(at=other.at, first="c", then="d", reason="pins it")) == []


def test_a_correction_is_undone_not_replaced() -> None:
    clock = Clock()
    slip = Noted(at=clock(), note="a slip")
    undo = Corrected(at=clock(), entry=slip.id)
    found = refused([slip, undo], Corrected(at=NOW, entry=undo.id, becomes=Noted(at=NOW, note="what?")))
    assert found == ["a correction cannot become something else"]
    assert refused([slip, undo], Corrected(at=NOW, entry=undo.id)) == []


def test_renaming_a_part_tells_what_else_stands_under_the_old_name() -> None:
    clock = Clock()
    mark = Marked(at=clock(), part="top plaet", mark="flush")
    off = Removed(at=clock(), part="Top plaet")
    renamed = Corrected(at=NOW, entry=off.id, becomes=Removed(at=off.at, part="top plate"))
    assert refused([mark, off], renamed) == ["Top plaet stands in 1 other entries too (marked)"]
    marked = Corrected(at=clock(), entry=mark.id, becomes=Marked(at=mark.at, part="top plate", mark="flush"))
    assert refused([mark, off, marked], renamed) == []
    assert fold([mark, off, marked, renamed]).part("top plate").marks[0].mark == "flush"


def test_a_correction_of_what_came_out_after_the_refit_is_balanced_anew() -> None:
    """Three screws were entered, out and in; there had been four, and one is still in the tray."""
    clock = Clock()
    three, four = ((Fastener(count=n, size="M2"),) for n in (3, 4))
    off = Removed(at=clock(), part="plate", fasteners=three)
    journal: list[Entry] = [off, Refitted(at=clock(), part="plate", fasteners=three)]
    more = Corrected(at=clock(), entry=off.id, becomes=Removed(at=off.at, part="plate", fasteners=four))
    assert refused(journal, more) == [
        "then “plate went back” would not stand: plate: 4 × screw M2 came out, 3 going back"
    ], "asked, for the refit would have been refused; and it may be true"
    assert [problem.what for problem in closing(fold([*journal, more]))] == ["plate: 1 × screw M2 not back"]


def test_no_aid_goes_into_a_closed_camera() -> None:
    assert refused([Closed(at=Clock()())], AidFitted(at=NOW, aid="wedge")) == ["the job is closed"]


def test_a_part_moves_only_in_the_state_it_needs() -> None:
    clock = Clock()
    need = NeedsState(at=clock(), part="drum", settings={"Curtain": "let down"}, moves="both", reason="it unwinds")
    entry = Removed(at=NOW, part="drum")
    assert refused([need], entry) == ["drum moves only with Curtain let down; it is not noted: it unwinds"]
    down = Tension(at=clock(), spring="curtain", act="let down", turns=7, direction="anticlockwise")
    assert refused([need, down], entry) == []
    up = Tension(at=clock(), spring="curtain", act="tensioned", turns=7, direction="clockwise")
    assert refused([need, down, up], entry) == ["drum moves only with Curtain let down; it is tensioned: it unwinds"]
    assert dict(fold([down, up]).tension) == {}
    assert [p.what for p in closing(fold([down]))] == ["curtain: 7 turns anticlockwise not put back"]


def test_the_ladder_stops_where_it_got_worse_and_while_it_soaks() -> None:
    clock = Clock()
    soak = Tried(
        at=clock(), part="plate", fastener="NE screw", rung="solvent and wait", outcome="no change", wait_until=NOW
    )
    heat = Tried(at=NOW - timedelta(hours=1), part="plate", fastener="ne screw", rung="heat", outcome="worse")
    assert any("is to be left alone until" in said for said in refused([soak], heat))
    after = Tried(at=NOW, part="plate", fastener="NE screw", rung="shock", outcome="moved")
    assert refused([soak], after) == []
    assert refused([soak, heat], after) == ["NE screw got worse on the last try (heat)"]


def test_a_reminder_bound_to_a_test_or_a_day_blocks_there() -> None:
    clock = Clock()
    rest = Reminded(at=clock(), part="closing", todo="rest it 48 h", test="shutter", due=NOW.date() + timedelta(days=1))
    reading = Measured(at=NOW, test="Shutter", phase="as left", method="1", setup={}, result={}, recording="0" * 64)
    assert refused([rest], reading) == ["owed before Shutter: rest it 48 h"]
    assert refused([rest], reading.model_copy(update={"phase": "as found"})) == []
    early = Answered(at=NOW, entry=rest.id, answer="rested")
    assert "not before" in refused([rest], early)[0]
    assert refused([rest], early.model_copy(update={"at": NOW + timedelta(days=2)}))[:1] != ["nothing owed has that id"]


def test_what_cannot_be_had_again_is_said_where_another_specimen_or_its_loss_is_entered() -> None:
    clock = Clock()
    only = Irreplaceable(at=clock(), part="front bezel", reason="engraved by the owner's father")
    journal: list[Entry] = [only, *strip("front bezel", clock=clock)]
    assert refused(journal, Refitted(at=NOW, part="front bezel")) == []
    another = refused(journal, Refitted(at=NOW, part="front bezel", replacement="donor J2"))
    assert "cannot be had again" in another[0]
    assert refused(journal, AccountedFor(at=NOW, part="front bezel", reason="broken")) == [
        "front bezel cannot be had again"
    ]


def test_a_reading_as_left_is_no_longer_one_when_something_came_off_after_it() -> None:
    clock = Clock()
    fields: dict[str, Any] = {"method": "1", "setup": {}, "result": {}, "recording": "0" * 64}
    journal: list[Entry] = [
        *strip("cover", clock=clock),
        Measured(at=clock(), test="shutter", phase="as left", **fields),
        Refitted(at=clock(), part="cover"),
    ]
    assert closing(fold(journal)) == (), "a reading with the cover still off counts"
    journal += [*strip("cover", "dial", clock=clock)]
    journal += [Refitted(at=clock(), part="dial"), Refitted(at=clock(), part="cover")]
    found = closing(fold(journal))
    assert [(p.what, p.can_overrule) for p in found] == [
        ("cover, dial came off after shutter was measured as left", True)
    ]
    again = Measured(at=clock(), test="Shutter", phase="as left", **fields)
    assert closing(fold([*journal, again])) == ()


def test_a_reading_as_left_is_void_once_its_adjuster_was_moved() -> None:
    clock = Clock()
    reading = Measured(
        at=clock(), test="shutter", phase="as left", method="any", setup={}, result={}, recording="0" * 64
    )
    moved = Adjusted(at=clock(), adjuster="slow-speed eccentric", after="a little", test="shutter")
    other = Adjusted(at=clock(), adjuster="eyepiece", after="a little", test="rangefinder")
    assert refused([reading, other], Closed(at=NOW)) == []
    assert refused([reading, moved], Closed(at=NOW)) == [
        "slow-speed eccentric was moved after shutter was measured as left"
    ]
