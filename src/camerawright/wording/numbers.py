"""Numbers as text: rounded by their own uncertainty, with a real minus sign, never as a power of ten."""

import math
from typing import Final

_MINUS: Final = "−"


def fixed(value: float, digits: int) -> str:
    """A number with so many digits after the point: ``-1.50``."""
    return f"{value:.{digits}f}".replace("-", _MINUS)


def signed(value: float, digits: int = 2) -> str:
    """A number with its sign: ``+0.33``."""
    return f"{value:+.{digits}f}".replace("-", _MINUS)


def significant(value: float, n_digits: int = 3) -> str:
    """A number to so many digits that count: ``0.0125``, ``8.33``, ``1024``."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}"
    return fixed(value, max(0, n_digits - 1 - math.floor(math.log10(abs(value)))))


def short(value: float, n_digits: int = 6) -> str:
    """A number as somebody typed it, without zeros at its end: ``24``, ``0.35``."""
    return f"{value:.{n_digits}g}".replace("-", _MINUS)


def digits_of(expanded: float, most: int = 3) -> int:
    """How many digits after the point an uncertainty leaves: two of its own, and `most` at the most.

    References
    ----------
    [jcgm-100] 7.2.6: two digits of an uncertainty are enough.
    """
    if expanded <= 0:
        return most
    return max(0, min(most, 1 - math.floor(math.log10(expanded))))


def with_interval(value: float, expanded: float, *, most: int = 3, has_sign: bool = False) -> str:
    """A value and half its 95 % interval, to two digits of the latter: ``12.3 ± 0.4``."""
    digits = digits_of(expanded, most)
    return f"{signed(value, digits) if has_sign else fixed(value, digits)} ± {fixed(expanded, digits)}"


def milliseconds(time_s: float, expanded_s: float) -> str:
    """A time with half its 95 % interval: ``8.12 ± 0.05 ms``."""
    return f"{with_interval(1e3 * time_s, max(1e3 * expanded_s, 1e-3))} ms"


def stops(error: float, expanded: float) -> str:
    """An error in stops with half its 95 % interval, to a hundredth: ``+0.33 ± 0.04``; no owner sees less."""
    return f"{signed(error)} ± {never_less(expanded)}"


def never_less(expanded: float) -> str:
    """Half an interval to a hundredth, never rounded below what it is. [jcgm-100] 7.2.6"""
    return f"{math.ceil(round(expanded * 100, 6)) / 100:.2f}"


def percent(part: float, digits: int = 0) -> str:
    """A part of one in per cent: ``85 %``."""
    return f"{fixed(100 * part, digits)} %"


def percent_with_interval(part: float, expanded: float, digits: int = 1, *, has_sign: bool = False) -> str:
    """A part of one and half its interval, in per cent: ``2.1 ± 0.3 %``."""
    value = signed(100 * part, digits) if has_sign else fixed(100 * part, digits)
    return f"{value} ± {fixed(100 * expanded, digits)} %"


def counted(n: int, one: str, several: str = "") -> str:
    """How many: ``1 firing``, ``3 firings``."""
    return f"{n} {one if n == 1 else several or f'{one}s'}"
