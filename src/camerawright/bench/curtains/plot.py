"""Figures of a result, from its record: markers and words say what colours say."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.comparison_record import never_less, time_text
from camerawright.bench.contract import Json
from camerawright.bench.legend import legend_above
from camerawright.bench.plot_words import signed
from camerawright.numeric.coupling import undone
from camerawright.recordings.channel import Recording

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

# Okabe and Ito's colour-blind-safe set
_BLUE, _ORANGE, _GREEN, _BLACK, _SKY = "#0072B2", "#D55E00", "#009E73", "#000000", "#56B4E9"
_COVER = 2.0
_MOST_STOPS = 4.0
_BESIDE_MS = 2.0
_MOST_POINTS = 4000


def words(record: Json) -> dict[str, str]:
    """What each figure shows, by its name."""
    if not record["firings"]:
        return {}
    i = shown_firing(record)
    firing, compared = record["firings"][i], record["compared"]
    curtains = "; ".join(
        f"{name} curtain {time_text(firing[name]['across_s'], 2e3 * firing[name]['u_across_s'])} across the gate"
        for name in ("first", "second")
    )
    places = ", ".join(
        f"{one['at_mm']:g} mm {time_text(one['exposure_s'], 1e3 * one['k95_exposure'] * one['u_exposure_s'])}"
        for one in firing["sensors"]
    )
    begin_s = min(one["first_s"] for one in firing["sensors"])
    passed = ", ".join(
        f"{one['at_mm']:g} mm from {1e3 * (one['first_s'] - begin_s):.2f} to {1e3 * (one['second_s'] - begin_s):.2f} ms"
        for one in firing["sensors"]
    )
    capped = "" if firing["capped_mm"] is None else f"; the slit closes at {firing['capped_mm']:.0f} mm"
    out = {
        "curtains": f"Firing {i + 1}, place in the gate against time: {curtains}; exposure at {places}{capped}.",
        "waveform": f"Firing {i + 1}, light at each sensor from the first to the second curtain: {passed}.",
    }
    if compared:
        points = ", ".join(
            f"{one['at_mm']:g} mm {signed(one['stops'])} ± {never_less(one['U95_stops'])} stops"
            for one in compared["points"]
        )
        out["speed card"] = f"Off {compared['marked']} by place: {points}; {compared['verdict'] or 'no limits'}."
    return out


def shown_firing(record: Json) -> int:
    """The fastest firing, of those compared where there is a mark."""
    compared = record["compared"]
    shown = compared["i_firings"] if compared else range(len(record["firings"]))
    return min(shown, key=lambda k: record["firings"][k]["effective_s"])


def curtain_figure(record: Json, i_firing: int) -> "Figure":
    """Place against time of both curtains with the slit between them, and the exposure along the gate in stops."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(9, 5), layout="constrained")
    ways, along = figure.subplots(1, 2, sharey=True, width_ratios=(3, 2))
    firing, told = record["firings"][i_firing], record["input"]
    _draw_ways(ways, firing, told)
    _draw_along(along, firing, told, record["compared"])
    figure.suptitle(f"Firing {i_firing + 1} at {firing['at_s']:.2f} s", fontsize=11)
    return figure


