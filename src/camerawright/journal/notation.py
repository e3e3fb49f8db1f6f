"""How fasteners, shims and loose parts are written in a line of text, and read back.

The bench writes ``3 × M1.7 × 4 cheese LH at NE corner`` (count, thread, length in mm, head, hand, hole),
``1 × 0.10 mm, NE corner`` (count, thickness, place) and ``1 × ball 1.5 mm at dial rim`` (count, what, place). Reading
is generous where a hand is quick (``x`` or ``*`` for ``×``, ``three``, a decimal comma, ``10 ba``) and refuses where a
guess would spoil the count: a joint without a number, a thread that is none.
"""

import re
from decimal import Decimal
from fractions import Fraction
from typing import Annotated, Final

from pydantic import Field, ValidationError

from camerawright.journal.fields import AsText, Called
from camerawright.journal.hardware import Fastener, Loose, Shim
from camerawright.trouble import NotUnderstood

FASTENER_EXAMPLE: Final = "3 x M1.7 x 4 cheese"
SHIM_EXAMPLE: Final = "1 x 0.10 NE corner"
LOOSE_EXAMPLE: Final = "1 x ball 1.5 mm"

_NUMBER_WORDS: Final = (
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
)
_TIMES: Final = r"\s*(?:[×x*]|by\b)\s*"
_DECIMAL: Final = r"\d+(?:[.,]\d+)?|[.,]\d+"
_COUNT: Final = re.compile(rf"(\d+|(?:{'|'.join(_NUMBER_WORDS)})\b)(?:{_TIMES}|\s+)", re.I)
# ISO 261 metric, ISO 1501 miniature (S), British Association, unified by number or by fraction.
_METRIC: Final = re.compile(rf"([MS])\s?({_DECIMAL})(?!\d)", re.I)
_BA: Final = re.compile(r"(\d{1,2})[\s-]?BA\b", re.I)
_UNIFIED: Final = re.compile(r"#?((?:\d{1,2}|0{3,4}|\d/\d{1,2})-\d{2,3})\b")
_QUOTED: Final = re.compile(r'"((?:[^"]|"")+)"')
_PITCH: Final = re.compile(rf"{_TIMES}({_DECIMAL})(?!\s*mm)(?=\s|[×x*]|$)", re.I)
_LENGTH: Final = re.compile(
    rf"(?:{_TIMES}|\s+)(\d+/\d+|{_DECIMAL})(?:\s*(mm|inch|in)\b|(?![\w/.]))(?:\s*long\b)?", re.I
)
_HOLE: Final = re.compile(r"\s*\bat\s+(\S.*)", re.I | re.S)
_HAND: Final = re.compile(
    r"\s*,?\s*(?:(LH|left(?:[\s-]?hand(?:ed)?)?)|(?:RH|right(?:[\s-]?hand(?:ed)?)?))(?![\w-])", re.I
)
_WHAT: Final = re.compile(r"\S(?:.*?\S)??(?=\s+at\s+\S|\Z)", re.I | re.S)
_WORD: Final = re.compile(r"\s*,?\s*([^\W\d_][\w'/-]*)")
_THICKNESS: Final = re.compile(
    rf"\s*(?:(\?)|({_DECIMAL})(?!\s*o[’']?\s?clock)(?:\s*(mm|µm|μm|um|microns?|thou)\b|(?![\w/.])))", re.I
)
_MM_PER: Final = {"mm": Decimal(1), "thou": Decimal("0.0254")}  # a thou is exactly 0.001 in, an inch exactly 25.4 mm

_SHORT_HEADS: Final = {"csk": "countersunk"}


def _not_understood(text: str, place: str, expected: str, example: str) -> NotUnderstood:
    """A line that is not a fastener, shim or loose part: names the place, what belongs there, and an example."""
    here = f"at “{place}”" if place else "at the end" if text.strip() else "nothing is written"
    return NotUnderstood(f"{here}: {expected}", f"write it like “{example}”", f"“{text}”")


class _Reader:
    """A line, and how far it was read."""

    def __init__(self, text: str, example: str) -> None:
        self.text, self.example, self.i = text.strip(), example, 0

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        found = pattern.match(self.text, self.i)
        if found:
            self.i = found.end()
        return found

    @property
    def rest(self) -> str:
        return self.text[self.i :]

    def wrong(self, expected: str) -> NotUnderstood:
        return _not_understood(self.text, self.rest.strip()[:40], expected, self.example)


