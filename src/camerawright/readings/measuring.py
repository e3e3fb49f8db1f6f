"""A bench test for a job: the recording is kept, the reading entered."""

from collections.abc import Callable, Mapping
from hashlib import file_digest
from pathlib import Path
from typing import Any, Final

import numpy as np

from camerawright.bench import codec
from camerawright.bench.catalogue import find_test
from camerawright.bench.contract import BenchTest
from camerawright.bench.marked_speeds import written
from camerawright.bench.record import Record
from camerawright.handbook.tolerances import Profile, read_profile
from camerawright.job.entering import enter, moment_after
from camerawright.job.now import JobNow, job_now
from camerawright.journal.entries import Measured, Phase
from camerawright.journal.rules import AS_A_NEW_JOB, CLOSED, HANDED_BACK, REOPEN
from camerawright.readings import sound_card
from camerawright.readings.set_up import Label, SetUp, is_of_a_camera, told_of, told_options
from camerawright.readings.waiting import far_off, far_words
from camerawright.recordings.sound import MAX_CHANNELS, RATES_HZ, simulated
from camerawright.store.workshop import Workshop
from camerawright.trouble import NotUnderstood, Refused

_SILENCE_S: Final = 0.2


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
    least_hz, most_hz = RATES_HZ
    if not least_hz <= rate_hz <= most_hz or n_channels > MAX_CHANNELS:  # before silence of that size is made
        raise Refused(
            f"no sound is recorded in {n_channels} channels at {rate_hz} Hz",
            f"choose {MAX_CHANNELS} channels or fewer, and a rate from {least_hz} to {most_hz} Hz",
            test.title,
        )
    if n_channels < test.n_channels:
        many = f"{n_channels} channel{'s' * (n_channels != 1)}"
        raise Refused(f"it cannot be told from {many}", f"record {test.n_channels} or more", test.title)
    silence = simulated(np.zeros((round(_SILENCE_S * rate_hz), n_channels)).squeeze(), rate_hz, 16)
    test.run(silence, marked, profile, **told_options(test, options))


def tried(
    workshop: Workshop, recording: Path, label: Label, *, follow: Callable[[Any], Any] = lambda read: read
) -> Record:
    """What a test makes of a recording, judged by the job's tolerance profile; nothing is kept.

    Where the input of a sound card is named, it uses what earlier readings told of that input.

    Parameters
    ----------
    follow
        Is given the recording as it was read, and gives what the test is to measure in its place.

    Raises
    ------
    camerawright.trouble.Unreadable
        The file is not a recording.
    camerawright.trouble.NotUnderstood
        The mark, or what was told, cannot be understood.
    """
    test, profile = find_test(label.test), profile_named(workshop, workshop.job(label.job).visit.profile)
    told = told_options(test, label.options)
    if label.marked and test.marked is None:
        raise NotUnderstood("this test takes no marked speed", "leave it out", "marked")
    known = {}
    if test.remembered is not None and label.input:
        known["instrument"] = sound_card.known(workshop, label.input, but=sha256_of(recording))
    record: Record = test.run(follow(test.medium.read(recording)), label.marked, profile, **told, **known)
    return record


