"""What is doubtful about a firing or a recording, and what else it showed, in sentences."""

import math
from itertools import combinations

import numpy as np

from camerawright.bench.contract import Skipped
from camerawright.bench.curtains.channel import FLICKERS
from camerawright.bench.curtains.gate import Gate
from camerawright.bench.curtains.results import AtSensor, Firing, is_stray
from camerawright.recordings.channel import Recording

_FLAG_SNR_DB = 30.0
UNSTEADY = 0.05
_WEAK = 0.05
_MOST_BLUR_MM = 1.1  # a pupil of f/2.8 blurs a curtain 2.3 mm before the film over 0.8
_LIKE = 1.3  # firings whose exposures differ by less are like pulses
# correlation: inputs that limit 0.91 to 1, thumps to 0.3, of one simulated shutter; and a height in levels
_REPEATS, _LEAST_BESIDE = 0.9, 0.01


def firing_flags(firing: Firing, gate: Gate) -> tuple[str, ...]:
    """One firing, sensor by sensor."""
    is_speed_known = len(firing.sensors) > 2
    return tuple(
        f"At {one.at_mm:g} mm {text}"
        for one in firing.sensors
        for text in (*_light(one), *_shape(one, gate, is_speed_known=is_speed_known), *_again(one, firing))
    )


def _light(one: AtSensor) -> list[str]:
    """Noise, thumps, the lamp."""
    flags = []
    if one.snr_db < _FLAG_SNR_DB:
        flags.append("the light stands less than 30 dB above the noise.")
    if one.disturbed > 3:
        flags.append(f"a thump or a change of light: {one.disturbed:.0f} times the usual slow noise.")
    if one.flicker:
        flags.append(
            f"the light flickers by {100 * one.flicker:.1f} % at {one.flicker_hz:.0f} Hz, as a mains lamp does."
        )
    return flags


def _shape(one: AtSensor, gate: Gate, *, is_speed_known: bool) -> list[str]:
    """What the curtains did to the light."""
    flags = []
    if not one.own_level:
        flags.append("the slit is narrower than what the sensor sees; the full level is that of other firings.")
    elif is_speed_known and one.blur_mm < -0.15 * gate.diameter_mm[one.i_channel]:
        flags.append(
            f"the edges are sharper than a sensor of {gate.diameter_mm[one.i_channel]:g} mm sees them: check --diameter"
            " and the places."
        )
    if one.blur_mm > _MOST_BLUR_MM:
        flags.append(
            f"the edges are blurred over {one.blur_mm:.1f} mm more than the sensor is wide: a slow sensor, a wide"
            " pupil, or not the curtain on its way but one that is thrown back."
        )
    if one.dip:
        flags.append(
            f"the light dips by {100 * one.dip:.0f} % while open: the first curtain comes back for a moment, or the"
            " lamp flickers."
        )
    return flags


def _again(one: AtSensor, firing: Firing) -> list[str]:
    """Light after the closing."""
    if one.again is None:
        return []
    height = 100 * one.again.height
    text = f"light again {1e3 * one.again.after_s:.1f} ms after the closing, to {height:.0f} % of the level"
    if is_stray(one, firing):
        return [
            f"{text}, while the second curtain is still on its way: light that strays between the sensors, or channels"
            " that leak into one another."
        ]
    added = math.log2(1 + one.again.light_s / one.exposure.value)
    weak = " (or, as weak as that, a thump)" if one.again.height < _WEAK else ""
    return [
        f"{text}: the second curtain is thrown back{weak}. It adds {added:.2f} stop there, not counted in the exposure."
    ]


def recording_flags(
    firings: list[Firing], skipped: list[Skipped], recording: Recording, *, is_turned: bool
) -> tuple[str, ...]:
    """The whole recording."""
    flags = []
    if is_turned:
        flags.append(
            "The light comes to the last place first: the curtains run the other way than the places were given, or the"
            " plugs are swapped. Places are counted here from the edge that the curtains come in at."
        )
    if len(firings) == 1 and not skipped:
        flags.append(
            "One firing alone shows neither a gain that moves nor a lamp that flickers: fire twice and more, and at"
            " 1/30 as well."
        )
    if any(FLICKERS in one.reason for one in skipped):
        flags.append(
            "The lamp flickers, as a firing shows that cannot be measured for it; shorter firings cannot show it and"
            " are as doubtful. Use a lamp on a battery or a steady supply."
        )
    if recording.is_lossy:
        flags.append("The file is lossy: the times are widened for it; record as WAV or FLAC.")
    for i in range(recording.n_channels):
        if _is_limited([one for firing in firings for one in firing.sensors if one.i_channel == i]):
            flags.append(
                f"Channel {i + 1}: after every firing the dark moves in the same way, which no knock does: the input"
                " limits or compresses, or its coupling has more than two poles. Switch off every limiter and"
                " enhancement, or lower the gain."
            )
        levels = [one.level for firing in firings for one in firing.sensors if one.i_channel == i and one.own_level]
        if len(levels) > 1 and max(levels) > (1 + UNSTEADY) * min(levels):
            part = 100 * (max(levels) / min(levels) - 1)
            flags.append(
                f"Channel {i + 1}: the level differs from firing to firing by {part:.0f} %: automatic gain or another"
                " enhancement of the input, a flickering lamp, or a lamp or sensor that moved."
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
