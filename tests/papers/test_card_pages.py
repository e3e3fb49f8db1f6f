"""The cards for the bench, measured on the page as a rule would; what holds for every paper is in `test_papers`."""

import re
from dataclasses import replace
from io import BytesIO

import numpy as np
import numpy.typing as npt
import pypdfium2
import pytest
from pypdf import PdfReader
from scipy import ndimage

from camerawright.papers.render import render
from tests.papers import card_examples as invented
from tests.papers.card_examples import CARDS
from tests.papers.test_papers import MM_PER_INCH, ink, longest_run, words

DPI = 600
TOLERANCE_MM = 0.2

Ink = npt.NDArray[np.bool_]


def mm(pixels: float) -> float:
    """A distance on the page. [mm]"""
    return pixels * MM_PER_INCH / DPI


def printed(name: str) -> bytes:
    """One of the invented cards."""
    template, content = CARDS[name]
    return render(template, content)


def pages(pdf: bytes) -> list[str]:
    """The text of each page."""
    return [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]


def test_cautions_stand_on_the_tray_and_screw_cards() -> None:
    tray = replace(CARDS["tray, 1"][1], cautions=("Flammable: naphtha flashes at -40 °C.",))
    assert "1 Flammable: naphtha flashes at" in words(render("tray", tray))
    screws = replace(CARDS["screws, 1"][1], cautions=("Keep the screws of each part together.",))
    assert "⚠ Keep the screws of each part together." in words(render("screws", screws))


@pytest.mark.parametrize(
    "name", ["strip, 1", "tray, 1", "screws, 1", "shims, 1", "hazards, 1", "lubrication, 1", "resume, 1", "owner, 1"]
)
def test_each_card_carries_a_check_bar_of_100_mm(name: str) -> None:
    """The longest unbroken run of ink in the foot, and the distance over its end strokes 2.5 mm higher."""
    drawn = ink(printed(name), 0, DPI)
    top = drawn.shape[0] - round(22 / MM_PER_INCH * DPI)
    length, start, y = max((*longest_run(row), y) for y, row in enumerate(drawn[top:], top))
    assert mm(length) == pytest.approx(100, abs=TOLERANCE_MM)
    strokes = np.flatnonzero(drawn[y - round(2.5 / MM_PER_INCH * DPI), : start + length + 5])
    assert mm(strokes[-1] - strokes[0] + 1) == pytest.approx(100, abs=TOLERANCE_MM)


# Screw card


