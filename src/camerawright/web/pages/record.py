"""The record page: from the sound card at the server into a reading, with the level and the firings meanwhile."""

from dataclasses import replace
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import Fired
from camerawright.bench.setup_check.record import SetupCheck
from camerawright.bench.setup_check.tell import rows as check_rows
from camerawright.handbook.exposure import MODERN_MARKS, OLD_MARKS
from camerawright.readings.live import Desk, Ended, Order, Running, recordable
from camerawright.readings.set_up import Label, SetUp
from camerawright.recordings.inputs import MUTE, Input
from camerawright.trouble import NotMeasurable, Refused, Unreadable
from camerawright.web.desk import PHASES, desk_of, last_test, phase_called, phase_now
from camerawright.web.forms import BadFields, Refusal, Typed, form_maker
from camerawright.web.pages.waiting import SETTLE_S, rows_of, trouble_of_refusal
from camerawright.web.render import REFUSED, page, workshop_of
from camerawright.web.set_up import MARKED, WORDS, asked, at_their_fields, filled_in, typed_set_up
from camerawright.web.taking import here
from camerawright.web.uploads import MB, posted, texts
from camerawright.wording import numbers
from camerawright.wording.verdicts import SIGNS

FORM: Final = "record"
RATES_HZ: Final = (48_000, 44_100, 96_000, 192_000)
CHANNELS: Final = ("1", "2", "3", "4")
TRY: Final = "try:"
"""Before the hash of a kept recording that is played in the place of an input."""


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """What goes on, or the form to begin with."""
    at, desk = here(request), desk_of(request)
    running = desk.running
    inputs, no_input = _inputs(desk) if running is None else ((), None)
    checked = desk.checked
    return page(
        request,
        "record.html",
        status=REFUSED if refusal else 200,
        here=at,
        tab="measure",
        tests=recordable(),
        of_files=[test for test in CATALOGUE if test not in recordable()],
        asked=asked(recordable()),
        filled={"test": last_test(at, recordable()), **filled_in(workshop_of(request), at.job.id)},
        told=_told(running.order.label) if running else "",
        channels=CHANNELS,
        phases=PHASES,
        phase=phase_now(at),
        marks=dict.fromkeys((*MODERN_MARKS, *OLD_MARKS)),
        inputs=inputs,
        mute=MUTE,
        no_input=no_input,
        rates=RATES_HZ,
        played={entry.recording: entry for entry in at.state.measured if entry.test in _of_sound()},
        running=running,
        is_here=running is not None and running.order.label.job == at.job.id,
        now=state_of(running) if running else None,
        n_waiting=len(rows_of(request, at)),
        check=check_rows(checked) if isinstance(checked, SetupCheck) else (),
        checked=checked if isinstance(checked, SetupCheck) else None,
        not_checked=checked if isinstance(checked, NotMeasurable) else None,
        try_word=TRY,
        is_tried="tried" in request.query_params,
        refusal=refusal,
        form=form_maker(refusal),
    )


def _told(label: Label) -> str:
    """What was told of a recording's set-up."""
    return SetUp(options=label.options, words=label.words).in_words(label.test)


def _of_sound() -> set[str]:
    """The tests whose recordings can be played in the place of an input: a clip cannot."""
    return {test.name for test in recordable()}


def state(request: Request) -> Response:
    """How the recording goes, for the page that shows it."""
    running = desk_of(request).running
    told = state_of(running) if running else {"is_running": False}
    return JSONResponse(told, headers={"Cache-Control": "no-store"})


def state_of(running: Running) -> dict[str, Any]:
    """Level, losses and firings, in the words that are shown."""
    meter = running.recorder.meter()
    return {
        "is_running": True,
        "is_over": running.recorder.source.is_over,
        "is_check": running.watch is None,
        "duration": f"{meter.duration_s:.1f} s",
        "peak_percent": round(100 * min(1.0, meter.peak), 1),
        "level": f"highest {100 * meter.highest:.1f} % of full scale so far; now peak {100 * meter.peak:.1f} %,"
        f" average {100 * meter.rms:.2f} %",
        "level_word": _level_word(meter.highest, meter.n_clipped),
        "flags": list(meter.flags),
        "firings": [_firing_words(n, one) for n, one in enumerate(running.watch.fired if running.watch else (), 1)],
        "why_not": (running.watch.why_not if running.watch else None) or "",
    }


def _level_word(highest: float, n_clipped: int) -> str:
    """What the level is, for whoever cannot see the bar; between firings it is dark, so the highest counts."""
    if n_clipped:
        return "clipped"
    return "high" if highest > 0.9 else "quiet so far" if highest < 0.02 else "good"