def fastener(text: str) -> Fastener:
    """Read one line as like fasteners out of one joint.

    Parameters
    ----------
    text
        Count, thread, then as far as known length [mm, or with ``in``], head, hand, and ``at`` the hole. What has no
        thread stands in quotes: ``2 x "taper pin" x 5``. A number below 1 without a unit, or the first of two, is the
        pitch: ``M1.7x0.35`` (common practice: no screw of a camera is that short).

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    line = _Reader(text, FASTENER_EXAMPLE)
    count = _count(line)
    size = _size(line)
    length_mm = _length_mm(line)
    head, hand = _head_and_hand(line)
    hole = line.take(_HOLE)
    if line.rest.strip():
        raise line.wrong("this is neither a head, a hand (LH) nor a hole (at ...)")
    try:
        return Fastener.model_validate(
            {
                "count": count,
                "size": size,
                "length_mm": length_mm,
                "head": head,
                "hand": hand,
                "hole": hole[1] if hole else None,
            }
        )
    except ValidationError as error:
        raise _out_of_range(line, error) from None


def shim(text: str) -> Shim:
    """Read one line as a stack of like shims in one place.

    Parameters
    ----------
    text
        Count, thickness [mm, or with ``µm`` or ``thou``; ``?`` if it was not taken], place.

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    line = _Reader(text, SHIM_EXAMPLE)
    count = _count(line)
    thickness = line.take(_THICKNESS)
    if not thickness and re.match(r"[\d.,]+(?!\s*o[’']?\s?clock)", line.rest):
        raise line.wrong("is that a thickness in mm? Then a space and the place follow")
    place = re.sub(r"^(?:,|[×x*](?=\s))\s*", "", line.rest.strip(), flags=re.I)
    if not place:
        raise line.wrong("where did it lie? A shim needs its place")
    try:
        return Shim(count=count, thickness_mm=_thickness_mm(thickness) if thickness else None, place=place)
    except ValidationError as error:
        raise _out_of_range(line, error) from None


