"""Fasteners, shims and loose parts as lines of text: spellings read as one, and what is unclear is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.journal.entries import Fastener, Lead, Loose, Shim
from camerawright.journal.fastener_text import fastener, fasteners, written_fastener
from camerawright.journal.fastener_words import (
    ABOUT,
    ALL_ALIKE,
    ELSEWHERE,
    LEFT_PERHAPS,
    NOT_THERE,
    WRONG_WITH_IT,
)
from camerawright.journal.lead_text import leads, written_lead
from camerawright.journal.loose_text import loose, loose_parts, written_loose
from camerawright.journal.places import EACH
from camerawright.journal.shim_text import shim, shims, written_shim
from camerawright.trouble import NotUnderstood
from camerawright.wording.names import shows
from camerawright.wording.spoken import value

NAMES = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=30).map(str.strip).filter(shows)
SIZES = st.one_of(
    st.none(),
    st.sampled_from(["M1.7", "M1.7x0.35", "M2", "M6x1", "S0.8", "10BA", "0-80", "000-120", "1/4-20", "taper pin"]),
    NAMES,
)
HEADS = st.one_of(
    st.sampled_from(["cheese", "countersunk", "raised countersunk", "pan", "LH", "at", "Cheese Head"]), NAMES
)


@given(
    st.builds(
        Fastener,
        count=st.integers(1, 99),
        size=SIZES,
        length_mm=st.none() | st.sampled_from([0.5, 0.8, 1.0, 3.175, 4.0, 100.0]) | st.floats(1e-9, 100),
        head=st.none() | HEADS,
        hand=st.sampled_from(["left", "right"]),
        hole=st.none() | NAMES | st.sampled_from(["NE, 2 screws", "and 3 pins", '"', "at", "3 o'clock"]),
        through=st.none() | NAMES | st.sampled_from(["shoe", "shoe at the back", "M2"]),
    )
)
def test_every_fastener_reads_as_it_was_written(given_fastener: Fastener) -> None:
    assert fastener(written_fastener(given_fastener)) == given_fastener


@given(
    st.builds(
        Shim,
        place=NAMES | st.sampled_from(["3 o'clock", "0.1 NE", "mm scale", ", NE", "x NE", "? NE"]),
        count=st.integers(1, 99),
        thickness_mm=st.none() | st.sampled_from([0.05, 0.1, 0.0254, 1.0, 20.0]) | st.floats(1e-9, 20),
    )
)
def test_every_shim_reads_as_it_was_written(given_shim: Shim) -> None:
    assert shim(written_shim(given_shim)) == given_shim


@given(
    st.builds(
        Loose,
        what=NAMES | st.sampled_from(["ball 1.5 mm", "stop at 3", "at", "x spring", '"at" at', "1 x ball", "at at at"]),
        count=st.integers(1, 99),
        place=st.none() | NAMES | st.sampled_from(["NE", "at", "the rim at 3", '"']),
    )
)
def test_every_loose_part_reads_as_it_was_written(given_loose: Loose) -> None:
    assert loose(written_loose(given_loose)) == given_loose


@pytest.mark.parametrize(
    "text",
    [
        "3 x M1.7 x 4 cheese",
        "3 × M1.7 × 4 cheese",
        "3*M1.7*4 cheese",
        "3xM1.7x4 cheese",
        "three m1,7 by 4 mm long Cheese-head",
        "3 M 1.7 4mm cheese head",
        "  3  x  M1.7 x 4.0,  cheeseheads ",
        "3 x M1.7 x 4 RH cheese",
    ],
)
def test_a_quick_hand_is_read_as_what_it_meant(text: str) -> None:
    assert fastener(text) == Fastener(count=3, size="M1.7", length_mm=4, head="cheese")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2 x 10BA x 3", Fastener(count=2, size="10BA", length_mm=3)),
        ("2 10 ba LH", Fastener(count=2, size="10BA", hand="left")),
        ("1 x 0-80 x 1/8 in pan", Fastener(count=1, size="0-80", length_mm=3.175, head="pan")),
        ("4 x #2-56", Fastener(count=4, size="2-56")),
        ("1 x 1/4-20", Fastener(count=1, size="1/4-20")),
        ("3 x M1.7x0.35", Fastener(count=3, size="M1.7x0.35")),
        ("3 x M1.7 x .35 x 4", Fastener(count=3, size="M1.7x0.35", length_mm=4)),
        ("2 x M6 x 1 x 10", Fastener(count=2, size="M6x1", length_mm=10)),
        ("2 x M6 x 1", Fastener(count=2, size="M6", length_mm=1)),
        ("2 x M1.4 x 0.8 mm", Fastener(count=2, size="M1.4", length_mm=0.8)),
        ("1 x M1.2 csk left-hand", Fastener(count=1, size="M1.2", head="countersunk", hand="left")),
        ('2 x "taper pin" x 5 at the hinge', Fastener(count=2, size="taper pin", length_mm=5, hole="the hinge")),
        ("twelve s0.8 at 3 o'clock", Fastener(count=12, size="S0.8", hole="3 o'clock")),
        ("3 x M one point seven by four", Fastener(count=3, size="M1.7", length_mm=4)),
        ('one 0-80 by 3/16" long', Fastener(count=1, size="0-80", length_mm=4.7625)),
    ],
)
def test_threads_of_every_kind_are_read(text: str, expected: Fastener) -> None:
    assert fastener(text) == expected


# As it is said at the bench, from the vocabulary of the trade (common practice).
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2 screws", Fastener(count=2)),
        ("2 x screws", Fastener(count=2)),
        ("two screws", Fastener(count=2)),
        ("a screw", Fastener(count=1)),
        ("a pair of screws", Fastener(count=2)),
        ("2 × ?", Fastener(count=2)),
        ("1 x pin-slot screw", Fastener(count=1, head="pin-slot")),
        ("3 x cheese", Fastener(count=3, head="cheese")),
        ("3 countersunk screws", Fastener(count=3, head="countersunk")),
        ("3 csk machine screws", Fastener(count=3, head="countersunk")),
        ("2 x hinge pin", Fastener(count=2, size="hinge pin")),
        ("2 x hinge pins", Fastener(count=2, size="hinge pin")),
        ('2 x "hinge pin"', Fastener(count=2, size="hinge pin")),
        ("2 x “hinge pin”", Fastener(count=2, size="hinge pin")),
        ("2 x ‘taper pin’ x 5", Fastener(count=2, size="taper pin", length_mm=5)),
        ("2 taper pins x 5", Fastener(count=2, size="taper pin", length_mm=5)),
        ("an e-clip", Fastener(count=1, size="e-clip")),
        ("a circlip at the pivot", Fastener(count=1, size="circlip", hole="the pivot")),
        ("1 sir clip", Fastener(count=1, size="circlip")),
        ("3 x grub M1.4", Fastener(count=3, size="M1.4", head="grub")),
        ("3 x M1,4 grub", Fastener(count=3, size="M1.4", head="grub")),
        ("three grub screws M1.4", Fastener(count=3, size="M1.4", head="grub")),
        ("three crab screws", Fastener(count=3, head="grub")),
        ("4 countersunk M1.7 screws 3 mm", Fastener(count=4, size="M1.7", length_mm=3, head="countersunk")),
        ("3 M1.7 screws, four long", Fastener(count=3, size="M1.7", length_mm=4)),
        ("2 screws 4,5 mm long", Fastener(count=2, length_mm=4.5)),
        ("2 off M1.7 x 4", Fastener(count=2, size="M1.7", length_mm=4)),
        ("one left-hand screw", Fastener(count=1, hand="left")),
        ("one LH screw from the left", Fastener(count=1, hand="left", hole="the left")),
        ("1 screw under the scale", Fastener(count=1, hole="under the scale")),
        ("2 screws (NE and SW)", Fastener(count=2, hole="NE and SW")),
        ("2 screws at NE and SW", Fastener(count=2, hole="NE and SW")),
        ("1 x M2 x 8 cheese through accessory shoe at left",
         Fastener(count=1, size="M2", length_mm=8, head="cheese", through="accessory shoe", hole="left")),
        ("1 long screw through the shoe", Fastener(count=1, head="long", through="the shoe")),
        ("1 x 2-hole nut", Fastener(count=1, head="2-hole nut")),
        ("1 x slotted ring nut LH", Fastener(count=1, head="slotted ring nut", hand="left")),
        ("a locking ring LH", Fastener(count=1, head="locking ring", hand="left")),
        ("twenty-one screws", Fastener(count=21)),
        ("2 screws, NE and SW", Fastener(count=2, hole="NE and SW")),
        ("2 screws left and right", Fastener(count=2, hole="left and right")),
        ("2 screws, left hand side", Fastener(count=2, hole="left hand side")),  # no left-hand thread
        ("1 x M1.7 x 4 cheese, NE corner",
         Fastener(count=1, size="M1.7", length_mm=4, head="cheese", hole="NE corner")),
        ("2 screws, both long", Fastener(count=2, head="long")),
        ("4 screws, all alike, brass", Fastener(count=4, head="brass")),
        ("two set screws M1.4", Fastener(count=2, size="M1.4", head="set")),
        ("2 spring washers", Fastener(count=2, size="spring washer")),
        ("“3 x M1,4 x 1,6 cheese”", Fastener(count=3, size="M1.4", length_mm=1.6, head="cheese")),
        ("'2 screws'", Fastener(count=2)),
        ("3 x 1.7 x 4 cheese", Fastener(count=3, size="M1.7", length_mm=4, head="cheese")),
        ("2 screws 1,4 x 2", Fastener(count=2, size="M1.4", length_mm=2)),
    ],
)  # fmt: skip
def test_what_is_said_at_the_bench_is_understood(text: str, expected: Fastener) -> None:
    assert fastener(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2 x M1.7 x 4 cheese, 1 x M1.4 grub",
         (Fastener(count=2, size="M1.7", length_mm=4, head="cheese"), Fastener(count=1, size="M1.4", head="grub"))),
        ("2 screws and a pin", (Fastener(count=2), Fastener(count=1, size="pin"))),
        ("2 screws, 2 washers", (Fastener(count=2), Fastener(count=2, size="washer"))),
        ("2 M1,7 x 4, 2 M1,7 x 6",
         (Fastener(count=2, size="M1.7", length_mm=4), Fastener(count=2, size="M1.7", length_mm=6))),
        ("one long screw, two short screws", (Fastener(count=1, head="long"), Fastener(count=2, head="short"))),
        ("1 x M1.7 at NE, 1 x M1.7 x 6 at SW",
         (Fastener(count=1, size="M1.7", hole="NE"), Fastener(count=1, size="M1.7", length_mm=6, hole="SW"))),
        ('1 x M1.7 at "NE, 2 x left", 1 x M2',
         (Fastener(count=1, size="M1.7", hole="NE, 2 x left"), Fastener(count=1, size="M2"))),
    ],
)  # fmt: skip
def test_several_kinds_stand_in_a_line(text: str, expected: tuple[Fastener, ...]) -> None:
    assert fasteners(text) == expected


COUNTS = st.sampled_from([("2", 2), ("two", 2), ("2 x", 2), ("2×", 2), ("a pair of", 2), ("11", 11), ("eleven", 11)])
KINDS = st.sampled_from(["screw", "cheese-head screw", "grub", "pin", "nut", "hinge pin", "pin-slot screw", "stud"])
WORDS = st.text(st.characters(categories=["Ll", "Lu"]), min_size=3, max_size=12)
UNITS_AND_JOINTS = {
    "left", "right", "them", "these", "those", "which",
    "and", "plus", "with", "some", "several", "few", "off", "pcs", "thou", "turn", "turns", "inch", "inches",
    "mms", "mil", "mils", "micron", "microns", "tenth", "tenths", "thirds", "eighths", "pieces", "things",
    "bits", "nos", "lht", "none", "dozen", "more", "lot", "couple", "bunch", "handful", "number", "set",
    "load", "row", "stack", "pile", "long", "thick", "deep", "lefthand", "righthand", "lefthanded",
    "righthanded", "each",
}  # fmt: skip


@given(COUNTS, KINDS | WORDS)
def test_a_count_and_a_word_are_always_understood(count: tuple[str, int], kind: str) -> None:
    own = (
        {"left", "right", "them", "these", "those", "which"}
        | UNITS_AND_JOINTS
        | ALL_ALIKE
        | ELSEWHERE.keys()
        | NOT_THERE
        | WRONG_WITH_IT
        | ABOUT
        | LEFT_PERHAPS
    )
    if kind.casefold() in own or EACH.fullmatch(kind) or value(kind) is not None or kind[:1] in "xX×":
        return
    read = fastener(f"{count[0]} {kind}")
    assert read.count == count[1]
    assert read.length_mm is None
    assert read.size is None or "pin" in read.size or read.size == kind.casefold().removesuffix("s")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 x 0.10 NE corner", Shim(count=1, thickness_mm=0.1, place="NE corner")),
        ("1 × 0,10 mm, NE corner", Shim(count=1, thickness_mm=0.1, place="NE corner")),
        ("1x0.1 x NE corner", Shim(count=1, thickness_mm=0.1, place="NE corner")),
        ("two 50 µm under the lens board", Shim(count=2, thickness_mm=0.05, place="under the lens board")),
        ("1 x 1 thou NE", Shim(count=1, thickness_mm=0.0254, place="NE")),  # 1 in = 25.4 mm exactly (ISO 31-1:1992)
        ("1 x NE corner", Shim(count=1, place="NE corner")),
        ("1 x ? NE corner", Shim(count=1, place="NE corner")),
        ("2 x 3 o'clock", Shim(count=2, place="3 o'clock")),
        ("2 x 0.2 3 o'clock", Shim(count=2, thickness_mm=0.2, place="3 o'clock")),
        ("0.1 NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        ("0,1 NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        ("0.1NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        (".05 mm, NE", Shim(count=1, thickness_mm=0.05, place="NE")),
        ("100 µm at NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        ("point one NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        ("a shim, 0.1, NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        ("two shims of 0.1 at NE", Shim(count=2, thickness_mm=0.1, place="NE")),
        ("2 x NE 0.1", Shim(count=2, thickness_mm=0.1, place="NE")),
        ("2 thou under the cell", Shim(count=1, thickness_mm=0.0508, place="under the cell")),
        ("one shim NE", Shim(count=1, place="NE")),
        ("? NW", Shim(count=1, place="NW")),
        ("shim 0.1 NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        ("paper 0,08 mm SW", Shim(count=1, thickness_mm=0.08, place="paper SW")),
        ("foil at the post", Shim(count=1, place="the post")),
        ("“0.1 NE”", Shim(count=1, thickness_mm=0.1, place="NE")),
    ],
)
def test_shims_are_read(text: str, expected: Shim) -> None:
    assert shim(text) == expected


def test_several_shims_and_loose_parts_stand_in_a_line() -> None:
    assert shims("1 x 0.10 NE, 2 x 0,05 SW") == (
        Shim(count=1, thickness_mm=0.1, place="NE"),
        Shim(count=2, thickness_mm=0.05, place="SW"),
    )
    assert shims("0.1 NE, 3 o'clock side") == (Shim(count=1, thickness_mm=0.1, place="NE, 3 o'clock side"),)
    assert loose_parts("ball and spring") == (Loose(what="ball"), Loose(what="spring"))
    assert loose_parts("a ball, two springs at the rim") == (
        Loose(what="ball"),
        Loose(what="springs", count=2, place="the rim"),
    )


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 x ball 1.5 mm", Loose(what="ball 1.5 mm")),
        ("two detent springs at the dial rim", Loose(what="detent springs", count=2, place="the dial rim")),
        ("3×pawl", Loose(what="pawl", count=3)),
        ('1 x "stop at 3" at the cam', Loose(what="stop at 3", place="the cam")),
        ("ball 1.5 mm", Loose(what="ball 1.5 mm")),  # one needs no number
        ("1,5 mm ball", Loose(what="1,5 mm ball")),
        ("pallet spring", Loose(what="pallet spring")),
        ("the pawl from the ratchet", Loose(what="pawl", place="the ratchet")),
        ("spring under the ball", Loose(what="spring", place="under the ball")),  # no ball came out with it
    ],
)
def test_loose_parts_are_read(text: str, expected: Loose) -> None:
    assert loose(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("red from tag to meter", (Lead(colour="red", start="tag", end="meter"),)),
        ("red and black to galvo", (Lead(colour="red", end="galvo"), Lead(colour="black", end="galvo"))),
        ("two leads, red and black", (Lead(colour="red"), Lead(colour="black"))),
        ("red to galvo, black to cell", (Lead(colour="red", end="galvo"), Lead(colour="black", end="cell"))),
        ("red lead to meter and black to tag", (Lead(colour="red", end="meter"), Lead(colour="black", end="tag"))),
        ("red from tag to meter and earth", (Lead(colour="red", start="tag", end="meter and earth"),)),
        ("red/black to galvo", (Lead(colour="red/black", end="galvo"),)),  # one lead in two colours
        ("black and white striped", (Lead(colour="black and white striped"),)),
        ("2 black to socket", (Lead(colour="black", count=2, end="socket"),)),
    ],
)
def test_each_lead_of_its_own_colour_is_one(text: str, expected: tuple[Lead, ...]) -> None:
    assert leads(text) == expected


@pytest.mark.parametrize("text", ["one red one black to galvo", "3 red and black", "red and a few others"])
def test_unclear_leads_are_asked_about(text: str) -> None:
    with pytest.raises(NotUnderstood, match="red from battery tag to meter"):
        leads(text)


@pytest.mark.parametrize("colour", ["red and black", "red", "2 leads, red", '"', "one, two", "from red to black"])
def test_a_lead_reads_as_it_was_written(colour: str) -> None:
    given_lead = Lead(colour=colour, end="galvo")
    assert leads(written_lead(given_lead)) == (given_lead,)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("", ""),
        ("M1.7 x 4", "M1.7 x 4"),  # how many is never taken for granted
        ("3 x", ""),
        ("3", ""),
        ("some screws", "some screws"),
        ("a few screws", "a few screws"),
        ("two or three screws", "two or three screws"),
        ("2-3 screws", "2-3 screws"),
        ("2 of 3 screws", "3 screws"),
        ("10BA x 3", "10BA x 3"),  # a thread is no count
        ("4 mm screws", "4 mm screws"),  # nor is a length
        ("3 x 4", "4"),
        ("2 screws 4", "4"),  # 4 mm, or 4 more?
        ("3 x M1.7 x", "x"),
        ("3 screws, one longer", "one longer"),  # one more, or one of the three?
        ("2 pan, 1 cheese", "1 cheese"),
        ("2 screws and washers", "and washers"),  # how many washers?
        ("2 screws, left one shorter", "left one shorter"),
        ("2 screws, the left shorter", "left shorter"),
        ("2 screws, outer ones longer", "outer ones longer"),
        ("2 screws shorter left", "shorter left"),
        ("2 screws (left one shorter)", "one"),
        ("2 screws on the left, shorter", "shorter"),
        ("3 screws two long one short", "one short"),
        ("3 screws, longest at hinge", "longest at hinge"),
        ("3 screws, different lengths", "different lengths"),
        ("2 screws, NE one is M2", "NE one is M2"),
        ("2 screws, slot damaged", "damaged"),  # that is a finding
        ("1 screw, chewed", "chewed"),
        ("2 leaf springs", "springs"),  # no screws
        ("1 ball", "ball"),
        ("2 shims", "shims"),
        ("2 screws, 1 spring", "spring"),
        ("2 x 2 x 5 csk", "2 x 5 csk"),  # M2, 2BA or #2?
        ("2 pieces", "pieces"),
        ("2 screws with a washer", "with a washer"),  # one in all, or one with each?
        ("2 screws with 2 washers", "with 2 washers"),
        ("3 x M1.7 x 4 cheese @@", "@@"),
        ("0 x M1.7 x 4", "0"),
        ("100 x M1.7 x 4", "100"),
        ("3 x M1.7 x 400", "400"),
        ("3 x M1.7 x 1/0 in", "x 1/0 in"),
    ],
)
def test_an_unclear_fastener_is_refused_with_its_place_and_an_example(text: str, place: str) -> None:
    with pytest.raises(NotUnderstood) as refused:
        fastener(text)
    assert (f"at “{place}”" if place else "at the end" if text else "nothing is written") in refused.value.what
    assert "3 x M1.7 x 4 cheese" in str(refused.value)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "NE corner",
        "1 x 0.1",
        "0.1",
        "1 x 30 NE",
        "0 x 0.1 NE",
        "1 x 0 NE",
        "two NE, one SW",
        "two tenths NE",  # 0.2 mm, or two of a tenth?
        "5 hundredths NE",
        "brass shims NE",
    ],
)
def test_an_unclear_shim_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(NotUnderstood, match=r"1 x 0\.10 NE corner"):
        shim(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "balls",  # how many?
        "ball x 2",
        "a handful of balls",
        "2 balls and springs",
        "two springs, left one shorter",  # of which of them?
        "spring under the ball, pawl",  # one more, or its place?
        "1 x",
        "0 x ball",
        "100 x ball",
        '1 x "ball" loose',
        "1 x " + "b" * 121,
    ],
)
def test_an_unclear_loose_part_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(NotUnderstood, match=r"1 x ball 1\.5 mm"):
        loose(text)


@pytest.mark.parametrize(
    ("said", "written"),
    [
        ("2 screws", "2 × screw"),
        ("a locking ring LH", "1 × locking ring LH"),
        ("a slotted ring nut", "1 × slotted ring nut"),
        ("2 x hinge pins", "2 × hinge pin"),
        ("three grub screws", "3 × grub screw"),
        ("1 screw under the scale", "1 × screw under the scale"),
    ],
)
def test_what_was_left_open_is_written_as_one_says_it(said: str, written: str) -> None:
    assert written_fastener(fastener(said)) == written


# What a stranger was misunderstood in, and its relatives.
@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("4 x M2 x 3 in the corners", Fastener(count=4, size="M2", length_mm=3, hole="in the corners")),
        ("2 M1.7 x 4 in NE", Fastener(count=2, size="M1.7", length_mm=4, hole="in NE")),
        ("2 x M2 x 4 in the accessory shoe", Fastener(count=2, size="M2", length_mm=4, hole="in the accessory shoe")),
        ("2 x M2 x 3 in a place", Fastener(count=2, size="M2", length_mm=3, hole="in a place")),
        ("2 x 8BA x 1/4 in in the corners", Fastener(count=2, size="8BA", length_mm=6.35, hole="in the corners")),
        ("2 x 8BA x 1/4 in. at the shoe", Fastener(count=2, size="8BA", length_mm=6.35, hole="the shoe")),
        ("2 x 8BA x 1/4 in", Fastener(count=2, size="8BA", length_mm=6.35)),
        ("1 x 8BA x 1/4”", Fastener(count=1, size="8BA", length_mm=6.35)),
        ("2 x 8BA x a quarter of an inch", Fastener(count=2, size="8BA", length_mm=6.35)),
        ("3 x M1.7 x 4 1/2", Fastener(count=3, size="M1.7", length_mm=4.5)),
        ("3 x M1.7 x 4 and a half", Fastener(count=3, size="M1.7", length_mm=4.5)),
        ("3 x M2 x 0.4 cm", Fastener(count=3, size="M2", length_mm=4)),
        ("3 x M2 x 80 thou", Fastener(count=3, size="M2", length_mm=2.032)),  # an inch is 25.4 mm (ISO 31-1:1992)
        ("3 x M2 x 2000 µm", Fastener(count=3, size="M2", length_mm=2)),
        ("two M2 screws three millimetres long", Fastener(count=2, size="M2", length_mm=3)),
        ("a couple of M2 screws", Fastener(count=2, size="M2")),
        ("two dozen screws", Fastener(count=24)),
        ("3no M2 x 3", Fastener(count=3, size="M2", length_mm=3)),
        ("3 nos M2 x 3", Fastener(count=3, size="M2", length_mm=3)),
        ("2-off M2x3", Fastener(count=2, size="M2", length_mm=3)),
        ("M2 x 4, 3 of", Fastener(count=3, size="M2", length_mm=4)),
        ("M2 x 4 (3)", Fastener(count=3, size="M2", length_mm=4)),
        ("M2 x 4 x 3 off", Fastener(count=3, size="M2", length_mm=4)),
        ("3 x M2 x 4 left of the shoe", Fastener(count=3, size="M2", length_mm=4, hole="left of the shoe")),
        ("1 x M2 x 3 to the left", Fastener(count=1, size="M2", length_mm=3, hole="to the left")),
        ("1 x M2 x 3 3 o'clock", Fastener(count=1, size="M2", length_mm=3, hole="3 o'clock")),
        ("2 x No. 10 BA", Fastener(count=2, size="10BA")),
        ('1 x 1/4" BSW', Fastener(count=1, size="1/4 BSW")),
        ("1 x 1/4 in Whitworth x 3/8 in", Fastener(count=1, size="1/4 BSW", length_mm=9.525)),
        ('1 x 1/4"-20', Fastener(count=1, size="1/4-20")),
        ("1 x 4-40 UNC x 1/4 in", Fastener(count=1, size="4-40", length_mm=6.35)),
        ("３ × Ｍ１．７ × ４", Fastener(count=3, size="M1.7", length_mm=4)),
        ("3 x M1.7 x 4 cheese-heads", Fastener(count=3, size="M1.7", length_mm=4, head="cheese")),
        ("1 roll pin 1.5 x 6", Fastener(count=1, size="roll pin 1.5 mm", length_mm=6)),
        ("2 dowels 2 mm x 5 mm", Fastener(count=2, size="dowel 2 mm", length_mm=5)),
        ("3 M twos", Fastener(count=3, size="M2")),
        ("3 x M1.7 x 4 NE, SE and SW", Fastener(count=3, size="M1.7", length_mm=4, hole="NE, SE and SW")),
        ("3 x M1.7 x 4 round the edge", Fastener(count=3, size="M1.7", length_mm=4, hole="round the edge")),
        ("2 x M1.7 x 4 - NE and SW", Fastener(count=2, size="M1.7", length_mm=4, hole="NE and SW")),
        ("2 x M2 x 3 @ NE", Fastener(count=2, size="M2", length_mm=3, hole="NE")),
        ("2 x M2 (3 mm)", Fastener(count=2, size="M2", length_mm=3)),
        ("2 x M2 x ?", Fastener(count=2, size="M2")),
        ("2 x M2 grubscrews", Fastener(count=2, size="M2", head="grub")),
        ("2 x M2 set-screw", Fastener(count=2, size="M2", head="set")),
        ("2 screws.", Fastener(count=2)),
        ("1 x pin ø1 x 6", Fastener(count=1, size="pin 1 mm", length_mm=6)),
    ],
)
def test_a_fastener_is_read_as_it_was_meant(text: str, expected: Fastener) -> None:
    assert fastener(text) == expected
    assert fastener(written_fastener(expected)) == expected


@pytest.mark.parametrize(
    "said",
    [
        "left hand", "left-hand", "lefthand", "left handed", "lefthanded", "LH", "L.H.", "L/H", "LHT",
        "left-hand thread", "left hand thread", "lefthand threads", "with a left-hand thread", "left thread",
        ", left hand", "(LH)", "(left hand)", "reverse thread", "reversed thread",
    ],
)  # fmt: skip
def test_left_hand_is_the_hand_of_the_thread(said: str) -> None:
    assert fastener(f"2 x M2 x 3 {said}") == Fastener(count=2, size="M2", length_mm=3, hand="left")


@pytest.mark.parametrize(
    "said", ["left hand side", "left-hand corner", "on the left hand side", "left hand top corner"]
)
def test_left_hand_before_a_side_is_a_place(said: str) -> None:
    read = fastener(f"2 x M2 x 3 {said}")
    assert (read.hand, read.hole) == ("right", said)


def test_washers_are_as_many_as_what_each_is_with() -> None:
    screws = Fastener(count=2, size="M2", length_mm=3)
    washers = Fastener(count=2, size="washer")
    for text in ("2 x M2 x 3 with washers", "2 x M2 x 3, each with a washer", "2 x M2 x 3 with a washer each"):
        assert fasteners(text) == (screws, washers)
    assert fasteners("1 screw with a spring washer") == (Fastener(count=1), Fastener(count=1, size="spring washer"))


def test_none_is_none() -> None:
    assert not any((fasteners("no screws"), shims("no shims"), loose_parts("none"), leads("no leads")))


@pytest.mark.parametrize(
    ("text", "asks"),
    [
        # a unit that may be either
        ("1 x 0-80 x 1/8", "mm or inches? Write 1/8 mm or 1/8 in"),
        ("2 x 10BA x 1/8", "mm or inches"),
        ("2 x 10BA x 1 1/4", "mm or inches"),
        ("4 x 4-40 x .25", "mm or inches"),
        ("2 x M2 x 5/32", "mm or inches"),
        ("1 x 1/4 BSW x 3/8", "mm or inches"),
        ("2 screws 1/8 long", "mm or inches"),
        ("2 x M2 x 3 in cheese", "mm or inches"),
        ("2 x M2 x 3 mil", "millimetres or thou"),
        ("2 x 2 mm screws", "thick, or long"),
        # a count that may be that of each
        ("one M2 x 3 in each corner", "1 in all, or 1 at each"),
        ("1 x M2 x 3 each corner", "1 in all, or 1 at each"),
        ("2 x M2 x 3 each side", "2 in all, or 2 at each"),
        ("2 x M2 x 3 either side", "in all, or"),
        ("2 x M2 x 3 per side", "how many are they in all"),
        ("2 x M2 x 3 both sides", "in all, or"),
        ("2 x M2 x 3 twice", "how many are they in all"),
        ("1 x M2 x 3 at NE and SW", "how many are they in all"),
        ("1 x M2 x 3 in the corners", "how many are they in all"),
        # some of them, or what never came out
        ("2 x M2 x 3 one stripped", "of which of them"),
        ("2 x M2 one stripped", "of which of them"),
        ("1 missing, 2 x M2 x 3", "did not come out"),
        ("2 x M2 x 3 missing", "did not come out"),
        ("2 x M2 x 3 stripped", "is a finding"),
        ("2 x M2 x 3 approx", "exactly"),
        # nothing, or nothing that there is
        ("2 x M2 x 0", "greater than 0"),
        ("2 x M0", "no thread is so thin"),
        ("2 x M2 x 3 x 4", "a length"),
        # the hand, or a place
        ("2 x M2 x 3 at left hand", "Write LH"),
        ("2 x M2 x 3 reversed", "Write LH"),
        ("2 x M2 x 3 NE LH", "is this a place"),
        ("2 x M2 x 3 top plate", "is this a place"),
        ("1 x M2 x 3 at left LH", "Write LH"),
        ("1 left screw", "Write LH"),
        # more of them, or of what is with them
        ("1 screw, washer", "how many of each"),
        ("2 x M2 x 3, washers", "how many of each"),
        ("1 x M1.7 x 4 at the shoe, the other two M1.7 x 3", "are these more of them"),
        ("two of them", "what came out"),
        ("2 x M2 x 3 (5)", "what is this number"),
        ("1 circlip 4 mm", "thick, or long"),
    ],
)
def test_what_may_be_read_in_two_ways_is_asked_about(text: str, asks: str) -> None:
    with pytest.raises(NotUnderstood) as asked:
        fasteners(text)
    assert asks in asked.value.what


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ('0.002" NE', Shim(count=1, thickness_mm=0.0508, place="NE")),  # an inch is 25.4 mm exactly (ISO 31-1:1992)
        ("0.002 inch NE", Shim(count=1, thickness_mm=0.0508, place="NE")),
        ("0.002in NE", Shim(count=1, thickness_mm=0.0508, place="NE")),
        ("1 x .002 in. NE", Shim(count=1, thickness_mm=0.0508, place="NE")),
        ("1 x 0.004 in, NE", Shim(count=1, thickness_mm=0.1016, place="NE")),
        ("two thousandths of an inch NE", Shim(count=1, thickness_mm=0.0508, place="NE")),
        ("1 x 0.1 cm NE", Shim(count=1, thickness_mm=1, place="NE")),
        ("50 micrometres NE", Shim(count=1, thickness_mm=0.05, place="NE")),
        ("0.10 in the corner", Shim(count=1, thickness_mm=0.1, place="in the corner")),
        ("a tenth NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        ("half a tenth NE", Shim(count=1, thickness_mm=0.05, place="NE")),
        ("half a millimetre NE", Shim(count=1, thickness_mm=0.5, place="NE")),
        ("five hundredths of a mm NE", Shim(count=1, thickness_mm=0.05, place="NE")),
        ("a couple of 0.1 NE", Shim(count=2, thickness_mm=0.1, place="NE")),
        ("0.1 NE, 2 off", Shim(count=2, thickness_mm=0.1, place="NE")),
        (",1 NE", Shim(count=1, thickness_mm=0.1, place="NE")),
        ("３ x ０．１ NE", Shim(count=3, thickness_mm=0.1, place="NE")),
        ('3 x 0.1 "each corner"', Shim(count=3, thickness_mm=0.1, place="each corner")),
    ],
)
def test_a_shim_is_read_as_it_was_meant(text: str, expected: Shim) -> None:
    assert shim(text) == expected
    assert shim(written_shim(expected)) == expected


def test_shims_without_counts_stand_in_a_line() -> None:
    ne, sw = Shim(count=1, thickness_mm=0.1, place="NE"), Shim(count=1, thickness_mm=0.05, place="SW")
    assert shims("0.1 NE, 0.05 SW") == shims("0.1 NE and 0.05 SW") == shims("0.1 NE + .05 SW") == (ne, sw)


@pytest.mark.parametrize(
    "text",
    ["0.10 + 0.05 NE", "0.10 and 0.05 NE", "0.10, 0.05 NE", "2 thou + 1 thou NE", "0.1 twice NE", "0.1 x 2 NE",
     "0.1 NE x 2", "0.1 a pair NE", "1 x 0.10 in each corner", "0.1 each side", "2 x 0.1 either side", "0.1 both sides",
     "a shim under each post", "0.1 NE and SW", "0.1 NE, another SW", "shim NE, shim SW", "0.1 or 0.2 NE", "0.1? NE",
     "two thou and a half NE", "0.15 total NE"],
)  # fmt: skip
def test_a_shim_that_may_be_several_is_asked_about(text: str) -> None:
    with pytest.raises(NotUnderstood, match=r"how many|one shim"):
        shims(text)


@pytest.mark.parametrize("text", [".002 in NE corner", "0.002 NE", "0.010 in NE", "1 x 1/64 NE", "0.1 mil NE"])
def test_a_thickness_that_may_be_in_inches_is_asked_about(text: str) -> None:
    with pytest.raises(NotUnderstood, match=r"mm or inches|millimetres or thou"):
        shims(text)


@pytest.mark.parametrize(
    "text",
    ["ball in each corner", "1 x spring each side", "a ball twice", "one ball per hole", "two each of ball and spring",
     "1 x pawl or click", "another ball", "ball x3", "1 x spring at NE and SW", "a ball at both ends"],
)  # fmt: skip
def test_a_loose_part_that_may_be_several_is_asked_about(text: str) -> None:
    with pytest.raises(NotUnderstood, match="how many"):
        loose_parts(text)


@pytest.mark.parametrize("text", ["spring missing", "1 spring, missing", "1 ball lost"])
def test_a_loose_part_that_was_missing_did_not_come_out(text: str) -> None:
    with pytest.raises(NotUnderstood, match="did not come out"):
        loose_parts(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("a couple of balls", Loose(what="balls", count=2)),
        ("3no ball 1.5 mm", Loose(what="ball 1.5 mm", count=3)),
        ("balls, 3 of", Loose(what="balls", count=3)),
        ("ball 1.5 mm (3)", Loose(what="ball 1.5 mm", count=3)),
        ("ball 1/16 in at the rim", Loose(what="ball 1/16 in", place="the rim")),
        ("ball 1/16 in in the rim", Loose(what="ball 1/16 in", place="in the rim")),
        ('3 x ball at "each corner"', Loose(what="ball", count=3, place="each corner")),
    ],
)
def test_a_loose_part_is_read_as_it_was_meant(text: str, expected: Loose) -> None:
    assert loose(text) == expected
    assert loose(written_loose(expected)) == expected


@pytest.mark.parametrize(
    "text",
    ["red from each cell to the meter", "red to both cells", "red twice to the meter", "red x 2", "red or brown"],
)
def test_a_lead_that_may_be_several_is_asked_about(text: str) -> None:
    with pytest.raises(NotUnderstood, match="how many"):
        leads(text)
    assert leads('2 × "red" from "each cell" to "meter"') == (
        Lead(colour="red", count=2, start="each cell", end="meter"),
    )
