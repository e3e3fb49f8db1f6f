"""The papers, read back by pypdf (text, structure) and pypdfium2 (pixels), neither of which shares code with Typst."""

import re
from collections import Counter
from dataclasses import fields, is_dataclass, replace
from functools import cache
from io import BytesIO
from typing import Any

import numpy as np
import numpy.typing as npt
import pypdfium2
import pytest
import typst
from pypdf import PdfReader, PdfWriter

from camerawright.papers.bill import Bill, Tax
from camerawright.papers.paper import Line, Paper, Picture
from camerawright.papers.render import render
from camerawright.papers.work_done import Finding
from camerawright.workshop.bill import BillLine
from tests.papers import paper_examples as invented
from tests.papers.card_examples import CARDS

MM_PER_INCH = 25.4  # exact: [iso-80000]-3

PAPERS: dict[str, tuple[str, Any]] = {
    "certificate": ("certificate", invented.certificate(plot="speeds")),
    "certificate, no rows": ("certificate", invented.certificate(0)),
    "certificate, 1 row": ("certificate", invented.certificate(1)),
    "certificate, 60 rows": ("certificate", invented.certificate(60)),
    "certificate, draft": ("certificate", invented.certificate(3, is_draft=True)),
    "certificate, told": ("certificate", invented.told_certificate()),
    "certificate, bare": ("certificate", invented.bare_certificate()),
    "certificate, long names": ("certificate", invented.long_named(invented.certificate(1))),
    "refit sheet": ("refit", invented.refit_sheet(6, photo="speeds")),
    "refit sheet, no steps": ("refit", invented.refit_sheet(0)),
    "refit sheet, 60 steps": ("refit", invented.refit_sheet(60)),
    "refit sheet, finished": ("refit", invented.finished_sheet(9, photo="speeds")),
    "bill": ("bill", invented.bill(3)),
    "bill, no parts": ("bill", invented.bill(0)),
    "bill, 60 parts, no tax": ("bill", invented.bill(60, tax=False)),
    **CARDS,
}
EACH = pytest.mark.parametrize("name", PAPERS)


@cache
def printed(name: str) -> bytes:
    """The PDF of an invented paper, made once."""
    template, content = PAPERS[name]
    return render(template, content, images={"speeds": invented.photo_png()})


def root(name: str) -> Any:
    """The catalogue of its PDF: pypdf gives whatever type stands in the file."""
    return reader(name).trailer["/Root"]


def information(name: str) -> Any:
    """Its document information."""
    return reader(name).metadata


@cache
def reader(name: str) -> PdfReader:
    """The same, opened by pypdf."""
    return PdfReader(BytesIO(printed(name)))


@cache
def words(pdf: bytes) -> str:
    """All its text; white space of any kind as one blank, break opportunities gone."""
    text = "\n".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages)
    return " ".join(text.replace("\u200b", "").split())


def solid(text: str) -> str:
    """Without any white space: what a line break cannot change."""
    return "".join(text.split())


def ink(pdf: bytes, page: int, dpi: float) -> npt.NDArray[np.bool_]:
    """Where a page is not white, [y, x]."""
    with pypdfium2.PdfDocument(pdf) as document:
        grey = document[page].render(scale=dpi / 72, grayscale=True).to_numpy()
    return np.asarray(grey).reshape(grey.shape[:2]) < 200


# What an archive and a screen reader need: ISO 19005-2, ISO 14289-1


@EACH
def test_each_paper_calls_itself_pdf_a_2b(name: str) -> None:
    """[iso-19005-2] 6.6.4: pdfaid:part 2, pdfaid:conformance B."""
    xmp = root(name)["/Metadata"].get_object().get_data().decode()
    assert re.search(r"<pdfaid:part>2</pdfaid:part>|pdfaid:part=\"2\"", xmp)
    assert re.search(r"<pdfaid:conformance>B</pdfaid:conformance>|pdfaid:conformance=\"B\"", xmp)


