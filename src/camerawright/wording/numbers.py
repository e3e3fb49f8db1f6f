"""Numbers as text: rounded by their own uncertainty, with a real minus sign, never as a power of ten."""

import math
from decimal import Decimal
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
        return short(value)
    return fixed(value, max(0, n_digits - 1 - _decade(value, n_digits)))


def short(value: float, n_digits: int = 6) -> str:
    """A number as somebody typed it, to so many digits, without zeros at its end: ``24``, ``0.35``."""
    if value == 0 or not math.isfinite(value):
        return f"{value:g}".replace("-", _MINUS)
    return f"{Decimal(f'{value:.{n_digits - 1}e}').normalize():f}".replace("-", _MINUS)


def _decade(value: float, n_digits: int) -> int:
    """The power of ten of the first digit, once rounded to so many: 0.0996 to two digits is 0.10."""
    return Decimal(f"{value:.{n_digits - 1}e}").adjusted()


def digits_of(expanded: float, most: int = 3) -> int:
    """How many digits after the point an uncertainty leaves: two of its own, and `most` at the most.

    References
    ----------
    [jcgm-100] 7.2.6: two digits of an uncertainty are enough.
    """
    if expanded <= 0:
        return most
    return max(0, min(most, 1 - _decade(expanded, 2)))


def with_interval(value: float, expanded: float, *, most: int = 3, has_sign: bool = False) -> str:
    """A value and half its 95 % interval, to two digits of the latter: ``12.3 ± 0.4``."""
    digits = digits_of(expanded, most)
    shown = max(expanded, 10.0**-digits) if expanded > 0 else expanded  # "± 0.000" would claim an exact value
    return f"{signed(value, digits) if has_sign else fixed(value, digits)} ± {fixed(shown, digits)}"


def milliseconds(time_s: float, expanded_s: float) -> str:
    """A time with half its 95 % interval: ``8.12 ± 0.05 ms``."""
    return f"{with_interval(1e3 * time_s, max(1e3 * expanded_s, 1e-3))} ms"


def stops(error: float, expanded: float) -> str:
    """An error in stops with half its 95 % interval, to a hundredth: ``+0.33 ± 0.04``; no owner sees less."""
    return f"{signed(error)} ± {never_less(expanded)}"


def never_less(expanded: float) -> str:
    """Half an interval to a hundredth, never rounded below what it is. [jcgm-100] 7.2.6"""
    return fixed(math.ceil(round(expanded * 100, 6)) / 100, 2)


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
