"""Figure of an escapement result, from its record and recording."""

from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.contract import Json
from camerawright.bench.legend import legend_above
from camerawright.bench.plot_words import signed
from camerawright.recordings.channel import Recording

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Okabe and Ito's colour-blind-safe set
_BLUE, _ORANGE, _BLACK, _SKY = "#0072B2", "#D55E00", "#000000", "#56B4E9"
_COLUMNS = 2000


def words(record: Json) -> dict[str, str]:
    """What the figure shows, by its name."""
    if not record["firings"]:
        return {}
    run = record["firings"][0]
    deviations = [100 * beat["deviation"] for beat in run["beats"]]
    stalls = "; ".join(
        f"stands still for {1e3 * one['length_s']:.0f} ms at {one['at_s']:.2f} s" for one in run["stalls"]
    )
    return {
        "beat": f"Run 1 from {run['at_s']:.2f} to {run['stop_s']:.2f} s: {run['n_beats']} beats,"
        f" {run['beat_rate_hz']:.2f} ± {run['k95_beat_rate_hz'] * run['u_beat_rate_hz']:.2f} a second; a beat is from"
        f" {signed(min(deviations), 1)} to {signed(max(deviations), 1)} % longer than the line through all;"
        f" {stalls or 'no stall'}."
    }


def beat_figure(recording: Recording, record: Json, i_run: int = 0) -> "Figure":
    """The sound of one run, and each beat's deviation with its 95 % bar."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    run = record["firings"][i_run]
    figure = Figure(figsize=(8, 4.8), layout="constrained")
    top, bottom = figure.subplots(2, 1, sharex=True)
    first = max(0, int((run["at_s"] - 0.15) * recording.rate_hz))
    last = int((run["stop_s"] + 0.2) * recording.rate_hz)
    part = recording.stretch(record["input"]["channel"] - 1, first, last)
    every = max(1, len(part) // _COLUMNS)
    columns = part[: len(part) // every * every].reshape(-1, every)
    t = (first + every * np.arange(len(columns))) / recording.rate_hz
    top.fill_between(t, columns.min(axis=1), columns.max(axis=1), color=_BLACK, lw=0)
    top.set_ylabel("sound\n[full scale]")
    at_s = [beat["at_s"] for beat in run["beats"]]
    bottom.errorbar(
        at_s,
        [100 * beat["deviation"] for beat in run["beats"]],
        yerr=[196 * beat["u_deviation"] for beat in run["beats"]],
        fmt="o",
        ms=3,
        lw=0.8,
        color=_BLUE,
        label="a beat against the line through all",
    )
    for stall in run["stalls"]:
        for axes in (top, bottom):
            axes.axvspan(
                stall["at_s"], stall["at_s"] + stall["length_s"], color=_ORANGE, alpha=0.25, lw=0, label="stall"
            )
    if not run["open_close"]["refused"]:
        for name in ("open_s", "close_s"):
            top.axvline(
                run["open_close"][name], color=_SKY, lw=1.2, label={"open_s": "opens", "close_s": "closes"}[name]
            )
        legend_above(top)
    bottom.axhline(0, color="0.7", lw=0.6)
    bottom.set_ylabel("longer (+), shorter (−)\n[% of a beat]")
    bottom.set_xlabel("time [s]")
    legend_above(bottom, 2)
    figure.suptitle(f"Run {i_run + 1}: {run['beat_rate_hz']:.1f} beats a second", fontsize=11)
    return figure
