"""The sign of each verdict: one for pages, papers, pictures and the terminal, and none that a paper cannot print."""

from dataclasses import replace
from typing import get_args

from camerawright.bench.comparison import Comparison, compare
from camerawright.bench.drawing import speed_card
from camerawright.handbook.tolerances import DEFAULT, find_profile
from camerawright.papers.render import _code_points
from camerawright.quantity import BudgetLine, Quantity, Word
from camerawright.wording.verdicts import SIGNS, bar


def compared(word: Word) -> Comparison:
    """A comparison that somebody judged so."""
    times = [Quantity(1 / 60 + 0.0001 * i, "s", (BudgetLine("timing", 1e-5),)) for i in range(3)]
    return replace(compare(times, "1/60", find_profile(DEFAULT), shared=frozenset({"timing"})), verdict=word)


def test_every_verdict_has_a_sign_of_its_own_that_the_papers_typeface_has() -> None:
    words = get_args(Word)
    assert set(SIGNS) == set(words)
    assert len(set(SIGNS.values())) == len(words)
    assert {ord(sign) for sign in SIGNS.values()} <= _code_points()


def test_the_picture_and_the_bar_in_the_terminal_show_the_sign_that_the_tables_show() -> None:
    for word, sign in SIGNS.items():
        figure = speed_card([compared(word)])
        assert [text.get_text() for text in figure.axes[0].texts] == [sign]
        assert sign in bar(0.2, 0.1, -0.33, 0.33, word)
