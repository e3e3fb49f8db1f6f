"""Physical gates: what cannot be is asked about, and what is true goes in with a reason (common practice)."""

from datetime import timedelta
from typing import Any

import pytest

from camerawright.handbook.cleaning import Process, processes
from camerawright.handbook.solvents import unknown_liquid
from camerawright.journal.balance import closing
from camerawright.journal.entries import (
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Answered,
    Awaited,
    Cautioned,
    Cleaned,
    Closed,
    Contains,
    Corrected,
    Entry,
    Fastener,
    Found,
    HandedBack,
    HoldPoint,
    Loose,
    Lubricated,
    Marked,
    MarkWanted,
    Measured,
    NeedsState,
    Noted,
    Ordered,
    Phase,
    Refitted,
    Reminded,
    Removed,
    Reopened,
    Set,
    Tension,
    Tried,
    Worked,
)
from camerawright.journal.film import film_said
from camerawright.journal.known import Known
from camerawright.journal.loose import not_caught
from camerawright.journal.replay import with_dependants
from camerawright.journal.rules import judged_again
from camerawright.journal.state import fold
from camerawright.refit.ladder import stuck
from tests.journal.makers import NOTHING, NOW, START, Clock, against, refused, strip, turned


def _reading(clock: Clock, phase: Phase, test: str = "shutter", marked: str = "") -> Measured:
    return Measured(
        at=clock(),
        test=test,
        phase=phase,
        method="any",
        setup={"marked": marked},
        result={},
        recording="0" * 64,
    )


# -- holes -------------------------------------------------------------------------------------------------------------


def test_a_hole_is_an_identity() -> None:
    """A longer screw in the wrong hole bottoms on what lies beneath it, though every count agrees."""
    out = (
        Fastener(count=1, size="M1.7", length_mm=4, hole="NE"),
        Fastener(count=1, size="M1.7", length_mm=3, hole="SW"),
    )
    swapped = tuple(
        fastener.model_copy(update={"hole": hole}) for fastener, hole in zip(out, ("SW", "ne"), strict=True)
    )
    journal = [Removed(at=Clock()(), part="plate", fasteners=out)]
    found = against(journal, Refitted(at=NOW, part="plate", fasteners=swapped))
    assert [trouble.what for trouble in found] == [
        "plate, SW: M1.7 × 3 mm came out of that hole, and M1.7 × 4 mm goes in",
        "plate, ne: M1.7 × 4 mm came out of that hole, and M1.7 × 3 mm goes in",
    ]
    assert all(trouble.can_overrule for trouble in found)
    assert refused(journal, Refitted(at=NOW, part="plate", fasteners=out)) == []


def test_a_hole_asks_nothing_of_what_was_not_taken() -> None:
    out = (Fastener(count=1, size="M1.7", hole="NE"),)
    journal = [Removed(at=Clock()(), part="plate", fasteners=out)]
    longer = (Fastener(count=1, size="M1.7", length_mm=4, hole="NE"),)
    assert not any("hole" in what for what in refused(journal, Refitted(at=NOW, part="plate", fasteners=longer)))


# -- checks ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("needs", "said"),
    [
        ("shutter", "all speeds: it needs shutter, and shutter is off"),
        ("spring", "all speeds: it needs spring, and spring was accounted for"),
        (
            "shuter",
            "all speeds: it needs shuter, and only this check names shuter: no other entry says that there is such a "
            "part",
        ),
        ("ball", "all speeds: it needs ball, and ball came out with plate, and is still out"),
        ("dial", None),
        ("mirror box", None),  # what nobody took off is in place, once any entry names it
        ("blades", None),
        ("clamp", None),
        ("cam", None),
        ("known part", None),
    ],
)
def test_no_check_passes_while_a_part_that_it_needs_is_missing(needs: str, said: str | None) -> None:
    clock = Clock()
    check = HoldPoint(at=clock(), check="all speeds", needs=(needs,))
    journal: list[Entry] = [
        check,
        *strip("dial", "spring", "shutter", clock=clock),
        AccountedFor(at=clock(), part="spring", reason="broken"),
        Refitted(at=clock(), part="dial", overruled="to see"),
        Ordered(at=clock(), first="dial", then="mirror box", reason="covers it"),
        Contains(at=clock(), part="mirror box", parts=("blades",)),
        Removed(
            at=clock(),
            part="plate",
            under=("cam",),
            fasteners=(Fastener(count=1, through="clamp"),),
            loose=(Loose(what="ball", place="beneath"),),
        ),
    ]
    passed = Answered(at=NOW, entry=check.id, answer="passed")
    found = against(journal, passed, Known(names=frozenset({"known part"})))
    assert [trouble.what for trouble in found] == ([said] if said else [])
    assert all(trouble.can_overrule for trouble in found)


