"""The refit sheet: the way back of a camera in parts; of one that is whole again, how it came apart and went back.

The refit strip is the same sheet in large type, without reasons and photos.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from camerawright.job.ledger import ledger
from camerawright.job.now import JobNow
from camerawright.job.refit import RefitStep, needs_words, refit_steps
from camerawright.journal.entries import CLOSING, part_key
from camerawright.papers.paper import Line, Paper, head, settings_words
from camerawright.papers.refit_done import Done
from camerawright.papers.refit_steps import Step, after_words, hardware_lines, lines_of, step_of
from camerawright.papers.work_done import hardware_left_out, left_out
from camerawright.recordings.stills import shown
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Unreadable


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
    done = Done(here)
    if not (done.came_off or sheet.owed or sheet.aids):
        raise Refused(f"nothing of {here.job.id} came off", "print it once the camera is in parts", "refit sheet")
    return replace(
        sheet,
        came_off=tuple(done.came_off),
        went_back=tuple(done.went_back),
        left_out=tuple(_left_out(here)),
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


def _left_out(here: JobNow) -> Iterator[Line]:
    """Parts, and then screws of parts, that did not go back."""
    for reason, names in left_out(here.state).items():
        yield from (Line(label=name, words=reason) for name in names)
    for words in hardware_left_out(here.state):
        yield Line(label="accounted for", words=words)


def _way_back_step(here: JobNow, step: RefitStep) -> Step:
    """A part that is to go back."""
    part = step.part
    lines = (
        *lines_of("built", filter(None, [step.built])),
        *lines_of("after", (after_words(bond.then, bond) for bond in step.after)),
        *lines_of("only when", needs_words(part, "refit")),
        *lines_of("mark", step.marks),
        *lines_of("sits", step.sits),
        *lines_of("wind", step.springs, to_tick=True),
        *hardware_lines(step),
        *lines_of("once back", step.loosened, to_tick=True),
        *lines_of("look at", step.on_its_screws),
        *lines_of("check first", step.hold_points, to_tick=True),
        *lines_of("remember", step.reminders, to_tick=True),
    )
    heading = f"{step.begins[:1].upper()}{step.begins[1:]}"
    return replace(step_of(here, step.n, part, lines), heading=heading)


def _owed_elsewhere(here: JobNow, steps: tuple[RefitStep, ...]) -> Iterator[str]:
    """What is owed and stands in no step."""
    in_steps = {step.part.key for step in steps}
    for owed in here.owed:
        if owed.kind in {"aid", "spring"} or (
            owed.kind in {"reminder", "finding", "hold point"} and part_key(owed.part) in in_steps
        ):
            continue
        yield owed.what if part_key(owed.part) == CLOSING else f"{owed.part}: {owed.what}"
    for spring in ledger(here.state).springs:
        yield f"{spring.spring}: {spring.words}"
