"""A bench test for a job: the recording is kept, the reading entered."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from hashlib import file_digest
from pathlib import Path
from typing import Any, Final

import numpy as np

from camerawright.bench import codec
from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.bench.contract import BenchTest
from camerawright.bench.marked_speeds import written
from camerawright.bench.record import Record
from camerawright.handbook.tolerances import Profile, read_profile
from camerawright.job.entering import enter, moment_after
from camerawright.job.now import JobNow, job_now, state_of
from camerawright.journal.entries import Measured, Phase
from camerawright.journal.rules import AS_A_NEW_JOB, HANDED_BACK
from camerawright.readings import sound_card
from camerawright.readings.recorded import record_of
from camerawright.recordings.sound import simulated
from camerawright.store.workshop import Workshop
from camerawright.trouble import NotUnderstood, Refused

_SILENCE_S: Final = 0.2


@dataclass(frozen=True, kw_only=True)
class SetUp:
    """What is told about a recording and cannot be seen in it.

    `options` are the test's own, as they were typed; `input` is the name of the sound card's input; `words` tell the
    rest, as the lens with its widest aperture.
    """

    options: Mapping[str, str] = field(default_factory=dict)
    input: str | None = None
    words: str | None = None

    def in_words(self, test: str) -> str:
        """In one line, for the test of that name; "" for nothing."""
        known = {option.name: option for each in CATALOGUE if each.name == test for option in each.options}
        told = [
            known[name].in_words(text) if name in known else f"{name.replace('_', ' ')} {text}"
            for name, text in self.options.items()
        ]
        name = f"input “{self.input}”" if self.input else ""
        return "; ".join(filter(None, [self.words, *told, name]))


def profile_named(workshop: Workshop, name: str) -> Profile:
    """A tolerance profile of this workshop, as its owner may have edited it.

    Raises
    ------
    Refused
        The workshop has none of that name.
    camerawright.trouble.Unreadable
        It cannot be understood; says which row and why.
    """
    if name not in workshop.profile_names():
        have = ", ".join(workshop.profile_names())
        raise Refused(f"there is none called {name}", f"use one of: {have}", "tolerance profile")
    return read_profile(workshop.profile_path(name))


def told_options(test: BenchTest[Any], told: Mapping[str, str]) -> dict[str, str]:
    """What was told about the set-up, by the names of the test's options; a dash counts as an underscore.

    What was left empty was not told.

    Raises
    ------
    NotUnderstood
        The test has no such option.
    """
    known = {option.name: option for option in test.options}
    found = {}
    for name, text in told.items():
        option = known.get(name.strip().replace("-", "_"))
        if option is None:
            have = ", ".join(each.replace("_", "-") for each in known)
            raise NotUnderstood(f"the test {test.name} has no such option", f"it has {have or 'none'}", name)
        if text.strip():
            found[option.name] = text.strip()
    return found


def refuse_unfit(
    test: BenchTest[Any],
    marked: str | None,
    profile: Profile,
    *,
    options: Mapping[str, str],
    n_channels: int,
    rate_hz: int,
) -> None:
    """Refuse what could not be measured whatever is recorded: the test looks at a moment of silence.

    Raises
    ------
    Refused
        The test needs more channels.
    NotUnderstood
        The mark, or what was told, cannot be understood.
    """
    if test.medium.kind != "sound":
        raise Refused(f"it measures {test.medium.kind}, not sound", "choose a test of sound", test.title)
    if n_channels < test.n_channels:
        many = f"{n_channels} channel{'s' * (n_channels != 1)}"
        raise Refused(f"it cannot be told from {many}", f"record {test.n_channels} or more", test.title)
    silence = simulated(np.zeros((round(_SILENCE_S * rate_hz), n_channels)).squeeze(), rate_hz, 16)
    test.run(silence, marked, profile, **told_options(test, options))


def tried(
    workshop: Workshop,
    job_id: str,
    test: BenchTest[Any],
    recording: Path,
    *,
    marked: str | None,
    setup: SetUp | None = None,
) -> Record:
    """What the test makes of a recording, judged by the job's tolerance profile; nothing is kept.

    Parameters
    ----------
    setup
        What was told about it: makes use of what earlier readings told of the input that is named.

    Raises
    ------
    camerawright.trouble.Unreadable
        The file is not a recording.
    camerawright.trouble.NotUnderstood
        The mark, or what was told, cannot be understood.
    """
    return _run(workshop, job_id, test, recording, marked=marked, setup=setup or SetUp(), sha256=sha256_of(recording))


def _run(
    workshop: Workshop,
    job_id: str,
    test: BenchTest[Any],
    recording: Path,
    *,
    marked: str | None,
    setup: SetUp,
    sha256: str,
) -> Record:
    """What the test makes of a recording whose hash is known."""
    profile = profile_named(workshop, workshop.job(job_id).visit.profile)
    told = told_options(test, setup.options)
    if marked and test.marked is None:
        raise NotUnderstood("this test takes no marked speed", "leave it out", "marked")
    known = {}
    if test.remembered is not None and setup.input:
        known["instrument"] = sound_card.known(workshop, setup.input, but=sha256)
    record: Record = test.run(test.medium.read(recording), marked, profile, **told, **known)
    return record


def measured(
    workshop: Workshop,
    job_id: str,
    test: BenchTest[Any],
    recording: Path,
    *,
    marked: str | None,
    phase: Phase,
    setup: SetUp | None = None,
    more: dict[str, Any] | None = None,
) -> tuple[Record, JobNow]:
    """Measure, keep the recording, and enter the reading. What was refused is not entered.

    What was told is kept with the reading, so that it can be computed again.

    Parameters
    ----------
    more
        Further set-up to keep with the reading (`at` for when it was, `by` for who).

    Raises
    ------
    NotUnderstood
        As `tried`.
    MeasuredAlready
        That very recording was measured so already.
    Refused
        The camera is handed back; or it is a reading of the other phase: of the camera before the work and after it.
    """
    here, sha256, setup = job_now(workshop, job_id), sha256_of(recording), setup or SetUp()
    marked = written(marked) if marked else None
    if here.state.handed_back:  # said before anything is measured or kept
        raise Refused(HANDED_BACK, AS_A_NEW_JOB, job_id)
    _refuse_again(here, test, recording, sha256, marked=marked, phase=phase, setup=setup)
    record = _run(workshop, job_id, test, recording, marked=marked, setup=setup, sha256=sha256)
    if record.refused is not None:
        return record, here
    given = dict(more or {})
    entry = Measured(
        at=given.pop("at", None) or moment_after(here),
        by=given.pop("by", None),
        test=test.name,
        phase=phase,
        method=test.method,
        setup={
            "marked": marked,
            "options": told_options(test, setup.options),
            "input": setup.input,
            "words": setup.words,
            "profile": here.job.visit.profile,
            "file": recording.name,
            **given,
        },
        result=codec.written(record),
        recording=workshop.keep(recording, suffix=recording.suffix.lower()),
    )
    return record, enter(workshop, job_id, entry, now=entry.at)


class MeasuredAlready(Refused):
    """That recording is that reading already: by the same test, with the same mark and set-up."""


def _refuse_again(
    here: JobNow, test: BenchTest[Any], recording: Path, sha256: str, *, marked: str | None, phase: Phase, setup: SetUp
) -> None:
    """Refuse a recording that is entered already: twice it would count twice, and no recording is of both phases."""
    for reading in here.state.measured:
        if reading.recording != sha256:
            continue
        if reading.phase == phase and was_so(reading, test, marked, setup):
            raise MeasuredAlready(
                f"it was measured so already, and is the reading {reading.id[:8]}",
                "give another recording, another mark, or tell more of the set-up",
                recording.name,
            )
        if reading.phase != phase and is_of_a_camera(reading):
            raise Refused(
                f"this recording is the reading {reading.id[:8]}, {reading.phase}",
                f"record the camera {phase}; where {reading.phase} was wrong, undo that entry first",
                recording.name,
            )


def was_so(reading: Measured, test: BenchTest[Any], marked: str | None, setup: SetUp) -> bool:
    """Whether a reading is by that test, with that mark, and told so of its set-up."""
    return (reading.test, reading.setup.get("marked"), told_of(reading)) == (test.name, marked, setup)


def told_of(reading: Measured) -> SetUp:
    """What was told about the set-up of a reading; of one from before it was kept, nothing."""
    options, name, words = (reading.setup.get(key) for key in ("options", "input", "words"))
    return SetUp(
        options={each: str(text) for each, text in options.items()} if isinstance(options, dict) else {},
        input=str(name) if name else None,
        words=str(words) if words else None,
    )


def told_before(workshop: Workshop, job_id: str) -> dict[str, SetUp]:
    """What was told with the newest reading of each test, of this job, or of the workshop where this job has none.

    What is of the camera, as the width of its gate, is taken from this job alone. What shows no firings, as a clip of a
    lamp that calibrates a camera, was set up for something else.
    """
    job = workshop.job(job_id)
    all_readings = (reading for each in workshop.jobs() for reading in state_of(workshop, each).measured)
    oldest_first = sorted(all_readings, key=lambda reading: reading.at)
    of_others = {reading.test: _of_the_bench(reading) for reading in oldest_first if is_of_a_camera(reading)}
    here = state_of(workshop, job).measured
    return of_others | {reading.test: told_of(reading) for reading in here if is_of_a_camera(reading)}


def is_of_a_camera(reading: Measured) -> bool:
    """Whether a reading says something of a camera: a clip of a lamp that calibrates the bench does not."""
    record = record_of(reading)
    return record.refused is None and not record.is_calibration


def _of_the_bench(reading: Measured) -> SetUp:
    """What was told with a reading, without what is of its camera."""
    told = told_of(reading)
    options = (option for each in CATALOGUE if each.name == reading.test for option in each.options)
    of_camera = {option.name for option in options if option.of_camera}
    return replace(told, options={name: text for name, text in told.options.items() if name not in of_camera})


def sha256_of(path: Path) -> str:
    """The SHA-256 of a file, by which the workshop keeps it."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def recording_of(workshop: Workshop, reading: Measured) -> Any:
    """The kept recording that a reading was computed from, as its test reads it."""
    return find_test(reading.test).medium.read(workshop.media(reading.recording))
