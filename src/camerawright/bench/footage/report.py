"""A footage result as JSON for scripts, storage and plots, and as lines for the terminal."""

import math

from camerawright.bench.comparison import Comparison
from camerawright.bench.comparison_record import budget_as_json, comparison_as_json, never_less, summary, time_text
from camerawright.bench.contract import Json
from camerawright.bench.footage.lines import LineTime
from camerawright.bench.footage.measure import METHOD, Firing, FootageResult
from camerawright.handbook.exposure import name_of
from camerawright.quantity import coverage_factor
from camerawright.trouble import NotMeasurable

METHOD_LINE = "stripes of a blinking lamp, version 1"


def as_json(result: FootageResult, comparison: Comparison | None = None) -> Json:
    """The whole result; `compared` is null without a marked speed."""
    return {
        **_empty(result.method),
        "firings": [_firing(firing) for firing in result.firings],
        "skipped": [skipped.as_json for skipped in result.skipped],
        "flags": [*result.flags, *(comparison.flags if comparison else ())],
        "input": {
            "fps": 1 / result.interval_s,
            "slowed": result.slowed,
            "region_px": list(result.region_px),
            "level": result.level,
            "n_references": result.n_references,
            "edge_spread_frames": result.edge_spread,
        },
        "compared": comparison_as_json(comparison) if comparison else None,
    }


def line_time_as_json(found: LineTime) -> Json:
    """The record of a calibration: no firings, the line time."""
    return {
        **_empty(METHOD_LINE),
        "flags": list(found.flags),
        "line_time": {
            "line_time_s": found.line.value,
            "u_line_time_s": found.line.u,
            "k95": coverage_factor(found.line.dof),
            "readout_s": found.readout_s,
            "contrast": found.contrast,
            "n_frames": found.n_frames,
            "budget": budget_as_json(found.line),
        },
    }


def refused_as_json(why: NotMeasurable) -> Json:
    """The record of a refusal: same keys, no firings."""
    return {**_empty(METHOD), "refused": {"reason": why.what, "advice": why.mend}}


def _empty(method: str) -> Json:
    """The keys of every record."""
    return {
        "test": "footage",
        "method": method,
        "firings": [],
        "skipped": [],
        "flags": [],
        "refused": None,
        "input": None,
        "line_time": None,
        "compared": None,
    }


def _firing(firing: Firing) -> Json:
    """One firing."""
    return {
        "at_s": firing.at_s,
        "effective_s": firing.effective.value,
        "u_effective_s": firing.effective.u,
        "flags": list(firing.flags),
        "k95_effective": coverage_factor(firing.effective.dof),
        "frames_open": firing.frames_open,
        "level_from": firing.level_from,
        "budget_effective": budget_as_json(firing.effective),
        "frames": [
            {"frame": one.i_frame, "at_s": one.at_s, "light": one.light, "area": one.area, "u_area": one.u_area}
            for one in firing.frames
        ],
    }


def lines(record: Json) -> list[str]:
    """The summary for the terminal, from the record."""
    if record["refused"]:
        return [f"Not measurable: {record['refused']['reason']}.", f"{record['refused']['advice']}."]
    if record["line_time"]:
        return [*_line_time(record["line_time"]), *(f"! {flag}" for flag in record["flags"])]
    compared = record["compared"]
    n = len(record["firings"])
    held = record["input"]["n_references"]
    also = f", {held} opening{'s' * (held != 1)} held to show the level" if held else ""
    out = [
        f"{n} firing{'s' * (n != 1)}{also}; {record['input']['fps']:.4g} frames a second; ± is the 95 % interval",
        "",
    ]
    out.append(f"{'':>3} {'at':>8} {'effective':>20} {'frames':>8}" + _head(compared))
    for i, firing in enumerate(record["firings"]):
        out.append(_row(i, firing, compared))
        out.extend(f"      ! {flag}" for flag in firing["flags"])
    out.extend(f"      - at {s['at_s']:.2f} s: not measured, {s['reason']}" for s in record["skipped"])
    if compared:
        out.extend(["", *summary(compared)])
    out.extend(f"! {flag}" for flag in record["flags"])
    return out


def _line_time(found: Json) -> list[str]:
    """A calibration in words."""
    expanded = found["k95"] * found["u_line_time_s"]
    return [
        f"Line time of the camera that filmed: {_microseconds(found['line_time_s'], expanded)} µs (95 %), from"
        f" {found['n_frames']} frames",
        f"All rows are read in {1e3 * found['readout_s']:.3g} ms",
        "Clips of that camera can be measured by the band in one frame: tell the line time and its u with them (line"
        f" us): {1e6 * found['line_time_s']:.4f},{1e6 * found['u_line_time_s']:.4f}",
    ]


def _microseconds(time_s: float, expanded_s: float) -> str:
    """A time and its interval, to two digits of the latter."""
    digits = max(0, 1 - math.floor(math.log10(1e6 * expanded_s)))
    return f"{1e6 * time_s:.{digits}f} ± {1e6 * expanded_s:.{digits}f}"


def _head(compared: Json | None) -> str:
    """Head of the last columns."""
    return f" {'stops from ' + compared['marked']:>22}  verdict" if compared else ""


def _row(i: int, firing: Json, compared: Json | None) -> str:
    """One firing in milliseconds, a fraction, frames, and stops."""
    effective_s = firing["effective_s"]
    expanded_ms = 1e3 * firing["k95_effective"] * firing["u_effective_s"]
    text = (
        f"{i + 1:>3} {firing['at_s']:>6.2f} s {time_text(effective_s, expanded_ms):>12} {name_of(effective_s):>7}"
        f" {firing['frames_open']:>8}"
    )
    if compared:
        one = compared["firings"][i]
        text += f" {one['stops']:>+13.2f} ± {never_less(one['U95_stops'])}    {one['verdict'] or 'no limits'}"
    return text
