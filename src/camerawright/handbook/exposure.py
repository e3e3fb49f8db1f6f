"""Marked speeds, stops, and exposure values.

Two series of marks are in use. The modern one (1 1/2 1/4 1/8 1/15 1/30 1/60 1/125 ...) rounds the powers of two: its
target is the power of two. The old one (1 1/2 1/5 1/10 1/25 1/50 ...) is no such rounding: its target is the mark.
"""

import math
import re
from dataclasses import dataclass
from typing import Literal

from camerawright.trouble import NotUnderstood

Series = Literal["power of two", "as marked"]

# The marks that round a power of two, with its exponent: t = 2^-n s. [iso-516] series, quoted; ends: common practice.
_MODERN = {
    1.0: 0, 2.0: 1, 4.0: 2, 8.0: 3, 15.0: 4, 30.0: 5, 60.0: 6, 125.0: 7, 250.0: 8, 500.0: 9, 1000.0: 10, 2000.0: 11,
    4000.0: 12, 8000.0: 13,
}  # fmt: skip

MODERN_MARKS = ("1", "1/2", "1/4", "1/8", "1/15", "1/30", "1/60", "1/125", "1/250", "1/500", "1/1000")
"""The marks of the modern series, slowest first. [iso-516]"""
OLD_MARKS = ("1", "1/2", "1/5", "1/10", "1/25", "1/50", "1/100", "1/250", "1/500")
"""The marks of the old series, slowest first. Common practice on cameras of the 1930s to 1950s."""

_FRACTION = re.compile(r"1\s*/\s*(\d+(?:\.\d+)?)\s*(?:s|sec)?")
_SECONDS = re.compile(r"(\d+(?:\.\d+)?)\s*(?:s|sec|\"|″)")
_DIAL = re.compile(r"(\d+)")

ISO_2720_K_CD_S_M2 = (10.6, 13.4)
"""Range that ISO 2720:1974 leaves for the reflected-light constant K. [iso-2720], quoted."""
ISO_2720_C_FLAT_LX_S = (240.0, 400.0)
"""Range that ISO 2720:1974 leaves for the incident-light constant C of a flat receptor. [iso-2720], quoted."""
ISO_2720_C_DOME_LX_S = (320.0, 540.0)
"""Range that ISO 2720:1974 leaves for the incident-light constant C of a hemispherical receptor. [iso-2720], quoted."""


@dataclass(frozen=True)
class MarkedSpeed:
    """A speed as engraved, and the time it stands for.

    `marked_s` is the engraved number in seconds, `target_s` the time that a reading is compared with.
    """

    text: str
    marked_s: float
    target_s: float
    series: Series


def marked_speed(text: str, series: Series | None = None) -> MarkedSpeed:
    """Read a marked speed: ``1/125``, ``125`` (as on a dial), ``1s``, ``1/5``, ``0.5s``.

    Parameters
    ----------
    text
        The mark. A bare whole number is read as on a dial: ``125`` is 1/125 s, ``1`` is one second.
    series
        How the target follows from the mark. By default ``power of two`` for a mark of the modern series and
        ``as marked`` for any other; give ``as marked`` for the 1/250 and 1/500 of an old dial.

    Raises
    ------
    NotUnderstood
        ``B``, ``T`` and the like have no marked time; anything else unreadable, zero, or out of 1/16000 s to one hour.

    Notes
    -----
    1/15 stands for 1/16, 1/30 for 1/32, 1/60 for 1/64 (0.093 stop), 1/125 for 1/128 up to 1/1000 for 1/1024
    (0.034 stop). That the marks of the modern series are compared with the powers of two, and those of the old one
    with themselves, is common practice.

    References
    ----------
    [iso-516] series of marked exposure times, quoted.
    """
    marked_s = _mark_s(text.strip())
    if not 1 / 16_000 <= marked_s <= 3600:
        raise NotUnderstood(f"{text.strip()!r} is not a shutter speed", "give one between 1/16000 s and one hour")
    exponent = _exponent(marked_s)
    if series is None:
        series = "as marked" if exponent is None else "power of two"
    if series == "as marked":
        return MarkedSpeed(name_of(marked_s), marked_s, marked_s, series)
    if exponent is None:
        raise NotUnderstood(
            f"{text.strip()!r} is not in the series of powers of two", f"use one of {', '.join(MODERN_MARKS)}"
        )
    return MarkedSpeed(name_of(marked_s), marked_s, 2.0**-exponent, series)


