"""A bench test for a job: the recording is kept, the reading entered."""

from pathlib import Path
from typing import Any

from camerawright.bench.catalogue import find_test
from camerawright.bench.contract import BenchTest, Outcome
from camerawright.handbook.tolerances import Profile, read_profile
from camerawright.journal.entries import Measured, Phase
from camerawright.stages.bench import Bench, bench, enter, moment_after
from camerawright.store.refused import Refused
from camerawright.store.workshop import Workshop


def profile_named(workshop: Workshop, name: str) -> Profile:
    """A tolerance profile of this workshop, as its owner may have edited it.

    Raises
    ------
    Refused
        The workshop has none of that name.
    camerawright.handbook.tolerances.BadProfile
        It cannot be understood; says which row and why.
    """
    if name not in workshop.profile_names():
        have = ", ".join(workshop.profile_names())
        raise Refused("tolerance profile", f"there is none called {name}", f"use one of: {have}")
    return read_profile(workshop.profile_path(name))


def tried(workshop: Workshop, job_id: str, test: BenchTest, recording: Path, *, marked: str | None) -> Outcome:
    """What the test makes of a recording, judged by the job's tolerance profile; nothing is kept.

    Raises
    ------
    camerawright.recordings.unreadable.Unreadable
        The file is not a recording.
    """
    job = workshop.job(job_id)
    return test.run(test.read(recording), marked, profile_named(workshop, job.visit.profile))


def measured(
    workshop: Workshop,
    job_id: str,
    test: BenchTest,
    recording: Path,
    *,
    marked: str | None,
    phase: Phase,
    more: dict[str, Any] | None = None,
) -> tuple[Outcome, Bench]:
    """Measure, keep the recording, and enter the reading. What was refused is not entered.

    Parameters
    ----------
    more
        Further set-up to keep with the reading (`at` for when it was, `by` for who).
    """
    here = bench(workshop, job_id)
    outcome = tried(workshop, job_id, test, recording, marked=marked)
    if outcome.refused is not None:
        return outcome, here
    given = dict(more or {})
    entry = Measured(
        at=given.pop("at", None) or moment_after(here),
        by=given.pop("by", None),
        test=test.name,
        phase=phase,
        method=test.method,
        setup={"marked": marked, "profile": here.job.visit.profile, "file": recording.name, **given},
        result=outcome.record,
        recording=workshop.keep(recording, suffix=recording.suffix.lower()),
    )
    return outcome, enter(workshop, job_id, entry, now=entry.at)


def recording_of(workshop: Workshop, reading: Measured) -> Any:
    """The kept recording that a reading was computed from, as its test reads it."""
    return find_test(reading.test).read(workshop.media(reading.recording))
