"""The sign of each verdict: one for pages, papers, pictures and the terminal, and none that a paper cannot print."""

from typing import get_args

from camerawright.bench.comparison_record import SIGNS, bar
from camerawright.bench.speed_card import speed_card_figure
from camerawright.papers.render import _code_points
from camerawright.quantity import Word

LIMITS = {"lower_ev": -0.33, "upper_ev": 0.33}


def test_every_verdict_has_a_sign_of_its_own_that_the_papers_typeface_has() -> None:
    words = get_args(Word)
    assert set(SIGNS) == set(words)
    assert len(set(SIGNS.values())) == len(words)
    assert {ord(sign) for sign in SIGNS.values()} <= _code_points()


def test_the_picture_and_the_bar_in_the_terminal_show_the_sign_that_the_tables_show() -> None:
    for word, sign in SIGNS.items():
        compared = {"marked": "1/60", "target_s": 1 / 64, "verdict": word, "mean_stops": 0.2, "U95_mean_stops": 0.1}
        figure = speed_card_figure([compared | LIMITS])
        assert [text.get_text() for text in figure.axes[0].texts] == [sign]
        assert sign in bar(0.2, 0.1, compared | LIMITS)
