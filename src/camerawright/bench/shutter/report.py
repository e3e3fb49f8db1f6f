"""A shutter result as JSON for scripts, storage and plots, and as lines for the terminal."""

from camerawright.bench.comparison import Comparison
from camerawright.bench.comparison_record import budget_as_json, comparison_as_json, summary, time_text
from camerawright.bench.contract import Json, NotMeasurable
from camerawright.bench.shutter.measure import METHOD
from camerawright.bench.shutter.result import Firing, ShutterResult
from camerawright.handbook.exposure import name_of
from camerawright.quantity import coverage_factor


def as_json(result: ShutterResult, comparison: Comparison | None = None) -> Json:
    """The whole result; `compared` is null without a marked speed."""
    flags = [*result.flags, *(comparison.flags if comparison else ())]
    return {
        "test": "shutter",
        "method": METHOD,
        "firings": [_firing(firing) for firing in result.firings],
        "skipped": [{"at_s": s.at_s, "reason": s.reason, "advice": s.advice} for s in result.skipped],
        "flags": flags,
        "refused": None,
        "input": {
            "rate_hz": result.rate_hz,
            "channel": result.i_channel + 1,
            "is_inverted": result.is_inverted,
            "corners_hz": list(result.coupling.corners_hz),
            "undo_a_per_s": result.coupling.a,
            "undo_b_per_s2": result.coupling.b,
            "undo_e_per_s2": result.coupling.e,
            "sensor": result.sensor.name,
        },
        "compared": comparison_as_json(comparison) if comparison else None,
    }


def refused_as_json(why: NotMeasurable) -> Json:
    """The record of a refusal: same keys, no firings."""
    return {
        "test": "shutter",
        "method": METHOD,
        "firings": [],
        "skipped": [],
        "flags": [],
        "refused": {"reason": why.reason, "advice": why.advice},
        "input": None,
        "compared": None,
    }


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
        "budget_effective": budget_as_json(firing.effective),
    }


def lines(record: Json) -> list[str]:
    """The summary for the terminal, from the record."""
    if record["refused"]:
        return [f"Not measurable: {record['refused']['reason']}.", f"{record['refused']['advice']}."]
    compared = record["compared"]
    out = [_header(record), ""]
    out.append(
        f"{'':>3} {'at':>8} {'effective':>20} {'half-peak':>10} {'total 10 %':>10} {'eff.':>5}" + _stops_head(compared)
    )
    for n, firing in enumerate(record["firings"], start=1):
        out.append(_row(n, firing, compared))
        out.extend(f"      ! {flag}" for flag in firing["flags"])
    out.extend(f"      - at {s['at_s']:.2f} s: not measured, {s['reason']}" for s in record["skipped"])
    if compared:
        out.extend(["", *summary(compared)])
    out.extend(f"! {flag}" for flag in record["flags"])
    return out


def _header(record: Json) -> str:
    """One line on what was heard."""
    corners = " and ".join(f"{corner:.2g}" for corner in record["input"]["corners_hz"])
    n = len(record["firings"])
    return f"{n} firing{'s' * (n != 1)}; input AC coupled at {corners} Hz, undone; ± is the 95 % interval"


def _stops_head(compared: Json | None) -> str:
    """Head of the last columns."""
    return f" {'stops from ' + compared['marked']:>22}  verdict" if compared else ""


def _row(n: int, firing: Json, compared: Json | None) -> str:
    """One firing in milliseconds, a fraction, and stops."""
    effective_s = firing["effective_s"]
    expanded_ms = 1e3 * firing["k95_effective"] * firing["u_effective_s"]
    text = (
        f"{n:>3} {firing['at_s']:>6.2f} s {time_text(effective_s, expanded_ms):>12} {name_of(effective_s):>7}"
        f" {1e3 * firing['half_peak_s']:>7.2f} ms {1e3 * firing['total_s']:>7.2f} ms"
        f" {100 * firing['efficiency']:>3.0f} %"
    )
    if compared:
        one = compared["firings"][n - 1]
        text += f" {one['stops']:>+13.2f} ± {one['U95_stops']:.2f}    {one['verdict'] or 'no limits'}"
    return text