# -- what lies over what -----------------------------------------------------------------------------------------------


def _covered(clock: Clock) -> list[Entry]:
    """A wheel under a cover, both off."""
    return [
        Ordered(at=clock(), first="cover", then="wheel", reason="covers it"),
        *strip("cover", "wheel", clock=clock),
    ]


def test_nothing_goes_back_beneath_what_is_back() -> None:
    clock = Clock()
    journal = [*_covered(clock), Refitted(at=clock(), part="cover", overruled="for the photo")]
    assert refused(journal, Refitted(at=NOW, part="wheel")) == [
        "cover is back already, and wheel goes beneath it: covers it"
    ]


def test_an_undo_in_the_middle_puts_nothing_back_over_what_came_off_later() -> None:
    clock = Clock()
    journal = _covered(clock)
    undo = Corrected(at=NOW, entry=journal[1].id)
    (found,) = against(journal, undo)
    assert found.what == "then “wheel came off” would not stand: cover comes off before wheel: covers it"
    assert found.can_overrule, "the reason that was entered may be wrong"
    assert "both together" in found.mend
    together = with_dependants(fold(journal), journal[1], NOTHING, judged_again)
    assert [entry.id for entry in together] == [journal[2].id, journal[1].id], "the newest first"
    grown = list(journal)
    for entry in together:
        undo = Corrected(at=clock(), entry=entry.id)
        assert refused(grown, undo) == []
        grown.append(undo)
    assert fold(grown).off == ()


def test_an_undo_of_what_a_later_entry_rests_on_is_told() -> None:
    clock = Clock()
    need = NeedsState(at=clock(), part="dial", settings={"shutter": "released"}, reason="it hooks in")
    wish = MarkWanted(at=clock(), part="dial", mark="figure at the stop")
    released, mark = Set(at=clock(), settings={"shutter": "released"}), Marked(at=clock(), part="dial", mark="25")
    journal: list[Entry] = [need, wish, released, mark, *strip("dial", clock=clock)]
    assert refused(journal, Corrected(at=NOW, entry=released.id)) == [
        "then “dial came off” would not stand: dial moves only with shutter released; it is not noted: it hooks in"
    ]
    assert "is not noted: figure at the stop" in refused(journal, Corrected(at=NOW, entry=mark.id))[0]
    assert refused(journal, Corrected(at=NOW, entry=need.id)) == []


def test_an_undo_of_the_last_entry_asks_nothing() -> None:
    journal = _covered(Clock())
    assert refused(journal, Corrected(at=NOW, entry=journal[-1].id)) == []


def test_what_stood_against_a_later_entry_before_is_not_held_against_the_undo() -> None:
    """Journals of other benches come in unjudged."""
    clock = Clock()
    note = Noted(at=clock(), note="a slip")
    order = Ordered(at=clock(), first="cover", then="wheel", reason="covers it")
    journal: list[Entry] = [order, note, *strip("wheel", clock=clock)]
    assert refused(journal, Corrected(at=NOW, entry=note.id)) == []


# -- corrections -------------------------------------------------------------------------------------------------------


def test_a_correction_of_a_count_passes_the_same_rules_as_a_new_entry() -> None:
    clock = Clock()
    four, three = ((Fastener(count=n, size="M2"),) for n in (4, 3))
    back = Refitted(at=clock(), part="plate", fasteners=four)
    journal: list[Entry] = [Removed(at=START - timedelta(hours=1), part="plate", fasteners=four), back]
    fewer = Corrected(at=NOW, entry=back.id, becomes=back.model_copy(update={"fasteners": three}))
    assert refused(journal, fewer) == ["plate: 4 × screw M2 came out, 3 going back"]


def test_a_correction_of_a_phase_and_of_an_answer_pass_the_same_rules() -> None:
    clock = Clock()
    rest = Reminded(at=clock(), part="closing", todo="rest it 48 h", test="shutter")
    found = _reading(clock, "as found")
    left = Corrected(at=NOW, entry=found.id, becomes=found.model_copy(update={"phase": "as left"}))
    assert refused([rest, found], left) == ["owed before shutter: rest it 48 h"]
    check = HoldPoint(at=clock(), check="all speeds", needs=("shutter",))
    done = Answered(at=clock(), entry=rest.id, answer="rested")
    other = Corrected(at=NOW, entry=done.id, becomes=done.model_copy(update={"entry": check.id}))
    assert refused([rest, check, *strip("shutter"), done], other) == [
        "all speeds: it needs shutter, and shutter is off"
    ]


