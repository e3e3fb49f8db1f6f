"""What is out and what is back, per place: screws, shims, loose parts and springs. Out less in, at any moment."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from pydantic import JsonValue

from camerawright.journal.entries import AccountedFor, Added, Refitted, Removed, part_key
from camerawright.journal.joints import Joint, came_out, hardware, joint_text, pairing
from camerawright.journal.springs import springs_owed
from camerawright.journal.state import State


@dataclass(frozen=True, kw_only=True)
class Line:
    """One kind of hardware of one part: how many came out, went back, and were accounted for.

    What went in beyond what was out is `n_added`: a screw that had been missing, a new shim. It balances nothing.
    """

    part: str
    kind: str  # "screw", "shim", "loose part"
    what: str
    cell: str | None
    n_out: int
    n_back: int
    n_accounted: int
    n_added: int = 0

    @property
    def n_open(self) -> int:
        """What is still out."""
        return self.n_out - self.n_back - self.n_accounted

    @property
    def words(self) -> str:
        """What it is: "screw M1.7", "rivet", "detent ball"."""
        return joint_text(Joint(self.kind, self.what))

    @property
    def is_taken(self) -> bool:
        """Whether its thread or thickness was taken."""
        return Joint(self.kind, self.what).is_taken


@dataclass(frozen=True, kw_only=True)
class Spring:
    """Turns that a spring still owes; clockwise is positive."""

    spring: str
    turns: float
    words: str  # what to do


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """All lines, in the order in which the parts came off."""

    lines: tuple[Line, ...]
    springs: tuple[Spring, ...]

    def n_open(self, kind: str) -> int:
        """How many of a kind are out."""
        return sum(line.n_open for line in self.lines if line.kind == kind)

    @property
    def not_taken(self) -> tuple[Line, ...]:
        """Lines of what is out whose thread or thickness nobody took yet."""
        return tuple(line for line in self.lines if line.n_open and not line.is_taken)


def ledger(state: State) -> Ledger:
    """Count what went out and in, from the entries in force."""
    counts = _counts(state)
    lines = []
    for (key, (kind, what)), numbers in counts.items():
        part = state.part(key)
        lines.append(
            Line(
                part=part.name,
                kind=kind,
                what=what,
                cell=part.removed.cell if part.removed else None,
                n_out=numbers["out"],
                n_back=numbers["back"],
                n_accounted=numbers["accounted"],
                n_added=numbers["added"],
            )
        )
    springs = tuple(Spring(spring=each.spring, turns=each.turns, words=each.todo) for each in springs_owed(state))
    return Ledger(lines=tuple(lines), springs=springs)


def _counts(state: State) -> dict[tuple[str, Joint], Counter[str]]:
    """How many of each kind of each part came out, went back, were accounted for and added."""
    counts: dict[tuple[str, Joint], Counter[str]] = {}
    held: dict[str, Counter[Joint]] = {}
    for entry in state.entries:
        if isinstance(entry, Removed):
            for joint, count in came_out(held.pop(part_key(entry.part), {}), entry).items():
                counts.setdefault((part_key(entry.part), joint), Counter())["out"] += count
        elif isinstance(entry, Refitted | Added):
            _count_back(counts, entry)
            before = held.get(part_key(entry.part), Counter()) if isinstance(entry, Added) else Counter()
            held[part_key(entry.part)] = before + Counter(hardware(entry))
        elif isinstance(entry, AccountedFor):
            for (key, _), numbers in counts.items():
                if key == part_key(entry.part):
                    numbers["accounted"] += _open(numbers)
    return counts


def _count_back(counts: dict[tuple[str, Joint], Counter[str]], entry: Refitted | Added) -> None:
    """Book what went back as far as it was out, and the rest as added."""
    key = part_key(entry.part)
    out = {joint: _open(numbers) for (of, joint), numbers in counts.items() if of == key and _open(numbers) > 0}
    paired = pairing(out if isinstance(entry, Refitted) else {}, hardware(entry))
    for joint, count in paired.filled.items():
        counts[key, joint]["back"] += count
    for joint, count in paired.added.items():
        counts.setdefault((key, joint), Counter())["added"] += count


def _open(numbers: Counter[str]) -> int:
    return numbers["out"] - numbers["back"] - numbers["accounted"]


def ledger_json(book: Ledger) -> dict[str, JsonValue]:
    """The ledger for scripts."""
    return {
        "open": {kind: book.n_open(kind) for kind in ("screw", "shim", "loose part", "lead")},
        "lines": [_line_json(line) for line in book.lines],
        "not_taken": sum(line.n_open for line in book.not_taken),
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
        "added": line.n_added,
        "open": line.n_open,
    }


def not_taken_words(state: State) -> tuple[str, ...]:
    """What came off without a thread or thickness, part by part: "top cover: 2 × screw, thread not taken"."""
    return tuple(f"{line.part}: {line.n_open} × {line.words}" for line in ledger(state).not_taken)


def open_lines(lines: Iterable[Line]) -> tuple[Line, ...]:
    """Those that do not balance yet."""
    return tuple(line for line in lines if line.n_open)
