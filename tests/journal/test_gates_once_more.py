"""Gates on what moves a second time: screws, screws through two parts, merged journals, film (common practice)."""

import pytest

from camerawright.job.ledger import ledger
from camerawright.journal.balance import closing
from camerawright.journal.entries import (
    AccountedFor,
    Added,
    AidFitted,
    Answered,
    Arrived,
    Awaited,
    Closed,
    Contains,
    Corrected,
    Entry,
    Fastener,
    Found,
    HandedBack,
    HoldPoint,
    Loose,
    Ordered,
    Refitted,
    Removed,
    Reopened,
    Set,
    Shim,
    Sits,
)
from camerawright.journal.known import Known
from camerawright.journal.state import fold
from tests.journal.makers import NOW, Clock, against, refused, strip, turned

THREE, TWO = (Fastener(count=3, size="M2", length_mm=4),), (Fastener(count=2, size="M2", length_mm=6),)
SHIM, BALL = (Shim(place="NE", count=1, thickness_mm=0.1),), (Loose(what="ball"),)


def _back(clock: Clock) -> list[Entry]:
    """A plate that was off and is back, with three screws, a shim and a ball."""
    fields = {"part": "plate", "fasteners": THREE, "shims": SHIM, "loose": BALL}
    return [Removed.model_validate({"at": clock(), **fields}), Refitted.model_validate({"at": clock(), **fields})]


# -- what went in comes out --------------------------------------------------------------------------------------------


def test_what_comes_out_is_what_went_in() -> None:
    clock = Clock()
    journal = _back(clock)
    same = Removed(at=NOW, part="plate", fasteners=THREE, shims=SHIM, loose=BALL)
    assert refused(journal, same) == []
    vague = same.model_copy(update={"fasteners": (Fastener(count=3),)})
    assert refused(journal, vague) == [], "threads that nobody took again"
    assert refused(journal, same.model_copy(update={"fasteners": TWO})) == [
        "plate: 3 × screw M2 × 4 mm went in; 2 × screw M2 × 6 mm came out"
    ]
    five = (Fastener(count=5, size="M2", length_mm=4),)
    assert refused(journal, same.model_copy(update={"fasteners": five})) == [
        "plate: 3 × screw M2 × 4 mm went in; 5 × screw M2 × 4 mm came out"
    ]
    found = against([*journal, Reopened(at=clock(), reason="?")], Removed(at=NOW, part="plate"))
    assert [trouble.what for trouble in found] == [
        "plate: 1 × ball went in; no loose part came out",
        "plate: 3 × screw M2 × 4 mm went in; no screw came out",
        "plate: 1 × shim 0.10 mm, NE went in; no shim came out",
    ]
    assert all(trouble.can_overrule for trouble in found)


def test_what_went_in_and_did_not_come_out_stays_open() -> None:
    clock = Clock()
    journal = _back(clock)
    journal += [
        Removed(at=clock(), part="plate", fasteners=TWO, shims=SHIM, loose=BALL, overruled="so it was"),
        Refitted(at=clock(), part="plate", fasteners=TWO, shims=SHIM, loose=BALL),
    ]
    assert [(line.what, line.n_open) for line in ledger(fold(journal)).lines if line.n_open] == [("M2 × 4 mm", 3)]
    assert [trouble.what for trouble in closing(fold(journal))] == ["plate: 3 × screw M2 × 4 mm not back"]
    assert refused(journal[:3], journal[3]) == ["plate: 3 × screw M2 × 4 mm came out, 0 going back"]


def test_nothing_is_asked_of_what_nobody_spoke_of() -> None:
    clock = Clock()
    journal: list[Entry] = [Removed(at=clock(), part="plate", shims=SHIM)]
    journal.append(Refitted(at=clock(), part="plate", shims=SHIM))
    assert refused(journal, Removed(at=NOW, part="plate", shims=SHIM, fasteners=THREE)) == []


def test_a_screw_that_was_accounted_for_may_be_in_or_not() -> None:
    clock = Clock()
    two = (Fastener(count=2, size="M2", length_mm=4),)
    journal: list[Entry] = [
        Removed(at=clock(), part="plate", fasteners=THREE),
        Refitted(at=clock(), part="plate", fasteners=two, overruled="one fell"),
        AccountedFor(at=clock(), part="plate", reason="found beneath the bench, and put in"),
    ]
    for came in (two, THREE):
        assert refused(journal, Removed(at=NOW, part="plate", fasteners=came)) == []
    one = (Fastener(count=1, size="M2", length_mm=4),)
    assert refused(journal, Removed(at=NOW, part="plate", fasteners=one)) == [
        "plate: 2 × screw M2 × 4 mm went in (1 × screw M2 × 4 mm accounted for); 1 × screw M2 × 4 mm came out"
    ]