def test_a_correction_of_mere_words_asks_nothing() -> None:
    clock = Clock()
    off = Removed(at=clock(), part="dial", cell="A1")
    journal: list[Entry] = [off, Refitted(at=clock(), part="dial")]
    assert refused(journal, Corrected(at=NOW, entry=off.id, becomes=off.model_copy(update={"cell": "A2"}))) == []


# -- marks, hazards, states --------------------------------------------------------------------------------------------


def test_two_marks_wanted_two_noted() -> None:
    clock = Clock()
    wishes = [MarkWanted(at=clock(), part="cell", mark=mark) for mark in ("angle at the parting", "turns to the stop")]
    one = Marked(at=clock(), part="cell", mark="parts at 10 o'clock")
    off = Removed(at=NOW, part="cell")
    assert refused([*wishes, one], off) == [
        "2 marks of cell are wanted (angle at the parting; turns to the stop), and 1 noted (parts at 10 o'clock)"
    ]
    again = Marked(at=clock(), part="cell", mark="Parts at 10 o'clock")
    assert len(refused([*wishes, one, again], off)) == 1, "the same mark twice is one"
    two = Marked(at=clock(), part="cell", mark="4 1/4 turns")
    assert refused([*wishes, one, two], off) == []


@pytest.mark.parametrize(
    ("hazards", "caught", "missing"),
    [
        (["ball"], ["ball 1.5 mm"], []),
        (["ball"], ["wall of the housing"], ["ball"]),
        (["click spring"], ["spring"], ["click spring"]),
        (["spring"], ["click spring"], []),
        (["ball", "detent ball"], ["detent ball"], ["ball"]),
        (["ball", "detent ball"], ["detent ball", "ball"], []),
        (["ball"], ["2 balls"], []),
        (["pin"], ["spindle"], ["pin"]),
    ],
)
def test_a_loose_part_answers_only_the_hazard_that_it_names(
    hazards: list[str], caught: list[str], missing: list[str]
) -> None:
    assert list(not_caught(hazards, [Loose(what=what) for what in caught])) == missing


def test_two_balls_answer_two_hazards() -> None:
    assert not_caught(["ball", "detent ball"], [Loose(what="detent ball", count=2)]) == ()


def test_one_loose_part_does_not_answer_two_cautions() -> None:
    clock = Clock()
    cautions = [Cautioned(at=clock(), part="dial", hazard="jumps", frees=(what,)) for what in ("ball", "click spring")]
    off = Removed(at=NOW, part="dial", loose=(Loose(what="ball 1.5 mm"),))
    assert refused(cautions, off) == ["click spring gets loose when dial moves"]


def test_contradictory_needed_states_are_told_at_entry() -> None:
    first = NeedsState(at=Clock()(), part="plate", settings={"Shutter": "released"}, reason="the rack", moves="both")
    second = NeedsState(at=NOW, part="Plate", settings={"shutter": "cocked"}, reason="seen")
    assert refused([first], second) == [
        "Plate cannot need shutter cocked too: it needs shutter released already (the rack)"
    ]
    refit_only = first.model_copy(update={"moves": "refit"})
    assert refused([refit_only], second) == [], "off in one state, back in another"
    itself = NeedsState(at=NOW, part="dial", settings={"shutter": "cocked", "Shutter": "released"}, reason="?")
    assert refused([], itself) == ["Shutter cannot be cocked and released at once"]
    assert refused([], Set(at=NOW, settings={"a": "1", "A": "2"})) == ["A cannot be 1 and 2 at once"]


def test_let_down_means_all_turns() -> None:
    clock = Clock()
    need = NeedsState(at=clock(), part="drum", settings={"curtain": "let down"}, reason="it unwinds")
    off = Removed(at=NOW, part="drum")
    down, some_back = turned(clock, "let down", 7), turned(clock, "tensioned", 4)
    a_few, rest = turned(clock, "let down", 2), turned(clock, "let down", 2)
    assert refused([need, down], off) == []
    assert fold([down, some_back]).setting("curtain") == "tensioned in part"
    assert "it is let down in part" in refused([need, down, some_back, a_few], off)[0]
    assert refused([need, down, some_back, a_few, rest], off) == []
    part = turned(clock, "let down", 4, left=3)
    assert "it is let down in part" in refused([need, part], off)[0]
    slack = turned(clock, "let down", 3, left=0)
    assert refused([need, part, slack], off) == []


def test_a_spring_turned_the_wrong_way_is_asked_about() -> None:
    clock = Clock()
    down = turned(clock, "let down", 7)
    wrong = turned(clock, "tensioned", 7).model_copy(update={"direction": "anticlockwise"})
    assert refused([down], wrong) == [
        "curtain is 7 turns anticlockwise from where it was: 7 turns anticlockwise lets it down further"
    ]
    assert refused([down], turned(clock, "tensioned", 7)) == []


