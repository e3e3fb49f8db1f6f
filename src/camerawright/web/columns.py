"""How the figures of a reading's record are headed and written, whichever bench test they come from."""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from camerawright.bench.comparison_record import coverage, never_less
from camerawright.bench.contract import Json
from camerawright.readings.rows import stops_text


@dataclass(frozen=True)
class Column:
    """A heading, and what stands under it."""

    head: str
    text: Callable[[Json], str]


def figure(value: float, doubt: float | None) -> str:
    """A figure to two digits of its doubt, at most three after the point; without one, to three digits.

    Two digits of an uncertainty are enough (JCGM 100:2008, 7.2.6).
    """
    scale = abs(value) / 100 if doubt is None else doubt
    digits = 3 if scale <= 0 else max(0, min(3, 1 - math.floor(math.log10(scale))))
    if doubt is None:
        return f"{value:.{digits}f}"
    return f"{value:.{digits}f} ± {doubt:.{digits}f}"


def _time(name: str) -> Callable[[Json], str]:
    """A time in ms with its 95 % interval."""

    def text(shot: Json) -> str:
        value, u = shot.get(f"{name}_s"), shot.get(f"u_{name}_s")
        if value is None:
            return "not measured"
        if u is None:
            return figure(1e3 * value, None)
        return figure(1e3 * value, 1e3 * u * coverage(shot, name))

    return text


def _percent(name: str) -> Callable[[Json], str]:
    return lambda shot: "not measured" if shot.get(name) is None else f"{100 * shot[name]:.0f}"


def _around(name: str, scale: float) -> Callable[[Json], str]:
    """A figure with its 95 % interval, in another unit."""

    def text(shot: Json) -> str:
        if shot.get(name) is None:
            return "not measured"
        doubt = scale * shot[f"u_{name}"] * shot[f"k95_{name}"]
        return figure(scale * shot[name], doubt).replace("-", "−")

    return text


def _sensors(shot: Json) -> str:
    """The exposure at each place of the gate."""
    return "; ".join(
        f"{one['at_mm']:g} mm {figure(1e3 * one['exposure_s'], 1e3 * one['k95_exposure'] * one['u_exposure_s'])}"
        for one in shot["sensors"]
    )


def _curtain(name: str) -> Callable[[Json], str]:
    """How long a curtain takes across the gate."""
    return lambda shot: figure(1e3 * shot[name]["across_s"], 2e3 * shot[name]["u_across_s"])


def _from_full_open(shot: Json) -> str:
    """When the contact makes, from full opening."""
    for delay in shot["delays"]:
        if delay["from"] == "full open":
            ms, doubt = 1e3 * delay["delay_s"], 1e3 * delay["k95"] * delay["u_delay_s"]
            return figure(ms, doubt).replace("-", "−")
    return "does not close" if not shot.get("has_closed", True) else "not measured"


def _open_close(shot: Json) -> str:
    """The time from opening to closing by sound, where it can be defended."""
    pair = shot["open_close"]
    return "refused" if pair["refused"] else figure(1e3 * pair["time_s"], 1e3 * pair["k95"] * pair["u_time_s"])


def _stops(one: Json) -> str:
    return f"{stops_text(one['stops'])} ± {never_less(one['U95_stops'])}"


COLUMNS: Final[Mapping[str, Column]] = {
    "at_s": Column("at [s]", lambda shot: f"{shot['at_s']:.2f}"),
    "effective_s": Column("effective [ms]", _time("effective")),
    "half_peak_s": Column("half-peak [ms]", _time("half_peak")),
    "total_s": Column("total [ms]", _time("total")),
    "opening_s": Column("opening [ms]", _time("opening")),
    "closing_s": Column("closing [ms]", _time("closing")),
    "efficiency": Column("efficiency [%]", _percent("efficiency")),
    "frames_open": Column("frames", lambda shot: f"{shot['frames_open']}"),
    "sensors": Column("exposure by place [ms]", _sensors),
    "first": Column("first curtain [ms]", _curtain("first")),
    "second": Column("second curtain [ms]", _curtain("second")),
    "uneven_stops": Column(
        "uneven [stops]",
        lambda shot: figure(shot["uneven_stops"], 2 * shot["u_uneven_stops"]),
    ),
    "delays": Column("make from full open [ms]", _from_full_open),
    "dwell_s": Column("closed for [ms]", _time("dwell")),
    "n_bounces": Column("bounces", lambda shot: "" if shot["n_bounces"] is None else f"{shot['n_bounces']}"),
    "usable_for_flash": Column("for electronic flash", lambda shot: str(shot["usable_for_flash"])),
    "n_beats": Column("beats", lambda shot: f"{shot['n_beats']}"),
    "n_missed": Column("not heard", lambda shot: f"{shot['n_missed']}"),
    "beat_rate_hz": Column("beats a second", _around("beat_rate_hz", 1)),
    "unevenness": Column("uneven [%]", _around("unevenness", 100)),
    "alternation": Column("every other beat [%]", _around("alternation", 100)),
    "drift": Column("slows by [%]", _around("drift", 100)),
    "open_close": Column("opening to closing [ms]", _open_close),
    "snr_db": Column("signal to noise [dB]", lambda shot: f"{shot['snr_db']:.0f}"),
}
"""What a firing's record may hold, in the order of the columns. A key that is not here stays in the record."""

VERDICT_COLUMNS: Final[Mapping[str, Column]] = {
    "stops": Column("off by [stops]", _stops),
    "verdict": Column("verdict", lambda one: one["verdict"] or "no limits"),
}
"""What the comparison of a firing with its mark may hold."""
