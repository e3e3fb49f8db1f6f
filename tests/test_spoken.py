"""Numbers as they are typed and spoken: by the rules of English (common practice)."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.wording.spoken import value


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("1,7", Fraction(17, 10)),
        (".5", Fraction(1, 2)),
        ("1 1/2", Fraction(3, 2)),
        ("1½", Fraction(3, 2)),
        ("one point seven", Fraction(17, 10)),
        ("point oh five", Fraction(1, 20)),
        ("nought point one five", Fraction(3, 20)),
        ("half", Fraction(1, 2)),
        ("a quarter", Fraction(1, 4)),
        ("three quarters", Fraction(3, 4)),
        ("Two and a Half", Fraction(5, 2)),
        ("two and three-quarters", Fraction(11, 4)),
        ("twenty-five", Fraction(25)),
        ("ninety nine", Fraction(99)),
    ],
)
def test_a_number_is_read_as_it_is_said(text: str, number: Fraction) -> None:
    assert value(text) == number


@pytest.mark.parametrize("text", ["", "a", "some", "1/0", "1.5 1/2", "1,5 ½", "9" * 400, "one two", "-3"])
def test_what_is_no_number_is_none(text: str) -> None:
    assert value(text) is None


ONES = "zero one two three four five six seven eight nine".split(" ")  # noqa: SIM905 as one says them


@given(st.integers(0, 9), st.lists(st.integers(0, 9), min_size=1, max_size=4))
def test_a_decimal_is_said_digit_by_digit(whole: int, digits: list[int]) -> None:
    said = f"{ONES[whole]} point {' '.join(ONES[digit] for digit in digits)}"
    assert value(said) == Fraction(f"{whole}.{''.join(map(str, digits))}")
    assert value(f"{whole},{''.join(map(str, digits))}") == value(said)
