"""A shutter result as JSON for scripts, storage and plots, and as lines for the terminal."""

import math

from camerawright.bench.comparison_record import (
    budget_as_json,
    comparison_as_json,
    firing_time_text,
    never_less,
    summary,
    time_text,
)
from camerawright.bench.contract import Json, input_words, refused_record
from camerawright.bench.shutter.measure import METHOD
from camerawright.bench.shutter.result import Firing, ShutterResult, StoppedDown
from camerawright.bench.shutter.speeds import Speed
from camerawright.handbook.exposure import name_of
from camerawright.numeric.instrument import Instrument, combined, instrument_as_json
from camerawright.quantity import coverage_factor
from camerawright.trouble import NotMeasurable

_HEAD = f"{'':>3} {'at':>8} {'effective [ms]':>17} {'':>7} {'half-peak [ms]':>17} {'10 % to 10 % [ms]':>17} {'eff.':>5}"


def as_json(result: ShutterResult, found: tuple[Speed, ...] = (), *, remembered: Instrument | None = None) -> Json:
    """The whole result; `compared` is null unless the firings are of one marked speed, `speeds` has them all."""
    named = [f"{_name(speed)}: {flag}" if len(found) > 1 else flag for speed in found for flag in speed.flags]
    only = found[0].comparison if len(found) == 1 else None
    return {
        "test": "shutter",
        "method": METHOD,
        "firings": [_firing(firing) for firing in result.firings],
        "skipped": [skipped.as_json for skipped in result.skipped],
        "flags": [*result.flags, *named],
        "refused": None,
        "input": {
            "rate_hz": result.rate_hz,
            "channel": result.i_channel + 1,
            "is_inverted": result.is_inverted,
            "corners_hz": list(result.coupling.corners_hz),
            "undo_a_per_s": result.coupling.a,
            "undo_b_per_s2": result.coupling.b,
            "undo_e_per_s2": result.coupling.e,
            "u_undo_a_per_s": math.sqrt(result.coupling.covariance[0, 0]),
            "u_undo_b_per_s2": math.sqrt(result.coupling.covariance[1, 1]),
            "alone": instrument_as_json(
                combined(None, result.coupling_alone.a, result.coupling_alone.b, result.coupling_alone.covariance)
            ),
            "remembered": instrument_as_json(remembered) if remembered else None,
            "sensor": result.sensor.name,
        },
        "chain": {
            "asked_hz": result.chain.asked_hz,
            "reached_hz": result.chain.reached_hz,
            "from_hz": result.chain.from_hz,
        },
        "speeds": [_speed(speed) for speed in found],
        "compared": comparison_as_json(only) if only else None,
    }


def refused_as_json(why: NotMeasurable) -> Json:
    """The record of a refusal: same keys, no firings."""
    return refused_record("shutter", METHOD, why, chain=None, speeds=[])


def _firing(firing: Firing) -> Json:
    """One firing: the contract's keys first, then the rest."""
    return {
        "at_s": firing.at_s,
        "total_s": firing.total.value,
        "half_peak_s": firing.half_peak.value,
        "effective_s": firing.effective.value,
        "efficiency": firing.efficiency,
        "u_total_s": firing.total.u,
        "u_half_peak_s": firing.half_peak.u,
        "u_effective_s": firing.effective.u,
        "flags": list(firing.flags),
        "opening_s": firing.opening.value,
        "u_opening_s": firing.opening.u,
        "closing_s": firing.closing.value,
        "u_closing_s": firing.closing.u,
        "k95_effective": coverage_factor(firing.effective.dof),
        "level_fs": firing.level,
        "snr_db": firing.snr_db,
        "has_plateau": firing.has_plateau,
        "level_from": firing.level_from,
        "opens_to": firing.opens_to,
        "u_opens_to": firing.u_opens_to,
        "slope": firing.slope,
        "u_slope": firing.u_slope,
        "bounce": firing.bounce,
        "dip": firing.dip,
        "bounce_seen_from": firing.bounce_seen_from,
        "tail_s": firing.tail_s,
        "stopped_down": _stopped_down(firing.stopped_down),
        "budget_effective": budget_as_json(firing.effective),
    }


def _name(speed: Speed) -> str:
    """A set by its mark, or by its mean time."""
    return speed.comparison.speed.text if speed.comparison else name_of(speed.effective.value)


def _speed(speed: Speed) -> Json:
    """The firings of one setting of the dial."""
    return {
        "i_firings": list(speed.i_firings),
        "likely": speed.likely.text if speed.likely else None,
        "effective_s": speed.effective.value,
        "u_effective_s": speed.effective.u,
        "k95_effective": coverage_factor(speed.effective.dof),
        "budget_effective": budget_as_json(speed.effective),
        "repeatability_stops": speed.repeatability_ev,
        "first": {"stops": speed.first.away, "by_chance_stops": speed.first.reach} if speed.first else None,
        "drift": {"stops": speed.drift.total, "probability": speed.drift.probability} if speed.drift else None,
        "stopped_down": _stopped_down(speed.stopped_down),
        "compared": comparison_as_json(speed.comparison) if speed.comparison else None,
    }


def _stopped_down(found: tuple[StoppedDown, ...]) -> list[Json]:
    """Effective times with the lens stopped down."""
    return [
        {
            "stops_down": one.stops,
            "effective_s": one.effective.value,
            "u_effective_s": one.effective.u,
            "k95_effective": coverage_factor(one.effective.dof),
        }
        for one in found
    ]


