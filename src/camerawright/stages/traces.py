"""What of a recording is drawn: its envelope as recorded, the light as undone about each firing, in columns."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from threading import Lock
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.contract import Json
from camerawright.numeric.coupling import undone
from camerawright.numeric.envelope import BLOCK, Envelope, Extremes, envelope, extremes
from camerawright.recordings.channel import Channel
from camerawright.recordings.sound import SoundOnDisk, Waveform, open_sound
from camerawright.store.workshop import Workshop

Floats = NDArray[np.float64]

MOST_COLUMNS: Final = 4000
_PIECE: Final = BLOCK << 13
_MOST_FIRINGS: Final = 400
_MOST_POINTS: Final = 1500
_ONE_AT_A_TIME: Final = Lock()
"""A file that is read in stretches has one place where it is read."""


@dataclass(frozen=True, eq=False)
class Light:
    """The light about a firing, undone, in plateaus: samples from `start` on."""

    start: int
    level: Floats
    known: Extremes


class Traces:
    """A recording that is drawn, one channel of it, with the firings that a reading found in it."""

    def __init__(self, sound: Waveform | SoundOnDisk, record: Json | None) -> None:
        self.sound = sound
        told = record.get("input") if record else None
        self.i_channel = min(int((told or {}).get("channel") or 1), sound.n_channels) - 1
        self.firings: list[Json] = list((record or {}).get("firings") or ())[:_MOST_FIRINGS]
        self._channel = Channel(sound, self.i_channel)
        self._known = extremes(self._pieces())
        self.lights = tuple(self._lights(told)) if told and _UNDO[0] in told else ()

    def recorded(self, start: int, stop: int, width: int) -> Envelope:
        """The envelope as recorded."""
        with _ONE_AT_A_TIME:
            return envelope(self._channel, self._known, start, stop, width)

    def light(self, columns: Envelope) -> tuple[list[float | None], list[float | None]]:
        """The light as undone in the columns of an envelope, lowest and highest; None where no firing is near."""
        n = len(columns.low)
        low, high = np.full(n, np.nan), np.full(n, np.nan)
        stop = columns.start + n * columns.step
        for each in self.lights:
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

    def overlaid(self) -> list[Json]:
        """Every firing's light against the time from half open, in at most 1500 points. [ms, plateaus]"""
        rate_hz, curves = self.sound.rate_hz, []
        for n, (firing, light) in enumerate(zip(self.firings, self.lights, strict=True), start=1):
            seen = envelope(light.level, light.known, 0, len(light.level), _MOST_POINTS // 2)
            ms = 1e3 * ((light.start + seen.start + seen.step * np.arange(len(seen.low))) / rate_hz - firing["at_s"])
            both = np.column_stack([seen.low, seen.high]).ravel() if seen.step > 1 else seen.low
            at = np.repeat(ms, 2) if seen.step > 1 else ms
            curves.append({"n": n, "ms": _rounded(at), "light": _rounded(both)})
        return curves

    def _pieces(self) -> Iterator[NDArray[np.float32]]:
        for start in range(0, self.sound.n_samples, _PIECE):
            yield self.sound.stretch(self.i_channel, start, start + _PIECE)

    def _lights(self, told: Json) -> Iterator[Light]:
        """As in the picture of a reading: a straight line through the dark on both sides is zero."""
        sign, rate_hz = (-1.0 if told.get("is_inverted") else 1.0), self.sound.rate_hz
        for firing in self.firings:
            margin_s = max(6e-3, 0.3 * firing["total_s"])
            start = max(0, round((firing["at_s"] - margin_s) * rate_hz))
            stop = round((firing["at_s"] + firing["total_s"] + margin_s) * rate_hz)
            light = undone(sign * self._channel[start:stop], 1 / rate_hz, *(told[key] for key in _UNDO))
            t = (start + np.arange(len(light))) / rate_hz - firing["at_s"]
            dark = (t < -0.6 * margin_s) | (t > firing["total_s"] + 0.6 * margin_s)
            level = (light - np.polyval(np.polyfit(t[dark], light[dark], 1), t)) / firing["level_fs"]
            yield Light(start, level, extremes([level.astype(np.float32)]))


_UNDO: Final = ("undo_a_per_s", "undo_b_per_s2", "undo_e_per_s2")


def traces(workshop: Workshop, sha256: str, record: Json | None, key: str) -> Traces:
    """What is drawn of a kept recording, with a reading's record; remembered for the next look.

    Parameters
    ----------
    key
        Names the record: the reading's id, or "".

    Raises
    ------
    camerawright.store.refused.Refused
        There is no such recording.
    camerawright.recordings.unreadable.Unreadable
        It is no sound.
    """
    path = workshop.media(sha256)
    with _LOADING:
        return _traces(_Named(path, sha256, key, record))


_LOADING: Final = Lock()


class _Named:
    """What is remembered is known by hash and reading; the record comes along."""

    def __init__(self, path: Any, sha256: str, key: str, record: Json | None) -> None:
        self.path, self.record, self._key = path, record, (str(path), sha256, key)

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Named) and self._key == other._key


@lru_cache(maxsize=3)
def _traces(named: _Named) -> Traces:
    return Traces(open_sound(named.path), named.record)


def _with_gaps(values: Floats) -> list[float | None]:
    """Numbers for JSON, to four digits after the point."""
    return [None if value != value else round(value, 4) for value in values.tolist()]  # noqa: PLR0124  NaN


def _rounded(values: Any) -> list[float]:
    return [round(value, 4) for value in np.asarray(values).tolist()]
