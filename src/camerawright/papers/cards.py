"""What the cards for the bench say that tell what to do: refit strip, hazards, lubrication, where you were."""

from collections.abc import Iterator
from typing import Final

from camerawright.handbook.lubrication import amounts
from camerawright.job.ledger import ledger
from camerawright.job.now import JobNow
from camerawright.job.refit import RefitStep, refit_steps
from camerawright.job.resume import Timer, resume
from camerawright.journal.entries import CLOSING, Entry, Set, part_key
from camerawright.journal.notation import written_fastener, written_loose, written_shim
from camerawright.journal.state import Part
from camerawright.papers import card_content
from camerawright.papers.content import StepShown, WaitingShown
from camerawright.papers.letterhead import card_head, state_words
from camerawright.refit.lubrication import HERE, Point, Standing, chart
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused

# Refit strip


def refit_strip(workshop: Workshop, here: JobNow) -> card_content.RefitStrip:
    """The way back in large type."""
    waiting = tuple(WaitingShown(part=item.part.name, reason=item.reason) for item in here.way.waiting)
    steps = refit_steps(here)
    if not steps and not waiting:
        raise Refused(f"nothing of {here.job.id} is off", "print it while the camera is in parts", "refit strip")
    at_the_end = [owed.what for owed in here.owed if part_key(owed.part) == CLOSING or owed.kind == "aid"]
    return card_content.RefitStrip(
        **card_head(workshop, here),
        state=state_words(here),
        steps=tuple(step_shown(step) for step in steps),
        waiting=waiting,
        at_the_end=tuple(dict.fromkeys(at_the_end)),
    )


def step_shown(step: RefitStep) -> StepShown:
    """A step as the strip shows it: without its reasons and its photo."""
    part = step.part
    return StepShown(
        n=step.n,
        part=part.name,
        needs=needs_words(part, "refit"),
        fasteners=tuple(written_fastener(fastener) for fastener in step.fasteners),
        shims=tuple(written_shim(shim) for shim in step.shims),
        loose=tuple(written_loose(item) for item in step.loose),
        marks=step.marks,
        cautions=(*step.hazards, *((f"Irreplaceable: {part.irreplaceable}",) if part.irreplaceable else ())),
        reminders=step.reminders,
        hold_points=step.hold_points,
        cell=(part.removed.cell or "") if part.removed else "",
    )


def needs_words(part: Part, *moves: str) -> tuple[str, ...]:
    """The states without which a part may not move in one of these ways, each with its reason."""
    return tuple(
        f"{', '.join(f'{what} {how}' for what, how in need.settings.items())}: {need.reason}"
        for need in part.needs
        if need.moves in {"both", *moves}
    )


def irreplaceable(here: JobNow, key: str) -> str:
    """Why a part cannot be had again, by this journal or an earlier one."""
    lore = here.lore.parts.get(key)
    return here.state.part(key).irreplaceable or (lore.irreplaceable if lore else None) or ""


# Hazard card


def hazard_card(workshop: Workshop, here: JobNow) -> card_content.HazardCard:
    """Every caution of the parts that have still to move."""
    parts = tuple(filter(None, (_hazards(here, name, moves) for name, moves in _to_move(here))))
    held = resume(here).do_not_move
    if not parts and not held:
        raise Refused(
            f"no caution is known for the parts of {here.job.id} that have still to move",
            "enter cautions as you see them; a second job of this variant shows them before",
            "hazard card",
        )
    return card_content.HazardCard(**card_head(workshop, here), state=state_words(here), parts=parts, held=held)


def _to_move(here: JobNow) -> Iterator[tuple[str, str]]:
    """Parts in the order in which they will move, and how: those that are off first."""
    yield from ((step.part.name, "goes back") for step in here.way.steps)
    yield from ((item.part.name, "waits") for item in here.way.waiting)
    if here.state.is_closed:
        return
    untouched = {part.key: part.name for part in here.state.parts.values() if part.removed is None}
    for key in here.lore.order:
        if here.state.part(key).removed is None:
            yield untouched.pop(key, here.lore.parts[key].name), "if it comes off"
    yield from ((name, "if it comes off") for name in untouched.values())