@EACH
def test_each_paper_is_tagged_and_says_its_language_and_title(name: str) -> None:
    """[iso-32000-1], 14.7-14.9; [iso-14289-1] 7.1 (the title is what a viewer shows)."""
    catalogue = root(name)
    assert catalogue["/MarkInfo"]["/Marked"].value is True
    assert catalogue["/StructTreeRoot"]["/K"]
    assert catalogue["/Lang"] == "en-GB"
    assert catalogue["/ViewerPreferences"]["/DisplayDocTitle"].value is True
    content = PAPERS[name][1]
    title = information(name)["/Title"]
    assert (content.number if hasattr(content, "number") else content.job) in title


@EACH
def test_each_font_is_in_the_file(name: str) -> None:
    """ISO 19005-2:2011, 6.2.11.4.1: every font program is embedded."""
    pages: Any = reader(name).pages
    fonts = [font for page in pages for font in page["/Resources"]["/Font"].values()]
    descriptors = [font.get_object()["/DescendantFonts"][0].get_object()["/FontDescriptor"] for font in fonts]
    assert descriptors
    for descriptor in descriptors:
        assert "DejaVu" in descriptor["/FontName"]
        assert {"/FontFile2", "/FontFile3"} & set(descriptor)


def test_a_table_heading_is_tagged_as_one_and_a_picture_has_words() -> None:
    """ISO 32000-1:2008, 14.8.4.3.4 (TH) and 14.9.3 (Alt), found by walking the structure tree."""
    kinds: dict[str, int] = {}
    alts = []

    def walk(node: Any) -> None:
        node = node.get_object() if hasattr(node, "get_object") else node
        if isinstance(node, list):
            for item in node:
                walk(item)
        elif isinstance(node, dict):
            kinds[node.get("/S", "")] = kinds.get(node.get("/S", ""), 0) + 1
            if "/Alt" in node:
                alts.append(node["/Alt"])
            if "/K" in node:
                walk(node["/K"])

    walk(root("certificate")["/StructTreeRoot"]["/K"])
    assert kinds["/TH"] >= 11
    assert kinds["/Table"] == 7
    assert invented.measured_by(1, plot="speeds").pictures[0].words in alts


@EACH
def test_the_same_content_twice_gives_the_same_bytes(name: str) -> None:
    template, content = PAPERS[name]
    assert render(template, content, images={"speeds": invented.photo_png()}) == printed(name)


def test_the_date_of_the_file_is_the_date_of_the_paper() -> None:
    assert information("certificate")["/CreationDate"].startswith("D:20250310")


# Nothing is lost between content and paper


def leaves(content: Any) -> list[str]:
    """Every text in a content, however deep."""
    if isinstance(content, Picture):
        return [content.caption]
    if is_dataclass(content):
        hidden = {"job", "address"} if isinstance(content, Paper) else set()  # its number, and its letterhead if any
        return [leaf for f in fields(content) if f.name not in hidden for leaf in leaves(getattr(content, f.name))]
    if isinstance(content, tuple):
        return [leaf for item in content for leaf in leaves(item)]
    return [content] if isinstance(content, str) else []


@EACH
def test_every_text_and_figure_of_the_content_is_on_the_paper(name: str) -> None:
    """Readings, limits, sources, names, marks, shims: compared without white space, which line breaks change."""
    content = PAPERS[name][1]
    if name.startswith("certificate, no rows"):  # without readings nothing is to be explained or trusted
        content = replace(content, explained="", trust="")
    on_paper = solid(words(printed(name)))
    if name.endswith(", long"):  # a page ends within a text, so letters are counted
        assert Counter(solid("".join(leaves(content)))) <= Counter(on_paper)
        return
    missing = [text for text in leaves(content) if solid(text) not in on_paper]
    assert missing == []


