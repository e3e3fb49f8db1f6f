"""Which channel is the light and which the contact, and how much of one leaks into the other."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.sync.contact import Steps, lagging_steps, sharp_steps
from camerawright.bench.sync.lead import NONE, Lag
from camerawright.numeric.firings import Found, block_width, find_in_blocks
from camerawright.recordings.channel import Channel, Recording
from camerawright.recordings.scan import Scan
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

PRIOR_CROSSTALK = 5e-3
"""How much of one channel leaks into the other before the recording is asked: -46 dB. Common practice for cables that
share a plug."""

_SAME = 0.03  # of the light's height: what leaks is less, what is the same signal is more
_EQUAL = 1e-7  # of full scale: a third of a 24 bit converter's step, and more than the rounding of a mean
_NEAR = np.arange(-3, 4)
ADVICE_WIRES = (
    "Put the light sensor on one channel. Put the contact, through its resistor and a battery of 1.5 V, on the other."
    " Record in stereo, and see that no mixer sums the channels"
)
ADVICE_CONTACT = (
    "Raise the contact channel's level (a larger part of the battery's voltage, or more gain) until its steps stand at"
    " least thirty times above the noise. Keep its lead away from mains cables"
)


@dataclass(frozen=True)
class Channels:
    """The light, upright, with its firings; the contact as recorded, with its steps; and the light's index.

    `scan` is of the recording, as it was looked through for them. `crosstalk_db` is of the light in the contact's
    channel, where the contact never closes and it is seen.
    """

    recording: Recording
    scan: Scan
    light: Channel
    contact: Channel
    found: Found
    steps: Steps
    i_light: int
    crosstalk_db: float | None
    lag: Lag = NONE  # of the contact's lead, as its steps were found

    def swing(self, i_channel: int) -> float:
        """From the lowest to the highest of a channel."""
        return self.scan.high[i_channel] - self.scan.low[i_channel]


def told_apart(recording: Recording) -> Channels:
    """Tell light from contact by their edges: a contact steps within two samples, light does not.

    Raises
    ------
    NotMeasurable
        Not stereo, no light in either channel, the same signal in both, or a contact deep in noise.
    """
    if recording.n_channels != 2:
        raise NotMeasurable(
            f"the recording has {numbers.counted(recording.n_channels, 'channel')}; two are needed", ADVICE_WIRES
        )
    width = block_width(recording.rate_hz)
    scan = recording.scan(width)
    if scan.means.size and np.allclose(scan.means[:, 0], scan.means[:, 1], rtol=0, atol=_EQUAL):
        raise NotMeasurable("both channels carry the same signal: a mono recording", ADVICE_WIRES)
    both = [Channel(recording, i) for i in range(2)]
    is_sharp = [len(one.at) > 0 for one in sharp_steps(both)]
    if not any(is_sharp):
        is_sharp = [len(lagging_steps(one, scan.low[i], scan.high[i])[0].at) > 0 for i, one in enumerate(both)]
    if all(is_sharp):
        raise NotMeasurable(
            "both channels step within two samples, as a contact does and light through a shutter does not",
            ADVICE_WIRES,
        )
    means = scan.means.astype(np.float64).T
    found = [_found(one, width / recording.rate_hz) for one in means]
    i_light = 1 if is_sharp[0] else 0 if is_sharp[1] else _higher(found)
    light = found[i_light]
    if isinstance(light, NotMeasurable):
        raise NotMeasurable(f"no light: {light.what}", light.mend)
    i_contact = 1 - i_light
    steps, lag = lagging_steps(both[i_contact], scan.low[i_contact], scan.high[i_contact])
    return Channels(
        recording,
        scan,
        Channel(recording, i_light, light.sign),
        Channel(recording, i_contact),
        light,
        steps,
        i_light,
        None if len(steps.at) else _leaked_db(means[i_light], means[i_contact], found[i_contact]),
        lag,
    )


def _found(means: Floats, block_s: float) -> Found | NotMeasurable:
    """The openings in a channel, or why there are none."""
    try:
        return find_in_blocks(means, block_s)
    except NotMeasurable as why:
        return why


def _higher(found: list[Found | NotMeasurable]) -> int:
    """The channel whose openings stand higher above its noise."""
    contrasts = [0.0 if isinstance(one, NotMeasurable) else one.contrast for one in found]
    return int(np.argmax(contrasts))


def _leaked_db(light: Floats, contact: Floats, other: Found | NotMeasurable) -> float | None:
    """How far below the light the slow signal on the contact's channel is, by means; None for nothing but noise.

    Raises
    ------
    NotMeasurable
        It is the light itself, or a contact too deep in noise to show its steps.
    """
    if isinstance(other, NotMeasurable):
        return None
    a, b = np.diff(light), np.diff(contact)
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


def crosstalk(channels: Channels, u_step: float) -> tuple[float, float]:
    """How much of the contact's channel is in the light's, and its u, from how the light bends at the contact's steps.

    Parameters
    ----------
    u_step
        Standard deviation of a sample of the light.

    Notes
    -----
    Least squares on second differences, which light itself has little of: with the bends a of the contact and b of the
    light, the part that minimises |b - part a|² is (a·b) / (a·a). A second difference x[n-1] - 2 x[n] + x[n+1] of white
    noise has 1 + 4 + 1 = 6 times its variance, so the part's u is √6 u_step / |a|. Combined with what is known
    beforehand (0, with u `PRIOR_CROSSTALK`) by inverse variances: the weight of what is seen is
    prior² / (prior² + seen²), and what is left of the prior's u is prior √(1 - weight).
    """
    near = np.unique(np.clip(channels.steps.at[:, None] + _NEAR, 1, len(channels.light) - 2))
    a, b = (_bends(channel, near) for channel in (channels.contact, channels.light))
    prior = PRIOR_CROSSTALK * channels.swing(channels.i_light) / max(channels.swing(1 - channels.i_light), 1e-12)
    power = float(a @ a)
    if power == 0:
        return 0.0, prior
    seen, u_seen = float(a @ b) / power, np.sqrt(6) * u_step / np.sqrt(power)
    weight = prior**2 / (prior**2 + u_seen**2)
    return seen * weight, float(prior * np.sqrt(1 - weight))


def _bends(channel: Channel, near: NDArray[np.intp]) -> Floats:
    """Second differences of a channel at some samples, which are in order."""
    runs = np.split(near, np.flatnonzero(np.diff(near) > 1) + 1) if len(near) else []
    bends = (np.diff(channel[int(run[0]) - 1 : int(run[-1]) + 2], 2) for run in runs)
    return np.concatenate([np.zeros(0), *bends])
