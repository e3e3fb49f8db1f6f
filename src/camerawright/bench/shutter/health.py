"""What can be wrong with a recording, told in sentences."""

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.contract import NotMeasurable
from camerawright.bench.shutter.firings import Found
from camerawright.bench.shutter.noise import Noise
from camerawright.bench.shutter.pulse import Pulse
from camerawright.recordings.sound import Waveform

if TYPE_CHECKING:
    from camerawright.bench.shutter.measure import Firing

U_LOSSY = (
    0.02  # u of a time from a lossy file, as a part of it: the worst of four codecs in our trial, see docs/accuracy.md
)
_MAX_FLICKER = 0.2
_FLAG_FLICKER = 0.01
_LEVEL_SPREAD = 0.05
_MAINS_LIGHT_HZ = (100.0, 120.0)


@dataclass(frozen=True)
class Flicker:
    """Mains flicker of the lamp, seen on a plateau: its part of the level (0 where none is seen) and its frequency."""

    part: float
    frequency_hz: float

    def u_s(self, time_s: float) -> float:
        """What it adds to a time: half a cycle's light at most, at any phase."""
        return self.part / math.sqrt(2) * min(time_s, 1 / (2 * math.pi * self.frequency_hz))


class Clipping:
    """Where a channel stands at its end stops."""

    def __init__(self, samples: NDArray[np.float32], bits: int | None) -> None:
        low, high = float(samples.min()), float(samples.max())
        self._at = np.zeros(len(samples), dtype=bool)
        for extreme in (low, high):
            same = samples == extreme
            run = same[1:] & same[:-1]
            full = abs(extreme) >= 1 - 2.0 ** (1 - min(bits or 16, 16))
            if run.sum() >= (2 if full else 12):
                self._at |= same

    def refuse(self, start: int, stop: int) -> None:
        """Refuse a firing any of whose light is clipped."""
        n = int(self._at[start:stop].sum())
        if n > 2:
            raise NotMeasurable(
                f"this firing is clipped at {n} samples",
                "Lower the input's gain or the light until the highest peak stays below full scale, and record again",
            )


def refuse_switched_lamp(found: Found) -> None:
    """Many short firings at one beat are a lamp that is switched, not a shutter."""
    ups = np.array([span.up_s for span in found.spans])
    beats = np.diff(ups)
    if len(beats) >= 4 and np.median(beats) < 0.05 and np.mean(np.abs(beats / np.median(beats) - 1) < 0.15) > 0.6:
        raise NotMeasurable(
            f"the light is switched on and off {1 / np.median(beats):.0f} times a second",
            "Use a lamp on a battery or a steady supply; a dimmed LED and a mains lamp are switched",
        )


def flicker(pulse: Pulse, noise: Noise, rate_hz: float) -> Flicker:
    """Mains flicker on the plateau, where it lasts two cycles."""
    first, last = pulse.plateau
    best = Flicker(0.0, 100.0)
    for f_hz in _MAINS_LIGHT_HZ:
        if (last - first) * f_hz < 2 * rate_hz:
            continue
        t = np.arange(last - first) / rate_hz
        columns = [np.ones_like(t), t - t.mean(), np.cos(2 * math.pi * f_hz * t), np.sin(2 * math.pi * f_hz * t)]
        design = np.column_stack(columns)
        fit = np.linalg.lstsq(design, pulse.light[first:last], rcond=None)[0]
        part = float(np.hypot(fit[2], fit[3])) / pulse.level
        weights = design[:, 2] * 2 / len(t)
        if part > max(_FLAG_FLICKER / 2, 4 * noise.u_of(weights) / pulse.level) and part > best.part:
            best = Flicker(part, f_hz)
    if best.part > _MAX_FLICKER:
        raise NotMeasurable(
            f"the light flickers by {100 * best.part:.0f} % at {best.frequency_hz:.0f} Hz, as a mains lamp does",
            "Use a lamp on a battery or a steady supply",
        )
    return best


def firing_flags(pulse: Pulse, noise: Noise, disturbed: float, seen: Flicker, is_noisy: bool) -> tuple[str, ...]:
    """What is doubtful about one firing."""
    flags = []
    if not pulse.has_plateau:
        flags.append(
            "The shutter does not stay fully open: level and effective time are relative to this firing's own peak."
        )
    if is_noisy:
        flags.append("Noisy: the plateau stands less than 30 dB above the noise.")
    if disturbed > 3:
        flags.append(f"A thump or a change of light beside this firing: {disturbed:.0f} times the usual slow noise.")
    if seen.part > _FLAG_FLICKER:
        flags.append(
            f"The light flickers by {100 * seen.part:.1f} % at {seen.frequency_hz:.0f} Hz, as a mains lamp does."
        )
    if pulse.reopened:
        flags.append(
            f"It opens again after closing, to {100 * pulse.reopened:.0f} % of the level; that light is counted."
        )
    if pulse.has_plateau:
        n = pulse.plateau[1] - pulse.plateau[0]
        u_slope = math.sqrt(12 / n) * noise.sigma / pulse.level
        if abs(pulse.plateau_slope) > max(0.05, 5 * u_slope):
            flags.append(
                f"The plateau slopes by {100 * pulse.plateau_slope:+.0f} %: automatic gain, a moving light,"
                " or an input coupling that is not simple."
            )
    return tuple(flags)


def recording_flags(firings: list["Firing"], found: Found, waveform: Waveform) -> tuple[str, ...]:
    """What is doubtful about the whole recording."""
    flags = []
    levels = [firing.level for firing in firings if firing.has_plateau]
    if len(levels) > 1 and max(levels) > (1 + _LEVEL_SPREAD) * min(levels):
        flags.append(
            f"The plateaus of the firings differ by {100 * (max(levels) / min(levels) - 1):.0f} %: automatic gain or"
            " another enhancement of the input, a flickering lamp, or a lamp or sensor that moved."
        )
    if waveform.is_lossy:
        flags.append("The file is lossy: the times are widened for it; record as WAV or FLAC.")
    if found.n_lonely:
        flags.append(f"{found.n_lonely} edges of light have no partner: a firing cut off, a bounce, or another light.")
    return tuple(flags)
