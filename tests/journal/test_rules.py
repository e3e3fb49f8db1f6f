"""What is refused, with which reason, and what a stated reason lets through (common practice of the bench)."""

from collections.abc import Sequence
from datetime import timedelta

import pytest

from camerawright.journal.entries import (
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Answered,
    Arrived,
    Awaited,
    Closed,
    Corrected,
    Entry,
    Fastener,
    HandedBack,
    HoldPoint,
    Marked,
    MarkWanted,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Shim,
)
from camerawright.journal.order import Constraint
from camerawright.journal.rules import Known, closing, problems, standing
from camerawright.journal.state import fold
from camerawright.refit.way_back import way_back
from tests.journal.makers import NOW, Clock, strip

NOTHING = Known()


def _refused(journal: Sequence[Entry], entry: Entry, known: Known = NOTHING) -> list[str]:
    return [problem.what for problem in problems(fold(journal), entry, now=NOW, known=known)]


def test_a_first_removal_meets_no_objection() -> None:
    assert _refused([], strip("lens cap")[0]) == []


def test_a_part_that_is_off_cannot_come_off_again_whatever_the_reason() -> None:
    again = Removed(at=NOW, part="Dial", overruled="I say so")
    found = problems(fold(strip("dial")), again, now=NOW, known=NOTHING)
    assert [problem.what for problem in found] == ["dial is already off"]
    assert standing(found, again) == found


def test_the_cover_comes_off_before_what_it_covers() -> None:
    cover = Ordered(at=Clock()(), first="top plate", then="prism", reason="covers its screws")
    entry = Removed(at=NOW, part="prism")
    assert _refused([cover], entry) == ["top plate comes off before prism: covers its screws"]
    overruled = entry.model_copy(update={"overruled": "the plate is cut away on this one"})
    found = problems(fold([cover]), overruled, now=NOW, known=NOTHING)
    assert standing(found, overruled) == ()


def test_what_an_earlier_strip_down_taught_binds_this_one() -> None:
    known = Known(constraints=(Constraint(first="dial", then="top plate", reason="pins it"),))
    assert _refused([], Removed(at=NOW, part="top plate"), known) == ["dial comes off before top plate: pins it"]
    assert _refused(strip("dial"), Removed(at=NOW, part="top plate"), known) == []


def test_a_mark_that_was_asked_for_is_noted_before_the_part_moves() -> None:
    clock = Clock()
    wanted = MarkWanted(at=clock(), part="dial", mark="which figure stands at the stop")
    entry = Removed(at=NOW, part="dial")
    assert _refused([wanted], entry) == ["the reference mark of dial is not noted: which figure stands at the stop"]
    noted = Marked(at=clock(), part="dial", mark="25 at the stop, released")
    assert _refused([wanted, noted], entry) == []


def test_where_a_like_joint_had_a_shim_somebody_looks_beneath() -> None:
    known = Known(shims_seen={"front standard": "1 × 0.10 mm, upper left"})
    entry = Removed(at=NOW, part="front standard")
    assert "did you look beneath" in _refused([], entry, known)[0]
    assert _refused([], entry.model_copy(update={"looked_beneath": True}), known) == []
    found = entry.model_copy(update={"shims": (Shim(place="upper left", count=1, thickness_mm=0.1),)})
    assert _refused([], found, known) == []


def test_a_removal_from_under_a_part_that_is_still_on_is_refused() -> None:
    entry = Removed(at=NOW, part="spring", under=("cam",))
    assert _refused([], entry) == ["spring lies under cam, which is not off by the journal"]


def test_a_refit_waits_for_what_goes_beneath_it() -> None:
    journal = strip("cover", "wheel")
    known = Known(back_first=way_back(fold(journal).off, []).back_first)
    found = _refused(journal, Refitted(at=NOW, part="cover"), known)
    assert found == ["wheel goes back before cover (assumed from the order of removal): cover came off before wheel"]
    assert _refused(journal, Refitted(at=NOW, part="wheel"), known) == []


