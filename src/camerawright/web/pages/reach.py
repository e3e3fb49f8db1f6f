"""What must come off to reach a part: the smallest set, its order, its hazards and marks, and how long it takes."""

from dataclasses import dataclass
from difflib import get_close_matches

from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.now import JobNow
from camerawright.refit.reach import Reach, ToComeOff
from camerawright.web.render import page
from camerawright.web.taking import here


@dataclass(frozen=True, kw_only=True)
class Shown:
    """One part in the way, with what to mind."""

    item: ToComeOff
    hazards: tuple[str, ...]
    frees: tuple[str, ...]
    marks: tuple[str, ...]


def show(request: Request) -> Response:
    """A field to ask, and the answer."""
    bench = here(request)
    asked = request.query_params.get("part", "").strip()
    found = bench.reach(asked) if asked else None
    known = sorted((lore.name for lore in bench.lore.parts.values()), key=str.casefold)
    return page(
        request,
        "reach.html",
        here=bench,
        tab="bench",
        asked=asked,
        found=found,
        parts=[_shown(bench, item) for item in found.parts] if found else [],
        hours=_hours(found) if found else "",
        near=get_close_matches(asked, known, cutoff=0.4) if asked and not found else [],
        part_names=known,
    )


def _shown(bench: JobNow, item: ToComeOff) -> Shown:
    name = item.part.name
    return Shown(item=item, hazards=bench.hazards(name), frees=bench.frees(name), marks=item.part.marks)


def _hours(found: Reach) -> str:
    """The expected hands-on time with its spread, as far as the records give one."""
    if found.minutes is None:
        return ""
    if found.u_minutes is None:
        return f"{_clock(found.minutes)}; timed once only, so the spread is not known"
    return f"{_clock(found.minutes)}, give or take {_clock(found.u_minutes)} (standard uncertainty)"


def _clock(minutes: float) -> str:
    """`1 h 25 min`, `2.5 min`."""
    if minutes < 10:
        return f"{minutes:.1f} min"
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest:02d} min" if hours else f"{rest} min"
