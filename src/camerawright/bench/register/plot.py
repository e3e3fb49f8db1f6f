"""Pictures of a register: the places with how far each is off the plane, and every reading beside the nominal."""

from typing import TYPE_CHECKING

import numpy as np

from camerawright.bench.drawing import BLACK, BLUE, GREEN, ORANGE, SKY, VERDICT_COLOURS, legend_above
from camerawright.bench.register.record import RegisterRecord
from camerawright.bench.register.tell import micrometres, millimetres, off_at_places, places_of
from camerawright.recordings.table import Table
from camerawright.wording import numbers
from camerawright.wording.verdicts import SIGNS

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_MARGIN = 0.3  # of the width of the places, around them


def figures(recording: Table, record: RegisterRecord) -> "dict[str, Figure]":
    """The gate with its places, then the depths. Both are drawn from the record."""
    if record.plane is None:
        return {}
    return {"places": places_figure(record), "depths": depths_figure(record)}


def places_figure(record: RegisterRecord) -> "Figure":
    """Where was read, how far each place is off the plane, and the plane as lines of equal depth."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(7, 5), layout="constrained")
    axes = figure.subplots()
    x_mm, y_mm, off_mm = (np.array(column) for column in zip(*off_at_places(record), strict=True))
    wide, high = (
        np.linspace(ends[0] - more, ends[1] + more, 41)
        for ends, more in ((_ends(x_mm), _MARGIN * np.ptp(x_mm)), (_ends(y_mm), _MARGIN * np.ptp(y_mm)))
    )
    depth_mm = record.depth_mm(*np.meshgrid(wide, high))
    if np.ptp(depth_mm) > 0:
        contours = axes.contour(wide, high, depth_mm, levels=6, colors="0.6", linewidths=0.8, linestyles="-")
        axes.clabel(contours, fmt=lambda depth: numbers.fixed(depth, 3), fontsize=8)
    for sign, colour, marker, name in ((1, ORANGE, "^", "deeper than the plane"), (-1, BLUE, "v", "less deep")):
        mine = np.sign(np.round(1e3 * off_mm)) == sign
        axes.plot(x_mm[mine], y_mm[mine], marker, color=colour, ms=9, label=name)
    even = np.round(1e3 * off_mm) == 0
    axes.plot(x_mm[even], y_mm[even], "o", color=BLACK, ms=7, label="on the plane")
    for x, y, off in zip(x_mm, y_mm, off_mm, strict=True):
        axes.annotate(
            f"{micrometres(off)} µm", (x, y), (0, 11), textcoords="offset points", ha="center", fontsize=10,
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 1},
        )  # fmt: skip
    axes.plot(0, 0, "+", color=BLACK, ms=12, label="x = y = 0")
    axes.set_aspect("equal")
    axes.set_xlabel("x [mm]; grey: the depth of the plane [mm]")
    axes.set_ylabel("y [mm]")
    legend_above(axes)
    return figure


def depths_figure(record: RegisterRecord) -> "Figure":
    """Every reading at its place, the plane there, and the register in the nominal's band."""
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    assert record.register is not None
    figure = Figure(figsize=(7, 4), layout="constrained")
    axes = figure.subplots()
    places = [(x_mm, y_mm) for x_mm, y_mm, _ in off_at_places(record)]
    if record.limits:
        axes.axhspan(*record.limits.ends_mm, color=SKY, alpha=0.25, lw=0, zorder=0, label="allowed")
        axes.axhline(record.limits.nominal_mm, color=GREEN, lw=1, ls="--", label="nominal")
    axes.plot(
        places_of(record) + 1,
        [one.depth_mm for one in record.readings],
        "o",
        color=BLACK,
        ms=5,
        mfc="none",
        label="reading",
    )
    on_plane = record.depth_mm(*np.array(places).T)
    axes.plot(range(1, len(places) + 1), on_plane, "_", color=ORANGE, ms=18, mew=2, label="plane")
    sign = f" {SIGNS[record.verdict]} {record.verdict}" if record.verdict else ""
    axes.errorbar(
        0, record.register.value, yerr=record.register.expanded_u, fmt="D", color=VERDICT_COLOURS[record.verdict],
        capsize=5, label=f"register{sign}",
    )  # fmt: skip
    names = [f"{numbers.short(x_mm)}, {numbers.short(y_mm)}" for x_mm, y_mm in places]
    axes.set_xticks(range(len(places) + 1), ["register", *names], fontsize=8, rotation=30 if len(places) > 6 else 0)
    axes.set_xlabel(f"place: x, y [mm]; register {millimetres(record.register)}")
    axes.set_ylabel("depth [mm]")
    axes.ticklabel_format(axis="y", useOffset=False)
    legend_above(axes, ncols=5)
    return figure


def _ends(at_mm: np.ndarray) -> tuple[float, float]:
    return float(at_mm.min()), float(at_mm.max())
