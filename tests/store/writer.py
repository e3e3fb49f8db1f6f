"""A writer to be killed: says on standard output what was answered to be kept, once it was."""

import os
import random
import sys
from pathlib import Path

from camerawright.store.workshop import open_workshop
from tests.store.invented import note


def write_until_killed(folder: Path, job: str, seed: int, n_most: int) -> None:
    """Append notes and keep files, and tell each one's id when the call has returned."""
    chosen = random.Random(seed)
    with open_workshop(folder) as workshop:
        for n in range(n_most):
            entry = note(n, f"writer {seed} " * chosen.randint(1, 200))
            workshop.append(job, entry)
            os.write(1, f"entry {entry.id}\n".encode())
            if n % 4 == 0:
                sha256 = workshop.keep(chosen.randbytes(chosen.randint(1, 400_000)), suffix=".wav")
                os.write(1, f"file {sha256}\n".encode())


if __name__ == "__main__":
    write_until_killed(Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
