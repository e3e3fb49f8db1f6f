"""What is told of the light sensors and of the inputs that they are plugged into."""

import math
from dataclasses import dataclass, replace
from typing import Final, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.options import Option, choice
from camerawright.bench.sensor_lag import LAG, with_lag
from camerawright.handbook.light_sensors import SENSOR_NAMES, Sensor, sensor_named

Floats = NDArray[np.float64]
Alike = Literal["sensors", "inputs", "both"]

CLASS: Final = "Class of the light sensors"
ALIKE_LABEL: Final = "What is alike in the channels"
"""Options, by their labels."""
ALIKE: Final[tuple[Alike, ...]] = get_args(Alike)
OPTIONS: Final = (
    Option("sensor", "CLASS", CLASS, "as doubtful as any of them if not told", SENSOR_NAMES),
    replace(LAG, about=f"{LAG.about}; it holds for each sensor"),
    Option(
        "alike",
        "WHAT",
        ALIKE_LABEL,
        "sensors of one make with one load in one light, inputs that are sampled at the same moment; none if not told",
        ALIKE,
    ),
)
_OWN = 0.3
"""What sensors of one make keep to themselves of what their class may do, as a part. Common practice: capacitance, gain
and load of parts of one make are within 20 to 30 %, a rectangle's half width; 0.3 is safe."""


@dataclass(frozen=True)
class Sensors:
    """The class of all sensors, what is alike in their channels, and how unlike two of them may lag. [s]

    `u_apart_s` is the class's own figure, also where `each` has the lag that a check measured: a check of how much
    longer pulses get (`is_lag_measured`) does not show how late they all are.
    """

    each: Sensor
    u_apart_s: float
    alike: Alike | None = None
    is_lag_measured: bool = False

    @property
    def are_alike(self) -> bool:
        """Whether the sensors are of one make."""
        return self.alike in ("sensors", "both")

    @property
    def are_sampled_together(self) -> bool:
        """Whether the card samples its channels at the same moment."""
        return self.alike in ("inputs", "both")

    def moves(self, own: Floats, *, is_measured: bool = False) -> Floats:
        """What one standard deviation of a cause does to the times, as columns of independent causes.

        Parameters
        ----------
        own : shape (m, n)
            What it does where each of n sensors has its own.
        is_measured
            Each sensor was checked: then they have nothing in common.

        Notes
        -----
        Sensors of one make share most of what their class may do. With c the part that is common and o the own one,
        c² + o² = 1, the common part is one cause that moves all times at once, the sum of the columns. So what two
        sensors share leaves the differences between them, while one sensor's exposure stays as doubtful as it was.
        """
        if not self.are_alike or is_measured:
            return own
        return np.column_stack([math.sqrt(1 - _OWN**2) * own.sum(axis=1), _OWN * own])


def sensors_told(sensor: str | None, lag_us: str | None, alike: str | None) -> Sensors:
    """The sensors by what was typed.

    Raises
    ------
    NotUnderstood
        One of these is not known, or is no such figure.
    """
    kind = sensor_named(choice("sensor", sensor, SENSOR_NAMES))
    return Sensors(with_lag(kind, lag_us), kind.u_lag_s, choice("alike", alike, ALIKE), is_lag_measured=bool(lag_us))


def of_class(sensor: Sensor) -> Sensors:
    """Sensors of a class of which no more is told."""
    return Sensors(sensor, sensor.u_lag_s)
