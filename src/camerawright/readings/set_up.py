"""What is told about a recording and its set-up, because no recording shows it."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.contract import BenchTest
from camerawright.job.remembered import Remembered
from camerawright.job.states import state_of
from camerawright.journal.entries import Measured, Phase
from camerawright.journal.state import State
from camerawright.readings.lately import MOST_JOBS, lately
from camerawright.readings.recorded import record_of
from camerawright.store.workshop import Workshop
from camerawright.trouble import NotUnderstood


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


@dataclass(frozen=True, kw_only=True)
class Label:
    """What is told about a recording: of which job, by which test, when, at which mark, with which set-up.

    `file` is the name that it came by. `is_confirmed`: somebody gave or confirmed the mark, so that the reading may be
    entered. `is_sure`: somebody was asked about a mark that the firings are far from, and said that it is right.
    `overruled`: somebody's reason to enter it despite a refusal.
    """

    job: str
    test: str
    phase: Phase
    marked: str | None = None
    options: dict[str, str] = field(default_factory=dict)
    input: str | None = None
    words: str | None = None
    file: str = ""
    is_confirmed: bool = False
    is_sure: bool = False
    overruled: str | None = None

    @property
    def setup(self) -> SetUp:
        """What is told about its set-up."""
        return SetUp(options=self.options, input=self.input, words=self.words)

    def measures_as(self, other: "Label") -> bool:
        """Whether measuring gives the same."""
        same = replace(self, is_confirmed=other.is_confirmed, is_sure=other.is_sure, overruled=other.overruled)
        return same == other


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
            found[option.name] = option.tidied(text)
    return found


def told_of(reading: Measured) -> SetUp:
    """What was told about the set-up of a reading; of one from before it was kept, nothing."""
    options, name, words = (reading.setup.get(key) for key in ("options", "input", "words"))
    return SetUp(
        options={each: str(text) for each, text in options.items()} if isinstance(options, dict) else {},
        input=str(name) if name else None,
        words=str(words) if words else None,
    )


def marks_of(reading: Measured) -> str:
    """The marked speeds that were given with a reading, as they are written; "" where none was."""
    return str(reading.setup.get("marked") or "")


def told_before(workshop: Workshop, job_id: str) -> dict[str, SetUp]:
    """What was told with the newest reading of each test, of this job, or of the workshop where this job has none.

    What is of the camera, as the width of its gate, is taken from this job alone. What shows no firings, as a clip of a
    lamp that calibrates a camera, was set up for something else.
    """
    of_others = [each for told in lately(workshop, _TOLD, _told).values() for each in told]
    newest = {each.test: each.told for each in sorted(of_others, key=lambda each: each.at)}
    here = state_of(workshop, workshop.job(job_id).id).measured
    return newest | {reading.test: told_of(reading) for reading in here if is_of_a_camera(reading)}


@dataclass(frozen=True, kw_only=True)
class _Told:
    """What was told of the bench with a reading."""

    test: str
    at: datetime
    told: SetUp


_TOLD: Remembered[tuple[_Told, ...]] = Remembered(n_most=MOST_JOBS)


def _told(state: State) -> tuple[_Told, ...]:
    """What was told of the bench with the newest reading of each test in one job."""
    found: dict[str, _Told] = {}
    for reading in reversed(state.measured):
        if reading.test not in found and is_of_a_camera(reading):
            found[reading.test] = _Told(test=reading.test, at=reading.at, told=_of_the_bench(reading))
    return tuple(found.values())


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
