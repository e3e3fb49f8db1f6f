"""Figures of a result, from its record: markers and words say what colours say."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.comparison import Comparison
from camerawright.bench.curtains.record import (
    AtSensor,
    ChannelInput,
    CurtainsRecord,
    Firing,
    GateComparison,
    Input,
)
from camerawright.bench.curtains.speeds import K_SHOWN
from camerawright.bench.curtains.tell import shown_firing
from camerawright.bench.drawing import BLACK, BLUE, GREEN, ORANGE, SKY, legend_above
from camerawright.bench.waveform import LanePlan, Mark, Plan, Window, margin_s, undoing
from camerawright.numeric.coupling import undone
from camerawright.recordings.channel import Recording
from camerawright.wording import numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Floats = NDArray[np.float64]

_MOST_STOPS = 4.0
_BESIDE_MS = 2.0
_MOST_POINTS = 4000


def figures(recording: Recording, record: CurtainsRecord) -> "dict[str, Figure]":
    """The curtains and what the sensors saw in the fastest firing (of those compared, where there is a mark)."""
    if record.input is None:
        return {}
    i = shown_firing(record)
    out = {
        "curtains": curtain_figure(record.firings[i], record.input, record.compared, i + 1),
        "waveform": waveform_figure(recording, record.firings[i], record.input),
    }
    if record.compared:
        out["speed card"] = card([record.compared], [])
    return out


def plan(record: CurtainsRecord) -> Plan:
    """What is drawn over the whole recording: each sensor's light as recorded and as undone, and both curtains."""
    if record.input is None:
        return Plan(lanes=())
    places = {one.channel: one.at_mm for shot in record.firings for one in shot.sensors}
    ordered = sorted(places.items(), key=lambda pair: pair[1])
    lanes = [
        LanePlan(name=f"{numbers.short(at_mm)} mm, as recorded", i_channel=channel - 1) for channel, at_mm in ordered
    ]
    marks: list[Mark] = []
    for channel, at_mm in ordered:
        seen = [(shot, one) for shot in record.firings for one in shot.sensors if one.channel == channel]
        marks += [mark for _, one in seen for mark in _marks(one, len(lanes))]
        windows = tuple(_window(shot, one) for shot, one in seen)
        light = undoing(record.input.channels[channel - 1], windows)
        lanes.append(LanePlan(name=f"{numbers.short(at_mm)} mm, undone", i_channel=channel - 1, undoing=light))
    return Plan(
        lanes=tuple(lanes),
        marks=tuple(marks),
        spans_s=tuple((shot.begin_s, shot.end_s) for shot in record.firings),
        legend=(
            "Each sensor as recorded, then each with its AC coupling undone: ▲ the first curtain passes it, ▼ the"
            " second."
        ),
    )


def _window(shot: Firing, one: AtSensor) -> Window:
    """The stretch about a firing in which the light at a sensor is undone."""
    dark_s = margin_s(shot.end_s - shot.begin_s)
    return Window(
        from_s=shot.begin_s - dark_s,
        to_s=shot.end_s + dark_s,
        dark_to_s=one.first_s - 0.3 * dark_s,
        dark_from_s=one.second_s + 0.6 * dark_s,
        level_fs=one.level,
    )


def _marks(one: AtSensor, i_lane: int) -> tuple[Mark, Mark]:
    """Where both curtains pass a sensor."""
    where = f"curtain at {numbers.short(one.at_mm)} mm"
    return (
        Mark(at_s=one.first_s, name=f"first {where}", sign="up", i_lane=i_lane),
        Mark(at_s=one.second_s, name=f"second {where}", sign="down", i_lane=i_lane),
    )


