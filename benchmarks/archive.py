"""Lists and pages of a workshop that is old: 20,000 jobs, 2 million entries.

Its rows are written straight into the tables: most jobs are done, 40 are on the bench, with 60 jobs to a variant.
"""

import asyncio
import tempfile
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from statistics import median
from time import perf_counter

from sqlalchemy import insert

from benchmarks.pages import BOUND_MS, times_ms
from camerawright.job.glance import MOST_AT_ONCE, brought_up_to_date
from camerawright.journal.entries import ENTRY as PARSER
from camerawright.journal.entries import Entry, written
from camerawright.store import directory
from camerawright.store.journal import body_sha256
from camerawright.store.tables import ENTRY
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.workshop.rows import Camera, Owner, Visit

N_JOBS = 20_000
N_EACH = 100
N_OPEN = 40
N_OF_A_VARIANT = 60
START = datetime(2010, 3, 1, 9, tzinfo=UTC)


def _journal(n_job: int, *, is_open: bool) -> list[Entry]:
    """Half of the parts off, then back, unless the job is still open; then closed and handed back."""
    at = START + timedelta(hours=n_job)
    names = [f"part {n}" for n in range(N_EACH // 2 - 1)]
    said: list[dict[str, object]] = [{"kind": "removed", "part": name} for name in names]
    if is_open:
        said += [{"kind": "noted", "note": f"a word {n}"} for n in range(N_EACH // 2)]
    else:
        said += [{"kind": "refitted", "part": name} for name in reversed(names)]
        said += [{"kind": "closed"}, {"kind": "handed back", "to": "Ines Marrow"}]
    return [PARSER.validate_python({"at": at + timedelta(minutes=n), **each}) for n, each in enumerate(said)]


def _fill(workshop: Workshop) -> None:
    with workshop._database.writing() as connection:
        for n in range(N_JOBS):
            camera = Camera(maker="Orlmann", model=f"Falter {n // N_OF_A_VARIANT}", serial=f"{n}", variant="second")
            owner = Owner(name=f"Owner {n % 5000}")
            job = directory.take_in(connection, owner, camera, Visit(taken_in=date(2026, 3, 2)))
            rows = []
            for entry in _journal(n, is_open=n >= N_JOBS - N_OPEN):
                body = written(entry)
                rows.append(
                    {
                        "job": directory.number(connection, job.id), "id": entry.id, "at": entry.at,
                        "kind": entry.kind, "body": body, "sha256": body_sha256(body),
                    }
                )  # fmt: skip
            connection.execute(insert(ENTRY), rows)


def main() -> None:
    """Print how long it takes to bring the lists up to date once, and each page: first, and the median then."""
    with tempfile.TemporaryDirectory() as folder, create_workshop(Path(folder) / "workshop") as workshop:
        _fill(workshop)
        print(f"{N_JOBS} jobs of {N_EACH} entries, {N_OPEN} of them open\n")
        begun = perf_counter()
        brought_up_to_date(workshop, most=MOST_AT_ONCE)
        print(f"where {MOST_AT_ONCE} jobs stand, once   {(perf_counter() - begun) * 1e3:8.0f} ms")
        begun = perf_counter()
        brought_up_to_date(workshop, most=None)
        print(f"where the others stand, once {perf_counter() - begun:8.1f} s")
        job = f"/jobs/J{N_JOBS}"
        paths = [
            "/",
            f"/?closed={N_JOBS // 100}",
            "/?find=falter+7",
            "/take-in",
            "/variants",
            job,
            f"{job}/bench/strip",
        ]
        paths += [f"{job}/journal", f"{job}/measure", f"{job}/ledger"]
        for path, (first, *then) in asyncio.run(times_ms(workshop, paths)).items():
            over = "" if median(then) <= BOUND_MS else "  over the bound"
            print(f"{path:<28} {first:>8.1f} ms {median(then):>8.1f} ms{over}")


if __name__ == "__main__":
    main()
