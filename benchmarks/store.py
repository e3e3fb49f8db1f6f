"""How fast the store is: commits that wait for the disk, long journals, media, opening."""

import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from time import perf_counter

from camerawright.journal.entries import Entry, Fastener, Removed, Shim
from camerawright.store.workshop import create_workshop, open_workshop
from camerawright.workshop.rows import Camera, Owner, Visit

N_APPENDED = 500
N_LONG = 10_000
MEDIUM_BYTES = 5_000_000


def _removed(n: int) -> Entry:
    """A removal as a strip-down has them."""
    return Removed(
        at=datetime(2026, 3, 2, 9, tzinfo=UTC) + timedelta(seconds=n),
        part=f"part {n}",
        place="front standard",
        fasteners=(Fastener(count=3, size="M1.7", length_mm=3.2, head="slotted"),),
        shims=(Shim(place="under the post", count=2, thickness_mm=0.05),),
        torque="normal",
        under=("front plate",),
        cell=f"A{n % 12}",
    )


def _took_s(action: Callable[[], object]) -> float:
    """How long an action took. [s]"""
    begun = perf_counter()
    action()
    return perf_counter() - begun


def main() -> None:
    """Print one figure a line."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "workshop"
        owner, camera = Owner(name="Ines Marrow"), Camera(maker="Orlmann", model="Falter 6x6", serial="1")
        print(f"make a workshop        {_took_s(lambda: create_workshop(path).close()) * 1e3:8.1f} ms")
        with open_workshop(path) as workshop:
            jobs = [workshop.take_in(owner, camera, Visit(taken_in=date(2026, 3, 2))).id for _ in range(2)]
            few = [_removed(n) for n in range(N_APPENDED)]
            append_s = _took_s(lambda: [workshop.append(jobs[0], entry) for entry in few])
            print(f"append, each durable   {N_APPENDED / append_s:8.0f} /s")
            many = [_removed(n) for n in range(N_LONG)]
            print(f"append {N_LONG} at once  {_took_s(lambda: workshop.append_all(jobs[1], many)) * 1e3:8.1f} ms")
            data = bytes(MEDIUM_BYTES)
            keep_s = _took_s(lambda: [workshop.keep(data + bytes([n]), suffix=".jpg") for n in range(20)])
            print(f"keep files of 5 MB     {20 * MEDIUM_BYTES / keep_s / 1e6:8.0f} MB/s")
            print(f"verify all that        {_took_s(workshop.verify) * 1e3:8.1f} ms")
        print(f"open a workshop        {_took_s(lambda: open_workshop(path).close()) * 1e3:8.1f} ms")
        with open_workshop(path) as workshop:
            print(f"read {N_LONG} entries    {_took_s(lambda: workshop.journal(jobs[1])) * 1e3:8.1f} ms")
            print(f"read them again        {_took_s(lambda: workshop.journal(jobs[1])) * 1e3:8.1f} ms")
            workshop.append(jobs[1], _removed(N_LONG))
            print(f"and after one append   {_took_s(lambda: workshop.journal(jobs[1])) * 1e3:8.1f} ms")
    program = "import time; t = time.perf_counter(); import camerawright.store.workshop; print(time.perf_counter() - t)"
    took_s = min(float(subprocess.check_output([sys.executable, "-c", program])) for _ in range(3))
    print(f"import the store       {took_s * 1e3:8.1f} ms")


if __name__ == "__main__":
    main()
