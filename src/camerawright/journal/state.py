"""The state of a camera on the bench: the fold of its journal. Total: a journal that contradicts itself folds too."""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from functools import cached_property
from typing import Any, Final, Literal

from camerawright.journal.corrections import in_force
from camerawright.journal.entries import (
    CLOSING,
    AccountedFor,
    Added,
    AidFitted,
    AidTakenOut,
    Answered,
    Arrived,
    Awaited,
    Cautioned,
    Cleaned,
    CleaningDecided,
    Closed,
    Contains,
    Described,
    Entry,
    Fastener,
    Found,
    HandedBack,
    HoldPoint,
    Irreplaceable,
    Lubricated,
    Marked,
    MarkWanted,
    Measured,
    NeedsState,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Reopened,
    Set,
    Sits,
    Tension,
    Tried,
    Turned,
    in_order,
    part_key,
)
from camerawright.journal.gauging import with_sizes
from camerawright.journal.joints import Joint, came_out, hardware, noun_of, pairing
from camerawright.journal.reached import reached
from camerawright.journal.sentences import briefly
from camerawright.journal.slack import (
    as_counted,
    by_joint,
    nipped,
    slack_after,
    slack_that_came_off,
)

Promise = Reminded | HoldPoint | Found | Tried
"""What stays owed until an `Answered` names it: of findings, what is to be done; of tries, what got worse."""


