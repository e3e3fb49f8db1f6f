"""What a lamp does that flickers or is switched: seen within a firing, or from firing to firing."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.record import Skipped
from camerawright.bench.shutter.record import Firing
from camerawright.handbook.light_sensors import MAINS_LIGHT_HZ
from camerawright.numeric.firings import Found
from camerawright.numeric.noise import Noise
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

_MAX_FLICKER = 0.2
FLAG_FLICKER = 0.01
_UNLIKE, _UNSTEADY = 2.5, 0.05  # the edges of one pair of springs, and a steady light
FLICKERS = "the light flickers"
ADVICE_LAMP = "Use a lamp on a battery or a steady supply"


@dataclass(frozen=True)
class Flicker:
    """Mains flicker of the lamp, seen on a plateau: its part of the level (0 where none is seen) and its frequency."""

    part: float
    frequency_hz: float

    def u_s(self, time_s: float) -> float:
        """What it adds to a time: half a cycle's light at most, at any phase."""
        return self.part / math.sqrt(2) * min(time_s, 1 / (2 * math.pi * self.frequency_hz))


def refuse_switched_lamp(found: Found) -> None:
    """Many short firings at one beat are a lamp that flickers or is switched, not a shutter."""
    beats = np.diff([span.up_s for span in found.spans])
    if len(beats) < 4 or np.median(beats) > 0.05:
        return
    even = beats[np.abs(beats / np.median(beats) - 1) < 0.15]
    if len(even) > 0.6 * len(beats):
        raise NotMeasurable(
            f"the light flickers or switches on and off {numbers.fixed(1 / np.mean(even), 0)} times a second",
            "Use a lamp on a battery or a steady supply; a dimmed LED and a mains lamp switch on and off",
        )


def flicker(opened: Floats, noise: Noise) -> Flicker:
    """Mains flicker of the light while the shutter is surely open, where that lasts a cycle.

    Parameters
    ----------
    opened : shape (n,)
        The undone light between the edges.
    noise
        Noise of the recording.

    Raises
    ------
    NotMeasurable
        The light flickers or is switched too much for any time to mean something.
    """
    level = abs(float(np.median(opened))) if len(opened) else 0.0
    best = Flicker(0.0, 100.0)
    if level == 0:
        return best
    _refuse_fast_switching(opened, level, noise)
    t = np.arange(len(opened)) / noise.rate_hz
    for f_hz in MAINS_LIGHT_HZ:
        if len(opened) * f_hz < noise.rate_hz:
            continue
        swing = np.column_stack([np.cos(2 * math.pi * f_hz * t), np.sin(2 * math.pi * f_hz * t)])
        part = _swings(opened, swing, len(opened) * f_hz / noise.rate_hz, noise) / level
        if part > max(FLAG_FLICKER / 2, 4 * noise.u_of(swing[:, 0] * 2 / len(t)) / level) and part > best.part:
            best = Flicker(part, f_hz)
    if best.part > _MAX_FLICKER:
        much = f" by {numbers.percent(best.part)}" if best.part < 1 else ""  # no lamp swings by more than its light
        raise NotMeasurable(
            f"{FLICKERS}{much} at {numbers.fixed(best.frequency_hz, 0)} Hz, as a mains lamp does", ADVICE_LAMP
        )
    return best


def _swings(opened: Floats, swing: Floats, n_cycles: float, noise: Noise) -> float:
    """How far the light swings at the frequency of two columns; 0 where that does not explain most of what moves.

    A steady light that droops, because the input cuts lows more than was undone, moves smoothly: from two cycles on a
    cubic takes that away. What remains is a swing only if the sine explains half of it, beyond the noise.
    """
    x = np.linspace(-1, 1, len(opened))
    smooth = np.vander(x, 4 if n_cycles >= 2 else 1)
    rest, columns = (each - smooth @ np.linalg.lstsq(smooth, each, rcond=None)[0] for each in (opened, swing))
    fit = np.linalg.lstsq(columns, rest, rcond=None)[0]
    moves = float(rest @ rest) - len(rest) * noise.sigma**2
    left = rest - columns @ fit
    explained = float(rest @ rest - left @ left)
    return float(np.hypot(*fit)) if explained > 0.5 * moves else 0.0


def _refuse_fast_switching(opened: Floats, level: float, noise: Noise) -> None:
    """A dimmed lamp switched at hundreds of hertz and more: the light is never steady while open."""
    steps = np.diff(opened)
    if len(steps) < 64:
        return
    power = np.abs(np.fft.rfft(steps * np.hanning(len(steps)))) ** 2
    strongest = int(np.argmax(power))
    is_restless = float(np.std(opened)) > max(0.15 * level, 3 * noise.sigma)
    f_hz = strongest * noise.rate_hz / len(steps)
    if is_restless and f_hz > 1.5 * max(MAINS_LIGHT_HZ) and power[strongest] > 100 * np.median(power):
        raise NotMeasurable(
            f"the light switches on and off {numbers.fixed(f_hz, 0)} times a second",
            "Use a lamp on a battery or a steady supply; a dimmed LED switches on and off",
        )


def seen(skipped: Sequence[Skipped]) -> Skipped | None:
    """The first firing that was refused because the light flickers."""
    return next((one for one in skipped if one.reason.startswith(FLICKERS)), None)


def flags(firings: Sequence[Firing], skipped: Sequence[Skipped]) -> tuple[str, ...]:
    """What shows that the lamp flickers: firings that were refused for it, or edges and levels that are never alike."""
    if refused := seen(skipped):
        why = refused.reason
        return (f"{why[:1].upper()}{why[1:]}; the other firings were in that light too. {ADVICE_LAMP}.",)
    times = ([one.opening.value for one in firings], [one.closing.value for one in firings])
    n_unlike = sum(max(each) > _UNLIKE * min(each) for each in times)
    levels = [one.level * one.opens_to for one in firings]
    spread = max(levels) / min(levels) - 1
    if n_unlike == 2 or (n_unlike and spread > _UNSTEADY):
        return (
            "The light is not the same from firing to firing, nor while the shutter is open: the lamp flickers, as a"
            f" lamp on the mains does. {ADVICE_LAMP}.",
        )
    return ()
