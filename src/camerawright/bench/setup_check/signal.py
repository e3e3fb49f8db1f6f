"""What the headphone output plays to the LED: pulses of known widths, the first and the last of them alike."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

RATE_HZ: Final = 48_000
_LEAD_S: Final = 1.0
_GAP_S: Final = 0.7
_WIDTHS_S: Final = (20e-3, 5e-3, 20e-3, 2e-3, 100e-3, 20e-3)
"""Three alike, one of them after a long one: what a gain that follows the level treats differently."""
_DRIVE: Final = 0.9  # of full scale


@dataclass(frozen=True)
class Pulse:
    """The LED is on from `at_s` for `width_s`, by the clock of the output."""

    at_s: float
    width_s: float


@dataclass(frozen=True)
class Signal:
    """The pulses, and how long it all takes."""

    pulses: tuple[Pulse, ...]
    duration_s: float


def signal() -> Signal:
    """The signal of the set-up check; every time is a whole number of samples at 48 kHz."""
    pulses, at_s = [], _LEAD_S
    for width_s in _WIDTHS_S:
        pulses.append(Pulse(at_s, width_s))
        at_s += width_s + _GAP_S
    return Signal(tuple(pulses), at_s + _LEAD_S - _GAP_S)


def drive(given: Signal) -> NDArray[np.int16]:
    """The samples for the output at `RATE_HZ`, shape (n, 2): the LED stands between left and right, which oppose.

    Between two channels in opposite phase there is twice the voltage of one, which most LEDs need. Each pulse is
    followed by as much backwards, which an LED does not pass: so a coupling capacitor in the output ends as it began,
    and like pulses stay alike.
    """
    level = np.zeros(round(given.duration_s * RATE_HZ))
    for pulse in given.pulses:
        n = round(pulse.width_s * RATE_HZ)
        at = round(pulse.at_s * RATE_HZ)
        level[at : at + n], level[at + n : at + 2 * n] = 1.0, -1.0
    left = np.round(_DRIVE * 32_767 * level).astype(np.int16)
    return np.stack([left, -left], axis=1)
