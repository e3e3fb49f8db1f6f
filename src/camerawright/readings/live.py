"""Recording for a job: the recording kept and measured, or the reason why not."""

import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Final, Protocol

from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.bench.contract import BenchTest
from camerawright.bench.record import Record, Refusal
from camerawright.bench.setup_check.measure import setup_check
from camerawright.bench.setup_check.record import SetupCheck
from camerawright.bench.setup_check.signal import RATE_HZ, drive, signal
from camerawright.handbook.tolerances import Profile
from camerawright.journal.entries import Phase
from camerawright.readings.measuring import SetUp, measured, profile_named, refuse_unfit, tried
from camerawright.readings.watch import Watch
from camerawright.recordings.inputs import HeadphoneOutput, Input, NoInput, PlayedFile, SoundCard, Source, inputs
from camerawright.recordings.kept import finished, input_of, remove, setup_of
from camerawright.recordings.live import Recorder
from camerawright.recordings.recovery import recover
from camerawright.recordings.sound import read_sound
from camerawright.store.workshop import Workshop
from camerawright.trouble import NotMeasurable, NotUnderstood, Refused, Unreadable

FOLDER: Final = "live"
"""Where recordings stand in the workshop until they are measured."""
CHECK: Final = "set-up check"


def recordable() -> tuple[BenchTest[Any], ...]:
    """The bench tests that take sound."""
    return tuple(test for test in CATALOGUE if test.medium.kind == "sound")


class Output(Protocol):
    """What plays the signal to the LED."""

    def start(self) -> None: ...
    def stop(self) -> None: ...


@dataclass(frozen=True, kw_only=True)
class Devices:
    """The sound card's ends; a test puts others here."""

    inputs: Callable[[], tuple[Input, ...]] = inputs
    opened: Callable[[str, int, int], Source] = SoundCard
    output: Callable[[], Output] = lambda: HeadphoneOutput(drive(signal()), RATE_HZ)


@dataclass(frozen=True, kw_only=True)
class Order:
    """What is to be recorded, `options` and `words` as they were told of the set-up.

    `played` is a kept recording that plays in the place of the input, to try it out.
    """

    job: str
    test: str
    phase: Phase
    marked: str | None
    options: Mapping[str, str] = field(default_factory=dict)
    words: str | None = None
    input: str = ""
    rate_hz: int = 48_000
    n_channels: int = 1
    played: str | None = None

    def as_setup(self) -> dict[str, Any]:
        """What is kept beside the recording."""
        return {
            "job": self.job,
            "test": self.test,
            "phase": self.phase,
            "marked": self.marked,
            "options": dict(self.options),
            "words": self.words,
        }


@dataclass(frozen=True, kw_only=True)
class Ended:
    """What became of a recording: the entry it made, or the reason why none; what was only tried makes none."""

    order: Order
    entry: str | None
    refused: Refusal | None
    record: Record | None = None
    is_tried: bool = False
    kept: Path | None = None


class Running:
    """A recording that goes on: a recorder, a watch where firings are expected, an output for the set-up check."""

    def __init__(self, order: Order, recorder: Recorder, watch: Watch | None, output: Output | None) -> None:
        self.order, self.recorder, self.watch, self.output = order, recorder, watch, output

    def start(self) -> None:
        """Begin."""
        self.recorder.start()
        if self.watch is not None:
            self.watch.start()
        if self.output is not None:
            self.output.start()

    def stop(self) -> None:
        """Stop all but the recorder, which is stopped by whoever wants its file."""
        if self.watch is not None:
            self.watch.stop()
        if self.output is not None:
            self.output.stop()


def _begun(running: Running) -> Running:
    """The same, begun; nothing is left of one that does not begin."""
    try:
        running.start()
    except Unreadable:
        running.recorder.discard()
        raise
    return running


