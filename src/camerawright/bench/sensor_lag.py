"""The lag of the sensor as the set-up check measured it, in place of what its class may do."""

import re
from dataclasses import replace
from typing import Final

from camerawright.bench.options import Option
from camerawright.handbook.light_sensors import Sensor
from camerawright.trouble import NotUnderstood

LAG: Final = Option(
    "lag_us",
    "US",
    "How much longer pulses are recorded",
    "from the set-up check, as 0.4 ± 0.2; by the class if not told",
)
_FIGURE: Final = r"\d{1,4}(?:[.,]\d{1,4})?"
_TEXT: Final = re.compile(rf"([-+−]?{_FIGURE})(?:\s*(?:±|\+/?-)\s*({_FIGURE}))?\s*(?:µs|us)?")
_WIDE_US: Final = 2.0  # half the 95 % interval where none is told: a good check reaches that. Our simulated checks
_MOST_US: Final = 500.0


def with_lag(sensor: Sensor, given: str | None) -> Sensor:
    """The sensor with its lag as it was told; the class stays where nothing was.

    Parameters
    ----------
    given
        How much longer pulses are recorded than played, with half its 95 % interval: ``0.4 ± 0.2``. [µs]

    Raises
    ------
    NotUnderstood
        It is no such figure, or more than any light sensor does.
    """
    if given is None:
        return sensor
    found = _TEXT.fullmatch(given.strip())
    mend = "give what the set-up check said, as 0.4 ± 0.2"
    if found is None:
        raise NotUnderstood(f"{given!r} is no time in µs", mend, "lag-us")
    value_us, wide_us = _number(found[1]), _number(found[2]) if found[2] else _WIDE_US
    if max(abs(value_us), wide_us) > _MOST_US:
        raise NotUnderstood(f"{given!r} is out of range", mend, "lag-us")
    return replace(sensor, longer_s=1e-6 * value_us, u_lag_s=0.5e-6 * wide_us, u_lag_by_light_s=0.0)


def _number(text: str) -> float:
    return float(text.replace(",", ".").replace("−", "-"))