def test_a_spring_that_is_let_down_is_mentioned_when_its_tension_matters() -> None:
    clock = Clock()
    down = turned(clock, "let down", 7)
    assert refused([down], _reading(clock, "as left")) == ["shutter as left, and curtain is short of 7 turns clockwise"]
    assert refused([down], _reading(clock, "as found")) == []


# -- fasteners ---------------------------------------------------------------------------------------------------------


def _try(clock: Clock, outcome: str, rung: str = "right driver", **more: Any) -> Tried:
    return Tried.model_validate(
        {"at": clock(), "part": "plate", "fastener": "NE screw", "rung": rung, "outcome": outcome, **more}
    )


def test_closing_asks_about_a_part_that_is_back_and_still_cures() -> None:
    """Adhesives reach their strength hours after they set (common practice): a camera goes home after that."""
    clock = Clock()
    back: list[Entry] = [*strip("plate", clock=clock), Refitted(at=clock(), part="plate")]
    cures = Awaited(at=clock(), part="plate", awaiting="epoxy cures", until=START + timedelta(hours=24))
    lasting, over = START + timedelta(hours=1), START + timedelta(hours=25)
    assert [trouble.can_overrule for trouble in closing(fold([*back, cures]), now=lasting)] == [True]
    assert closing(fold([*back, cures]), now=over) == ()


def test_a_fastener_made_worse_stands_against_closing_until_it_is_answered() -> None:
    clock = Clock()
    worse = _try(clock, "worse")
    assert [trouble.what for trouble in closing(fold([worse]))] == [
        "owed: NE screw got worse (right driver): what became of it? (plate)"
    ]
    answer = Answered(at=clock(), entry=worse.id, answer="slot filed, and a new screw made")
    assert refused([worse], answer) == []
    assert closing(fold([worse, answer])) == ()


def test_a_fastener_that_came_off_is_no_longer_seized() -> None:
    clock = Clock()
    tried = _try(clock, "no change")
    assert len(stuck(fold([tried]))) == 1
    off = [tried, *strip("plate", clock=clock)]
    assert stuck(fold(off)) == ()
    back: list[Entry] = [*off, Refitted(at=clock(), part="plate")]
    assert stuck(fold(back)) == (), "back again, it went in by hand"
    spoiled = tried.model_copy(update={"outcome": "worse"})
    assert refused([spoiled, *back[1:]], _try(clock, "no change")) == []


# -- film, aids, dangers -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("said", "is_barred"),
    [
        ("out", False),
        ("taken out in the dark", False),
        ("rewound", True),
        ("inside", True),
        ("not out", True),
        ("half out", True),
        ("none", False),
        ("No film.", False),
        ("removed in the dark", False),
        ("not loaded", False),
        ("out?", True),
        ("no idea", True),
        ("removed?", True),
        ("probably out", True),
        ("no, it is in", True),
        ("out of the box, new", True),
        ("out or not", True),
        ("cannot be taken out", True),
        ("none that I know of", True),
    ],
)
def test_film_is_out_only_when_somebody_says_so(said: str, is_barred: bool) -> None:
    journal = [Set(at=Clock()(), settings={"Film": said})]
    for taken_in_with in (True, False):
        assert bool(refused(journal, Removed(at=NOW, part="back"), Known(film_inside=taken_in_with))) is is_barred


@pytest.mark.parametrize("said", ["out?", "no idea", "removed?", "probably out", "taken out, I think", "in?"])
def test_a_doubt_about_film_is_asked_about_and_shown(said: str) -> None:
    entry = Set(at=NOW, settings={"film": said})
    (found,) = against([], entry)
    assert found.what == f"“{said}” does not say plainly whether the film is out: it counts as inside"
    assert found.can_overrule
    assert film_said(fold([entry]), NOTHING) == f"not known (“{said}”): it counts as inside until you say “film = out”"
    assert refused([], entry.model_copy(update={"settings": {"film": "not known"}})) == []


def test_an_aid_is_asked_for_before_what_closes_over_it() -> None:
    clock = Clock()
    order = Ordered(at=clock(), first="front plate", then="shutter", reason="covers it")
    tape = AidFitted(at=clock(), aid="tape", place="on the shutter")
    journal: list[Entry] = [order, *strip("top plate", "front plate", clock=clock), tape]
    assert "front plate closes over the aid tape (on the shutter)" in refused(
        journal, Refitted(at=NOW, part="front plate")
    )
    assert refused(journal, Refitted(at=NOW, part="top plate")) == [], "it is known to sit elsewhere"
    out = AidTakenOut(at=clock(), aid="tape")
    assert refused([*journal, out], Refitted(at=NOW, part="front plate")) == []


