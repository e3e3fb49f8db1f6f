"""How long a page takes: a job of 300 entries, with 60 sister jobs of its variant to learn from."""

import asyncio
import tempfile
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter

import httpx

from camerawright.journal.entries import ENTRY, Entry
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.web.app import create_app
from camerawright.workshop.rows import Camera, Owner, Visit

BOUND_MS = 50
N_ENTRIES = 300
N_SISTERS = 60
N_TIMES = 7
N_PARTS = 70
PAGES = (
    "/",
    "/variant?key=orlmann / falter 6x6 / second pattern",
    "/variant/differences?a=J1&b=J2",
    *(
        f"/jobs/J{N_SISTERS + 1}{path}"
        for path in (
            "",
            "/bench/strip",
            "/bench/refit",
            "/order",
            "/order?side=strip",
            "/ledger",
            "/cleaning",
            "/lubrication",
            "/seized",
            "/resume",
            "/reach?part=part 40",
            "/journal",
            "/measure",
        )
    ),
)


def _journal(n_job: int, *, is_open: bool) -> Iterator[Entry]:  # noqa: C901 a list of what is said
    """A strip-down of 70 parts with marks, cautions and reminders; and its way back, unless it is still open."""
    at = datetime(2026, 3, 2, 9, tzinfo=UTC) + timedelta(days=n_job)

    def said(kind: str, **fields: object) -> Entry:
        nonlocal at
        at += timedelta(minutes=2)
        return ENTRY.validate_python({"kind": kind, "at": at, **fields})

    screws = [{"count": 2, "size": "M1.4", "length_mm": 3, "head": "cheese"}]
    names = [f"part {n}" for n in range(N_PARTS)]
    swap = n_job % (N_PARTS - 1)
    names[swap], names[swap + 1] = names[swap + 1], names[swap]
    places = {name: n for n, name in enumerate(names)}
    yield said("set", settings={"shutter": "released", "focus": "infinity"})
    for name in names:
        n = int(name.removeprefix("part "))
        if n % 3 == 0:
            yield said("marked", part=name, mark=f"dot at {n % 12}")
        if n % 5 == 0:
            yield said("cautioned", part=name, hazard="its spring jumps", escapes=True)
        under = [f"part {n - 7}"] if n >= 7 and n % 4 == 0 and places[f"part {n - 7}"] < places[name] else []
        worn = {"material": "brass", "finish": "nickel plated", "soil": ["old oil"]}
        yield said(
            "removed", part=name, fasteners=screws, cell=f"{'ABCDEFGHJKLM'[n // 6]}{n % 6 + 1}", under=under, **worn
        )
        yield said("lubricated", part=name, point="pivots", amount="touch", lubricant="light oil")
        if n % 4 == 1:
            yield said("reminded", part=name, todo="look again")
        if n % 10 == 2:
            yield said("hold point", part="closing", check=f"check {n}", needs=[name])
    if is_open:
        for n in range(N_ENTRIES):
            yield said("noted", note=f"note {n}")
    for name in () if is_open else reversed(names):
        yield said("refitted", part=name, fasteners=screws)


def _fill(workshop: Workshop) -> None:
    """Sisters first, the open job last."""
    for n_job in range(N_SISTERS + 1):
        camera = Camera(maker="Orlmann", model="Falter 6x6", variant="second pattern", serial=str(n_job))
        job = workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 2)))
        workshop.append_all(job.id, list(_journal(n_job, is_open=n_job == N_SISTERS))[:N_ENTRIES])


async def times_ms(workshop: Workshop, paths: Iterable[str]) -> dict[str, list[float]]:
    """How long each page took, the first time leading. [ms]"""
    transport = httpx.ASGITransport(app=create_app(workshop))
    times: dict[str, list[float]] = {}
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
        for path in paths:
            for _ in range(1 + N_TIMES):
                begun = perf_counter()
                answer = await client.get(path)
                times.setdefault(path, []).append((perf_counter() - begun) * 1e3)
                answer.raise_for_status()
    return times


def main() -> None:
    """Print each page: the first load, and the median of those that follow."""
    with tempfile.TemporaryDirectory() as folder, create_workshop(Path(folder) / "workshop") as workshop:
        _fill(workshop)
        n_entries = len(workshop.journal(f"J{N_SISTERS + 1}"))
        print(f"a job of {n_entries} entries, {N_SISTERS} others of its variant")
        print(f"bound: {BOUND_MS} ms after the first load\n")
        print(f"{'page':<44} {'first':>9} {'then':>9}")
        for path, (first, *then) in asyncio.run(times_ms(workshop, PAGES)).items():
            over = "" if median(then) <= BOUND_MS else "  over the bound"
            print(f"{path:<44} {first:>6.1f} ms {median(then):>6.1f} ms{over}")


if __name__ == "__main__":
    main()