def _hazards(here: JobNow, name: str, moves: str) -> card_content.PartHazards | None:
    """What to mind when the part moves, if anything."""
    part = here.state.part(name)
    shown = card_content.PartHazards(
        part=name,
        moves=moves,
        escapes=", ".join(here.frees(name)) or ("something gets loose" if here.escapes(name) else ""),
        cautions=here.hazards(name),
        needs=needs_words(part, "removal" if part.status == "on" else "refit"),
        irreplaceable=irreplaceable(here, part.key),
    )
    return shown if shown.escapes or shown.cautions or shown.needs or shown.irreplaceable else None


# Lubrication chart


def lubrication_chart(workshop: Workshop, here: JobNow) -> card_content.LubricationChart:
    """What gets which lubricant, by this journal, earlier ones and the handbook."""
    points = chart(here.state, here.lore)
    if not points:
        raise Refused(
            f"no lubricated point is known for {here.job.id}",
            "enter each point with its amount, those that stay dry too",
            "lubrication chart",
        )

    def shown(*standings: Standing) -> tuple[card_content.PointShown, ...]:
        return tuple(_point(point) for point in points if point.standing in standings)

    used = {point.amount for point in points if point.amount != "dry"}
    return card_content.LubricationChart(
        **card_head(workshop, here),
        points=shown("due", "done"),
        dry=shown("stays dry"),
        untouched=shown("not off"),
        amounts=tuple(
            card_content.AmountShown(name=amount.name, meaning=str(amount.meaning))
            for amount in amounts().values()
            if amount.name in used
        ),
    )


def _point(point: Point) -> card_content.PointShown:
    return card_content.PointShown(
        part=point.part,
        point=point.point,
        amount=point.amount,
        lubricant=point.lubricant or "",
        why="" if point.source == point.origin else f"{point.why} [{point.source}]",
        doubt=point.doubt or "",
        known_from="this job" if point.origin == HERE else point.origin,
        is_done=point.standing == "done",
    )


# Resume card


def resume_card(workshop: Workshop, here: JobNow) -> card_content.ResumeCard:
    """Where the work was left."""
    if not here.state.entries:
        raise Refused(f"nothing has happened to {here.job.id} yet", "print it once work has begun", "resume card")
    now = resume(here)
    book = ledger(here.state)
    out = [(book.n_open(kind), kind) for kind in ("screw", "shim", "loose part")]
    return card_content.ResumeCard(
        **card_head(workshop, here),
        next_step=now.next_step,
        next_hazard=now.next_hazard or "",
        state=state_words(here),
        loose=now.loose,
        do_not_move=now.do_not_move,
        timers=tuple(_timer(timer) for timer in now.timers),
        out=", ".join(f"{n} {kind}{'' if n == 1 else 's'}" for n, kind in out if n),
        last=tuple(
            card_content.LastShown(at=f"{entry.at.astimezone():%d %b, %H:%M}", words=said(entry)) for entry in now.last
        ),
    )


def _timer(timer: Timer) -> card_content.TimerShown:
    if timer.until is None:
        until = "time is up" if timer.is_over else ""
    else:
        moment = timer.until.astimezone()
        until = f"{'was over' if timer.is_over else 'until'} {moment.day} {moment:%B %Y, %H:%M}"
    return card_content.TimerShown(part=timer.part, what=timer.what, until=until)


_SUBJECTS: Final = ("part", "aid", "spring", "adjuster", "first", "test", "task", "item", "note", "to")
_DETAILS: Final = (
    "mark",
    "defect",
    "todo",
    "hazard",
    "check",
    "answer",
    "awaiting",
    "after",
    "point",
    "rung",
    "reason",
)


def said(entry: Entry) -> str:
    """An entry in a few words: its kind, what it is about, and the one thing said of it."""
    if isinstance(entry, Set):
        return "set: " + ", ".join(f"{what} {how}" for what, how in entry.settings.items())
    words = [
        next((getattr(entry, name) for name in names if getattr(entry, name, None)), None)
        for names in (_SUBJECTS, _DETAILS)
    ]
    return f"{entry.kind}: {', '.join(filter(None, words))}".removesuffix(": ")