def test_an_aid_at_a_part_by_its_own_name_is_asked_for_when_that_part_goes_back() -> None:
    clock = Clock()
    wedge = AidFitted(at=clock(), aid="wedge", place="behind the lens board")
    journal: list[Entry] = [*strip("lens board", clock=clock), wedge]
    assert refused(journal, Refitted(at=NOW, part="lens board")) == [
        "lens board closes over the aid wedge (behind the lens board)"
    ]


def test_where_nothing_is_known_of_what_covers_an_aid_it_is_asked_once() -> None:
    clock = Clock()
    tape = AidFitted(at=clock(), aid="tape", place="on the blades")
    journal: list[Entry] = [*strip("dial", "ring", clock=clock), tape]
    found = refused(journal, Refitted(at=NOW, part="ring"))
    assert found == ["the aid tape is still in (on the blades), and ring may close over it"]
    once = Refitted(at=clock(), part="ring", overruled="the blades are at the front")
    assert refused([*journal, once], Refitted(at=NOW, part="dial")) == []


def test_an_aid_without_a_place_is_asked_for_its_place() -> None:
    assert refused([], AidFitted(at=NOW, aid="wedge")) == ["nobody can tell where wedge sits"]
    assert refused([], AidFitted(at=NOW, aid="wedge", place="at the hinge")) == []
    assert refused(strip("shutter"), AidFitted(at=NOW, aid="shutter wedge")) == []
    assert refused([], AidFitted(at=NOW, aid="tape on the blades")) == []


def test_no_reading_as_left_is_taken_silently_while_an_aid_is_in() -> None:
    clock = Clock()
    tape = AidFitted(at=clock(), aid="tape", place="on the blades")
    assert refused([tape], _reading(clock, "as left")) == [
        "shutter as left, with the aid tape still in (on the blades)"
    ]
    assert refused([tape], _reading(clock, "as found")) == []


@pytest.mark.parametrize(
    "flammable",
    [
        _try(Clock(), "no change", rung="solvent and wait"),
        Cleaned(at=START, part="gears", route="rinsed in naphtha"),
        Awaited(at=START, part="gears", awaiting="in the bath: jar, naphtha", until=NOW + timedelta(hours=9)),
    ],
)
def test_a_flammable_liquid_anywhere_on_the_job_bars_heat_on_the_job(flammable: Entry) -> None:
    """Vapour creeps along a bench; the time is that of the handbook (common practice)."""
    moved = {"at": NOW - timedelta(minutes=1)}
    heat = Tried(at=NOW, part="mount", fastener="grub screw", rung="heat", outcome="no change")
    off = strip("gears") if isinstance(flammable, Awaited) else []
    (found,) = against([*off, flammable.model_copy(update=moved)], heat)
    assert "keep flammable liquids and heat apart" in found.what
    assert "safety data sheet" in found.mend
    assert "flames, sparks and heaters away" in found.mend
    if not isinstance(flammable, Awaited):
        gone = flammable.model_copy(update={"at": NOW - timedelta(hours=3)})
        assert refused([gone], heat) == []
    assert refused([Cleaned(at=moved["at"], part="gears", route="swab, distilled water")], heat) == []


def test_no_flammable_liquid_comes_near_what_is_still_warm() -> None:
    heat = Tried(at=NOW - timedelta(minutes=1), part="mount", fastener="grub screw", rung="heat", outcome="moved")
    swab = Cleaned(at=NOW, part="gears", route="swab, isopropyl alcohol")
    assert any("warmth is about" in what for what in refused([heat, *strip("gears")], swab))
    assert refused([heat, *strip("gears")], swab.model_copy(update={"route": "swab, distilled water"})) == []


