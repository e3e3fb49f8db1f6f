"""The speeds of one reading, as text: each against its mark, what its firings say together, and the budget."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from camerawright.bench.comparison_record import never_less
from camerawright.bench.contract import Json, comparisons
from camerawright.bench.plot_words import significant
from camerawright.journal.entries import Measured
from camerawright.quantity import Word
from camerawright.readings.apertures import stopped_name
from camerawright.readings.rows import (
    Read,
    milliseconds,
    reading_shown,
    stops_text,
    time_text,
)
from camerawright.readings.shown import Reading

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
class Point:
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
    points: tuple[Point, ...]
    stopped: tuple[tuple[str, str, str], ...]  # aperture, effective time, off the mark or off wide open
    stopped_from: str
    budget: tuple[BudgetRow, ...]
    budget_unit: str


def speeds_shown(entry: Measured, widest: float | None) -> tuple[SpeedShown, ...]:
    """Every speed of a reading, in the order of its record; none where its test compares nothing.

    Parameters
    ----------
    widest
        The f-number wide open, if it is known.
    """
    record: Json = dict(entry.result)
    sets = [one for one in record.get("speeds") or () if "i_firings" in one]
    against = [one["compared"] for one in sets] if sets else comparisons(record)
    scale = _scale([one for one in against if one])
    if not sets:
        return tuple(_shown(entry, None, one, scale, widest, is_only=len(against) == 1) for one in against)
    return tuple(_shown(entry, one, one["compared"], scale, widest, is_only=len(sets) == 1) for one in sets)


def _scale(against: Sequence[Json]) -> float:
    """The least number of half stops that holds every interval and tolerance."""
    ends = [abs(one["mean_stops"]) + one["U95_mean_stops"] for one in against]
    ends += [max(abs(one["lower_ev"]), abs(one["upper_ev"])) for one in against if one["lower_ev"] is not None]
    return max(_LEAST_SCALE, math.ceil(2 * 1.05 * max(ends, default=0)) / 2)


def _shown(
    entry: Measured, found: Json | None, against: Json | None, scale: float, widest: float | None, *, is_only: bool
) -> SpeedShown:
    """One speed, from its set of firings and its comparison; one of them may be missing."""
    return SpeedShown(
        marked=against["marked"] if against else "",
        guess=(found or {}).get("likely") or "" if not against else "",
        read=reading_shown(Read(entry=entry, against=against)) if against else _unmarked(found or {}),
        allowed=_allowed(against),
        bar=_bar(against, scale) if against else None,
        firings="" if is_only or not found else ", ".join(str(i + 1) for i in found["i_firings"]),
        remarks=tuple(_remarks(found or {}, against)),
        points=_points(against),
        stopped=tuple(_stopped(found or {}, against, widest)),
        stopped_from=against["marked"] if against else "wide open",
        budget=_budget(against["budget_mean"], 1.0) if against and "budget_mean" in against
        else _budget((found or {}).get("budget_effective", ()), 1e3),
        budget_unit="stops" if against else "ms",
    )  # fmt: skip


def _unmarked(found: Json) -> Reading:
    """A set of firings that no mark was given for."""
    expanded_s = found["k95_effective"] * found["u_effective_s"]
    ms = milliseconds(found["effective_s"], expanded_s / found["effective_s"])
    return Reading(
        value=f"{time_text(found['effective_s'])} ({ms})", error="", n=len(found["i_firings"]),
    )  # fmt: skip


def _allowed(against: Json | None) -> str:
    if not against or against["lower_ev"] is None:
        return "no limits" if against else ""
    return f"{stops_text(against['lower_ev'])} to {stops_text(against['upper_ev'])}"


def _bar(against: Json, scale: float) -> Bar:
    def at(stops: float) -> float:
        return round(50 + 50 * max(-scale, min(scale, stops)) / scale, 2)

    mean, expanded = against["mean_stops"], against["U95_mean_stops"]
    has_band = against["lower_ev"] is not None
    return Bar(
        at=at(mean),
        low=at(mean - expanded),
        high=at(mean + expanded),
        band=(at(against["lower_ev"]), at(against["upper_ev"])) if has_band else None,
    )


def _remarks(found: Json, against: Json | None) -> Iterator[str]:
    """What the firings say together."""
    spread = against.get("repeatability_stops") if against else found.get("repeatability_stops")
    if spread is not None:
        yield f"Repeatability: {never_less(spread)} stop, the standard deviation of one firing."
    if first := found.get("first"):
        yield (
            f"First firing after rest: {stops_text(first['stops'])} stops from the others; chance takes one"
            f" {first['by_chance_stops']:.2f} stop."
        )
    if drift := found.get("drift"):
        yield (
            f"Drift from the first to the last: {stops_text(drift['stops'])} stops; chance does that"
            f" {100 * drift['probability']:.0f} % of the time."
        )
    if even := (against or {}).get("evenness"):
        word = f", {even['verdict']}" if even["verdict"] else ""
        limit = f" of {even['limit_stops']:.2f}" if even["limit_stops"] is not None else ""
        yield f"Uneven over the gate by {even['uneven_stops']:.2f} stop{word}{limit} ({even['source']})."
    if against and against["verdict"] == "undecided":
        more = against.get("more_firings")
        yield (
            f"Undecided: {more} more firing{'s' * (more != 1)} would decide, were they like these."
            if more
            else "Undecided: more firings alone would not decide, it lies too near a limit."
        )
    if against and against.get("source"):
        yield f"Tolerance: {against['source']}."


def _points(against: Json | None) -> tuple[Point, ...]:
    return tuple(
        Point(
            place=f"{one['at_mm']:g} mm",
            error=f"{stops_text(one['stops'])} ± {never_less(one['U95_stops'])}",
            verdict=one["verdict"],
        )
        for one in (against or {}).get("points") or ()
    )


def _stopped(found: Json, against: Json | None, widest: float | None) -> Iterator[tuple[str, str, str]]:
    """Each smaller aperture: what the light curve says of it."""
    for one in found.get("stopped_down") or ():
        relative = one["k95_effective"] * one["u_effective_s"] / one["effective_s"]
        ms = milliseconds(one["effective_s"], relative)
        from_s = against["target_s"] if against else found["effective_s"]
        off = math.log2(one["effective_s"] / from_s)
        yield stopped_name(one["stops_down"], widest), f"{time_text(one['effective_s'])} ({ms})", stops_text(off)


def _budget(lines: Sequence[Json], scale: float) -> tuple[BudgetRow, ...]:
    return tuple(
        BudgetRow(
            name=line["name"],
            u=_small(scale * line["u"]),
            dof="∞" if line["dof"] is None else f"{line['dof']:.0f}",
            kind=line["kind"],
        )
        for line in sorted(lines, key=lambda line: -line["u"])
    )


def _small(value: float) -> str:
    """Two digits, never as a power of ten; what no sum would show is less than something."""
    return "< 0.0001" if value < 1e-4 else significant(value, 2)
