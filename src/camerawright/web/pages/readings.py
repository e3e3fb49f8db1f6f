"""A job's readings, as found beside as left, in one picture for each bench test."""

from threading import Lock
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.bench.catalogue import CATALOGUE
from camerawright.readings.rows import card_png, in_force, rows
from camerawright.web.taking import here

TESTS: Final = {test.name: test for test in CATALOGUE}
DRAWING: Final = Lock()
"""One picture at a time: two cores are better spent on pages."""


def card(request: Request) -> Response:
    """All readings of a test in one picture."""
    test = TESTS.get(request.path_params["test"])
    state = here(request).state
    with DRAWING:
        picture = card_png(test, rows(in_force(state), test), dpi=110) if test else None
    if picture is None:
        raise HTTPException(404, f"There is no picture of “{request.path_params['test']}” for this job.")
    return Response(picture, media_type="image/png", headers={"Cache-Control": "no-store"})
