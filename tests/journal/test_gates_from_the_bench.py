"""Gates that a repairer at the bench walked through, or could not get through with what was true (common practice)."""

from datetime import timedelta
from typing import Literal

import pytest
from hypothesis import given, settings
from hypothesis.strategies import DataObject, data, integers, permutations, sampled_from

from camerawright.journal.balance import closing
from camerawright.journal.entries import (
    CLOSING,
    IN_THE_BATH,
    AccountedFor,
    Adjusted,
    Answered,
    Arrived,
    Awaited,
    Cleaned,
    Closed,
    Contains,
    Entry,
    Fastener,
    GoesLast,
    HandedBack,
    HoldPoint,
    Independent,
    Lead,
    Loose,
    Measured,
    Ordered,
    Refitted,
    Removed,
    Reopened,
    Shim,
    Sits,
    Tension,
    Tried,
    Turned,
    written,
)
from camerawright.journal.known import Known
from camerawright.journal.order import OrderFacts
from camerawright.journal.sentences import sentence
from camerawright.journal.springs import springs_owed
from camerawright.journal.state import fold
from camerawright.papers.work_done import work_done
from camerawright.refit.learning import learned
from camerawright.refit.way_back import way_back
from camerawright.wording.names import be
from tests.journal.makers import NOW, START, Clock, against, refused, strip
from tests.journal.play import Bench

GRUBS = (Fastener(count=3, size="M1.4", head="grub"),)
LOOSE = ["focus ring: 3 × screw M1.4 grub not tight"]


def _owed(journal: list[Entry]) -> list[str]:
    return [trouble.what for trouble in closing(fold(journal))]


# -- screws that stay in their part ------------------------------------------------------------------------------------


def test_loosened_screws_come_off_with_their_part_and_are_still_loose() -> None:
    clock = Clock()
    journal: list[Entry] = [
        Turned(at=clock(), part="focus ring", act="loosened", fasteners=GRUBS, turns=0.5),
        Removed(at=clock(), part="focus ring"),
    ]
    assert fold(journal).n_out == 0  # they lie in no tray
    back = Refitted(at=clock(), part="focus ring")
    assert refused(journal, back) == []
    journal.append(back)
    assert _owed(journal) == LOOSE
    tight = Turned(at=clock(), part="focus ring", act="tightened")
    assert sentence(fold([*journal, tight]).entries[-1]) == "screws of focus ring tightened; 3 × M1.4 grub"
    assert _owed([*journal, tight]) == []


def test_screws_named_as_their_part_goes_back_are_tight() -> None:
    journal: list[Entry] = [
        Turned(at=START, part="focus ring", act="loosened", fasteners=GRUBS),
        *strip("focus ring"),
    ]
    back = Refitted(at=NOW, part="focus ring", fasteners=GRUBS)
    assert refused(journal, back) == []
    assert _owed([*journal, back]) == []
    nipped = back.model_copy(update={"nipped": True})
    assert _owed([*journal, nipped]) == LOOSE


def test_screws_that_were_loosened_and_then_came_out_are_out() -> None:
    clock = Clock()
    journal: list[Entry] = [
        Turned(at=clock(), part="focus ring", act="loosened", fasteners=GRUBS),
        Turned(at=clock(), part="name ring", act="loosened"),
        Removed(at=clock(), part="focus ring", fasteners=(GRUBS[0].model_copy(update={"count": 2}),)),
        Removed(at=clock(), part="name ring", fasteners=GRUBS),
    ]
    state = fold(journal)
    assert state.n_out == 5
    assert [*state.part("focus ring").slack.values()] == [1]
    assert not state.part("name ring").slack


def test_loosened_screws_teach_the_variant() -> None:
    journal: list[Entry] = [
        Turned(at=START, part="focus ring", act="loosened", fasteners=GRUBS),
        Turned(at=START, part="cover", act="loosened", fasteners=GRUBS),
        Removed(at=NOW, part="focus ring"),
        Removed(at=NOW, part="cover", fasteners=GRUBS),
    ]
    parts = learned([("J1", fold(journal))]).parts
    assert parts["focus ring"].loosened == ("3 × M1.4 grub",)
    assert parts["cover"].loosened == ()  # they came out


