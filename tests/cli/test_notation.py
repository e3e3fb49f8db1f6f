"""Fasteners, shims and loose parts as lines of text: spellings read as one, and what is unclear is refused."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.journal.entries import Fastener, Loose, Shim
from camerawright.journal.notation import fastener, loose, shim, written_fastener, written_loose, written_shim
from camerawright.trouble import NotUnderstood

NAMES = st.text(min_size=1, max_size=30).map(str.strip).filter(bool)
SIZES = st.one_of(
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
        hole=st.none() | NAMES,
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
    ],
)
def test_threads_of_every_kind_are_read(text: str, expected: Fastener) -> None:
    assert fastener(text) == expected


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
    ],
)
def test_shims_are_read(text: str, expected: Shim) -> None:
    assert shim(text) == expected


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("1 x ball 1.5 mm", Loose(what="ball 1.5 mm")),
        ("two detent springs at the dial rim", Loose(what="detent springs", count=2, place="the dial rim")),
        ("3×pawl", Loose(what="pawl", count=3)),
        ('1 x "stop at 3" at the cam', Loose(what="stop at 3", place="the cam")),
    ],
)
def test_loose_parts_are_read(text: str, expected: Loose) -> None:
    assert loose(text) == expected


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("", ""),
        ("M1.7 x 4", "M1.7 x 4"),  # how many is never taken for granted
        ("3 x", ""),
        ("3 x cheese", "cheese"),
        ("3 x 4", "4"),
        ("3 x M1.7 x four", "x four"),
        ("3 x M1.7 x", "x"),
        ("3 x M1.7 x 4 cheese @@", "@@"),
        ("0 x M1.7 x 4", "0"),
        ("100 x M1.7 x 4", "100"),
        ("3 x M1.7 x 400", "400"),
        ("3 x M1.7 x 1/0 in", ""),
    ],
)
def test_an_unclear_fastener_is_refused_with_its_place_and_an_example(text: str, place: str) -> None:
    with pytest.raises(NotUnderstood) as refused:
        fastener(text)
    assert (f"at “{place}”" if place else "at the end" if text else "nothing is written") in refused.value.what
    assert "3 x M1.7 x 4 cheese" in str(refused.value)


@pytest.mark.parametrize("text", ["", "NE corner", "1 x 0.1", "1 x 0.1NE", "1 x 30 NE", "0 x 0.1 NE", "1 x 0 NE"])
def test_an_unclear_shim_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(NotUnderstood, match=r"1 x 0\.10 NE corner"):
        shim(text)


@pytest.mark.parametrize(
    "text", ["", "ball 1.5 mm", "1 x", "0 x ball", "100 x ball", '1 x "ball" loose', "1 x " + "b" * 121]
)
def test_an_unclear_loose_part_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(NotUnderstood, match=r"1 x ball 1\.5 mm"):
        loose(text)
