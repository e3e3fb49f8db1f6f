"""The start page: every job, where it stands, and what it owes."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from camerawright.journal.entries import Refitted, Removed
from camerawright.journal.state import fold
from camerawright.stages.bench import Bench, bench
from camerawright.store.workshop import Workshop
from camerawright.web.render import page, workshop_of
from camerawright.workshop.rows import Job


@dataclass(frozen=True, kw_only=True)
class Line:
    """One job on the start page."""

    job: Job
    stage: str
    n_owed: int
    n_off: int
    next_step: str  # what it wants next, in a few words


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
    """Where one job stands. What is done needs no look at what its kind taught, and those are most."""
    state = fold(workshop.journal(job.id))
    if state.is_closed:
        stage, next_step = ("handed back", "") if state.handed_back else ("closed", "to be handed back")
        return Line(job=job, stage=stage, n_owed=len(state.open_promises), n_off=len(state.off), next_step=next_step)
    at = bench(workshop, job.id)
    return Line(job=job, stage=at.stage, n_owed=len(at.owed), n_off=len(state.off), next_step=_next(at))


def _next(at: Bench) -> str:
    """What an open job wants next."""
    moves = [entry for entry in at.state.entries if isinstance(entry, Removed | Refitted)]
    coming = at.lore.expected_next(at.state)
    if moves and isinstance(moves[-1], Removed) and coming:
        return f"next off: {coming.name}"
    if at.way.steps:
        return f"next back: {at.way.steps[0].part.name}"
    if at.way.waiting:
        return f"waits: {at.way.waiting[0].reason}"
    return "" if at.state.journal else "to be measured as found"
