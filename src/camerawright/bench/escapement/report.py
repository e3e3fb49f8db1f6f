"""An escapement result as JSON for scripts, storage and plots, and as lines for the terminal."""

import math
from dataclasses import asdict

from camerawright.bench.contract import Json, refused_record
from camerawright.bench.escapement.hypotheses import hypotheses
from camerawright.bench.escapement.measure import METHOD
from camerawright.bench.escapement.open_close import Pair
from camerawright.bench.escapement.result import EscapementResult, Run
from camerawright.bench.escapement.speeds import Speed
from camerawright.handbook.exposure import MarkedSpeed, name_of, stops
from camerawright.quantity import Quantity, coverage_factor
from camerawright.trouble import NotMeasurable


def as_json(result: EscapementResult, speeds: tuple[Speed, ...]) -> Json:
    """The whole result. `compared` stays null: by sound nothing is compared with a mark for a certificate."""
    marks = {i: speed.at.mark for speed in speeds for i in speed.at.i_firings}
    return {
        "test": "escapement",
        "method": METHOD,
        "firings": [_run(run, marks[i]) for i, run in enumerate(result.runs)],
        "skipped": [one.as_json for one in result.skipped],
        "flags": list(result.flags),
        "refused": None,
        "input": {"rate_hz": result.rate_hz, "channel": result.i_channel + 1, "snr_db": result.snr_db},
        "at_speeds": [_speed(speed) for speed in speeds],
        "hypotheses": [asdict(one) for one in hypotheses(result)],
        "compared": None,
    }


def refused_as_json(why: NotMeasurable) -> Json:
    """The record of a refusal: same keys, no runs."""
    return refused_record("escapement", METHOD, why, at_speeds=[], hypotheses=[])


def _run(run: Run, speed: MarkedSpeed | None) -> Json:
    """One run."""
    return {
        "at_s": run.at_s,
        "stop_s": run.stop_s,
        "n_beats": run.n_beats,
        "n_missed": run.n_missed,
        **_quantity("beat_rate_hz", run.rate),
        **_quantity("drift", run.drift),
        **_quantity("alternation", run.alternation),
        **_quantity("unevenness", run.unevenness),
        "stalls": [
            {"at_s": stall.at_s, "length_s": stall.length_s, "part": part}
            for stall, part in zip(run.stalls, run.stall_parts, strict=True)
        ],
        "late": [asdict(beat) for beat in run.late],
        "beats": [asdict(beat) for beat in run.beats],
        "hang_s": run.hang_s,
        "open_close": _open_close(run, speed),
        "flags": list(run.flags),
        "budget_beat_rate": _budget(run.rate),
    }


def _speed(speed: Speed) -> Json:
    """Means over the runs of one speed."""
    return {
        "marked": speed.at.mark.text if speed.at.mark else None,
        "likely": speed.at.likely.text if speed.at.likely else None,
        "lasts_s": speed.at.usual_s,
        "i_firings": list(speed.at.i_firings),
        **_quantity("beat_rate_hz", speed.rate),
        **_quantity("unevenness", speed.unevenness),
        **_quantity("alternation", speed.alternation),
        **_quantity("drift", speed.drift),
        "n_stalls": speed.n_stalls,
        "n_missed": speed.n_missed,
    }


def _quantity(name: str, quantity: Quantity) -> Json:
    """Value, u and k."""
    return {name: quantity.value, f"u_{name}": quantity.u, f"k95_{name}": coverage_factor(quantity.dof)}


def _budget(quantity: Quantity) -> list[Json]:
    """Budget lines; infinite degrees of freedom are null."""
    return [
        {"name": line.name, "u": line.u, "dof": line.dof if math.isfinite(line.dof) else None, "kind": line.kind}
        for line in quantity.budget
    ]


def _open_close(run: Run, speed: MarkedSpeed | None) -> Json:
    """The time from opening to closing, or why there is none."""
    pair = run.pair
    if not isinstance(pair, Pair):
        return {"time_s": None, "u_time_s": None, "refused": {"reason": pair.reason, "advice": pair.advice}}
    return {
        "time_s": pair.time.value,
        "u_time_s": pair.time.u,
        "k95": coverage_factor(pair.time.dof),
        "stops_from_mark": stops(pair.time.value, speed.target_s) if speed else None,
        "open_s": pair.open_s,
        "close_s": pair.close_s,
        "flags": list(pair.flags),
        "budget": _budget(pair.time),
        "refused": None,
    }


