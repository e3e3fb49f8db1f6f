"""The reader of printed numbers."""

import pytest

from tests import published


@pytest.mark.parametrize(
    ("text", "value", "half_unit"),
    [
        ("32", 32, 0.5),
        ("0.10", 0.1, 0.005),
        ("50 000 838", 50_000_838, 0.5),
        ("3.2e-3", 3.2e-3, 5e-5),
        ("−0.5", -0.5, 0.05),
    ],
)
def test_a_printed_number_carries_half_a_unit_of_its_last_digit(text: str, value: float, half_unit: float) -> None:
    number = published.printed(text)
    assert number.value == pytest.approx(value)
    assert number.half_unit == pytest.approx(half_unit)


def test_a_number_that_rounds_to_the_print_is_held_and_its_neighbour_is_not() -> None:
    assert published.printed("0.92").holds(0.9192)
    assert published.printed("92.5").holds(92.55)
    assert not published.printed("0.92").holds(0.9292)


@pytest.mark.parametrize("key", published.keys())
def test_every_source_can_be_read_and_says_where_each_number_stands(key: str) -> None:
    source = published.load(key)
    assert source.source
    assert source.basis
    assert source.users
    assert all(number.where for number in source.values.values())
