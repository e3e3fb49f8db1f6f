"""How the figures of a reading's record are headed and written, whichever bench test they come from."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from camerawright.bench.contract import Json
from camerawright.stages.readings import expanded_text, stops_text


@dataclass(frozen=True)
class Column:
    """A heading, and what stands under it."""

    head: str
    text: Callable[[Json], str]


def figure(value: float, doubt: float | None, sign: str) -> str:
    """A figure to two digits of its doubt, at most three after the point; without one, to three digits.

    Two digits of an uncertainty are enough (JCGM 100:2008, 7.2.6).
    """
    scale = abs(value) / 100 if doubt is None else doubt
    digits = 3 if scale <= 0 else max(0, min(3, 1 - math.floor(math.log10(scale))))
    if doubt is None:
        return f"{value:.{digits}f}"
    with_doubt = f"{sign} {doubt:.{digits}f}"
    return f"{value:.{digits}f} {with_doubt if sign == '±' else f'({with_doubt})'}"


def _time(name: str) -> Callable[[Json], str]:
    """A time in ms with its 95 % interval; with u where the record has no coverage factor for it."""

    def text(shot: Json) -> str:
        value, u, k = shot.get(f"{name}_s"), shot.get(f"u_{name}_s"), shot.get(f"k95_{name}")
        if value is None:
            return "not measured"
        if u is None:
            return figure(1e3 * value, None, "")
        return figure(1e3 * value, 1e3 * u * (k or 1.0), "±" if k else "u")

    return text


def _percent(name: str) -> Callable[[Json], str]:
    return lambda shot: "not measured" if shot.get(name) is None else f"{100 * shot[name]:.0f}"


def _stops(one: Json) -> str:
    return f"{stops_text(one['stops'])} ± {expanded_text(one['U95_stops'])}"


COLUMNS: Final[Mapping[str, Column]] = {
    "at_s": Column("at [s]", lambda shot: f"{shot['at_s']:.2f}"),
    "effective_s": Column("effective [ms]", _time("effective")),
    "half_peak_s": Column("half-peak [ms]", _time("half_peak")),
    "total_s": Column("total [ms]", _time("total")),
    "opening_s": Column("opening [ms]", _time("opening")),
    "closing_s": Column("closing [ms]", _time("closing")),
    "efficiency": Column("efficiency [%]", _percent("efficiency")),
    "snr_db": Column("signal to noise [dB]", lambda shot: f"{shot['snr_db']:.0f}"),
}
"""What a firing's record may hold, in the order of the columns. A key that is not here stays in the record."""

VERDICT_COLUMNS: Final[Mapping[str, Column]] = {
    "stops": Column("off by [stops]", _stops),
    "verdict": Column("verdict", lambda one: one["verdict"] or "no limits"),
}
"""What the comparison of a firing with its mark may hold."""