def test_what_was_added_comes_out_as_it_went_in() -> None:
    added = Added(at=Clock()(), part="register shim", reason="0.1 mm short", shims=SHIM)
    assert refused([added], Removed(at=NOW, part="register shim")) == [
        "register shim: 1 × shim 0.10 mm, NE went in; no shim came out"
    ]


def test_what_was_accounted_for_is_not_said_to_be_on_the_camera() -> None:
    clock = Clock()
    gone: list[Entry] = [Removed(at=clock(), part="seal"), AccountedFor(at=clock(), part="seal", reason="crumbled")]
    assert refused(gone, Added(at=NOW, part="seal", reason="made")) == ["seal was accounted for"]


# -- a screw through two parts -----------------------------------------------------------------------------------------


def _long(through: str) -> tuple[Fastener, ...]:
    return (Fastener(count=1, size="M2", length_mm=8, through=through),)


def test_no_part_comes_off_with_another_parts_screw_through_it() -> None:
    clock = Clock()
    journal: list[Entry] = [
        Removed(at=clock(), part="top cover", fasteners=_long("shoe")),
        Refitted(at=clock(), part="top cover", fasteners=_long("shoe")),
    ]
    shoe = Removed(at=NOW, part="shoe")
    (found,) = against(journal, shoe)
    assert (found.what, found.can_overrule) == ("a screw of top cover goes through shoe, too, and it is in", True)
    off = Removed(at=clock(), part="top cover", fasteners=_long("shoe"))
    assert refused([*journal, off], shoe) == []


@pytest.mark.parametrize("kind", [Removed, Added])
def test_no_screw_goes_through_its_own_part_twice(kind: type) -> None:
    entry = kind.model_validate(  # type: ignore[attr-defined]
        {"at": NOW, "part": "Plate", "reason": "?", "fasteners": _long("the plate")}
        if kind is Added
        else {"at": NOW, "part": "Plate", "fasteners": _long("the plate")}
    )
    (found,) = against([], entry)
    assert (found.what, found.can_overrule) == ("a screw of Plate cannot go through Plate, too", False)


def test_a_screw_that_is_told_from_both_sides_is_one_screw() -> None:
    clock = Clock()
    shoe = Removed(at=clock(), part="shoe", fasteners=_long("top cover"))
    cover = Removed(at=NOW, part="top cover", fasteners=_long("shoe"))
    (found,) = against([shoe], cover)
    assert found.what == "screw M2 × 8 mm through shoe came out with shoe already"
    bare = shoe.model_copy(update={"fasteners": ()})
    assert refused([bare], cover) == ["a screw of top cover goes through shoe, too, and shoe came off before it"]
    journal: list[Entry] = [shoe, Removed(at=clock(), part="top cover")]
    back = Refitted(at=clock(), part="top cover")
    assert refused(journal, back) == []
    assert refused([*journal, back], Refitted(at=NOW, part="shoe", fasteners=_long("top cover"))) == []


# -- undoing what a later entry rests on -------------------------------------------------------------------------------


def test_the_end_of_a_wait_is_not_undone_once_something_lies_over_it() -> None:
    """Adhesive that still cures beneath a cover: the cover was let on because the wait was over."""
    clock = Clock()
    journal: list[Entry] = [
        Removed(at=clock(), part="cover"),
        Removed(at=clock(), part="bellows", under=("cover",)),
        Refitted(at=clock(), part="bellows"),
        Awaited(at=clock(), part="bellows", awaiting="glue", until=NOW),
        Arrived(at=clock(), part="bellows"),
        Refitted(at=clock(), part="cover"),
    ]
    assert refused(journal, Corrected(at=NOW, entry=journal[4].id)) == [
        "then “cover went back” would not stand: cover goes over what is not ready: bellows waits: glue"
    ]
    assert refused(journal[:-1], Corrected(at=NOW, entry=journal[4].id)) == []


