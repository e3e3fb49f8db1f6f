"""Every picture of a bench test in words: the same pictures, and the figures that they draw."""

import math
import re
from typing import Any

import pytest

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.bench.record import Refusal
from camerawright.quantity import Word
from camerawright.wording.numbers import never_less
from camerawright.wording.verdicts import bar


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: test.name)
@pytest.mark.parametrize("marked", [None, "1/60"])
def test_every_picture_has_its_words_with_figures_and_no_words_are_without_picture(
    test: BenchTest[Any], marked: str | None
) -> None:
    recording = test.simulate(1)
    record = test.run(recording, marked if test.marked else None)
    words = test.words(record)
    assert list(words) == list(test.plots(recording, record))
    for text in words.values():
        assert re.search(r"\d", text)
        assert text.endswith(".")
        assert "nan" not in text


@pytest.mark.parametrize("test", CATALOGUE, ids=lambda test: test.name)
def test_a_refusal_has_no_pictures(test: BenchTest[Any]) -> None:
    refused = test.record(test=test.name, method=test.method, refused=Refusal("nothing is there", "fire again"))
    assert test.words(refused) == {}
    assert test.plots(None, refused) == {}
    assert any("fire again" in line for line in test.lines(refused))
    assert test.table(refused).rows == ()


@pytest.mark.parametrize("mean", [-0.9, -0.2, 0.0, 0.05, 0.31, 1.7])
@pytest.mark.parametrize("expanded", [0.01, 0.2])
@pytest.mark.parametrize(
    ("lower", "upper", "word"), [(-0.33, 0.33, "undecided"), (-0.5, 0.5, "within"), (None, None, None)]
)
def test_a_bar_in_text_holds_error_interval_and_tolerance_where_they_are(
    mean: float, expanded: float, lower: float | None, upper: float | None, word: Word | None
) -> None:
    text = bar(mean, expanded, lower, upper, word)
    low, drawn, high = re.fullmatch(r"fast −([\d.]+) (.+) \+([\d.]+) slow", text).groups()  # type: ignore[union-attr]
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
