"""Figures of a shutter result, from its record: markers and words say what colours say."""

from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.comparison_record import firing_time_text
from camerawright.bench.contract import Json
from camerawright.bench.legend import legend_above
from camerawright.handbook.exposure import name_of
from camerawright.numeric.coupling import undone
from camerawright.recordings.channel import Recording

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Okabe and Ito's colour-blind-safe set
_BLUE, _ORANGE, _GREEN, _BLACK, _SKY = "#0072B2", "#D55E00", "#009E73", "#000000", "#56B4E9"
_MOST_POINTS = 4000


def waveform_figure(waveform: Recording, record: Json, i_firing: int = 0) -> "Figure":
    """One firing as recorded and as undone, with its edges, plateau and the uncertainty of its effective time."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 5.2), layout="constrained")
    top, bottom = figure.subplots(2, 1, sharex=True)
    firing = record["firings"][i_firing]
    ms, recorded, light = _undone(waveform, record, firing)
    top.plot(ms, recorded, color=_BLACK, lw=0.9)
    top.set_ylabel("as recorded\n[full scale]")
    bottom.plot(ms, light, color=_BLUE, lw=0.9)
    bottom.set_ylabel("undone\n[plateau]")
    bottom.set_xlabel("time from half open [ms]")
    _draw_widths(bottom, firing)
    for axes in (top, bottom):
        axes.axhline(0, color="0.7", lw=0.6, zorder=0)
    figure.suptitle(f"Firing {i_firing + 1} at {firing['at_s']:.2f} s", fontsize=11)
    return figure


def overlaid_figure(waveform: Recording, record: Json) -> "Figure":
    """All firings of each speed on one another, from half open; the first after rest is dashed."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    shown = record["speeds"] or [{"i_firings": range(len(record["firings"])), "effective_s": None}]
    figure = Figure(figsize=(8, 1.2 + 2.4 * len(shown)), layout="constrained")
    for axes, speed in zip(figure.subplots(len(shown), squeeze=False)[:, 0], shown, strict=True):
        for n, i in enumerate(speed["i_firings"]):
            ms, _, light = _undone(waveform, record, record["firings"][i])
            axes.plot(ms, light, color=_BLACK if n == 0 else _BLUE, lw=0.8, ls="--" if n == 0 else "-", alpha=0.7)
        axes.axhline(1, color=_ORANGE, lw=0.8, ls=":")
        axes.set_ylabel("light [plateau]")
        if speed["effective_s"] is not None:
            n_firings = len(speed["i_firings"])
            axes.set_title(f"{name_of(speed['effective_s'])}: {n_firings} firing{'s' * (n_firings != 1)}", fontsize=10)
    axes.set_xlabel("time from half open [ms]; the first firing is dashed")
    return figure


def _undone(waveform: Recording, record: Json, firing: Json) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times [ms] from half open, samples as recorded, and light in plateaus."""
    margin_s = max(6e-3, 0.3 * firing["total_s"])
    start = max(0, round((firing["at_s"] - margin_s) * waveform.rate_hz))
    stop = round((firing["at_s"] + firing["total_s"] + margin_s) * waveform.rate_hz)
    recorded = waveform.stretch(record["input"]["channel"] - 1, start, stop).astype(float)
    sign = -1 if record["input"]["is_inverted"] else 1
    undo = (record["input"][key] for key in ("undo_a_per_s", "undo_b_per_s2", "undo_e_per_s2"))
    light = undone(sign * recorded, 1 / waveform.rate_hz, *undo)
    n = len(light)
    t = np.arange(n) / waveform.rate_hz + start / waveform.rate_hz - firing["at_s"]
    dark = (t < -0.6 * margin_s) | (t > firing["total_s"] + 0.6 * margin_s)
    light = (light - np.polyval(np.polyfit(t[dark], light[dark], 1), t)) / firing["level_fs"]
    step = max(1, n // _MOST_POINTS)
    return 1e3 * t[::step], recorded[::step], light[::step]


def _draw_widths(axes: "Axes", firing: Json) -> None:
    """Half-peak and total widths as bars, the effective time as a box with its interval."""
    half_ms, effective_ms = 1e3 * firing["half_peak_s"], 1e3 * firing["effective_s"]
    expanded_ms = 1e3 * firing["k95_effective"] * firing["u_effective_s"]
    start_ms = (half_ms - effective_ms) / 2
    axes.fill_between(
        [start_ms, start_ms + effective_ms],
        0,
        1,
        color=_SKY,
        alpha=0.3,
        lw=0,
        label=f"effective {firing_time_text(firing, 'effective')}",
    )
    axes.errorbar(
        start_ms + effective_ms,
        0.75,
        xerr=expanded_ms,
        color=_ORANGE,
        capsize=4,
        label="effective's 95 % interval",
    )
    axes.plot(
        [0, half_ms], [0.5, 0.5], "|-", color=_BLACK, ms=10, label=f"half-peak {firing_time_text(firing, 'half_peak')}"
    )
    total_start = (half_ms - 1e3 * firing["total_s"]) / 2
    axes.plot(
        [total_start, total_start + 1e3 * firing["total_s"]],
        [0.1, 0.1],
        "|--",
        color=_GREEN,
        ms=8,
        label=f"total {firing_time_text(firing, 'total')}",
    )
    axes.axhline(1, color=_ORANGE, lw=0.8, ls=":", label="level")
    axes.set_ylim(-0.12, 1.15)
    legend_above(axes, ncols=2)
