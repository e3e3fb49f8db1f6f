"""One speed of a reading, as text: against its mark, what its firings say together, and the budget."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import Speed
from camerawright.quantity import BudgetLine, Word
from camerawright.readings.apertures import Aperture, effective_at
from camerawright.readings.rows import Reading, dial_time, milliseconds, reading_shown
from camerawright.wording import numbers
from camerawright.wording.verdicts import NO_LIMITS


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
    """The details of one setting of the dial."""

    remarks: tuple[str, ...]
    points: tuple[PointShown, ...]
    stopped: tuple[tuple[str, str, str], ...]  # aperture, effective time, off the mark or off wide open
    stopped_from: str
    budget: tuple[BudgetRow, ...]
    budget_unit: str


def speed_shown(one: Speed, smaller: tuple[Aperture, ...]) -> SpeedShown:
    """What the firings of one speed say together, and the budget.

    Parameters
    ----------
    smaller
        Apertures of the lens: at each the speed is predicted, where its record can tell it.
    """
    against = one.compared
    return SpeedShown(
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


def speed_read(one: Speed) -> Reading:
    """What the firings of one speed give, against their mark where one was given."""
    if one.compared is not None:
        return reading_shown(one.compared)
    if one.effective is None:
        return Reading(value="", error="", n=len(one.i_firings))
    time_s = one.effective.value
    ms = milliseconds(time_s, one.effective.expanded_u / time_s)
    return Reading(value=f"{dial_time(time_s)} ({ms})", error="", n=len(one.i_firings))


def allowed(against: Comparison | None) -> str:
    """How far a speed may be off, in stops."""
    if against is None:
        return ""
    if against.lower_ev is None or against.upper_ev is None:
        return NO_LIMITS
    return f"{numbers.signed(against.lower_ev)} to {numbers.signed(against.upper_ev)}"


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