BURNS = (
    "petrol", "gasoline", "lighter fuel", "turpentine", "MEK", "methyl ethyl ketone", "lacquer thinner",
    "Brake-Cleaner", "diethyl ether", "ether", "methylated spirits", "surgical spirit", "toluene", "xylene",
    "lamp oil", "ethyl acetate",
    "nail polish remover", "contact cleaner", "panel wipe", "cyclohexane", "pentane", "butane", "limonene", "benzene",
    "isoprop", "iso", "penetrating oil", "easing oil", "freeing oil", "essence", "vodka", "hand sanitiser",
    "rinse solution", "white spirits", "spirits", "industrial spirits",
    "an oil to free screws that nobody knows: Frobnol",
    "electrical cleaner spray", "Waschbenzin", "Spiritus", "an unheard-of spray", "some old thinners", "racing fuel",
)  # fmt: skip
WARMS = (
    "hair dryer", "hairdryer", "baked 2 h", "warmed to 50 °C", "blow-dried warm", "infrared lamp", "alcohol lamp",
    "lamp", "under a lamp", "40 °C", "dried at 45C", "110 °F", "60 degrees C", "unsoldered the lead",
    "soldering iron", "blow dryer",
    "blowtorch", "gas burner", "steam", "warm air", "toaster", "desoldering", "boiling water",
    "preheated", "hot plate",
)  # fmt: skip
NEITHER = (
    "swab, distilled water", "hand wash, mild detergent", "ultrasonic cleaner, water", "pipe cleaner, dry",
    "soft dry brush", "hand blower", "watch cleaner without ammonia", "petroleum jelly", "wheat starch",
    "wiped with a rag", "wiped with a chamois", "20 °C", "brushed 5 min, then blown off", "peg wood in the slots",
    "washing-up liquid in lukewarm water, 35 °C", "ultrasonic bath, neutral detergent", "its gears wiped twice",
    "fungus mixture (94 % distilled water, 4 % ammonia, 2 % hydrogen peroxide)", "light mineral oil",
)  # fmt: skip


def test_whatever_burns_at_a_bench_is_known_by_its_names_and_an_unknown_solvent_counts_as_one() -> None:
    """Flammable by their safety data sheets: from memory. What is called a cleaner or a spray mostly is."""
    heat = Tried(at=NOW, part="mount", fastener="grub screw", rung="heat", outcome="no change")
    for liquid, is_one in [*((each, True) for each in BURNS), *((each, False) for each in NEITHER)]:
        swab = Cleaned(at=NOW - timedelta(minutes=1), part="gears", route=f"swab, {liquid}")
        found = against([*strip("gears"), swab], heat)
        assert len(found) == is_one, liquid
        assert all(each.can_overrule and "say why it is safe" in each.mend for each in found)


def test_whatever_warms_at_a_bench_is_known_by_its_names() -> None:
    naphtha = Cleaned(at=NOW - timedelta(minutes=1), part="gears", route="jar, naphtha")
    for way, is_one in [*((each, True) for each in WARMS), *((each, False) for each in NEITHER)]:
        found = refused([*strip("gears"), naphtha], Cleaned(at=NOW, part="gears", route=way))
        assert any("naphtha is about" in what for what in found) == is_one, way


def test_a_liquid_that_nobody_knows_counts_as_flammable_until_somebody_says_that_it_is_not() -> None:
    clock = NOW - timedelta(minutes=1)
    heat = Tried(at=NOW, part="mount", fastener="grub screw", rung="heat", outcome="no change")
    flammable: list[tuple[Entry, str]] = [
        (Cleaned(at=clock, part="gears", route="swab, Frobnol"), "“frobnol”, which may be flammable, is about"),
        (
            Awaited(at=clock, part="gears", awaiting="soaking in Frobnol", until=NOW),
            "“frobnol”, which may be flammable",
        ),
        (
            Lubricated(at=clock, part="gears", point="pivots", amount="film", lubricant="moly in alcohol"),
            "ethanol is about",
        ),
        (
            Tried(at=clock, part="gears", fastener="NE", rung="shock", outcome="moved", words="meths on it"),
            "ethanol is",
        ),
    ]
    for entry, said in flammable:
        (found,) = against([*strip("gears"), entry], heat)
        assert said in found.what
        assert found.can_overrule
        assert "safety data sheet" in found.mend
    harmless: list[Entry] = [
        Awaited(at=clock, part="gears", awaiting="a new washer from Frobnol & Sons"),
        Lubricated(at=clock, part="gears", point="pivots", amount="film", lubricant="watch oil, batch 12"),
        Tried(
            at=clock, part="gears", fastener="NE", rung="shock", outcome="moved", materials=("steel", "brass", "none")
        ),
    ]
    for entry in harmless:
        assert refused([*strip("gears"), entry], heat) == []


def test_a_soldering_iron_is_warmth_whatever_it_takes_off() -> None:
    naphtha = Cleaned(at=NOW - timedelta(minutes=1), part="gears", route="jar, naphtha")
    lead = Removed(at=NOW, part="lead", tool="soldering iron")
    assert any("naphtha is about" in what for what in refused([*strip("gears"), naphtha], lead))
    assert refused([*strip("gears"), naphtha], lead.model_copy(update={"tool": "1.2 mm driver"})) == []
    swab = Cleaned(at=NOW, part="gears", route="swab, isopropyl alcohol")
    assert any("warmth is about" in what for what in refused([*strip("gears"), lead], swab))