class Desk:
    """The one place where a workshop records: there is one sound card, and one recording at a time.

    Any thread may call it.
    """

    def __init__(self, workshop: Workshop, devices: Devices | None = None) -> None:
        self._workshop, self._devices = workshop, devices or Devices()
        self._lock = threading.RLock()
        self._running: Running | None = None
        self._checked: SetupCheck | NotMeasurable | None = None
        self.folder = workshop.folder / FOLDER

    @property
    def running(self) -> Running | None:
        """The recording that goes on."""
        return self._running

    @property
    def checked(self) -> SetupCheck | NotMeasurable | None:
        """The last set-up check since the program began."""
        return self._checked

    def inputs(self) -> tuple[Input, ...]:
        """The inputs there are. Raises `NoInput` where the sound system does not answer."""
        return self._devices.inputs()

    def begin(self, order: Order) -> None:
        """Begin to record.

        Raises
        ------
        Refused
            Something is being recorded already, or there is no such test, job or profile.
        NoInput
            The input is not there, taken, or would convert.
        NotUnderstood
            The mark, or what was told of the set-up, cannot be understood.
        """
        test, profile = self._judged(order)
        with self._lock:
            self._refuse_busy()
            recorder = self._recorder(order, f"{order.job} {order.phase} {_file_words(order.marked or order.test)}")
            watch = Watch(recorder, test, order.marked, profile, order.options)
            self._running = _begun(Running(order, recorder, watch, None))

    def begin_check(self, order: Order) -> None:
        """Begin the set-up check: the LED is driven, and what the sensor makes of it is measured when that is over.

        A kept recording of a check, played in the place of the input, needs no LED and no output.

        Raises
        ------
        Refused, NoInput
            As `begin`; there is no output.
        """
        with self._lock:
            self._refuse_busy()
            output = self._devices.output() if order.played is None else None  # a kept one was lit when it was made
            recorder = self._recorder(order, CHECK)
            self._checked = None
            running = self._running = _begun(Running(order, recorder, None, output))
        threading.Thread(target=self._check, args=(running,), name="set-up check", daemon=True).start()

    def end(self) -> Ended | None:
        """Stop, keep the recording, and measure it; None where nothing was being recorded or the check was broken off.

        A recording that cannot be measured stays in `waiting`.
        """
        with self._lock:  # to its end: what is half stopped must not be taken for abandoned and recovered
            running, self._running = self._running, None
            if running is None:
                return None
            running.stop()
            if running.watch is None:
                running.recorder.discard()
                return None
            kept = running.recorder.stop()
        return self.measure(kept.path, running.order)

    def measure(self, path: Path, order: Order) -> Ended:
        """Measure a recording of this desk and enter the reading.

        What was played to try it out is not entered, and leaves nothing behind, whatever becomes of it.

        Raises
        ------
        NotUnderstood
            The mark, or what was told, does not fit what was recorded, which waits.
        Refused
            It does not fit what was tried out.
        """
        recorded = setup_of(path)
        test = find_test(order.test)
        if recorded.get("is_tried"):
            return self._tried(path, order, test)
        record, here = measured(
            self._workshop,
            order.job,
            test,
            path,
            marked=order.marked,
            phase=order.phase,
            setup=SetUp(options=order.options, input=input_of(path), words=order.words),
            more={"recorded": {key: recorded[key] for key in _KEPT if key in recorded}},
        )
        if record.refused is not None:
            return Ended(order=order, entry=None, refused=record.refused, kept=path)
        remove(path)
        entry = here.state.measured[-1].id
        return Ended(order=order, entry=entry, refused=None, record=record)

    def _tried(self, path: Path, order: Order, test: BenchTest[Any]) -> Ended:
        """What became of a kept recording that was played in the place of an input."""
        setup = SetUp(options=order.options)
        try:
            record = tried(self._workshop, order.job, test, path, marked=order.marked, setup=setup)
        except NotUnderstood as bad:
            raise Refused(str(bad), "nothing was kept: play it again, and tell it otherwise", "tried out") from None
        finally:
            remove(path)
        return Ended(order=order, entry=None, refused=record.refused, record=record, is_tried=True)

    def waiting(self, job_id: str) -> tuple[Path, ...]:
        """Recordings of a job that were kept and are not measured yet; what was broken off is recovered."""
        if not self.folder.is_dir():
            return ()
        with self._lock:
            if self._running is None:
                recover(self.folder)
        return tuple(path for path in finished(self.folder) if setup_of(path).get("job") == job_id)

    def waiting_called(self, job_id: str, name: str) -> Path:
        """One of those, by its file name.

        Raises
        ------
        Refused
            There is none of that name.
        """
        for path in self.waiting(job_id):
            if path.name == name:
                return path
        raise Refused("it does not wait to be measured", "look at the readings of the job", f"the recording {name}")

    def throw_away(self, job_id: str, name: str) -> None:
        """Remove a recording that was never measured."""
        remove(self.waiting_called(job_id, name))

    def _judged(self, order: Order) -> tuple[BenchTest[Any], Profile]:
        """The test and the profile of an order, before anything is opened."""
        test = find_test(order.test)
        job = self._workshop.job(order.job)
        profile = profile_named(self._workshop, job.visit.profile)
        refuse_unfit(
            test,
            order.marked,
            profile,
            options=order.options,
            n_channels=order.n_channels if order.played is None else test.n_channels,
            rate_hz=order.rate_hz,
        )
        return test, profile

    def _recorder(self, order: Order, name: str) -> Recorder:
        if order.played is not None:
            source: Source = PlayedFile(self._workshop.media(order.played))
        elif not order.input:
            raise NoInput("no input is chosen", "choose one; where there is none, plug a sound card in", "input")
        else:
            source = self._devices.opened(order.input, order.rate_hz, order.n_channels)
        return Recorder(source, self.folder, name=name, setup=order.as_setup())

    def _refuse_busy(self) -> None:
        if self._running is not None:
            raise Refused(f"{self._running.order.job} is being recorded", "stop that first", "recording")

    def _check(self, running: Running) -> None:
        """Wait for the signal to be over, then look at what came."""
        played = signal()
        until_s = time.monotonic() + played.duration_s + 1.0
        while time.monotonic() < until_s and self._running is running and not running.recorder.source.is_over:
            time.sleep(0.05)
        with self._lock:
            if self._running is not running:
                return
            running.stop()
            kept = running.recorder.stop()
            try:
                self._checked = setup_check(read_sound(kept.path), played)
            except NotMeasurable as why:
                self._checked = why
            except Unreadable as why:
                self._checked = NotMeasurable(why.what, why.mend)
            remove(kept.path)
            self._running = None


_KEPT: Final = ("rate_hz", "channels", "bits", "duration_s", "flags", "is_recovered")
"""What of a recording's set-up is kept with its reading."""


def order_of(path: Path) -> Order:
    """The order that a waiting recording was made by."""
    setup: Mapping[str, Any] = setup_of(path)
    return Order(
        job=setup["job"],
        test=setup["test"],
        phase=setup["phase"],
        marked=setup.get("marked"),
        options=setup.get("options") or {},
        words=setup.get("words"),
    )


def kept_at(path: Path) -> datetime:
    """When a recording ended, by its file."""
    return datetime.fromtimestamp(path.stat().st_mtime).astimezone()


def _file_words(words: str) -> str:
    """Words that any file system takes."""
    return "".join(letter if letter.isalnum() else "-" for letter in words)
