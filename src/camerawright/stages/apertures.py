"""Which aperture is the widest, where it is told, and what it is stopped down."""

import re
from collections.abc import Iterable
from typing import Final

from camerawright.journal.entries import Measured
from camerawright.workshop.rows import Camera

_F_NUMBER_WORDS: Final = re.compile(r"\bf\s*/\s*(\d{1,2}(?:[.,]\d{1,2})?)(?![\d/])", re.I)


def widest_f_number(camera: Camera, readings: Iterable[Measured]) -> float | None:
    """The f-number wide open, where a reading's set-up or the variant's name says it ("f/3.5")."""
    told = [str(entry.setup.get("words") or "") for entry in readings]
    for words in (*told, camera.variant, camera.model):
        found = _F_NUMBER_WORDS.search(words)
        if found:
            return float(found[1].replace(",", ".")) or None
    return None


def stopped_name(stops_down: float, widest: float | None) -> str:
    """An aperture by its f-number, to two digits; by the stops where the widest is not known."""
    if widest is None:
        return f"{stops_down:g} stop{'s' * (stops_down != 1)} down"
    return f"f/{float(f'{widest * 2 ** (stops_down / 2):.2g}'):g}"
