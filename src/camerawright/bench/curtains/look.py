"""One firing as each channel saw it, and how fast the slit ran."""

from dataclasses import dataclass

import numpy as np

from camerawright.bench.curtains.channel import Channel, Seen
from camerawright.bench.curtains.gate import Gate
from camerawright.bench.curtains.motion import motion_through
from camerawright.numeric.firings import Span
from camerawright.trouble import NotMeasurable

SHORTEST_EDGE_S = 40e-6


@dataclass(frozen=True)
class Look:
    """One firing as each channel saw it: index of its span, its passage, or why there is none."""

    spans: tuple[int | None, ...]
    seen: tuple[Seen | None, ...]
    refusal: NotMeasurable | None


def look_at(firing: Span, channels: tuple[Channel, ...]) -> Look:
    """Fit every channel's passage."""
    spans = tuple(channel.span_within(firing) for channel in channels)
    seen: list[Seen | None] = []
    refusal = None
    for channel, i in zip(channels, spans, strict=True):
        try:
            seen.append(channel.seen(i, SHORTEST_EDGE_S) if i is not None else None)
        except NotMeasurable as why:
            refusal = refusal or why
            seen.append(None)
    return Look(spans, tuple(seen), refusal)


def slit_speed(look: Look, gate: Gate, i: int) -> float | None:
    """Speed of the slit at a sensor, by the middles of the light at all sensors; None where they tell none. [mm/s]"""
    pairs = [(one.times_s.mean(), x) for one, x in zip(look.seen, gate.at_mm, strict=True) if one is not None]
    if len(pairs) < 2:
        return None
    times, places = (np.array(column) for column in zip(*pairs, strict=True))
    if np.any(np.diff(times[np.argsort(places)]) <= 0):
        return None
    return float(motion_through(times, places, gate.width_mm).speed(np.array([gate.at_mm[i]]))[0])