def _firing_words(n: int, fired: Fired) -> dict[str, Any]:
    """A firing as a row: what it is, and how far off its mark."""
    time, error = fired.time, fired.compared.error if fired.compared else None
    word = fired.compared.verdict if fired.compared else None
    return {
        "n": n,
        "at_s": numbers.fixed(fired.at_s, 2),
        "time": numbers.milliseconds(time.value, time.expanded_u) if time else "",
        "off": numbers.stops(error.value, error.expanded_u) if error else "",
        "sign": SIGNS[word] if word else "",
        "verdict": word or "",
        "flags": fired.flags,
    }


def _inputs(desk: Desk) -> tuple[tuple[Input, ...], str | None]:
    """The inputs, or why there are none and what to do."""
    try:
        found = desk.inputs()
    except Unreadable as error:
        return (), f"{error.what}; {error.mend}"
    if not found:
        return (), "plug a sound card or an adapter with a line input into this machine, then look again"
    return found, None


async def take(request: Request) -> Response:
    """Begin, stop, measure what waits, throw away."""
    async with posted(request, max_bytes=MB) as form:
        return await run_in_threadpool(_take, request, texts(form))


def _take(request: Request, typed: Typed) -> Response:
    refusal = Refusal(form=typed.get("form", FORM), typed=typed)
    try:
        return _acted(request, desk_of(request), here(request).job.id, typed)
    except BadFields as bad:
        return show(request, replace(refusal, errors=bad.errors))
    except (Unreadable, Refused) as error:
        return show(request, replace(refusal, problems=error.troubles))


def _acted(request: Request, desk: Desk, job_id: str, typed: Typed) -> Response:
    """Do what the button says."""
    match typed.get("act"):
        case "start" | "check" as act:
            order, errors = _order(job_id, typed)
            if order is None or (errors and act == "start"):
                return show(request, Refusal(form=FORM, typed=typed, errors=errors))
            begin = desk.begin if act == "start" else desk.begin_check
            with at_their_fields(order.label.test, typed):
                begin(order)
        case "stop":
            ended = desk.end()
            if ended is not None:
                return _after(request, desk, job_id, ended)
    return RedirectResponse(f"/jobs/{job_id}/record", 303)


def _after(request: Request, desk: Desk, job_id: str, ended: Ended) -> Response:
    """Where a recording that ended leads: to its reading, to where it waits, or back if it was only tried out."""
    if ended.tried is not None:
        if ended.tried.refused is None:
            return RedirectResponse(f"/jobs/{job_id}/record?tried=yes", 303)
        more = "this was tried out with a kept recording, nothing was entered"
        problem = trouble_of_refusal(ended.tried.refused, more=more)
        return show(request, Refusal(form="stop", typed={}, problems=(problem,)))
    job_id = ended.job
    desk.inbox.settle(job_id, SETTLE_S)
    entry = desk.inbox.entry_of(ended.name)
    return RedirectResponse(f"/jobs/{job_id}/measure#{f'r-{entry}' if entry else 'waiting'}", 303)


def _order(job_id: str, typed: Typed) -> tuple[Order | None, dict[str, str]]:
    """What the form orders, and what is wrong with it; nothing to begin with where no input is chosen."""
    errors: dict[str, str] = {}
    phase = phase_called(typed.get("phase", ""))
    test = next((each for each in recordable() if each.name == typed.get("test")), None)
    if phase is None or test is None:
        errors["phase"] = "choose what is measured, and when"
    chosen, rate = typed.get("input", ""), typed.get("rate", "")
    if not chosen:
        errors["input"] = "choose an input"
    if rate and rate not in map(str, RATES_HZ):
        errors["rate"] = "choose a sampling rate"
    channels = typed.get("channels", "")
    n_channels = int(channels) if channels in CHANNELS else None
    if test is not None and n_channels is not None and n_channels < test.n_channels and not chosen.startswith(TRY):
        errors["channels"] = f"{test.title} needs {test.n_channels} or more"
    if errors.keys() & {"input", "rate"}:
        return None, errors
    marked = typed.get(MARKED, "").strip() or None
    order = Order(
        label=Label(
            job=job_id,
            test=test.name if test else "",
            phase=phase or "as found",
            marked=marked,
            options=dict(typed_set_up(typed, test).options) if test else {},
            words=typed.get(WORDS, "").strip() or None,
            is_confirmed=marked is not None,
        ),
        input="" if chosen.startswith(TRY) else chosen,
        rate_hz=int(rate) if rate else None,
        n_channels=n_channels,
        played=chosen.removeprefix(TRY) if chosen.startswith(TRY) else None,
    )
    return order, errors
