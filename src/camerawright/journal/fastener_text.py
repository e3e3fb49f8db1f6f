"""Fasteners as the bench says them: ``3 × M1.7 × 4 cheese LH at NE corner``, ``2 screws``, ``2 x hinge pin``.

Nobody takes every thread while stripping: what was not said is left open, to be asked for later. What is never guessed
is how many, and no word is swallowed: what follows the screws and neither describes all of them nor is plainly a place
is asked about.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from camerawright.journal.fastener_words import (
    ALL_ALIKE,
    DESCRIBES,
    ELSEWHERE,
    ONE_OF,
    SILENT,
    THREADED,
    THREADLESS,
)
from camerawright.journal.hardware import Fastener
from camerawright.journal.line import (
    QUOTED,
    SOME_OF_THEM,
    TIMES,
    WHERE,
    Line,
    at_place,
    in_quotes,
    kinds_in,
    number,
    only,
    plain,
)
from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import NUMBER, WHOLE, value

EXAMPLE: Final = "3 x M1.7 x 4 cheese"
_INCH: Final = Fraction(254, 10)  # exactly [mm]

# ISO 261 metric, ISO 1501 miniature (S), British Association, unified by number or by fraction.
_METRIC: Final = re.compile(rf"([MS])(?:\s?(\d+(?:[.,]\d+)?|[.,]\d+)(?!\d)|\s({NUMBER}))", re.I)
_BA: Final = re.compile(rf"({WHOLE})[\s-]?BA\b", re.I)
_UNIFIED: Final = re.compile(r"#?((?:\d{1,2}|0{3,4}|\d/\d{1,2})-\d{2,3})\b")
_PITCH: Final = re.compile(
    r"\s*(?:[×*]|x)\s*(\d+(?:[.,]\d+)?|[.,]\d+)(?!\s*(?:mm|in\b|long\b|[\"″]))"
    r"(?=\s|[×x*]|,|$)",
    re.I,
)
_DIAMETER: Final = re.compile(r"(\d?[.,]\d{1,2})(?=\s*(?:[×*]|x|by\b)\s*[\d.,])(?!\s*(?:mm|in)\b)", re.I)
_BARE_NUMBER: Final = re.compile(r"(?=\d{1,2}\s*(?:[×*]|x|by\b)\s*[\d.,])", re.I)
_NOT_TAKEN: Final = re.compile(r"\?")
_UNIT: Final = r"(?:\s*(mm|inch(?:es)?|in)(?![^\W\d_])|([\"″])(?!\w)|(?![\w/.\"″]))(?:\s*long\b)?"
_LENGTH: Final = re.compile(rf"({NUMBER}){_UNIT}", re.I)
_LENGTH_SAID: Final = re.compile(
    rf"({NUMBER})(?:(?:\s*(mm|inch(?:es)?|in)(?![^\W\d_])|([\"″])(?!\w))(?:\s*long\b)?|\s*long\b)", re.I
)
_HAND: Final = re.compile(
    r"(?:(LH|left(?:[\s-]hand(?:ed)?)(?:\s+thread)?|reverse[\s-]thread)"
    r"|(?:RH|right(?:[\s-]hand(?:ed)?)(?:\s+thread)?))(?![\w-])(?!\s+(?:sides?|corners?|edges?|ends?|holes?|ones?)\b)",
    re.I,
)
_THROUGH: Final = re.compile(r"(?:through|thro|thru|also\s+holds?)\s+(?=\S)", re.I)
_AT: Final = re.compile(r"(?:at|from)\s+(?=\S)", re.I)
_BRACKETED: Final = re.compile(r"\(([^()]+)\)\s*$")
_WORD: Final = re.compile(r"(?:\d{1,2}-)?[^\W\d_][\w'’/#-]*")
_BETWEEN: Final = re.compile(r"[\s,]+")

_SIDE: Final = (
    r"(?:N|S|E|W|(?i:NE|NW|SE|SW|north(?:-?(?:east|west))?|south(?:-?(?:east|west))?|east|west|left|right|top|bottom"
    r"|upper|lower|front|rear|back|inner|outer|inside|outside|middle|cent(?:re|er)|hand|sides?|corners?|edges?|ends?"
    r"|rows?|\d{1,2}\s+o[’'`]?\s?clock))(?![\w’'-])"
)
_PLACE: Final = re.compile(
    rf"(?:(?i:the|either|both|each|opposite)\s+)?{_SIDE}(?:[\s/-]+(?:(?i:and|&)\s+)?(?:(?i:the)\s+)?{_SIDE})*"
    r"(?=\s*(?:,|$|\())"
)
"""Nothing but a place, to the next comma: ``NE and SW``, ``left hand side``."""

_NO_WORD: Final = frozenset({"and", "plus", "or", "with", "some", "several", "few", "pieces", "pcs", "things", "bits"})
_SHORT_HEADS: Final = {"csk": "countersunk"}
_MISHEARD: Final = re.compile(r"\b(?:(cr[ae]b|grab)(?=\s+screws?)|(s[iu]r)\s+clip|(cheese)\s+ed)\b", re.I)
_HEARD: Final = ("grub", "circlip", "cheese")


@dataclass
class _Read:
    """What was read of a line so far."""

    count: int
    size: str | None = None
    is_size_said: bool = False
    length_mm: float | None = None
    words: list[str] = field(default_factory=list)
    hand: str = "right"
    through: str | None = None
    hole: str | None = None
    is_noun: bool = False  # a noun was said: "screws"
    is_after: bool = False  # a noun or a comma went before: what follows only describes them


def fasteners(text: str) -> tuple[Fastener, ...]:
    """Read a line as fasteners of one part, one or more kinds of them.

    Parameters
    ----------
    text
        For each kind: count, then in any order as far as known thread, length [mm, or with ``in``], head and other
        words, hand; ``through`` another part that it holds, and ``at`` the hole. What has no thread is called by its
        name: ``2 x hinge pin``. A number below 1 without a unit after the thread, or the first of two, is the pitch:
        ``M1.7x0.35`` (common practice: no screw of a camera is that short).

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    heard = _MISHEARD.sub(lambda found: next(h for h, g in zip(_HEARD, found.groups(), strict=True) if g), text)
    return tuple(_fastener(Line(kind, EXAMPLE)) for kind in kinds_in(heard, EXAMPLE, _is_a_kind))