@pytest.mark.parametrize("process", [each for each in processes() if each.solvent is None], ids=lambda each: each.name)
def test_no_way_of_cleaning_of_the_table_counts_as_an_unknown_liquid(process: Process) -> None:
    assert unknown_liquid(process.name) is None


@pytest.mark.parametrize(
    "poison", ["benzene", "Carbon  tetrachloride", "methanol", "wood alcohol", "trichloroethylene"]
)
def test_poison_is_not_taken_silently(poison: str) -> None:
    """GHS: carcinogens and poisons that old handbooks list (the reasons from memory)."""
    (found,) = against(strip("gears"), Cleaned(at=NOW, part="gears", route=f"swab, {poison}"))
    assert found.what.startswith("never use ")
    assert found.can_overrule, "if it was used, the journal says so"
    assert "safety data sheet" in found.mend


@pytest.mark.parametrize("harmless", ["benzine", "swab, methylated spirit", "distilled water"])
def test_benzine_is_no_benzene(harmless: str) -> None:
    assert refused(strip("gears"), Cleaned(at=NOW, part="gears", route=harmless)) == []


# -- closing -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "entry",
    [
        Noted(at=NOW, note="one more thing"),
        Worked(at=NOW, minutes=5, task="wiped it"),
        Found(at=NOW, part="dial", defect="scratch"),
        Reminded(at=NOW, part="closing", todo="ring the owner"),
        Marked(at=NOW, part="dial", mark="25"),
        Tension(at=NOW, spring="curtain", act="let down", turns=1, direction="clockwise"),
        Closed(at=NOW),
    ],
)
def test_closed_is_closed_until_it_is_reopened(entry: Entry) -> None:
    clock = Clock()
    closed: list[Entry] = [*strip("dial", clock=clock), Refitted(at=clock(), part="dial"), Closed(at=clock())]
    found = against(closed, entry)
    assert [(trouble.what, trouble.can_overrule) for trouble in found] == [("the job is closed", False)]
    for target in closed:
        assert refused(closed, Corrected(at=NOW, entry=target.id)) == ["the job is closed"]
    reopened: list[Entry] = [*closed, Reopened(at=clock(), reason="a screw was left")]
    assert refused(reopened, entry) == []
    assert refused(reopened, Reopened(at=NOW, reason="again")) == ["the job is not closed"]
    gone: list[Entry] = [*closed, HandedBack(at=clock(), to="the owner")]
    assert refused(gone, entry) == ["the camera is handed back"]
    assert refused([*gone, Reopened(at=clock(), reason="it came back at once")], entry) == []


def test_a_reopening_with_work_after_it_is_not_undone() -> None:
    clock = Clock()
    again = Reopened(at=clock(), reason="a screw was left")
    seen = Found(at=START - timedelta(hours=1), part="dial", defect="scratch")
    closed: list[Entry] = [seen, Closed(at=START - timedelta(minutes=9)), again]
    assert refused(closed, Corrected(at=NOW, entry=again.id)) == []
    note = Noted(at=clock(), note="found it")
    found = against([*closed, note], Corrected(at=NOW, entry=again.id))
    assert [(trouble.what, trouble.can_overrule) for trouble in found] == [
        ("then “note: found it” would not stand: the job is closed", False)
    ]


def test_what_was_checked_at_the_closing_is_owed_again_after_a_reopening() -> None:
    clock = Clock()
    check = HoldPoint(at=clock(), check="counter resets", needs=("counter",))
    ring = Reminded(at=clock(), part="closing", todo="return the filter")
    other = Reminded(at=clock(), part="dial", todo="hook the spring")
    promises: list[Entry] = [check, ring, other]
    answers = [Answered(at=clock(), entry=each.id, answer="done") for each in promises]
    closed: list[Entry] = [*promises, *answers, Closed(at=clock())]
    assert fold(closed).open_promises == ()
    assert fold([*closed, Reopened(at=clock(), reason="?")]).open_promises == (check, ring)


def test_closing_asks_first_when_nothing_was_read_or_done() -> None:
    note = Noted(at=Clock()(), note="tea")
    (found,) = against([note], Closed(at=NOW))
    assert (found.what, found.can_overrule) == ("nothing was read or done on this job", True)


def test_as_left_is_asked_for_each_test_and_each_speed_that_was_read_as_found() -> None:
    clock = Clock()
    journal: list[Entry] = [
        _reading(clock, "as found", marked="1/25, 1/50"),
        _reading(clock, "as found", marked="1/100"),
        _reading(clock, "as found", test="register"),
        _reading(clock, "as left", marked="1/50"),
    ]
    found = closing(fold(journal))
    assert [trouble.what for trouble in found] == [
        "shutter at 1/25, 1/100: measured as found, but not as left",
        "register: measured as found, but not as left",
    ]
    assert all(trouble.can_overrule for trouble in found)


