"""When a flash contact should make: a window for each class of contact, with its source.

A lead is counted from the make to a named instant of the light: positive means that the contact makes first. Published
leads often don't name their instant; here each does.
"""

import math
from dataclasses import dataclass
from typing import Literal

from camerawright.quantity import Word

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

Bulb = Literal["M", "F"]


@dataclass(frozen=True)
class Peak:
    """When the light of a class of bulb peaks after it is lit, with u, and who says so."""

    bulb: Bulb
    after_s: float
    u_after_s: float
    source: str


PEAKS: tuple[Peak, ...] = (
    Peak("M", 20e-3, 2e-3, "common practice: class M peaks about 20 ms after ignition; its spread from memory"),
    Peak("F", 5e-3, 1e-3, "from memory: class F peaks about 5 ms after ignition, and so is its spread"),
)
"""Bulbs that flash up and are over; class FP burns on, and is for a curtain."""

MOST_BOUNCE_S = 0.3e-3
"""Longest bounce that is let pass. Common practice."""
LEAST_DWELL_S = 1e-3
"""Shortest closure that fires an electronic flash surely. From memory."""
LEAST_DWELL_BULB_S = 5e-3
"""Shortest closure that fires a bulb surely. From memory."""


@dataclass(frozen=True)
class Resistance:
    """What a closed contact of so many ohms does to an electronic flash and to a bulb.

    `most_ohm` ends the class. *Within* fires surely, *undecided* may not, *outside* does not.
    """

    name: str
    most_ohm: float
    flash: Word
    bulb: Word
    says: str
    source: str


RESISTANCES: tuple[Resistance, ...] = (
    Resistance("low", 1.0, "within", "within", "fires electronic flash and bulbs", "common practice: 0.5 to 1 ohm"),
    Resistance(
        "raised", 10.0, "within", "undecided",
        "fires an electronic flash, whose trigger takes milliamperes; a bulb takes about an ampere from a few volts and"
        " fires late or not at all: clean the contact, and look for a bad joint on the way",
        "common practice",
    ),
    Resistance(
        "high", 100.0, "undecided", "outside",
        "may fire an electronic flash and lets too little through for a bulb: dirty or burnt, clean or renew it",
        "common practice",
    ),
    Resistance(
        "very high", math.inf, "undecided", "outside",
        "lets no bulb fire and an electronic flash by chance: burnt, or no metal touches: clean or renew it, and"
        " bridge it with a wire to see that the lead is whole",
        "common practice",
    ),
)  # fmt: skip
"""Classes of a closed contact's resistance, least first."""


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


def window(contact: Contact, shutter: Shutter) -> Window | None:
    """The published window of a class on a kind of shutter, None where there is none."""
    return next((w for w in WINDOWS if (w.contact, w.shutter) == (contact, shutter)), None)
