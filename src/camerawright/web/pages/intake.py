"""What was told at the take-in is put right, or the job is taken back."""

from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from camerawright.job import taking_in
from camerawright.job.entering import NotAllowed
from camerawright.job.taking_in import FILMS, TOLD
from camerawright.trouble import Refused
from camerawright.web.forms import Refusal, Typed
from camerawright.web.pages.job import show as show_job
from camerawright.web.render import workshop_of
from camerawright.web.uploads import FIELD_MAX_BYTES, posted, texts

FORM: Final = "intake"


async def put_right(request: Request) -> Response:
    """Owner, camera or film as they should have been told."""
    async with posted(request, max_bytes=FIELD_MAX_BYTES) as form:
        typed = texts(form)
    return await run_in_threadpool(_put_right, request, typed)


def _put_right(request: Request, typed: Typed) -> Response:
    job_id = request.path_params["job"]
    told = {name: typed[name] for name in TOLD if name in typed}
    film = typed.get("film", "")
    try:
        taking_in.put_right(
            workshop_of(request), job_id, told, film=film if film in FILMS else "", why=typed.get("why", "").strip()
        )
    except (Refused, NotAllowed) as refused:
        return show_job(request, Refusal(form=FORM, typed=typed, problems=refused.troubles))
    return RedirectResponse(f"/jobs/{job_id}", 303)


async def take_back(request: Request) -> Response:
    """The job is forgotten, if nothing was entered for it."""
    async with posted(request, max_bytes=FIELD_MAX_BYTES):
        pass
    return await run_in_threadpool(_take_back, request)


def _take_back(request: Request) -> Response:
    try:
        workshop_of(request).take_back(request.path_params["job"])
    except Refused as refused:
        return show_job(request, Refusal(form=FORM, typed={}, problems=refused.troubles))
    return RedirectResponse("/", 303)