def test_a_reading_stands_beside_its_marked_value_with_its_limits_and_verdict() -> None:
    text = words(reader_pages("certificate", 0, 1))
    assert "1 s 1/1300.0 s +0.10 ✕ outside 1/1000.0 s +0.10 ✓ within ± 0.30" in text
    assert "1/2 s 1/1337.1 s +0.11 ? undecided" in text
    assert "1/25 s not measured 1/1148.4 s" in text


def test_a_speed_stands_at_each_aperture_with_the_sign_of_its_verdict() -> None:
    text = words(reader_pages("certificate", 0, 1))
    assert "Dial f/3.5 f/5.6 f/8 1 s +0.10 ✓ +0.40 ✕ – 1/2 s +0.11 ✓ +0.41 ✕ −0.21 ?" in text
    assert "✓ within the limits, ✕ outside, ? undecided" in text


def test_a_reading_in_the_annex_has_its_uncertainty_and_count() -> None:
    text = words(reader_pages("certificate", 1, None))
    assert "1 s 1300.0 ms +0.10 ± 0.01 5 ✕ outside 1000.0 ms +0.10 ± 0.01 5 ✓ within" in text


@pytest.mark.parametrize("n_rows", [0, 1, 6, 9, 12])
def test_the_owners_page_is_one_page_with_signature_and_date_and_the_annex_begins_on_the_next(n_rows: int) -> None:
    pages = PdfReader(BytesIO(render("certificate", invented.certificate(n_rows)))).pages
    first, second = (" ".join(page.extract_text().split()) for page in list(pages)[:2])
    for said in ("Signed for Lindqvale Camera Bench", "Date: 10 March 2025", "Ines Marrow", "408 113"):
        assert said in first
    assert "Annex" not in first
    assert second.startswith("Annex: how it was measured")


def test_what_the_owner_need_not_read_is_not_on_the_owners_page() -> None:
    first = words(reader_pages("certificate", 0, 1))
    for said in ("light curve behind", "Each reading", "budget", "9f2c1ab3", "spread between firings"):
        assert said not in first
        assert said in words(printed("certificate"))


def test_a_draft_says_so_across_each_page_and_in_words() -> None:
    for page in reader("certificate, draft").pages:
        assert "DRAFT" in page.extract_text().split()
    assert "the job is not closed yet" in words(printed("certificate, draft"))
    final = render("certificate", invented.certificate(3))
    assert "draft" not in words(final).lower()
    pages = zip(share_of_grey(printed("certificate, draft")), share_of_grey(final), strict=True)
    assert all(drawn > clean + 0.02 for drawn, clean in pages)  # large letters behind the text


@pytest.mark.parametrize("n_rows", [6, 14, 22, 30])
def test_a_draft_is_tagged_whole_wherever_a_page_ends(n_rows: int) -> None:
    """Typst refuses a PDF/UA whose lists and tables are cut by what stands on every page (ISO 14289-1, 7.1)."""
    whole = invented.certificate(n_rows, is_draft=True)
    remarks = tuple(f"Remark {i}: it was read with care, and twice." for i in range(40))
    paper = replace(whole, annex=replace(whole.annex, remarks=remarks))
    assert "Remark 39" in words(render("certificate", paper))


def share_of_grey(pdf: bytes) -> list[float]:
    """The part of each page that is light grey."""
    with pypdfium2.PdfDocument(pdf) as document:
        pages = [np.asarray(page.render(scale=0.5, grayscale=True).to_numpy()) for page in document]
    return [float(((page > 205) & (page < 245)).mean()) for page in pages]


def reader_pages(name: str, first: int, last: int | None) -> bytes:
    """Some pages of an invented paper as a PDF of their own."""
    out = BytesIO()
    writer = PdfWriter()
    for page in list(reader(name).pages)[first:last]:
        writer.add_page(page)
    writer.write(out)
    return out.getvalue()