def fastener(text: str) -> Fastener:
    """Read a line as one kind of fastener; else as `fasteners`."""
    return only(fasteners(text), text, EXAMPLE)


def _is_a_kind(piece: str) -> bool:
    """Whether a piece that begins with a count names a thread or a noun, or has its times sign."""
    line = Line(piece, EXAMPLE)
    try:
        line.count()
    except NotUnderstood:
        return False
    if re.match(r"(?:of\s+)?(?:them|these|those|which)\b", line.rest, re.I):
        return False
    before = piece[: line.i]
    words = [word.casefold() for word in _WORD.findall(line.rest)]
    has_thread = any(pattern.search(line.rest) for pattern in (_METRIC, _BA, _UNIFIED))
    return (
        has_thread
        or bool(re.search(r"[×*x]\s*$", before, re.I))
        or any(ONE_OF.get(word, word) in THREADLESS | THREADED or word in ELSEWHERE for word in words)
    )


def _fastener(line: Line) -> Fastener:
    """One kind."""
    read = _Read(line.count())
    if not line.rest.strip():
        raise line.wrong("what came out? A screw, a pin, M1.7")
    while line.rest.strip():
        read.is_after = (
            read.is_noun or read.is_after or (bool(read.size or read.words) and line.rest.lstrip()[0] == ",")
        )
        line.take(_BETWEEN)
        if line.rest and not _take_piece(line, read):
            if line.take(_BARE_NUMBER):
                raise line.wrong("metric, BA or a number? Write M2, 2BA or #2-56; or “?” if you did not take it")
            raise line.wrong("this is neither a thread, a length, a head, a hand (LH) nor a hole (at ...)")
    if not read.is_noun and read.words and read.words[-1] in ELSEWHERE:
        raise line.wrong(ELSEWHERE[read.words[-1]], read.words[-1])
    if read.size is None and not read.is_size_said and _is_threadless(read.words):
        read.size, read.words = " ".join(read.words), []
    if not (read.size or read.words or read.is_noun or read.is_size_said):
        raise line.wrong("what came out? A screw, a pin, M1.7", line.text[:40])
    return line.checked(
        Fastener,
        count=read.count,
        size=read.size,
        length_mm=read.length_mm,
        head=" ".join(read.words) or None,
        hand=read.hand,
        through=read.through,
        hole=read.hole,
    )


