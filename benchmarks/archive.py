"""An old workshop, 20,000 jobs and 2 million entries: its lists and pages, its terminal, and many who write at once.

Most jobs are done, the last 40 are on the bench. There are 60 jobs of a variant, and each has a sister variant with as
many. The rows are written straight into the tables, with their seals.
"""

import asyncio
import json
import os
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from sqlite3 import Connection
from time import perf_counter
from uuid import uuid4

import httpx

from benchmarks.pages import print_times, times
from camerawright.bench.catalogue import BY_NAME
from camerawright.demo.recordings import record
from camerawright.job.glance import glance
from camerawright.job.listed import brought_up_to_date
from camerawright.job.now import at_a_glance
from camerawright.journal.entries import ENTRY as PARSER
from camerawright.journal.entries import Measured, Phase, written
from camerawright.readings.measuring import measured
from camerawright.store import directory, seals
from camerawright.store.columns import list_text
from camerawright.store.journal import body_sha256
from camerawright.store.tables import GLANCE_SAID
from camerawright.store.workshop import Workshop, create_workshop, open_workshop
from camerawright.web.app import create_app
from camerawright.workshop.rows import Camera, Owner, Visit

N_JOBS = 20_000
N_EACH = 100
N_OPEN = 40
N_OF_A_VARIANT = 60
N_PARTS = 24
N_OWNERS = 5000
N_PATTERNS = 12
N_AT_ONCE = 500
N_CLIENTS = 16
N_WRITES = 20
START = datetime(2010, 3, 1, 9, tzinfo=UTC)
VISIT = Visit(taken_in=date(2026, 3, 2))


@dataclass(frozen=True, kw_only=True)
class Said:
    """One entry of a pattern: its line of JSON with gaps where its id and its moment go."""

    kind: str
    after: timedelta
    line: str


def camera_of(n: int) -> Camera:
    """The camera of the n-th job: its model has two variants."""
    n_variant = n // N_OF_A_VARIANT
    pattern = "second pattern" if n_variant % 2 else "first pattern"
    return Camera(maker="Orlmann", model=f"Falter {n_variant // 2}", serial=f"{n}", variant=pattern, f_numbers=(4.5, 8))


@cache
def readings(folder: Path) -> tuple[Measured, ...]:
    """What a shutter read before and after, measured once from simulated recordings."""
    with create_workshop(folder / "measured") as aside:
        job = aside.take_in(Owner(name="Owner 0"), camera_of(0), VISIT).id
        said: tuple[tuple[Phase, float], ...] = (("as found", 0.4), ("as left", 0.1), ("as left", 0.05))
        for phase, off in said:
            path = folder / f"{phase} {off}.wav"
            record(path, "1/50", error_stops=off, seed=1)
            measured(aside, job, BY_NAME["shutter"], path, marked="1/50", phase=phase)
        return tuple(entry for entry in aside.journal(job) if isinstance(entry, Measured))


def pattern_of(folder: Path, n_pattern: int, *, is_open: bool) -> list[Said]:
    """A strip-down; and its way back, unless the job is still open. In every pattern other parts swap places."""
    found, left, again = (json.loads(written(reading)) for reading in readings(folder))
    names = [f"part {n}" for n in range(N_PARTS)]
    swap = n_pattern % (N_PARTS - 1)
    names[swap], names[swap + 1] = names[swap + 1], names[swap]
    screws = [{"count": 2, "size": "M1.4", "length_mm": 3, "head": "cheese"}]
    made_of = {"material": "brass", "finish": "nickel plated", "soil": ["old oil"]}
    said: list[dict[str, object]] = [{"kind": "set", "settings": {"shutter": "released"}}, found]
    for n, name in enumerate(names):
        said += [{"kind": "marked", "part": name, "mark": f"dot at {n % 12}"}] * (n % 3 == 0)
        said += [{"kind": "cautioned", "part": name, "hazard": "its spring jumps", "escapes": True}] * (n % 5 == 0)
        cell = f"{'ABCD'[n // 6]}{n % 6 + 1}"
        said.append({"kind": "removed", "part": name, "fasteners": screws, "cell": cell, **made_of})
        said += [
            {"kind": "lubricated", "part": name, "point": "pivots", "amount": "touch", "lubricant": "light oil"}
        ] * (n % 2)
    back: list[dict[str, object]] = [{"kind": "refitted", "part": name, "fasteners": screws} for name in names[::-1]]
    back += [left, {"kind": "adjusted", "adjuster": "retard lever", "after": "one mark on", "turns": 0.1}, again]
    back += [{"kind": "closed"}, {"kind": "handed back", "to": "Ines Marrow"}]
    n_notes = N_EACH - len(said) - (0 if is_open else len(back))
    said += [{"kind": "noted", "note": f"a word {n}"} for n in range(n_notes)]
    said += [] if is_open else back
    return [
        Said(kind=str(each["kind"]), after=timedelta(minutes=2 * n), line=_with_gaps(each))
        for n, each in enumerate(said)
    ]


