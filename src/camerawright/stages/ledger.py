"""What is out and what is back, per place: screws, shims, loose parts and springs. Out less in, at any moment."""

from collections.abc import Iterable
from dataclasses import dataclass

from pydantic import JsonValue

from camerawright.journal.entries import AccountedFor, Refitted, Removed, part_key
from camerawright.journal.state import State, hardware


@dataclass(frozen=True, kw_only=True)
class Line:
    """One kind of hardware of one part: how many came out, went back, and were accounted for."""

    part: str
    kind: str  # "screw", "shim", "loose part"
    what: str
    cell: str | None
    n_out: int
    n_back: int
    n_accounted: int

    @property
    def n_open(self) -> int:
        """What is still out."""
        return self.n_out - self.n_back - self.n_accounted


@dataclass(frozen=True, kw_only=True)
class Spring:
    """Turns that a spring still owes; clockwise is positive."""

    spring: str
    turns: float

    @property
    def words(self) -> str:
        """What to do."""
        return f"{abs(self.turns):g} turns {'anticlockwise' if self.turns > 0 else 'clockwise'} to put back"


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """All lines, in the order in which the parts came off."""

    lines: tuple[Line, ...]
    springs: tuple[Spring, ...]

    def n_open(self, kind: str) -> int:
        """How many of a kind are out."""
        return sum(line.n_open for line in self.lines if line.kind == kind)


def ledger(state: State) -> Ledger:
    """Count what went out and in, from the entries in force."""
    counts: dict[tuple[str, str, str], list[int]] = {}
    for entry in state.entries:
        if isinstance(entry, Removed | Refitted):
            column = 0 if isinstance(entry, Removed) else 1
            for (kind, what), count in hardware(entry).items():
                counts.setdefault((part_key(entry.part), kind, what), [0, 0, 0])[column] += count
        elif isinstance(entry, AccountedFor):
            for (key, _, _), numbers in counts.items():
                if key == part_key(entry.part):
                    numbers[2] += max(0, numbers[0] - numbers[1] - numbers[2])
    lines = []
    for (key, kind, what), (n_out, n_back, n_accounted) in counts.items():
        part = state.part(key)
        cell = part.removed.cell if part.removed else None
        lines.append(
            Line(part=part.name, kind=kind, what=what, cell=cell, n_out=n_out, n_back=n_back, n_accounted=n_accounted)
        )
    springs = tuple(Spring(spring=spring, turns=turns) for spring, turns in state.tension.items())
    return Ledger(lines=tuple(lines), springs=springs)


def ledger_json(book: Ledger) -> dict[str, JsonValue]:
    """The ledger for scripts."""
    return {
        "open": {kind: book.n_open(kind) for kind in ("screw", "shim", "loose part")},
        "lines": [_line_json(line) for line in book.lines],
        "springs": [{"spring": spring.spring, "turns": spring.turns, "todo": spring.words} for spring in book.springs],
    }


def _line_json(line: Line) -> JsonValue:
    return {
        "part": line.part,
        "kind": line.kind,
        "what": line.what,
        "cell": line.cell,
        "out": line.n_out,
        "back": line.n_back,
        "accounted_for": line.n_accounted,
        "open": line.n_open,
    }


def open_lines(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Those that do not balance yet."""
    return tuple(line for line in lines if line.n_open)
