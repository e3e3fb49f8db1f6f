"""What pictures of several tests share: colours, legends, and the speed card."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from camerawright.bench.comparison import Comparison
from camerawright.quantity import Word
from camerawright.wording.verdicts import NO_LIMITS, SIGNS

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Okabe and Ito's set, which colour-blind eyes tell apart
BLUE, ORANGE, GREEN, BLACK, SKY = "#0072B2", "#D55E00", "#009E73", "#000000", "#56B4E9"
VERDICT_COLOURS: Final[dict[Word | None, str]] = {"within": GREEN, "outside": ORANGE, "undecided": BLUE, None: BLACK}


def legend_above(axes: "Axes", ncols: int = 4) -> None:
    """Put the legend on top of the axes, outside them, where it never lies over a curve; each name once."""
    named = dict(zip(*reversed(axes.get_legend_handles_labels()), strict=True))
    axes.legend(
        named.values(), named.keys(), fontsize=9, loc="lower left", bbox_to_anchor=(0, 1), ncols=ncols, frameon=False,
        borderaxespad=0.1, handlelength=1.8, columnspacing=1.2,
    )  # fmt: skip


def speed_card(as_found: Sequence[Comparison], as_left: Sequence[Comparison] | None = None) -> "Figure":
    """Marked against actual speed in stops, with 95 % bars and the tolerance band.

    Parameters
    ----------
    as_found, as_left
        One for each marked speed. Without `as_left` the first are simply those of one recording.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(7, 4), layout="constrained")
    axes = figure.subplots()
    everything = [*as_found, *(as_left or [])]
    targets = {one.marked: one.target_s for one in everything}
    marks = sorted(targets, key=lambda mark: -targets[mark])
    bands = {one.marked: (one.lower_ev, one.upper_ev) for one in everything}
    for mark, (lower, upper) in bands.items():
        if lower is not None and upper is not None:
            x = marks.index(mark)
            axes.fill_between(
                [x - 0.4, x + 0.4], lower, upper, color=SKY, alpha=0.25, lw=0, zorder=0, label="tolerance"
            )
    groups: list[tuple[Sequence[Comparison], str, float, str | None]] = [
        (as_found, "as found" if as_left is not None else "", -0.12 if as_left else 0.0, "none")
    ]
    if as_left:
        groups.append((as_left, "as left", 0.12, None))
    for compared, name, shift, face in groups:
        _draw_speeds(axes, compared, marks, name, shift, face)
    axes.axhline(0, color=BLACK, lw=0.8)
    axes.set_xticks(range(len(marks)), marks)
    axes.set_xlim(-0.6, len(marks) - 0.4)
    axes.set_xlabel("marked speed [s]")
    axes.set_ylabel("error [stops]   fast (−)   slow (+)")
    axes.grid(axis="y", color="0.9")
    legend_above(axes, ncols=3)
    return figure


def _draw_speeds(
    axes: "Axes", compared: Sequence[Comparison], marks: list[str], name: str, shift: float, face: str | None
) -> None:
    """One group of points; hollow as found, filled as left, the sign of the verdict beside each."""
    named: set[str] = set()
    for one in compared:
        x, y = marks.index(one.marked) + shift, one.mean.value
        colour, sign = VERDICT_COLOURS[one.verdict], SIGNS[one.verdict] if one.verdict else ""
        label = " ".join(filter(None, [name, sign, one.verdict or NO_LIMITS]))
        axes.errorbar(
            x, y, yerr=one.mean.expanded_u, fmt="o", color=colour, mfc=face or colour, ms=6, capsize=4,
            label=None if label in named else label,
        )  # fmt: skip
        axes.annotate(sign, (x, y), (5, 0), textcoords="offset points", va="center", color=colour, fontsize=11)
        named.add(label)