@pytest.mark.parametrize("act", ["loosened", "nipped up", "tightened"])
def test_screws_of_a_part_that_is_off_are_not_turned(act: str) -> None:
    turned = Turned.model_validate({"at": NOW, "part": "film type disc", "act": act})
    found = against(strip("film type disc"), turned)
    assert [trouble.what for trouble in found] == ["film type disc is off: its screws hold nothing now"]
    assert all(trouble.can_overrule for trouble in found)
    assert refused([], turned) == []


# -- words -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["shutter blades", "screws of the shoe", "blinds, upper", "curtains"])
def test_several_are(name: str) -> None:
    assert be(name) == "are"


@pytest.mark.parametrize("name", ["lens", "iris", "focus", "brass", "chassis", "cover of the blades", "", "bush"])
def test_one_is(name: str) -> None:
    assert be(name) == "is"


# -- checks that pass or fail ------------------------------------------------------------------------------------------


def _checked(answer: str, outcome: str | None = None) -> tuple[list[Entry], Answered]:
    clock = Clock()
    check = HoldPoint(at=clock(), check="flash fires at 1/25", part="top cover")
    return [*strip("top cover", clock=clock), check], Answered.model_validate(
        {"at": NOW, "entry": check.id, "answer": answer, "outcome": outcome}
    )


@pytest.mark.parametrize(
    "answer",
    [
        "no, does not fire",
        "no: 3 mm short",
        "fails at 1/100",
        "it doesn’t",
        "fires, 3 of 5",
        "Not yet",
        "only at 1/10",
        "too slow",
        "is not flat",
    ],
)
def test_words_that_say_failed_are_no_pass(answer: str) -> None:
    journal, given = _checked(answer)
    assert refused(journal, given) == [f"flash fires at 1/25: “{answer}” sounds as if it failed"]
    assert refused(journal, given.model_copy(update={"outcome": "passed"})) == []
    assert refused(journal, given.model_copy(update={"outcome": "failed"})) == []


@pytest.mark.parametrize(
    "answer", ["fires, 5 of 5", "ten of ten, level", "1/25 within 0.1 stop", "no play", "normal", "Northern star sharp"]
)
def test_words_that_say_passed_pass(answer: str) -> None:
    journal, given = _checked(answer)
    assert refused(journal, given) == []
    assert not fold([*journal, given]).open_promises


def test_a_check_that_failed_stays_owed_until_it_passes() -> None:
    journal, failed = _checked("does not fire", "failed")
    journal.append(failed)
    back = Refitted(at=NOW, part="top cover")
    assert refused(journal, back) == [
        "owed before top cover goes back: check: flash fires at 1/25: it failed (does not fire)"
    ]
    against_closing = [trouble for trouble in closing(fold(journal)) if trouble.what.startswith("owed")]
    assert [trouble.what for trouble in against_closing] == [
        "owed: check: flash fires at 1/25: it failed (does not fire) (top cover)"
    ]
    assert against_closing[0].can_overrule
    later = NOW + timedelta(minutes=1)
    passed = failed.model_copy(update={"id": "a" * 32, "at": later, "answer": "5 of 5", "outcome": "passed"})
    assert refused(journal, passed) == []
    state = fold([*journal, passed])
    assert not state.failed
    assert not state.open_promises
    again = fold([*journal, back, Removed(at=later, part="top cover")])
    assert not again.failed  # it is owed as it was at first
    assert len(again.open_promises) == 1


