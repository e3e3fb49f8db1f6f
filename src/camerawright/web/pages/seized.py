"""The ladder on each fastener that does not move: what to try next, how, and when to stop."""

from dataclasses import dataclass
from typing import Literal

from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.now import JobNow
from camerawright.journal.dangers import about
from camerawright.journal.entries import part_key
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
        advice = next_rung(each.tried, materials, now=bench.now, hand=_hand(bench, each), about=about(bench.state))
        rungs.append(Rung(stuck=each, materials=materials, advice=advice))
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


def _hand(bench: JobNow, each: Stuck) -> Literal["right", "left"] | None:
    """The hand of the thread: as somebody made sure of it here, else as it was in earlier jobs where all agree."""
    sure = next((tried.hand for tried in reversed(each.tried) if tried.hand), None)
    lore = bench.lore.parts.get(part_key(each.part))
    seen = {fastener.hand for fastener in lore.last.fasteners} if lore and lore.last else set()
    return sure or (seen.pop() if len(seen) == 1 else None)
