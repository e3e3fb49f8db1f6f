"""The web application: which page answers to which address."""

from collections.abc import Iterable
from difflib import get_close_matches
from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.web.guard import Guard
from camerawright.web.pages import (
    bench,
    cleaning,
    correct,
    differences,
    intake,
    job,
    jobs,
    journal,
    ledger,
    lubrication,
    measure,
    order,
    papers,
    photos,
    reach,
    readings,
    record,
    resume,
    seized,
    take_in,
    undoing,
    variants,
    waiting,
    waveform,
)
from camerawright.web.render import page
from camerawright.web.taking import job_page

_BOTH = ["GET", "POST"]


def create_app(workshop: Workshop, *, hosts: Iterable[str] = (), token: str = "") -> Starlette:
    """Make the application that serves one workshop.

    Parameters
    ----------
    workshop
        Open, and kept open by the caller.
    hosts
        Names or addresses under which it may be called besides localhost: those it is made to listen on.
    token
        What a browser must bring, where other machines can reach it; "" for none.
    """
    app = Starlette(
        routes=_routes(),
        middleware=[Middleware(Guard, hosts=tuple(hosts), token=token)],
        exception_handlers={
            HTTPException: _told_page,
            Refused: _refused_page,
            ClientDisconnect: _broken_off,
            500: _bug_page,
        },
    )
    app.state.workshop = workshop
    return app


def _routes() -> list[Route | Mount]:
    """Every address."""
    return [
        Route("/", jobs.show),
        Route("/take-in", take_in.endpoint, methods=_BOTH),
        Route("/variants", variants.show_all),
        Route("/variant", variants.show),
        Route("/variant/differences", differences.show),
        Route("/photos/{sha256}", photos.show),
        Route("/photos/{sha256}/original", photos.original),
        Route("/jobs/{job}", job_page(job.show), methods=_BOTH),
        Route("/jobs/{job}/apertures", take_in.apertures, methods=["POST"]),
        Route("/jobs/{job}/intake", intake.put_right, methods=["POST"]),
        Route("/jobs/{job}/take-back", intake.take_back, methods=["POST"]),
        Route("/jobs/{job}/bench", bench.which_face),
        Route("/jobs/{job}/bench/strip", job_page(bench.show_strip, undoing.entries), methods=_BOTH),
        Route("/jobs/{job}/bench/refit", job_page(bench.show_refit, undoing.entries), methods=_BOTH),
        Route("/jobs/{job}/order", order.show),
        Route("/jobs/{job}/reach", reach.show),
        Route("/jobs/{job}/resume", resume.show),
        Route("/jobs/{job}/seized", job_page(seized.show), methods=_BOTH),
        Route("/jobs/{job}/ledger", job_page(ledger.show), methods=["GET", "POST"]),
        Route("/jobs/{job}/cleaning", job_page(cleaning.show, cleaning.entries), methods=_BOTH),
        Route("/jobs/{job}/lubrication", job_page(lubrication.show), methods=_BOTH),
        Route("/jobs/{job}/measure", measure.show),
        Route("/jobs/{job}/measure", measure.take, methods=["POST"]),
        Route("/jobs/{job}/waiting", waiting.take, methods=["POST"]),
        Route("/jobs/{job}/waiting.json", waiting.state),
        Route("/jobs/{job}/record", record.show),
        Route("/jobs/{job}/record", record.take, methods=["POST"]),
        Route("/jobs/{job}/record/state.json", record.state),
        Route("/recordings/{sha256}", waveform.show),
        Route("/recordings/{sha256}/about", waveform.about),
        Route("/recordings/{sha256}/envelope", waveform.envelope),
        Route("/recordings/{sha256}/overlaid", waveform.overlaid),
        Route("/jobs/{job}/waiting/{file}", waveform.show),
        Route("/jobs/{job}/waiting/{file}/about", waveform.about),
        Route("/jobs/{job}/waiting/{file}/envelope", waveform.envelope),
        Route("/jobs/{job}/readings/{entry}/{picture}.svg", readings.plot),
        Route("/jobs/{job}/cards/{test}.png", readings.card),
        Route("/jobs/{job}/journal", job_page(journal.show, undoing.entries), methods=_BOTH),
        Route("/jobs/{job}/journal.jsonl", journal.export),
        Route("/jobs/{job}/journal/import", journal.import_lines, methods=["POST"]),
        Route("/jobs/{job}/journal/{entry}", job_page(correct.show, back="../journal"), methods=_BOTH),
        Route("/jobs/{job}/papers/{which}.pdf", papers.show),
        Mount("/static", StaticFiles(directory=Path(str(files(__package__) / "static")))),
    ]


def _told_page(request: Request, error: Exception) -> Response:
    """What the browser asked for and cannot have, in words."""
    assert isinstance(error, HTTPException)
    told = error.detail
    near: list[str] = []
    if error.status_code == 404 and told == "Not Found":
        told = f"There is no page {request.url.path}."
        newest = request.app.state.workshop.listed(is_done=False, most=100)
        known = ["/", "/take-in", "/variants", *(f"/jobs/{job.id}" for job, _ in newest)]
        near = get_close_matches(request.url.path, known, cutoff=0.5)
    return _error_page(request, error.status_code, told, near, job=request.path_params.get("job"))


def _refused_page(request: Request, error: Exception) -> Response:
    """There is no such job; or the store could not do it, for a reason that can be mended."""
    assert isinstance(error, Refused)
    if error.where.startswith("job "):
        return _error_page(request, 404, str(error))
    return _error_page(request, 503, str(error), job=request.path_params.get("job"))


def _broken_off(request: Request, error: Exception) -> Response:
    """The browser went away before all of its form was here: nobody reads the answer, and nothing was entered."""
    return Response(status_code=400)


def _bug_page(request: Request, error: Exception) -> Response:
    """A fault of ours: what was acknowledged before is safe; the trace goes to the log."""
    return _error_page(
        request, 500, "The program made a mistake here. What was entered before is safe; this was not entered."
    )


def _error_page(
    request: Request, status: int, told: str, near: Iterable[str] = (), *, job: str | None = None
) -> Response:
    """What went wrong, and the ways out: to the job that the page belongs to, and to all jobs."""
    return page(request, "error.html", status=status, number=status, told=told, near=tuple(near), job=job)