def test_a_closing_over_a_failed_check_needs_its_reason_and_contradicts_nothing() -> None:
    check = HoldPoint(at=START, check="infinity", part=CLOSING)
    failed = Answered(at=START, entry=check.id, answer="3 mm short", outcome="failed")
    closed = Closed(at=NOW, overruled="the owner knows")
    journal: list[Entry] = [check, failed]
    assert fold([*journal, closed]).conflicts == ()
    assert fold([*journal, closed.model_copy(update={"overruled": None})]).conflicts
    assert [(line.label, line.words) for line in work_done(fold([*journal, closed]))] == [
        ("Checked", "infinity: FAILED, 3 mm short")
    ]
    reopened = fold([*journal, closed, Reopened(at=NOW + timedelta(minutes=1), reason="the owner does mind")])
    assert [promise.id for promise in reopened.open_promises] == [check.id]


def test_an_answer_from_before_there_were_outcomes_passes() -> None:
    journal, given = _checked("no, does not fire")
    assert "outcome" not in written(given)
    assert not fold([*journal, given]).open_promises


# -- baths -------------------------------------------------------------------------------------------------------------


def _in_naphtha() -> list[Entry]:
    clock = Clock()
    bath = Awaited(
        at=clock(), part="shutter blades", awaiting=f"{IN_THE_BATH}naphtha", until=START + timedelta(hours=1)
    )
    return [*strip("shutter blades", clock=clock), bath.model_copy(update={"at": clock()})]


def test_nothing_arrives_out_of_a_bath() -> None:
    journal, now = _in_naphtha(), START + timedelta(minutes=50)
    arrived, back = Arrived(at=now, part="shutter blades"), Refitted(at=now, part="shutter blades")
    asked = "shutter blades are in the bath until "
    for entry in (arrived, back, back.model_copy(update={"at": NOW})):  # nor does time alone take it out
        found = against(journal, entry)
        assert [trouble.what[: len(asked)] for trouble in found] == [asked]
        assert found[0].mend == "take them out with `batch-out`, or say whether they are clean, and how"
    way = way_back(fold(journal).off, OrderFacts(), now=NOW)
    assert [item.part.name for item in way.waiting] == ["shutter blades"]
    journal.append(Cleaned(at=now, part="shutter blades", route="naphtha", overruled="the cloth stays clean"))
    assert refused(journal, arrived) == []
    assert refused([*journal, arrived], back) == []


def test_a_bath_cut_short_wants_a_word_and_stays_as_long_as_it_was() -> None:
    journal = _in_naphtha()
    soon = Cleaned(at=START + timedelta(minutes=4), part="shutter blades", route="naphtha")
    found = [trouble for trouble in against(journal, soon) if "so far" in trouble.what]
    assert found[0].what.startswith("shutter blades: 2 of 58 min in the bath so far, until ")
    assert found[0].can_overrule
    for minutes in (56, 60, 90):  # nearly over, over, forgotten
        late = soon.model_copy(update={"at": START + timedelta(minutes=minutes)})
        assert [trouble for trouble in refused(journal, late) if "so far" in trouble] == []
    said = soon.model_copy(update={"overruled": "the cloth stays clean"})
    line = next(line for line in work_done(fold([*journal, said])) if line.label == "Cleaned")
    assert line.words == "shutter blades: naphtha (2 of 58 min)"


def test_a_fastener_that_never_moved_is_told_once_at_the_closing() -> None:
    clock = Clock()

    def tried(fastener: str, outcome: Literal["no change", "moved"] = "no change") -> Tried:
        return Tried(at=clock(), part="bellows frame", fastener=fastener, rung="solvent and wait", outcome=outcome)

    journal: list[Entry] = [tried("lower left"), tried("lower left"), tried("upper left"), tried("upper left", "moved")]
    told = [trouble for trouble in closing(fold(journal)) if "did not move" in trouble.what]
    assert [trouble.what for trouble in told] == [
        "did not move on the last try, and still in: lower left of bellows frame"
    ]
    assert told[0].can_overrule
    journal += [*strip("bellows frame", clock=clock), Refitted(at=clock(), part="bellows frame")]
    assert not [trouble for trouble in closing(fold(journal)) if "did not move" in trouble.what], "it came off"


