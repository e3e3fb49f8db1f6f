"""Shims as the bench says them: ``1 × 0.10 mm, NE corner``, ``0.1 NE``, ``two 50 µm under the lens board``."""

import re
from fractions import Fraction
from typing import Final

from camerawright.journal.hardware import Shim
from camerawright.journal.line import OCLOCK, Line, in_quotes, kinds_in, only, plain
from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import NUMBER, value

EXAMPLE: Final = "1 x 0.10 NE corner"
# A thou is exactly 0.001 in, an inch exactly 25.4 mm.
_MM_PER: Final = {"mm": Fraction(1), "thou": Fraction(254, 10_000)}
_MICRON: Final = Fraction(1, 1000)

_UNIT: Final = r"mm|[µμu]m|microns?|thou"
_NOT_TAKEN: Final = re.compile(r"\?")
_THICKNESS: Final = re.compile(rf"({NUMBER})(?!{OCLOCK})(?:\s*({_UNIT})\b|(?![\d./]|-\d))(?:\s*thick\b)?", re.I)
_TENTHS: Final = re.compile(rf"(?:{NUMBER}|an?)\s+tenths?\b", re.I)
_MATERIAL: Final = r"paper|card(?:board)?|foil|brass|bronze|copper|steel|tin|alumini?um|mica|plastic|tape"
_WITHOUT_COUNT: Final = re.compile(
    rf"(?=\?|\d*[.,]\d+|(?:{NUMBER})\s*(?:{_UNIT})\b|(?:nought|zero|oh|point)\b"
    rf"|(?:the\s+)?(?:thin\s+|thick\s+)?(?:{_MATERIAL}|shims?|shin|chim|gym|rings?|washers?)\b)",
    re.I,
)
_SEVERAL: Final = re.compile(r"\b(?:shims|foils|rings|washers|ones)\b", re.I)
_HUNDREDTHS: Final = re.compile(rf"(?:{NUMBER}|an?)\s+(?:hundredths?|thousandths?)\b", re.I)
_SAID_LATER: Final = re.compile(rf"(?<![\w.,])(?:(0?[.,]\d+)(?:\s*({_UNIT})\b|(?![\w.]))|(\d+)\s*({_UNIT})\b)", re.I)
_SHIM: Final = re.compile(r"(?:shims?|shin|chim|gym|foils?)\b", re.I)
_BETWEEN: Final = re.compile(r"[\s,]*(?:[×*]|x(?=\s))?[\s,]*(?:(?:at|of)\s+)?", re.I)


def shims(text: str) -> tuple[Shim, ...]:
    """Read a line as stacks of like shims, each in one place.

    Parameters
    ----------
    text
        For each stack: count, thickness [mm, or with ``µm`` or ``thou``; ``?`` if it was not taken], place. A line
        that begins with a decimal number, ``?``, a material or ``shim`` is one shim.

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    return tuple(_shim(Line(kind, EXAMPLE)) for kind in kinds_in(text, EXAMPLE, _is_a_kind))


def shim(text: str) -> Shim:
    """Read a line as one stack; else as `shims`."""
    return only(shims(text), text, EXAMPLE, "place")


def _is_a_kind(piece: str) -> bool:
    """Whether a piece that begins with a count has its times sign, a thickness, or the word."""
    return bool(re.match(r"\w+\s*[×x*]\s", piece, re.I) or _SAID_LATER.search(piece) or _SHIM.search(piece))


def _shim(line: Line) -> Shim:
    """One stack."""
    if parts := line.take(_HUNDREDTHS):
        raise line.wrong("a hundredth of what? Write 0.05 mm, or 2 thou", parts[0])
    is_one = bool(line.take(_WITHOUT_COUNT))
    if is_one and _SEVERAL.search(line.rest):
        raise line.wrong("how many? A number comes first")
    count = 1 if is_one else line.count()
    line.take(_SHIM)
    line.take(_BETWEEN)
    if tenths := line.take(_TENTHS):
        raise line.wrong("a tenth of what? Write 0.1 mm", tenths[0])
    is_said, thickness_mm = _thickness(line)
    line.take(re.compile(r"\s*"))
    line.take(_SHIM)
    line.take(_BETWEEN)
    place = line.named()
    if not is_said:
        place, thickness_mm = _said_later(place, line)
    if not place:
        raise line.wrong("where did it lie? A shim needs its place", "")
    return line.checked(Shim, count=count, thickness_mm=thickness_mm, place=place)


def _thickness(line: Line) -> tuple[bool, float | None]:
    """Whether the thickness stands here, and what it is; “?” says that it was not taken. [mm]"""
    if line.take(_NOT_TAKEN):
        return True, None
    found = line.take(_THICKNESS)
    if found:
        return True, _mm(found[1], found[2])
    return False, None


def _said_later(place: str, line: Line) -> tuple[str, float | None]:
    """A thickness behind other words: ``1 x brass ring 0.1 NE``; two of them are unclear. [mm]"""
    found = list(_SAID_LATER.finditer(place))
    if len(found) > 1:
        raise line.wrong("which of these is the thickness? It follows the count", place[:40])
    if not found:
        return place, None
    one = found[0]
    around = (place[: one.start()].strip(" ,"), place[one.end() :].strip(" ,"))
    return " ".join(filter(None, around)), _mm(one[1] or one[3], one[2] or one[4])


def _mm(number: str, unit: str | None) -> float:
    return float((value(number) or Fraction(0)) * _MM_PER.get((unit or "mm").casefold(), _MICRON))


def written_shim(of: Shim) -> str:
    """The line that `of` reads as the same again."""
    simple = _written(of, of.place)
    try:
        if shims(simple) == (of,):
            return simple
    except NotUnderstood:
        pass
    return _written(of, in_quotes(of.place))


def _written(of: Shim, place: str) -> str:
    if of.thickness_mm is None:
        return f"{of.count} × ?, {place}"
    to_hundredths = f"{of.thickness_mm:.2f}"
    exact = to_hundredths if float(to_hundredths) == of.thickness_mm else plain(of.thickness_mm)
    return f"{of.count} × {exact} mm, {place}"