def _is_threadless(words: list[str]) -> bool:
    return bool(words) and words[-1] in THREADLESS


def _take_piece(line: Line, read: _Read) -> bool:
    """Read the next piece of a line, whatever it is."""
    return (
        _take_place(line, read)
        or _take_size(line, read)
        or _take_length(line, read)
        or _take_hand(line, read)
        or _take_words(line, read)
    )


def _take_place(line: Line, read: _Read) -> bool:
    """The part that it goes through, the hole: they end the line."""
    if line.take(_THROUGH):
        quoted = line.quoted()
        if quoted is None:
            end = re.search(r"\s+(?:at|from)\s+\S|$", line.rest, re.I)
            quoted = line.rest[: end.start() if end else None].strip()
            line.i += end.start() if end else len(line.rest)
        read.through = quoted
    elif (place := line.take(_PLACE)) and read.count:
        read.hole = place[0].strip()
    elif line.take(_AT) or line.take(WHERE):
        start, is_quoted = line.i, bool(QUOTED.match(line.rest))
        read.hole = line.named()
        if read.count > 1 and not is_quoted and (some := SOME_OF_THEM.search(read.hole)):
            line.i = start
            raise _which(line, some[0])
    elif bracketed := line.take(_BRACKETED):
        read.hole = bracketed[1].strip()
        if read.count > 1 and (some := SOME_OF_THEM.search(read.hole)):
            raise _which(line, some[0])
    else:
        return False
    return True


def _which(line: Line, place: str) -> NotUnderstood:
    """What is said only of some of them."""
    return line.wrong("of which of them? Write each kind in a line of its own, with its count", place)


def _take_size(line: Line, read: _Read) -> bool:
    """The thread in its one spelling, or what stands in quotes as it is."""
    if read.size is not None or read.is_size_said:
        return False
    if line.take(_NOT_TAKEN):
        read.is_size_said = True
    elif not read.words and (quoted := line.quoted()) is not None:
        read.size = quoted
    elif metric := line.take(_METRIC):
        read.size = f"{metric[1].upper()}{plain(number(metric[2] or metric[3]))}{_pitch(line)}"
    elif ba := line.take(_BA):
        read.size = f"{number(ba[1]):.0f}BA"
    elif unified := line.take(_UNIFIED):
        read.size = unified[1]
    elif diameter := line.take(_DIAMETER):  # nothing but a metric thread is called by its tenths of a millimetre
        read.size = f"M{plain(number(diameter[1]))}"
    else:
        return False
    return True


def _pitch(line: Line) -> str:
    """The pitch that follows a metric diameter, or nothing where the number is a length."""
    start = line.i
    pitch = line.take(_PITCH)
    if pitch:
        after = Line(line.rest, EXAMPLE)
        after.take(TIMES)
        if number(pitch[1]) < 1 or after.take(_LENGTH):
            return f"x{plain(number(pitch[1]))}"
    line.i = start
    return ""


