"""Every reading computed again from its recording: which give something else now, and by which version."""

import json
import math
from collections.abc import Callable, Iterator
from typing import Any, Final

from camerawright.bench import codec
from camerawright.bench.contract import BenchTest
from camerawright.bench.record import Figure, Record, figure_text
from camerawright.job.states import state_of
from camerawright.journal.entries import Measured
from camerawright.readings.measuring import profile_named
from camerawright.readings.recorded import record_of, test_of
from camerawright.readings.set_up import marks_of, told_of, told_options
from camerawright.store.workshop import Workshop
from camerawright.trouble import Trouble, Troubled
from camerawright.workshop.rows import Job

_LITTLE: Final = 1e-6  # relative: what another processor rounds otherwise
_MEASURE_AGAIN: Final = "measure its recording again if you rely on it"
_ALTERED: Final = "the entry or the profile was altered, or this machine computes otherwise: compare with a backup"


def changed(workshop: Workshop, progress: Callable[[int, int], None]) -> Iterator[tuple[Trouble, bool]]:
    """The readings that give something else when they are computed again, or cannot be.

    Each is told with the set-up, the profile and the memory of the sound card's input that it was entered with.

    Yields
    ------
    tuple of Trouble and bool
        What changed, and whether a newer version of the method explains it.
    """
    readings = [(job, reading) for job in workshop.jobs() for reading in state_of(workshop, job.id).measured]
    for n, (job, reading) in enumerate(readings, 1):
        where = f"the reading {reading.id[:8]} of {job.id} ({reading.test})"
        test = test_of(reading)
        is_newer = test is not None and test.method != reading.method
        try:
            said = _changes(workshop, job, reading, test)
        except Troubled as error:
            yield Trouble(where=where, what=f"it cannot be computed again: {error.what}", mend=error.mend), False
        else:
            if said and test is not None:
                by = f"by {test.method}, where {reading.method} was" if is_newer else f"by the same {test.method}"
                what = f"{'; '.join(said)}, computed again {by}"
                yield Trouble(where=where, what=what, mend=_MEASURE_AGAIN if is_newer else _ALTERED), is_newer
        progress(n, len(readings))


def _changes(workshop: Workshop, job: Job, reading: Measured, test: BenchTest[Any] | None) -> tuple[str, ...]:
    """What a reading gives otherwise now, in words."""
    before = record_of(reading)
    if test is None or (before.refused and not isinstance(before, test.record)):
        assert before.refused is not None
        raise Troubled(before.refused.reason, before.refused.advice)
    after = _computed(workshop, job, reading, test, before)
    if after.refused is not None:
        return (f"it is refused: {after.refused.reason}",)
    found = {(each.name, each.marked): each for each in before.figures}
    now = {(each.name, each.marked): each for each in after.figures}
    lost = [f"{each.label} is gone" for key, each in found.items() if key not in now]
    new = [f"{each.label} is new" for key, each in now.items() if key not in found]
    other = [_said(found[key], each) for key, each in now.items() if key in found and not _is_same(found[key], each)]
    return (*other, *lost, *new)


def _computed(workshop: Workshop, job: Job, reading: Measured, test: BenchTest[Any], before: Record) -> Record:
    """A reading as the test makes it of its recording today, as it would be stored."""
    profile = profile_named(workshop, str(reading.setup.get("profile") or job.visit.profile))
    known = {}
    if test.remembered is not None:
        known["instrument"] = getattr(getattr(before, "input", None), "remembered", None)
    recording = test.medium.read(workshop.media(reading.recording))
    told = told_options(test, told_of(reading).options)
    record = test.run(recording, marks_of(reading) or None, profile, **told, **known)
    stored: Record = codec.read(test.record, json.loads(json.dumps(codec.written(record))))
    return stored


def _is_same(before: Figure, after: Figure) -> bool:
    """Whether two figures say the same."""
    if (before.verdict, before.says) != (after.verdict, after.says):
        return False
    scale = max(abs(before.value or 0.0), before.u or 0.0)
    return all(_is_near(a, b, scale) for a, b in ((before.value, after.value), (before.u, after.u)))


def _is_near(a: float | None, b: float | None, scale: float) -> bool:
    if a is None or b is None:
        return a is b
    return math.isclose(a, b, rel_tol=_LITTLE, abs_tol=_LITTLE * scale)


def _said(before: Figure, after: Figure) -> str:
    """What a figure was and is."""
    at = f" at {after.marked}" if after.marked else ""
    verdicts = f", {before.verdict} and {after.verdict}" if before.verdict != after.verdict else ""
    return f"{after.label}{at} was {figure_text(before)} and is {figure_text(after)}{verdicts}"