def lines(record: Json) -> list[str]:
    """The summary for the terminal, from the record."""
    if record["refused"]:
        return [f"Not measurable: {record['refused']['reason']}.", f"{record['refused']['advice']}."]
    n = len(record["firings"])
    out = [
        f"{n} run{'s' * (n != 1)} of the slow train; ± is the 95 % interval",
        "",
        f"{'':>3} {'at':>8} {'beats':>6} {'a second':>15} {'uneven':>14} {'other beat':>14} {'slows by':>14}",
    ]
    for i, run in enumerate(record["firings"], start=1):
        out.extend(_run_lines(i, run))
    if len(record["at_speeds"]) > 1:
        out.extend(["", *_speed_table(record["at_speeds"])])
    out.extend(f"      - at {s['at_s']:.2f} s: no beat, {s['reason']}" for s in record["skipped"])
    if record["hypotheses"]:
        out.extend(["", "Hypotheses, not findings:"])
    for one in record["hypotheses"]:
        out.extend([f"- {one['seen']}: may be {one['may_be']}.", f"  To find out: {one['test']}"])
    out.extend(f"! {flag}" for flag in record["flags"])
    return out


def _numbers(one: Json) -> str:
    """Rate, unevenness, alternation and drift with their intervals."""
    rate, uneven, alternate, drift = (
        (one[name], one[f"k95_{name}"] * one[f"u_{name}"])
        for name in ("beat_rate_hz", "unevenness", "alternation", "drift")
    )
    parts = (
        f"{100 * value:{sign}.1f} ± {100 * expanded:.1f} %".replace("-", "−")
        for (value, expanded), sign in ((uneven, ""), (alternate, ""), (drift, "+"))
    )
    return f"{rate[0]:>7.2f} ± {rate[1]:.2f} " + " ".join(f"{part:>14}" for part in parts)


def _speed_table(speeds: list[Json]) -> list[str]:
    """A line for each speed: the mean beat, and what stands still."""
    out = [f"{'speed':<8} {'runs':>4} {'beats a second':>15} {'uneven':>14} {'other beat':>14} {'slows by':>14} stalls"]
    out.extend(
        f"{one['marked'] or name_of(one['lasts_s']):<8} {len(one['i_firings']):>4} {_numbers(one)} {one['n_stalls']:>6}"
        for one in speeds
    )
    return out


def _run_lines(i: int, run: Json) -> list[str]:
    """One run: its numbers, what is odd in it, the time by sound."""
    out = [f"{i:>3} {run['at_s']:>6.2f} s {run['n_beats']:>6} {_numbers(run)}"]
    if run["n_missed"]:
        out.append(f"      {run['n_missed']} beat{'s' * (run['n_missed'] > 1)} not heard")
    out.extend(
        f"      stands still for {1e3 * stall['length_s']:.0f} ms at {stall['at_s']:.2f} s, {100 * stall['part']:.0f}"
        f" % along"
        for stall in run["stalls"]
    )
    if run["late"]:
        worst = max(run["late"], key=lambda beat: abs(beat["deviation"]))
        out.append(
            f"      {len(run['late'])} beat{'s' * (len(run['late']) > 1)} off by more than 15 %, the worst"
            f" {100 * worst['deviation']:+.0f} %"
            f" at {worst['at_s']:.2f} s".replace("-", "−")
        )
    out.append("      " + _open_close_line(run["open_close"]))
    out.extend(f"      ! {flag}" for flag in run["flags"])
    return out


def _open_close_line(pair: Json) -> str:
    """The time from opening to closing."""
    if pair["refused"]:
        return f"no time from opening to closing: {pair['refused']['reason']}; {pair['refused']['advice']}"
    stops_text = "" if pair["stops_from_mark"] is None else f", {pair['stops_from_mark']:+.2f} stops from the mark"
    return (
        f"opening to closing {1e3 * pair['time_s']:.1f} ± {1e3 * pair['k95'] * pair['u_time_s']:.1f} ms"
        f" ({name_of(pair['time_s'])}){stops_text}; by sound, relative"
    ).replace("-", "−")