def lines(record: Json) -> list[str]:
    """The summary for the terminal, from the record."""
    if record["refused"]:
        return [f"Not measurable: {record['refused']['reason']}.", f"{record['refused']['advice']}."]
    firings = record["firings"]
    out = [_header(record), *filter(None, [input_words(record)]), ""]
    for speed in record["speeds"]:
        compared = speed["compared"]
        out.append(_HEAD + _stops_head(compared))
        for n, i in enumerate(speed["i_firings"]):
            out.append(_row(i + 1, firings[i], compared["firings"][n] if compared else None))
            out.extend(f"      ! {flag}" for flag in firings[i]["flags"])
        out.extend(["", *(summary(compared) if compared else _uncompared(speed))])
        own = [firings[i] for i in speed["i_firings"]]
        out.extend([*_opening_lines(own), *_stopped_lines(speed), *_bounce_lines(own), ""])
    out.extend(f"      - at {s['at_s']:.2f} s: not measured, {s['reason']}" for s in record["skipped"])
    out.extend(_all_speeds(record["speeds"]))
    out.append(_chain_line(record["chain"]))
    out.extend(f"! {flag}" for flag in record["flags"])
    return out


def _all_speeds(speeds: list[Json]) -> list[str]:
    """The whole dial in a few lines, where there are several speeds."""
    compared = [speed["compared"] for speed in speeds if speed["compared"]]
    if len(compared) < 2:
        return []
    rows = [
        f"{one['marked']:<8} {name_of(one['mean_s']):>7} {one['mean_stops']:>+10.2f} ±"
        f" {never_less(one['U95_mean_stops'])}  {one['verdict'] or 'no limits'}"
        for one in compared
    ]
    return [f"{'Marked':<8} {'gives':>7} {'stops':>17}  verdict", *rows, ""]


def _uncompared(speed: Json) -> list[str]:
    """A set of firings without a mark."""
    expanded_ms = 1e3 * speed["k95_effective"] * speed["u_effective_s"]
    likely = f"; the nearest mark is {speed['likely']}" if speed["likely"] else ""
    n = len(speed["i_firings"])
    out = [f"Mean of {n}: {time_text(speed['effective_s'], expanded_ms)}, {name_of(speed['effective_s'])}{likely}"]
    if speed["repeatability_stops"] is not None:
        out.append(f"Repeatability {speed['repeatability_stops']:.3f} stops (standard deviation of a firing)")
    return out


def _stopped_lines(speed: Json) -> list[str]:
    """What the curve of light says of smaller apertures."""
    shown = [one for one in speed["stopped_down"] if one["stops_down"] in (2, 4)]
    return [
        "Stopped down by " + ", by ".join(
            f"{one['stops_down']:.0f} stops: {name_of(one['effective_s'])},"
            f" {time_text(one['effective_s'], 1e3 * one['k95_effective'] * one['u_effective_s'])}"
            f" ({math.log2(one['effective_s'] / speed['effective_s']):+.2f} stop)"
            for one in shown
        )
    ] if shown else []  # fmt: skip


def _opening_lines(firings: list[Json]) -> list[str]:
    """How far a speed opens that is too fast to stay fully open."""
    short = [firing for firing in firings if firing["level_from"] == "slower firings"]
    if not short:
        return []
    least = min(short, key=lambda firing: float(firing["opens_to"]))
    return [
        f"Does not stay fully open; opens to {100 * least['opens_to']:.0f} ± {200 * least['u_opens_to']:.0f} % of what"
        " the slower firings open to, whose level is used"
    ]


def _bounce_lines(firings: list[Json]) -> list[str]:
    """What would have been seen of a bounce, where none was."""
    limits = [firing["bounce_seen_from"] for firing in firings]
    if any(firing["bounce"] or firing["dip"] for firing in firings):
        return []
    if any(limit is None for limit in limits):
        return ["Whether the blades bounce cannot be told: the dark beside a firing is disturbed"]
    return [f"No bounce; one of more than {100 * max(limits):.0f} % would have been seen"]


def _chain_line(chain: Json) -> str:
    """How far the set-up is from what the standard asks; never a claim."""
    return (
        f"Set-up: ISO 516 asks for a chain flat from DC to {_khz(chain['asked_hz'])}; this one passes"
        f" {chain['from_hz']:.2g} Hz to {_khz(chain['reached_hz'])}, what is lost below is computed; no conformity is"
        " claimed"
    )


def _khz(f_hz: float) -> str:
    """A frequency in kilohertz."""
    return f"{f_hz / 1e3:.3g} kHz"


def _header(record: Json) -> str:
    """One line on what was heard."""
    corners = " and ".join(f"{corner:.2g}" for corner in record["input"]["corners_hz"])
    n = len(record["firings"])
    return f"{n} firing{'s' * (n != 1)}; input AC coupled at {corners} Hz, undone; ± is the 95 % interval"


def _stops_head(compared: Json | None) -> str:
    """Head of the last columns."""
    return f" {'stops from ' + compared['marked']:>22}  verdict" if compared else ""


def _row(n: int, firing: Json, one: Json | None) -> str:
    """One firing in milliseconds, a fraction, and stops."""
    times = [
        f"{firing_time_text(firing, name).removesuffix(' ms'):>17}" for name in ("effective", "half_peak", "total")
    ]
    text = (
        f"{n:>3} {firing['at_s']:>6.2f} s {times[0]} {name_of(firing['effective_s']):>7} {times[1]} {times[2]}"
        f" {100 * firing['efficiency']:>3.0f} %"
    )
    if one:
        text += f" {one['stops']:>+13.2f} ± {never_less(one['U95_stops'])}    {one['verdict'] or 'no limits'}"
    return text
