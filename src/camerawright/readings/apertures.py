"""Which aperture is the widest, where it is told, and what it is stopped down."""

import math
import re
from collections.abc import Iterable
from typing import Final

from camerawright.journal.entries import Measured
from camerawright.readings.measuring import told_of
from camerawright.workshop.rows import Camera

_F_NUMBER_WORDS: Final = re.compile(r"\bf\s*/\s*(\d{1,2}(?:[.,]\d{1,2})?)(?![\d/])", re.I)

_ENGRAVED: Final = (1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0, 32.0, 45.0, 64.0)
_SAME: Final = 0.1  # stops: f/11 stands for 11.3, f/22 for 22.6


def widest_f_number(camera: Camera, readings: Iterable[Measured]) -> float | None:
    """The f-number wide open, where a reading's set-up or the variant's name says it ("f/3.5")."""
    told = [told_of(entry).words or "" for entry in readings]
    for words in (*told, camera.variant, camera.model):
        found = _F_NUMBER_WORDS.search(words)
        if found:
            return float(found[1].replace(",", ".")) or None
    return None


def stopped_name(stops_down: float, widest: float | None) -> str:
    """An aperture by its f-number, as engraved where it is one of the usual; by the stops without the widest."""
    if widest is None:
        return f"{stops_down:g} stop{'s' * (stops_down != 1)} down"
    exact = widest * 2 ** (stops_down / 2)
    for engraved in _ENGRAVED:
        if abs(2 * math.log2(exact / engraved)) < _SAME:
            return f"f/{engraved:g}"
    return f"f/{float(f'{exact:.2g}'):g}"
