"""What can be wrong with a recording, in sentences."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.shutter.lamp import FLAG_FLICKER, Flicker
from camerawright.bench.shutter.record import LevelFrom
from camerawright.numeric.firings import Found
from camerawright.numeric.pulse import Pulse
from camerawright.recordings.channel import Recording
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

U_LOSSY = (
    0.02  # u of a time from a lossy file, as a part of it: the worst of four codecs in our trial, see docs/accuracy.md
)
_SWING_S, _MAX_SWING = 0.1e-3, 0.33  # 1/1000 in 23 dB of noise reads 0.29, music 0.36 and more
_SHARP, _ABOUT_S = 0.8, 1.5e-3  # of an edge within two samples: blades a fifth at the most, a contact all but ringing
_OTHER_PLACE_S = 1e-3, 30e-3  # curtains run 5 to 20 ms across a gate
_FASTEST_EDGE_S = 120e-6  # blades take ten times as long over a full opening. Common practice
_HARDLY_OPENS = 0.9
_LINGERS, _LEAST_TAIL_S = 0.45, 60e-6  # between blades (0.27) and a sensor that alone makes the edge (0.62)


def refuse_contact(recording: Recording, firings: Mapping[int, Found], i_best: int) -> None:
    """Refuse the channel that shows most where it steps like a flash contact, and another holds what may be light."""
    others = [i for i in firings if i != i_best and not _steps(recording, i, firings[i])]
    if others and _steps(recording, i_best, firings[i_best]):
        raise NotMeasurable(
            f"channel {i_best + 1} steps within two samples; a flash contact does that, light through a shutter does"
            f" not; and channel {others[0] + 1} holds firings too",
            "Use the sync test: it times one channel against the other. For the shutter's speeds, give a recording of"
            f" the light alone (channel {others[0] + 1} of this one as a mono file)",
        )


def _steps(recording: Recording, i_channel: int, found: Found) -> bool:
    """Whether most openings of a channel are over within two samples."""
    parts = []
    for span in found.spans:
        i, reach = round(span.up_s * recording.rate_hz), round(_ABOUT_S * recording.rate_hz)
        around = recording.stretch(i_channel, max(0, i - reach), i + reach).astype(np.float64)
        parts.append(float(np.abs(around[2:] - around[:-2]).max(initial=0.0) / max(np.ptp(around), 1e-12)))
    return float(np.median(parts)) > _SHARP


def refuse_clipped(n: int) -> None:
    """Refuse a firing of which so many samples stand at an end stop."""
    if n > 2:
        raise NotMeasurable(
            f"this firing is clipped at {n} samples",
            "Turn the input's gain or the light down until the highest peak stays below full scale, and record again",
        )


def refuse_swinging(around: Floats, rate_hz: float) -> None:
    """What swings to and fro within tenths of a millisecond is sound, or a switched lamp: blades are slower."""
    block = max(1, round(_SWING_S * rate_hz))
    means = around[: len(around) // block * block].reshape(-1, block).mean(axis=1)
    if len(means) > 8 and np.std(np.diff(means)) > _MAX_SWING * np.std(means):
        raise NotMeasurable(
            "the signal swings to and fro; sound or a switched lamp does that, light through a shutter does not",
            "Record a light sensor behind the lens, with a steady lamp in front; a microphone cannot time an exposure",
        )


def firing_flags(
    pulse: Pulse, u_slope: float, u_tail_s: float, disturbed: float, seen: Flicker, *, level_from: LevelFrom
) -> tuple[str, ...]:
    """What is doubtful about one firing."""
    flags = []
    if level_from == "its own peak":
        flags.append(
            "The shutter does not stay fully open, so level and effective time refer to this firing's own peak. Fire a"
            " slower speed in the same recording: that gives the full level."
        )
    if pulse.opens_to < _HARDLY_OPENS:
        flags.append(
            f"It opens to {numbers.percent(pulse.opens_to)} of what the slower firings open to. Either the blades turn"
            " back before they are fully open, or the aperture was another."
        )
    if disturbed > 3:
        flags.append(
            f"A thump or other light disturbed the dark beside this firing: {numbers.fixed(disturbed, 0)} times the"
            " usual noise."
        )
    if seen.part > FLAG_FLICKER:
        flags.append(
            f"The light flickers by {numbers.percent(seen.part, 1)} at {numbers.fixed(seen.frequency_hz, 0)} Hz, as a"
            " mains lamp does."
        )
    flags += _blade_flags(pulse, u_tail_s)
    if abs(pulse.plateau_slope) > max(0.05, 5 * u_slope):
        flags.append(
            f"The plateau slopes by {numbers.signed(100 * pulse.plateau_slope, 0)} %: look for automatic gain, a"
            " light that moves,"
            " or an input with more than a simple AC coupling."
        )
    return tuple(flags)


def _blade_flags(pulse: Pulse, u_tail_s: float) -> list[str]:
    """What is odd about the edges: too fast, bouncing, lingering."""
    flags = []
    edge_s = min(pulse.opening.value_s, pulse.closing.value_s)
    if edge_s < _FASTEST_EDGE_S:
        flags.append(
            f"An edge of {numbers.fixed(1e6 * edge_s, 0)} µs, which is faster than blades: a switched lamp or a"
            " flash, or a lens"
            " that is stopped far down."
        )
    if pulse.reopened:
        flags.append(
            f"The shutter opens again after it closed, to {numbers.percent(pulse.reopened)} of the level; that light"
            " counts."
        )
    if pulse.dipped:
        flags.append(
            f"The blades bounce after opening: the light dips by {numbers.percent(pulse.dipped)} of the level."
        )
    if pulse.tail_per_edge > _LINGERS and pulse.tail.value_s > max(_LEAST_TAIL_S, 8 * u_tail_s):
        flags.append(
            f"The light lingers for {numbers.fixed(1e6 * pulse.tail.value_s, 0)} µs at the end of the closing: the"
            " sensor is slow."
            " A smaller resistor across the sensor is faster, and so is a photodiode in place of a phototransistor."
        )
    return flags


def at_other_times(firings: Mapping[int, Found], i_best: int) -> tuple[int, ...]:
    """The channels that show the best one's firings earlier or later, as sensors across a gate do and no copy does."""
    ups_s = np.array([span.up_s for span in firings[i_best].spans])
    others = []
    for i, found in firings.items():
        apart_s = [float(np.abs(ups_s - span.up_s).min()) for span in found.spans]
        if i != i_best and _OTHER_PLACE_S[0] < float(np.median(apart_s)) < _OTHER_PLACE_S[1]:
            others.append(i)
    return tuple(others)


def recording_flags(
    found: Found, is_lossy: bool, *, is_other_input: bool, i_channel: int, others: tuple[int, ...]
) -> tuple[str, ...]:
    """What is doubtful about the whole recording; `others` as `at_other_times` tells them."""
    flags = []
    if others:
        names = " and ".join(str(i + 1) for i in others)
        show = "s " + names + " show" if len(others) > 1 else " " + names + " shows"
        flags.append(
            f"Channel{show} the same firings at other times, as sensors across a focal plane do. Only channel"
            f" {i_channel + 1} was timed: use the curtains test to measure them together."
        )
    if is_lossy:
        flags.append("The file is lossy, so the intervals are wider: record WAV or FLAC.")
    if found.n_lonely:
        flags.append(f"{found.n_lonely} edges of light have no partner: a firing cut off, a bounce, or other light.")
    if is_other_input:
        flags.append(
            "The input's coupling is not the one we remember of this sound card, so another input or setting was used:"
            " we measured without that memory."
        )
    return tuple(flags)