# -- sizes, springs, film, tries ---------------------------------------------------------------------------------------


def test_sizes_that_nobody_took_are_asked_for_once_at_the_closing() -> None:
    clock = Clock()
    screws, shims = (Fastener(count=2, head="cheese"),), (Shim(place="NW", count=1),)
    journal: list[Entry] = [
        Removed(at=clock(), part="lens board", shims=shims),
        Removed(at=clock(), part="cover", fasteners=screws),
        Refitted(at=clock(), part="cover", fasteners=screws),
        Refitted(at=clock(), part="lens board", shims=shims),
    ]
    asked = [trouble for trouble in closing(fold(journal)) if trouble.what.startswith("sizes")]
    assert [trouble.what for trouble in asked] == [
        "sizes still open: lens board: 1 × shim thickness not taken, NW; cover: 2 × screw cheese, thread not taken"
    ]
    assert asked[0].can_overrule


def _let_down() -> tuple[list[Entry], Clock]:
    """A cocking ring with its spring let down, off and back, and two parts that go over it."""
    clock = Clock()
    return [
        Ordered(at=clock(), first="cam ring", then="cocking ring", reason="covers it"),
        Ordered(at=clock(), first="speed ring", then="cam ring", reason="covers it"),
        *strip("speed ring", "cam ring", clock=clock),
        Tension(
            at=clock(),
            spring="return spring",
            act="let down",
            turns=1.5,
            direction="anticlockwise",
            goes_with="cocking ring",
        ),
        *strip("dial", "cocking ring", clock=clock),
        Refitted(at=clock(), part="cocking ring"),
    ], clock


@pytest.mark.parametrize("part", ["cam ring", "speed ring"])
def test_a_spring_that_wants_its_turns_is_not_buried(part: str) -> None:
    journal, clock = _let_down()
    back = Refitted(at=NOW, part=part)
    buried = f"{part} goes over cocking ring, and return spring is short of 1.5 turns clockwise"
    found = [trouble for trouble in against(journal, back) if "return spring" in trouble.what]
    assert [trouble.what for trouble in found] == [buried]
    assert found[0].mend == "turn it 1.5 turns clockwise first, or say why it can wait"
    wound = Tension(at=clock(), spring="return spring", act="tensioned", turns=1.5, direction="clockwise")
    assert buried not in refused([*journal, wound], back)


def test_what_may_close_over_a_spring_that_wants_its_turns_is_asked_once() -> None:
    journal, clock = _let_down()
    back = Refitted(at=NOW, part="dial")
    found = against(journal, back)
    short = "and return spring is short of 1.5 turns clockwise"
    assert [trouble.what for trouble in found] == [f"dial came off before cocking ring and may close over it, {short}"]
    assert found[0].can_overrule
    assert "turn it 1.5 turns clockwise first" in found[0].mend
    free = Independent(at=clock(), part="dial", other="cocking ring", reason="it sits on the other side")
    assert refused([*journal, free], back) == []
    wound = Tension(at=clock(), spring="return spring", act="tensioned", turns=1.5, direction="clockwise")
    assert refused([*journal, wound], back) == []
    said = back.model_copy(update={"at": clock(), "overruled": "it is wound from above"})
    later = strip("knob", clock=Clock())
    assert refused([*later, *journal, said], Refitted(at=NOW, part="knob")) == [], "asked once"
    assert len(refused([*later, *journal], Refitted(at=NOW, part="knob"))) == 1


def test_what_was_out_of_the_way_of_a_spring_that_stays_in_is_asked_about_too() -> None:
    clock = Clock()
    curtain = {"spring": "closing curtain", "turns": 4.0}
    journal = [
        *strip("bottom cover", clock=clock),
        Tension(at=clock(), act="let down", direction="anticlockwise", **curtain),
        *strip("mirror box", clock=clock),
    ]
    assert refused(journal, Refitted(at=NOW, part="mirror box")) == []  # it moved after the spring was let down
    short = "and closing curtain is short of 4 turns clockwise"
    assert refused(journal, Refitted(at=NOW, part="bottom cover"))[-1] == (
        f"bottom cover came off before closing curtain and may close over it, {short}"
    )


