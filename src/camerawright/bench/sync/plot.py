"""Pictures of a flash contact, from its record and recording."""

from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.drawing import BLACK, BLUE, ORANGE, SKY, legend_above
from camerawright.bench.sync.record import Firing, Input, SyncRecord
from camerawright.bench.waveform import LanePlan, Mark, Plan
from camerawright.recordings.channel import Recording
from camerawright.wording import numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_MOST_POINTS = 6000


def figures(recording: Recording, record: SyncRecord) -> "dict[str, Figure]":
    """Light and contact of the first firing."""
    if record.input is None:
        return {}
    return {"contact": contact_figure(recording, record.firings[0], record.input)}


def plan(record: SyncRecord) -> Plan:
    """Light and contact as recorded, with full opening, make and break."""
    made = record.input
    if made is None:
        return Plan(lanes=())
    return Plan(
        lanes=(
            LanePlan(name="light, as recorded", i_channel=made.i_light),
            LanePlan(name="contact, as recorded", i_channel=1 - made.i_light),
        ),
        marks=tuple(mark for firing in record.firings for mark in _marks(firing)),
        spans_s=tuple((firing.start_s, firing.stop_s) for firing in record.firings),
        legend="The hatching shows where the shutter is fully open. The line is the contact's make, the dashed line its"
        " break.",
    )


def _marks(firing: Firing) -> tuple[Mark, ...]:
    """What a firing's closed contact shows."""
    if firing.make_s is None or firing.break_s is None:
        return ()
    open_s = firing.make_s - firing.delay("full open").value
    return (
        Mark(at_s=open_s, to_s=open_s + firing.open_for.value, name="fully open", sign="span"),
        Mark(at_s=firing.make_s, name="make", sign="line"),
        Mark(at_s=firing.break_s, name="break", sign="dashed"),
    )


def contact_figure(recording: Recording, firing: Firing, made: Input, n: int = 1) -> "Figure":
    """Light and contact of one firing as recorded, with the make, its instants and the window of full light."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 4.6), layout="constrained")
    top, bottom = figure.subplots(2, 1, sharex=True)
    margin_s = max(3e-3, 0.15 * (firing.stop_s - firing.start_s))
    first = max(0, int((firing.start_s - margin_s) * recording.rate_hz))
    last = int((firing.stop_s + margin_s) * recording.rate_hz)
    every = max(1, (last - first) // _MOST_POINTS)
    for axes, i_channel, colour, name in (
        (top, made.i_light, BLUE, "light"),
        (bottom, 1 - made.i_light, BLACK, "contact"),
    ):
        part = recording.stretch(i_channel, first, last)[::every]
        ms = 1e3 * ((first + every * np.arange(len(part))) / recording.rate_hz - firing.at_s)
        axes.plot(ms, part, color=colour, lw=0.9)
        axes.set_ylabel(f"{name}, as recorded\n[full scale]")
        _draw_closure(axes, firing)
    if firing.has_closed:
        legend_above(top)
    bottom.set_xlabel("time from half light [ms]")
    figure.suptitle(f"Firing {n} at {numbers.fixed(firing.at_s, 2)} s", fontsize=11)
    return figure


def _draw_closure(axes: "Axes", firing: Firing) -> None:
    """The window of full light, the make and the break."""
    if firing.make_s is None or firing.break_s is None:
        return
    delay_ms, make_ms = 1e3 * firing.delay("full open").value, 1e3 * (firing.make_s - firing.at_s)
    open_ms = make_ms - delay_ms
    axes.axvspan(open_ms, open_ms + 1e3 * firing.open_for.value, color=SKY, alpha=0.25, lw=0, label="fully open")
    axes.axvline(make_ms, color=ORANGE, lw=1.2, label=f"make, {numbers.signed(delay_ms)} ms from full open")
    axes.axvline(1e3 * (firing.break_s - firing.at_s), color=ORANGE, lw=1.2, ls="--", label="break")