def measured(  # noqa: PLR0913  a reading is of a job, a test, a recording, a mark and a phase
    workshop: Workshop,
    job_id: str,
    test: BenchTest[Any],
    recording: Path,
    *,
    marked: str | None,
    phase: Phase,
    setup: SetUp | None = None,
    is_sure: bool = True,
    more: dict[str, Any] | None = None,
) -> tuple[Record, JobNow]:
    """Measure, keep the recording, and enter the reading. What was refused is not entered.

    What was told is kept with the reading, so that it can be computed again.

    Parameters
    ----------
    is_sure
        Whether somebody made sure of the marks: they are entered however far off the firings are.
    more
        Further set-up to keep with the reading (`at` for when it was, `by` for who, `overruled` for why it
        is entered despite a refusal).

    Raises
    ------
    NotUnderstood
        As `tried`.
    MeasuredAlready, Refused
        As `refuse_again`; or the firings are far from a mark that nobody made sure of.
    """
    here, told = job_now(workshop, job_id), setup or SetUp()
    label = Label(
        job=job_id, test=test.name, phase=phase, marked=marked, options=dict(told.options), input=told.input,
        words=told.words,
    )  # fmt: skip
    refuse_again(here, recording, label)
    record = tried(workshop, recording, label)
    if not is_sure and (far := far_off(test, record)):
        raise Refused("; ".join(map(far_words, far)), "give the right mark; if it is right, say --sure", recording.name)
    return record, here if record.refused else entered(workshop, here, recording, record, label, more=more)


def entered(
    workshop: Workshop,
    here: JobNow,
    recording: Path,
    record: Record,
    label: Label,
    *,
    more: dict[str, Any] | None = None,
) -> JobNow:
    """Keep a recording that was measured, and enter what `tried` made of it. `more` is that of `measured`."""
    given, test = dict(more or {}), find_test(label.test)
    entry = Measured(
        at=given.pop("at", None) or moment_after(here),
        by=given.pop("by", None),
        overruled=given.pop("overruled", None) or label.overruled,
        test=test.name,
        phase=label.phase,
        method=test.method,
        setup={
            "marked": written(label.marked) if label.marked else None,
            "options": told_options(test, label.options),
            "input": label.input,
            "words": label.words,
            "profile": here.job.visit.profile,
            "file": label.file or recording.name,
            **given,
        },
        result=codec.written(record),
        recording=workshop.keep(recording, suffix=recording.suffix.lower()),
    )
    return enter(workshop, here.job.id, entry, now=entry.at)


class MeasuredAlready(Refused):
    """That recording is that reading already: by the same test, with the same mark and set-up."""


def refuse_again(here: JobNow, recording: Path, label: Label) -> None:
    """Refuse a recording that is entered already: twice it would count twice, and no recording is of both phases.

    A table may be of both: a gauge may show the same numbers again.

    Raises
    ------
    MeasuredAlready
        That very recording was measured so already.
    Refused
        The camera is handed back; or it is a reading of the other phase: of the camera before the work and after it.
    """
    if here.state.handed_back:
        raise Refused(HANDED_BACK, AS_A_NEW_JOB, here.job.id)
    if here.state.is_closed:
        raise Refused(CLOSED, REOPEN, here.job.id)
    sha256, file, kind = sha256_of(recording), label.file or recording.name, find_test(label.test).medium.kind
    for reading in here.state.measured:
        if reading.recording != sha256:
            continue
        if _is_so(reading, label):
            raise MeasuredAlready(
                f"it was measured so already, and is the reading {reading.id[:8]}",
                "give another recording, another mark, or tell more of the set-up",
                file,
            )
        if reading.phase != label.phase and is_of_a_camera(reading) and kind != "table":
            raise Refused(
                f"this recording is the reading {reading.id[:8]}, {reading.phase}",
                f"record the camera {label.phase}; where {reading.phase} was wrong, undo that entry first",
                file,
            )


def _is_so(reading: Measured, label: Label) -> bool:
    """Whether a reading is by that test, in that phase, with that mark, and told so of its set-up."""
    marked = written(label.marked) if label.marked else ""
    of_reading = reading.test, reading.phase, reading.marked, told_of(reading)
    return of_reading == (label.test, label.phase, marked, label.setup)


def sha256_of(path: Path) -> str:
    """The SHA-256 of a file, by which the workshop keeps it."""
    with path.open("rb") as file:
        return file_digest(file, "sha256").hexdigest()


def recording_of(workshop: Workshop, reading: Measured) -> Any:
    """The kept recording that a reading was computed from, as its test reads it."""
    return find_test(reading.test).medium.read(workshop.media(reading.recording))
