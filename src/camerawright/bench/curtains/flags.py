"""What is doubtful about a firing or a recording, and what else it showed, in sentences."""

import math
from itertools import combinations

import numpy as np

from camerawright.bench.curtains.channel import FLICKERS
from camerawright.bench.curtains.firing import is_stray
from camerawright.bench.curtains.gate import DIAMETERS, Gate
from camerawright.bench.curtains.record import AtSensor, Firing
from camerawright.bench.curtains.sensors import CLASS
from camerawright.bench.options import quoted
from camerawright.bench.record import Skipped
from camerawright.recordings.channel import Recording
from camerawright.wording import numbers

_FLAG_SNR_DB = 30.0
UNSTEADY = 0.05
_WEAK = 0.05
MOST_BLUR_MM = 1.1  # a pupil of f/2.8 blurs a curtain 2.3 mm before the film over 0.8
_LIKE = 1.3  # firings whose exposures differ by less are like pulses
# correlation: inputs that limit 0.91 to 1, thumps to 0.3, of one simulated shutter; and a height in levels
_REPEATS, _LEAST_BESIDE = 0.9, 0.01


def is_blunt_everywhere(firings: list[Firing]) -> bool:
    """Whether the edges are far blunter than the sensor at every sensor of every firing: it is wider than was taken."""
    return all(one.blur_mm > MOST_BLUR_MM for firing in firings for one in firing.sensors)


def firing_flags(
    firing: Firing, gate: Gate, *, is_blunt_everywhere: bool = False, is_slow: bool = False
) -> tuple[str, ...]:
    """One firing, sensor by sensor; what is so everywhere is said once, for the recording.

    `is_slow` where the sensors are told to be of a class that lingers and blurs the edges.
    """
    is_speed_known = len(firing.sensors) > 2
    return tuple(
        f"At {numbers.short(one.at_mm)} mm {text}"
        for one in firing.sensors
        for text in (
            *_light(one),
            *_shape(one, gate, is_speed_known=is_speed_known),
            *([] if is_blunt_everywhere else _blunt(one, MOST_BLUR_MM * (2 if is_slow else 1))),
            *([] if is_slow else _lingers(one)),
            *_again(one, firing),
        )
    )


def _light(one: AtSensor) -> list[str]:
    """Noise, thumps, the lamp."""
    flags = []
    if one.snr_db < _FLAG_SNR_DB:
        flags.append("the light stands less than 30 dB above the noise.")
    if one.disturbed > 3:
        flags.append(
            f"there was a thump or a change of light: {numbers.fixed(one.disturbed, 0)} times the usual slow noise."
        )
    if one.flicker:
        flags.append(
            f"the light flickers by {numbers.percent(one.flicker, 1)} at {numbers.fixed(one.flicker_hz, 0)} Hz, as a"
            " mains lamp does."
        )
    return flags


def _shape(one: AtSensor, gate: Gate, *, is_speed_known: bool) -> list[str]:
    """What the curtains did to the light."""
    flags = []
    if not one.own_level:
        flags.append("the slit is narrower than what the sensor sees; the full level is that of other firings.")
    elif is_speed_known and one.blur_mm < -0.15 * gate.diameter_mm[one.i_channel]:
        flags.append(
            f"the edges are sharper than a sensor of {numbers.short(gate.diameter_mm[one.i_channel])} mm can see them:"
            f" check {quoted(DIAMETERS)} and the places."
        )
    if one.dip:
        flags.append(
            f"the light dips by {numbers.percent(one.dip)} while the slit is over the sensor: the first curtain comes"
            " back for a moment, or the lamp flickers."
        )
    return flags


def _blunt(one: AtSensor, most_mm: float) -> list[str]:
    """Edges that no sensor of that width and no usual pupil makes."""
    if one.blur_mm <= most_mm:
        return []
    return [
        f"the edges are blurred over {numbers.fixed(one.blur_mm, 1)} mm more than the sensor is wide: the sensor is"
        " slow, the pupil is wide, or this is not the curtain on its way but one that is thrown back."
    ]


def _lingers(one: AtSensor) -> list[str]:
    """A tail after the closing."""
    if not one.lingers:
        return []
    return [
        f"the light lingers after the closing, at {numbers.percent(one.lingers)} of the level. A slow sensor does that,"
        f" as a phototransistor. Check {quoted(CLASS)}."
    ]


def _again(one: AtSensor, firing: Firing) -> list[str]:
    """Light after the closing."""
    if one.again is None:
        return []
    text = (
        f"light comes again {numbers.fixed(1e3 * one.again.after_s, 1)} ms after the closing, to"
        f" {numbers.percent(one.again.height)} of the level"
    )
    if is_stray(one, firing):
        return [
            f"{text}, while the second curtain is still on its way: light strays between the sensors, or the channels"
            " leak into one another."
        ]
    added = math.log2(1 + one.again.light_s / one.exposure.value)
    weak = " (or it is a thump, as weak as it is)" if one.again.height < _WEAK else ""
    return [
        f"{text}: the second curtain is thrown back{weak}. That adds {numbers.fixed(added, 2)} stop there, which the"
        " exposure does not count."
    ]


def recording_flags(
    firings: list[Firing], skipped: list[Skipped], recording: Recording, *, is_turned: bool
) -> tuple[str, ...]:
    """The whole recording."""
    flags = []
    if is_turned:
        flags.append(
            "The light comes to the last place first: the curtains run the other way than the places were given, or two"
            " plugs are swapped. Places count here from the edge that the curtains come in at."
        )
    if len(firings) == 1 and not skipped:
        flags.append(
            "One firing alone shows neither a gain that moves nor a lamp that flickers: fire twice or more, and at 1/30"
            " as well."
        )
    if any(FLICKERS in one.reason for one in skipped):
        flags.append(
            "The lamp flickers: one firing shows it, and cannot be measured because of it. Shorter firings cannot show"
            " it, and are as doubtful. Use a lamp on a battery or a steady supply."
        )
    if recording.is_lossy:
        flags.append("The file is lossy, so the times are less sure: record as WAV or FLAC.")
    for i in range(recording.n_channels):
        if _is_limited([one for firing in firings for one in firing.sensors if one.i_channel == i]):
            flags.append(
                f"Channel {i + 1}: after every firing the dark moves in the same way, and no knock does that: the input"
                " limits or compresses, or it couples by more than two poles. Switch off every limiter and enhancement,"
                " or lower the gain."
            )
        levels = [one.level for firing in firings for one in firing.sensors if one.i_channel == i and one.own_level]
        if len(levels) > 1 and max(levels) > (1 + UNSTEADY) * min(levels):
            part = max(levels) / min(levels) - 1
            flags.append(
                f"Channel {i + 1}: the level differs from firing to firing by {numbers.percent(part)}: the input has an"
                " automatic gain or another enhancement, the lamp flickers, or the lamp or the sensor moved."
            )
    return tuple(flags)


def _is_limited(seen: list[AtSensor]) -> bool:
    """Whether what follows like pulses is alike and no light: the input answers to the signal itself."""
    if any(one.again is not None for one in seen):
        return False
    alike = [
        float(np.corrcoef(a.beside[:n], b.beside[:n])[0, 1])
        for a, b in combinations(seen, 2)
        if max(a.exposure.value, b.exposure.value) < _LIKE * min(a.exposure.value, b.exposure.value)
        and (n := min(len(a.beside), len(b.beside))) > 4
        and min(float(np.abs(one.beside[:n]).max()) for one in (a, b)) > _LEAST_BESIDE
    ]
    return bool(alike) and float(np.median(alike)) > _REPEATS
