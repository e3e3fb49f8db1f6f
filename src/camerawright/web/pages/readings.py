"""A job's readings, as found beside as left, and their pictures."""

from collections.abc import Iterator
from dataclasses import dataclass
from threading import Lock
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import Json
from camerawright.journal.entries import Measured
from camerawright.readings.rows import card_png, in_force, rows
from camerawright.web.columns import COLUMNS, VERDICT_COLUMNS
from camerawright.web.taking import here

TESTS: Final = {test.name: test for test in CATALOGUE}
DRAWING: Final = Lock()
"""One picture at a time: two cores are better spent on pages."""


@dataclass(frozen=True, kw_only=True)
class Firings:
    """One reading, firing by firing."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    flags: tuple[tuple[int, str], ...]  # which firing, and what is doubtful
    skipped: tuple[str, ...]
    remarks: tuple[str, ...]  # of the reading as a whole


def firings(entry: Measured) -> Firings:
    """A reading's firings as a table: a column for every key of its record that the words know."""
    record: Json = dict(entry.result)
    shots: list[Json] = [dict(shot) for shot in record.get("firings") or ()]
    against: list[Json] = list((record.get("compared") or {}).get("firings") or ())
    keys = [key for key in COLUMNS if any(key in shot for shot in shots)]
    told = [key for key in VERDICT_COLUMNS if any(key in one for one in against)]
    return Firings(
        heads=tuple(VERDICT_COLUMNS[key].head for key in told) + tuple(COLUMNS[key].head for key in keys),
        rows=tuple(
            tuple(VERDICT_COLUMNS[key].text(against[i]) if i < len(against) else "" for key in told)
            + tuple(COLUMNS[key].text(shot) for key in keys)
            for i, shot in enumerate(shots)
        ),
        flags=tuple((n, str(flag)) for n, shot in enumerate(shots, start=1) for flag in shot.get("flags", ())),
        skipped=(
            *_no_opening_time(shots),
            *(f"at {one['at_s']:.2f} s: {one['reason']}" for one in record.get("skipped") or ()),
        ),
        remarks=tuple(map(str, record.get("flags") or ())),
    )


def _no_opening_time(shots: list[Json]) -> Iterator[str]:
    """Why a firing has no time from opening to closing, and what to do about it."""
    for n, shot in enumerate(shots, start=1):
        if why := (shot.get("open_close") or {}).get("refused"):
            yield f"opening to closing of firing {n}: {why['reason']}; {why['advice']}"


def card(request: Request) -> Response:
    """All readings of a test in one picture."""
    test = TESTS.get(request.path_params["test"])
    state = here(request).state
    with DRAWING:
        picture = card_png(test, rows(in_force(state), test), dpi=110) if test else None
    if picture is None:
        raise HTTPException(404, f"There is no picture of “{request.path_params['test']}” for this job.")
    return Response(picture, media_type="image/png", headers={"Cache-Control": "no-store"})
