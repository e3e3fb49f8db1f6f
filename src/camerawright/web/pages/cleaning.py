"""The cleaning plan: what goes through what together, in which order, what runs until when, what is never wetted."""

from collections.abc import Iterator
from datetime import datetime
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from camerawright.handbook import cleaning
from camerawright.job.cleaning import Load, Plan, begun, plan, went_through
from camerawright.job.ledger import not_taken_words
from camerawright.job.now import JobNow
from camerawright.job.remembered import Remembered
from camerawright.journal.entries import IN_THE_BATH, Arrived, Awaited, Cleaned, Entry
from camerawright.web.forms import BadFields, Refusal, Typed, form_maker
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here, over


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """The baths in order, then part by part why."""
    bench = here(request)
    return page(
        request,
        "cleaning.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="cleaning",
        plan=planned(bench),
        to_gauge=not_taken_words(bench.state),
        in_the_bath=IN_THE_BATH,
        refusal=refusal,
        form=form_maker(refusal, _WORDS),
    )


_WORDS: Final = {
    "materials": [row.name for row in cleaning.materials()],
    "finishes": [row.name for row in cleaning.finishes()],
    "dirt": [row.name for row in cleaning.soils()],
}
"""What is suggested while one types."""


_PLANS: Final[Remembered[Plan]] = Remembered(n_most=16)


def planned(bench: JobNow) -> Plan:
    """The plan; kept until something is entered or a wait ends."""
    return _PLANS.get((bench.job.id, over(bench.state, bench.now)), (bench.state, bench.lore), lambda: plan(bench))


def entries(bench: JobNow, typed: Typed, at: datetime) -> tuple[Entry, ...]:
    """What the forms of this page enter: one entry for each part that goes into a bath, or was cleaned.

    Parameters
    ----------
    typed
        `act` ("begun", "cleaned"), `route` (the name of the process), `parts` one a line.
    """
    parts, route, act = typed.get("parts", "").splitlines(), typed.get("route", ""), typed.get("act")
    if not parts or not route or act not in {"begun", "cleaned"}:
        raise BadFields({"parts": "choose which parts went where"})
    if act == "begun":
        load = next(
            (load for load in planned(bench).loads if load.batch.name == route and {*parts} & {*load.to_go}), None
        )
        return () if load is None else _begun(load, parts, at)
    batches = [load.batch for load in planned(bench).loads if load.batch.name == route]
    return tuple(
        entry
        for part in parts
        for name in next((went_through(batch, part) for batch in batches if part in batch.parts), (route,))
        for entry in _cleaned(bench, part, name, at, typed.get("overruled", "").strip() or None)
    )


def _begun(load: Load, parts: list[str], at: datetime) -> tuple[Awaited, ...]:
    return tuple(entry for entry in begun(load, at=at) if entry.part in parts)


def _cleaned(bench: JobNow, name: str, route: str, at: datetime, overruled: str | None) -> Iterator[Entry]:
    """It went through, if that is not entered already; and it waits for its bath no longer."""
    part = bench.state.part(name)
    wait = part.awaiting if part.bath == route else None
    since = wait.at if wait else part.removed.at if part.removed else None
    if not any(done.route == route and (since is None or done.at >= since) for done in part.cleaned):
        yield Cleaned(at=at, part=part.name, route=route, overruled=overruled)
    if part.awaiting and part.awaiting.bath == route:
        yield Arrived(at=at, part=part.name)
