"""The lubrication table: the trade's texts, and the table against its own words."""

import re
import tomllib
from importlib.resources import files
from pathlib import Path
from typing import Any, get_args

import pytest

from camerawright.handbook import lubrication
from camerawright.handbook.lubrication import NONE, spot_called, spots_of
from camerawright.handbook.tables import COMMON_PRACTICE, FROM_MEMORY
from camerawright.journal.entries import Amount


def raw() -> dict[str, Any]:
    """The data file, read without the handbook."""
    return tomllib.loads(files("camerawright.handbook").joinpath("lubrication.toml").read_text(encoding="utf-8"))


def names(part: str) -> set[str]:
    """The points of a part."""
    return {spot.name for spot in spots_of(part)}


def amount(part: str, point: str) -> str:
    """How much a point of a part gets."""
    return next(spot.amount for spot in spots_of(part) if spot.name == point)


# -- the trade ---------------------------------------------------------------------------------------------------------


def test_a_slow_train_is_oiled_at_its_spindles_and_nowhere_else() -> None:
    """[shutter-text]: keep lubricant off gear teeth, only spindles; pallets dry: common practice."""
    assert amount("slow-speed train", "train pivots") == "touch"
    assert amount("slow-speed train", "gear teeth") == "dry"
    assert amount("slow-speed train", "pallets") == "dry"


@pytest.mark.parametrize("part", ["shutter blades", "shutter blade 3", "iris blades", "aperture blade 4", "blade ring"])
def test_blades_are_never_lubricated(part: str) -> None:
    """[shutter-text]."""
    assert spots_of(part)
    assert all(spot.is_dry for spot in spots_of(part))


@pytest.mark.parametrize(
    "part", ["leather shuttle", "felt", "first curtain", "meter movement", "curtain brake", "mirror"]
)
def test_what_soaks_up_brakes_or_hangs_on_a_hair_stays_dry(part: str) -> None:
    """Common practice."""
    assert spots_of(part)
    assert all(spot.is_dry for spot in spots_of(part))


@pytest.mark.parametrize(
    ("part", "point", "how_much"),
    [
        ("release lever", "stud lever", "film"),  # [horology-oiling]
        ("helicoid", "helicoid", "fill"),
        ("curtain roller", "curtain roller bearings", "touch"),
        ("wind lever", "wind ratchet", "film"),
    ],
)
def test_amounts_are_those_of_the_trade(part: str, point: str, how_much: str) -> None:
    """Common practice where nothing else stands beside the row."""
    assert amount(part, point) == how_much


def test_a_helicoid_gets_little_grease_that_stays_whole_and_lighter_where_several_turn_together() -> None:
    """[lens-defects]: oil that separates from the grease gets onto the blades. [lens-blog]: lighter for several."""
    helicoid = next(spot for spot in spots_of("helicoid") if spot.name == "helicoid")
    assert helicoid.why.source == "lens-defects"
    assert helicoid.why.text.startswith("Use little")
    grease = lubrication.classes()["helicoid grease"].what.text
    assert "does not separate" in grease
    assert "lighter one where several" in grease


def test_a_touch_is_a_bead_of_a_few_tenths_and_a_film_shows_no_edge() -> None:
    """Common practice."""
    assert "0.2 to 0.4 mm" in lubrication.amounts()["touch"].meaning.text
    assert "wipe it off" in lubrication.amounts()["film"].meaning.text


# -- words -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("part", ["blade cover", "mirror box", "gear train plate", "lever spring", "top plate", ""])
def test_a_part_named_after_another_has_none_of_its_points(part: str) -> None:
    assert spots_of(part) == ()


def test_the_longest_name_wins() -> None:
    assert names("first curtain roller") == {"curtain roller bearings"}
    assert names("wind lever") == {"wind ratchet"}
    assert names("blade ring") == {"blade ring"}


@pytest.mark.parametrize("words", ["Shutter Blades", "shutter-blades", "shutter  blades, five"])
def test_case_hyphens_and_commas_do_not_matter(words: str) -> None:
    assert names(words) == {"shutter blades"}


def test_every_word_for_a_part_brings_its_point() -> None:
    for spot in lubrication.spots():
        for words in spot.parts:
            assert spot in spots_of(words), (spot.name, words)


def test_every_word_for_a_point_means_that_point_alone() -> None:
    for spot in lubrication.spots():
        for words in (spot.name, *spot.also):
            assert spot_called(words) == spot, words


def test_words_for_two_points_or_none_are_no_point() -> None:
    assert spot_called("pivots and teeth") is None
    assert spot_called("the squeaky bit") is None


# -- the table hangs together ------------------------------------------------------------------------------------------


def test_the_amounts_are_those_of_the_journal_in_their_order() -> None:
    assert tuple(lubrication.amounts()) == get_args(Amount)


def test_every_class_named_at_a_point_is_in_the_table_and_every_class_is_used() -> None:
    assert {spot.lubricant for spot in lubrication.spots()} == set(lubrication.classes())


def test_what_stays_dry_gets_nothing_and_what_gets_something_is_not_dry() -> None:
    assert all(spot.is_dry == (spot.lubricant == NONE) for spot in lubrication.spots())


def test_no_two_points_have_one_name() -> None:
    rows = raw()["point"]
    assert len({row["name"] for row in rows}) == len(rows)


def test_every_source_is_listed_in_the_docs() -> None:
    listed = (Path(__file__).parents[2] / "docs" / "sources.md").read_text(encoding="utf-8")
    keys = set(re.findall(r"^- `([^`]+)`", listed, re.MULTILINE)) | {COMMON_PRACTICE, FROM_MEMORY}
    cited = {row["source"] for group in ("point", "class", "amount") for row in raw()[group]}
    assert len(cited) > 3
    assert cited <= keys