@pytest.mark.parametrize("act", ["let down", "tensioned"])
def test_a_spring_in_the_tray_is_not_turned(act: Literal["let down", "tensioned"]) -> None:
    clock = Clock()
    off = Removed(at=clock(), part="return ring", loose=(Loose(what="return spring"),))
    turned = Tension(
        at=clock(), spring="return spring", act=act, turns=1.5, direction="clockwise", goes_with="return ring"
    )
    found = against([off], turned)
    done = "let down" if act == "let down" else "wound"
    assert [trouble.what for trouble in found] == [f"return ring is off: return spring cannot be {done} now"]
    assert found[0].can_overrule
    assert found[0].mend == (
        "was that before it came off? Then say so. Otherwise enter it once return ring is in place"
    )
    nobody_said = turned.model_copy(update={"goes_with": None})
    assert len(refused([off], nobody_said)) == 1, "it lies among the loose parts of the ring"
    assert len(refused([Removed(at=clock(), part="Return spring")], nobody_said)) == 1, "it is off itself"
    back = Refitted(at=clock(), part="return ring", loose=(Loose(what="return spring"),))
    assert refused([off, back], turned) == []


def test_a_spring_is_turned_in_a_shutter_that_lies_on_the_bench() -> None:
    clock = Clock()
    shutter = [
        *strip("shutter", clock=clock),
        Contains(at=clock(), part="shutter", parts=("cocking ring", "blades")),
    ]
    for part in ("shutter", "cocking ring"):
        turned = Tension(at=NOW, spring="main spring", act="let down", turns=1, direction="clockwise", goes_with=part)
        assert refused(shutter, turned) == []


def test_a_spring_wound_too_far_is_said_to_be() -> None:
    journal, clock = _let_down()
    far = Tension(at=clock(), spring="Return-Spring", act="tensioned", turns=2.75, direction="clockwise")
    state = fold([*journal, far])
    assert state.setting("return spring") == "wound too far"
    assert [(spring.spring, spring.todo) for spring in springs_owed(state)] == [
        ("return spring", "wound too far, 1.25 turns anticlockwise to let back")
    ]
    told = next(trouble for trouble in closing(state) if "return spring" in trouble.what)
    assert told.what == "return spring: wound 1.25 turns clockwise too far"
    assert told.mend == "turn it 1.25 turns anticlockwise, or say why it differs"


@pytest.mark.parametrize(
    "name",
    ["red window", "viewing window", "light seal", "door seals", "light trap", "film gate", "film door", "peephole"],
)
def test_film_fogs_through_this(name: str) -> None:
    assert refused([], Removed(at=NOW, part=name), Known(film_inside=True)) == [
        f"film is inside, and it may fog when {name} comes off"
    ]


@pytest.mark.parametrize("name", ["rangefinder window", "viewfinder window", "meter window", "top cover"])
def test_film_does_not_fog_through_this(name: str) -> None:
    assert refused([], Removed(at=NOW, part=name), Known(film_inside=True)) == []


def test_a_part_whose_fastener_did_not_move_comes_off_with_a_word() -> None:
    clock = Clock()
    tried = Tried(at=clock(), part="front cell", fastener="ring", rung="solvent and wait", outcome="no change")
    off = Removed(at=NOW, part="front cell")
    found = against([tried], off)
    assert [trouble.what for trouble in found] == ["ring of front cell did not move on the last try (solvent and wait)"]
    assert all(trouble.can_overrule for trouble in found)
    moved = tried.model_copy(update={"at": clock(), "id": "b" * 32, "rung": "heat", "outcome": "moved"})
    assert refused([tried, moved], off) == []


# -- what does not go back ---------------------------------------------------------------------------------------------

