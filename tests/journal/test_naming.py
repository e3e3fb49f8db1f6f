"""A name that nobody used before is asked for, where it would never come up again; a slip is asked for everywhere."""

import pytest

from camerawright.journal.entries import (
    Cautioned,
    Entry,
    HoldPoint,
    Independent,
    Marked,
    NeedsState,
    Ordered,
    Reminded,
    Removed,
)
from camerawright.journal.known import Known
from camerawright.journal.rules import troubles
from camerawright.journal.state import fold
from camerawright.trouble import Trouble
from tests.journal.makers import NOW, START

LORE = Known(named={"speed dial": "speed dial", "top cover": "top cover", "front cell": "front cell"})


def _asked(entry: Entry, known: Known = LORE) -> list[Trouble]:
    journal = [Removed(at=START, part="shutter")]
    return [each for each in troubles(fold(journal), entry, now=NOW, known=known) if each.unknown]


@pytest.mark.parametrize(
    "entry",
    [
        Reminded(at=NOW, part="speed dail", todo="x"),
        HoldPoint(at=NOW, part="speed dail", check="x"),
        HoldPoint(at=NOW, check="x", needs=("shutter", "speed dail")),
        Ordered(at=NOW, first="speed dail", then="shutter", reason="x"),
        Independent(at=NOW, part="shutter", other="speed dail", reason="x"),
        Cautioned(at=NOW, part="speed dail", hazard="x"),
        NeedsState(at=NOW, part="speed dail", settings={"shutter": "released"}, reason="x"),
        Marked(at=NOW, part="speed dail", mark="x"),
        Removed(at=NOW, part="speed dail"),
    ],
)
def test_a_slip_asks_what_was_meant_and_new_is_new(entry: Entry) -> None:
    (asked,) = _asked(entry)
    assert asked.unknown == "speed dail"
    assert asked.like[0] == "speed dial"
    assert "did you mean speed dial" in asked.mend
    assert not asked.can_overrule
    assert _asked(entry.model_copy(update={"is_new": True})) == []


def test_a_name_like_no_other_is_asked_for_only_where_it_would_be_lost() -> None:
    assert [each.like for each in _asked(Reminded(at=NOW, part="wheel", todo="x"))] == [()]
    assert _asked(Removed(at=NOW, part="wheel")) == []
    assert _asked(Marked(at=NOW, part="wheel", mark="x")) == []
    assert _asked(Cautioned(at=NOW, part="shutter", hazard="x", frees=("detent ball",))) == []


@pytest.mark.parametrize(
    ("said", "meant"),
    [
        ("top plate", "top cover"),  # as the trade speaks (common practice)
        ("lid", "top cover"),
        ("front group", "front cell"),
        ("dial", "speed dial"),
        ("speeddial", "speed dial"),
        ("shutters", "shutter"),
        ("shuter", "shutter"),
    ],
)
def test_what_was_meant_is_found_by_spelling_by_the_trades_words_and_by_a_word_shared(said: str, meant: str) -> None:
    (asked,) = _asked(Reminded(at=NOW, part=said, todo="x"))
    assert asked.like[0] == meant


@pytest.mark.parametrize("spelling", ["Speed-Dial", "SPEED  DIAL", "the speed dial", "Top‑Cover", "closing", "shutter"])
def test_another_spelling_of_a_known_name_is_no_question(spelling: str) -> None:
    assert _asked(Reminded(at=NOW, part=spelling, todo="x")) == []


@pytest.mark.parametrize("part", ["rear cell", "left strut", "speed dial 2", "inner ring"])
def test_another_part_of_a_similar_name_comes_off_without_a_question(part: str) -> None:
    known = Known(named={**(LORE.named or {}), "right strut": "right strut", "speed dial 1": "x", "outer ring": "x"})
    assert _asked(Removed(at=NOW, part=part), known) == []


def test_on_a_camera_of_which_nothing_is_known_nobody_is_asked() -> None:
    entry = Reminded(at=NOW, part="wheel", todo="x")
    assert [each for each in troubles(fold([]), entry, now=NOW, known=Known(named={})) if each.unknown] == []
