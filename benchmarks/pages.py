"""How long a page takes: a job of 300 entries, with 60 sister jobs of its variant to learn from."""

import asyncio
import os
import tempfile
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter, process_time

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


def fill(workshop: Workshop, n_sisters: int) -> None:
    """Sisters first, the open job last."""
    for n_job in range(n_sisters + 1):
        camera = Camera(maker="Orlmann", model="Falter 6x6", variant="second pattern", serial=str(n_job))
        job = workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 2)))
        workshop.append_all(job.id, list(_journal(n_job, is_open=n_job == n_sisters))[:N_ENTRIES])


@dataclass(frozen=True, kw_only=True)
class Took:
    """How long a page took by the clock, and how much of the processor it took. [ms]"""

    clock_ms: float
    processor_ms: float


async def times(workshop: Workshop, paths: Iterable[str]) -> dict[str, list[Took]]:
    """How long each page took, the first time leading."""
    transport = httpx.ASGITransport(app=create_app(workshop))
    found: dict[str, list[Took]] = {}
    async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
        for path in paths:
            for _ in range(1 + N_TIMES):
                begun, worked = perf_counter(), process_time()
                answer = await client.get(path)
                took = Took(clock_ms=(perf_counter() - begun) * 1e3, processor_ms=(process_time() - worked) * 1e3)
                found.setdefault(path, []).append(took)
                answer.raise_for_status()
    return found


def print_times(found: Mapping[str, list[Took]]) -> None:
    """One line a page: the first time, then the median and the worst, and the processor time that the median took."""
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")
    print(f"bound: {BOUND_MS} ms after the first load\n")
    print(f"{'page':<50} {'first':>9} {'median':>9} {'worst':>9} {'processor':>9}   [ms]")
    for path, (first, *then) in found.items():
        middle, worst = median(each.clock_ms for each in then), max(each.clock_ms for each in then)
        worked = median(each.processor_ms for each in then)
        over = "" if middle <= BOUND_MS else "  over the bound"
        print(f"{path:<50} {first.clock_ms:>9.1f} {middle:>9.1f} {worst:>9.1f} {worked:>9.1f}{over}")


def main() -> None:
    """Print each page: the first load, and the median of those that follow."""
    with tempfile.TemporaryDirectory() as folder, create_workshop(Path(folder) / "workshop") as workshop:
        fill(workshop, N_SISTERS)
        n_entries = len(workshop.journal(f"J{N_SISTERS + 1}"))
        print(f"a job of {n_entries} entries, {N_SISTERS} others of its variant")
        print_times(asyncio.run(times(workshop, PAGES)))


if __name__ == "__main__":
    main()
