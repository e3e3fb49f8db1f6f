"""Figures of a shutter result, from its record: markers and words say what colours say."""

from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.drawing import BLACK, BLUE, GREEN, ORANGE, SKY, legend_above, speed_card
from camerawright.bench.shutter.record import Firing, Input, ShutterRecord
from camerawright.bench.waveform import LanePlan, Plan, Widths, Window, margin_s, undoing
from camerawright.handbook.exposure import name_of
from camerawright.numeric.coupling import undone
from camerawright.quantity import Quantity
from camerawright.recordings.channel import Recording
from camerawright.wording import numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_POINTS = 4000


def figures(recording: Recording, record: ShutterRecord) -> "dict[str, Figure]":
    """The waveform of the first firing, the firings of each speed overlaid, the speed card where there are marks."""
    if record.input is None:
        return {}
    out = {
        "waveform": waveform_figure(recording, record.firings[0], record.input),
        "overlaid": overlaid_figure(recording, record, record.input),
    }
    if record.comparisons:
        out["speed card"] = speed_card(record.comparisons)
    return out


def plan(record: ShutterRecord) -> Plan:
    """What is drawn over the whole recording: the light as recorded and as undone."""
    made = record.input
    if made is None:
        return Plan(lanes=())
    return Plan(
        lanes=(
            LanePlan(name="as recorded", i_channel=made.channel - 1),
            LanePlan(
                name="undone",
                i_channel=made.channel - 1,
                undoing=undoing(made, tuple(_window(shot) for shot in record.firings)),
            ),
        ),
        spans_s=tuple((shot.at_s, shot.stop_s) for shot in record.firings),
        widths=tuple(
            Widths(
                at_s=shot.at_s,
                total_s=shot.total.value,
                half_peak_s=shot.half_peak.value,
                effective_s=shot.effective.value,
                expanded_s=shot.effective.expanded_u,
                level_fs=shot.level,
            )
            for shot in record.firings
        ),
        i_widths=1,
        legend=(
            "Above: as recorded. Below: the light, with the AC coupling undone. The dotted line is its level, the"
            " dashed line the total time from 10 % to 10 %, the bar the width at half the level, the hatched box the"
            " effective time, with its 95 % interval at the right end."
        ),
    )


def _window(shot: Firing) -> Window:
    """The stretch about a firing in which the light is undone."""
    dark_s = margin_s(shot.total.value)
    return Window(
        from_s=shot.at_s - dark_s,
        to_s=shot.stop_s + dark_s,
        dark_to_s=shot.at_s - 0.6 * dark_s,
        dark_from_s=shot.stop_s + 0.6 * dark_s,
        level_fs=shot.level,
    )


def waveform_figure(waveform: Recording, firing: Firing, made: Input, n: int = 1) -> "Figure":
    """One firing as recorded and as undone, with its edges, plateau and the uncertainty of its effective time."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 5.2), layout="constrained")
    top, bottom = figure.subplots(2, 1, sharex=True)
    ms, recorded, light = _undone(waveform, firing, made)
    top.plot(ms, recorded, color=BLACK, lw=0.9)
    top.set_ylabel("as recorded\n[full scale]")
    bottom.plot(ms, light, color=BLUE, lw=0.9)
    bottom.set_ylabel("undone\n[plateau]")
    bottom.set_xlabel("time from half open [ms]")
    _draw_widths(bottom, firing)
    for axes in (top, bottom):
        axes.axhline(0, color="0.7", lw=0.6, zorder=0)
    figure.suptitle(f"Firing {n} at {numbers.fixed(firing.at_s, 2)} s", fontsize=11)
    return figure


def overlaid_figure(waveform: Recording, record: ShutterRecord, made: Input) -> "Figure":
    """All firings of each speed on one another, from half open; the first after rest is dashed."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 1.2 + 2.4 * len(record.speeds)), layout="constrained")
    for axes, speed in zip(figure.subplots(len(record.speeds), squeeze=False)[:, 0], record.speeds, strict=True):
        for n, i in enumerate(speed.i_firings):
            ms, _, light = _undone(waveform, record.firings[i], made)
            axes.plot(ms, light, color=BLACK if n == 0 else BLUE, lw=0.8, ls="--" if n == 0 else "-", alpha=0.7)
        axes.axhline(1, color=ORANGE, lw=0.8, ls=":")
        axes.set_ylabel("light [plateau]")
        axes.set_title(
            f"{name_of(speed.effective.value)}: {numbers.counted(len(speed.i_firings), 'firing')}", fontsize=10
        )
    axes.set_xlabel("time from half open [ms]; the first firing is dashed")
    return figure


def _undone(waveform: Recording, firing: Firing, made: Input) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Times [ms] from half open, samples as recorded, and light in plateaus."""
    total_s = firing.total.value
    dark_s = margin_s(total_s)
    start = max(0, round((firing.at_s - dark_s) * waveform.rate_hz))
    stop = round((firing.at_s + total_s + dark_s) * waveform.rate_hz)
    recorded = waveform.stretch(made.channel - 1, start, stop).astype(float)
    sign = -1 if made.is_inverted else 1
    light = undone(sign * recorded, 1 / waveform.rate_hz, *made.undo)
    n = len(light)
    t = np.arange(n) / waveform.rate_hz + start / waveform.rate_hz - firing.at_s
    dark = (t < -0.6 * dark_s) | (t > total_s + 0.6 * dark_s)
    light = (light - np.polyval(np.polyfit(t[dark], light[dark], 1), t)) / firing.level
    step = max(1, n // _MOST_POINTS)
    return 1e3 * t[::step], recorded[::step], light[::step]


def _draw_widths(axes: "Axes", firing: Firing) -> None:
    """Half-peak and total widths as bars, the effective time as a box with its interval."""
    half_ms, effective_ms = 1e3 * firing.half_peak.value, 1e3 * firing.effective.value
    total_ms = 1e3 * firing.total.value
    start_ms = (half_ms - effective_ms) / 2
    axes.fill_between(
        [start_ms, start_ms + effective_ms], 0, 1, color=SKY, alpha=0.3, lw=0,
        label=f"effective {_label(firing, firing.effective)}",
    )  # fmt: skip
    axes.errorbar(
        start_ms + effective_ms, 0.75, xerr=1e3 * firing.effective.expanded_u, color=ORANGE, capsize=4,
        label="effective's 95 % interval",
    )  # fmt: skip
    axes.plot([0, half_ms], [0.5, 0.5], "|-", color=BLACK, ms=10, label=f"half-peak {_label(firing, firing.half_peak)}")
    total_start = (half_ms - total_ms) / 2
    axes.plot(
        [total_start, total_start + total_ms], [0.1, 0.1], "|--", color=GREEN, ms=8,
        label=f"total {_label(firing, firing.total)}",
    )  # fmt: skip
    axes.axhline(1, color=ORANGE, lw=0.8, ls=":", label="level")
    axes.set_ylim(-0.12, 1.15)
    legend_above(axes, ncols=2)


def _label(firing: Firing, time: Quantity) -> str:
    """One of its times with its 95 % interval."""
    return numbers.milliseconds(time.value, firing.expanded_s(time))