@pytest.mark.parametrize("under", [(), ("cover",)])
def test_the_answer_to_a_check_is_not_undone_once_its_part_is_covered(under: tuple[str, ...]) -> None:
    clock = Clock()
    check = HoldPoint(at=clock(), check="fires", needs=("shutter",))
    journal: list[Entry] = [
        check,
        Removed(at=clock(), part="cover"),
        Removed(at=clock(), part="shutter", under=under),
        Refitted(at=clock(), part="shutter"),
        Answered(at=clock(), entry=check.id, answer="5 of 5"),
        Refitted(at=clock(), part="cover"),
    ]
    assert refused(journal, Corrected(at=NOW, entry=journal[4].id)) == [
        "then “cover went back” would not stand: check before cover goes back: fires"
    ]


# -- film --------------------------------------------------------------------------------------------------------------

LOADED = Known(film_inside=True)


@pytest.mark.parametrize(
    "part",
    [
        "rear cover",
        "magazine",
        "pressure plate",
        "film gate",
        "take-up spool",
        "front element",
        "helicoid",
        "iris",
        "mirror box",
        "back",
        "lens board",
        "front panel",
        "body casting",
        "ground glass",
        "light seals",
        "dark slide",
        "red window",
        "cover",
        "door",
        "backlash spring",
        "opening curtain",
        "front cell",
        "bellows",
        "back of the shoe holder",
    ],
)
def test_with_film_inside_whatever_may_let_light_in_is_asked_about(part: str) -> None:
    (found,) = against([], Removed(at=NOW, part=part), LOADED)
    assert (found.what, found.can_overrule) == (f"film is inside, and it may fog when {part} comes off", True)
    assert refused([Set(at=Clock()(), settings={"film": "out"})], Removed(at=NOW, part=part), LOADED) == []


@pytest.mark.parametrize(
    "part",
    [
        "accessory shoe",
        "Rewind knob",
        "shutter speed dial",
        "advance lever",
        "strap lugs",
        "covering of the back",
        "leatherette",
        "viewfinder",
        "finder lens",
        "eyepiece",
        "top cover",
        "top plate",
        "Bottom-Cover",
        "lens cap",
        "release button",
    ],
)
def test_what_surely_lies_outside_the_box_comes_off_with_film_inside(part: str) -> None:
    assert refused([], Removed(at=NOW, part=part), LOADED) == []


def test_film_in_an_open_box_and_film_at_the_end_are_asked_about() -> None:
    clock = Clock()
    opened: list[Entry] = [Removed(at=clock(), part="back"), Removed(at=clock(), part="shoe")]
    goes_in = Set(at=clock(), settings={"Film": "in"})
    assert refused(opened, goes_in) == ["film goes in, and back is off"]
    assert refused(opened[1:], goes_in) == []
    assert refused(opened, Set(at=NOW, settings={"film": "out"})) == []
    seen = Found(at=clock(), part="dial", defect="scratch")
    assert refused([seen, goes_in], Closed(at=NOW)) == ["film is inside"]
    assert "film is inside" in refused([seen], HandedBack(at=NOW, to="the owner"), LOADED)
    closed = Closed(at=clock(), overruled="it goes back with it")
    assert refused([seen, closed], HandedBack(at=NOW, to="the owner"), LOADED) == []


@pytest.mark.parametrize(
    ("place", "is_asked"),
    [
        ("behind the back cover", True),
        ("on the blades", True),
        ("on the accessory shoe", False),
        ("on the dial", False),
    ],
)
def test_an_aid_goes_where_film_is(place: str, is_asked: bool) -> None:
    aid = AidFitted(at=NOW, aid="tape", place=place)
    asked = ["film is inside, and it may fog when tape goes in"]
    assert [what for what in refused([], aid, LOADED) if "film" in what] == asked * is_asked
    added = Added(at=NOW, part="washer", reason="it was missing", place=place)
    assert [what for what in refused([], added, LOADED) if "film" in what] == [
        "film is inside, and it may fog when washer goes in"
    ] * is_asked


# -- checks of the whole camera, springs, what contains what -----------------------------------------------------------


