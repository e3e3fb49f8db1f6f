"""A curtains record in words: lines for the terminal, and what a certificate is told."""

from camerawright.bench.comparison_record import bar, never_less, summary, time_text
from camerawright.bench.contract import Json, Told
from camerawright.handbook.exposure import name_of


def lines(record: Json) -> list[str]:
    """The summary for the terminal, from the record."""
    if record["refused"]:
        return [f"Not measurable: {record['refused']['reason']}.", f"{record['refused']['advice']}."]
    out = [_header(record), ""]
    n_compared = len(record["compared"]["i_firings"]) if record["compared"] else 0
    for n, firing in enumerate(record["firings"], start=1):
        if 1 < n == n_compared + 1:
            out.extend(["", f"Not compared with {record['compared']['marked']}: at other speeds"])
        out.extend(_firing_lines(n, firing))
    out.extend(f"      - at {s['at_s']:.2f} s: not measured, {s['reason']}" for s in record["skipped"])
    if record["compared"]:
        n_lines = 2 + (record["compared"]["repeatability_stops"] is not None)
        out.extend(["", *summary(record["compared"])[:n_lines], *_points(record["compared"])])
    if record["advice"]:
        out.extend(["", *record["advice"]])
    out.extend(f"! {flag}" for flag in record["flags"])
    return out


def _header(record: Json) -> str:
    """One line on what was heard."""
    n, told = len(record["firings"]), record["input"]
    places = ", ".join(f"{x:g}" for x in sorted(told["at_mm"]))
    return (
        f"{n} firing{'s' * (n != 1)}; sensors at {places} mm of a gate of {told['gate_mm']:g} mm; input AC coupled,"
        " undone; ± is the 95 % interval"
    )


def _firing_lines(n: int, firing: Json) -> list[str]:
    """One firing: exposures, curtains, evenness."""
    points = "  ".join(
        f"{one['at_mm']:g} mm {time_text(one['exposure_s'], 1e3 * one['k95_exposure'] * one['u_exposure_s'])}"
        f" ({name_of(one['exposure_s'])}{_slit(one)})"
        for one in firing["sensors"]
    )
    out = [f"{n:>3} {firing['at_s']:>6.2f} s  {points}"]
    curtains = "; ".join(
        f"{name} curtain {time_text(firing[name]['between_s'], 2e3 * firing[name]['u_between_s'])} between the outer"
        f" sensors, gate {time_text(firing[name]['across_s'], 2e3 * firing[name]['u_across_s'])}"
        for name in ("first", "second")
    )
    out.append(f"      {curtains}")
    gate = firing["uneven_gate_stops"]
    open_s = firing["fully_open_s"]
    out.append(
        f"      uneven by {firing['uneven_stops']:.2f} ± {never_less(2 * firing['u_uneven_stops'])} stop at the sensors"
        + (
            f", {gate:.2f} ± {never_less(2 * firing['u_uneven_gate_stops'])} over the gate (its edges extrapolated)"
            if gate is not None
            else ""
        )
        + (f"; gate fully open for {1e3 * open_s:.1f} ms" if open_s > 0 else "")
    )
    if firing["capped_mm"] is not None:
        out.append(f"      ! capped: the slit is closed from about {firing['capped_mm']:.0f} mm")
    out.extend(f"      ! {flag}" for flag in firing["flags"])
    return out


def _slit(one: Json) -> str:
    """The slit, where it is one."""
    return "" if one["slit_mm"] is None else f", slit {one['slit_mm']:.1f} ± {2 * one['u_slit_mm']:.1f} mm"


def _points(compared: Json) -> list[str]:
    """Every point of the gate against the mark, and the verdict of the whole."""
    if compared["verdict"] is None:
        return [f"Profile {compared['profile']} has no limits for this speed"]
    points = "; ".join(
        f"{one['at_mm']:g} mm {one['stops']:+.2f} ± {never_less(one['U95_stops'])} {one['verdict']}"
        for one in compared["points"]
    )
    even = compared["evenness"]
    return [
        f"Stops from {compared['marked']} by place: {points}",
        *(
            f"  {one['at_mm']:>4g} mm {bar(one['stops'], one['U95_stops'], compared, one['verdict'])}"
            for one in compared["points"]
        ),
        f"Uneven by {_uneven(even)}, {even['verdict']} {even['limit_stops']:.2f} ({even['source']})",
        f"{compared['verdict'].upper()} {compared['lower_ev']:+.2f} to {compared['upper_ev']:+.2f} stops over the gate"
        f" (profile {compared['profile']}, {compared['source']})",
    ]


def _uneven(even: Json) -> str:
    """How uneven the gate is, with its interval."""
    return f"{even['uneven_stops']:.2f} ± {never_less(2 * even['u_uneven_stops'])} stop"


def tells(record: Json) -> tuple[Told, ...]:
    """For the certificate: how even the gate is, which its verdict rests on too, and how long each curtain takes."""
    compared = record.get("compared") or {}
    if "i_firings" not in compared:  # without a mark, or of an earlier version
        return ()
    ours = [i + 1 for i in compared["i_firings"]]
    n, marked, even = len(ours), compared["marked"], compared["evenness"]
    told = [Told("uneven over the gate", _uneven(even), n, even["verdict"], marked)]
    at_mm = record["input"]["at_mm"]
    for speed in record["speeds"]:
        if speed["firings"] == ours:
            told += [
                Told(
                    f"{name} curtain over the {max(at_mm) - min(at_mm):g} mm between the outer sensors",
                    time_text(speed[f"{name}_s"], 2e3 * speed[f"u_{name}_s"]),
                    n,
                    marked=marked,
                )
                for name in ("first", "second")
            ]
    return tuple(told)