def waveform_figure(recording: Recording, record: Json, i_firing: int) -> "Figure":
    """Every channel of one firing as undone, on one time axis, with the curtains' passages marked."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    firing, told = record["firings"][i_firing], record["input"]
    figure = Figure(figsize=(8, 1.4 + 1.5 * len(firing["sensors"])), layout="constrained")
    rows = np.atleast_1d(figure.subplots(len(firing["sensors"]), 1, sharex=True))
    begin_s = min(one["first_s"] for one in firing["sensors"])
    end_s = max(one["second_s"] for one in firing["sensors"])
    for axes, one in zip(rows, firing["sensors"], strict=True):
        ms, light = _light(recording, told["channels"][one["channel"] - 1], one, begin_s, end_s)
        axes.plot(ms, light, color=_BLUE, lw=0.9)
        for name, marker in (("first_s", "^"), ("second_s", "v")):
            axes.plot(1e3 * (one[name] - begin_s), 0.5, marker, color=_ORANGE, ms=7)
        axes.axhline(1, color=_ORANGE, lw=0.8, ls=":")
        axes.axhline(0, color="0.7", lw=0.6)
        axes.set_ylabel(f"{one['at_mm']:g} mm\n[full light]")
    rows[-1].set_xlabel("time from the first curtain at the first sensor [ms]   ▲ first curtain   ▼ second curtain")
    return figure


def _draw_ways(axes: "Axes", firing: Json, told: Json) -> None:
    """Both curtains' ways with their bands, the slit hatched, the sensors as lines."""
    begin_s = min(one["first_s"] for one in firing["sensors"])
    x = np.linspace(0, told["gate_mm"], 91)
    drawn = []
    for name, colour, style in (("first", _BLUE, "-"), ("second", _ORANGE, "--")):
        curtain = firing[name]
        ms = 1e3 * (_when(curtain["motion"], x) - begin_s)
        band = _COVER * 1e3 * np.interp(x, firing["along"]["at_mm"], curtain["u_passing_s"])
        axes.fill_betweenx(x, ms - band, ms + band, color=colour, alpha=0.2, lw=0)
        axes.plot(ms, x, style, color=colour, label=f"{name} curtain, {1e3 * curtain['across_s']:.2f} ms across")
        drawn.append(ms)
    axes.fill_betweenx(x, drawn[0], drawn[1], where=drawn[1] > drawn[0], hatch="///", fc="none", ec="0.8", lw=0)
    for one in firing["sensors"]:
        axes.axhline(one["at_mm"], color="0.6", lw=0.6, ls=":")
        for key, marker in (("first_s", "^"), ("second_s", "v")):
            axes.plot(1e3 * (one[key] - begin_s), one["at_mm"], marker, color=_BLACK, ms=6)
    if firing["capped_mm"] is not None:
        axes.axhline(firing["capped_mm"], color=_ORANGE, lw=1.2, label="slit closes")
    axes.set_xlabel("time [ms]; ▲ ▼ at a sensor")
    axes.set_ylabel("place in the gate [mm]")
    axes.set_xlim(float(drawn[0].min()) - _BESIDE_MS, float(drawn[1].max()) + _BESIDE_MS)
    axes.set_ylim(0, told["gate_mm"])
    legend_above(axes, 1)


def _draw_along(axes: "Axes", firing: Json, told: Json, compared: Json | None) -> None:
    """Exposure along the gate in stops from the mark, or from its mean; the tolerance as a band."""
    target_s = compared["target_s"] if compared else firing["effective_s"]
    at = np.array(firing["along"]["at_mm"])
    times, u = (np.array(firing["along"][key]) for key in ("exposure_s", "u_exposure_s"))
    lit = times > 0
    stops = np.log2(times[lit] / target_s)
    band = _COVER * u[lit] / times[lit] / np.log(2)
    axes.fill_betweenx(at[lit], stops - band, stops + band, color=_BLUE, alpha=0.2, lw=0)
    axes.plot(stops, at[lit], color=_BLUE, label="along the gate")
    for one in firing["sensors"]:
        axes.errorbar(
            np.log2(one["exposure_s"] / target_s), one["at_mm"],
            xerr=one["k95_exposure"] * one["u_exposure_s"] / one["exposure_s"] / np.log(2),
            fmt="o", color=_BLACK, capsize=3, label=None if one is not firing["sensors"][0] else "at a sensor",
        )  # fmt: skip
    if compared and compared["lower_ev"] is not None:
        axes.axvspan(
            compared["lower_ev"],
            compared["upper_ev"],
            color=_SKY,
            alpha=0.25,
            lw=0,
            label="tolerance",
        )
    places = [one["at_mm"] for one in firing["sensors"]]
    outer = [min(places), max(places)]
    for low, high in ((0, outer[0]), (outer[1], told["gate_mm"])):
        axes.axhspan(low, high, color="0.92", lw=0, zorder=0, label="extrapolated" if low == 0 else None)
    axes.axvline(0, color=_BLACK, lw=0.8)
    low, high = axes.get_xlim()
    axes.set_xlim(max(low, -_MOST_STOPS), min(high, _MOST_STOPS))  # where the slit closes, stops have no end
    axes.set_xlabel(f"exposure [stops from {compared['marked'] if compared else 'its mean'}]")
    legend_above(axes, 2)


