"""The apertures of a lens, as they are typed."""

import math

import pytest

from camerawright.trouble import NotUnderstood
from camerawright.workshop.apertures import USUAL, apertures_read, apertures_written, usual_apertures


@pytest.mark.parametrize(
    "text",
    [
        "3.5, 4, 5.6, 8, 11, 16, 22",
        "3.5 4 5.6 8 11 16 22",
        "3,5 4 5,6 8 11 16 22",
        "f/3.5, f/4, f/5.6, f/8, f/11, f/16, f/22",
        "22 16 11 8 5.6 4 3.5",
        " 3.5;4;5.6;8;11;16;22; ",
        "F 3.5,4,5.6,8,11,16,22".replace("F ", "f/ "),
    ],
)
def test_apertures_are_read_however_they_are_parted(text: str) -> None:
    assert apertures_read(text) == (3.5, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)


def test_one_aperture_may_have_a_decimal_comma_and_nothing_is_none() -> None:
    assert apertures_read("2,8") == (2.8,)
    assert apertures_read("  ") == ()


def test_what_was_read_is_written_so_that_it_reads_as_the_same() -> None:
    for f_numbers in ((3.5, 4.0, 5.6), (1.4,), (), USUAL, (4.5, 6.3, 9.0, 12.5, 18.0, 25.0)):
        assert apertures_read(apertures_written(f_numbers)) == f_numbers


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("3.5, 4, wide", "'wide' is no f-number"),
        ("3.5 4 56 8", "56 and 8 do not follow each other"),
        ("4, 4", "4 and 4 do not follow"),
        ("0, 4", "'0' is no f-number"),
        ("3.5/4", "no f-number"),
        ("1000", "no f-number"),
    ],
)
def test_what_is_no_aperture_is_refused_with_an_example(text: str, said: str) -> None:
    with pytest.raises(NotUnderstood, match=said) as refused:
        apertures_read(text)
    assert "like 3.5, 4, 5.6" in refused.value.mend


def test_the_usual_series_halves_the_light_from_aperture_to_aperture() -> None:
    """The light goes with 1/N²; engraved numbers are rounded, by less than a tenth of a stop (common practice)."""
    for n, f_number in enumerate(USUAL):
        assert abs(2 * math.log2(f_number) - n) < 0.1
    assert usual_apertures(3.5)[:4] == (3.5, 4.0, 5.6, 8.0)
    assert usual_apertures(4.0)[:3] == (4.0, 5.6, 8.0)
