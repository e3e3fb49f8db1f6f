"""The speeds of one reading, as text: each against its mark, what its firings say together, and the budget."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import Speed
from camerawright.journal.entries import Measured
from camerawright.quantity import BudgetLine, Word
from camerawright.readings.apertures import Aperture, effective_at, taken_at
from camerawright.readings.recorded import speeds
from camerawright.readings.rows import dial_time, milliseconds, reading_shown
from camerawright.readings.shown import Reading
from camerawright.wording import numbers
from camerawright.wording.verdicts import NO_LIMITS

_LEAST_SCALE = 0.5  # stops


@dataclass(frozen=True, kw_only=True)
class Bar:
    """An error with its 95 % interval on a scale from 0 to 100, 50 being as marked; the tolerance likewise."""

    at: float
    low: float
    high: float
    band: tuple[float, float] | None


@dataclass(frozen=True, kw_only=True)
class BudgetRow:
    """One line of an uncertainty budget: standard uncertainty, and how well that is known itself."""

    name: str
    u: str
    dof: str
    kind: str  # by statistics (A) or otherwise (B), JCGM 100:2008, 0.7


@dataclass(frozen=True, kw_only=True)
class PointShown:
    """The error at one place of the gate."""

    place: str
    error: str
    verdict: Word | None


@dataclass(frozen=True, kw_only=True)
class SpeedShown:
    """One setting of the dial."""

    marked: str  # as engraved, "" without one
    guess: str  # the nearest mark, where none was given
    read: Reading
    allowed: str
    bar: Bar | None
    firings: str  # by their numbers, "" where they are all of the reading
    remarks: tuple[str, ...]
    points: tuple[PointShown, ...]
    stopped: tuple[tuple[str, str, str], ...]  # aperture, effective time, off the mark or off wide open
    stopped_from: str
    budget: tuple[BudgetRow, ...]
    budget_unit: str


def speeds_shown(entry: Measured, apertures: tuple[Aperture, ...]) -> tuple[SpeedShown, ...]:
    """Every speed of a reading, in the order of its record; none where its test compares nothing.

    Parameters
    ----------
    apertures
        Of the lens: at each smaller one than it was read at the speed is predicted, where its record can tell it.
    """
    found = speeds(entry)
    scale = _scale([one.compared for one in found if one.compared])
    taken = taken_at(entry, apertures)
    smaller = tuple(Aperture(one.name, one.stops_down - taken) for one in apertures if one.stops_down > taken)
    return tuple(_shown(one, scale, smaller, is_only=len(found) == 1) for one in found if one.compared or one.effective)


def _scale(against: Sequence[Comparison]) -> float:
    """The least number of half stops that holds every interval and tolerance."""
    ends = [abs(one.mean.value) + one.mean.expanded_u for one in against]
    ends += [max(abs(one.lower_ev), abs(one.upper_ev or 0.0)) for one in against if one.lower_ev is not None]
    return max(_LEAST_SCALE, math.ceil(2 * 1.05 * max(ends, default=0)) / 2)


def _shown(one: Speed, scale: float, smaller: tuple[Aperture, ...], *, is_only: bool) -> SpeedShown:
    """One speed, with its comparison where a mark was given."""
    against = one.compared
    return SpeedShown(
        marked=against.marked if against else "",
        guess="" if against else one.likely,
        read=reading_shown(against) if against else _unmarked(one),
        allowed=_allowed(against),
        bar=_bar(against, scale) if against else None,
        firings="" if is_only else ", ".join(str(i + 1) for i in one.i_firings),
        remarks=(*one.remarks, *_against_remarks(against)),
        points=tuple(
            PointShown(
                place=f"{numbers.short(point.at_mm)} mm",
                error=numbers.stops(point.error.value, point.error.expanded_u),
                verdict=point.verdict,
            )
            for point in one.points
        ),
        stopped=tuple(_stopped(one, smaller)),
        stopped_from=against.marked if against else "wide open",
        budget=_budget(against.mean.budget, 1.0) if against else _budget(one.effective.budget, 1e3)
        if one.effective else (),
        budget_unit="stops" if against else "ms",
    )  # fmt: skip


def _unmarked(one: Speed) -> Reading:
    """A set of firings that no mark was given for."""
    if one.effective is None:
        return Reading(value="", error="", n=len(one.i_firings))
    time_s = one.effective.value
    ms = milliseconds(time_s, one.effective.expanded_u / time_s)
    return Reading(value=f"{dial_time(time_s)} ({ms})", error="", n=len(one.i_firings))


def _allowed(against: Comparison | None) -> str:
    if against is None:
        return ""
    if against.lower_ev is None or against.upper_ev is None:
        return NO_LIMITS
    return f"{numbers.signed(against.lower_ev)} to {numbers.signed(against.upper_ev)}"


def _bar(against: Comparison, scale: float) -> Bar:
    def at(stops: float) -> float:
        return round(50 + 50 * max(-scale, min(scale, stops)) / scale, 2)

    mean, expanded = against.mean.value, against.mean.expanded_u
    band = None
    if against.lower_ev is not None and against.upper_ev is not None:
        band = (at(against.lower_ev), at(against.upper_ev))
    return Bar(at=at(mean), low=at(mean - expanded), high=at(mean + expanded), band=band)


def _against_remarks(against: Comparison | None) -> Iterator[str]:
    """What the comparison says besides its numbers."""
    if against is None:
        return
    if against.verdict == "undecided":
        yield (
            f"Undecided: {numbers.counted(against.more_firings, 'more firing')} like these would decide."
            if against.more_firings
            else "Undecided: more firings alone would not decide, the speed lies too near a limit."
        )
    if against.source:
        yield f"Tolerance: {against.source}."


def _stopped(one: Speed, smaller: tuple[Aperture, ...]) -> Iterator[tuple[str, str, str]]:
    """Each smaller aperture: what the light curve says of it."""
    wide_open_s = one.effective.value if one.effective else 1.0
    for aperture in smaller:
        time = effective_at(one, aperture.stops_down)
        if time is None:
            continue
        off = math.log2(time.value / (one.compared.target_s if one.compared else wide_open_s))
        ms = milliseconds(time.value, time.expanded_u / time.value)
        yield aperture.name, f"{dial_time(time.value)} ({ms})", numbers.signed(off)


def _budget(lines: Sequence[BudgetLine], scale: float) -> tuple[BudgetRow, ...]:
    return tuple(
        BudgetRow(
            name=line.name,
            u=_small(scale * line.u),
            dof="∞" if math.isinf(line.dof) else numbers.fixed(line.dof, 0),
            kind=line.kind,
        )
        for line in sorted(lines, key=lambda line: -line.u)
    )


def _small(value: float) -> str:
    """Two digits, never as a power of ten; what no sum would show is less than something."""
    return "< 0.0001" if value < 1e-4 else numbers.significant(value, 2)
