"""The waveform of a kept recording: the page, and what its canvas asks for, column by column."""

from dataclasses import replace
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from camerawright.bench.contract import Json
from camerawright.journal.entries import Measured
from camerawright.recordings.unreadable import Unreadable
from camerawright.stages.bench import bench
from camerawright.stages.traces import MOST_COLUMNS, Traces, traces
from camerawright.store.refused import Refused
from camerawright.web.pages.readings import TESTS, firings
from camerawright.web.render import page, workshop_of

_KEPT = {"Cache-Control": "private, max-age=86400"}
"""A recording is named by its content, and a reading is never edited."""


def show(request: Request) -> Response:
    """The page."""
    drawn, reading = _drawn(request)
    at = bench(workshop_of(request), request.query_params["job"]) if reading else None
    table = firings(reading) if reading else None
    return page(
        request,
        "waveform.html",
        layout="job_base.html" if at else "base.html",
        here=at,
        tab="measure",
        sha256=request.path_params["sha256"],
        query=str(request.url.query),
        reading=reading,
        title=TESTS[reading.test].title if reading and reading.test in TESTS else "Recording",
        marked=str(reading.setup.get("marked") or "") if reading else "",
        sound=drawn.sound,
        i_channel=drawn.i_channel,
        has_light=bool(drawn.lights),
        table=replace(table, rows=table.rows[: len(drawn.firings)]) if table else None,
    )


async def envelope(request: Request) -> Response:
    """Lowest and highest of each column of a stretch, as recorded and as undone."""
    start, stop, width = (_number(request, name) for name in ("start", "stop", "width"))
    if not 1 <= width <= MOST_COLUMNS:
        raise HTTPException(422, f"width: from 1 to {MOST_COLUMNS} columns.")
    return JSONResponse(await run_in_threadpool(_columns, request, start, stop, width), headers=_KEPT)


def _columns(request: Request, start: int, stop: int, width: int) -> Json:
    drawn, _ = _drawn(request)
    seen = drawn.recorded(start, stop, width)
    out: Json = {"start": seen.start, "step": seen.step, "low": _numbers(seen.low), "high": _numbers(seen.high)}
    if drawn.lights:
        out["light_low"], out["light_high"] = drawn.light(seen)
    return out


def about(request: Request) -> Response:
    """How long it is, and its firings: where they are, how wide, how well that is known."""
    drawn, reading = _drawn(request)
    table = firings(reading) if reading else None
    return JSONResponse(
        {
            "n_samples": drawn.sound.n_samples,
            "rate_hz": drawn.sound.rate_hz,
            "has_light": bool(drawn.lights),
            "firings": [_firing(shot) for shot in drawn.firings],
            "doubtful": sorted({n for n, _ in table.flags}) if table else [],
        },
        headers=_KEPT,
    )


def overlaid(request: Request) -> Response:
    """Every firing's light against the time from half open."""
    return JSONResponse({"curves": _drawn(request)[0].overlaid()}, headers=_KEPT)


def _firing(shot: Json) -> Json:
    """What is drawn of a firing; only what its record has."""
    keys = ("at_s", "total_s", "half_peak_s", "effective_s", "level_fs")
    out = {key: shot[key] for key in keys if shot.get(key) is not None}
    if shot.get("u_effective_s") is not None:
        out["U_effective_s"] = (shot.get("k95_effective") or 2.0) * shot["u_effective_s"]
    return out


def _drawn(request: Request) -> tuple[Traces, Measured | None]:
    """The recording, with the reading of a job that was computed from it where one is named."""
    sha256 = request.path_params["sha256"]
    workshop, reading = workshop_of(request), None
    if "reading" in request.query_params:
        entries = bench(workshop, request.query_params.get("job", "")).state.measured
        wanted = (request.query_params["reading"], sha256)
        reading = next((each for each in entries if (each.id, each.recording) == wanted), None)
        if reading is None:
            raise HTTPException(404, "There is no such reading of this recording in this job.")
    try:
        return traces(
            workshop, sha256, dict(reading.result) if reading else None, reading.id if reading else ""
        ), reading
    except Refused:
        raise HTTPException(404, f"There is no recording {sha256[:12]} here.") from None
    except Unreadable as error:
        raise HTTPException(404, f"Of {sha256[:12]} no waveform can be drawn: {error.what}.") from None


def _number(request: Request, name: str) -> int:
    """A whole number of the query."""
    text = request.query_params.get(name, "")
    if not text.isdecimal() or len(text) > 12:
        raise HTTPException(422, f"{name}: a whole number is wanted.")
    return int(text)


def _numbers(values: Any) -> list[float]:
    """For JSON; six digits are more than a screen shows and 16 bits hold."""
    return [round(value, 6) for value in values.tolist()]
