"""Every picture of a bench test in words: the same pictures, and the figures that they draw."""

import re

import pytest

from camerawright.bench.catalogue import CATALOGUE
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