def test_a_figure_without_a_mark_stands_with_its_count_and_verdict() -> None:
    text = words(printed("certificate, told"))
    assert "1/60 class X, from full open −2.31 ± 0.05 ms 6 ✕ outside +0.42 ± 0.04 ms 7 ✓ within" in text
    assert "1/60 bounces not measured 2, 0.31 ms the longest" in text


def test_the_certificate_says_what_its_figures_mean() -> None:
    text = words(printed("certificate"))
    assert "One stop is twice the light" in text
    assert "How far to trust it. In 19 cases of 20" in text
    assert "this workshop’s own" in text
    assert "not a claim of conformity to a standard" in text
    assert "9f2c1ab39f2c1ab3" in text


def test_an_assumed_order_is_told_from_a_certain_one() -> None:
    text = words(printed("refit sheet"))
    assert "rear lens cell (assumed from the order of removal)" in text
    assert "blades: covers them rear lens cell" in text


@pytest.mark.parametrize(("n_rows", "n_pages"), [(0, 2), (1, 2), (9, 3), (60, 12)])
def test_a_certificate_has_as_many_pages_as_it_needs_and_numbers_them(n_rows: int, n_pages: int) -> None:
    pages = PdfReader(BytesIO(render("certificate", invented.certificate(n_rows)))).pages
    assert len(pages) == n_pages
    for i, page in enumerate(pages):
        assert f"page {i + 1} of {n_pages}" in page.extract_text()


@pytest.mark.parametrize(
    ("name", "heading", "row"),
    [("certificate, 60 rows", "verdict", r"\d ms "), ("bill, 60 parts, no tax", "Description", r"Part \d+:")],
)
def test_a_table_over_several_pages_repeats_its_heading(name: str, heading: str, row: str) -> None:
    pages = [page.extract_text() for page in reader(name).pages]
    with_rows = [text for text in pages if re.search(row, text)]
    assert len(with_rows) >= 2
    assert all(heading in text for text in with_rows)


@pytest.mark.parametrize("n_rows", range(5, 20, 2))
def test_a_short_table_is_not_cut_by_the_end_of_a_page(n_rows: int) -> None:
    """However far down the page the readings push it."""
    findings = tuple(Finding(part=f"Piece{i}", defect="worn") for i in range(4))
    whole = invented.certificate(n_rows)
    pdf = render("certificate", replace(whole, annex=replace(whole.annex, findings=findings)))
    pages = [page.extract_text() for page in PdfReader(BytesIO(pdf)).pages]
    assert sorted(sum(f"Piece{i}" in text for i in range(4)) for text in pages)[-2:] == [0, 4]


def test_a_bill_over_several_pages_keeps_every_line_in_order() -> None:
    text = words(printed("bill, 60 parts, no tax"))
    assert [int(n) for n in re.findall(r"Part (\d+):", text)] == list(range(1, 61))


def test_a_step_is_never_cut_in_two_by_a_page() -> None:
    """A rich step's first line (its part) and its last (the reminder) are as many on each page."""
    for page in reader("refit sheet, 60 steps").pages:
        text = page.extract_text()
        assert text.count("Caution.") == text.count("Hook the return spring")


def test_a_step_longer_than_a_page_is_cut_rather_than_lost() -> None:
    reminders = tuple(Line(label="remember", words=f"Reminder number {i} of this step.") for i in range(90))
    long = replace(invented.step(2), lines=reminders)
    pdf = render("refit", replace(invented.refit_sheet(1), steps=(long,)))
    text = words(pdf)
    assert all(f"Reminder number {i} of" in text for i in range(90))
    assert len(PdfReader(BytesIO(pdf)).pages) >= 3


@pytest.mark.parametrize(
    "section",
    [
        "Shutter speeds",
        "What we found",
        "What we did",
        "Notes from the bench",
        "Recordings kept",
        "Wanted",
        "How far to trust it",
    ],
)
def test_an_empty_section_is_left_out(section: str) -> None:
    assert section in words(printed("certificate"))
    assert section not in words(printed("certificate, bare"))


