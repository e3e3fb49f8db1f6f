"""Every picture of a bench test in words: the same pictures, and the figures that they draw."""

import math
import re

import pytest

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.comparison_record import bar, never_less
from camerawright.bench.contract import BenchTest


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: test.name)
@pytest.mark.parametrize("marked", [None, "1/60"])
def test_every_picture_has_its_words_with_figures_and_no_words_are_without_picture(
    test: BenchTest, marked: str | None
) -> None:
    recording = test.simulate(1)
    outcome = test.run(recording, marked)
    words = test.words(outcome.record)
    assert list(words) == list(test.plots(recording, outcome))
    for text in words.values():
        assert re.search(r"\d", text)
        assert text.endswith(".")
        assert "nan" not in text


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: test.name)
def test_a_record_without_firings_has_no_pictures(test: BenchTest) -> None:
    assert test.words({"firings": [], "speeds": [], "compared": None}) == {}


@pytest.mark.parametrize("mean", [-0.9, -0.2, 0.0, 0.05, 0.31, 1.7])
@pytest.mark.parametrize("expanded", [0.01, 0.2])
@pytest.mark.parametrize(
    ("lower", "upper", "word"), [(-0.33, 0.33, "undecided"), (-0.5, 0.5, "within"), (None, None, None)]
)
def test_a_bar_in_text_holds_error_interval_and_tolerance_where_they_are(
    mean: float, expanded: float, lower: float | None, upper: float | None, word: str | None
) -> None:
    text = bar(mean, expanded, {"lower_ev": lower, "upper_ev": upper, "verdict": word})
    low, drawn, high = re.fullmatch(r"fast -([\d.]+) (.+) \+([\d.]+) slow", text).groups()  # type: ignore[union-attr]
    assert low == high
    assert float(high) >= abs(mean) + expanded
    half = len(drawn) // 2
    (at,) = [i for i, character in enumerate(drawn) if character in "✓✕?o"]
    step = float(high) / half
    assert (at - half) * step == pytest.approx(mean, abs=0.51 * step)
    for limit, sign in ((lower, "["), (upper, "]")):
        assert (sign in drawn) or limit is None or abs(limit - mean) < step
        if sign in drawn and limit is not None:
            assert (drawn.index(sign) - half) * step == pytest.approx(limit, abs=0.51 * step)
    inside = drawn[at + 1 : at + 1 + math.floor(expanded / step - 0.51)]
    assert set(inside) <= set("-[]")


@pytest.mark.parametrize(("expanded", "text"), [(0.0001, "0.01"), (0.01, "0.01"), (0.0101, "0.02"), (0.2, "0.20")])
def test_an_expanded_uncertainty_is_never_rounded_below_what_it_is(expanded: float, text: str) -> None:
    assert never_less(expanded) == text
