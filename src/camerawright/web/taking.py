"""A form in, an entry in the journal, and back to the page: or the page again with every reason against it."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from hashlib import sha256
from pathlib import Path
from threading import Lock
from typing import Final, Protocol
from urllib.parse import urljoin

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from camerawright.job.entering import NotAllowed, enter, moment_after, put_in
from camerawright.job.now import JobNow, job_now
from camerawright.journal.entries import Entry
from camerawright.journal.state import State
from camerawright.recordings.stills import read_still
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Stale, Trouble, Unreadable
from camerawright.web.forms import BadFields, Refusal, Typed, as_meant, entry_from
from camerawright.web.render import workshop_of
from camerawright.web.uploads import FORM_MAX_BYTES, Photo, photo_in, posted, texts

_MAKING: Final = Lock()
_LOCKS: Final[dict[tuple[Path, str], Lock]] = {}
"""Between looking at a journal and adding to it nobody else in this process adds to it; other processes make it
`Stale`. Journals do not wait for each other."""
_TRIES: Final = 3


def _one_at_a_time(workshop: Workshop, job_id: str) -> Lock:
    """The lock of one journal."""
    with _MAKING:
        return _LOCKS.setdefault((workshop.folder, job_id.strip().lstrip("Jj")), Lock())


class Show(Protocol):
    """Makes a page, with a refused form on it if there is one."""

    def __call__(self, request: Request, refusal: Refusal | None = None) -> Response: ...


class Several(Protocol):
    """Makes the entries of a form that enters more than one; those that are in the journal already are left out."""

    def __call__(self, bench: JobNow, typed: Typed, at: datetime) -> tuple[Entry, ...]: ...


SEVERAL: Final = "several"
"""The kind of a form that enters more than one entry."""


def job_page(show: Show, several: Several | None = None, *, back: str = "") -> Callable[[Request], object]:
    """An endpoint that shows a page of a job and takes the forms on it.

    Parameters
    ----------
    several
        Makes the entries of those of its forms that enter more than one.
    back
        Where to go when a form was taken, seen from the page; to the page itself if it is not given.
    """

    async def endpoint(request: Request) -> Response:
        if request.method != "POST":
            return await run_in_threadpool(show, request)
        async with posted(request, max_bytes=FORM_MAX_BYTES) as form:
            typed, photo = texts(form), await photo_in(form)
        workshop, job = workshop_of(request), request.path_params["job"]
        if several is not None and typed.get("kind") == SEVERAL:
            refusal = await run_in_threadpool(entered_all, workshop, job, typed, several)
        else:
            refusal = await run_in_threadpool(entered, workshop, job, typed, photo)
        if refusal is not None:
            return await run_in_threadpool(show, request, refusal)
        return RedirectResponse(urljoin(request.url.path, back), 303)

    return endpoint


def here(request: Request) -> JobNow:
    """The job that the address names; where there is none, `Refused` becomes the page that names those near it."""
    return job_now(workshop_of(request), request.path_params["job"])


def over(state: State, now: datetime) -> tuple[str, ...]:
    """The parts whose waits have ended: besides the journals, all that what is computed of a job depends on."""
    return tuple(part.key for part in state.parts.values() if part.awaiting and not part.awaiting.lasts(now))


def entered(workshop: Workshop, job_id: str, typed: Typed, photo: Photo | None = None) -> Refusal | None:
    """Enter what was typed; nothing if it is in the journal now, else why it is not.

    A form that is sent twice (a double tap, a page sent again) changes nothing: its entry has the id that came with the
    form. If it comes again with other words, that is said instead of swallowed.
    """
    typed = as_meant(typed)
    refusal = Refusal(form=typed.get("form") or typed.get("kind", ""), typed=typed)
    errors: dict[str, str] = {}
    if photo is not None:
        try:
            kept = workshop.keep(photo.data, suffix=read_still(photo.data, name=photo.name).suffix)
            refusal = replace(refusal, typed={**typed, "photo": kept})
        except Unreadable as unreadable:
            errors["photo"] = str(unreadable)
        except Refused as refused:
            errors["photo"] = str(refused)
    try:
        with _one_at_a_time(workshop, job_id):
            problems = _put(workshop, job_id, refusal.typed, errors)
    except BadFields as bad:
        return replace(refusal, errors=bad.errors | errors)
    return replace(refusal, problems=problems) if problems else None


def _put(workshop: Workshop, job_id: str, typed: Typed, errors: dict[str, str]) -> tuple[Trouble, ...]:
    """Put the entry into the journal, looking again if another process was faster; return what stands against it."""
    for _ in range(_TRIES):
        before = job_now(workshop, job_id)
        entry = entry_from(typed, at=moment_after(before))
        if errors:
            raise BadFields(errors)
        there = next((old for old in before.state.journal if old.id == entry.id), None)
        if there is not None:
            again = entry_from(typed, at=there.at).model_copy(update={"clock": there.clock})
            return () if there == again else (_SENT_BEFORE,)
        try:
            put_in(workshop, before, entry)
        except Stale:
            continue
        except (NotAllowed, Refused) as refused:
            return refused.troubles
        return ()
    return (Trouble(what="another program keeps writing this journal", mend="send it again"),)


def entered_all(workshop: Workshop, job_id: str, typed: Typed, several: Several) -> Refusal | None:
    """Enter what a form makes, entry by entry; what was entered before a refusal stays, and the form says why not all.

    The entries' ids follow from the form's: sent twice it changes nothing.
    """
    refusal = Refusal(form=typed.get("form", ""), typed=typed)
    with _one_at_a_time(workshop, job_id):
        try:
            before = job_now(workshop, job_id)
            for n, entry in enumerate(several(before, typed, moment_after(before))):
                entry_id = sha256(f"{typed.get('id')} {n}".encode()).hexdigest()[:32]
                at = moment_after(job_now(workshop, job_id))
                enter(workshop, job_id, entry.model_copy(update={"id": entry_id, "at": at}))
        except BadFields as bad:
            return replace(refusal, errors=bad.errors)
        except (NotAllowed, Refused) as refused:
            return replace(refusal, problems=refused.troubles)
    return None


_SENT_BEFORE: Final = Trouble(
    what="this form was entered already, with other words: they stand in the journal and were not touched",
    mend="to enter these as well, send them once more; to take the earlier ones back, undo them in the journal",
)
