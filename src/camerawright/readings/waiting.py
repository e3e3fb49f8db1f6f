"""A recording that waits to become a reading: what is told about it, and what measuring it gave."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any, Final, Literal

from camerawright.bench import codec
from camerawright.bench.catalogue import find_test
from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import BenchTest, Speed
from camerawright.bench.marked_speeds import FAR, likely_marks
from camerawright.bench.record import Record
from camerawright.handbook.exposure import MarkedSpeed, marked_speed, stops
from camerawright.readings.rows import dial_time
from camerawright.readings.set_up import Label
from camerawright.recordings.kept import setup_of
from camerawright.trouble import NotUnderstood, Troubled
from camerawright.wording import numbers

_NEAR: Final = 0.5  # stops: so near to a mark that this camera's dial has, it is that mark. Common practice

Status = Literal["measuring", "proposed", "asked", "refused"]
"""Being measured; a mark is proposed; the mark that was given is far off; there is no reading."""


def label_of(path: Path) -> Label:
    """What is told about a recording in the folder where it waits."""
    label = codec.read(Label, setup_of(path))
    return replace(label, file=label.file or path.name)


@dataclass(frozen=True, kw_only=True)
class Result:
    """What measuring gave: a record that waits for a word about its mark, or why there is no reading."""

    label: Label
    record: Record | None = None
    why_not: Troubled | None = None

    @property
    def status(self) -> Status:
        """What the result is."""
        if self.record is None or self.record.refused is not None:
            return "refused"
        return "asked" if self.label.is_confirmed else "proposed"

    @property
    def speeds(self) -> tuple[Speed, ...]:
        """The settings of the dial that were found."""
        marked = find_test(self.label.test).marked
        return marked.speeds(self.record) if marked and self.record and not self.record.refused else ()

    @property
    def to_be_marked(self) -> tuple[Speed, ...]:
        """Those that a mark is wanted for: of a test that compares with one at a time, the first."""
        marked = find_test(self.label.test).marked
        return self.speeds[:1] if marked and marked.one_at_a_time else self.speeds

    @property
    def far_off(self) -> tuple[Comparison, ...]:
        """The marks that the firings are so far from that another speed is likelier."""
        return far_off(find_test(self.label.test), self.record)

    @property
    def may_be_entered(self) -> bool:
        """Whether the reading needs no more words: it takes no mark, or one that was confirmed and is not far off."""
        if not self.speeds:
            return True
        return self.label.is_confirmed and (self.label.is_sure or not self.far_off)


@dataclass(frozen=True, kw_only=True)
class Waiting:
    """A recording that waits. `part` is how much of it is measured, None where that is not known."""

    path: Path
    label: Label
    at: datetime  # when it came or was recorded
    result: Result | None
    part: float | None = None

    @property
    def status(self) -> Status:
        """How far it has come."""
        return self.result.status if self.result else "measuring"


def proposed(speeds: tuple[Speed, ...], dial: tuple[str, ...]) -> str:
    """The marks that firings are nearest to, slowest first; "" where one of them is near none.

    Parameters
    ----------
    dial
        Marks that this camera was measured at before: where one of them is near, it comes before any other.
    """
    times_s = [one.effective.value for one in speeds if one.effective]
    known = [marked_speed(mark) for mark in dial if _is_mark(mark)]
    marks = [_nearest(time_s, known) or likely for time_s, likely in zip(times_s, likely_marks(times_s), strict=True)]
    found = [mark.text for mark in marks if mark] or [one.likely for one in speeds if one.likely]
    return ", ".join(found) if len(found) == len(speeds) == len(set(found)) else ""


def _nearest(time_s: float, known: Sequence[MarkedSpeed]) -> MarkedSpeed | None:
    """The nearest mark of a dial, if it is near."""
    mark = min(known, key=lambda mark: abs(stops(time_s, mark.target_s)), default=None)
    return mark if mark and abs(stops(time_s, mark.target_s)) <= _NEAR else None


def _is_mark(text: str) -> bool:
    try:
        marked_speed(text)
    except NotUnderstood:  # a journal may come from elsewhere
        return False
    return True


class Followed:
    """A sound recording that tells how far it is read."""

    def __init__(self, recording: Any) -> None:
        self._recording = recording
        self.part = 0.0

    def __getattr__(self, name: str) -> Any:
        return getattr(self._recording, name)

    def stretch(self, i_channel: int, start: int, stop: int) -> Any:
        """A part of one channel."""
        self.part = min(1.0, max(0.0, start / max(1, self._recording.n_samples)))
        return self._recording.stretch(i_channel, start, stop)


def far_off(test: BenchTest[Any], record: Record | None) -> tuple[Comparison, ...]:
    """The marks that the firings are so far from that another speed is likelier."""
    if record is None or record.refused or test.marked is None or not test.marked.compares:
        return ()
    against = (speed.compared for speed in test.marked.speeds(record))
    return tuple(one for one in against if one and abs(one.mean.value) > FAR)


def far_words(one: Comparison) -> str:
    """How far the firings are from a mark, in a sentence without its end."""
    side = "slower" if one.mean.value > 0 else "faster"
    return (
        f"{one.marked} was given, and the firings give about {dial_time(one.mean_s)}: that is"
        f" {numbers.fixed(abs(one.mean.value), 1)} stops {side}"
    )