def _with_gaps(said: dict[str, object]) -> str:
    line = written(PARSER.validate_python({**said, "id": "f" * 32, "at": START}))
    return line.replace("f" * 32, "<id>").replace("2010-03-01T09:00:00Z", "<at>")


def fill(folder: Path) -> None:
    """Make the workshop; prints how far it is."""
    patterns = {
        (n, is_open): pattern_of(folder, n, is_open=is_open) for n in range(N_PATTERNS) for is_open in (False, True)
    }
    with create_workshop(folder / "workshop") as workshop:
        for kept in sorted((folder / "measured" / "media").rglob("*")):
            if kept.is_file():
                workshop.keep(kept, suffix=".wav")
        for first in range(0, N_JOBS, N_AT_ONCE):
            some = range(first, min(first + N_AT_ONCE, N_JOBS))
            with workshop._database.writing() as connection:
                connection.execute("PRAGMA cache_size = -2000000")
                _directory(connection, some)
                for n in some:
                    _journal(connection, n + 1, patterns[n % N_PATTERNS, n >= N_JOBS - N_OPEN])
            print(f"\r{some[-1] + 1} jobs", end="", file=sys.stderr, flush=True)
        print(file=sys.stderr)
        _glances(workshop)


def _directory(connection: Connection, some: range) -> None:
    """Owners, cameras and jobs, sealed."""
    owners = [n for n in some if n < N_OWNERS]
    connection.executemany("INSERT INTO owner VALUES (?, ?, '')", [(n + 1, f"Owner {n}") for n in owners])
    connection.executemany("INSERT INTO camera VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", map(_camera_row, some))
    connection.executemany(
        "INSERT INTO job (n, owner, camera, taken_in, owners_words, film_inside, accessories, condition, wanted,"
        " profile) VALUES (?, ?, ?, ?, '', 0, '[]', '', '', 'user')",
        [(n + 1, n % N_OWNERS + 1, n + 1, VISIT.taken_in.isoformat()) for n in some],
    )
    for kind, numbers in (("owner", owners), ("camera", some), ("job", some)):
        for n in numbers:
            seals.seal_row(connection, kind, n + 1)


def _camera_row(n: int) -> tuple[object, ...]:
    """In the order of `tables.COLUMNS`."""
    camera = camera_of(n)
    named = camera.maker, camera.model, camera.serial, camera.variant
    return n + 1, *named, *directory.keys(camera).values(), camera.variant_key, list_text(camera.f_numbers)


def _journal(connection: Connection, n_job: int, pattern: list[Said]) -> None:
    """The entries of a job, chained and sealed."""
    begun = START + timedelta(hours=6 * n_job)
    chain, rows = "", []
    for said in pattern:
        entry_id, at = uuid4().hex, begun + said.after
        body = said.line.replace("<id>", entry_id).replace("<at>", f"{at:%Y-%m-%dT%H:%M:%SZ}")
        sha256 = body_sha256(body)
        chain = seals.link(chain, n_job, sha256)
        rows.append((n_job, entry_id, f"{at:%Y-%m-%d %H:%M:%S}.000000", said.kind, body, sha256, chain))
    names = ("job", "id", "at", "kind", "body", "sha256", "chain")
    connection.executemany(f"INSERT INTO entry ({', '.join(names)}) VALUES (?, ?, ?, ?, ?, ?, ?)", rows)
    seals.put(connection, seals.JOURNAL, str(n_job), seals.Seal(sha256=chain, n_entries=len(rows)))


