"""Shims as the bench says them: ``1 × 0.10 mm, NE corner``, ``0.1 NE``, ``two 50 µm under the lens board``."""

import re
from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from camerawright.journal.hardware import Shim
from camerawright.journal.lengths import FRACTION, MIL, UNIT, both_spellings, in_mm
from camerawright.journal.line import (
    OCLOCK,
    QUOTED,
    Line,
    breaks,
    count_first,
    in_quotes,
    kinds_in,
    only,
    plain,
)
from camerawright.journal.places import EACH, SEVERAL_PLACES, TWO_PLACES
from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import NUMBER, WHOLE, value

EXAMPLE: Final = "1 x 0.10 NE corner"
_THINNEST_MM: Final = 0.01
"""Thinner foil is hardly sold (common practice): a smaller number is in inches, or a slip."""

_NOT_TAKEN: Final = re.compile(r"\?")
_THICKNESS: Final = re.compile(rf"({NUMBER})(?!{OCLOCK})(?:\s*({UNIT})|(?![\d./″]|-\d))(?:\s*thick\b)?", re.I)
_PART: Final = {"tenth": Fraction(1, 10), "hundredth": Fraction(1, 100), "thousandth": Fraction(1, 1000)}
_PART_OF: Final = re.compile(
    rf"(?:(?P<half>half\s+an?)|(?P<a>an?)|(?P<number>{NUMBER}))\s+(?P<part>tenth|hundredth|thousandth)(?P<s>s?)\b"
    r"(?:\s+of\s+an?\s+(?P<of>mm|millimet(?:re|er)|inch|thou)\b)?",
    re.I,
)
_HALF_A: Final = re.compile(r"(?:(?P<half>half)\s+)?an?\s+(?P<of>mm|millimet(?:re|er)|inch|thou)\b", re.I)
_MATERIAL: Final = r"paper|card(?:board)?|foil|brass|bronze|copper|steel|tin|alumini?um|mica|plastic|tape"
_WITHOUT_COUNT: Final = re.compile(
    rf"(?=\?|\d*[.,]\d+|(?:{NUMBER})\s*{UNIT}|(?:nought|zero|oh|point)\b"
    rf"|(?:the\s+)?(?:thin\s+|thick\s+)?(?:{_MATERIAL}|shims?|shin|chim|gym|rings?|washers?)\b)",
    re.I,
)
_SEVERAL: Final = re.compile(r"\b(?:shims|foils|rings|washers|ones)\b", re.I)
_SAID_LATER: Final = re.compile(rf"(?<![\w.,])(?:(\d*[.,]\d+|\d+/\d+)(?:\s*({UNIT})|(?![\w.]))|(\d+)\s*({UNIT}))", re.I)
_COUNTS_AGAIN: Final = re.compile(
    rf"[(x×*]\s*{WHOLE}\s*\)?$|^[(x×*\s]*(?:{WHOLE}(?![\w]|{OCLOCK})|(?:an?\s+)?pair\b|doubled?\b|layers?\b|stack\b)"
    r"|^(?:or|to|about|and)\b|^[?+&/~]|\b(?:another|plus|more|ditto|again|total)\b|[,;]\s*(?:the\s+|an?\s+)?(?:same|shim)\b",
    re.I,
)
_BEGINS_WITH_ONE: Final = re.compile(rf"(?:\d*[.,]\d+|{NUMBER}\s*{UNIT})(?![\d/])", re.I)
_ONLY_A_NUMBER: Final = re.compile(rf"\s*{NUMBER}\s*(?:{UNIT})?\s*", re.I)
_IN: Final = re.compile(r"\s*in\s", re.I)
_SHIM: Final = re.compile(r"(?:shims?|shin|chim|gym|foils?)\b", re.I)
_BETWEEN: Final = re.compile(r"(?:[\s;:@–-]|,(?!\d))*(?:[×*]|x(?=\s))?(?:[\s;:@–-]|,(?!\d))*(?:(?:at|of)\s+)?", re.I)