def test_only_the_phase_that_was_measured_gets_columns() -> None:
    whole = invented.certificate(3)
    found = tuple(replace(row, as_left=None) for row in whole.speeds)
    text = words(render("certificate", replace(whole, speeds=found, annex=replace(whole.annex, tests=()))))
    assert "As found" in text
    assert "As left" not in text
    assert "not measured" not in text


def test_a_finished_sheet_tells_how_it_came_apart_and_went_back_and_has_nothing_to_tick() -> None:
    text = words(printed("refit sheet, finished"))
    apart, back = text.split("How it went back")
    assert "How it came apart" in apart
    assert "a guide for the next of its kind" in apart
    assert "slow-speed train" in apart
    assert "slow-speed train" in back
    assert "The way back" not in text
    assert "tray" not in text


@pytest.mark.parametrize(
    "name",
    [
        "refit sheet",
        "refit sheet, finished",
        "strip, 1",
        "tray, 1",
        "screws, 1",
        "hazards, 1",
        "lubrication, 1",
        "resume, 1",
    ],
)
def test_a_paper_that_tells_how_something_is_done_defers_to_the_safety_sheet(name: str) -> None:
    assert "product’s safety data sheet, local rules and licensed practice" in words(printed(name))


# Names are names


HOSTILE = r"""#strike[x] *a* $x$ \ " `c` <l> @r _u_ // y /* z */ = h ~ -- ... 'q' #sys.inputs"""


def test_markup_in_a_name_stays_literal() -> None:
    paper = invented.certificate(2)
    paper = replace(
        paper,
        owner=HOSTILE,
        camera=replace(paper.camera, model=HOSTILE),
        workshop=HOSTILE,
        findings=(Finding(part=HOSTILE, defect=HOSTILE),),
    )
    text = solid(words(render("certificate", paper)))
    assert text.count(solid(HOSTILE)) >= 5
    sheet = replace(invented.refit_sheet(0), state=HOSTILE, waiting=(Line(label=HOSTILE, words=HOSTILE),))
    assert solid(words(render("refit", sheet))).count(solid(HOSTILE)) == 3


@pytest.mark.parametrize("owner", ["Ωριγένης Κρίτων", "Жанна Ёлкина", "Łucja Żółć-Ñandú", "Ağaoğlu İnci"])
def test_letters_beyond_latin_are_printed(owner: str) -> None:
    assert owner in words(render("certificate", replace(invented.bare_certificate(), owner=owner)))


def test_a_letter_that_the_typeface_lacks_is_printed_as_its_code_point() -> None:
    owner = "\U00020000 Fenn \ue000\ud800\x07!"
    text = words(render("certificate", replace(invented.bare_certificate(), owner=owner)))
    assert "Owner [U+20000] Fenn [U+E000] [U+D800] !" in text  # a line ends between the two


def test_lines_of_an_address_stay_lines() -> None:
    text = reader("bill").pages[0].extract_text()
    assert re.search(r"Oda Kellerhals\s*\n\s*12 Upper Quay\s*\n\s*Lindqvale", text)


# On the sheet of paper


@EACH
def test_nothing_comes_within_8_mm_of_the_edge(name: str) -> None:
    """Home printers leave 3 to 6 mm blank (common practice); a page that ends in the margin is drawn whole."""
    dpi = 72
    strip = round(8 / MM_PER_INCH * dpi)
    for page in range(len(reader(name).pages)):
        drawn = ink(printed(name), page, dpi)
        assert sorted(side * MM_PER_INCH / dpi for side in drawn.shape) == pytest.approx([210, 297], abs=0.5)
        assert drawn.any()
        border = drawn.copy()
        border[strip:-strip, strip:-strip] = False
        assert not border.any()


def test_long_names_stay_in_their_columns() -> None:
    """Right of the text area nothing is drawn, though the names are ten times too long."""
    dpi = 100
    for page in range(2):
        drawn = ink(printed("certificate, long names"), page, dpi)
        assert not drawn[:, round((210 - 17.5) / MM_PER_INCH * dpi) :].any()


