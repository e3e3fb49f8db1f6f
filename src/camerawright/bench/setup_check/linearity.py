"""Whether the sensor answers to more light as to less: the LED's pulses in the dark, and again beside the lamp."""

import math
from dataclasses import dataclass
from typing import Final

from camerawright.bench.setup_check.record import Estimate, SetupCheck
from camerawright.handbook.light_sensors import CALIBRATED, PHOTODIODE
from camerawright.wording import numbers

_U_LED: Final = 2e-3  # how far an LED's light moves between two checks, as a part of it. Common practice
_CALIBRATED: Final = 3 * CALIBRATED.u_bend  # 95 % of such sensors bend by less than two thirds of this


@dataclass(frozen=True)
class Linearity:
    """How far the sensor bends up to the lamp's light: for a part x of that light it shows x + bend · x · (1 − x)."""

    bend: Estimate

    @property
    def verdict(self) -> str:
        """One sentence, and what to say of the sensor."""
        size, wide = abs(self.bend.value), 2 * self.bend.u
        shown = f"{numbers.signed(self.bend.value, 3)} ± {numbers.fixed(max(wide, 1e-3), 3)}"
        if size - wide > 2 * PHOTODIODE.u_bend:
            return (
                f"Not linear: the sensor bends by {shown}, so every time is too long. Put a smaller resistor across it,"
                " or take less light, and check again. Otherwise say that it is a solar cell."
            )
        if size + wide > 2 * PHOTODIODE.u_bend:
            return f"Undecided: the sensor bends by {shown}. Raise the LED's light, shade the sensor, and check again."
        name = CALIBRATED.name if size + wide <= _CALIBRATED else PHOTODIODE.name
        return f"Linear, if the lamp was on: the sensor bends by {shown}. Say that it is of the class {name}."


def linearity(dark: SetupCheck, lit: SetupCheck) -> Linearity:
    """Compare two checks.

    Parameters
    ----------
    dark, lit
        The same LED at the same drive: without the lamp, and with the lamp on as bright as for a reading.

    Notes
    -----
    In units of the lamp's light, the slope of x + bend x (1 - x) is 1 + bend in the dark and 1 - bend at x = 1. Small
    pulses are as high as the slope, so their ratio is R = (1 + bend) / (1 - bend), and bend = (R - 1) / (R + 1). The
    derivative is 2 / (R + 1)². Pulses as high as the lamp change a bend by the part bend of itself at most.
    """
    ratio = dark.level_fs / lit.level_fs
    u_ratio = ratio * math.hypot(_U_LED, *(each.gain_change.u / math.sqrt(2) for each in (dark, lit)))
    return Linearity(Estimate((ratio - 1) / (ratio + 1), 2 * u_ratio / (ratio + 1) ** 2))