def test_recordings_that_wait_are_told_at_the_closing_and_the_handing_back() -> None:
    seen = Found(at=Clock()(), part="dial", defect="sound")
    waiting = Known(n_waiting=2)
    said = "2 recordings of this job still wait to be entered"
    assert refused([seen], Closed(at=NOW), waiting) == [said]
    assert said in refused([seen], HandedBack(at=NOW, to="the owner"), waiting)


def test_handing_back_asks_the_balance_and_a_reason_lets_a_camera_go_in_parts() -> None:
    journal = strip("dial")
    found = against(journal, HandedBack(at=NOW, to="the owner"))
    assert [trouble.what for trouble in found] == ["the job is not closed", "dial is still off"]
    assert all(trouble.can_overrule for trouble in found)


@pytest.mark.parametrize(
    "owed",
    [
        Reminded(at=START, part="closing", todo="return the filter"),
        HoldPoint(at=START, check="counter resets"),
        Found(at=START, part="dial", defect="worn", todo="make one"),
        AidFitted(at=START, aid="tape", place="on the blades"),
        Tried(at=START, part="dial", fastener="NE screw", rung="shock", outcome="worse"),
    ],
)
def test_two_benches_of_which_one_closed_and_the_other_owes_are_in_conflict(owed: Entry) -> None:
    hours = {"before": START - timedelta(hours=1), "after": START + timedelta(hours=1)}
    ours = Closed(at=START)
    for when, at in hours.items():
        if isinstance(owed, Tried) and when == "before":
            continue  # jobs were closed so before somebody had to say what became of it
        merged = fold([ours, owed.model_copy(update={"at": at})])
        assert len(merged.conflicts) == 1, when
        assert "closed" in merged.conflicts[0]
    later = owed.model_copy(update={"at": hours["after"]})
    settled = Reopened(at=START + timedelta(hours=2), reason="the other bench goes on")
    assert fold([ours, later, settled]).conflicts == (), "a reopening settles it: it is owed, and closed anew"
    reopened = Reopened(at=START + timedelta(minutes=1), reason="more to do")
    assert fold([ours, reopened, later]).conflicts == ()


# -- clocks ------------------------------------------------------------------------------------------------------------


def test_a_clock_that_ran_ahead_does_not_lock_the_bench() -> None:
    ahead = Noted(at=NOW + timedelta(days=3650), note="the laptop's battery was empty")
    after = Noted(at=ahead.at + timedelta(microseconds=1), clock=NOW, note="clock set")
    assert refused([ahead], after) == []
    assert after.moment == NOW
    assert refused([], ahead) == [f"the entry is dated {ahead.at:%Y-%m-%d %H:%M}, in the future"]
    assert refused([ahead], Noted(at=ahead.at + timedelta(days=1), note="?")) != []
    soon = Awaited(at=after.at, clock=NOW, part="dial", awaiting="glue", until=NOW + timedelta(hours=1))
    assert refused([*strip("dial"), ahead], soon) == []


def test_a_moment_is_mended_and_the_place_among_the_entries_stays() -> None:
    clock = Clock()
    first, second = Noted(at=clock(), note="first"), Noted(at=clock(), note="second")
    mended = first.model_copy(update={"clock": NOW})
    state = fold([first, second, Corrected(at=NOW, entry=first.id, becomes=mended)])
    assert [entry.moment for entry in state.entries] == [NOW, second.at]
    assert [getattr(entry, "note", "") for entry in state.entries] == ["first", "second"]


# -- what only an order names ------------------------------------------------------------------------------------------


def test_what_another_entry_names_is_cleaned_where_it_sits() -> None:
    """Its vapour counts, too."""
    clock = Clock()
    journal: list[Entry] = [
        Ordered(at=clock(), first="cover", then="lens board", reason="covers it"),
        Removed(at=clock(), part="plate", loose=(Loose(what="pawl"),)),
    ]
    swab = Cleaned(at=NOW, part="lens board", route="swab, naphtha")
    assert refused(journal, swab) == refused(journal, swab.model_copy(update={"part": "pawl"})) == []
    assert refused(journal, swab.model_copy(update={"part": "dial"})) == ["nothing in this journal names dial"]
    warm = Tried(at=NOW, part="plate", fastener="NE", rung="heat", outcome="no change")
    assert refused([*journal, swab], warm) == [
        "naphtha is about until 2026-03-04 09:30 (lens board): keep flammable liquids and heat apart"
    ]