def _take_length(line: Line, read: _Read) -> bool:
    """A length: after a times sign, with its unit, or plain after a thread."""
    start = line.i
    is_times = bool(line.take(TIMES))
    if is_times and not line.rest.strip():
        line.i = start
        raise line.wrong("a length in mm belongs after the times sign")
    found = line.take(_LENGTH if is_times or read.size is not None else _LENGTH_SAID)
    if found and read.length_mm is None and not _ends_in_nought(found[1]):
        is_inches = bool(found[3] or (found[2] and found[2].casefold() != "mm"))
        read.length_mm = float((value(found[1]) or 0) * (_INCH if is_inches else 1))
        return True
    line.i = start
    if is_times and (read.size or read.words or read.is_noun):
        raise line.wrong("a length in mm belongs after the times sign")
    return False


def _ends_in_nought(text: str) -> bool:
    return text.endswith("/0")


def _take_hand(line: Line, read: _Read) -> bool:
    found = line.take(_HAND)
    if found:
        read.hand = "left" if found[1] else read.hand
    return bool(found)


def _take_words(line: Line, read: _Read) -> bool:
    """What kind it is: a head, a name. A word that counts something else is none."""
    if (quoted := line.quoted()) is not None:
        read.words.append(quoted)
        return True
    start = line.i
    word = line.take(_WORD)
    if not word or word[0].casefold() in _NO_WORD:
        line.i = start
        if word:
            raise line.wrong(
                "what came out? A screw, a pin, M1.7"
                if word[0].casefold() in {"pieces", "pcs", "things", "bits"}
                else "how many of each? Write each kind in a line of its own"
            )
        return False
    plain_word = _one_spelling(word[0])
    if read.is_after and plain_word not in DESCRIBES | SILENT | ALL_ALIKE | THREADED | THREADLESS:
        line.i = start
        if read.count > 1 and SOME_OF_THEM.search(line.rest):
            raise _which(line, line.rest.strip()[:40])
        raise line.wrong("is this a place? Write at ...; what is odd about a screw is a finding (`find`)")
    if plain_word in ALL_ALIKE:
        return True
    read.is_noun = read.is_noun or word[0].casefold() in SILENT
    read.words += [plain_word] if plain_word and plain_word not in SILENT else []
    return True


def _one_spelling(word: str) -> str:
    """One spelling of each head and noun: `Cheese-head`, `cheese head` and `cheese` are the same joint."""
    plain_word = word.casefold().replace("’", "'")
    for ending in ("-headed", "-head", "headed", "heads", "head"):
        plain_word = plain_word.removesuffix(ending)
    plain_word = ONE_OF.get(plain_word, plain_word)
    return _SHORT_HEADS.get(plain_word, plain_word)


def written_fastener(of: Fastener) -> str:
    """The line that `of` reads as the same again: as plainly as may be, else with its names in quotes."""
    simple = _written(of, str)
    try:
        if fasteners(simple) == (of,):
            return simple
    except NotUnderstood:
        pass
    return _written(of, in_quotes)


def _noun(head: str) -> str:
    """What it is called: a word that is no noun itself is a screw of that kind."""
    words = head.split()
    return head if words and words[-1] in THREADED - {"grub"} else f"{head} screw".strip()


def _written(of: Fastener, name: Callable[[str], str]) -> str:
    """The line, with its names written by `name`."""
    length = "" if of.length_mm is None else plain(of.length_mm) + (" mm" if of.length_mm < 1 or not of.size else "")
    if of.size is None:
        size = f"? {name(of.head)}" if of.head and name is in_quotes else _noun(of.head or "")
        head = ""
    else:
        size = name(of.size)
        head = f" {name(of.head)}" if of.head else ""
    return "".join(
        (
            f"{of.count} × {size}",
            f" × {length}" if length else "",
            head,
            " LH" if of.hand == "left" else "",
            f" through {name(of.through)}" if of.through else "",
            at_place(of.hole, name) if of.hole else "",
        )
    )
