"""Nominal thread diameters against printed tables."""

import pytest

from camerawright.handbook.threads import nominal_diameter
from camerawright.journal.fastener_text import fastener
from tests import published

BS_93 = published.load("bs-93")
ASME_B1_1 = published.load("asme-b1-1")
JIS_B_7103 = published.load("jis-b-7103")

MM_PER_INCH = 25.4  # exact: ISO 80000-3


def diameter_mm(size: str) -> float:
    """The diameter of a size that must be known."""
    found = nominal_diameter(size)
    assert found is not None, size
    return found.mm


@pytest.mark.parametrize("n", range(17))
def test_a_british_association_size_is_as_printed(n: int) -> None:
    """To the printed digit: the table is rounded to two figures, and so is what it is made with."""
    printed = BS_93[f"ba_{n}"]
    assert diameter_mm(f"{n}BA") == pytest.approx(printed.value, abs=1e-9)
    assert nominal_diameter(f"{n}BA").source == "bs-93"  # type: ignore[union-attr]


@pytest.mark.parametrize("size", ASME_B1_1.values)
def test_a_numbered_unified_size_is_as_printed(size: str) -> None:
    assert ASME_B1_1[size].holds(diameter_mm(size) / MM_PER_INCH)
    assert diameter_mm(size) == diameter_mm(f"#{size}")


@pytest.mark.parametrize("size", JIS_B_7103.values)
def test_a_tripod_screw_is_as_printed(size: str) -> None:
    assert JIS_B_7103[size].holds(diameter_mm(size))


@pytest.mark.parametrize("said", ["1/4 BSW", '1/4" Whitworth', "1/4 in BSW", '1/4"-20', "1/4-20 UNC"])
def test_a_tripod_screw_is_a_quarter_inch_however_it_is_said(said: str) -> None:
    """[jis-b-7103] and [asme-b1-1]: the fraction is the nominal diameter."""
    size = fastener(f"1 x {said}").size
    assert size is not None
    assert diameter_mm(size) == 0.25 * MM_PER_INCH


@pytest.mark.parametrize(("size", "inches"), [("00-90", 0.047), ("000-120", 0.034), ("0000-160", 0.021)])
def test_sizes_below_nought_go_on_by_thirteen_thou(size: str, inches: float) -> None:
    """From memory; said so by the result too."""
    assert diameter_mm(size) == pytest.approx(inches * MM_PER_INCH, abs=0.0005 * MM_PER_INCH)
    assert nominal_diameter(size).source == "from memory"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("size", "mm"), [("M1", 1), ("M1.2", 1.2), ("M1.7", 1.7), ("M2.6x0.45", 2.6), ("M 1.4", 1.4), ("S0.3", 0.3)]
)
def test_a_metric_size_says_its_diameter(size: str, mm: float) -> None:
    """[iso-261] and [iso-1501]: the number behind the letter is the nominal diameter in mm."""
    assert diameter_mm(size) == mm


@pytest.mark.parametrize("n", range(17, 26))
def test_the_finest_british_association_sizes_are_said_to_be_from_memory(n: int) -> None:
    found = nominal_diameter(f"{n}BA")
    assert found is not None
    assert found.source == "from memory"


def test_a_british_association_thread_gets_thinner_with_its_number() -> None:
    diameters = [diameter_mm(f"{n}BA") for n in range(26)]
    assert diameters == sorted(diameters, reverse=True)


@pytest.mark.parametrize(
    "size", ["taper pin", "", "M0", "M99", "26BA", "99-40", "1/0-20", "9/1-20", "M", "BA", "x0.35"]
)
def test_what_is_no_known_thread_has_no_diameter(size: str) -> None:
    assert nominal_diameter(size) is None


@pytest.mark.parametrize(
    "line", ["3 x M1.7 x 4 cheese", "1 x m1,7x0.35", "2 x 10 ba", "1 x #0-80 x 3/16 in", "1 x 1/4-20"]
)
def test_every_spelling_that_the_bench_reads_as_a_thread_has_one(line: str) -> None:
    size = fastener(line).size
    assert size is not None
    assert nominal_diameter(size) is not None
