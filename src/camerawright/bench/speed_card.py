"""The speed card: marked against actual speeds, for every test that compares with a marked speed."""

from typing import TYPE_CHECKING

from camerawright.bench.comparison_record import SIGNS
from camerawright.bench.contract import Json
from camerawright.bench.legend import legend_above

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Okabe and Ito's colour-blind-safe set
_BLUE, _ORANGE, _GREEN, _BLACK, _SKY = "#0072B2", "#D55E00", "#009E73", "#000000", "#56B4E9"
_COLOURS = {"within": _GREEN, "outside": _ORANGE, "undecided": _BLUE, None: _BLACK}


def speed_card_figure(as_found: list[Json], as_left: list[Json] | None = None) -> "Figure":
    """Marked against actual speed in stops, with 95 % bars and the tolerance band.

    Parameters
    ----------
    as_found, as_left
        The `compared` parts of records, one for each marked speed; those without are left out by the caller.
    """
    from matplotlib.figure import Figure  # noqa: PLC0415  slow to import

    figure = Figure(figsize=(7, 4), layout="constrained")
    axes = figure.subplots()
    targets = {c["marked"]: c["target_s"] for c in [*as_found, *(as_left or [])]}
    marks = sorted(targets, key=lambda mark: -targets[mark])
    bands = {c["marked"]: (c["lower_ev"], c["upper_ev"]) for c in [*as_found, *(as_left or [])]}
    for mark, (lower, upper) in bands.items():
        if lower is not None:
            x = marks.index(mark)
            axes.fill_between(
                [x - 0.4, x + 0.4], lower, upper, color=_SKY, alpha=0.25, lw=0, zorder=0, label="tolerance"
            )
    groups: list[tuple[list[Json], str, float, str | None]] = [
        (as_found, "as found" if as_left is not None else "", -0.12 if as_left else 0.0, "none")
    ]
    if as_left:
        groups.append((as_left, "as left", 0.12, None))
    for compared_set, name, shift, face in groups:
        _draw_speeds(axes, compared_set, marks, name, shift, face)
    axes.axhline(0, color=_BLACK, lw=0.8)
    axes.set_xticks(range(len(marks)), marks)
    axes.set_xlim(-0.6, len(marks) - 0.4)
    axes.set_xlabel("marked speed [s]")
    axes.set_ylabel("error [stops]   fast (−)   slow (+)")
    axes.grid(axis="y", color="0.9")
    legend_above(axes, ncols=3)
    return figure


def _draw_speeds(
    axes: "Axes", compared_set: list[Json], marks: list[str], name: str, shift: float, face: str | None
) -> None:
    """One group of points; hollow as found, filled as left, the sign of the verdict beside each."""
    named: set[str] = set()
    for compared in compared_set:
        verdict, x, y = compared["verdict"], marks.index(compared["marked"]) + shift, compared["mean_stops"]
        colour, sign = _COLOURS[verdict], SIGNS[verdict] if verdict else ""
        label = " ".join(filter(None, [name, sign, verdict or "no limits"]))
        axes.errorbar(
            x, y, yerr=compared["U95_mean_stops"], fmt="o", color=colour, mfc=face or colour, ms=6, capsize=4,
            label=None if label in named else label,
        )  # fmt: skip
        axes.annotate(sign, (x, y), (5, 0), textcoords="offset points", va="center", color=colour, fontsize=11)
        named.add(label)
