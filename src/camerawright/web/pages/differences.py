"""What differs between two bodies of a kind, as their strip-downs show it."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.states import state_of
from camerawright.refit.differences import differences
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.web.render import page, workshop_of
from camerawright.workshop.rows import Job


def show(request: Request) -> Response:
    """Two jobs side by side."""
    workshop = workshop_of(request)
    a, b = (_job(workshop, request.query_params.get(name, "")) for name in ("a", "b"))
    found = differences(state_of(workshop, a.id), state_of(workshop, b.id))
    return page(
        request,
        "differences.html",
        a=a,
        b=b,
        found=found,
        is_same_kind=a.camera.variant_key == b.camera.variant_key,
    )


def _job(workshop: Workshop, job_id: str) -> Job:
    try:
        return workshop.job(job_id)
    except Refused as refused:
        raise HTTPException(404, f"Name two jobs to compare. {refused}") from None
