"""Verdicts in tables and as bars: each has a sign, and a bar shows where the interval lies."""

import re
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.quantity import Word
from camerawright.wording.verdicts import NO_LIMITS, SIGNS, bar, word

BAR = re.compile(r"fast −(\d+(?:\.5)?) (.{49}) \+(\d+(?:\.5)?) slow")
MIDDLE = 24


def read(text: str) -> tuple[float, str]:
    """The stops from as marked to either end, and what is drawn."""
    found = BAR.fullmatch(text)
    assert found, text
    assert found[1] == found[3]
    return float(found[1]), found[2]


def test_a_verdict_is_its_word_and_none_says_that_there_are_no_limits() -> None:
    assert [word(each) for each in get_args(Word)] == list(get_args(Word))
    assert word(None) == NO_LIMITS
    assert set(SIGNS) == set(get_args(Word))


def test_a_bar_drawn_by_hand() -> None:
    """Half a stop is 24 columns: 0.25 is 12 columns from the middle, 0.0625 is 3."""
    drawn = "............[........---?---........]............"
    assert read(bar(0, 0.0625, -0.25, 0.25, "undecided")) == (0.5, drawn)


@settings(deadline=None)
@given(st.floats(-5, 5), st.floats(0, 5), st.floats(0, 3), st.sampled_from([*get_args(Word), None]))
def test_a_bar_shows_error_interval_and_limits_in_their_places(
    error: float, expanded: float, limit: float, verdict: Word | None
) -> None:
    scale, drawn = read(bar(error, expanded, -limit, limit, verdict))
    assert scale >= max(0.5, abs(error) + expanded, limit)

    def at(column: int) -> float:
        return (column - MIDDLE) * scale / MIDDLE

    half_column = scale / MIDDLE / 2 * (1 + 1e-9)
    sign = SIGNS[verdict] if verdict else "o"
    assert drawn.count(sign) == 1
    assert abs(at(drawn.index(sign)) - error) <= half_column
    for column in (column for column, mark in enumerate(drawn) if mark == "-"):
        assert error - expanded - half_column <= at(column) <= error + expanded + half_column
    for mark, place in (("[", -limit), ("]", limit)):
        assert mark not in drawn or abs(at(drawn.index(mark)) - place) <= half_column


@pytest.mark.parametrize("limits", [(None, None), (None, 0.3), (-0.3, None)])
def test_without_both_limits_no_bracket_is_drawn(limits: tuple[float | None, float | None]) -> None:
    scale, drawn = read(bar(0.2, 0.1, *limits, None))
    assert scale == 0.5
    assert not set("[]") & set(drawn)
    assert drawn[MIDDLE] == "|"