def curtain_figure(firing: Firing, made: Input, compared: GateComparison | None, n: int = 1) -> "Figure":
    """Place against time of both curtains with the slit between them, and the exposure along the gate in stops."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(9, 5), layout="constrained")
    ways, along = figure.subplots(1, 2, sharey=True, width_ratios=(3, 2))
    _draw_ways(ways, firing, made)
    _draw_along(along, firing, made, compared)
    figure.suptitle(f"Firing {n} at {numbers.fixed(firing.at_s, 2)} s", fontsize=11)
    return figure


def waveform_figure(recording: Recording, firing: Firing, made: Input) -> "Figure":
    """Every channel of one firing as undone, on one time axis, with the curtains' passages marked."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 1.4 + 1.5 * len(firing.sensors)), layout="constrained")
    rows = np.atleast_1d(figure.subplots(len(firing.sensors), 1, sharex=True))
    for axes, one in zip(rows, firing.sensors, strict=True):
        ms, light = _light(recording, made.channels[one.i_channel], firing, one)
        axes.plot(ms, light, color=BLUE, lw=0.9)
        for passed_s, marker in ((one.first_s, "^"), (one.second_s, "v")):
            axes.plot(1e3 * (passed_s - firing.begin_s), 0.5, marker, color=ORANGE, ms=7)
        axes.axhline(1, color=ORANGE, lw=0.8, ls=":")
        axes.axhline(0, color="0.7", lw=0.6)
        axes.set_ylabel(f"{numbers.short(one.at_mm)} mm\n[full light]")
    rows[-1].set_xlabel("time from the first curtain at the first sensor [ms]   ▲ first curtain   ▼ second curtain")
    return figure


def _draw_ways(axes: "Axes", firing: Firing, made: Input) -> None:
    """Both curtains' ways with their bands, the slit hatched, the sensors as lines."""
    x = np.linspace(0, made.gate_mm, 91)
    drawn = []
    for (name, curtain), colour, style in zip(firing.curtains, (BLUE, ORANGE), ("-", "--"), strict=True):
        ms = 1e3 * (curtain.motion.when(x) - firing.begin_s)
        band = K_SHOWN * 1e3 * np.interp(x, firing.along.at_mm, curtain.u_passing_s)
        across = numbers.fixed(1e3 * curtain.across.value, 2)
        axes.fill_betweenx(x, ms - band, ms + band, color=colour, alpha=0.2, lw=0)
        axes.plot(ms, x, style, color=colour, label=f"{name} curtain, {across} ms across")
        drawn.append(ms)
    axes.fill_betweenx(x, drawn[0], drawn[1], where=drawn[1] > drawn[0], hatch="///", fc="none", ec="0.8", lw=0)
    for one in firing.sensors:
        axes.axhline(one.at_mm, color="0.6", lw=0.6, ls=":")
        for passed_s, marker in ((one.first_s, "^"), (one.second_s, "v")):
            axes.plot(1e3 * (passed_s - firing.begin_s), one.at_mm, marker, color=BLACK, ms=6)
    if firing.capped:
        axes.axhline(firing.capped.value, color=ORANGE, lw=1.2, label="slit closes")
    axes.set_xlabel("time [ms]; ▲ ▼ at a sensor")
    axes.set_ylabel("place in the gate [mm]")
    axes.set_xlim(float(drawn[0].min()) - _BESIDE_MS, float(drawn[1].max()) + _BESIDE_MS)
    axes.set_ylim(0, made.gate_mm)
    legend_above(axes, 1)


