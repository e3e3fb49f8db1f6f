"""The measure page: a recording in, a reading out, or the reason why not and what to do instead."""

from dataclasses import dataclass, replace
from pathlib import Path, PurePosixPath, PureWindowsPath
from shutil import copyfileobj
from tempfile import TemporaryDirectory
from typing import Any, Final, get_args

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.handbook.exposure import MODERN_MARKS, OLD_MARKS
from camerawright.job.entering import NotAllowed
from camerawright.job.now import JobNow
from camerawright.journal.entries import Adjusted, Phase
from camerawright.readings import sound_card
from camerawright.readings.adjusting import adjusting
from camerawright.readings.adjusting_words import sensitivity_words, suggestion_words, turn_words
from camerawright.readings.measuring import MeasuredAlready, SetUp, measured
from camerawright.readings.rows import late, void
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Trouble, Unreadable
from camerawright.web.forms import BadFields, Refusal, Typed, form_maker
from camerawright.web.pages.reading import shown
from camerawright.web.pages.readings import TESTS
from camerawright.web.refusals import trouble_of, trouble_of_refusal
from camerawright.web.render import REFUSED, page, workshop_of
from camerawright.web.set_up import asked, at_their_fields, filled_in, typed_set_up
from camerawright.web.taking import here
from camerawright.web.uploads import RECORDING_MAX_BYTES, posted, texts

PHASES: Final[tuple[Phase, ...]] = get_args(Phase)
FORM: Final = "measure"
N_ROWS: Final = 3
"""Recordings that can be sent at once, each with its marked speed."""


@dataclass(frozen=True, kw_only=True)
class Sent:
    """A recording on our disk, and what it is marked with."""

    path: Path
    marked: str | None
    field: str  # where the mark was typed


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """The form, and every reading of the job, the newest first."""
    at = here(request)
    why_void, why_late = void(at.state), late(at.state)
    return page(
        request,
        "measure.html",
        status=REFUSED if refusal else 200,
        here=at,
        tab="measure",
        tests=CATALOGUE,
        asked=asked(CATALOGUE),
        filled={"test": _test(request, at), **filled_in(workshop_of(request), at.job.id)},
        inputs=sound_card.names(workshop_of(request)),
        phases=PHASES,
        phase=(refusal.typed.get("phase") if refusal else None) or phase_now(at),
        rows=range(1, N_ROWS + 1),
        turns=adjusting(workshop_of(request), at.job.id),
        sensitivity_words=sensitivity_words,
        suggestion_words=suggestion_words,
        turn_words=turn_words,
        marks=dict.fromkeys((*MODERN_MARKS, *OLD_MARKS)),
        readings=[
            shown(at, entry, why_void.get(entry.id, ""), why_late.get(entry.id, ""))
            for entry in reversed(at.state.measured)
        ],
        max_mb=RECORDING_MAX_BYTES // 1_000_000,
        refusal=refusal,
        form=form_maker(refusal),
    )


def _test(request: Request, at: JobNow) -> str:
    """As the link says; else the one that this job was measured by last."""
    linked = request.query_params.get("test", "")
    last = at.state.measured[-1].test if at.state.measured else ""
    return next((name for name in (linked, last) if name in TESTS), "")


def phase_now(at: JobNow) -> Phase:
    """As left as soon as anything came off, or an adjuster was turned."""
    is_off = any(part.removed for part in at.state.parts.values())
    return "as left" if is_off or any(isinstance(entry, Adjusted) for entry in at.state.entries) else "as found"


async def take(request: Request) -> Response:
    """Measure what was sent."""
    async with posted(request, max_bytes=RECORDING_MAX_BYTES) as form:
        return await run_in_threadpool(_take, request, texts(form), form)


def _take(request: Request, typed: Typed, form: FormData) -> Response:
    workshop, job_id = workshop_of(request), here(request).job.id
    refusal = Refusal(form=FORM, typed=typed)
    test, phase = TESTS.get(typed.get("test", "")), next((each for each in PHASES if each == typed.get("phase")), None)
    if test is None or phase is None:
        return show(request, replace(refusal, errors={"phase": "choose what was measured, and when"}))
    with TemporaryDirectory(prefix="camerawright-") as folder:
        sent = _received(form, typed, Path(folder))
        if not sent:
            return show(request, replace(refusal, errors={"recording": "choose at least one recording"}))
        setup = typed_set_up(typed, test)
        errors: dict[str, str] = {}
        problems: list[Trouble] = []
        for each in sent:
            try:
                with at_their_fields(test.name, marked=each.field, typed=each.marked):
                    problems += _measured(workshop, job_id, test, phase, each, setup)
            except BadFields as bad:
                errors |= bad.errors
    if problems or errors:
        return show(request, replace(refusal, problems=tuple(problems), errors=errors))
    return RedirectResponse(f"/jobs/{job_id}/measure#readings", 303)


def _received(form: FormData, typed: Typed, folder: Path) -> list[Sent]:
    """The recordings as files under their own names."""
    sent = []
    for n_row in range(1, N_ROWS + 1):
        file = form.get(f"recording_{n_row}")
        if isinstance(file, UploadFile) and file.filename:
            place = folder / str(n_row)
            place.mkdir()
            path = place / (PurePosixPath(PureWindowsPath(file.filename).name).name or "recording")
            with path.open("wb") as out:
                copyfileobj(file.file, out)
            field = f"marked_{n_row}"
            sent.append(Sent(path=path, marked=typed.get(field, "").strip() or None, field=field))
    return sent


def _measured(
    workshop: Workshop, job_id: str, test: BenchTest[Any], phase: Phase, sent: Sent, setup: SetUp
) -> tuple[Trouble, ...]:
    """Enter one reading, once; or say why not. Raises `NotUnderstood`."""
    name = f"{sent.path.name}{f' at {sent.marked}' if sent.marked else ''}"
    try:
        record, _ = measured(workshop, job_id, test, sent.path, marked=sent.marked, phase=phase, setup=setup)
    except MeasuredAlready:  # a form that was sent twice changes nothing
        return ()
    except NotAllowed as refused:
        return refused.troubles[:1]
    except (Unreadable, Refused) as error:
        return (trouble_of(error, name),)
    return () if record.refused is None else (trouble_of_refusal(record.refused, name),)
