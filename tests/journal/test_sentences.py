"""An entry as a sentence: everything that was entered is said, in words that a person would use."""

from datetime import UTC, datetime
from typing import Any

import pytest

from camerawright.journal.asked import Asked, asked
from camerawright.journal.entries import ENTRY, KINDS, Corrected, Noted
from camerawright.journal.sentences import briefly, sentence
from camerawright.journal.typed import entry_typed

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)

TYPED = {
    "fasteners": "3 x M1.7 x 4 cheese\n1 x M2",
    "shims": "1 x 0.10 NE corner",
    "loose": "1 x ball 1.5 mm",
    "NAME=VALUE": "shutter=released, focus=infinity",
    "TURNS": "4 1/2",
    "N": "95",
    "MINUTES": "95",
    "PRICE": "4.50",
    "WHEN": "2031-05-04 09:30",
    "YYYY-MM-DD": "2031-05-04",
    "TEST": "shutter",
    "SPEED": "1/25",
    "ENTRY": "ab" * 16,
}
"""What is typed into a field, by its name or by what the help calls its value."""
_ELSEWHERE = {"photo", "words", "overruled", "clock"}
"""Shown beside the sentence."""


def _typed(field: Asked) -> str:
    """Something that says the most."""
    if field.choices:
        return "no" if field.default is True else next(iter(field.choices))
    return TYPED.get(field.name) or TYPED.get(field.text.stands_for) or f"the {field.name}"


@pytest.mark.parametrize("kind", [name for name, kind in KINDS.items() if kind.form and name != "corrected"])
def test_everything_that_was_entered_is_said(kind: str) -> None:
    fields = [field for field in asked(KINDS[kind]) if field.name not in _ELSEWHERE and field.name != "is_new"]
    typed = {field.name: _typed(field) for field in fields}
    entry = entry_typed(kind, typed, at=NOW)
    said = sentence(entry)
    for field in fields:
        words = (
            f"entry {entry_id[:8]}"
            if (entry_id := typed[field.name]) == "ab" * 16
            else field.said(getattr(entry, field.name))
        )
        assert words, field.name
        assert words in said, field.name
    assert "{" not in said
    assert briefly(entry)
    assert said.startswith(briefly(entry))


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (
            {"kind": "removed", "part": "top plate", "fasteners": [{"count": 3, "size": "M1.7"}], "cell": "A1"},
            "top plate came off; 3 × M1.7; cell A1",
        ),
        ({"kind": "removed", "part": "top plate", "looked_beneath": False}, "top plate came off"),
        ({"kind": "set", "settings": {"shutter": "cocked", "speed": "B"}}, "machine set: shutter cocked, speed B"),
        ({"kind": "found", "part": "cam", "defect": "worn", "todo": "make one"}, "cam: worn; to do: make one"),
        ({"kind": "reminded", "part": "Closing", "todo": "oil it"}, "at the closing: oil it"),
        ({"kind": "reminded", "part": "dial", "todo": "oil it"}, "when dial goes back: oil it"),
        ({"kind": "hold point", "check": "it fires"}, "before closing, check: it fires"),
        ({"kind": "noted", "note": "{odd} note"}, "note: {odd} note"),
        (
            {"kind": "ordered", "first": "cover", "then": "shaft", "reason": "covers its screw", "certain": False},
            "cover comes off before shaft: covers its screw; assumed: nobody saw it",
        ),
        (
            {
                "kind": "measured", "test": "shutter", "phase": "as found", "method": "m", "result": {},
                "recording": "a" * 64, "setup": {"marked": "1/60", "options": {"sensor_at": "end"}, "input": "line in"},
            },
            "shutter measured as found; at 1/60; sensor at end; input “line in”",
        ),
    ],
)  # fmt: skip
def test_an_entry_reads_as_one_would_say_it(given: dict[str, Any], said: str) -> None:
    assert sentence(ENTRY.validate_python({"at": NOW, **given})) == said


def test_an_entry_that_names_another_says_it_in_words_and_never_goes_round_in_circles() -> None:
    note = Noted(at=NOW, note="tea")
    undo = Corrected(at=NOW, entry=note.id, reason="wrong camera")
    assert sentence(undo, {note.id: note}) == "struck out “note: tea”; because wrong camera"
    mended = Corrected(at=NOW, entry=note.id, becomes=Noted(at=NOW, note="coffee"))
    assert sentence(mended, {note.id: note}) == "corrected “note: tea”; it now reads “note: coffee”"
    a = Corrected(at=NOW, entry="b" * 32, id="a" * 32)
    b = Corrected(at=NOW, entry="a" * 32, id="b" * 32)
    assert sentence(a, {a.id: a, b.id: b}) == "struck out “struck out “entry aaaaaaaa””"
