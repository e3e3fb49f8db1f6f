"""The ledger: out less in, per place and kind, and never anything else than the fold says."""

import pytest
from hypothesis import given

from camerawright.job.ledger import Line, ledger, ledger_json, open_lines
from camerawright.journal.entries import (
    AccountedFor,
    Corrected,
    Entry,
    Fastener,
    Loose,
    Refitted,
    Removed,
    Shim,
    Tension,
)
from camerawright.journal.state import fold
from tests.journal.makers import Clock, journals


@given(journals())
def test_what_the_ledger_leaves_open_is_what_the_fold_has_out(journal: list[Entry]) -> None:
    """For hostile journals too: parts off twice, more screws in than out, corrections of anything."""
    state = fold(journal)
    book = ledger(state)
    assert {(line.part, line.kind, line.what): line.n_open for line in open_lines(book.lines)} == {
        (part.name, *joint): count for part in state.parts.values() for joint, count in part.out.items()
    }
    assert sum(book.n_open(kind) for kind in ("screw", "shim", "loose part")) == state.n_out
    assert all(min(line.n_out, line.n_back, line.n_accounted, line.n_added, line.n_open) >= 0 for line in book.lines)


def _lines(*journal: Entry) -> list[Line]:
    return list(ledger(fold(journal)).lines)


def test_screws_shims_and_loose_parts_are_told_apart_by_what_makes_them_alike() -> None:
    clock = Clock()
    out = Removed(
        at=clock(),
        part="mount",
        cell="B2",
        fasteners=(Fastener(count=3, size="M1.7", length_mm=4), Fastener(count=1, size="M1.7", length_mm=2.5)),
        shims=(Shim(place="NE", count=2, thickness_mm=0.05), Shim(place="SW", count=1, thickness_mm=0.05)),
        loose=(Loose(what="ball 1.5 mm"),),
    )
    back = Refitted(
        at=clock(), part="Mount", fasteners=out.fasteners[:1], shims=(Shim(place="NE", count=1, thickness_mm=0.05),)
    )
    found = [(line.kind, line.what, line.n_out, line.n_back, line.n_open, line.cell) for line in _lines(out, back)]
    assert found == [
        ("screw", "M1.7 × 4 mm", 3, 3, 0, "B2"),
        ("screw", "M1.7 × 2.5 mm", 1, 0, 1, "B2"),
        ("shim", "0.05 mm, NE", 2, 1, 1, "B2"),
        ("shim", "0.05 mm, SW", 1, 0, 1, "B2"),
        ("loose part", "ball 1.5 mm", 1, 0, 1, "B2"),
    ]


def test_a_screw_that_had_been_missing_is_added_and_covers_up_for_no_other() -> None:
    """Two out, three in; then all three come out: three are out, not two."""
    clock = Clock()
    two, three = ((Fastener(count=n, size="M2"),) for n in (2, 3))
    journal: list[Entry] = [
        Removed(at=clock(), part="plate", fasteners=two),
        Refitted(at=clock(), part="plate", fasteners=three, overruled="one had been missing"),
    ]
    assert [(line.n_back, line.n_added, line.n_open) for line in _lines(*journal)] == [(2, 1, 0)]
    journal.append(Removed(at=clock(), part="plate", fasteners=three))
    assert [line.n_open for line in _lines(*journal)] == [3]


def test_what_is_accounted_for_balances_until_that_is_undone() -> None:
    clock = Clock()
    gone = AccountedFor(at=clock(), part="plate", reason="sheared; a new one is made")
    journal: list[Entry] = [
        Removed(at=clock().replace(hour=8), part="plate", fasteners=(Fastener(count=1, size="M2"),))
    ]
    assert [(line.n_accounted, line.n_open) for line in _lines(*journal, gone)] == [(1, 0)]
    assert [line.n_open for line in _lines(*journal, gone, Corrected(at=clock(), entry=gone.id))] == [1]


def test_turns_let_down_are_owed_the_other_way_round() -> None:
    clock = Clock()
    down = Tension(at=clock(), spring="curtain", act="let down", turns=7.5, direction="anticlockwise")
    some = Tension(at=clock(), spring="Curtain", act="tensioned", turns=3, direction="clockwise")
    book = ledger(fold([down, some]))
    assert [spring.words for spring in book.springs] == ["4.5 turns clockwise to put back"]
    rest = some.model_copy(update={"turns": 4.5, "id": "1" * 32, "at": clock()})
    assert ledger(fold([down, some, rest])).springs == ()


def test_the_ledger_for_scripts_adds_up() -> None:
    clock = Clock()
    screws = (Fastener(count=4, size="M1.4"),)
    book = ledger(fold([Removed(at=clock(), part="plate", fasteners=screws)]))
    read = ledger_json(book)
    assert read["open"] == {"screw": 4, "shim": 0, "loose part": 0, "lead": 0}
    lines = read["lines"]
    assert isinstance(lines, list)
    (line,) = lines
    assert isinstance(line, dict)
    assert line["open"] == pytest.approx(4)
    assert (line["out"], line["back"], line["accounted_for"], line["added"]) == (4, 0, 0, 0)
