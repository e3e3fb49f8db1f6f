"""Legible under a bench lamp: the colours of the style sheet, by the published formula."""

import re
from pathlib import Path

import pytest

import camerawright.web

CSS = (Path(camerawright.web.__file__).parent / "static" / "house.css").read_text(encoding="utf-8")
ENHANCED = 7.0  # [wcag] 2.2, success criterion 1.4.6
NON_TEXT = 3.0  # WCAG 2.2, success criterion 1.4.11


def _colour(name: str) -> str:
    found = re.search(rf"--{name}: (#[0-9a-f]{{6}});", CSS)
    assert found, name
    return found[1]


def _luminance(colour: str) -> float:
    """WCAG 2.2, definition of relative luminance."""
    channels = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    linear = [each / 12.92 if each <= 0.04045 else ((each + 0.055) / 1.055) ** 2.4 for each in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio."""
    darker, lighter = sorted((_luminance(one), _luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_black_on_white_has_the_contrast_that_the_guideline_names() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("ground", ["paper", "sheet"])
@pytest.mark.parametrize("ink", ["ink", "soft", "accent", "wrong"])
def test_every_ink_reads_on_every_ground(ink: str, ground: str) -> None:
    assert contrast(_colour(ink), _colour(ground)) >= ENHANCED


@pytest.mark.parametrize("ground", ["ink", "accent"])
def test_white_reads_on_hazards_and_buttons(ground: str) -> None:
    assert contrast("#ffffff", _colour(ground)) >= ENHANCED


@pytest.mark.parametrize("ground", ["paper", "sheet"])
def test_the_edge_of_a_field_is_seen(ground: str) -> None:
    assert contrast(_colour("line"), _colour(ground)) >= NON_TEXT
