"""Nominal diameters of the screw threads that old cameras have, from how the trade writes their size."""

import re
from dataclasses import dataclass

from camerawright.handbook.tables import FROM_MEMORY

MM_PER_INCH = 25.4
"""Exact. [mm]"""

# What is read is what the bench's notation writes: M1.7, M1.7x0.35, S0.8, 10BA, 0-80, 00-90, 1/4-20, 1/4 BSW.
_METRIC = re.compile(r"([MS])(\d+(?:\.\d+)?)(?:x\d+(?:\.\d+)?)?", re.I)
_BA = re.compile(r"(\d{1,2})BA", re.I)
_NUMBERED = re.compile(r"#?(0{1,4}|[1-9]\d?)-(\d{2,3})")
_FRACTION = re.compile(r"([1-9]\d?)/([1-9]\d?)(?:-\d{2,3}|BSW|BSF|UNC|UNF)", re.I)

_BA_FINEST = 25  # [bs-93] as tabulated goes to 16; the finer ones by the same formula, from memory
_UNIFIED_COARSEST = 12  # numbered sizes end there, from memory


@dataclass(frozen=True, slots=True)
class Diameter:
    """A nominal (basic major) diameter and what it rests on.

    Parameters
    ----------
    mm
        [mm]
    source
        A key of docs/sources.md, or "from memory".
    """

    mm: float
    source: str


def nominal_diameter(size: str) -> Diameter | None:
    """Say how thick a thread nominally is, or `None` where the size is none of a known series.

    Parameters
    ----------
    size
        As the trade writes it: ``M1.7``, ``M1.7x0.35``, ``S0.8``, ``10BA``, ``0-80``, ``00-90``, ``1/4-20``,
        ``1/4 BSW``.

    Notes
    -----
    - M and S: the number is the diameter in mm (ISO 261, ISO 1501).
    - BA: D = 6 p^1.2 mm with p = 0.9^n mm, rounded to two significant figures.
    - numbered unified: D = 0.060 + 0.013 n in; each further nought counts one below (00 is -1), from memory.
    - unified and Whitworth by the fraction: its inches.

    References
    ----------
    [iso-261] designation; [iso-1501] designation; [bs-93] table of BA threads; [asme-b1-1] table of numbered sizes.
    """
    text = "".join(size.split())
    if found := _METRIC.fullmatch(text):
        return _drawable(float(found[2]), "iso-261" if found[1].upper() == "M" else "iso-1501")
    if (found := _BA.fullmatch(text)) and int(found[1]) <= _BA_FINEST:
        n = int(found[1])
        return Diameter(_two_figures(6 * (0.9**n) ** 1.2), "bs-93" if n <= 16 else FROM_MEMORY)
    if found := _NUMBERED.fullmatch(text):
        n = int(found[1]) if found[1].strip("0") else 1 - len(found[1])
        if n <= _UNIFIED_COARSEST:
            inches = (60 + 13 * n) / 1000
            return Diameter(inches * MM_PER_INCH, "asme-b1-1" if n >= 0 else FROM_MEMORY)
    if found := _FRACTION.fullmatch(text):
        return _drawable(int(found[1]) / int(found[2]) * MM_PER_INCH, "asme-b1-1")
    return None


def _drawable(mm: float, source: str) -> Diameter | None:
    """The diameter, if a screw of a camera can have it: 0.3 mm is the finest of ISO 1501, 25 mm no screw any more."""
    return Diameter(mm, source) if 0.25 <= mm <= 25 else None


def _two_figures(value: float) -> float:
    """Rounded as the standard's table is."""
    return float(f"{value:.2g}")
