"""The measure page: recordings in, the readings of a job in one table."""

from io import BytesIO
from pathlib import PurePosixPath, PureWindowsPath
from typing import Any, BinaryIO, Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from camerawright.bench.catalogue import BY_NAME, CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.handbook.exposure import MODERN_MARKS, OLD_MARKS
from camerawright.journal.rules import AS_A_NEW_JOB, CLOSED, HANDED_BACK, REOPEN
from camerawright.readings import sound_card
from camerawright.readings.adjusting import adjusting
from camerawright.readings.adjusting_words import sensitivity_words, suggestion_words, turn_words
from camerawright.readings.rows import DECISION_RULE
from camerawright.readings.set_up import Label
from camerawright.trouble import Refused, Trouble, Unreadable
from camerawright.web.desk import PHASES, desk_of, last_test, phase_called, phase_now
from camerawright.web.forms import Refusal, Typed, form_maker
from camerawright.web.pages.readings import readings_of
from camerawright.web.pages.waiting import SETTLE_S, rows_of
from camerawright.web.render import REFUSED, page, workshop_of
from camerawright.web.set_up import asked, cells_asked, filled_in, typed_set_up, typed_table
from camerawright.web.taking import here
from camerawright.web.uploads import RECORDING_MAX_BYTES, posted, texts

FORM: Final = "measure"
MOST_RECORDINGS: Final = 40
TYPED: Final = "typed.csv"
"""The name of readings that were typed."""


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """The form, what waits, and every reading of the job."""
    at, workshop = here(request), workshop_of(request)
    linked = request.query_params.get("test", "")
    table, details = readings_of(at)
    waiting = rows_of(request, at)
    return page(
        request,
        "measure.html",
        status=REFUSED if refusal else 200,
        here=at,
        tab="measure",
        tests=CATALOGUE,
        accept=",".join(dict.fromkeys(suffix for test in CATALOGUE for suffix in test.medium.suffixes)),
        asked=asked(CATALOGUE),
        cells=cells_asked(CATALOGUE, refusal.typed if refusal else {}),
        filled={
            "test": linked if linked in BY_NAME else last_test(at, CATALOGUE), **filled_in(workshop, at.job.id),
        },
        is_open=bool(refusal or linked or not (at.state.measured or waiting)),
        inputs=sound_card.names(workshop),
        phases=PHASES,
        phase=(refusal.typed.get("phase") if refusal else None) or phase_now(at),
        turns=adjusting(workshop, at.job.id),
        sensitivity_words=sensitivity_words,
        suggestion_words=suggestion_words,
        turn_words=turn_words,
        marks=dict.fromkeys((*MODERN_MARKS, *OLD_MARKS)),
        waiting=waiting,
        n_readings=len(at.state.measured),
        table=table,
        decision_rule=DECISION_RULE,
        details=details,
        max_mb=RECORDING_MAX_BYTES // 1_000_000,
        refusal=refusal,
        form=form_maker(refusal),
    )  # fmt: skip


async def take(request: Request) -> Response:
    """Take recordings in; they are measured one after the other, and wait for a word about their marks."""
    async with posted(request, max_bytes=RECORDING_MAX_BYTES, max_files=MOST_RECORDINGS) as form:
        return await run_in_threadpool(_take, request, texts(form), form)


def _take(request: Request, typed: Typed, form: FormData) -> Response:
    at, inbox = here(request), desk_of(request).inbox
    test, phase = BY_NAME.get(typed.get("test", "")), phase_called(typed.get("phase", ""))
    try:
        sent = _sent(form, typed, test)
    except Unreadable as bad:  # said before anything is kept, so that the rows can be put right
        return show(request, Refusal(form=FORM, typed=typed, problems=bad.troubles))
    errors = {}
    if test is None or phase is None:
        errors["phase"] = "choose what was measured, and when"
    if not sent:
        errors["recordings"] = "choose at least one recording, or type readings where the test takes them"
    if test is None or phase is None or errors:
        return show(request, Refusal(form=FORM, typed=typed, errors=errors))
    if at.is_shut:
        what, mend = (HANDED_BACK, AS_A_NEW_JOB) if at.state.handed_back else (CLOSED, REOPEN)
        trouble = Trouble(what=what, mend=mend, where=at.job.id)
        return show(request, Refusal(form=FORM, typed=typed, problems=(trouble,)))
    told = typed_set_up(typed, test)
    try:
        for name, data in sent:
            label = Label(
                job=at.job.id, test=test.name, phase=phase, options=dict(told.options), input=told.input,
                words=told.words, file=name,
            )  # fmt: skip
            inbox.put(data, PurePosixPath(name).suffix.lower(), label)
    except Refused as refused:
        return show(request, Refusal(form=FORM, typed=typed, problems=refused.troubles))
    inbox.settle(at.job.id, SETTLE_S)
    return RedirectResponse(f"/jobs/{at.job.id}/measure#{'waiting' if inbox.of(at.job.id) else 'readings'}", 303)


def _sent(form: FormData, typed: Typed, test: BenchTest[Any] | None) -> list[tuple[str, BinaryIO]]:
    """The files that were sent, and the readings that were typed, by their names."""
    files = [file for file in form.getlist("recordings") if isinstance(file, UploadFile) and file.filename]
    table = typed_table(typed, test) if test else None
    return [(_name(file), file.file) for file in files] + ([] if table is None else [(TYPED, BytesIO(table))])


def _name(file: UploadFile) -> str:
    """The name of a file without its folders, whichever system it came from."""
    return PurePosixPath(PureWindowsPath(file.filename or "").name).name or "recording"
