"""The ladder on each fastener that does not move: what to try next, how, and when to stop."""

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from camerawright.refit.ladder import Advice, Stuck, next_rung, stuck
from camerawright.web.forms import Refusal, form_maker
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here


@dataclass(frozen=True, kw_only=True)
class Rung:
    """One fastener, and what to do about it next."""

    stuck: Stuck
    materials: tuple[str, ...]
    advice: Advice


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """Every fastener that was tried and has not moved."""
    bench = here(request)
    rungs = []
    for each in stuck(bench.state):
        materials = next((tried.materials for tried in reversed(each.tried) if tried.materials), ())
        rungs.append(
            Rung(stuck=each, materials=materials, advice=next_rung(each.tried, materials, now=bench.now)),
        )
    return page(
        request,
        "seized.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="bench",
        rungs=rungs,
        refusal=refusal,
        form=form_maker(refusal),
    )
