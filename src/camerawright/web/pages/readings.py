"""A job's readings, as found beside as left, and their pictures."""

from dataclasses import dataclass
from threading import Lock
from typing import Final

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import Json
from camerawright.journal.entries import Measured
from camerawright.journal.state import State
from camerawright.sheets.content import Reading
from camerawright.stages.readings import DECISION_RULE, card_png, in_force, reading_shown, rows
from camerawright.web.columns import COLUMNS, VERDICT_COLUMNS
from camerawright.web.taking import here

TESTS: Final = {test.name: test for test in CATALOGUE}
_DRAWING: Final = Lock()
"""One picture at a time: two cores are better spent on pages."""


@dataclass(frozen=True, kw_only=True)
class SideBySide:
    """One marked value, before and after the work."""

    marked: str
    as_found: Reading | None
    as_left: Reading | None


@dataclass(frozen=True, kw_only=True)
class Table:
    """The newest readings of one bench test."""

    test: str
    title: str
    rows: tuple[SideBySide, ...]
    method: str
    decision_rule: str = DECISION_RULE

    @property
    def in_words(self) -> str:
        """What the picture shows."""
        return "; ".join(
            f"{row.marked}: {reading.error} stops {phase}"
            for row in self.rows
            for phase, reading in (("as found", row.as_found), ("as left", row.as_left))
            if reading
        )


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
        skipped=tuple(f"at {shot['at_s']:.2f} s: {shot['reason']}" for shot in record.get("skipped") or ()),
        remarks=tuple(map(str, record.get("flags") or ())),
    )


def tables(state: State) -> tuple[Table, ...]:
    """Every bench test that has readings in force."""
    found = []
    for test in CATALOGUE:
        table = rows(in_force(state), test)
        entries = [entry for row in table for entry in (row.as_found, row.as_left) if entry]
        if entries:
            found.append(
                Table(
                    test=test.name,
                    title=test.title,
                    rows=tuple(
                        SideBySide(
                            marked=row.marked,
                            as_found=reading_shown(row.as_found) if row.as_found else None,
                            as_left=reading_shown(row.as_left) if row.as_left else None,
                        )
                        for row in table
                    ),
                    method="; ".join(dict.fromkeys(entry.method for entry in entries)),
                )
            )
    return tuple(found)


def card(request: Request) -> Response:
    """All readings of a test in one picture."""
    test = TESTS.get(request.path_params["test"])
    state = here(request).state
    with _DRAWING:
        picture = card_png(test, rows(in_force(state), test), dpi=110) if test else None
    if picture is None:
        raise HTTPException(404, f"There is no picture of “{request.path_params['test']}” for this job.")
    return Response(picture, media_type="image/png", headers={"Cache-Control": "no-store"})