@dataclass(frozen=True, kw_only=True)
class Part:
    """Everything the journal says of one part. `status` is where it is now."""

    key: str
    name: str
    status: Literal["on", "off", "accounted for"] = "on"
    removed: Removed | None = None  # its last removal
    n_removal: int = -1  # the how-manieth removal that was
    refitted: Refitted | None = None
    awaiting: Awaited | None = None
    marks: tuple[Marked, ...] = ()
    n_marks_used: int = 0  # of the marks: those noted before it last went back
    marks_wanted: tuple[MarkWanted, ...] = ()
    cautions: tuple[Cautioned, ...] = ()
    findings: tuple[Found, ...] = ()
    cleaned: tuple[Cleaned, ...] = ()
    needs: tuple[NeedsState, ...] = ()
    lubricated: tuple[Lubricated, ...] = ()
    tried: tuple[Tried, ...] = ()
    n_tried_past: int = 0  # of the tries: those before it last came off
    irreplaceable: str | None = None
    material: str | None = None  # as noted last, whenever
    finish: str | None = None
    soil: tuple[str, ...] = ()  # noted since it last went back
    sits: tuple[Sits, ...] = ()
    cleaning: tuple[CleaningDecided, ...] = ()
    added: Added | None = None  # if it was not there before
    slack: Mapping[Joint, int] = field(default_factory=dict)  # screws in it, on or off, that are not tight
    out: Mapping[Joint, int] = field(default_factory=dict)  # hardware still out, and not accounted for
    held: Mapping[Joint, int] = field(default_factory=dict)  # hardware that went in with it and is in
    accounted: Mapping[Joint, int] = field(default_factory=dict)  # hardware accounted for since it went back
    left_out: str = ""  # where it is instead, once it is accounted for
    hardware_left_out: tuple[tuple[Joint, int, str], ...] = ()  # what does not go back of a part that did, and why

    @property
    def bath(self) -> str | None:
        """The process that it is in; "cleaned" ends it, and nothing else does."""
        wait = self.awaiting
        if wait is None or any(entry.at >= wait.at for entry in self.cleaned):
            return None
        return wait.bath

    def waits(self, now: datetime) -> Awaited | None:
        """What it still waits for: a wait with an end is over by itself, but nothing comes out of a bath by itself."""
        return self.awaiting if self.awaiting and (self.bath or self.awaiting.lasts(now)) else None

    @property
    def marks_now(self) -> tuple[Marked, ...]:
        """The marks noted since it last went back: earlier ones may no longer hold."""
        return self.marks[self.n_marks_used :]

    @property
    def tried_now(self) -> tuple[Tried, ...]:
        """The tries since it last came off: what held it then is out, and no longer seized."""
        return self.tried[self.n_tried_past :]


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
    answers: Mapping[str, Answered]  # by promise; one that a later removal made void is not in it, nor one that failed
    failed: Mapping[str, Answered]  # by promise: the last answer that said so
    measured: tuple[Measured, ...]
    tension: Mapping[str, float]  # spring -> turns let down and not put back, clockwise as positive
    wound_too_far: frozenset[str]  # those of them that were wound beyond where they were
    conflicts: tuple[str, ...]
    is_closed: bool
    in_parts: str  # why it was closed in parts, if it was
    handed_back: HandedBack | None
    over: Mapping[str, tuple[Entry, ...]]  # by part key: the entries that say what comes off before it
    wholes: Mapping[str, frozenset[str]]  # by part key: what contains the part
    treated: tuple[Entry, ...]  # what was put on parts, warmed, or left to itself

    @property
    def off(self) -> tuple[Part, ...]:
        """Parts that are off and not accounted for, in the order in which they came off."""
        return tuple(sorted((p for p in self.parts.values() if p.status == "off"), key=lambda p: p.n_removal))

    @cached_property
    def by_id(self) -> dict[str, Entry]:
        """Every entry as written, by its id."""
        return {entry.id: entry for entry in self.journal}

    def as_it_counts(self, entry: Entry) -> Entry:
        """An entry as it counts now: corrected, and with the screws it was about. If struck out, as it was written."""
        return next((each for each in reversed(self.entries) if each.id == entry.id), entry)

    @property
    def is_refitting(self) -> bool:
        """Whether the last part that moved went back."""
        moves = [entry for entry in self.entries if isinstance(entry, Removed | Refitted)]
        return bool(moves) and isinstance(moves[-1], Refitted)

    @property
    def open_promises(self) -> tuple[Promise, ...]:
        """Reminders, hold points, findings and spoiled fasteners that nobody has answered."""
        return tuple(promise for promise in self.promises if promise.id not in self.answers)

    def asked_by(self, promise: Promise) -> str:
        """What is owed, and that it failed when it was last tried."""
        failed = self.failed.get(promise.id)
        return f"{promise.asks}: it failed ({failed.answer})" if failed else promise.asks

    def part(self, name: str) -> Part:
        """The part of that name; one nobody has touched yet is on the camera."""
        key = part_key(name)
        return self.parts.get(key) or Part(key=key, name=name.strip())

    def promises_of(self, name: str) -> tuple[Promise, ...]:
        """What is owed before this part may go back (or before the closing)."""
        return tuple(promise for promise in self.promises_ever(name) if promise.id not in self.answers)

    @cached_property
    def _promises_by_part(self) -> dict[str, list[Promise]]:
        gathered: dict[str, list[Promise]] = {}
        for promise in self.promises:
            gathered.setdefault(part_key(promise.part or CLOSING), []).append(promise)
        return gathered

    def promises_ever(self, name: str) -> tuple[Promise, ...]:
        """Every promise that was made for a part, answered or not."""
        return tuple(self._promises_by_part.get(part_key(name), ()))

    def setting(self, name: str) -> str | None:
        """How the machine is set, as far as that is known."""
        key = part_key(name)
        return next((how for what, how in self.settings.items() if part_key(what) == key), None)

    @cached_property
    def n_out_of(self) -> Counter[str]:
        """How many screws, other fasteners (rings, nuts, pins), shims, loose parts and leads are out."""
        out: Counter[str] = Counter()
        for part in self.parts.values():
            for joint, count in part.out.items():
                out[noun_of(joint)] += count
        return out

    @property
    def n_out(self) -> int:
        """Screws, shims and loose parts that are out."""
        return self.n_out_of.total()


