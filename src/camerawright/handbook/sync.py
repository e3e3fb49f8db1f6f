"""When a flash contact should make: a window for each class of contact, with its source.

A lead is counted from the make to a named instant of the light: positive means that the contact makes first. Published
leads often don't name their instant; here each does.
"""

from dataclasses import dataclass
from typing import Literal

Contact = Literal["X", "M", "F", "FP"]
Shutter = Literal["leaf", "focal-plane"]
SensorAt = Literal["start", "middle", "end"]
Instant = Literal["first light", "half light", "80 % open", "full open", "middle of the opening"]

CONTACTS: tuple[Contact, ...] = ("X", "M", "F", "FP")

PARTS: dict[Instant, float] = {"first light": 0.1, "half light": 0.5, "80 % open": 0.8, "full open": 0.95}
"""The part of the full light by which each instant is taken, on the opening edge.

First light and full open are reached with zero slope and cannot be timed themselves: a tenth and 95 % stand for them.
Closing begins where the light falls below 95 %.
"""

FLASH_S = 1e-3
"""How long an electronic flash needs the shutter open. `flash-duration`: 1/500 to 1/1000 s and shorter; the longer of
them would ask for twice as much."""

F_PEAK_S, U_F_PEAK_S = 5e-3, 1e-3
"""Light of a class F bulb peaks about 5 ms after ignition; from memory, and so is its spread."""

MOST_BOUNCE_S = 0.3e-3
"""Longest bounce that is let pass. Common practice."""
LEAST_DWELL_S = 1e-3
"""Shortest closure that fires an electronic flash surely. From memory."""
LEAST_DWELL_BULB_S = 5e-3
"""Shortest closure that fires a bulb surely. From memory."""
MOST_OHM = 1.0
"""Resistance of a closed contact that is let pass. Common practice: 0.5 to 1 ohm."""
HIGH_OHM = 10.0
"""A contact above this is dirty or burnt. Common practice."""


@dataclass(frozen=True)
class Window:
    """The lead that a class of contact should have before an instant of the light, and who says so.

    `sensor_at` is where along the curtain's way the sensor must sit to see that instant (None for a leaf shutter).
    """

    contact: Contact
    shutter: Shutter
    sensor_at: SensorAt | None
    instant: Instant
    least_s: float
    most_s: float
    source: str


WINDOWS: tuple[Window, ...] = (
    Window("M", "leaf", None, "80 % open", 13e-3, 19e-3, "sync-glossary"),
    Window("M", "focal-plane", "middle", "middle of the opening", 7e-3, 15e-3, "sync-glossary"),
    Window("FP", "focal-plane", "start", "first light", 15e-3, 20e-3, "sync-glossary"),
)
"""Classes whose lead is published as a window."""

SOURCE_X = (
    "sync-glossary: leaf, when the blades are fully open; focal plane, when the first curtain has cleared the frame"
)
SOURCE_F = "from memory: the bulb peaks about 5 ms after ignition; here the peak must fall while the shutter is open"


def window(contact: Contact, shutter: Shutter) -> Window | None:
    """The published window of a class on a kind of shutter, None where there is none."""
    return next((w for w in WINDOWS if (w.contact, w.shutter) == (contact, shutter)), None)