def loose(text: str) -> Loose:
    """Read one line as like small parts that nothing holds: balls, springs, pawls.

    Parameters
    ----------
    text
        Count, what it is, and ``at`` its place, as far as known; in quotes what itself holds an ``at``.

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    line = _Reader(text, LOOSE_EXAMPLE)
    count = _count(line)
    quoted = line.take(_QUOTED)
    what = quoted[1].replace('""', '"') if quoted else _what(line)
    place = line.take(_HOLE)
    if line.rest.strip():
        raise line.wrong("only a place (at ...) follows what it is")
    try:
        return Loose.model_validate({"what": what, "count": count, "place": place[1] if place else None})
    except ValidationError as error:
        raise _out_of_range(line, error) from None


def _what(line: _Reader) -> str:
    """What it is, in plain words."""
    found = line.take(_WHAT)
    if not found:
        raise line.wrong("what is it? A ball, a spring, a pawl")
    return found[0]


def written_fastener(fastener: Fastener) -> str:
    """The line that `fastener` reads as the same again."""
    text = f"{fastener.count} × {_written_size(fastener.size)}"
    if fastener.length_mm is not None:
        text += f" × {_plain(fastener.length_mm)}" + (" mm" if fastener.length_mm < 1 else "")
    if fastener.head is not None:
        text += f" {_written_head(fastener.head)}"
    if fastener.hand == "left":
        text += " LH"
    return text if fastener.hole is None else f"{text} at {fastener.hole}"


def written_shim(shim: Shim) -> str:
    """The line that `shim` reads as the same again."""
    if shim.thickness_mm is None:
        return f"{shim.count} × ?, {shim.place}"
    to_hundredths = f"{shim.thickness_mm:.2f}"
    exact = to_hundredths if float(to_hundredths) == shim.thickness_mm else _plain(shim.thickness_mm)
    return f"{shim.count} × {exact} mm, {shim.place}"


def written_loose(item: Loose) -> str:
    """The line that `item` reads as the same again."""
    place = f" at {item.place}" if item.place is not None else ""
    plain = f"{item.count} × {item.what}{place}"
    try:
        is_plain = loose(plain) == item
    except NotUnderstood:
        is_plain = False
    return plain if is_plain else f"{item.count} × {_quoted(item.what)}{place}"


def _count(line: _Reader) -> int:
    """How many; never taken for granted, because the balance rests on it."""
    found = line.take(_COUNT)
    if not found:
        raise line.wrong("how many? A number comes first")
    word = found[1].casefold()
    return _NUMBER_WORDS.index(word) + 1 if word in _NUMBER_WORDS else int(word)


def _size(line: _Reader) -> str:
    """The thread in its one spelling, or what stands in quotes as it is."""
    if quoted := line.take(_QUOTED):
        return quoted[1].replace('""', '"')
    if metric := line.take(_METRIC):
        return f"{metric[1].upper()}{_point(metric[2])}{_pitch(line)}"
    if ba := line.take(_BA):
        return f"{int(ba[1])}BA"
    if unified := line.take(_UNIFIED):
        return unified[1]
    raise line.wrong('which thread? M1.7, 10BA or 0-80; anything else in quotes, like "taper pin"')


def _pitch(line: _Reader) -> str:
    """The pitch that follows a metric diameter, or nothing where the number is a length."""
    start = line.i
    pitch = line.take(_PITCH)
    if pitch and (float(_point(pitch[1])) < 1 or _LENGTH.match(line.text, line.i)):
        return f"x{_point(pitch[1])}"
    line.i = start
    return ""


def _length_mm(line: _Reader) -> float | None:
    found = line.take(_LENGTH)
    if not found:
        if re.match(_TIMES, line.rest, re.I) and not re.match(r"\s*by\b", line.rest, re.I):
            raise line.wrong("a length in mm belongs after the times sign")
        return None
    unit = 25.4 if found[2] and found[2].casefold().startswith("in") else 1.0
    number = found[1]
    if "/" in number:
        if number.endswith("/0"):
            raise line.wrong(f"{number} is no length")
        return float(Fraction(number)) * unit
    return float(_point(number)) * unit


def _head_and_hand(line: _Reader) -> tuple[str | None, str]:
    """Words up to `at`; the hand may stand anywhere among them."""
    hand = "right"
    words: list[str] = []
    while line.rest.strip() and not _HOLE.match(line.text, line.i):
        line.take(re.compile(r"\s+"))
        if quoted := line.take(_QUOTED):
            words.append(quoted[1].replace('""', '"'))
        elif found := line.take(_HAND):
            hand = "left" if found[1] else hand
        elif word := line.take(_WORD):
            words += _head_words(word[1])
        else:
            break
    return " ".join(words) or None, hand


def _head_words(word: str) -> list[str]:
    """One spelling of each head: `Cheese-head`, `cheese head` and `cheese` are the same joint."""
    plain = word.casefold()
    for ending in ("-head", "-headed", "head", "heads"):
        plain = plain.removesuffix(ending)
    return [_SHORT_HEADS.get(plain, plain)] if plain else []


def _thickness_mm(found: re.Match[str]) -> float | None:
    if found[1]:
        return None
    per = _MM_PER.get((found[3] or "mm").casefold(), Decimal("0.001"))
    return float(Decimal(_point(found[2])) * per)


def _out_of_range(line: _Reader, error: ValidationError) -> NotUnderstood:
    first = error.errors()[0]
    field = str(first["loc"][0]).removesuffix("_mm")
    place = f"{first['input']:g}" if isinstance(first["input"], float) else str(first["input"])[:40]
    return _not_understood(line.text, place, f"{field}: {first['msg'][:1].lower()}{first['msg'][1:]}", line.example)


def _point(number: str) -> str:
    """A decimal comma is a decimal point: nothing on a bench is counted in thousands."""
    number = number.replace(",", ".")
    return f"0{number}" if number.startswith(".") else number


def _plain(number: float) -> str:
    """The shortest digits that give the number back, without an exponent."""
    text = f"{Decimal(repr(number)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _quoted(text: str) -> str:
    doubled = text.replace('"', '""')
    return f'"{doubled}"'


def _written_size(size: str) -> str:
    """Plain where it would be read as itself, else in quotes."""
    try:
        is_plain = fastener(f"1 × {size}").size == size and fastener(f"1 × {size} × 4").length_mm == 4
    except NotUnderstood:
        is_plain = False
    return size if is_plain else _quoted(size)


def _written_head(head: str) -> str:
    try:
        read = fastener(f"1 × M1 × 4 {head} LH at x")
        is_plain = read == Fastener(count=1, size="M1", length_mm=4, head=head, hand="left", hole="x")
    except NotUnderstood:
        is_plain = False
    return head if is_plain else _quoted(head)


Fasteners = Annotated[
    tuple[Fastener, ...],
    AsText(read=fastener, write=written_fastener, between="\n", each="kind"),
    Called("screw"),
    Field(title="Fasteners", examples=[FASTENER_EXAMPLE]),
]
Shims = Annotated[
    tuple[Shim, ...],
    AsText(read=shim, write=written_shim, between="\n", each="place"),
    Called("shim"),
    Field(title="Shims", examples=[SHIM_EXAMPLE]),
]
LooseParts = Annotated[
    tuple[Loose, ...],
    AsText(read=loose, write=written_loose, between="\n", each="kind"),
    Field(title="Loose parts", description="Springs, balls, pawls and rollers.", examples=[LOOSE_EXAMPLE]),
]
