"""What lamps and light sensors do to a recording."""

from dataclasses import dataclass

MAINS_LIGHT_HZ = (100.0, 120.0)
"""How often a lamp on the mains flickers: twice the mains' 50 or 60 Hz."""


@dataclass(frozen=True)
class Sensor:
    """A class of sensor, and what it may do to a time that no recording shows.

    `u_lag_s` is the standard uncertainty of how much longer its fall lags than its rise [s], `u_bend` that of its bend.
    A bend of 0.01 reads light at half the full level 1/4 of a per cent of full level too high (response
    x + bend x (1 - x)). An equal lag of rise and fall, `lag_s` (typical), moves only what is taken where an edge bends.
    `bend` is what a class is known to bend by. `u_lag_by_light_s` is what a lag that grows as the light falls may add,
    as that of a transistor's base, which the light has to charge. `longer_s` is by how much its fall is known to lag
    more than its rise: 0 unless measured.
    """

    name: str
    lag_s: float
    u_lag_s: float
    u_bend: float
    source: str
    u_lag_by_light_s: float = 0.0
    longer_s: float = 0.0
    bend: float = 0.0


PHOTODIODE = Sensor("photodiode", 10e-6, 5e-6, 0.01, "common practice: a photodiode into a line input's 10 kohm")
PHOTOTRANSISTOR = Sensor(
    "phototransistor", 60e-6, 30e-6, 0.05, "common practice: turn-off slower than turn-on by tens of us", 20e-6
)
SOLAR_CELL = Sensor(
    "solar cell", 30e-6, 15e-6, 0.37,
    "a junction with 0.1 to 0.5 V over its load bends by 0 to 1.1 (Shockley); 0.37 is the standard deviation of that"
    " where each voltage is as likely",
    bend=0.5,
)  # fmt: skip
CALIBRATED = Sensor("calibrated", 10e-6, 1e-6, 0.002, "the user's own check with an LED and two light levels")

UNKNOWN = Sensor("unknown", 30e-6, 30e-6, 0.5, "as wide as the widest of the classes", 20e-6)

SENSORS = (PHOTODIODE, PHOTOTRANSISTOR, SOLAR_CELL, CALIBRATED, UNKNOWN)
SENSOR_NAMES = tuple(sensor.name for sensor in SENSORS)


def sensor_named(name: str | None) -> Sensor:
    """The class of sensor of one of `SENSOR_NAMES`; what may be any of them where none is named."""
    return UNKNOWN if name is None else next(sensor for sensor in SENSORS if sensor.name == name)
