"""Numbers as text: rounded by their uncertainty, never a power of ten, and every minus a real one."""

import math
import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.wording import numbers

MINUS = "\N{MINUS SIGN}"  # ISO 80000-2: the sign of subtraction and of negative numbers
PLAIN = re.compile(rf"[+{MINUS}]?\d+(\.\d+)?")
VALUES = st.floats(1e-6, 1e6).flatmap(lambda size: st.sampled_from([size, -size]))
"""Every size that a bench shows, on both sides of zero."""


def number(text: str) -> Decimal:
    """A shown number, read again; fails for a power of ten or a hyphen."""
    assert PLAIN.fullmatch(text), text
    return Decimal(text.replace(MINUS, "-"))


@pytest.mark.parametrize(
    ("value", "u", "shown"),
    [
        (10.05762, 0.027, "10.058 ± 0.027"),  # [jcgm-100] 7.2.6, from memory: 10,057 62 ohm, u = 27 milliohm
        (1234.5, 28.05, "1234 ± 28"),  # [jcgm-100] 7.2.6, from memory: 28,05 kHz is rounded to 28 kHz
        (8.123, 0.0504, "8.123 ± 0.050"),
        (8.123, 0.0996, "8.12 ± 0.10"),  # two digits of 0.10, not three
        (-8.123, 1.04, f"{MINUS}8.1 ± 1.0"),
        (8.123, 0, "8.123 ± 0.000"),
        (8.123, 4e-6, "8.123 ± 0.001"),  # an uncertainty is never shown as none
    ],
)
def test_a_value_is_rounded_to_two_digits_of_its_uncertainty(value: float, u: float, shown: str) -> None:
    assert numbers.with_interval(value, u) == shown


def test_a_caller_may_allow_fewer_or_more_digits() -> None:
    assert numbers.with_interval(8.1234567, 1.2e-5, most=6) == "8.123457 ± 0.000012"
    assert numbers.with_interval(8.1234567, 1.2e-5, most=1, has_sign=True) == "+8.1 ± 0.1"


@settings(deadline=None)
@given(VALUES, st.floats(1e-3, 1e6))
def test_two_digits_of_an_uncertainty_are_shown_and_as_many_places_of_the_value(value: float, u: float) -> None:
    """[jcgm-100] 7.2.6: two digits at the most, and the value to the same place."""
    shown_value, shown_u = numbers.with_interval(value, u, most=9).split(" ± ")
    if u < 99.5:
        assert len(number(shown_u).as_tuple().digits) == 2
    assert number(shown_value).as_tuple().exponent == number(shown_u).as_tuple().exponent
    half_unit = Decimal(10) ** int(number(shown_u).as_tuple().exponent) / 2
    assert abs(number(shown_u) - Decimal(u)) <= half_unit
    assert abs(number(shown_value) - Decimal(value)) <= half_unit


@settings(deadline=None)
@given(st.floats(1e-9, 1e6))
def test_an_interval_is_never_shown_as_nothing(u: float) -> None:
    assert number(numbers.with_interval(1.0, u).split(" ± ")[1]) > 0
    assert number(numbers.milliseconds(1.0, u).removesuffix(" ms").split(" ± ")[1]) > 0


@settings(deadline=None)
@given(st.floats(0, 1e6))
def test_half_an_interval_in_stops_is_never_rounded_below_what_it_is(u: float) -> None:
    """But for the noise of a number in the machine: 0.1 + 0.2 stays 0.30."""
    shown = float(number(numbers.never_less(u)))
    assert u - 6e-9 <= shown * (1 + 4e-16) < u + 0.01 + 6e-9


def test_an_exact_hundredth_stays() -> None:
    assert numbers.never_less(0.1 + 0.2) == "0.30"
    assert numbers.never_less(0.301) == "0.31"
    assert numbers.never_less(0) == "0.00"
    assert numbers.stops(-1 / 3, 0.041) == f"{MINUS}0.33 ± 0.05"


@settings(deadline=None)
@given(VALUES, st.integers(0, 6))
def test_no_number_is_a_power_of_ten_or_has_a_hyphen_for_a_minus(value: float, digits: int) -> None:
    for shown in (
        numbers.fixed(value, digits),
        numbers.signed(value, digits),
        numbers.significant(value),
        numbers.significant(value, 1),
        numbers.short(value),
        numbers.short(value, 3),
    ):
        assert (MINUS in shown) == (value < 0)
        number(shown)
    assert ("+" in numbers.signed(value, digits)) == (value > 0)


@settings(deadline=None)
@given(VALUES, st.integers(1, 9))
def test_a_short_number_is_that_to_its_digits_without_zeros_at_the_end(value: float, n_digits: int) -> None:
    shown = numbers.short(value, n_digits)
    assert abs(number(shown) - Decimal(value)) <= abs(Decimal(value)) * Decimal(10) ** (1 - n_digits) / 2
    assert "." not in shown or not shown.endswith(("0", "."))


@settings(deadline=None)
@given(st.floats(1e-6, 99.4), st.integers(2, 5))
def test_a_significant_number_has_so_many_digits(value: float, n_digits: int) -> None:
    assert len(number(numbers.significant(value, n_digits)).as_tuple().digits) == n_digits


@pytest.mark.parametrize(
    ("value", "significant", "short"),
    [
        (1024, "1024", "1024"),
        (0.0125, "0.0125", "0.0125"),
        (9.999, "10.0", "9.999"),
        (25 / 3, "8.33", "8.33333"),
        (24.0, "24.0", "24"),
        (1e6, "1000000", "1000000"),
        (1e-6, "0.00000100", "0.000001"),
        (0.0, "0", "0"),
        (math.inf, "inf", "inf"),
        (-math.inf, f"{MINUS}inf", f"{MINUS}inf"),
    ],
)
def test_numbers_without_an_interval(value: float, significant: str, short: str) -> None:
    assert (numbers.significant(value), numbers.short(value)) == (significant, short)


def test_times_parts_and_counts() -> None:
    assert numbers.milliseconds(1 / 125, 53e-6) == "8.000 ± 0.053 ms"
    assert numbers.milliseconds(1 / 125, 0) == "8.000 ± 0.001 ms"
    assert numbers.percent(0.854) == "85 %"
    assert numbers.percent(-0.0123, 1) == f"{MINUS}1.2 %"
    assert numbers.percent_with_interval(0.021, 0.003) == "2.1 ± 0.3 %"
    assert numbers.percent_with_interval(0.021, 0.003, 2, has_sign=True) == "+2.10 ± 0.30 %"
    assert [numbers.counted(n, "firing") for n in (0, 1, 2)] == ["0 firings", "1 firing", "2 firings"]
    assert [numbers.counted(n, "leaf", "leaves") for n in (1, 3)] == ["1 leaf", "3 leaves"]
