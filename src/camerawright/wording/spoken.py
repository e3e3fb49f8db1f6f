"""Numbers as they are typed or spoken: ``1.7``, ``1,7``, ``1 1/2``, ``1½``, ``one point seven``, ``two and a half``.

A decimal comma is a decimal point: nothing on a bench is counted in thousands.
"""

import re
from fractions import Fraction
from typing import Final

_SMALL: Final = (
    "nought", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve",
    "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
)  # fmt: skip
_TENS: Final = ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")
_VALUES: Final = {
    **{word: n for n, word in enumerate(_SMALL)},
    **{word: 10 * n for n, word in enumerate(_TENS, start=2)},
    "zero": 0,
    "oh": 0,
    "a": 1,
    "an": 1,
}
_PARTS: Final = {
    "half": Fraction(1, 2),
    "quarter": Fraction(1, 4),
    "quarters": Fraction(1, 4),
    "third": Fraction(1, 3),
    "thirds": Fraction(1, 3),
    "eighth": Fraction(1, 8),
    "eighths": Fraction(1, 8),
}
_SIGNS: Final = {
    "¼": Fraction(1, 4),
    "½": Fraction(1, 2),
    "¾": Fraction(3, 4),
    "⅓": Fraction(1, 3),
    "⅔": Fraction(2, 3),
    "⅛": Fraction(1, 8),
    "⅜": Fraction(3, 8),
    "⅝": Fraction(5, 8),
    "⅞": Fraction(7, 8),
}
SIGNS: Final = "".join(_SIGNS)
"""Fractions that are one sign."""

_ONES: Final = "|".join(sorted((*_SMALL, "zero"), key=len, reverse=True))
_WHOLE: Final = rf"(?:(?:{'|'.join(_TENS)})(?:[\s-](?:{'|'.join(_SMALL[1:10])}))?|{_ONES})"
_AFTER_POINT: Final = rf"point(?:[\s-](?:{'|'.join(_SMALL[:10])}|zero|oh))+"
_PART: Final = (
    r"(?:(?:a[\s-])?(?:half|quarter)|(?:a[\s-]|one[\s-])third|(?:an[\s-]|one[\s-])eighth"
    r"|(?:one|three)[\s-]quarters?|two[\s-]thirds|(?:three|five|seven)[\s-]eighths)"
)
_RATIO: Final = r"[1-9]\d?/[1-9]\d{0,2}"
_DIGITS: Final = r"\d{1,9}(?:[.,]\d{1,60})?"  # more is no number of anything at a bench

WHOLE: Final = rf"(?:\d{{1,9}}|\b{_WHOLE}\b)"
"""Pattern of a whole number, in digits or in words to ninety-nine."""
NUMBER: Final = (
    rf"(?:\d{{1,9}}(?:\s+|-){_RATIO}|{_RATIO}|\d{{1,9}}\s+and\s+(?:{_PART}\b|{_RATIO})|{_DIGITS}\s?[{SIGNS}]"
    rf"|[{SIGNS}]|{_DIGITS}|[.,]\d{{1,60}}|\b{_WHOLE}[\s-]{_AFTER_POINT}\b|\b(?:oh[\s-])?{_AFTER_POINT}\b"
    rf"|\b{_WHOLE}\s+and\s+{_PART}\b|\b{_PART}\b|\b{_WHOLE}\b)"
)
"""Pattern of a number as it is typed or spoken; to be used without regard to case."""

_IN_DIGITS: Final = re.compile(rf"(\d*(?:[.,]\d+)?)[\s-]*(?:(\d+)/(\d+)|([{SIGNS}]))?")
_FULL_WIDTH: Final = {code: code - 0xFEE0 for code in (*range(0xFF0B, 0xFF3B), *range(0xFF41, 0xFF5B))}
_OTHER_SIGNS: Final = {ord("✕"): "×", ord("✖"): "×", ord("⨯"): "×", ord("⁄"): "/"}


def in_plain_signs(text: str) -> str:
    """Turn the digits, letters and signs of other keyboards into plain ones."""
    return text.translate(_FULL_WIDTH | _OTHER_SIGNS)


def value(text: str) -> Fraction | None:
    """The number that a text is, exactly; None if it is none.

    Parameters
    ----------
    text
        One match of `NUMBER` or `WHOLE`, or anything else.
    """
    text = in_plain_signs(text.strip().casefold())
    if not re.fullmatch(NUMBER, text, re.I):
        return None
    found = _IN_DIGITS.fullmatch(text)
    return _in_words(re.split(r"[\s-]+", text)) if found is None else _in_digits(found)


def _in_digits(found: re.Match[str]) -> Fraction | None:
    """Digits, and a fraction after them; not after a decimal: nobody means 1.5 1/2."""
    number = found[1].replace(",", ".")
    if "." in number and (found[2] or found[4]):
        return None
    part = Fraction(int(found[2]), int(found[3])) if found[2] else _SIGNS.get(found[4], Fraction(0))
    return Fraction(f"0{number}" if number.startswith(".") else number or "0") + part


def _in_words(words: list[str]) -> Fraction:
    """Words: a whole number, and what follows “point” or “and”; or only a part."""
    if "and" in words:
        i_and = words.index("and")
        before, after = " ".join(words[:i_and]), " ".join(words[i_and + 1 :])
        return (value(before) or Fraction(0)) + (value(after) or Fraction(0))
    if words and words[-1] in _PARTS:
        return (_VALUES[words[0]] if len(words) > 1 else 1) * _PARTS[words[-1]]
    if "point" in words:
        i_point = words.index("point")
        digits = "".join(str(_VALUES[word]) for word in words[i_point + 1 :])
        return _in_words(words[:i_point]) + Fraction(f"0.{digits}")
    return Fraction(sum(_VALUES[word] for word in words))
