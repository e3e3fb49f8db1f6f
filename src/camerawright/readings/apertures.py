"""At which apertures of a lens a speed is shown, and how long it lets light through at each."""

import math
import re
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from camerawright.bench.contract import Speed
from camerawright.journal.entries import Measured
from camerawright.quantity import BudgetLine, Quantity
from camerawright.readings.set_up import told_of
from camerawright.wording import numbers
from camerawright.workshop.apertures import USUAL, aperture_name, usual_apertures
from camerawright.workshop.rows import Camera

_F_NUMBER_WORDS: Final = re.compile(r"\bf\s*/\s*(\d{1,2}(?:[.,]\d{1,2})?)(?![\d/])", re.I)

_SAME_STOPS: Final = 0.1
"""What engraved f-numbers are rounded by: f/11 stands for 11.3, f/22 for 22.6. [stops]"""
_PREDICTED_STOPS: Final = 4
"""How far apertures are shown that nobody entered: as far as light curves predict. [stops]"""
_MOST_BEYOND_STOPS: Final = 2.0


@dataclass(frozen=True)
class Aperture:
    """One aperture of a lens, and how far below the widest it is. [stops]"""

    name: str  # "f/5.6"; "2 stops down" where the f-numbers are not known
    stops_down: float


def apertures_of(camera: Camera, readings: Iterable[Measured]) -> tuple[Aperture, ...]:
    """The apertures to show, the widest first.

    Those engraved on the lens, where they were entered; else the usual ones from the widest that is known; else whole
    stops.
    """
    widest = widest_f_number(camera, readings)
    if camera.f_numbers:
        f_numbers = camera.f_numbers
    elif widest:
        f_numbers = tuple(
            f_number
            for f_number in usual_apertures(widest)
            if exact_stops(f_number) - exact_stops(widest) < _PREDICTED_STOPS + _SAME_STOPS
        )
    else:
        down = (f"{numbers.counted(n, 'stop')} down" for n in range(1, _PREDICTED_STOPS + 1))
        return tuple(Aperture(name, float(n)) for n, name in enumerate(("wide open", *down)))
    first = exact_stops(f_numbers[0])
    return tuple(Aperture(aperture_name(f_number), exact_stops(f_number) - first) for f_number in f_numbers)


def exact_stops(f_number: float) -> float:
    """How many stops below f/1 an engraved aperture is: a whole number where the engraving is rounded. [stops]"""
    stops = 2 * math.log2(f_number)
    is_usual = any(abs(f_number - usual) < 1e-9 for usual in USUAL)
    return float(round(stops)) if is_usual and abs(stops - round(stops)) < _SAME_STOPS else stops


def widest_f_number(camera: Camera, readings: Iterable[Measured]) -> float | None:
    """The f-number wide open: as engraved, or where a reading's set-up or the variant's name says it ("f/3.5")."""
    if camera.f_numbers:
        return camera.f_numbers[0]
    told = [told_of(entry).words or "" for entry in readings]
    return next(filter(None, map(_f_number_in, (*told, camera.variant, camera.model))), None)


def _f_number_in(words: str) -> float | None:
    found = _F_NUMBER_WORDS.search(words)
    return (float(found[1].replace(",", ".")) or None) if found else None


def taken_at(reading: Measured, apertures: tuple[Aperture, ...]) -> float:
    """How far the lens was stopped down for a reading: by the f-number in its set-up, else it was wide open. [stops]"""
    told = _f_number_in(told_of(reading).words or "")
    named = {aperture.name: aperture.stops_down for aperture in apertures}
    return named.get(aperture_name(told), 0.0) if told else 0.0


def smaller_apertures(camera: Camera, reading: Measured) -> tuple[Aperture, ...]:
    """The apertures smaller than the one that a reading was made at, and how far below that they are."""
    apertures = apertures_of(camera, (reading,))
    taken = taken_at(reading, apertures)
    return tuple(Aperture(one.name, one.stops_down - taken) for one in apertures if one.stops_down > taken)


def effective_at(speed: Speed, stops_down: float) -> Quantity | None:
    """The effective time of a speed with the lens stopped down from where it was read. [s]

    None where the record predicts nothing, for a wider aperture than it was read at, and more than two stops beyond the
    last prediction.

    Notes
    -----
    A round opening that grows at a steady rate uncovers an aperture of relative radius r = 2^(-stops/2) in a time that
    goes with r, so the effective time runs straight with r (`bench/shutter/aperture.py`). Between two predictions the
    uncertainty is that of the less certain one. Beyond the last, the further gain may be anything from none to twice
    the straight line's: a rectangle about it ([jcgm-100] 4.3.7). That holds for openings whose radius grows with any
    power of the time.
    """
    if speed.effective is None or not speed.stopped_down:
        return None
    known = [(0.0, speed.effective), *speed.stopped_down]
    if stops_down > known[-1][0] + _MOST_BEYOND_STOPS:
        return None
    radius = _radius(stops_down)
    for (wide_stops, wide), (narrow_stops, narrow) in pairwise(known):
        wide_radius, narrow_radius = _radius(wide_stops), _radius(narrow_stops)
        if not radius < wide_radius:
            continue
        part = (wide_radius - radius) / (wide_radius - narrow_radius)
        value_s = wide.value + (narrow.value - wide.value) * part
        if part <= 1 + 1e-9:
            return Quantity(value_s, "s", max(wide, narrow, key=lambda one: one.u).budget)
        if (narrow_stops, narrow) == known[-1]:
            beyond = BudgetLine("beyond the last prediction", abs(value_s - narrow.value) / math.sqrt(3))
            return Quantity(value_s, "s", (*narrow.budget, beyond))
    return None


def _radius(stops_down: float) -> float:
    """Of an aperture, relative to the widest: half the light is a stop, and light goes with the radius squared."""
    return float(2.0 ** (-stops_down / 2))
