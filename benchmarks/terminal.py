"""What a command of the terminal costs: processor time of its process, for a job alone and with 200 of its variant."""

import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path

from benchmarks.pages import fill
from camerawright.store.workshop import create_workshop

N_SISTERS = 200
N_TIMES = 12
BOUND_S = 0.35
RUN = "from camerawright.cli.app import main; main()"
COMMANDS = (
    ("--help",),
    ("jobs",),
    ("note", "JOB", "hello"),
    ("remove", "JOB", "NEW", "--new"),
    ("find", "JOB", "part 3", "dented"),
    ("job", "JOB"),
    ("journal", "list", "JOB"),
    ("ledger", "JOB"),
    ("resume", "JOB"),
    ("balance", "JOB"),
    ("refit", "JOB"),
)
"""JOB is the open job, NEW a part that is another one each time."""


def processor_s(*args: str) -> float:
    """Processor time of a process and its children, the least of several runs: what the machine adds is left out. [s]

    The first run is not counted: it compiles, and brings lists up to date.
    """
    found = []
    for n in range(N_TIMES + 1):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        each = [f"dial {n}" if arg == "NEW" else arg for arg in args]
        done = subprocess.run([sys.executable, "-c", *each], capture_output=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        assert done.returncode in {0, 1}, done.stderr.decode()  # a balance that is not zero exits with 1
        found.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(found[1:])


def main() -> None:
    """Print what each command costs."""
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores; bound: {BOUND_S} s")
    print(f"the bare interpreter: {processor_s('pass'):.3f} s\n")
    print(f"{'command':<28} {'alone':>8} {f'of {N_SISTERS + 1}':>8}   [s]")
    with tempfile.TemporaryDirectory() as folder:
        workshops = {f"J{n + 1}": Path(folder) / str(n) for n in (0, N_SISTERS)}
        for job, path in workshops.items():
            with create_workshop(path) as workshop:
                fill(workshop, int(job[1:]) - 1)
        for command in COMMANDS:
            print(f"{' '.join(command):<28}", end="", flush=True)
            for job, path in workshops.items():
                words = [job if word == "JOB" else word for word in command]
                print(f" {processor_s(RUN, '--workshop', str(path), *words):>8.3f}", end="", flush=True)
            print()


if __name__ == "__main__":
    main()
