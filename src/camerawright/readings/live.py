"""Recording for a job: begun, watched, ended; what was recorded then waits to be measured and entered."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final, Protocol

from camerawright.bench import codec
from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.bench.contract import BenchTest
from camerawright.bench.record import Record
from camerawright.bench.setup_check.measure import setup_check
from camerawright.bench.setup_check.record import SetupCheck
from camerawright.bench.setup_check.signal import RATE_HZ, drive, signal
from camerawright.handbook.tolerances import Profile
from camerawright.readings.inbox import Inbox
from camerawright.readings.measuring import profile_named, refuse_unfit, tried
from camerawright.readings.set_up import Label
from camerawright.readings.waiting import label_of
from camerawright.readings.watch import Watch
from camerawright.recordings.inputs import (
    HeadphoneOutput,
    Input,
    NoInput,
    PlayedFile,
    SoundCard,
    Source,
    Wanted,
    inputs,
)
from camerawright.recordings.kept import remove, setup_of
from camerawright.recordings.live import Recorder
from camerawright.recordings.recovery import recover
from camerawright.recordings.sound import read_sound
from camerawright.store.workshop import Workshop
from camerawright.trouble import NotMeasurable, NotUnderstood, Refused, Troubled, Unreadable

CHECK: Final = "set-up check"
_ANY_RATE_HZ: Final = 48_000  # for a look at what was told, before the input says its own


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
    opened: Callable[[str, Wanted], Source] = SoundCard
    output: Callable[[], Output] = lambda: HeadphoneOutput(drive(signal()), RATE_HZ)


@dataclass(frozen=True, kw_only=True)
class Order:
    """What is to be recorded, and from which input.

    A rate or a number of channels that is None is taken as the input has it. `played` is a kept recording that plays in
    the place of the input, to try it out.
    """

    label: Label
    input: str = ""
    rate_hz: int | None = None
    n_channels: int | None = None
    played: str | None = None


@dataclass(frozen=True, kw_only=True)
class Ended:
    """What became of a recording: it waits under its file name; what was only tried out is gone, and left a record."""

    job: str = ""
    name: str = ""
    tried: Record | None = None


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
        self.inbox = Inbox(workshop)

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
        label = order.label
        test, profile = self._judged(order)
        with self._lock:
            self._refuse_busy()
            source = self._source(order, test.n_channels)
            if order.played is None:
                self._refuse_unfit(order, profile, source)
            name = f"{label.job} {label.phase} {_file_words(label.marked or label.test)}"
            recorder = self._recorder(source, order, name)
            watch = Watch(recorder, test, label.marked, profile, label.options)
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
            recorder = self._recorder(self._source(order, 1), order, CHECK)
            self._checked = None
            running = self._running = _begun(Running(order, recorder, None, output))
        threading.Thread(target=self._check, args=(running,), name="set-up check", daemon=True).start()

    def end(self) -> Ended | None:
        """Stop, and measure what was recorded; None where nothing was being recorded or the check was broken off.

        What was played to try it out is not entered, and leaves nothing behind, whatever becomes of it.

        Raises
        ------
        Refused
            The mark, or what was told, does not fit what was tried out.
        """
        with self._lock:  # to its end: what is half stopped must not be taken for abandoned and recovered
            running, self._running = self._running, None
            if running is None:
                return None
            running.stop()
            if running.watch is None:
                running.recorder.discard()
                return None
            path = running.recorder.stop().path
        if running.order.played is not None:
            return Ended(tried=self._tried(path, running.order.label))
        label = label_of(path)
        self.inbox.relabel(path, label)
        return Ended(job=label.job, name=path.name)

    def _tried(self, path: Path, label: Label) -> Record:
        """What became of a kept recording that was played in the place of an input."""
        try:
            return tried(self._workshop, path, replace(label, input=None))
        except NotUnderstood as bad:
            raise Refused(str(bad), "nothing was kept: play it again, and tell it otherwise", "tried out") from None
        finally:
            remove(path)

    def recover(self) -> None:
        """Give what a killed program left half recorded a place among the recordings that wait."""
        with self._lock:
            if self._running is None and self.inbox.folder.is_dir():
                for path in recover(self.inbox.folder):
                    if setup_of(path).get("is_tried"):
                        remove(path)

    def _judged(self, order: Order) -> tuple[BenchTest[Any], Profile]:
        """The test and the profile of an order, before anything is opened."""
        label = order.label
        test = find_test(label.test)
        profile = profile_named(self._workshop, self._workshop.job(label.job).visit.profile)
        n_channels = (order.n_channels if order.played is None else None) or test.n_channels
        refuse_unfit(
            test,
            label.marked,
            profile,
            options=label.options,
            n_channels=n_channels,
            rate_hz=order.rate_hz or _ANY_RATE_HZ,
        )
        return test, profile

    def _refuse_unfit(self, order: Order, profile: Profile, source: Source) -> None:
        """Look again, with the channels that the input has; it is given back if they do not fit what was told."""
        label = order.label
        told = {"n_channels": source.n_channels, "rate_hz": source.rate_hz}
        try:
            refuse_unfit(find_test(label.test), label.marked, profile, options=label.options, **told)
        except Troubled:
            source.stop()
            raise

    def _source(self, order: Order, n_least: int) -> Source:
        """What is recorded, not begun yet."""
        if order.played is not None:
            return PlayedFile(self._workshop.media(order.played))
        if not order.input:
            raise NoInput("no input is chosen", "choose one; where there is none, plug a sound card in", "input")
        wanted = Wanted(rate_hz=order.rate_hz, n_channels=order.n_channels, n_least=n_least)
        return self._devices.opened(order.input, wanted)

    def _recorder(self, source: Source, order: Order, name: str) -> Recorder:
        return Recorder(source, self.inbox.folder, name=name, setup=codec.written(order.label))

    def _refuse_busy(self) -> None:
        if self._running is not None:
            raise Refused(f"{self._running.order.label.job} is being recorded", "stop that first", "recording")

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


def _file_words(words: str) -> str:
    """Words that any file system takes."""
    return "".join(letter if letter.isalnum() else "-" for letter in words)
