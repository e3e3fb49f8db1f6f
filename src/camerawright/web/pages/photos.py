"""Photos out: small enough for a page, or as large as they are. Nothing else that is kept goes out this way.

What else the camera wrote into the file, such as place, time, owner and comments, stays in the workshop.
"""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.recordings.bare_photo import pixels_alone
from camerawright.recordings.stills import read_still, shown
from camerawright.trouble import Refused, Unreadable
from camerawright.web.render import workshop_of

FOR_GOOD = {"Cache-Control": "private, max-age=31536000, immutable"}
"""A file that is named by its hash never changes."""


def show(request: Request) -> Response:
    """A photo, made small enough for a page."""
    return Response(_shown(_photo(request)), media_type="image/jpeg", headers=FOR_GOOD)


def original(request: Request) -> Response:
    """A photo with all its pixels."""
    data = _photo(request)
    try:
        still = read_still(data)
        bare = pixels_alone(data, still)
    except Unreadable as unreadable:
        raise HTTPException(404, str(unreadable)) from None
    name = f'attachment; filename="{still.sha256[:12]}{still.suffix}"'
    return Response(bare, media_type=still.media_type, headers={**FOR_GOOD, "Content-Disposition": name})


def _photo(request: Request) -> bytes:
    """The bytes of a kept file."""
    try:
        return workshop_of(request).media(request.path_params["sha256"]).read_bytes()
    except Refused as refused:
        raise HTTPException(404, str(refused)) from None


def _shown(data: bytes) -> bytes:
    try:
        return shown(data)
    except Unreadable as unreadable:
        raise HTTPException(404, str(unreadable)) from None
