"""Which channel is the light and which the contact, and how much of one leaks into the other."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.contract import NotMeasurable
from camerawright.bench.sync.contact import sharp_steps
from camerawright.numeric.firings import Found, find
from camerawright.numeric.no_answer import NoAnswer
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]

PRIOR_CROSSTALK = 5e-3
"""How much of one channel leaks into the other before the recording is asked: -46 dB. Common practice for cables that
share a plug."""

_SAME = 0.03  # of the light's height: what leaks is less, what is the same signal is more
_BLOCK_S = 0.25e-3
ADVICE_WIRES = (
    "Put the light sensor on one channel and the contact, through its resistor and a battery of 1.5 V, on the other;"
    " record"
    " in stereo, and see that no mixer sums the channels"
)
ADVICE_CONTACT = (
    "Raise the contact channel's level (a larger part of the battery's voltage, or more gain) until its steps stand"
    " at least"
    " thirty times above the noise; keep its lead away from mains cables"
)


@dataclass(frozen=True)
class Channels:
    """The light, upright, with its firings; the contact as recorded; and the light's index."""

    light: Floats
    contact: Floats
    found: Found
    i_light: int
    crosstalk_db: float | None  # of the light in the contact's channel, where the contact never closes and it is seen


def told_apart(waveform: Waveform) -> Channels:
    """Tell light from contact by their edges: a contact steps within two samples, light does not.

    Raises
    ------
    NotMeasurable
        Not stereo, no light in either channel, the same signal in both, or a contact deep in noise.
    """
    if waveform.n_channels != 2:
        raise NotMeasurable(f"the recording has {waveform.n_channels} channel(s); two are needed", ADVICE_WIRES)
    levels = [waveform.channel(i).astype(np.float64) for i in range(2)]
    if np.array_equal(levels[0], levels[1]):
        raise NotMeasurable("both channels carry the same signal: a mono recording", ADVICE_WIRES)
    is_sharp = [len(sharp_steps(level).at) > 0 for level in levels]
    if all(is_sharp):
        raise NotMeasurable(
            "both channels step within two samples, as a contact does and light through a shutter does not",
            ADVICE_WIRES,
        )
    found = [_found(level, waveform.rate_hz) for level in levels]
    i_light = 1 if is_sharp[0] else 0 if is_sharp[1] else _higher(found)
    light = found[i_light]
    if isinstance(light, NoAnswer):
        raise NotMeasurable(f"no light: {light.reason}", light.advice)
    upright, contact = levels[i_light] * light.sign, levels[1 - i_light]
    leaked_db = None if is_sharp[1 - i_light] else _leaked_db(upright, contact, found[1 - i_light], waveform.rate_hz)
    return Channels(upright, contact, light, i_light, leaked_db)


def _found(level: Floats, rate_hz: float) -> Found | NoAnswer:
    """The openings in a channel, or why there are none."""
    try:
        return find(level, rate_hz)
    except NoAnswer as why:
        return why


def _higher(found: list[Found | NoAnswer]) -> int:
    """The channel whose openings stand higher above its noise."""
    contrasts = [0.0 if isinstance(one, NoAnswer) else one.contrast for one in found]
    return int(np.argmax(contrasts))


def _leaked_db(light: Floats, contact: Floats, other: Found | NoAnswer, rate_hz: float) -> float | None:
    """How far below the light the slow signal on the contact's channel is; None for nothing but noise.

    Raises
    ------
    NotMeasurable
        It is the light itself, or a contact too deep in noise to show its steps.
    """
    if isinstance(other, NoAnswer):
        return None
    width = max(1, round(_BLOCK_S * rate_hz))
    a, b = (y[: len(y) // width * width].reshape(-1, width).mean(axis=1) for y in (light, contact))
    a, b = np.diff(a), np.diff(b)
    like = abs(float(np.corrcoef(a, b)[0, 1]))
    part = abs(float(a @ b / (a @ a)))
    if like > 0.7 and part > _SAME:
        raise NotMeasurable(
            "both channels carry the same signal: what is on the contact's channel rises and falls as the light does",
            ADVICE_WIRES,
        )
    if like > 0.7 or part < PRIOR_CROSSTALK:
        return 20 * float(np.log10(max(part, 1e-9)))
    raise NotMeasurable("the contact stands less than 30 dB above the noise", ADVICE_CONTACT)


def crosstalk(light: Floats, contact: Floats, u_step: float) -> tuple[float, float]:
    """How much of the contact's channel is in the light's, and its u, from how the light bends at the contact's steps.

    Parameters
    ----------
    light, contact : shape (n,)
        As recorded, upright.
    u_step
        Standard deviation of a sample of the light.

    Notes
    -----
    Least squares on second differences, which light itself has little of; combined with what is known beforehand
    (`PRIOR_CROSSTALK`) by inverse variances.
    """
    steps = sharp_steps(contact)
    near = np.unique(np.clip((steps.at[:, None] + np.arange(-3, 4)).ravel(), 1, len(light) - 2))
    a, b = (y[near + 1] - 2 * y[near] + y[near - 1] for y in (contact, light))
    prior = PRIOR_CROSSTALK * float(np.ptp(light)) / max(float(np.ptp(contact)), 1e-12)
    power = float(a @ a)
    if power == 0:
        return 0.0, prior
    seen, u_seen = float(a @ b) / power, np.sqrt(6) * u_step / np.sqrt(power)
    weight = prior**2 / (prior**2 + u_seen**2)
    return seen * weight, float(prior * np.sqrt(1 - weight))