RIVETS = (Fastener(count=2, size="rivet"),)


def _one_rivet_missing() -> list[Entry]:
    clock = Clock()
    return [
        Removed(at=clock(), part="strut left", fasteners=RIVETS),
        Refitted(at=clock(), part="strut left", fasteners=(RIVETS[0].model_copy(update={"count": 1}),), overruled="?"),
    ]


def test_a_rivet_that_is_accounted_for_leaves_no_strut_off() -> None:
    accounted = AccountedFor(at=NOW, part="strut left", reason="drilled out")
    later = NOW + timedelta(minutes=1)
    dial: list[Entry] = [*strip("dial"), AccountedFor(at=later, part="dial", reason="in a bag")]
    lines = {line.label: line.words for line in work_done(fold([*_one_rivet_missing(), accounted, *dial]))}
    assert lines == {
        "Taken off and put back": "strut left",
        "Accounted for": "strut left, 1 × rivet: drilled out",
        "Not put back": "dial: in a bag",
    }


def test_a_screw_that_is_found_later_goes_in() -> None:
    journal = _one_rivet_missing()
    one = (RIVETS[0].model_copy(update={"count": 1}),)
    found = Refitted(at=NOW, part="strut left", fasteners=one)
    assert refused(journal, found) == []
    state = fold([*journal, found])
    assert state.n_out == 0
    assert state.conflicts == ()
    assert state.part("strut left").refitted == journal[-1]
    missing = ["strut left is on; only this is still missing from it: 1 × rivet"]
    for wrong in (RIVETS, (Fastener(count=1, size="M2"),), ()):
        assert refused(journal, found.model_copy(update={"fasteners": wrong})) == missing
    assert refused([*journal, found], found.model_copy(update={"id": "c" * 32})) == ["strut left is not off"]


def test_a_camera_goes_home_in_parts_with_one_reason() -> None:
    journal: list[Entry] = [*strip("cover", "dial"), *_one_rivet_missing(), HoldPoint(at=START, check="infinity")]
    closed = Closed(at=NOW, in_parts="no spare is to be had")
    assert refused(journal, closed) == []
    state = fold([*journal, closed])
    assert state.conflicts == ()
    assert not state.off
    assert state.n_out == 0
    assert ("Not put back", "cover, dial: given back in parts: no spare is to be had") in [
        (line.label, line.words) for line in work_done(state)
    ]
    assert refused([*journal, closed], HandedBack(at=NOW, to="the owner")) == []
    again = fold([*journal, closed, Reopened(at=NOW + timedelta(minutes=1), reason="a spare turned up")])
    assert [part.name for part in again.off] == ["cover", "dial"]
    assert again.n_out == 1
    assert refused([], closed)[0] == "nothing is off, and nothing is missing"


# -- the plan and the rules agree --------------------------------------------------------------------------------------


def test_a_screw_through_what_is_off_already_is_asked_about() -> None:
    through = (Fastener(count=1, size="M1.7", through="accessory shoe"),)
    off = Removed(at=NOW, part="top cover", fasteners=through)
    asked = ["a screw of top cover goes through accessory shoe, too, and accessory shoe came off before it"]
    assert refused(strip("accessory shoe"), off) == asked
    assert refused([], off) == []


@given(data())
@settings(max_examples=12, deadline=None)
def test_what_the_way_back_offers_goes_in_plainly(drawn: DataObject) -> None:
    """Whatever was said of order, screws through two parts, groups and waits while the camera came apart."""
    names = ["cover", "shoe", "knob", "dial", "ring"]
    some = sampled_from(names)
    bench = Bench()
    for name in drawn.draw(permutations(names)):
        for _ in range(drawn.draw(integers(0, 2))):
            bench.enter(_said(bench, drawn.draw(some), drawn.draw(some), drawn.draw(integers(0, 4))))
        through = drawn.draw(sampled_from([None, *names]))
        screws = (Fastener(count=1, size="M2", through=through),) if through not in {None, name} else ()
        bench.enter(Removed.model_validate({**bench.stamp(), "part": name, "fasteners": screws, "overruled": "seen"}))
    while True:
        state = fold(bench.entries)
        way = bench.way(state)
        ready = [step for step in way.steps if not step.after] if way else []
        if not ready:
            assert not way or not way.steps
            return
        part = drawn.draw(sampled_from(ready)).part
        assert part.removed
        back = Refitted.model_validate({**bench.stamp(), "part": part.name, "fasteners": part.removed.fasteners})
        assert bench.enter(back) == ()


