"""What of a recording is drawn, in columns: each lane of its plan as recorded, or as undone about each firing."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.waveform import LanePlan, Plan
from camerawright.journal.entries import Measured
from camerawright.numeric.coupling import undone
from camerawright.numeric.envelope import BLOCK, Envelope, Extremes, envelope, extremes
from camerawright.readings.recorded import is_of_now, record_of, test_of
from camerawright.recordings.channel import Channel
from camerawright.recordings.sound import SoundOnDisk, Waveform, open_sound

Floats = NDArray[np.float64]
Column = list[float | None]
Json = dict[str, Any]

MOST_COLUMNS: Final = 4000
_PIECE: Final = BLOCK << 15
_MOST_FIRINGS: Final = 400
_MOST_POINTS: Final = 1500
_ONE_AT_A_TIME: Final = Lock()
"""A file that is read in stretches has one place where it is read."""


def plan(reading: Measured | None, n_channels: int) -> Plan:
    """What to draw of a recording of so many channels: what its test found, or every channel as recorded."""
    test = test_of(reading) if reading else None
    if reading and test and test.waveform and is_of_now(reading):
        return test.waveform(record_of(reading))
    return Plan(lanes=tuple(LanePlan(name=_channel_name(i, n_channels), i_channel=i) for i in range(n_channels)))


def has_waveform(reading: Measured) -> bool:
    """Whether the recording of a reading is sound."""
    test = test_of(reading)
    return test is not None and test.medium.kind == "sound"


def _channel_name(i_channel: int, n_channels: int) -> str:
    return "as recorded" if n_channels == 1 else f"channel {i_channel + 1}, as recorded"


@dataclass(frozen=True, eq=False)
class Light:
    """The light about a firing, undone, in plateaus: samples from `start` on."""

    start: int
    level: Floats
    known: Extremes


class Traces:
    """A recording that is drawn in lanes, with what a reading found in it."""

    def __init__(self, sound: Waveform | SoundOnDisk, reading: Measured | None) -> None:
        self.sound = sound
        self.plan = plan(reading, sound.n_channels)
        self._channels = {lane.i_channel: Channel(sound, lane.i_channel) for lane in self.plan.lanes}
        self._known = {i: extremes(self._pieces(i)) for i in self._channels}
        self._lights = tuple(tuple(self._undone(lane)) for lane in self.plan.lanes)

    @property
    def can_overlay(self) -> bool:
        """Whether the firings can be drawn over each other: one light, known from dark to dark."""
        return self.plan.i_widths is not None

    def columns(self, start: int, stop: int, width: int) -> tuple[int, int, list[tuple[Column, Column]]]:
        """The first sample, how many there are to a column, and each lane's lowest and highest by columns.

        In a lane that is undone None stands where no firing is near.
        """
        with _ONE_AT_A_TIME:
            seen = {i: envelope(channel, self._known[i], start, stop, width) for i, channel in self._channels.items()}
        any_of = next(iter(seen.values()))
        lanes: list[tuple[Column, Column]] = []
        for lane, lights in zip(self.plan.lanes, self._lights, strict=True):
            of = seen[lane.i_channel]
            lanes.append(_in_columns(lights, of) if lane.undoing else (_six(of.low), _six(of.high)))
        return any_of.start, any_of.step, lanes

    def overlaid(self) -> list[Json]:
        """Every firing's light against the time from half open, in at most 1500 points. [ms, plateaus]"""
        if self.plan.i_widths is None:
            return []
        rate_hz, curves = self.sound.rate_hz, []
        lights = self._lights[self.plan.i_widths]
        for n, (firing, light) in enumerate(zip(self.plan.widths, lights, strict=False), start=1):
            seen = envelope(light.level, light.known, 0, len(light.level), _MOST_POINTS // 2)
            ms = 1e3 * ((light.start + seen.start + seen.step * np.arange(len(seen.low))) / rate_hz - firing.at_s)
            both = np.column_stack([seen.low, seen.high]).ravel() if seen.step > 1 else seen.low
            at = np.repeat(ms, 2) if seen.step > 1 else ms
            curves.append({"n": n, "ms": _rounded(at), "light": _rounded(both)})
        return curves

    def _pieces(self, i_channel: int) -> Iterator[NDArray[np.float32]]:
        for start in range(0, self.sound.n_samples, _PIECE):
            yield self.sound.stretch(i_channel, start, start + _PIECE)

    def _undone(self, lane: LanePlan) -> Iterator[Light]:
        """As in the picture of a reading: a straight line through the dark on both sides is zero."""
        if lane.undoing is None:
            return
        rate_hz = self.sound.rate_hz
        for window in lane.undoing.windows[:_MOST_FIRINGS]:
            start, stop = max(0, round(window.from_s * rate_hz)), round(window.to_s * rate_hz)
            recorded = lane.undoing.sign * self._channels[lane.i_channel][start:stop]
            light = undone(recorded, 1 / rate_hz, *lane.undoing.poles)
            t = (start + np.arange(len(light))) / rate_hz - window.from_s
            dark = (t < window.dark_to_s - window.from_s) | (t > window.dark_from_s - window.from_s)
            level = (light - np.polyval(np.polyfit(t[dark], light[dark], 1), t)) / window.level_fs
            yield Light(start, level, extremes([level.astype(np.float32)]))


def _in_columns(lights: tuple[Light, ...], columns: Envelope) -> tuple[Column, Column]:
    """Lights in the columns of an envelope, lowest and highest."""
    n = len(columns.low)
    low, high = np.full(n, np.nan), np.full(n, np.nan)
    stop = columns.start + n * columns.step
    for each in lights:
        end = each.start + len(each.level)
        if end <= columns.start or each.start >= stop:
            continue
        first, last = max(each.start, columns.start), min(end, stop)
        i = (np.arange(first, last) - columns.start) // columns.step
        part = each.level[first - each.start : last - each.start]
        starts = np.flatnonzero(np.diff(i, prepend=-1))
        at = i[starts]
        low[at] = np.fmin(low[at], np.minimum.reduceat(part, starts))
        high[at] = np.fmax(high[at], np.maximum.reduceat(part, starts))
    return _with_gaps(low), _with_gaps(high)


def traces(path: Path, reading: Measured | None) -> Traces:
    """What is drawn of a recording, with what a reading found in it; remembered for the next look.

    Parameters
    ----------
    path
        A recording that no longer changes.
    reading
        Made from it; None for one that waits to be measured.

    Raises
    ------
    camerawright.trouble.Unreadable
        It is no sound.
    """
    with _LOADING:
        return _traces(_Named(path, reading))


_LOADING: Final = Lock()


class _Named:
    """What is remembered is known by file and reading; the reading comes along."""

    def __init__(self, path: Path, reading: Measured | None) -> None:
        self.path, self.reading = path, reading
        self._key = (str(path), path.stat().st_mtime_ns, reading.id if reading else "")

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Named) and self._key == other._key


@lru_cache(maxsize=3)
def _traces(named: _Named) -> Traces:
    return Traces(open_sound(named.path), named.reading)


def _six(values: NDArray[np.float32]) -> Column:
    """Numbers for JSON; six digits after the point are more than a screen shows and 16 bits hold."""
    return [round(value, 6) for value in values.tolist()]


def _with_gaps(values: Floats) -> Column:
    """Numbers for JSON, to four digits after the point."""
    return [None if value != value else round(value, 4) for value in values.tolist()]  # noqa: PLR0124  NaN


def _rounded(values: Any) -> list[float]:
    return [round(value, 4) for value in np.asarray(values).tolist()]
