"""What was answered to be kept is there, whatever becomes of the process that kept it."""

import random
import subprocess
import sys
import time
from pathlib import Path

from camerawright.store.workshop import Workshop, open_workshop

ROOT = Path(__file__).parents[2]
N_ROUNDS = 12
N_WRITERS = 2


def _writer(workshop: Workshop, job: str, seed: int, n_most: int) -> "subprocess.Popen[str]":
    """Start a writer in a process of its own."""
    arguments = [str(workshop.folder), job, str(seed), str(n_most)]
    return subprocess.Popen(
        [sys.executable, "-m", "tests.store.writer", *arguments], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )


def _told(writer: "subprocess.Popen[str]") -> list[tuple[str, str]]:
    """The whole lines that a writer got out: what was kept, and its id."""
    assert writer.stdout is not None
    lines = writer.stdout.read().splitlines(keepends=True)
    writer.stdout.close()
    writer.wait()
    return [(kind, name) for kind, name in (line.split() for line in lines if line.endswith("\n"))]


def test_writers_killed_in_mid_write_lose_nothing_that_was_answered(workshop: Workshop, job: str) -> None:
    chosen = random.Random(7)
    told: list[tuple[str, str]] = []
    n_killed = 0
    for n_round in range(N_ROUNDS):
        writers = [_writer(workshop, job, n_round * N_WRITERS + n, 1_000_000) for n in range(N_WRITERS)]
        for writer in writers:
            assert writer.stdout is not None
            for _ in range(2):  # an entry and a file: it is at work
                kind, name = writer.stdout.readline().split()
                told.append((kind, name))
        time.sleep(chosen.uniform(0, 0.06))
        for writer in writers:
            writer.kill()  # SIGKILL; TerminateProcess on Windows
        for writer in writers:
            told += _told(writer)
            n_killed += writer.returncode != 0
    assert n_killed == N_ROUNDS * N_WRITERS >= 20
    acknowledged = {name for kind, name in told if kind == "entry"}
    files = {name for kind, name in told if kind == "file"}
    assert len(acknowledged) > 2 * n_killed
    assert len(files) >= n_killed / 2
    with open_workshop(workshop.folder) as later:
        there = {entry.id for entry in later.journal(job)}
        assert acknowledged <= there
        assert len(there - acknowledged) <= n_killed  # at most the one each had in hand
        for sha256 in files:
            assert later.media(sha256).is_file()
        assert later.verify() == ()  # every entry is whole, every file has the bytes that its name says


def test_two_processes_writing_at_once_both_get_everything_in(workshop: Workshop, job: str) -> None:
    writers = [_writer(workshop, job, seed, 40) for seed in range(2)]
    told = [line for writer in writers for line in _told(writer)]
    assert [writer.returncode for writer in writers] == [0, 0]
    assert {name for kind, name in told if kind == "entry"} == {entry.id for entry in workshop.journal(job)}
    assert len(workshop.journal(job)) == 80
    assert workshop.verify() == ()
