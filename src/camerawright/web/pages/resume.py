"""After a break: where you were, what is loose, what must not be moved, what runs, and what comes next."""

from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.resume import resume
from camerawright.journal.sentences import sentence
from camerawright.web.pages.bench import face
from camerawright.web.render import page
from camerawright.web.taking import here


def show(request: Request) -> Response:
    """One screen."""
    bench = here(request)
    card = resume(bench)
    return page(
        request,
        "resume.html",
        here=bench,
        tab="bench",
        card=card,
        last=[(entry, sentence(entry, bench.state.by_id)) for entry in card.last],
        face=face(bench.state),
    )
