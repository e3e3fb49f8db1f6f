"""The papers of a job, as PDF."""

from threading import Lock
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.papers.catalogue import PAPERS, render_paper
from camerawright.trouble import Refused
from camerawright.web.render import workshop_of
from camerawright.web.taking import here

_PRINTING: Final = Lock()
"""One paper at a time: two cores are better spent on pages."""


def show(request: Request) -> Response:
    """A paper, to be seen in the browser or kept."""
    job, which = here(request).job, request.path_params["which"]
    if which not in PAPERS:
        raise HTTPException(404, f"There is no paper called “{which}”; there are {', '.join(PAPERS)}.")
    try:
        with _PRINTING:
            pdf = render_paper(workshop_of(request), job.id, which)
    except Refused as refused:
        raise HTTPException(409, str(refused)) from None
    name = f"camerawright-{job.id}-{which}.pdf"
    return Response(
        pdf,
        media_type="application/pdf",
        headers={"Content-Disposition": f'inline; filename="{name}"', "Cache-Control": "no-store"},
    )
