"""The refit sheet: the way back of a camera in parts; of one that is whole again, how it came apart and went back.

The refit strip is the same sheet in large type, without reasons and photos.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from camerawright.job.ledger import ledger
from camerawright.job.now import JobNow
from camerawright.job.refit import RefitStep, needs_words, refit_steps
from camerawright.journal.entries import (
    CLOSING,
    AccountedFor,
    Adjusted,
    AidFitted,
    AidTakenOut,
    Entry,
    Fastener,
    Found,
    Loose,
    Refitted,
    Removed,
    Set,
    Shim,
    Tension,
    part_key,
)
from camerawright.journal.notation import written_fastener, written_loose, written_shim
from camerawright.journal.order import Constraint, constraints_said
from camerawright.journal.sentences import sentence
from camerawright.journal.state import Part
from camerawright.papers.paper import Line, Paper, Picture, head, settings_words
from camerawright.recordings.stills import shown
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Unreadable

ASSUMED = "assumed from the order of removal"


@dataclass(frozen=True, kw_only=True)
class Step:
    """One part that moves, with all that belongs to that moment."""

    n: int
    part: str
    cautions: tuple[str, ...] = ()
    lines: tuple[Line, ...] = ()
    cell: str = ""  # tray cell
    photos: tuple[Picture, ...] = ()


@dataclass(frozen=True, kw_only=True)
class RefitSheet(Paper):
    """The way back in `steps`, to be ticked with a pencil; or, once all is back, `came_off` and `went_back`."""

    state: str = ""  # "shutter released, focus at infinity"
    steps: tuple[Step, ...] = ()
    waiting: tuple[Line, ...] = ()  # a part, and why it cannot go back yet
    came_off: tuple[Step, ...] = ()
    went_back: tuple[Step, ...] = ()
    left_out: tuple[Line, ...] = ()  # a part that did not go back, and where it is
    at_the_end: tuple[str, ...] = ()  # what was done once all was back
    owed: tuple[str, ...] = ()  # what no step asks for
    aids: tuple[str, ...] = ()


def refit_sheet(workshop: Workshop, here: JobNow) -> RefitSheet:
    """The sheet of a job.

    Raises
    ------
    Refused
        Nothing came off, and nothing is owed.
    """
    steps = refit_steps(here)
    waiting = tuple(Line(label=item.part.name, words=item.reason) for item in here.way.waiting)
    sheet = RefitSheet(
        **head(workshop, here),
        state=settings_words(here),
        steps=tuple(_way_back_step(here, step) for step in steps),
        waiting=waiting,
        owed=tuple(_owed_elsewhere(here, steps)),
        aids=tuple(f"{aid.aid}, {aid.place}" if aid.place else aid.aid for aid in here.state.aids),
    )
    if steps or waiting:
        return sheet
    done = _Done(here)
    if not (done.came_off or sheet.owed or sheet.aids):
        raise Refused(f"nothing of {here.job.id} came off", "print it once the camera is in parts", "refit sheet")
    return replace(
        sheet,
        came_off=tuple(done.came_off),
        went_back=tuple(done.went_back),
        left_out=tuple(
            Line(label=entry.part, words=entry.reason)
            for entry in here.state.entries
            if isinstance(entry, AccountedFor)
        ),
        at_the_end=(*done.pending, *done.answered(CLOSING)),
    )


def refit_strip(workshop: Workshop, here: JobNow) -> RefitSheet:
    """The way back in large type.

    Raises
    ------
    Refused
        Nothing is off.
    """
    sheet = refit_sheet(workshop, here) if here.state.off else None
    if sheet is None:
        raise Refused(f"nothing of {here.job.id} is off", "print it while the camera is in parts", "refit strip")
    return replace(sheet, steps=tuple(_without_reasons(step) for step in sheet.steps))


def _without_reasons(step: Step) -> Step:
    return replace(step, lines=tuple(line for line in step.lines if line.label != "after"), photos=())


def photos_of(workshop: Workshop, sheet: RefitSheet) -> tuple[RefitSheet, dict[str, bytes]]:
    """The photos that a sheet names, small enough for paper; where one cannot be read, the sheet says so instead."""
    images: dict[str, bytes] = {}
    lost: set[str] = set()
    for step in (*sheet.steps, *sheet.came_off):
        for photo in step.photos:
            try:
                images[photo.name] = shown(workshop.media(photo.name).read_bytes())
            except (Refused, Unreadable, OSError):
                lost.add(photo.name)

    def without_lost(step: Step) -> Step:
        gone = [photo for photo in step.photos if photo.name in lost]
        return replace(
            step,
            photos=tuple(photo for photo in step.photos if photo.name not in lost),
            lines=(*step.lines, *(Line(label="photo", words="it cannot be read; restore a backup") for _ in gone)),
        )

    told = replace(
        sheet, steps=tuple(map(without_lost, sheet.steps)), came_off=tuple(map(without_lost, sheet.came_off))
    )
    return told, images


# The way back


def _way_back_step(here: JobNow, step: RefitStep) -> Step:
    """A part that is to go back."""
    part = step.part
    lines = (
        *_lines("after", (_after_words(bond.then, bond) for bond in step.after)),
        *_lines("only when", needs_words(part, "refit")),
        *_lines("mark", step.marks),
        *_hardware(step.shims, step.fasteners, step.loose),
        *_lines("check first", step.hold_points, to_tick=True),
        *_lines("remember", step.reminders, to_tick=True),
    )
    return _step(here, step.n, part, lines)


def _owed_elsewhere(here: JobNow, steps: tuple[RefitStep, ...]) -> Iterator[str]:
    """What is owed and stands in no step."""
    in_steps = {step.part.key for step in steps}
    for owed in here.owed:
        if owed.kind == "aid" or (
            owed.kind in {"reminder", "finding", "hold point"} and part_key(owed.part) in in_steps
        ):
            continue
        yield owed.what if part_key(owed.part) == CLOSING else f"{owed.part}: {owed.what}"
    for spring in ledger(here.state).springs:
        yield f"{spring.spring}: {spring.words}"


def _step(here: JobNow, n: int, part: Part, lines: Iterable[Line]) -> Step:
    """A step with what belongs to the part whichever way it moves."""
    only_one = here.irreplaceable(part.name)
    return Step(
        n=n,
        part=part.name,
        cautions=(*here.hazards(part.name), *((f"Irreplaceable: {only_one}",) if only_one else ())),
        lines=tuple(lines),
        cell=(part.removed.cell or "") if part.removed else "",
        photos=tuple(_photos(part)),
    )


def _photos(part: Part) -> Iterator[Picture]:
    """How it sat, and its newest reference mark."""
    if part.removed and part.removed.photo:
        yield Picture(name=part.removed.photo, words=f"Photo of {part.name} as it came off")
    marked = [mark for mark in part.marks if mark.photo]
    if marked and (photo := marked[-1].photo):
        yield Picture(name=photo, words=f"Photo of the mark of {part.name}: {marked[-1].mark}", caption="the mark")


def _lines(label: str, words: Iterable[str], *, to_tick: bool = False) -> tuple[Line, ...]:
    return tuple(Line(label=label, words=each, to_tick=to_tick) for each in words)


def _hardware(shims: Iterable[Shim], fasteners: Iterable[Fastener], loose: Iterable[Loose]) -> tuple[Line, ...]:
    return (
        *_lines("shims", map(written_shim, shims)),
        *_lines("fasteners", map(written_fastener, fasteners)),
        *_lines("loose", map(written_loose, loose)),
    )


def _after_words(other: str, bond: Constraint) -> str:
    """The part that moves first, and why. That it once came off so is no reason: it is assumed."""
    is_told = bond.certain or bond.reason != f"{bond.first} came off before {bond.then}"
    reason = f": {bond.reason}" if bond.reason and is_told else ""
    return f"{other}{reason}" if bond.certain else f"{other}{reason} ({ASSUMED})"


# What was done


class _Done:
    """The last strip-down and refit of each part, told in the order of the journal.

    `pending` holds what was done between two parts: it stands with the next one that moves.
    """

    def __init__(self, here: JobNow) -> None:
        self.here = here
        self.bonds = tuple(constraints_said(here.state))
        self.came_off: list[Step] = []
        self.went_back: list[Step] = []
        self.pending: list[str] = []
        for entry in here.state.entries:
            self._take(entry)

    def _take(self, entry: Entry) -> None:
        match entry:
            case Removed() if self.here.state.part(entry.part).removed is entry:
                self._off(self.here.state.part(entry.part), entry)
            case Refitted() if self.here.state.part(entry.part).refitted is entry:
                self._back(self.here.state.part(entry.part), entry)
            case Adjusted() | AidFitted() | AidTakenOut() | Set() | Tension():
                self.pending.append(sentence(entry))

    def _first(self) -> tuple[Line, ...]:
        """What was done before this step, which is told now."""
        first, self.pending = self.pending, []
        return _lines("first", first)

    def _off(self, part: Part, entry: Removed) -> None:
        lines = (
            *self._first(),
            *_lines("after", (_after_words(bond.first, bond) for bond in self.bonds if bond.keys[1] == part.key)),
            *_lines("only when", needs_words(part, "removal")),
            *_lines("mark", dict.fromkeys(mark.mark for mark in part.marks if mark.at <= entry.at)),
            *_hardware(entry.shims, entry.fasteners, entry.loose),
            *_lines("tool", filter(None, [entry.tool])),
            *_lines("felt", (each for each in (entry.torque,) if each in {"tight", "seized"})),
            *_lines("freed", map(sentence, part.tried)),
            *_lines("found", (found.defect for found in part.findings)),
        )
        self.came_off.append(_step(self.here, len(self.came_off) + 1, part, lines))

    def _back(self, part: Part, entry: Refitted) -> None:
        lines = (
            *self._first(),
            *_lines("after", (_after_words(bond.then, bond) for bond in self.bonds if bond.keys[0] == part.key)),
            *_lines("only when", needs_words(part, "refit")),
            *_lines("mark", dict.fromkeys(mark.mark for mark in part.marks if mark.at <= entry.at)),
            *_lines("lubricant", map(sentence, part.lubricated)),
            *_hardware(entry.shims, entry.fasteners, entry.loose),
            *_lines("another one", filter(None, [entry.replacement])),
            *_lines("done", self.answered(part.name)),
        )
        step = _step(self.here, len(self.went_back) + 1, part, lines)
        self.went_back.append(replace(step, photos=()))

    def answered(self, name: str) -> Iterator[str]:
        """What was asked for before a part went back, or at the closing, and the answer."""
        answers = self.here.state.answers
        for promise in self.here.state.promises_ever(name):
            if promise.id in answers:
                parted = "; " if isinstance(promise, Found) else ": "
                yield f"{promise.asks.removeprefix('check: ')}{parted}{answers[promise.id].answer}"