@pytest.mark.parametrize("page", [0, 1])
def test_the_check_bar_is_100_mm(page: int) -> None:
    """The longest unbroken run of ink in the foot, and the distance over its end strokes 2.5 mm higher."""
    dpi = 600
    drawn = ink(printed("refit sheet"), page, dpi)
    top = round(275 / MM_PER_INCH * dpi)
    length, start, y = max((*longest_run(row), y) for y, row in enumerate(drawn[top:], top))
    assert length * MM_PER_INCH / dpi == pytest.approx(100, abs=0.2)
    strokes = np.flatnonzero(drawn[y - round(2.5 / MM_PER_INCH * dpi), : start + length + 5])
    assert (strokes[-1] - strokes[0] + 1) * MM_PER_INCH / dpi == pytest.approx(100, abs=0.2)


def longest_run(row: npt.NDArray[np.bool_]) -> tuple[int, int]:
    """Length and start of the longest unbroken run."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], row.astype(np.int8), [0]))))
    lengths = edges[1::2] - edges[::2]
    if lengths.size == 0:
        return 0, 0
    i = int(lengths.argmax())
    return int(lengths[i]), int(edges[2 * i])


# Money


def test_a_bill_shows_its_sums() -> None:
    text = words(printed("bill"))
    assert "no. 408 113; job J7" in text
    assert "4 h 15 min 52.00 221.00" in text
    assert "Net 269.08 VAT 20 % 53.82 Total EUR 322.90" in text


def test_a_bill_without_tax_shows_neither_net_nor_tax() -> None:
    text = words(printed("bill, 60 parts, no tax"))
    assert "Net" not in text
    assert "VAT" not in text
    assert "Total EUR 3 724.80" in text


@pytest.mark.parametrize(
    ("minor", "digits", "shown"),
    [
        (0, 2, "0.00"),
        (7, 2, "0.07"),
        (-5, 2, "−0.05"),
        (99999, 2, "999.99"),
        (100000, 2, "1 000.00"),
        (-123456789, 2, "−1 234 567.89"),
        (1500, 0, "1 500"),
        (12, 3, "0.012"),
        (9007199254740993, 2, "90 071 992 547 409.93"),  # 2^53 + 1: a float would lose it
    ],
)
def test_money_is_exact_and_grouped_by_threes(minor: int, digits: int, shown: str) -> None:
    """Exponents 0, 2, 3 of [iso-4217]; groups of three parted by a space, ISO 80000-1:2009, 7.3.1."""
    line = BillLine(description="part", quantity="1", unit_minor=minor, amount_minor=minor)
    bill = Bill(
        **invented.HEAD, number="1", customer="Tobias Fenn", currency="XTS",
        lines=(line,), net_minor=minor, total_minor=minor, minor_digits=digits,
    )  # fmt: skip
    assert solid(f"part 1 {shown} {shown} Total XTS {shown}") in solid(words(render("bill", bill)))
    assert f"Total XTS {shown}" in words(render("bill", bill))


def test_a_bill_that_does_not_add_up_is_refused() -> None:
    good = invented.bill(3)
    with pytest.raises(ValueError, match="its lines make 26908, its net sum says 26907"):
        replace(good, net_minor=good.net_minor - 1)
    with pytest.raises(ValueError, match="its total says 32291"):
        replace(good, total_minor=good.total_minor + 1)
    with pytest.raises(ValueError, match="net and tax make 26909"):
        replace(good, tax=Tax(label="VAT", amount_minor=1))


# What render is not given


def test_a_photo_that_is_missing_or_none_is_no_paper() -> None:
    sheet = invented.refit_sheet(2, photo="a")
    with pytest.raises(typst.TypstError):
        render("refit", sheet)
    with pytest.raises(typst.TypstError):
        render("refit", sheet, images={"a": b"not a picture"})
