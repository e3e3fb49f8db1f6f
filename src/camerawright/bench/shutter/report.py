"""A shutter result as JSON for scripts, storage and plots, and as lines for the terminal."""

import math

from camerawright.bench.contract import Json, NotMeasurable
from camerawright.bench.shutter.compare import Comparison
from camerawright.bench.shutter.measure import METHOD, Firing, ShutterResult
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity, Verdict, coverage_factor


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
        "compared": _comparison(comparison) if comparison else None,
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
        "budget_effective": _budget(firing.effective),
    }


def _budget(quantity: Quantity) -> list[Json]:
    """Budget lines; infinite degrees of freedom are null."""
    return [
        {"name": line.name, "u": line.u, "dof": line.dof if math.isfinite(line.dof) else None, "kind": line.kind}
        for line in quantity.budget
    ]


def _verdict(verdict: Verdict | None) -> Json:
    """The word and its probability; both null without limits."""
    return {
        "verdict": verdict.word if verdict else None,
        "probability_within": verdict.probability if verdict else None,
    }


def _comparison(comparison: Comparison) -> Json:
    """The comparison with a marked speed."""
    return {
        "marked": comparison.speed.text,
        "target_s": comparison.speed.target_s,
        "series": comparison.speed.series,
        "profile": comparison.profile.name,
        "lower_ev": comparison.limits.lower_ev if comparison.limits else None,
        "upper_ev": comparison.limits.upper_ev if comparison.limits else None,
        "source": comparison.limits.source if comparison.limits else None,
        "firings": [
            {
                "stops": c.error_ev.value,
                "u_stops": c.error_ev.u,
                "U95_stops": c.error_ev.expanded_u,
                **_verdict(c.verdict),
            }
            for c in comparison.firings
        ],
        "mean_stops": comparison.mean_ev.value,
        "u_mean_stops": comparison.mean_ev.u,
        "U95_mean_stops": comparison.mean_ev.expanded_u,
        "dof": comparison.mean_ev.dof if math.isfinite(comparison.mean_ev.dof) else None,
        "mean_s": comparison.speed.target_s * 2.0**comparison.mean_ev.value,
        "repeatability_stops": comparison.repeatability_ev,
        **_verdict(comparison.verdict),
        "more_firings": comparison.more_firings,
        "budget_mean": _budget(comparison.mean_ev),
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
        out.extend(["", *_summary(compared)])
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
        f"{n:>3} {firing['at_s']:>6.2f} s {_ms(effective_s, expanded_ms):>12} {name_of(effective_s):>7}"
        f" {1e3 * firing['half_peak_s']:>7.2f} ms {1e3 * firing['total_s']:>7.2f} ms"
        f" {100 * firing['efficiency']:>3.0f} %"
    )
    if compared:
        one = compared["firings"][n - 1]
        text += f" {one['stops']:>+13.2f} ± {one['U95_stops']:.2f}    {one['verdict'] or 'no limits'}"
    return text


def _ms(time_s: float, expanded_ms: float) -> str:
    """A time with its expanded uncertainty, to two digits of the latter."""
    digits = max(0, min(3, 1 - math.floor(math.log10(max(expanded_ms, 1e-3)))))
    return f"{1e3 * time_s:.{digits}f} ± {expanded_ms:.{digits}f} ms"


def _summary(compared: Json) -> list[str]:
    """The set against the marked speed."""
    mean, target_s = compared["mean_stops"], compared["target_s"]
    side = "slow, over-exposes" if mean > 0 else "fast, under-exposes"
    out = [
        f"Marked {compared['marked']} (target {name_of(target_s)}, {1e3 * target_s:.4g} ms): mean"
        f" {name_of(compared['mean_s'])},"
        f" {mean:+.2f} ± {compared['U95_mean_stops']:.2f} stops ({side})"
    ]
    if compared["repeatability_stops"] is not None:
        out.append(f"Repeatability {compared['repeatability_stops']:.3f} stops (standard deviation of a firing)")
    if compared["verdict"] is None:
        out.append(f"Profile {compared['profile']} has no limits for this speed")
        return out
    out.append(
        f"{compared['verdict'].upper()} {compared['lower_ev']:+.2f} to {compared['upper_ev']:+.2f} stops"
        f" (profile {compared['profile']}, {compared['source']}); probability within"
        f" {compared['probability_within']:.3f}"
    )
    if compared["verdict"] == "undecided":
        more = compared["more_firings"]
        out.append(
            f"{more} more firings would decide"
            if more
            else "More firings alone would not decide: it lies too near a limit"
        )
    return out
