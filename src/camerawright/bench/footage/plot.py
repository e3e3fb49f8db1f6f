"""Figures of a footage result, from its record: markers and words say what colours say."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.drawing import BLACK, BLUE, ORANGE, legend_above, speed_card
from camerawright.bench.footage.record import Firing, FootageRecord, Frame, Input
from camerawright.recordings.clips import WHITE, Clip
from camerawright.wording import numbers

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_COLUMNS = 8


def figures(clip: Clip, record: FootageRecord) -> "dict[str, Figure]":
    """The light of all firings, the contact sheet and the open-area curve of the first, the speed card with a mark."""
    if record.input is None:
        return {}
    out = {
        "light": light_figure(record),
        "contact sheet": contact_sheet_figure(clip, record.firings[0], record.input),
        "open area": area_figure(record.firings[0]),
    }
    if record.compared:
        out["speed card"] = speed_card([record.compared])
    return out


def light_figure(record: FootageRecord) -> "Figure":
    """Light of the frames of all firings over each other, and the effective times with their intervals."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 5.2), layout="constrained")
    top, bottom = figure.subplots(2, 1)
    for firing in record.firings:
        light = [one.light for one in firing.frames]
        top.plot(_ms(firing), light, ".-", color=BLUE, lw=0.6, alpha=0.6, label="one firing each")
    top.axhline(1, color=ORANGE, lw=0.8, ls=":", label="fully open")
    top.set_xlabel("time from half open [ms]")
    top.set_ylabel("light [fully open]")
    legend_above(top)
    n = np.arange(1, len(record.firings) + 1)
    bottom.errorbar(
        n, [1e3 * one.effective.value for one in record.firings],
        yerr=[1e3 * one.effective.expanded_u for one in record.firings],
        fmt="o", color=BLACK, capsize=4, label="effective time, 95 %",
    )  # fmt: skip
    if record.compared:
        target_ms = 1e3 * record.compared.target_s
        bottom.axhline(target_ms, color=ORANGE, lw=0.8, ls="--", label=f"marked {record.compared.marked}")
    bottom.set_xticks(n)
    bottom.set_xlabel("firing")
    bottom.set_ylabel("effective [ms]")
    legend_above(bottom)
    return figure


def area_figure(firing: Firing, n: int = 1) -> "Figure":
    """The uncovered part of the gate and the light, frame by frame."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 3.6), layout="constrained")
    axes = figure.subplots()
    ms = _ms(firing)
    axes.errorbar(
        ms, [one.area for one in firing.frames], yerr=[2 * one.u_area for one in firing.frames], fmt="s-", color=BLUE,
        lw=0.8, capsize=3, label="part of the gate uncovered, ± 2 u",
    )  # fmt: skip
    axes.plot(ms, [one.light for one in firing.frames], "o:", color=ORANGE, lw=0.8, label="light")
    axes.set_xlabel("time from half open [ms]")
    axes.set_ylabel("part of fully open")
    figure.suptitle(f"Firing {n} at {numbers.fixed(firing.at_s, 2)} s", fontsize=11)
    legend_above(axes, 2)
    return figure


def contact_sheet_figure(clip: Clip, firing: Firing, made: Input, n: int = 1) -> "Figure":
    """The frames around opening and closing, upright, each with its time from half open and its light."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    frames = turning(firing.frames)
    x, y, width, height = (value // clip.block_px for value in made.region_px)
    box = (slice(y, y + height), slice(x, x + width))
    white = max(float(clip.frames[one.i_frame][box].max()) for one in frames) / WHITE
    n_rows = -(-len(frames) // _COLUMNS)
    figure = Figure(figsize=(1.25 * _COLUMNS, 1.6 * n_rows + 0.4), layout="constrained")
    grid = figure.subplots(n_rows, _COLUMNS, squeeze=False).ravel()
    for axes in grid:
        axes.axis("off")
    for axes, one in zip(grid, frames, strict=False):
        picture = (clip.frames[one.i_frame][box] / WHITE / white) ** (1 / 2.2)  # as a screen shows it
        axes.imshow(np.rot90(picture, clip.rotation_deg // 90), cmap="gray", vmin=0, vmax=1)
        axes.set_title(frame_words(one, firing, "\n"), fontsize=8)
    figure.suptitle(f"Firing {n} at {numbers.fixed(firing.at_s, 2)} s: opening and closing", fontsize=11)
    return figure


def turning(frames: Sequence[Frame]) -> Sequence[Frame]:
    """The frames in which something moves, and two on each side."""
    light = np.array([one.light for one in frames])
    moving = (light > 0.03) & (light < 0.97)
    near = np.convolve(moving, np.ones(5), mode="same") > 0
    kept = [one for one, is_near in zip(frames, near, strict=True) if is_near]
    return (kept or frames)[: 4 * _COLUMNS]


def frame_words(frame: Frame, firing: Firing, between: str = " ") -> str:
    """A frame by its time from half open, and its light."""
    return f"{from_half_open(frame, firing)}{between}{part_text(frame.light)}"


def from_half_open(frame: Frame, firing: Firing) -> str:
    """When a frame was taken, from half open: ``+4.2 ms``."""
    return f"{numbers.signed(1e3 * (frame.at_s - firing.at_s), 1)} ms"


def part_text(part: float) -> str:
    """A part in whole per cent; never minus nothing."""
    return numbers.percent(round(100 * part) / 100 + 0.0)


def _ms(firing: Firing) -> list[float]:
    """Times of its frames from half open."""
    return [1e3 * (one.at_s - firing.at_s) for one in firing.frames]
