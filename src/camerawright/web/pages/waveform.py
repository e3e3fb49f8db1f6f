"""The waveform of a recording, kept or waiting: the page, and what its canvas asks for, column by column."""

from dataclasses import asdict
from pathlib import Path
from typing import Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from camerawright.bench.contract import Table
from camerawright.job.now import job_now
from camerawright.journal.entries import Measured
from camerawright.readings.recorded import record_of, table, test_of
from camerawright.readings.traces import MOST_COLUMNS, Traces, traces
from camerawright.trouble import Refused, Unreadable
from camerawright.web.desk import desk_of
from camerawright.web.render import page, workshop_of


def _headers(request: Request) -> dict[str, str]:
    """A kept recording is named by its content, and a reading is never edited; one that waits has a name only."""
    return {"Cache-Control": "no-store" if "file" in request.path_params else "private, max-age=86400"}


def show(request: Request) -> Response:
    """The page."""
    drawn, reading = _drawn(request)
    waiting, sha256 = request.path_params.get("file"), request.path_params.get("sha256", "")
    job = request.path_params.get("job") or (request.query_params["job"] if reading else None)
    at = job_now(workshop_of(request), job) if job else None
    test, found = test_of(reading) if reading else None, table(reading) if reading else Table()
    return page(
        request,
        "waveform.html",
        layout="job_base.html" if at else "base.html",
        here=at,
        tab="measure",
        sha256=sha256,
        waiting=waiting,
        query=str(request.url.query),
        reading=reading,
        title=test.title if test else "Recording",
        marked=reading.marked if reading else "",
        sound=drawn.sound,
        can_overlay=drawn.can_overlay,
        legend=drawn.plan.legend,
        n_lanes=len(drawn.plan.lanes),
        address=f"/jobs/{at.job.id}/waiting/{quote(waiting)}" if at and waiting else f"/recordings/{sha256}",
        table=found,
        rows=[(n, cells, flags) for n, (cells, flags) in enumerate(zip(found.rows, found.flags, strict=False), 1)],
        remarks=record_of(reading).flags if reading else (),
    )


async def envelope(request: Request) -> Response:
    """Lowest and highest of each column of a stretch, as recorded and as undone."""
    start, stop, width = (_number(request, name) for name in ("start", "stop", "width"))
    if not 1 <= width <= MOST_COLUMNS:
        raise HTTPException(422, f"width: from 1 to {MOST_COLUMNS} columns.")
    return JSONResponse(await run_in_threadpool(_columns, request, start, stop, width), headers=_headers(request))


def _columns(request: Request, start: int, stop: int, width: int) -> dict[str, Any]:
    drawn, _ = _drawn(request)
    first, step, lanes = drawn.columns(start, stop, width)
    return {"start": first, "step": step, "lanes": [{"low": low, "high": high} for low, high in lanes]}


def about(request: Request) -> Response:
    """How long it is, and its firings: where they are, how wide, how well that is known."""
    drawn, reading = _drawn(request)
    widths = (*(asdict(one) for one in drawn.plan.widths), *({} for _ in drawn.plan.spans_s))
    return JSONResponse(
        {
            "n_samples": drawn.sound.n_samples,
            "rate_hz": drawn.sound.rate_hz,
            "lanes": [{"name": lane.name, "is_undone": lane.undoing is not None} for lane in drawn.plan.lanes],
            "marks": [asdict(mark) for mark in drawn.plan.marks],
            "i_widths": drawn.plan.i_widths,
            "firings": [
                {**each, "from_s": from_s, "to_s": to_s}
                for each, (from_s, to_s) in zip(widths, drawn.plan.spans_s, strict=False)
            ],
            "doubtful": [n for n, flags in enumerate(table(reading).flags, 1) if flags] if reading else [],
        },
        headers=_headers(request),
    )


def overlaid(request: Request) -> Response:
    """Every firing's light against the time from half open."""
    return JSONResponse({"curves": _drawn(request)[0].overlaid()}, headers=_headers(request))


def _drawn(request: Request) -> tuple[Traces, Measured | None]:
    """A recording that waits in a job; or one that is kept, with the reading of a job if one is named."""
    if "file" in request.path_params:
        return _waiting(request), None
    sha256, workshop = request.path_params["sha256"], workshop_of(request)
    reading = None
    if "reading" in request.query_params:
        entries = job_now(workshop, request.query_params.get("job", "")).state.measured
        wanted = (request.query_params["reading"], sha256)
        reading = next((each for each in entries if (each.id, each.recording) == wanted), None)
        if reading is None:
            raise HTTPException(404, "There is no such reading of this recording in this job.")
    try:
        path = workshop.media(sha256)
    except Refused:
        raise HTTPException(404, f"There is no recording {sha256[:12]} here.") from None
    return _read(path, sha256[:12], reading), reading


def _waiting(request: Request) -> Traces:
    """A recording of the sound card that was not measured yet."""
    name = request.path_params["file"]
    try:
        path = desk_of(request).inbox.called(request.path_params["job"], name)[0]
    except Refused:
        raise HTTPException(404, f"No recording “{name}” waits in this job: it was measured or thrown away.") from None
    return _read(path, name, None)


def _read(path: Path, name: str, reading: Measured | None) -> Traces:
    try:
        return traces(path, reading)
    except Unreadable as error:
        raise HTTPException(404, f"Of {name} no waveform can be drawn: {error.what}.") from None


def _number(request: Request, name: str) -> int:
    """A whole number of the query."""
    text = request.query_params.get(name, "")
    if not text.isdecimal() or len(text) > 12:
        raise HTTPException(422, f"{name}: a whole number is wanted.")
    return int(text)
