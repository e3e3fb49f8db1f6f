"""Pictures of a slow train, from its record and recording."""

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.drawing import BLACK, BLUE, ORANGE, SKY, legend_above
from camerawright.bench.escapement.record import EscapementRecord, Input, Run
from camerawright.bench.waveform import LanePlan, Mark, Plan
from camerawright.quantity import coverage_factor
from camerawright.recordings.channel import Recording
from camerawright.wording import numbers

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

_COLUMNS = 2000


def figures(recording: Recording, record: EscapementRecord) -> "dict[str, Figure]":
    """The beat of the first run."""
    if record.input is None:
        return {}
    return {"beat": beat_figure(recording, record.runs[0], record.input)}


def plan(record: EscapementRecord) -> Plan:
    """The channel that was heard, with every beat, the stalls, and opening and closing where they were heard."""
    if record.input is None:
        return Plan(lanes=())
    return Plan(
        lanes=(LanePlan(name="sound, as recorded", i_channel=record.input.channel - 1),),
        marks=tuple(mark for run in record.runs for mark in _marks(run)),
        spans_s=tuple((run.at_s, run.stop_s) for run in record.runs),
        legend="A tick at the foot stands for every beat. The hatching shows where the train stands still. The lines"
        " are what was taken for opening and closing.",
    )


def _marks(run: Run) -> Iterator[Mark]:
    """Of one run."""
    for stall in run.stalls:
        yield Mark(at_s=stall.at_s, to_s=stall.at_s + stall.length_s, name="stall", sign="span")
    for n, beat in enumerate(run.beats, start=1):
        yield Mark(at_s=beat.at_s, name=f"beat {n}", sign="tick")
    if run.open_close.open_s is not None and run.open_close.close_s is not None:
        yield Mark(at_s=run.open_close.open_s, name="opens", sign="line")
        yield Mark(at_s=run.open_close.close_s, name="closes", sign="dashed")


def beat_figure(recording: Recording, run: Run, made: Input, n: int = 1) -> "Figure":
    """The sound of one run, and each beat's deviation with its 95 % bar."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 4.8), layout="constrained")
    top, bottom = figure.subplots(2, 1, sharex=True)
    _draw_sound(top, recording, run, made)
    _draw_beats(bottom, run)
    for stall in run.stalls:
        for axes in (top, bottom):
            axes.axvspan(stall.at_s, stall.at_s + stall.length_s, color=ORANGE, alpha=0.25, lw=0, label="stall")
    if run.open_close.open_s is not None and run.open_close.close_s is not None:
        top.axvline(run.open_close.open_s, color=SKY, lw=1.2, label="opens")
        top.axvline(run.open_close.close_s, color=SKY, lw=1.2, label="closes")
        legend_above(top)
    legend_above(bottom, 2)
    figure.suptitle(f"Run {n}: {numbers.fixed(run.beat_rate.value, 1)} beats a second", fontsize=11)
    return figure


def _draw_sound(axes: "Axes", recording: Recording, run: Run, made: Input) -> None:
    """The sound as the lowest and the highest sample of each column."""
    first = max(0, int((run.at_s - 0.15) * recording.rate_hz))
    part = recording.stretch(made.channel - 1, first, int((run.stop_s + 0.2) * recording.rate_hz))
    every = max(1, len(part) // _COLUMNS)
    columns = part[: len(part) // every * every].reshape(-1, every)
    t = (first + every * np.arange(len(columns))) / recording.rate_hz
    axes.fill_between(t, columns.min(axis=1), columns.max(axis=1), color=BLACK, lw=0)
    axes.set_ylabel("sound\n[full scale]")


def _draw_beats(axes: "Axes", run: Run) -> None:
    """Each beat's deviation with its 95 % bar."""
    k = coverage_factor(float("inf"))
    axes.errorbar(
        [beat.at_s for beat in run.beats],
        [100 * beat.deviation for beat in run.beats],
        yerr=[100 * k * beat.u_deviation for beat in run.beats],
        fmt="o", ms=3, lw=0.8, color=BLUE, label="a beat against the line through all",
    )  # fmt: skip
    axes.axhline(0, color="0.7", lw=0.6)
    axes.set_ylabel("longer (+), shorter (−)\n[% of a beat]")
    axes.set_xlabel("time [s]")
