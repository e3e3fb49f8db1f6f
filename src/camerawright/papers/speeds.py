"""The marked speeds of a job, before and after the work and at each aperture: for certificate and owner's card."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import Speed
from camerawright.handbook.exposure import stops
from camerawright.journal.entries import Measured
from camerawright.quantity import Quantity, Word, verdict
from camerawright.readings.apertures import Aperture, apertures_of, effective_at, taken_at
from camerawright.readings.recorded import speeds
from camerawright.readings.rows import Read, Row, rows
from camerawright.workshop.apertures import USUAL, aperture_name
from camerawright.workshop.rows import Camera

MOST_APERTURES: Final = 9
"""So many have room on the owner's card; of more, the usual ones stay."""
_SAME_STOPS: Final = 0.05


@dataclass(frozen=True, kw_only=True)
class AtAperture:
    """How far a speed is off its mark at one aperture. [stops]"""

    error: Quantity
    verdict: Word | None


def surest(measured: Sequence[Measured]) -> tuple[Row, ...]:
    """Each marked speed once, slowest first: where several tests read one, the surest reading of each phase."""
    found: dict[str, Row] = {}
    for test in CATALOGUE:
        for row in rows(measured, test):
            known = found.get(row.marked)
            found[row.marked] = row if known is None else Row(
                marked=row.marked,
                as_found=_surer(known.as_found, row.as_found),
                as_left=_surer(known.as_left, row.as_left),
            )  # fmt: skip
    return tuple(sorted(found.values(), key=lambda row: -row.read[0].against.target_s))


def _surer(one: Read | None, other: Read | None) -> Read | None:
    """The reading with the narrower interval."""
    there = [read for read in (one, other) if read]
    return min(there, key=lambda read: read.against.mean.expanded_u, default=None)


@dataclass(frozen=True, kw_only=True)
class ByAperture:
    """Apertures, and how far each reading is off its mark at each of them; None where nothing tells it."""

    apertures: tuple[Aperture, ...]
    cells: tuple[tuple[AtAperture | None, ...], ...]  # for each reading


def by_aperture(camera: Camera, reads: Sequence[Read]) -> ByAperture:
    """The readings at the apertures of the lens; those at which no reading can be told are left out."""
    apertures = _few(apertures_of(camera, [read.entry for read in reads]))
    cells = [tuple(_at(read, aperture, apertures) for aperture in apertures) for read in reads]
    told = [i for i in range(len(apertures)) if any(row[i] for row in cells)]
    return ByAperture(
        apertures=tuple(apertures[i] for i in told), cells=tuple(tuple(row[i] for i in told) for row in cells)
    )


def _few(apertures: tuple[Aperture, ...]) -> tuple[Aperture, ...]:
    """As many as the owner's card has room for."""
    if len(apertures) <= MOST_APERTURES:
        return apertures
    usual = {aperture_name(f_number) for f_number in USUAL}
    return (apertures[0], *(each for each in apertures[1:] if each.name in usual))[:MOST_APERTURES]


def _at(read: Read, aperture: Aperture, apertures: tuple[Aperture, ...]) -> AtAperture | None:
    """One speed at one aperture: as read where it was read at that, else as the light curve predicts."""
    against = read.against
    stops_down = aperture.stops_down - taken_at(read.entry, apertures)
    if abs(stops_down) < _SAME_STOPS:
        return AtAperture(error=against.mean, verdict=against.verdict)
    time = effective_at(speed_of(read), stops_down)
    if time is None:
        return None
    error = _in_stops(time, against)
    if against.lower_ev is None or against.upper_ev is None:
        return AtAperture(error=error, verdict=None)
    word = verdict(error.value, error.u, error.dof, against.lower_ev, against.upper_ev).word
    return AtAperture(error=error, verdict=word)


def speed_of(read: Read) -> Speed:
    """The setting of the dial that a reading is of, in its record."""
    return next(
        speed for speed in speeds(read.entry) if speed.compared and speed.compared.marked == read.against.marked
    )


def _in_stops(time: Quantity, against: Comparison) -> Quantity:
    """How far a time is off its mark: ln 2 · d(stops) = dt / t."""
    per_s = 1 / (time.value * math.log(2))
    budget = tuple(replace(line, u=line.u * per_s) for line in time.budget)
    return Quantity(stops(time.value, against.target_s), "stop", budget)
