"""What cannot be done to a camera, whatever a journal says: told from the entries alone, one by one.

It shares no code with the rules, the fold or the balance.
"""

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from camerawright.journal.entries import (
    CLOSING,
    AccountedFor,
    AidFitted,
    AidTakenOut,
    Answered,
    Cautioned,
    Closed,
    Entry,
    Found,
    HandedBack,
    HoldPoint,
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
    Tension,
    Tried,
)


def impossible(entries: Iterable[Entry]) -> list[str]:
    """What happened that could not, or that nobody should let pass; what carries a reason of its own is left aside."""
    camera = _Camera()
    told = []
    for entry in entries:
        wrong = list(camera.wrong_with(entry))
        told += [f"{entry.kind}: {what}" for what in wrong if not entry.overruled]
        camera.take(entry)
    return told


class _Camera:
    """One camera on a bench."""

    def __init__(self) -> None:
        self.off: set[str] = set()
        self.gone: set[str] = set()  # accounted for
        self.was_off: set[str] = set()
        self.over: list[tuple[str, str]] = []  # what sits over what
        self.tray: Counter[tuple[str, str, str]] = Counter()
        self.held: Counter[tuple[str, str, str]] = Counter()  # what went in and is in
        self.perhaps: Counter[tuple[str, str, str]] = Counter()  # what was accounted for while its part was on
        self.aids: Counter[str] = Counter()
        self.turns = 0.0  # of the only spring, from where it was
        self.wanted: dict[str, set[str]] = {}
        self.noted: dict[str, set[str]] = {}
        self.hazards: dict[str, set[str]] = {}
        self.needs: list[NeedsState] = []
        self.is_set: dict[str, str] = {}
        self.owed: dict[str, Entry] = {}  # what nobody answered
        self.promises: dict[str, Entry] = {}
        self.found: set[str] = set()
        self.left: set[str] = set()
        self.through: set[tuple[str, str]] = set()  # a part whose screws are in, and what one of them goes through
        self.is_worked_on = False
        self.is_shut = False
        self.is_balanced_by_closing = False

    def wrong_with(self, entry: Entry) -> Iterator[str]:  # noqa: C901, PLR0912 a flat match is a table
        """What speaks against an entry, as the camera is."""
        if self.is_shut and not isinstance(entry, HandedBack | Reopened):
            yield "nothing happens to a closed camera"
        match entry:
            case Removed():
                yield from self._comes_off(entry)
            case Refitted():
                yield from self._goes_back(entry)
            case Answered(entry=promise):
                check = self.owed.get(promise)
                if isinstance(check, HoldPoint) and {*check.needs} & (self.off | self.gone):
                    yield "no check passes with a needed part off"
                if isinstance(check, HoldPoint) and _is_of_all(check) and self.off:
                    yield "no check of the whole camera passes with a part off"
            case Measured(phase="as left") if +self.aids or self.turns:
                yield "a reading as left with an aid in or a spring let down"
            case Closed():
                yield from self._is_left_over()
                if not self.is_worked_on:
                    yield "nothing was done"
            case HandedBack():
                if not self.is_shut:
                    yield "it was not closed"
                if not self.is_balanced_by_closing:
                    yield from self._is_left_over()
            case _:
                pass

    def _comes_off(self, entry: Removed) -> Iterator[str]:
        part = entry.part
        if part in self.off | self.gone:
            yield "it is off"
        over = {cover for cover, beneath in self.over if beneath == part} | {*entry.under}
        if over - self.off - self.gone:
            yield "no part comes off beneath one that is on"
        came = Counter(dict(_hardware(entry)))
        went, perhaps = self._of(part, self.held), self._of(part, self.perhaps)
        spoken = {kind for _, kind, _ in went + perhaps}
        if not went <= came or {each[1] for each in came - (went + perhaps)} & spoken:
            yield "what comes out is not what went in"
        if any((other, part) in self.through for other in self.was_off - self.off - self.gone):
            yield "a screw of another part goes through it"
        if {each.through for each in entry.fasteners} & self.off:
            yield "the screw was out when the other part came off"
        if len(self.noted.get(part, ())) < len(self.wanted.get(part, ())):
            yield "a mark is missing"
        caught = {loose.what for loose in entry.loose}
        if self.hazards.get(part, set()) - caught:
            yield "something got loose"
        yield from self._state(part, "removal")

    @staticmethod
    def _of(part: str, hardware: Counter[tuple[str, str, str]]) -> Counter[tuple[str, str, str]]:
        return Counter({each: n for each, n in hardware.items() if each[0] == part and n})

    def _goes_back(self, entry: Refitted) -> Iterator[str]:
        part = entry.part
        if part not in self.off:
            yield "it is not off"
        if any(
            beneath == part and cover not in self.off | self.gone and cover in self.was_off
            for cover, beneath in self.over
        ):
            yield "no part goes back beneath one that is on"
        if any(cover == part and beneath in self.off for cover, beneath in self.over):
            yield "what goes beneath it is off"
        if any(getattr(each, "part", None) == part for each in self.owed.values()):
            yield "something is owed before"
        came = Counter({each: n for each, n in self.tray.items() if each[0] == part})
        if +came != Counter(dict(_hardware(entry))):
            yield "what goes in is not what came out"
        yield from self._state(part, "refit")

    def _state(self, part: str, move: str) -> Iterator[str]:
        for need in self.needs:
            is_so = all(self.is_set.get(what) == how for what, how in need.settings.items())
            if need.part == part and need.moves in {move, "both"} and not is_so:
                yield "the machine is in another state"

    def _is_left_over(self) -> Iterator[str]:
        """What the balance must show."""
        if self.off or +self.tray or +self.aids or self.owed or self.turns:
            yield "the balance is not zero"
        if self.found - self.left:
            yield "read as found and not as left"

    def take(self, entry: Entry) -> None:  # noqa: C901, PLR0912 a flat match is a table
        self.is_worked_on |= isinstance(entry, Removed | Refitted | Measured | Tension | Tried | Found)
        match entry:
            case Removed(part=part):
                self.off.add(part)
                self.was_off.add(part)
                self.over += [(cover, part) for cover in entry.under]
                came = Counter(dict(_hardware(entry)))
                self.tray += came + (self._of(part, self.held) - came)
                self._not_in(part)
                self._owed_again({part})
            case Refitted(part=part):
                self.off.discard(part)
                self.noted.pop(part, None)
                self.tray -= Counter(dict(_hardware(entry)))
                self._not_in(part)
                self.held += Counter(dict(_hardware(entry)))
                self.through |= {(part, each.through) for each in entry.fasteners if each.through}
            case AccountedFor(part=part):
                if part in self.off:
                    self.off.discard(part)
                    self.gone.add(part)
                else:
                    self.perhaps += self._of(part, self.tray)
                self.tray = Counter({each: n for each, n in self.tray.items() if each[0] != part})
            case Ordered(certain=True):
                self.over.append((entry.first, entry.then))
            case AidFitted(aid=aid):
                self.aids[aid] += 1
            case AidTakenOut(aid=aid):
                self.aids[aid] -= 1
            case Tension():
                self.turns += entry.turns if entry.direction == "clockwise" else -entry.turns
            case Set(settings=settings):
                self.is_set |= settings
            case NeedsState():
                self.needs.append(entry)
            case MarkWanted(part=part, mark=mark):
                self.wanted.setdefault(part, set()).add(mark)
            case Marked(part=part, mark=mark):
                self.noted.setdefault(part, set()).add(mark)
            case Cautioned(part=part, frees=frees):
                self.hazards.setdefault(part, set()).update(frees)
            case Reminded() | HoldPoint():
                self.promises[entry.id] = self.owed[entry.id] = entry
            case Found() if entry.todo:
                self.owed[entry.id] = entry
            case Tried(outcome="worse"):
                self.owed[entry.id] = entry
            case Answered(entry=promise):
                self.owed.pop(promise, None)
            case Measured(phase=phase, setup=setup):
                (self.found if phase == "as found" else self.left).add(str(setup["marked"]))
            case Closed():
                self.is_shut = self.is_balanced_by_closing = True
            case HandedBack():
                self.is_shut = True
            case Reopened():
                self.is_shut = self.is_balanced_by_closing = False
                self._owed_again({CLOSING})
            case _:
                pass

    def _not_in(self, part: str) -> None:
        """Nothing is known any more of what holds a part."""
        self.held -= self._of(part, self.held)
        self.perhaps -= self._of(part, self.perhaps)
        self.through = {each for each in self.through if each[0] != part}

    def _owed_again(self, moved: set[str]) -> None:
        """What was done for these is to be done once more."""
        for name, promise in self.promises.items():
            needs = {*promise.needs} if isinstance(promise, HoldPoint) else set()
            part = getattr(promise, "part", None) or CLOSING
            about = needs or {part} if moved != {CLOSING} else {part}
            if about & moved or (isinstance(promise, HoldPoint) and _is_of_all(promise)):
                self.owed[name] = promise


def _is_of_all(check: HoldPoint) -> bool:
    return check.part in {None, CLOSING} and not check.needs


def _hardware(entry: Removed | Refitted) -> Mapping[tuple[str, str, str], int]:
    """What came out or went in, counted by likeness."""
    counts: Counter[tuple[str, str, str]] = Counter()
    kinds: tuple[tuple[str, Any], ...] = (("screw", entry.fasteners), ("shim", entry.shims), ("loose", entry.loose))
    for kind, several in kinds:
        for each in several:
            alike = each.model_copy(update={"count": 1}).model_dump_json(exclude={"through"})
            counts[entry.part, kind, alike] += each.count
    return counts