def _glances(workshop: Workshop) -> None:
    """Where the jobs stand that are done: as the first of each pattern, so that 20,000 need not be computed."""
    seen = [vars(glance(at_a_glance(workshop, workshop.job(f"J{n + 1}")))) for n in range(N_PATTERNS)]
    with workshop._database.writing() as connection:
        connection.executemany(
            "INSERT INTO glance (job, stage, is_done, n_off, n_owed, next_step)"
            " VALUES (:job, :stage, :is_done, :n_off, :n_owed, :next_step)",
            [{**seen[n % N_PATTERNS], "job": n + 1} for n in range(N_JOBS - N_OPEN)],
        )
        connection.execute(f"UPDATE glance SET said = {GLANCE_SAID}")


def pages(workshop: Workshop) -> None:
    """Print each page: the first time, the median of those that follow, and the worst of them."""
    key = camera_of(N_JOBS - 1).variant_key
    job, done = f"/jobs/J{N_JOBS}", f"/jobs/J{N_JOBS // 2}"
    paths = ["/", f"/?closed={N_JOBS // 100}", "/?find=falter+7", "/take-in", "/variants", f"/variant?key={key}"]
    paths += [f"/variant/differences?a=J{N_JOBS - 50}&b=J{N_JOBS - 51}"]
    paths += [f"{job}{path}" for path in ("", "/bench/strip", "/bench/refit", "/order", "/ledger", "/cleaning")]
    paths += [f"{job}{path}" for path in ("/lubrication", "/seized", "/resume", "/reach?part=part 20", "/journal")]
    paths += [f"{job}/measure", done, f"{done}/journal", f"{done}/measure"]
    print_times(asyncio.run(times(workshop, paths)))


def writes(workshop: Workshop) -> None:
    """Print how many entries a second many clients get in, each at a job of its own; all are of two variants."""

    async def one(client: httpx.AsyncClient, n: int) -> None:
        for k in range(N_WRITES):
            entry_id = uuid4().hex
            form = {"kind": "noted", "form": "noted", "id": entry_id, "note": f"word {k}"}
            if k % 2:
                part = {"part": f"part {entry_id[:6]}", "is_new": "yes"}
                form = {"kind": "removed", "form": "removed", "id": entry_id, **part}
            answer = await client.post(f"/jobs/J{N_JOBS - n}/bench/strip", data=form)
            assert answer.status_code == 303, answer.status_code

    async def all_of_them() -> float:
        transport = httpx.ASGITransport(app=create_app(workshop))
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            await asyncio.gather(*(client.get(f"/jobs/J{N_JOBS - n}/bench/strip") for n in range(N_CLIENTS)))
            begun = perf_counter()
            await asyncio.gather(*(one(client, n) for n in range(N_CLIENTS)))
            return perf_counter() - begun

    took_s = asyncio.run(all_of_them())
    print(f"\n{N_CLIENTS} clients, each at a job of its own: {N_CLIENTS * N_WRITES / took_s:.0f} entries a second")


@contextmanager
def _workshop() -> Iterator[Workshop]:
    """The filled workshop; where `CAMERAWRIGHT_ARCHIVE` names a folder, the one made there before."""
    with tempfile.TemporaryDirectory() as aside:
        folder = Path(os.environ.get("CAMERAWRIGHT_ARCHIVE", aside))
        folder.mkdir(exist_ok=True)
        if not (folder / "workshop").exists():
            begun = perf_counter()
            fill(folder)
            print(f"filled in {perf_counter() - begun:.0f} s")
        with open_workshop(folder / "workshop") as workshop:
            yield workshop


def main() -> None:
    """Fill, then print how long pages take and how many entries get in."""
    with _workshop() as workshop:
        print(f"{N_JOBS} jobs of {N_EACH} entries, {N_OPEN} of them open")
        begun = perf_counter()
        brought_up_to_date(workshop)
        print(f"where the {N_OPEN} open ones stand, once {(perf_counter() - begun) * 1e3:.0f} ms", flush=True)
        pages(workshop)
        writes(workshop)


if __name__ == "__main__":
    main()
