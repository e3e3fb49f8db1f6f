"""The journal: everything that happened, newest first; out as JSON Lines and in again."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from camerawright.job.exchange import exported, imported, lines_of
from camerawright.journal.clock import doubtful
from camerawright.journal.entries import Corrected, Entry
from camerawright.journal.sentences import sentence
from camerawright.trouble import Refused
from camerawright.web.forms import Refusal, form_maker
from camerawright.web.page_numbers import numbered
from camerawright.web.pages.correct import can_become
from camerawright.web.pages.undoing import together_words
from camerawright.web.render import REFUSED, page, workshop_of
from camerawright.web.taking import here
from camerawright.web.uploads import FORM_MAX_BYTES, posted

FORM = "import"
_MOST: Final = 100


@dataclass(frozen=True, kw_only=True)
class Line:
    """One entry as the page shows it."""

    entry: Entry
    words: str
    is_struck: bool
    can_become: bool
    is_doubtful: bool  # its moment


def show(request: Request, refusal: Refusal | None = None, *, odd: Sequence[str] = ()) -> Response:
    """The entries, the newest first, so many a page.

    Parameters
    ----------
    odd
        What was read in and could not have been entered so, of a job to which nothing is added.
    """
    bench = here(request)
    doubted = doubtful(bench.state, bench.now)
    newest_first = bench.state.journal[::-1]
    shown = numbered(request.query_params.get("page", ""), n_all=len(newest_first), most=_MOST)
    lines = [
        Line(
            entry=entry,
            words=sentence(entry, bench.state.by_id),
            is_struck=entry.id in bench.state.struck,
            can_become=can_become(entry) and not bench.is_shut,
            is_doubtful=entry.id in doubted,
        )
        for entry in newest_first[shown.first : shown.first + _MOST]
    ]
    corrected = {entry.entry for entry in bench.state.journal if isinstance(entry, Corrected) and entry.becomes}
    return page(
        request,
        "journal.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="journal",
        lines=lines,
        shown=shown,
        corrected=corrected - bench.state.struck,
        new=request.query_params.get("new", ""),
        known=request.query_params.get("known", ""),
        n_odd=request.query_params.get("odd", "0"),
        odd=odd,
        refusal=refusal,
        together=together_words(bench, refusal),
        form=form_maker(refusal),
    )


def export(request: Request) -> Response:
    """The journal as a file."""
    job = here(request).job
    lines = "".join(f"{line}\n" for line in exported(workshop_of(request), job.id))
    name = f"camerawright-{job.id}-journal.jsonl"
    return Response(
        lines, media_type="application/jsonl", headers={"Content-Disposition": f'attachment; filename="{name}"'}
    )


async def import_lines(request: Request) -> Response:
    """A journal file in: all of it, or nothing and every line that is wrong."""
    async with posted(request, max_bytes=FORM_MAX_BYTES) as form:
        file = form.get("journal_file")
        data = await file.read() if isinstance(file, UploadFile) else b""
    return await run_in_threadpool(_import, request, data)


def _import(request: Request, data: bytes) -> Response:
    job = here(request).job
    try:
        if not data.strip():
            raise Refused("it is empty, or none was chosen", "choose a file of JSON Lines", "the journal file")
        done = imported(workshop_of(request), job.id, lines_of(_text(data)))
    except Refused as refused:
        return show(request, Refusal(form=FORM, typed={}, problems=refused.troubles))
    if done.odd and not done.is_owed:
        return show(request, odd=done.odd)
    odd = f"&odd={len(done.odd)}" if done.odd else ""
    return RedirectResponse(f"/jobs/{job.id}/journal?new={done.n_new}&known={done.n_known}{odd}", 303)


def _text(data: bytes) -> str:
    """The text of a file in UTF-8."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        n_line = data[: error.start].count(b"\n") + 1
        raise Refused(
            f"line {n_line}: it is not text in UTF-8", "choose a JSON Lines file", "the journal file"
        ) from None
