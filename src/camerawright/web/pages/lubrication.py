"""The lubrication chart: point by point what, how much, why, and what is still to be done."""

from starlette.requests import Request
from starlette.responses import Response

from camerawright.refit.lubrication import NOT_KNOWN, chart, not_known
from camerawright.web.forms import Refusal, form_maker
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """What is due first, then what stays dry, what is done, and what was not off."""
    bench = here(request)
    points = chart(bench.state, bench.lore)
    return page(
        request,
        "lubrication.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="lubrication",
        groups=[
            (title, [point for point in points if point.standing == standing])
            for standing, title in (
                ("due", "To do"),
                ("stays dry", "Stays dry"),
                ("done", "Done"),
                ("not off", "Was not off"),
            )
        ],
        not_known=not_known(bench.state, points),
        not_known_words=NOT_KNOWN,
        refusal=refusal,
        form=form_maker(refusal),
    )