def rings(drawn: Ink) -> list[tuple[float, float]]:
    """Width and height of each thin closed round line: letters are thicker, crosshairs open. [mm]"""
    labels, _ = ndimage.label(drawn, structure=np.ones((3, 3)))
    found = []
    for i, (rows, columns) in enumerate(ndimage.find_objects(labels), start=1):
        piece = labels[rows, columns] == i
        high, wide = mm(piece.shape[0]), mm(piece.shape[1])
        filled = ndimage.binary_fill_holes(piece)
        is_round = abs(high - wide) < 0.1 and abs(filled.sum() / piece.size - np.pi / 4) < 0.06
        thickness_mm = mm(piece.sum() / (np.pi * max(piece.shape)))
        if is_round and 0.8 < wide < 20 and not piece[piece.shape[0] // 2, piece.shape[1] // 2] and thickness_mm < 0.2:
            found.append((wide, high))
    return found


@pytest.mark.parametrize("diameter_mm", [1.0, 1.7, 2.6, 6.35])
def test_a_ring_is_as_wide_as_its_thread(diameter_mm: float) -> None:
    """Three screws, three rings; over their outer edges."""
    drawn = ink(render("screws", invented.one_screw(diameter_mm, 4, count=3)), 0, DPI)
    found = rings(drawn)
    assert len(found) == 3
    assert np.array(found) == pytest.approx(diameter_mm, abs=TOLERANCE_MM / 2)


@pytest.mark.parametrize("length_mm", [1.2, 3.0, 4.762, 12.0, 37.5, 100.0])
def test_the_line_to_lay_a_screw_on_is_as_long_as_the_screw(length_mm: float) -> None:
    """Between the outer edges of its end strokes, which are 5 mm high: nothing else on the card is that."""
    drawn = ink(render("screws", invented.one_screw(1.7, length_mm)), 0, DPI)
    high = round(5 / MM_PER_INCH * DPI)
    labels, _ = ndimage.label(drawn, structure=np.ones((3, 3)))
    spans = [
        mm(columns.stop - columns.start)
        for i, (rows, columns) in enumerate(ndimage.find_objects(labels), start=1)
        if abs(rows.stop - rows.start - high) <= 3
        and (labels[rows, columns] == i)[:, :6].any(axis=1).mean() > 0.9  # a whole stroke at its left end
        and not (labels[rows, columns] == i)[high // 4, 8:-8].any()  # and nothing above the line
    ]
    assert spans == [pytest.approx(length_mm, abs=TOLERANCE_MM)]


def test_a_left_handed_screw_is_told_in_words() -> None:
    text = words(printed("screws, 1"))
    assert "2 × 10BA × 6 countersunk LEFT-HAND" in text
    assert text.count("LEFT-HAND") == 1


def test_a_screw_without_a_length_leaves_room_to_write_it() -> None:
    kind = replace(invented.one_screw(1.7, 4).parts[0].screws[0], length_mm=None, length="")
    card = replace(invented.one_screw(1.7, 4), parts=(replace(invented.one_screw(1.7, 4).parts[0], screws=(kind,)),))
    assert re.search(r"length\s+mm", words(render("screws", card)))


def test_ninety_nine_screws_of_one_part_all_get_a_hole() -> None:
    pdf = render("screws", invented.one_screw(1.7, 4, count=99))
    n_rings = sum(len(rings(ink(pdf, page, DPI))) for page in range(len(pages(pdf))))
    assert n_rings == 99


# Shim card


@pytest.mark.parametrize(("count", "layer_mm"), [(1, 5.0), (3, 2.5), (5, 1.0)])
def test_a_stack_is_drawn_layer_by_layer_at_its_scale(count: int, layer_mm: float) -> None:
    """Each layer is a grey field 38 mm wide between two dark lines, measured over the lines."""
    of_part = replace(invented.shims(1).parts[0], stacks=(invented.stack("NE corner", count, layer_mm),))
    drawn = ink(render("shims", replace(invented.shims(1), parts=(of_part,))), 0, DPI)
    labels, _ = ndimage.label(drawn, structure=np.ones((3, 3)))
    layers = [
        mm(rows.stop - rows.start)
        for rows, columns in ndimage.find_objects(labels)
        if mm(columns.stop - columns.start) == pytest.approx(38, abs=TOLERANCE_MM)
    ]
    assert layers == [pytest.approx(layer_mm, abs=TOLERANCE_MM / 2)] * count


def test_shims_beyond_those_drawn_are_counted_in_words() -> None:
    assert "29 more not drawn" in words(printed("shims, 1"))


# Tray card, strip, hazards, lubrication, resume


def test_a_tray_cell_is_never_cut_by_a_page() -> None:
    text = pages(printed("tray, 60"))
    for i in range(60):
        label = f"{'ABCDEFGHIJKLMNOP'[i // 4]}{i % 4 + 1}"
        holding = [page for page in text if re.search(rf"\b{label}\b", page)]
        assert len(holding) == 1
        assert invented.part(i) in " ".join(holding[0].replace("\u200b", "").split())


def test_a_cell_that_holds_nothing_any_more_says_so() -> None:
    assert "lid of the blue tin empty" in words(printed("tray, 1"))


def test_a_part_that_must_stay_dry_says_so_beside_its_name() -> None:
    assert re.search(r"rear lens cell 1 .{0,90}never wet", words(printed("tray, 1")))
    assert "never wet" not in words(render("tray", replace(invented.tray(0), rows=invented.tray(3).rows[:0])))


def test_the_strip_gives_each_step_a_box_and_its_number_in_order() -> None:
    text = words(printed("strip, 60"))
    numbered = [
        int(n) for n in re.findall(r"(?<![\w.])(\d+) (?:rear lens|slow-speed|speed cam|front plate|retaining)", text)
    ]
    assert numbered == [i + 1 for i in range(60) if i % 10 < 5]


def test_a_step_of_the_strip_is_not_cut_by_a_page() -> None:
    """A rich step's first line (its caution) and its last but one (what is loose) are as many on each page."""
    text = pages(printed("strip, 60"))
    counts = [(page.count("hairpin"), len(re.findall(r"2\s×\sball", page))) for page in text]
    assert all(first == last for first, last in counts)
    assert sum(first for first, _ in counts) == 20


def test_what_escapes_is_said_before_the_caution() -> None:
    text = words(printed("hazards, 1"))
    assert re.search(r"rear lens cell 1 goes back ⚠ Escapes: return spring, ball 1\.5 mm ⚠ It jumps off", text)


def test_what_stays_dry_has_a_table_of_its_own() -> None:
    text = words(render("lubrication", invented.lubrication(5)))
    wet, rest = text.split("Stays dry")
    dry, untouched = rest.split("Of parts that were not off")
    assert "speed cam 3" in dry
    assert "speed cam 3" not in wet
    assert "slow-speed train 2" in untouched
    assert "✓ rear lens cell 1 pivot 1, lower plate film synthetic clock oil, batch 0 this job" in wet


@pytest.mark.parametrize("n", [0, 1, 5])
def test_the_resume_card_is_one_page(n: int) -> None:
    assert len(pages(render("resume", invented.resume(n)))) == 1


# Owner's card


def test_the_owners_card_has_the_size_of_a_bank_card_twice() -> None:
    """[iso-7810], ID-1: 85.60 mm x 53.98 mm, corner radius 3.18 mm (from memory), over the outer edges."""
    labels, _ = ndimage.label(ink(render("owner", invented.owner(11)), 0, DPI), structure=np.ones((3, 3)))
    outlines = [
        (i, rows, columns)
        for i, (rows, columns) in enumerate(ndimage.find_objects(labels), start=1)
        if 80 < mm(columns.stop - columns.start) < 90
    ]
    assert len(outlines) == 2
    for i, rows, columns in outlines:
        assert mm(columns.stop - columns.start) == pytest.approx(85.60, abs=TOLERANCE_MM)
        assert mm(rows.stop - rows.start) == pytest.approx(53.98, abs=TOLERANCE_MM)
        piece = labels[rows, columns] == i
        on_diagonal = mm(np.flatnonzero(np.diag(piece[:200, :200]))[0])
        assert on_diagonal / (1 - 2**-0.5) == pytest.approx(3.18, abs=TOLERANCE_MM)  # where a circle's arc crosses it


def test_eight_cut_marks_stand_outside_each_owners_card() -> None:
    """3 mm long and thinner than 0.3 mm, 1 mm away from the card."""
    labels, _ = ndimage.label(ink(render("owner", invented.owner(3)), 0, DPI), structure=np.ones((3, 3)))
    sizes = [
        sorted((mm(rows.stop - rows.start), mm(columns.stop - columns.start)))
        for rows, columns in ndimage.find_objects(labels)
    ]
    assert sum(thin < 0.3 and long == pytest.approx(3, abs=0.1) for thin, long in sizes) == 16


def test_a_full_owners_card_keeps_its_speeds_above_its_foot() -> None:
    """The last of eleven speeds, and the sentence under them, by the boxes of their letters."""
    with pypdfium2.PdfDocument(render("owner", invented.owner(11))) as document:
        page = document[0].get_textpage()

        def box(text: str) -> tuple[float, float]:
            found = page.search(text).get_next()
            assert found
            _, low, _, high = page.get_charbox(found[0])
            return low, high

        assert box("1/110")[0] > box("1/500 gives")[1] + 1
        assert box("1/100")[0] > box("1/110")[1]


def test_twelve_speeds_take_a_second_card_and_both_say_so() -> None:
    assert "card" not in words(render("owner", invented.owner(11))).split("Lindqvale")[-1]
    text = words(render("owner", invented.owner(12)))
    assert text.count("card 1 of 2") == 2
    assert text.count("card 2 of 2") == 2


def test_an_owners_card_without_a_smaller_aperture_has_no_column_for_it() -> None:
    assert "dial gives f/2 f/2.8 f/3.9 1/100 1/200 +0.0 +0.1 +0.2" in words(printed("owner, 1"))
    assert "f/" not in words(printed("owner, wide open only")).replace("Owner’s", "")
    assert "dial gives off by, in stops" in words(printed("owner, wide open only"))


def test_nine_apertures_have_room_on_the_owners_card() -> None:
    """No word of the table crosses the card's edge: by the boxes of the letters of its last column."""
    with pypdfium2.PdfDocument(printed("owner, nine apertures")) as document:
        page = document[0].get_textpage()
        found = page.search("+1.8").get_next()
        assert found
        _, low, right, high = page.get_charbox(found[0] + 3)
        assert right < (14 + 85.60 - 3) / MM_PER_INCH * 72
        assert high - low > 1.2 * 72 / MM_PER_INCH  # of a digit, 1.2 mm high at least