def _draw_along(axes: "Axes", firing: Firing, made: Input, compared: GateComparison | None) -> None:
    """Exposure along the gate in stops from the mark, or from its mean; the tolerance as a band.

    A small relative change is that over ln 2 in stops: the derivative of log2.
    """
    target_s = compared.target_s if compared else firing.effective.value
    at, times, u = (np.array(c) for c in (firing.along.at_mm, firing.along.exposure_s, firing.along.u_exposure_s))
    lit = times > 0
    stops = np.log2(times[lit] / target_s)
    band = K_SHOWN * u[lit] / times[lit] / np.log(2)
    axes.fill_betweenx(at[lit], stops - band, stops + band, color=BLUE, alpha=0.2, lw=0)
    axes.plot(stops, at[lit], color=BLUE, label="along the gate")
    for one in firing.sensors:
        axes.errorbar(
            np.log2(one.exposure.value / target_s), one.at_mm,
            xerr=one.exposure.expanded_u / one.exposure.value / np.log(2),
            fmt="o", color=BLACK, capsize=3, label="at a sensor",
        )  # fmt: skip
    if compared and compared.lower_ev is not None and compared.upper_ev is not None:
        axes.axvspan(compared.lower_ev, compared.upper_ev, color=SKY, alpha=0.25, lw=0, label="tolerance")
    places = [one.at_mm for one in firing.sensors]
    for low, high in ((0.0, min(places)), (max(places), made.gate_mm)):
        axes.axhspan(low, high, color="0.92", lw=0, zorder=0, label="extrapolated")
    axes.axvline(0, color=BLACK, lw=0.8)
    left, right = axes.get_xlim()
    axes.set_xlim(max(left, -_MOST_STOPS), min(right, _MOST_STOPS))  # where the slit closes, stops have no end
    axes.set_xlabel(f"exposure [stops from {compared.marked if compared else 'its mean'}]")
    legend_above(axes, 2)


def _light(recording: Recording, channel: ChannelInput, firing: Firing, one: AtSensor) -> tuple[Floats, Floats]:
    """Times [ms] and undone light [full levels] of one channel around a firing."""
    begin_s, beside_s = firing.begin_s, margin_s(firing.end_s - firing.begin_s)
    start = max(0, round((begin_s - beside_s) * recording.rate_hz))
    stop = round((firing.end_s + beside_s) * recording.rate_hz)
    recorded = recording.stretch(one.i_channel, start, stop).astype(np.float64)
    light = undone((-1 if channel.is_inverted else 1) * recorded, 1 / recording.rate_hz, *channel.undo)
    t = (start + np.arange(len(light))) / recording.rate_hz
    dark = (t < one.first_s - 0.3 * beside_s) | (t > one.second_s + 0.6 * beside_s)
    light = (light - np.polyval(np.polyfit(t[dark] - begin_s, light[dark], 1), t - begin_s)) / one.level
    step = max(1, len(light) // _MOST_POINTS)
    return 1e3 * (t - begin_s)[::step], light[::step]


def card(as_found: Sequence[Comparison], as_left: Sequence[Comparison]) -> "Figure":
    """Every place of the gate against every mark in stops, before and after the work, with 95 % bars."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(7, 4), layout="constrained")
    axes = figure.subplots()
    everything = [*as_found, *as_left]
    targets = {one.marked: one.target_s for one in everything}
    marks = sorted(targets, key=lambda mark: -targets[mark])
    for one in everything:
        if one.lower_ev is not None and one.upper_ev is not None:
            x = marks.index(one.marked)
            axes.fill_between([x - 0.4, x + 0.4], one.lower_ev, one.upper_ev, color=SKY, alpha=0.25, lw=0, zorder=0)
    shift = 0.2 if as_found and as_left else 0.0
    for compared, name, side, face, colour in (
        (as_found, "as found", -shift, "none", ORANGE),
        (as_left, "as left", shift, None, GREEN),
    ):
        for one in compared:
            points = one.points if isinstance(one, GateComparison) else ()
            axes.errorbar(
                marks.index(one.marked) + side + np.linspace(-0.12, 0.12, len(points)),
                [point.error.value for point in points], yerr=[point.error.expanded_u for point in points],
                fmt="o-", color=colour, mfc=face or colour, ms=6, capsize=3, lw=0.8,
                label=f"{name}, near edge to far edge",
            )  # fmt: skip
    axes.axhline(0, color=BLACK, lw=0.8)
    axes.set_xticks(range(len(marks)), marks)
    axes.set_xlim(-0.6, len(marks) - 0.4)
    axes.set_xlabel("marked speed [s]")
    axes.set_ylabel("error [stops]   fast (−)   slow (+)")
    axes.grid(axis="y", color="0.9")
    legend_above(axes, 2)
    return figure