def test_a_reminder_and_a_hold_point_bar_the_refit_until_answered() -> None:
    clock = Clock()
    reminder = Reminded(at=clock(), part="cover", todo="solder the lead first")
    hold = HoldPoint(at=clock(), part="cover", check="all speeds within tolerance")
    journal = [*strip("cover", clock=clock), reminder, hold]
    refit = Refitted(at=NOW, part="cover")
    assert _refused(journal, refit) == [
        "owed before cover goes back: solder the lead first",
        "owed before cover goes back: check: all speeds within tolerance",
    ]
    answers = [Answered(at=clock(), entry=owed.id, answer="done") for owed in (reminder, hold)]
    assert _refused([*journal, *answers], refit) == []
    assert _refused([*journal, *answers], Answered(at=NOW, entry=hold.id, answer="again")) == [
        "nothing owed has that id"
    ]


def test_screws_and_shims_go_back_as_they_came_out_or_the_difference_is_explained() -> None:
    screws = (Fastener(count=4, size="M1.4", length_mm=3),)
    journal = [Removed(at=Clock()(), part="plate", fasteners=screws)]
    short = Refitted(at=NOW, part="plate", fasteners=(Fastener(count=3, size="M1.4", length_mm=3),))
    assert _refused(journal, short) == ["plate: 4 screw M1.4 × 3 mm out, 3 going back"]
    assert _refused(journal, Refitted(at=NOW, part="plate", fasteners=screws)) == []


def test_a_part_that_waits_goes_back_on_arrival_or_as_another_specimen() -> None:
    clock = Clock()
    journal = [*strip("spring", clock=clock), Awaited(at=clock(), part="spring", awaiting="new one on order")]
    refit = Refitted(at=NOW, part="spring")
    assert _refused(journal, refit) == ["spring still waits: new one on order"]
    assert _refused([*journal, Arrived(at=clock(), part="spring")], refit) == []
    assert _refused(journal, refit.model_copy(update={"replacement": "donor J4"})) == []


def test_an_order_that_contradicts_what_is_certain_is_refused_with_the_whole_ring() -> None:
    clock = Clock()
    known = [
        Ordered(at=clock(), first="a", then="b", reason="covers it"),
        Ordered(at=clock(), first="b", then="c", reason="pins it"),
    ]
    found = _refused(known, Ordered(at=NOW, first="c", then="a", reason="retains it"))
    assert len(found) == 1
    assert all(words in found[0] for words in ("a before b (covers it)", "b before c (pins it)", "c before a"))
    assert _refused(known, Ordered(at=NOW, first="a", then="a", reason="?")) == ["a cannot come off before itself"]


def test_the_future_is_refused() -> None:
    found = _refused([], Removed(at=NOW + timedelta(days=1), part="dial"))
    assert found == [f"the entry is dated {NOW + timedelta(days=1):%Y-%m-%d %H:%M}, in the future"]


def test_an_undo_that_would_break_a_later_entry_is_refused() -> None:
    clock = Clock()
    removed = Removed(at=clock(), part="dial")
    journal: list[Entry] = [removed, Refitted(at=clock(), part="dial")]
    assert _refused(journal, Corrected(at=NOW, entry=removed.id)) == [
        "with that correction, dial went back while it was on"
    ]
    assert _refused(journal, Corrected(at=NOW, entry="0" * 32)) == ["no entry has that id"]


def test_an_aid_is_taken_out_under_its_own_name() -> None:
    fitted = AidFitted(at=Clock()(), aid="rubber band")
    assert _refused([fitted], AidTakenOut(at=NOW, aid="wedge")) == ["no aid called wedge is in"]
    assert _refused([fitted], AidTakenOut(at=NOW, aid="Rubber  band")) == []


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
    assert _refused(journal, Closed(at=NOW)) == []


@pytest.mark.parametrize("entry", [Removed(at=NOW, part="dial"), Refitted(at=NOW, part="dial"), Closed(at=NOW)])
def test_a_closed_job_stays_closed(entry: Entry) -> None:
    closed = Closed(at=Clock()())
    assert "the job is closed" in _refused([closed], entry)


def test_nothing_is_handed_back_before_it_is_closed() -> None:
    assert _refused([], HandedBack(at=NOW, to="the owner")) == ["the job is not closed"]
    assert _refused([Closed(at=Clock()())], HandedBack(at=NOW, to="the owner")) == []