def _when(motion: Json, x_mm: Floats) -> Floats:
    """When a curtain passes places."""
    v, a, ahead = motion["v_mm_s"], motion["a_mm_s2"], x_mm - motion["x0_mm"]
    return np.asarray(motion["t0_s"] + 2 * ahead / (v + np.sqrt(np.maximum(0.0, v**2 + 2 * a * ahead))))


def _light(recording: Recording, channel: Json, one: Json, begin_s: float, end_s: float) -> tuple[Floats, Floats]:
    """Times [ms] and undone light [full levels] of one channel around a firing."""
    margin_s = max(6e-3, 0.3 * (end_s - begin_s))
    start = max(0, round((begin_s - margin_s) * recording.rate_hz))
    stop = round((end_s + margin_s) * recording.rate_hz)
    recorded = recording.stretch(one["channel"] - 1, start, stop).astype(np.float64)
    undo = (channel[key] for key in ("undo_a_per_s", "undo_b_per_s2", "undo_e_per_s2"))
    light = undone((-1 if channel["is_inverted"] else 1) * recorded, 1 / recording.rate_hz, *undo)
    t = (start + np.arange(len(light))) / recording.rate_hz
    dark = (t < one["first_s"] - 0.3 * margin_s) | (t > one["second_s"] + 0.6 * margin_s)
    light = (light - np.polyval(np.polyfit(t[dark] - begin_s, light[dark], 1), t - begin_s)) / one["level_fs"]
    step = max(1, len(light) // _MOST_POINTS)
    return 1e3 * (t - begin_s)[::step], light[::step]


def card_figure(as_found: list[Json], as_left: list[Json]) -> "Figure":
    """Every place of the gate against every mark in stops, before and after the work, with 95 % bars.

    Parameters
    ----------
    as_found, as_left
        The `compared` parts of records.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(7, 4), layout="constrained")
    axes = figure.subplots()
    targets = {c["marked"]: c["target_s"] for c in [*as_found, *as_left]}
    marks = sorted(targets, key=lambda mark: -targets[mark])
    for compared in [*as_found, *as_left]:
        if compared["lower_ev"] is not None:
            x = marks.index(compared["marked"])
            axes.fill_between(
                [x - 0.4, x + 0.4], compared["lower_ev"], compared["upper_ev"], color=_SKY, alpha=0.25, lw=0, zorder=0
            )
    shift = 0.2 if as_found and as_left else 0.0
    for compared_set, name, side, face, colour in (
        (as_found, "as found", -shift, "none", _ORANGE),
        (as_left, "as left", shift, None, _GREEN),
    ):
        for n, compared in enumerate(compared_set):
            points = compared["points"]
            spread = np.linspace(-0.12, 0.12, len(points))
            axes.errorbar(
                marks.index(compared["marked"]) + side + spread, [one["stops"] for one in points],
                yerr=[one["U95_stops"] for one in points], fmt="o-", color=colour, mfc=face or colour, ms=6, capsize=3,
                lw=0.8, label=f"{name}, near edge to far edge" if n == 0 else None,
            )  # fmt: skip
    axes.axhline(0, color=_BLACK, lw=0.8)
    axes.set_xticks(range(len(marks)), marks)
    axes.set_xlim(-0.6, len(marks) - 0.4)
    axes.set_xlabel("marked speed [s]")
    axes.set_ylabel("error [stops]   fast (−)   slow (+)")
    axes.grid(axis="y", color="0.9")
    legend_above(axes, 2)
    return figure
