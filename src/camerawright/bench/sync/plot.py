"""Figure of a sync result, from its record and recording."""

from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.contract import Json
from camerawright.bench.legend import legend_above
from camerawright.bench.plot_words import figure, signed
from camerawright.recordings.channel import Recording

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Okabe and Ito's colour-blind-safe set
_BLUE, _ORANGE, _BLACK, _SKY = "#0072B2", "#D55E00", "#000000", "#56B4E9"
_MOST_POINTS = 6000


def words(record: Json) -> dict[str, str]:
    """What the figure shows, by its name."""
    if not record["firings"]:
        return {}
    firing = record["firings"][0]
    text = f"Firing 1 at {firing['at_s']:.2f} s: half light for {figure(1e3 * firing['half_peak_s'])} ms"
    if not firing["has_closed"]:
        return {"contact": f"{text}; the contact does not close."}
    delays = ", ".join(
        f"{signed(1e3 * one['delay_s'])} ± {1e3 * one['k95'] * one['u_delay_s']:.2f} ms from {one['from']}"
        for one in firing["delays"]
    )
    bounces = f"bounces {firing['n_bounces']} times" if firing["n_bounces"] else "does not bounce"
    return {
        "contact": f"{text}, fully open for {figure(1e3 * firing['open_for_s'])} ms; the contact makes {delays}, stays"
        f" closed for {figure(1e3 * firing['dwell_s'])} ms and {bounces}."
    }


def sync_figure(recording: Recording, record: Json, i_firing: int = 0) -> "Figure":
    """Light and contact of one firing as recorded, with the make, its instants and the window of full light."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    firing = record["firings"][i_firing]
    figure = Figure(figsize=(8, 4.6), layout="constrained")
    top, bottom = figure.subplots(2, 1, sharex=True)
    i_light = record["input"]["light_channel"] - 1
    start_s, stop_s = _shown(firing)
    first, last = max(0, int(start_s * recording.rate_hz)), int(stop_s * recording.rate_hz)
    every = max(1, (last - first) // _MOST_POINTS)
    for axes, i_channel, colour, name in ((top, i_light, _BLUE, "light"), (bottom, 1 - i_light, _BLACK, "contact")):
        part = recording.stretch(i_channel, first, last)[::every]
        ms = 1e3 * ((first + every * np.arange(len(part))) / recording.rate_hz - firing["at_s"])
        axes.plot(ms, part, color=colour, lw=0.9)
        axes.set_ylabel(f"{name}, as recorded\n[full scale]")
    if firing["has_closed"]:
        make_ms = 1e3 * (firing["make_s"] - firing["at_s"])
        full = next(delay for delay in firing["delays"] if delay["from"] == "full open")
        open_ms = make_ms - 1e3 * full["delay_s"]
        for axes in (top, bottom):
            axes.axvspan(
                open_ms, open_ms + 1e3 * firing["open_for_s"], color=_SKY, alpha=0.25, lw=0, label="fully open"
            )
            axes.axvline(
                make_ms, color=_ORANGE, lw=1.2, label=f"make, {signed(1e3 * full['delay_s'])} ms from full open"
            )
            axes.axvline(1e3 * (firing["break_s"] - firing["at_s"]), color=_ORANGE, lw=1.2, ls="--", label="break")
        legend_above(top)
    bottom.set_xlabel("time from half light [ms]")
    figure.suptitle(f"Firing {i_firing + 1} at {firing['at_s']:.2f} s", fontsize=11)
    return figure


def _shown(firing: Json) -> tuple[float, float]:
    """From a little before what comes first to a little after what comes last."""
    ends = [firing["at_s"], firing["at_s"] + firing["half_peak_s"]]
    if firing["has_closed"]:
        ends += [firing["make_s"], firing["break_s"]]
    margin_s = max(3e-3, 0.15 * (max(ends) - min(ends)))
    return min(ends) - margin_s, max(ends) + margin_s