def test_a_check_of_the_whole_camera_needs_all_of_it_and_is_owed_again() -> None:
    clock = Clock()
    check = HoldPoint(at=clock(), part="closing", check="light leaks")
    off: list[Entry] = [check, Removed(at=clock(), part="dial")]
    passed = Answered(at=clock(), entry=check.id, answer="none seen")
    assert refused(off, passed) == ["light leaks: that is checked on the whole camera, and still off: dial"]
    whole: list[Entry] = [*off, Refitted(at=clock(), part="dial"), passed]
    whole[3] = passed.model_copy(update={"at": clock()})
    assert refused(whole[:3], whole[3]) == []
    assert fold(whole).open_promises == ()
    again: list[Entry] = [*whole, Removed(at=clock(), part="plate"), Refitted(at=clock(), part="plate")]
    assert [trouble.what for trouble in closing(fold(again))] == ["owed: check: light leaks (closing)"]


def test_a_spring_is_let_down_by_no_more_turns_than_are_on_it() -> None:
    clock = Clock()
    some = turned(clock, "let down", 3, left=2, spring="s")
    assert refused([some], turned(clock, "let down", 2, spring="s")) == []
    assert refused([some], turned(clock, "let down", 5, spring="s")) == [
        "s had 2 turns still on it: it cannot be let down 5 turns"
    ]
    assert refused([], turned(clock, "tensioned", 3, left=0, spring="s")) == [
        "s was tensioned 3 turns: it cannot have 0 turns on it"
    ]
    assert refused([some], turned(clock, "tensioned", 3, left=5, spring="s")) == []


def test_no_part_is_in_what_it_contains_or_goes_into_what_is_gone() -> None:
    clock = Clock()
    inside: list[Entry] = [
        Contains(at=clock(), part="a", parts=("b",)),
        Contains(at=clock(), part="b", parts=("c",)),
    ]
    for part in ("b", "c"):
        (found,) = against(inside, Contains(at=NOW, part=part, parts=("a",)))
        assert (found.what, found.can_overrule) == (
            f"{part} is in a, by an earlier entry, and cannot contain it",
            False,
        )
    gone: list[Entry] = [*inside, *strip("a", "c", clock=clock), AccountedFor(at=clock(), part="a", reason="broken")]
    assert refused(gone, Refitted(at=NOW, part="c")) == ["c belongs in a, which was accounted for"]


def test_a_trial_fit_is_of_a_part_that_is_off() -> None:
    fit = Sits(at=NOW, part="helicoid", how="third start", aspect="trial fit")
    assert refused([], fit) == ["helicoid is not off"]
    assert refused(strip("helicoid"), fit) == []


def test_nothing_goes_in_beneath_what_is_on() -> None:
    clock = Clock()
    order = Ordered(at=clock(), first="cover", then="washer", reason="covers it")
    cover: list[Entry] = [*strip("cover", clock=clock), Refitted(at=clock(), part="cover")]
    asked = "goes in beneath cover, and the journal has cover still on"
    washer = Added(at=NOW, part="washer", reason="it was missing")
    assert refused([order], washer) == [f"washer {asked}"]
    under = washer.model_copy(update={"place": "in the shutter, under the cover"})
    assert refused(cover, under) == [f"washer {asked}"]
    tape = AidFitted(at=NOW, aid="tape", place="beneath the cover")
    assert refused(cover, tape) == [f"tape {asked}"]
    assert refused([order, *cover[:1]], under) == refused(cover[:1], tape) == []


@pytest.mark.parametrize(
    ("place", "is_asked"),
    [
        ("behind the lens board", True),  # the trade calls a part so
        ("under the meter cover to hold the needle", True),  # a cover, by its name
        ("beneath the escapement", True),  # an order names it
        ("under the wind lever", False),  # what swings, opens or gives lets an aid in
        ("behind the mirror", False),
        ("behind the back cover", False),
        ("under the left corner", False),  # no part
        ("on the lens board", False),
    ],
)
def test_nothing_goes_in_behind_what_nobody_took_off(place: str, is_asked: bool) -> None:
    clock = Clock()
    said = Ordered(at=clock(), first="escapement", then="gear train", reason="sits over it")
    found = against([said], AidFitted(at=NOW, aid="wedge", place=place))
    assert [trouble.what.startswith("wedge goes in beneath") for trouble in found] == [True] * is_asked
    assert all(trouble.can_overrule for trouble in found)
    part = place.split("the ", 1)[1].partition(" to ")[0]
    assert refused([*strip(part, clock=clock)], AidFitted(at=NOW, aid="wedge", place=place)) == []
