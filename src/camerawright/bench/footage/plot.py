"""Figures of a footage result, from its record: markers and words say what colours say."""

from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.contract import Json
from camerawright.bench.legend import legend_above
from camerawright.bench.plot_words import effective_words, overlaid_words, speed_card_words
from camerawright.recordings.clips import WHITE, Clip

if TYPE_CHECKING:
    from matplotlib.figure import Figure

# Okabe and Ito's colour-blind-safe set
_BLUE, _ORANGE, _BLACK, _SKY = "#0072B2", "#D55E00", "#000000", "#56B4E9"
_COLUMNS = 8


def words(record: Json) -> dict[str, str]:
    """What each figure shows, by its name."""
    firings = record["firings"]
    if not firings:
        return {}
    first = firings[0]
    frames = first["frames"]
    sheet = ", ".join(
        f"{1e3 * (frame['at_s'] - first['at_s']):+.1f} ms {_percent(frame['light'])}" for frame in _turning(frames)
    )
    area = ", ".join(
        f"{1e3 * (frame['at_s'] - first['at_s']):+.1f} ms {_percent(frame['area'])} ± {200 * frame['u_area']:.0f} %"
        for frame in frames
    )
    out = {
        "light": overlaid_words("Light of the frames over each other", firings) + "; each with its 95 % interval: "
        + ", ".join(effective_words(one) for one in firings) + ".",
        "contact sheet": f"Frames of firing 1 by time from half open, with their light: {sheet}.".replace("-", "−"),
        "open area": f"Uncovered part of the gate in firing 1 by time from half open: {area}.".replace("-", "−"),
    }  # fmt: skip
    if record["compared"]:
        out["speed card"] = speed_card_words([record["compared"]])
    return out


def _percent(part: float) -> str:
    """A part in whole per cent; never minus nothing."""
    return f"{round(100 * part) + 0} %"


def light_figure(record: Json) -> "Figure":
    """Light of the frames of all firings over each other, and the effective times with their intervals."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 5.2), layout="constrained")
    top, bottom = figure.subplots(2, 1)
    for n, firing in enumerate(record["firings"]):
        ms = [1e3 * (frame["at_s"] - firing["at_s"]) for frame in firing["frames"]]
        label = "one firing each" if n == 0 else None
        top.plot(ms, [frame["light"] for frame in firing["frames"]], ".-", color=_BLUE, lw=0.6, alpha=0.6, label=label)
    top.axhline(1, color=_ORANGE, lw=0.8, ls=":", label="fully open")
    top.set_xlabel("time from half open [ms]")
    top.set_ylabel("light [fully open]")
    legend_above(top)
    numbers = np.arange(1, len(record["firings"]) + 1)
    bottom.errorbar(
        numbers, [1e3 * one["effective_s"] for one in record["firings"]],
        yerr=[1e3 * one["k95_effective"] * one["u_effective_s"] for one in record["firings"]],
        fmt="o", color=_BLACK, capsize=4, label="effective time, 95 %",
    )  # fmt: skip
    if record["compared"]:
        target_ms = 1e3 * record["compared"]["target_s"]
        bottom.axhline(target_ms, color=_ORANGE, lw=0.8, ls="--", label=f"marked {record['compared']['marked']}")
    bottom.set_xticks(numbers)
    bottom.set_xlabel("firing")
    bottom.set_ylabel("effective [ms]")
    legend_above(bottom)
    return figure


def area_figure(record: Json, i_firing: int = 0) -> "Figure":
    """The uncovered part of the gate and the light, frame by frame."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(8, 3.6), layout="constrained")
    axes = figure.subplots()
    firing = record["firings"][i_firing]
    ms = [1e3 * (frame["at_s"] - firing["at_s"]) for frame in firing["frames"]]
    area = [frame["area"] for frame in firing["frames"]]
    axes.errorbar(
        ms, area, yerr=[2 * frame["u_area"] for frame in firing["frames"]], fmt="s-", color=_BLUE, lw=0.8, capsize=3,
        label="part of the gate uncovered, ± 2 u",
    )  # fmt: skip
    axes.plot(ms, [frame["light"] for frame in firing["frames"]], "o:", color=_ORANGE, lw=0.8, label="light")
    axes.set_xlabel("time from half open [ms]")
    axes.set_ylabel("part of fully open")
    figure.suptitle(f"Firing {i_firing + 1} at {firing['at_s']:.2f} s", fontsize=11)
    legend_above(axes, 2)
    return figure


def contact_sheet_figure(clip: Clip, record: Json, i_firing: int = 0) -> "Figure":
    """The frames around opening and closing, upright, each with its time from half open and its light."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    firing = record["firings"][i_firing]
    frames = _turning(firing["frames"])
    x, y, width, height = (value // clip.block_px for value in record["input"]["region_px"])
    box = (slice(y, y + height), slice(x, x + width))
    white = max(float(clip.frames[frame["frame"]][box].max()) for frame in frames) / WHITE
    n_rows = -(-len(frames) // _COLUMNS)
    figure = Figure(figsize=(1.25 * _COLUMNS, 1.6 * n_rows + 0.4), layout="constrained")
    grid = figure.subplots(n_rows, _COLUMNS, squeeze=False).ravel()
    for axes in grid:
        axes.axis("off")
    for axes, frame in zip(grid, frames, strict=False):
        picture = (clip.frames[frame["frame"]][box] / WHITE / white) ** (1 / 2.2)
        axes.imshow(np.rot90(picture, clip.rotation_deg // 90), cmap="gray", vmin=0, vmax=1)
        axes.set_title(f"{1e3 * (frame['at_s'] - firing['at_s']):+.1f} ms\n{_percent(frame['light'])}", fontsize=8)
    figure.suptitle(f"Firing {i_firing + 1} at {firing['at_s']:.2f} s: opening and closing", fontsize=11)
    return figure


def _turning(frames: list[Json]) -> list[Json]:
    """The frames in which something moves, and two on each side."""
    light = np.array([frame["light"] for frame in frames])
    moving = (light > 0.03) & (light < 0.97)
    near = np.convolve(moving, np.ones(5), mode="same") > 0
    kept = [frame for frame, is_near in zip(frames, near, strict=True) if is_near]
    return (kept or frames)[: 4 * _COLUMNS]
