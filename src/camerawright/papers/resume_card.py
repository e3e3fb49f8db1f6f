"""The resume card: where the work was left, what is loose, what must not move, what comes next."""

from dataclasses import dataclass

from camerawright.job.ledger import ledger
from camerawright.job.now import JobNow
from camerawright.job.resume import Timer, resume
from camerawright.journal.sentences import briefly
from camerawright.papers.paper import Line, Paper, head, settings_words
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused


@dataclass(frozen=True, kw_only=True)
class ResumeCard(Paper):
    """After a break: what is loose, what must not move, what comes next."""

    next_step: str
    next_hazard: str = ""
    state: str = ""
    loose: tuple[str, ...] = ()
    do_not_move: tuple[str, ...] = ()
    timers: tuple[Line, ...] = ()  # a part, and what takes its time until when
    out: str = ""  # "14 screws, 2 shims"
    last: tuple[Line, ...] = ()  # when, and what was entered


def resume_card(workshop: Workshop, here: JobNow) -> ResumeCard:
    """Where the work was left."""
    if not here.state.entries:
        raise Refused(f"nothing has happened to {here.job.id} yet", "print it once work has begun", "resume card")
    now = resume(here)
    said = {entry.id: entry for entry in here.state.journal}
    book = ledger(here.state)
    out = [(book.n_open(kind), kind) for kind in ("screw", "shim", "loose part")]
    return ResumeCard(
        **head(workshop, here),
        next_step=now.next_step,
        next_hazard=now.next_hazard or "",
        state=settings_words(here),
        loose=now.loose,
        do_not_move=now.do_not_move,
        timers=tuple(_timer(timer) for timer in now.timers),
        out=", ".join(f"{n} {kind}{'' if n == 1 else 's'}" for n, kind in out if n),
        last=tuple(
            Line(label=f"{entry.at.astimezone():%d %b, %H:%M}", words=briefly(entry, said)) for entry in now.last
        ),
    )


def _timer(timer: Timer) -> Line:
    if timer.until is None:
        until = "time is up" if timer.is_over else ""
    else:
        moment = timer.until.astimezone()
        until = f"{'was over' if timer.is_over else 'until'} {moment.day} {moment:%B %Y, %H:%M}"
    return Line(label=timer.part, words=", ".join(filter(None, (timer.what, until))))