_KEPT_WITH_THE_PART: dict[type, str] = {
    Marked: "marks",
    MarkWanted: "marks_wanted",
    Cautioned: "cautions",
    Cleaned: "cleaned",
    Found: "findings",
    NeedsState: "needs",
    Lubricated: "lubricated",
    Sits: "sits",
    CleaningDecided: "cleaning",
    Tried: "tried",
}
"""The field of `Part` that gathers each kind of entry; other kinds (said, ordered, billed) move nothing."""
_BACK_IN_PARTS: Final = ("status", "out", "awaiting", "accounted", "hardware_left_out")
"""The fields of `Part` that a closing in parts changes, and a reopening changes back."""
_GATHERED: Final = frozenset(_KEPT_WITH_THE_PART.values())


class _Fold:
    """The half-folded journal: the one mutable thing here, and it does not leave `fold`.

    `parts` holds the fields of each `Part` as far as they are told; lists become tuples at the end.
    """

    def __init__(self) -> None:
        self.entries: list[Entry] = []  # as they count: "tightened" with the screws that it was about
        self.parts: dict[str, dict[str, Any]] = {}
        self.frozen: dict[str, Part] = {}
        self.told: dict[str, None] = {}  # keys of the parts that were told something since they were frozen
        self.over: dict[str, tuple[Entry, ...]] = {}
        self.treated: list[Entry] = []
        self.screws: dict[Joint, Fastener] = {}  # one of each kind that was turned or nipped up
        self.settings: dict[str, str] = {}
        self.aids: list[AidFitted] = []
        self.promises: list[Promise] = []
        self.answers: dict[str, Answered] = {}
        self.failed: dict[str, Answered] = {}
        self.wholes: dict[str, set[str]] = {}  # part -> what contains it
        self.promised: dict[str, list[str]] = {}  # part -> ids of what a removal of it makes owed again
        self.measured: list[Measured] = []
        self.tension: dict[str, float] = {}
        self.lets_down: dict[str, float] = {}  # spring -> the way that lets it down, clockwise as positive
        self.most_turns: dict[str, float] = {}  # spring -> the most that was ever let down
        self.conflicts: list[str] = []
        self.closing_conflicts: list[str] = []  # with a closing that is in force
        self.n_removed = 0
        self.is_closed = False
        self.in_parts = ""
        self.given: dict[str, dict[str, Any]] = {}  # what went home in parts, as it was when the job was closed
        self.handed_back: HandedBack | None = None

    def of(self, name: str) -> dict[str, Any]:
        key = part_key(name)
        self.told[key] = None
        part = self.parts.get(key)
        if part is None:
            part = self.parts[key] = {"key": key, "name": name, "status": "on", "out": {}}
        return part

    def take(self, entry: Entry) -> None:
        """The next entry in force."""
        if isinstance(entry, Turned):
            entry = self._turned(entry)
        self.entries.append(entry)
        self._take(entry)

    def _take(self, entry: Entry) -> None:  # noqa: C901, PLR0912 a flat match is a table
        match entry:
            case Removed():
                self._removed(entry)
            case Refitted():
                self._refitted(entry)
            case AccountedFor():
                self._accounted_for(entry)
            case AidFitted():
                self._after_closing(entry)
                self.aids.append(entry)
            case AidTakenOut():
                self._aid_taken_out(entry)
            case Answered():
                self._answered(entry)
            case Ordered():
                self._comes_after(entry.then, entry)
            case Contains():
                for name in entry.parts:
                    self.wholes.setdefault(part_key(name), set()).add(part_key(entry.part))
            case Set():
                self._set(entry.settings)
            case Measured():
                self.measured.append(entry)
            case Tension():
                self._tension(entry)
            case Described():
                for name in entry.parts:
                    self._described(name, entry)
            case Closed():
                self._closed(entry)
            case HandedBack():
                self.handed_back = entry
            case Reopened():
                self._reopened()
            case _:
                self._about_a_part(entry)

    def _comes_after(self, name: str, entry: Ordered | Removed) -> None:
        key = part_key(name)
        self.over[key] = (*self.over.get(key, ()), entry)

    def _about_a_part(self, entry: Entry) -> None:  # noqa: C901 a flat match is a table
        """What is said of a part stays with it; some of it is a promise too."""
        said = _KEPT_WITH_THE_PART.get(type(entry))
        match entry:
            case Awaited():
                self.of(entry.part)["awaiting"] = entry
            case Arrived():
                self.of(entry.part)["awaiting"] = None
            case Added():
                self._added(entry)
            case Turned():
                pass  # counted already
            case Irreplaceable():
                self.of(entry.part)["irreplaceable"] = entry.reason
            case Reminded() | HoldPoint():
                self._promised(entry)
            case _ if said:
                about = self.of(getattr(entry, "part"))  # noqa: B009 the table holds only entries about a part
                about.setdefault(said, []).append(entry)
        if isinstance(entry, Cleaned | Awaited | Tried | Lubricated):
            self.treated.append(entry)
        if isinstance(entry, Found | Tried) and entry.is_owed:
            self._after_closing(entry)
            self.promises.append(entry)

    def _answered(self, entry: Answered) -> None:
        """A check that failed stays owed."""
        self.failed.pop(entry.entry, None)
        self.answers.pop(entry.entry, None)
        (self.failed if entry.has_failed else self.answers)[entry.entry] = entry

    def _turned(self, entry: Turned) -> Turned:
        """Screws that are or are no longer tight; of those that nobody named it is known which they were."""
        part = self.of(entry.part)
        slack = part.get("slack", {})
        self.screws |= by_joint(entry.fasteners)
        part["slack"] = slack_after(slack, entry)
        return as_counted(entry, slack, self.screws)

    def _promised(self, entry: Reminded | HoldPoint) -> None:
        self._after_closing(entry)
        part = entry.part or CLOSING
        if part_key(part) != CLOSING:
            self.of(part)
        self.promises.append(entry)
        needs = entry.needs if isinstance(entry, HoldPoint) else ()
        for name in needs or (part,):
            self.promised.setdefault(part_key(name), []).append(entry.id)

    def _described(self, name: str, entry: Described | Removed) -> None:
        """What a part is made of and what is on it, as far as it is said; the rest stays as it was known."""
        said = {"material": entry.material, "finish": entry.finish, "soil": entry.soil}
        self.of(name).update({what: how for what, how in said.items() if how})

    def _set(self, settings: Mapping[str, str]) -> None:
        """Change some settings; two spellings are one."""
        for what, how in settings.items():
            old = next((known for known in self.settings if part_key(known) == part_key(what)), what)
            self.settings[old] = how

    def _added(self, entry: Added) -> None:
        part = self.of(entry.part)
        self._after_closing(entry)
        if part["status"] == "off":
            self.conflicts.append(f"{part['name']} was added while it was off")
        part.update(status="on", added=entry, held=dict(Counter(part.get("held", {})) + Counter(hardware(entry))))

    def _accounted_for(self, entry: AccountedFor) -> None:
        part = self.of(entry.part)
        if part["status"] == "on" and not part["out"]:
            self.conflicts.append(f"{part['name']} was accounted for while it was on, with nothing of it out")
        self._leave_out(part, entry.reason)

    def _leave_out(self, part: dict[str, Any], reason: str) -> None:
        """A part that does not go back; or, of one that is on, the hardware that does not."""
        if part["status"] == "on":
            part["accounted"] = dict(Counter(part.get("accounted", {})) + Counter(part["out"]))
            missing = tuple((joint, count, reason) for joint, count in part["out"].items())
            part["hardware_left_out"] = (*part.get("hardware_left_out", ()), *missing)
        else:
            part.update(status="accounted for", left_out=reason)
        part.update(out={}, awaiting=None)

    def _closed(self, entry: Closed) -> None:
        """A closing that the balance would have refused can only come from journals that were merged."""
        self.is_closed = True
        if entry.in_parts:
            self._given_in_parts(entry.in_parts)
            return
        missing = [part["name"] for part in self.parts.values() if part["status"] == "off" or part["out"]]
        missing += [aid.aid for aid in self.aids]
        let_go = self.failed if entry.overruled else {}
        owed = [promise for promise in self.promises if promise.id not in self.answers and promise.id not in let_go]
        missing += [promise.asks for promise in owed if not isinstance(promise, Tried)]
        if missing:
            self.closing_conflicts.append(f"the job was closed while this was not settled: {', '.join(missing)}")

    def _given_in_parts(self, reason: str) -> None:
        """All that is off or missing goes home with the camera."""
        self.in_parts = reason
        for key in [key for key, part in self.parts.items() if part["status"] == "off" or part["out"]]:
            part = self.of(key)
            self.given[key] = {"awaiting": None, "accounted": {}, "hardware_left_out": (), **part}
            self._leave_out(part, f"given back in parts: {reason}")

    def _owe_again(self, key: str) -> None:
        """What was done for the last refit of a part, or checked with it in place, is to be done again.

        What was checked with something in place that contains the part was checked with the part, too.
        """
        for each in {key, *reached([key], self.wholes)}:
            for promise in self.promised.get(each, ()):
                self.answers.pop(promise, None)
                self.failed.pop(promise, None)
        for check in self.promises:
            if isinstance(check, HoldPoint) and check.is_of_the_whole:
                self.answers.pop(check.id, None)
                self.failed.pop(check.id, None)

    def _reopened(self) -> None:
        """What is asked for at the closing is asked for again; what went against the last closing is settled."""
        self.is_closed, self.handed_back = False, None
        for key, was in self.given.items():  # what went home in parts comes back in parts
            self.of(key).update({name: was[name] for name in _BACK_IN_PARTS}, left_out="")
        self.given, self.in_parts = {}, ""
        self.closing_conflicts = []
        for promise in self.promises:
            if isinstance(promise, Reminded | HoldPoint) and part_key(promise.part or CLOSING) == CLOSING:
                self.answers.pop(promise.id, None)

    def _after_closing(self, entry: Entry) -> None:
        """What moves or leaves something to do in a closed job can only come from journals that were merged."""
        if self.is_closed:
            self.closing_conflicts.append(f"{briefly(entry)} after the job was closed")

    def _removed(self, entry: Removed) -> None:
        part = self.of(entry.part)
        self._after_closing(entry)
        if part["status"] == "off":
            self.conflicts.append(f"{part['name']} came off twice without going back in between")
        elif part["status"] == "accounted for":
            self.conflicts.append(f"{part['name']} came off after it was accounted for")
        if entry.assembly and not self.parts.get(part_key(entry.assembly), {}).get("removed"):
            self.wholes.setdefault(part["key"], set()).add(part_key(entry.assembly))
        self._owe_again(part["key"])
        out = part["out"]
        for joint, count in came_out(part.get("held", {}), entry).items():
            out[joint] = out.get(joint, 0) + count
        part["slack"] = slack_that_came_off(part.get("slack", {}), entry)
        part.update(status="off", removed=entry, n_removal=self.n_removed, refitted=None, awaiting=None)
        part.update(held={}, accounted={})
        part["n_tried_past"] = len(part.get("tried", ()))
        self._described(entry.part, entry)
        if entry.tool:  # it may be a soldering iron
            self.treated.append(entry)
        if entry.under:
            self._comes_after(entry.part, entry)
        self.n_removed += 1

    def _refitted(self, entry: Refitted) -> None:
        part = self.of(entry.part)
        self._after_closing(entry)
        if part["status"] == "on" and part["out"] and hardware(entry):
            self._found_again(part, entry)
            return
        if part["status"] != "off":
            self.conflicts.append(f"{part['name']} went back while it was {part['status']}")
        # What goes in beyond what came out is the rules' business: here it only fills what is out.
        paired = pairing(part["out"], hardware(entry))
        stayed = pairing(part.get("slack", {}), paired.added)
        part["out"] = dict(paired.missing)
        held = Counter(hardware(entry)) - Counter(paired.added) + Counter(stayed.added)
        part.update(held=dict(held), accounted={})
        self.screws |= by_joint(entry.fasteners)
        slack = stayed.missing
        part["slack"] = dict(Counter(slack) | Counter(nipped(entry))) if entry.nipped else dict(slack)
        part.update(status="on", refitted=entry, awaiting=None, soil=(), n_marks_used=len(part.get("marks", ())))

    def _found_again(self, part: dict[str, Any], entry: Refitted) -> None:
        """What was still missing from a part that is on."""
        part["out"] = dict(pairing(part["out"], hardware(entry)).missing)
        part["held"] = dict(Counter(part.get("held", {})) + Counter(hardware(entry)))
        if entry.nipped:
            self.screws |= by_joint(entry.fasteners)
            part["slack"] = dict(Counter(part.get("slack", {})) + Counter(nipped(entry)))

    def finished(self) -> dict[str, Part]:
        """Every part, frozen."""
        for key in self.told:
            part = self.parts[key].items()
            told: dict[str, Any] = {name: tuple(each) if name in _GATHERED else each for name, each in part}
            self.frozen[key] = Part(**told | {"out": dict(told["out"])})
        self.told.clear()
        return dict(self.frozen)

    def state(self, journal: Sequence[Entry], struck: frozenset[str]) -> State:
        """What the entries taken so far add up to."""
        return State(
            journal=tuple(journal),
            entries=tuple(self.entries),
            struck=struck,
            parts=self.finished(),
            settings=dict(self.settings),
            aids=tuple(self.aids),
            promises=tuple(self.promises),
            answers=dict(self.answers),
            failed=dict(self.failed),
            measured=tuple(self.measured),
            tension=dict(self.tension),
            wound_too_far=frozenset(filter(self._is_too_far, self.tension)),
            conflicts=(*self.conflicts, *self.closing_conflicts),
            is_closed=self.is_closed,
            in_parts=self.in_parts,
            handed_back=self.handed_back,
            over=dict(self.over),
            wholes={key: frozenset(wholes) for key, wholes in self.wholes.items()},
            treated=tuple(self.treated),
        )

    def _tension(self, entry: Tension) -> None:
        """Turns one way and the other cancel; what is left is owed. The machine's state says which it is now."""
        self._after_closing(entry)
        key = part_key(entry.spring)
        self.lets_down[key] = entry.clockwise if entry.act == "let down" else -entry.clockwise
        left = self.tension.pop(key, 0.0) + entry.clockwise
        if abs(left) >= 1e-9:
            self.tension[key] = left
        self._set({entry.spring: self._spring_now(key, entry, left)})

    def _is_too_far(self, key: str) -> bool:
        """Whether a spring is wound beyond where it was."""
        return self.tension.get(key, 0.0) * self.lets_down.get(key, 0.0) < 0

    def _spring_now(self, key: str, entry: Tension, left: float) -> str:
        """Let down means all turns, and tensioned too; of a spring that was let down further before, it is a part."""
        most = self.most_turns.get(key, 0.0)
        if most and self._is_too_far(key):
            return "wound too far"
        if entry.act == "tensioned":
            return "tensioned in part" if most and abs(left) > 1e-9 else "tensioned"
        self.most_turns[key] = max(most, abs(left))
        is_part = abs(left) < most - 1e-9 if entry.left is None else entry.left > 0
        return "let down in part" if is_part else "let down"

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
    standing = with_sizes(standing)
    folding = _Fold()
    for entry in standing:
        folding.take(entry)
    return folding.state(journal, struck)


def states_before(
    standing: Sequence[Entry], *, start: int = 0, wanted: Callable[[Entry], bool]
) -> Iterator[tuple[State | None, Entry]]:
    """Each entry from the `start`-th on, with the state that it found; `standing` as `in_force` gives it.

    An entry that is not wanted comes without its state, unless the job was closed then.
    """
    folding = _Fold()
    for i, entry in enumerate(standing):
        if i >= start:
            is_wanted = wanted(entry) or folding.is_closed or folding.handed_back is not None
            before = standing[:i] if is_wanted else ()
            yield folding.state(before, frozenset()) if is_wanted else None, entry
        folding.take(entry)
