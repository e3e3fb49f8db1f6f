"""The start page: every job, where it stands, and what it owes."""

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.now import JobNow, at_a_glance, state_of
from camerawright.job.remembered import Remembered
from camerawright.journal.entries import Refitted, Removed
from camerawright.store.workshop import Workshop
from camerawright.web.render import page, workshop_of
from camerawright.web.taking import over
from camerawright.workshop.rows import Job


@dataclass(frozen=True, kw_only=True)
class Line:
    """One job on the start page."""

    job: Job
    stage: str
    n_owed: int
    n_off: int
    next_step: str  # what it wants next, in a few words


_LINES: Final[Remembered[Line]] = Remembered(n_most=1024)


def show(request: Request) -> Response:
    """All jobs, those still on the bench first."""
    workshop = workshop_of(request)
    lines = [_line(workshop, job) for job in workshop.jobs()]
    return page(
        request,
        "jobs.html",
        on_the_bench=[line for line in lines if line.stage not in {"closed", "handed back"}],
        done=[line for line in lines if line.stage in {"closed", "handed back"}],
    )


def _line(workshop: Workshop, job: Job) -> Line:
    """Where one job stands; kept until something is entered or a wait ends."""
    now = datetime.now(UTC)
    state = state_of(workshop, job)
    return _LINES.get((workshop.folder, job.id, over(state, now)), (state,), lambda: _computed(workshop, job, now))


def _computed(workshop: Workshop, job: Job, now: datetime) -> Line:
    at = at_a_glance(workshop, job, now=now)
    return Line(job=job, stage=at.stage, n_owed=len(at.owed), n_off=len(at.state.off), next_step=_next(at))


def _next(at: JobNow) -> str:
    """What a job wants next."""
    if at.state.handed_back:
        return ""
    if at.state.is_closed:
        return "to be handed back"
    moves = [entry for entry in at.state.entries if isinstance(entry, Removed | Refitted)]
    if moves and isinstance(moves[-1], Removed):
        return f"last off: {moves[-1].part}"
    if at.way.steps:
        return f"next back: {at.way.steps[0].part.name}"
    if at.way.waiting:
        return f"waits: {at.way.waiting[0].reason}"
    return "" if at.state.journal else "to be measured as found"