def _mark_s(text: str) -> float:
    """The engraved number in seconds."""
    if text.upper() in {"B", "T", "Z", "D", "BULB", "TIME"}:
        raise NotUnderstood(f"{text!r} has no marked time", "leave the mark out: the times are measured all the same")
    for pattern, is_inverse in ((_FRACTION, True), (_SECONDS, False), (_DIAL, True)):
        match = pattern.fullmatch(text)
        number = float(match[1]) if match else 0.0
        if number > 0:
            return 1 / number if is_inverse else number
    raise NotUnderstood(f"{text!r} is not a marked speed", "write 1/125, 125 (as on the dial), 1s or 0.5s")


def _exponent(marked_s: float) -> int | None:
    """n of the 2^-n s that a mark of the modern series stands for; None for a mark of no such series."""
    for number, exponent in _MODERN.items():
        if math.isclose(marked_s, 1 / number, rel_tol=1e-9):
            return exponent
        if math.isclose(marked_s, number, rel_tol=1e-9):
            return -exponent
    return None


def name_of(time_s: float) -> str:
    """A time as the trade writes it: ``1/125``, ``2 s``, ``1/3.1``."""
    if time_s >= 0.95:
        return f"{time_s:.3g} s"
    inverse = 1 / time_s
    return f"1/{inverse:.1f}".removesuffix(".0") if inverse < 10 else f"1/{inverse:.0f}"


def stops(actual_s: float, target_s: float) -> float:
    """Exposure error of a time; positive is slow, which over-exposes. [stop]"""
    return math.log2(actual_s / target_s)


def time_from_stops(error_stops: float, target_s: float) -> float:
    """The time that is `error_stops` slow against a target. [s]"""
    return float(target_s * 2.0**error_stops)


def time_value(time_s: float) -> float:
    """Tv of a time. [apex] Tv = -log2 t"""
    return -math.log2(time_s)


def aperture_value(f_number: float) -> float:
    """Av of an f-number. [apex] Av = 2 log2 N"""
    return 2 * math.log2(f_number)


def exposure_value(f_number: float, time_s: float) -> float:
    """EV of an f-number and a time: Av + Tv, film speed not in it. [apex]"""
    return aperture_value(f_number) + time_value(time_s)


def speed_value(film_speed: float) -> float:
    """Sv of an arithmetic film speed. [apex] Sv = log2(S / 3.125), constant from memory; S 100 gives 5."""
    return math.log2(film_speed / 3.125)


def luminance_value(luminance_cd_m2: float, k_cd_s_m2: float) -> float:
    """Bv of a luminance for a meter of constant K. [apex] Bv = log2(L / (0.32 K)), constant from memory."""
    return math.log2(luminance_cd_m2 / (0.32 * k_cd_s_m2))


def ev_of_luminance(luminance_cd_m2: float, film_speed: float, k_cd_s_m2: float) -> float:
    """EV that a reflected-light meter of constant K should show. [iso-2720] N²/t = L S / K, quoted."""
    return math.log2(luminance_cd_m2 * film_speed / k_cd_s_m2)


def ev_of_illuminance(illuminance_lx: float, film_speed: float, c_lx_s: float) -> float:
    """EV that an incident-light meter of constant C should show. [iso-2720] N²/t = E S / C, quoted."""
    return math.log2(illuminance_lx * film_speed / c_lx_s)


def luminance_of_ev(ev: float, film_speed: float, k_cd_s_m2: float) -> float:
    """Luminance that should read `ev`. [cd/m²; iso-2720]"""
    return float(2.0**ev * k_cd_s_m2 / film_speed)


def illuminance_of_ev(ev: float, film_speed: float, c_lx_s: float) -> float:
    """Illuminance that should read `ev`. [lx; iso-2720]"""
    return float(2.0**ev * c_lx_s / film_speed)
