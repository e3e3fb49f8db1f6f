"""The state of a camera on the bench: the fold of its journal. Total: a journal that contradicts itself folds too."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from camerawright.journal.entries import (
    CLOSING,
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Answered,
    Arrived,
    Awaited,
    Cautioned,
    Cleaned,
    Closed,
    Corrected,
    Entry,
    Fastener,
    Found,
    HandedBack,
    HoldPoint,
    Marked,
    MarkWanted,
    Measured,
    Refitted,
    Reminded,
    Removed,
    Set,
    Shim,
    in_order,
    part_key,
)

Promise = Reminded | HoldPoint | Found
"""What stays owed until an `Answered` names it; a finding is owed only if it says what is to be done."""

Joint = tuple[str, str]
"""Kind ("screw" or "shim") and the description that makes two of them alike."""


def _fastener_joint(fastener: Fastener) -> Joint:
    parts = [fastener.size]
    if fastener.length_mm is not None:
        parts.append(f"× {fastener.length_mm:g} mm")
    parts += [text for text in (fastener.head, "left-hand" if fastener.hand == "left" else None) if text]
    return "screw", " ".join(parts)


def _shim_joint(shim: Shim) -> Joint:
    thickness = f"{shim.thickness_mm:.2f} mm" if shim.thickness_mm is not None else "thickness not taken"
    return "shim", f"{thickness}, {shim.place}"


def hardware(fasteners: Iterable[Fastener], shims: Iterable[Shim]) -> Counter[Joint]:
    """How many of each like fastener and shim."""
    counts: Counter[Joint] = Counter()
    for fastener in fasteners:
        counts[_fastener_joint(fastener)] += fastener.count
    for shim in shims:
        counts[_shim_joint(shim)] += shim.count
    return counts


@dataclass(frozen=True, kw_only=True)
class Part:
    """Everything the journal says of one part. `status` is where it is now."""

    key: str
    name: str
    status: Literal["on", "off", "accounted for"] = "on"
    removed: Removed | None = None  # its last removal
    n_removal: int = -1  # the how-manieth removal that was
    refitted: Refitted | None = None
    awaiting: str | None = None
    marks: tuple[Marked, ...] = ()
    marks_wanted: tuple[MarkWanted, ...] = ()
    cautions: tuple[Cautioned, ...] = ()
    findings: tuple[Found, ...] = ()
    cleaned: tuple[Cleaned, ...] = ()
    out: Mapping[Joint, int] = field(default_factory=dict)  # hardware still out, and not accounted for


@dataclass(frozen=True, kw_only=True)
class State:
    """The fold of a journal."""

    journal: tuple[Entry, ...]  # every entry as written, in order
    entries: tuple[Entry, ...]  # those in force, corrections resolved, in order
    struck: frozenset[str]
    parts: Mapping[str, Part]
    settings: Mapping[str, str]
    aids: tuple[AidFitted, ...]
    promises: tuple[Promise, ...]
    answers: Mapping[str, Answered]
    measured: tuple[Measured, ...]
    conflicts: tuple[str, ...]
    is_closed: bool
    handed_back: HandedBack | None

    @property
    def off(self) -> tuple[Part, ...]:
        """Parts that are off and not accounted for, in the order in which they came off."""
        return tuple(sorted((p for p in self.parts.values() if p.status == "off"), key=lambda p: p.n_removal))

    @property
    def open_promises(self) -> tuple[Promise, ...]:
        """Reminders, hold points and findings that nobody has answered."""
        return tuple(promise for promise in self.promises if promise.id not in self.answers)

    def part(self, name: str) -> Part:
        """The part of that name; one nobody has touched yet is on the camera."""
        key = part_key(name)
        return self.parts.get(key) or Part(key=key, name=name.strip())

    def promises_of(self, name: str) -> tuple[Promise, ...]:
        """What is owed before this part may go back (or before the closing)."""
        key = part_key(name)
        return tuple(promise for promise in self.open_promises if part_key(promise.part) == key)

    @property
    def n_out(self) -> int:
        """Screws and shims that are out."""
        return sum(sum(part.out.values()) for part in self.parts.values())


def in_force(ordered: Sequence[Entry]) -> tuple[tuple[Entry, ...], frozenset[str]]:
    """Resolve the corrections of an ordered journal: what stands, and the ids of what was struck out.

    A correction is judged from the newest back: one that was itself struck out has no effect, and of several that name
    the same entry the newest counts. What it puts in place keeps the id and the moment of the entry it replaces.
    """
    decided: dict[str, Entry | None] = {}
    for entry in reversed(ordered):
        if isinstance(entry, Corrected) and not (entry.id in decided and decided[entry.id] is None):
            decided.setdefault(
                entry.entry,
                entry.becomes.model_copy(update={"id": entry.entry}) if entry.becomes is not None else None,
            )
    standing = []
    for entry in ordered:
        if isinstance(entry, Corrected):
            continue
        kept = decided.get(entry.id, entry)
        if kept is not None:
            standing.append(kept if kept is entry else kept.model_copy(update={"at": entry.at}))
    struck = frozenset(entry_id for entry_id, kept in decided.items() if kept is None)
    return tuple(standing), struck


class _Fold:
    """The half-folded journal: the one mutable thing here, and it does not leave `fold`."""

    def __init__(self) -> None:
        self.parts: dict[str, Part] = {}
        self.settings: dict[str, str] = {}
        self.aids: list[AidFitted] = []
        self.promises: list[Promise] = []
        self.answers: dict[str, Answered] = {}
        self.measured: list[Measured] = []
        self.conflicts: list[str] = []
        self.n_removed = 0
        self.is_closed = False
        self.handed_back: HandedBack | None = None

    def of(self, name: str) -> Part:
        key = part_key(name)
        return self.parts.get(key) or Part(key=key, name=name)

    def put(self, part: Part) -> None:
        self.parts[part.key] = part

    def take(self, entry: Entry) -> None:  # noqa: C901 a flat match is a table
        match entry:
            case Removed():
                self._removed(entry)
            case Refitted():
                self._refitted(entry)
            case AccountedFor():
                part = self.of(entry.part)
                status: Literal["on", "accounted for"] = "accounted for" if part.status == "off" else "on"
                self.put(replace(part, status=status, out={}, awaiting=None))
            case AidFitted():
                self.aids.append(entry)
            case AidTakenOut():
                self._aid_taken_out(entry)
            case Answered():
                self.answers[entry.entry] = entry
            case Set():
                self.settings.update(entry.settings)
            case Measured():
                self.measured.append(entry)
            case Closed():
                self.is_closed = True
            case HandedBack():
                self.handed_back = entry
            case _:
                self._about_a_part(entry)

    def _about_a_part(self, entry: Entry) -> None:  # noqa: C901 likewise
        match entry:
            case Marked():
                part = self.of(entry.part)
                self.put(replace(part, marks=(*part.marks, entry)))
            case MarkWanted():
                part = self.of(entry.part)
                self.put(replace(part, marks_wanted=(*part.marks_wanted, entry)))
            case Cautioned():
                part = self.of(entry.part)
                self.put(replace(part, cautions=(*part.cautions, entry)))
            case Cleaned():
                part = self.of(entry.part)
                self.put(replace(part, cleaned=(*part.cleaned, entry)))
            case Found():
                part = self.of(entry.part)
                self.put(replace(part, findings=(*part.findings, entry)))
                if entry.todo:
                    self.promises.append(entry)
            case Reminded() | HoldPoint():
                if part_key(entry.part) != CLOSING:
                    self.put(self.of(entry.part))
                self.promises.append(entry)
            case Awaited():
                self.put(replace(self.of(entry.part), awaiting=entry.awaiting))
            case Arrived():
                self.put(replace(self.of(entry.part), awaiting=None))
            case _:
                pass  # said, ordered, billed: nothing moves

    def _removed(self, entry: Removed) -> None:
        part = self.of(entry.part)
        if part.status == "off":
            self.conflicts.append(f"{part.name} came off twice without going back in between")
        out = Counter(part.out) + hardware(entry.fasteners, entry.shims)
        self.put(
            replace(part, status="off", removed=entry, n_removal=self.n_removed, refitted=None, awaiting=None, out=out)
        )
        self.n_removed += 1

    def _refitted(self, entry: Refitted) -> None:
        part = self.of(entry.part)
        if part.status != "off":
            self.conflicts.append(f"{part.name} went back while it was {part.status}")
        # Counter subtraction keeps what is still out; hardware put in beyond what came out is the rules' business.
        out = Counter(part.out) - hardware(entry.fasteners, entry.shims)
        self.put(replace(part, status="on", refitted=entry, awaiting=None, out=out))

    def _aid_taken_out(self, entry: AidTakenOut) -> None:
        for i_aid, aid in enumerate(self.aids):
            if part_key(aid.aid) == part_key(entry.aid):
                del self.aids[i_aid]
                return
        self.conflicts.append(f"the aid {entry.aid} was taken out but never fitted")


def fold(entries: Iterable[Entry]) -> State:
    """Add a journal up, in whatever order its entries are given.

    Parameters
    ----------
    entries
        The journal; an id that occurs twice counts once.
    """
    journal = in_order(list({entry.id: entry for entry in entries}.values()))
    standing, struck = in_force(journal)
    folding = _Fold()
    for entry in standing:
        folding.take(entry)
    return State(
        journal=tuple(journal),
        entries=standing,
        struck=struck,
        parts=folding.parts,
        settings=folding.settings,
        aids=tuple(folding.aids),
        promises=tuple(folding.promises),
        answers=folding.answers,
        measured=tuple(folding.measured),
        conflicts=tuple(folding.conflicts),
        is_closed=folding.is_closed,
        handed_back=folding.handed_back,
    )
