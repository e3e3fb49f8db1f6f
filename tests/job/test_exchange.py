"""A journal that is read in is judged as at the bench: what could not have been entered so is owed, or listed."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from camerawright.job.exchange import Imported, imported
from camerawright.job.now import job_now
from camerawright.journal.entries import ENTRY, Answered, Corrected, Entry, written
from camerawright.journal.known import Known
from camerawright.journal.replay import brought_by
from camerawright.journal.rules import judged_again
from camerawright.store.workshop import Workshop, create_workshop
from tests.store.invented import FALTER, INES, VISIT

START = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
NOW = START + timedelta(days=30)


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    with create_workshop(tmp_path / "w") as made:
        made.take_in(INES, FALTER, replace(VISIT, film_inside=False))
        yield made


def _entries(*said: dict[str, Any]) -> list[Entry]:
    """One a minute; `entry` may be the place of an earlier one."""
    made: list[Entry] = []
    for i, fields in enumerate(said):
        named = {"entry": f"{fields['entry']:032x}"} if isinstance(fields.get("entry"), int) else {}
        made.append(ENTRY.validate_python({"at": START + timedelta(minutes=i), "id": f"{i:032x}", **fields, **named}))
    return made


def _read_in(workshop: Workshop, entries: Sequence[Entry]) -> Imported:
    return imported(workshop, "J1", map(written, entries), now=NOW)


def off(part: str, **more: Any) -> dict[str, Any]:
    return {"kind": "removed", "part": part, **more}


def back(part: str, **more: Any) -> dict[str, Any]:
    return {"kind": "refitted", "part": part, **more}


def screws(count: int) -> list[dict[str, Any]]:
    return [{"count": count, "size": "M2"}]


COVER = (off("cover"), off("board", under=["cover"]))
ODD: dict[str, tuple[dict[str, Any], ...]] = {
    "cover is back already, and board goes beneath it": (*COVER, back("cover", overruled="to see"), back("board")),
    "board goes back before cover": (*COVER, back("cover"), back("board", overruled="to see")),
    "dial moves only with s on; it is off": (
        {"kind": "needs state", "part": "dial", "settings": {"s": "on"}, "reason": "it hooks in"},
        {"kind": "set", "settings": {"s": "off"}},
        off("dial"),
    ),
    "dial cannot need s off too": tuple(
        {"kind": "needs state", "part": "dial", "settings": {"s": how}, "reason": "?", "moves": "both"}
        for how in ("on", "off")
    ),
    "that contradicts what is known": (
        {"kind": "ordered", "first": "p", "then": "q", "reason": "seen"},
        {"kind": "ordered", "first": "q", "then": "p", "reason": "seen"},
    ),
    "a cannot come off before itself": ({"kind": "ordered", "first": "a", "then": "a", "reason": "?"},),
    "a cannot contain itself": ({"kind": "contains", "part": "a", "parts": ["a"]},),
    "keep flammable liquids and heat apart": (
        {"kind": "tried", "part": "dial", "fastener": "NE", "rung": "solvent and wait", "outcome": "no change"},
        {"kind": "tried", "part": "dial", "fastener": "NE", "rung": "heat", "outcome": "moved"},
    ),
    "film is inside": ({"kind": "set", "settings": {"film": "in"}}, off("back cover")),
    "3 × screw M2 came out, 4 going back": (
        off("dial", fasteners=screws(3)),
        back("dial", fasteners=screws(4)),
    ),
    "dial must still wait": (off("dial"), {"kind": "awaited", "part": "dial", "awaiting": "a spare"}, back("dial")),
    "left to gauge than you give": (
        off("dial", fasteners=[{"count": 2}]),
        {"kind": "gauged", "part": "dial", "fasteners": screws(5)},
    ),
    "train goes back before shutter": (
        {"kind": "contains", "part": "shutter", "parts": ["train"]},
        off("shutter"),
        off("train"),
        back("shutter"),
    ),
    "runs: it needs dial, and dial is off": (
        {"kind": "hold point", "check": "runs", "needs": ["dial"]},
        off("dial"),
        {"kind": "answered", "entry": 0, "answer": "it does"},
    ),
    "nothing owed has that id": (
        {"kind": "answered", "entry": 1, "answer": "done"},
        {"kind": "reminded", "part": "dial", "todo": "hook the spring"},
    ),
    "and another one goes in": (
        {"kind": "irreplaceable", "part": "cell", "reason": "the coating"},
        off("cell"),
        back("cell", replacement="new"),
    ),
    "cover goes over what is not ready": (
        *COVER,
        back("board"),
        {"kind": "awaited", "part": "board", "awaiting": "glue", "until": "2026-03-03T09:00:00Z"},
        back("cover"),
    ),
}  # fmt: skip


@pytest.mark.parametrize("what", ODD)
def test_what_the_rules_would_have_refused_is_told(what: str) -> None:
    told = brought_by((), _entries(*ODD[what]), Known(), judged_again)
    assert [what in broken.trouble.what for broken in told] == [True]


def test_what_was_read_in_and_refused_elsewhere_is_owed_until_somebody_answers_it(workshop: Workshop) -> None:
    every = list(ODD)[5:9]
    entries = _entries(*(entry for what in every for entry in ODD[what]))
    assert len(_read_in(workshop, entries).odd) == len(every)
    here = job_now(workshop, "J1", now=NOW)
    owed = [promise for promise in here.owed if "say how that was" in promise.what]
    barred = " ".join(trouble.what for trouble in here.against_closing if not trouble.can_overrule)
    assert all(what in barred for what in every)
    assert _read_in(workshop, entries) == Imported(n_new=0, n_known=len(entries), odd=(), is_owed=True)
    for promise in owed:
        assert promise.entry
        workshop.append("J1", Answered(at=NOW + timedelta(days=1), entry=promise.entry, answer="seen"))
    assert not any("say how" in trouble.what for trouble in job_now(workshop, "J1", now=NOW).against_closing)


def test_to_a_job_that_is_over_nothing_is_added(workshop: Workshop) -> None:
    ends = {"kind": "handed back", "to": "the owner"}
    done = _read_in(workshop, _entries(*ODD["a cannot contain itself"], ends))
    assert not done.is_owed
    assert len(done.odd) == 2, "nor could it end so"
    assert len(workshop.journal("J1")) == 2


def test_what_carries_a_reason_is_not_told() -> None:
    odd = _entries(*ODD["dial must still wait"])
    reasoned = [*odd[:2], odd[2].model_copy(update={"overruled": "a donor was found"})]
    assert brought_by((), reasoned, Known(), judged_again) == ()
    mended = Corrected(at=NOW, entry=odd[0].id, overruled="it was another part")
    assert brought_by((), [*reasoned, mended], Known(), judged_again) == (), "the correction says why"


def test_a_reminder_that_an_export_brings_along_is_not_entered_again(workshop: Workshop, tmp_path: Path) -> None:
    _read_in(workshop, _entries(*ODD["dial must still wait"]))
    with create_workshop(tmp_path / "other") as other:
        other.take_in(INES, FALTER, replace(VISIT, film_inside=False))
        _read_in(other, workshop.journal("J1"))
        assert other.journal("J1") == workshop.journal("J1")
