"""A legend that never lies over a curve."""

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def legend_above(axes: "Axes", ncols: int = 4) -> None:
    """The legend on top of the axes, outside them; each name once."""
    named = dict(zip(*reversed(axes.get_legend_handles_labels()), strict=True))
    axes.legend(
        named.values(), named.keys(), fontsize=9, loc="lower left", bbox_to_anchor=(0, 1), ncols=ncols, frameon=False,
        borderaxespad=0.1, handlelength=1.8, columnspacing=1.2,
    )  # fmt: skip