def shims(text: str) -> tuple[Shim, ...]:
    """Read a line as stacks of like shims, each in one place.

    Parameters
    ----------
    text
        For each stack: count, thickness [mm, or with ``µm``, ``thou``, ``in``; ``?`` if it was not taken], place. A
        line that begins with a decimal number, ``?``, a material or ``shim`` is one shim.

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    kinds = kinds_in(count_first(text), EXAMPLE, _is_a_kind)
    return tuple(_shim(Line(one, EXAMPLE)) for kind in kinds for one in _one_by_one(kind))


def shim(text: str) -> Shim:
    """Read a line as one stack; else as `shims`."""
    return only(shims(text), text, EXAMPLE, "place")


def _is_a_kind(piece: str) -> bool:
    """Whether a piece that begins with a count has its times sign, a thickness, or the word."""
    return bool(re.match(r"\w+\s*[×x*]\s", piece, re.I) or _SAID_LATER.search(piece) or _SHIM.search(piece))


def _one_by_one(kind: str) -> Iterator[str]:
    """Shims that a line names one by one, without counts: ``0.1 NE, 0.05 SW``."""
    start = 0
    if _BEGINS_WITH_ONE.match(kind.strip()):
        for end, begin in breaks(kind):
            if _BEGINS_WITH_ONE.match(kind, begin) and not _ONLY_A_NUMBER.fullmatch(kind, start, end):
                yield kind[start:end]
                start = begin
    yield kind[start:]


def _shim(line: Line) -> Shim:
    """One stack."""
    count, thickness = 1, _part_of_a_unit(line)
    if thickness is None:
        is_one = bool(line.take(_WITHOUT_COUNT))
        if is_one and _SEVERAL.search(line.rest):
            raise line.wrong("how many? A number comes first")
        count = 1 if is_one else line.count()
        line.take(_SHIM)
        line.take(_BETWEEN)
        thickness = _part_of_a_unit(line)
    is_said, thickness_mm = (True, thickness) if thickness is not None else _thickness(line)
    line.take(re.compile(r"\s*"))
    line.take(_SHIM)
    line.take(_BETWEEN)
    place = _place(line, count, is_said=is_said)
    if not is_said:
        place, thickness_mm = _said_later(place, line)
    if not place:
        raise line.wrong("where did it lie? A shim needs its place", "")
    return line.checked(Shim, count=count, thickness_mm=thickness_mm, place=place)


def _place(line: Line, count: int, *, is_said: bool) -> str:
    """The rest of the line; asks if it gives a second count or thickness. In quotes it is a name."""
    quoted = QUOTED.fullmatch(line.rest.strip())
    place = line.named()
    if quoted:
        return place
    if is_said and _SAID_LATER.search(place):
        raise line.wrong("one shim of each? Write each in a line of its own: 1 x 0.10 NE", place[:40])
    if EACH.search(place) or SEVERAL_PLACES.search(place) or _COUNTS_AGAIN.search(place):
        raise line.wrong("how many are they in all? Write that first, and the place in quotes", place[:40])
    if count == 1 and "between" not in place and (two := TWO_PLACES.search(place)):
        raise line.wrong("one shim over both, or one at each? Write the count, and the place in quotes", two[0])
    return place


def _part_of_a_unit(line: Line) -> float | None:
    """A thickness as a part of a unit: ``a tenth``, ``half a millimetre``, ``two thousandths of an inch``. [mm]

    A tenth is one of a millimetre: of an inch there are tenths of a thou too, and no shim is so thin.
    """
    if half := line.take(_HALF_A):
        return in_mm("1/2" if half["half"] else "1", half["of"])
    found = line.take(_PART_OF)
    if not found:
        return None
    is_tenth = found["part"].casefold() == "tenth"
    if not found["of"] and (found["s"] or not is_tenth):
        mend = "Write 0.2 mm, or 2 x 0.1 mm" if is_tenth else "Write 0.05 mm, or 2 thou"
        raise line.wrong(f"a {found['part'].casefold()} of what, and how many? {mend}", found[0])
    number = Fraction(1, 2) if found["half"] else value(found["number"]) if found["number"] else Fraction(1)
    return float((number or 0) * _PART[found["part"].casefold()]) * in_mm("1", found["of"])


def _thickness(line: Line) -> tuple[bool, float | None]:
    """Whether the thickness stands here, and what it is; “?” says that it was not taken. [mm]"""
    if line.take(_NOT_TAKEN):
        return True, None
    found = line.take(_THICKNESS)
    return (True, _mm(line, found[1], found[2])) if found else (False, None)


def _said_later(place: str, line: Line) -> tuple[str, float | None]:
    """A thickness behind other words: ``1 x brass ring 0.1 NE``; two of them are unclear. [mm]"""
    found = list(_SAID_LATER.finditer(place))
    if len(found) > 1:
        raise line.wrong("which of these is the thickness? It follows the count", place[:40])
    if not found:
        return place, None
    one = found[0]
    around = (place[: one.start()].strip(" ,"), place[one.end() :].strip(" ,"))
    return " ".join(filter(None, around)), _mm(line, one[1] or one[3], one[2] or one[4])


def _mm(line: Line, number: str, unit: str | None) -> float:
    """A thickness; asks where it may be mm or inches. [mm]"""
    if unit is None and line.take(MIL):
        raise line.wrong(f"millimetres or thou? Write {number} mm or {number} thou", f"{number} mil")
    thickness_mm = in_mm(number, unit)
    is_thousandths = bool(re.search(r"[.,]\d{3}$", number) and _IN.match(line.rest))
    is_strange = thickness_mm < _THINNEST_MM or bool(FRACTION.search(number)) or is_thousandths
    if unit is None and thickness_mm > 0 and is_strange:
        raise line.wrong(both_spellings(number, inches="inch"), number)
    return thickness_mm


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