def _said(bench: Bench, one: str, other: str, n: int) -> Entry:
    """Something that is said of two parts."""
    kinds: tuple[tuple[type[Entry], dict[str, object]], ...] = (
        (Ordered, {"first": one, "then": other, "reason": "it covers it"}),
        (Independent, {"part": one, "other": other, "reason": "seen"}),
        (Contains, {"part": one, "parts": [other]}),
        (GoesLast, {"part": one, "reason": "it hides the rest"}),
        (Awaited, {"part": one, "awaiting": "a spare"}),
    )
    kind, fields = kinds[n]
    return kind.model_validate({**bench.stamp(), **fields})


def test_as_found_after_the_work_wants_a_word() -> None:
    """Also once everything is back. A recording that was entered before is measured again without a word."""

    def found(recording: str, test: str = "shutter") -> Measured:
        return Measured(
            at=clock(), test=test, phase="as found", method="m", setup={}, result={}, recording=recording * 64
        )

    clock = Clock()
    before = found("a")
    assert refused([], before) == []
    off_and_back: list[Entry] = [before, *strip("top cover", clock=clock), Refitted(at=clock(), part="top cover")]
    late = against(off_and_back, found("b"))
    assert [trouble.what for trouble in late] == ["shutter as found, after the work had begun: top cover came off"]
    assert late[0].can_overrule
    assert refused(off_and_back, found("a")) == []
    turned = Adjusted(at=clock(), adjuster="retard lever", after="in", test="shutter")
    clean = Cleaned(at=clock(), part="blades", route="swab, naphtha")
    assert refused([turned], found("b", "focus")) == []
    assert refused([turned, clean], found("b")) == [
        "shutter as found, after the work had begun: retard lever was turned and blades were cleaned"
    ]


def test_a_spring_that_came_off_loose_or_that_somebody_spoke_of_is_known() -> None:
    clock = Clock()
    ring = Removed(at=clock(), part="cocking ring", loose=(Loose(what="cocking spring"),))
    turned = Tension(at=clock(), spring="cocking spring", act="let down", turns=1, direction="clockwise")
    sits = Sits(at=clock(), part="cocking ring", how="the Cocking Spring is hooked in the left hole")
    unknown = "no part was called “cocking spring” before"
    known = Known(named={})
    assert unknown in refused(strip("cocking ring", clock=clock), turned, known)
    assert unknown not in refused([ring], turned, known)
    assert unknown not in refused([*strip("cocking ring", clock=clock), sits], turned, known)


def test_leads_that_the_last_one_had_are_asked_for() -> None:
    known = Known(leads_seen={"flash board": "red to the capacitor"})
    off = Removed(at=NOW, part="flash board", overruled=None)
    asked = "no leads are entered for flash board, and the last one had red to the capacitor"
    assert asked in refused([], off, known)
    assert asked not in refused([], off.model_copy(update={"leads": (Lead(colour="red"),)}), known)
    assert asked not in refused([], off.model_copy(update={"part": "plate"}), known)


def test_only_screws_count_as_screws() -> None:
    rings = (
        Fastener(count=1, head="ring"),
        Fastener(count=1, size="M2", head="cheese"),
        Fastener(count=2, head="grub"),
    )
    state = fold([Removed(at=NOW, part="front cell", fasteners=rings)])
    assert state.n_out_of == {"screw": 3, "other fastener": 1}
    assert state.n_out == 4
