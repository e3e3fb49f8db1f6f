"""Fasteners as the bench says them: ``3 × M1.7 × 4 cheese LH at NE corner``, ``2 screws``, ``2 x hinge pin``.

Nobody takes every thread while stripping: what was not said is left open, to be asked for later. What is never guessed
is how many, and no word is swallowed: what follows the screws and neither describes all of them nor is plainly a place
is asked about.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from camerawright.journal.fastener_words import (
    ABOUT,
    ALL_ALIKE,
    DESCRIBES,
    ELSEWHERE,
    LEFT_PERHAPS,
    NOT_THERE,
    ONE_OF,
    SILENT,
    THREADED,
    THREADLESS,
    WRONG_WITH_IT,
)
from camerawright.journal.hardware import Fastener
from camerawright.journal.lengths import FRACTION, MIL, UNIT, both_spellings, in_mm
from camerawright.journal.line import (
    QUOTED,
    SOME_OF_THEM,
    TIMES,
    WHERE,
    Line,
    at_place,
    count_first,
    in_quotes,
    kinds_in,
    number,
    only,
    plain,
)
from camerawright.journal.places import BESIDE, EACH, PLACE, SEVERAL_PLACES, TWO_PLACES
from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import NUMBER, WHOLE

EXAMPLE: Final = "3 x M1.7 x 4 cheese"

# ISO 261 metric, ISO 1501 miniature (S), British Association, unified by number or by fraction.
_METRIC: Final = re.compile(rf"([MS])(?:\s?(\d+(?:[.,]\d+)?|[.,]\d+)(?!\d)|\s({NUMBER}))", re.I)
_BA: Final = re.compile(rf"(?:no\.?\s*|number\s+|#)?({WHOLE})[\s-]?BA\b", re.I)
_UNIFIED: Final = re.compile(r"(?:#|no\.?\s*)?((?:\d{1,2}|0{3,4}|\d/\d{1,2})-\d{2,3})\b(?!/)", re.I)
_BY_INCHES: Final = re.compile(
    r"(\d/\d{1,2})(?:\s*(?:″|in\.?|inch))?(?:-(\d{2})\b|[\s-]*(BSW|BSF|UNC|UNF|Whitworth|Whit\b\.?))", re.I
)
_IS_INCH: Final = re.compile(r".*BA|\d+-\d+|\d/\d+\D.*")
_PITCH: Final = re.compile(
    rf"\s*(?:[×*]|x)\s*(\d+(?:[.,]\d+)?|[.,]\d+)(?!\s*{UNIT}|\s*long\b)(?=\s|[,×*x]|$)",
    re.I,
)
_MOST_PITCH: Final = 0.3
"""Of the diameter: the coarsest of ISO 261 and ISO 1501 are M1 × 0.25 and S0.4 × 0.1."""
_DIAMETER: Final = re.compile(r"(\d?[.,]\d{1,2})(?=\s*(?:[×*]|x|by\b)\s*[\d.,])(?!\s*(?:mm|in)\b)", re.I)
_OF_A_PIN: Final = re.compile(rf"(?:[øØ⌀]|dia\.?\s+)?({NUMBER})(?:\s*(mms?)\b)?(?=\s*(?:[×*]|x|by\b)\s*[\d.,])", re.I)
_BARE_NUMBER: Final = re.compile(r"(?=\d{1,2}\s*(?:[×*]|x|by\b)\s*[\d.,])", re.I)
_NOT_TAKEN: Final = re.compile(r"[MS]?\s?\?", re.I)
_LENGTH_NOT_TAKEN: Final = re.compile(r"\?")
_MORE_OF_THEM: Final = re.compile(r"\b(?:others?|another|M\s?\d|\d+\s?BA)\b|[x×]\s*\d", re.I)
_LONG: Final = r"(?:\s*long\b)"
_LENGTH: Final = re.compile(rf"({NUMBER})(?:\s*({UNIT}){_LONG}?|(?![\w/.″]){_LONG}?)", re.I)
_LENGTH_SAID: Final = re.compile(rf"({NUMBER})(?:\s*({UNIT}){_LONG}?|(?![\w/.″]){_LONG})", re.I)
_IN: Final = re.compile(r"\s*in\s+([\w-]+)", re.I)
_LEFT: Final = (
    r"(?:with\s+)?(?:an?\s+)?(?:L\.?/?H\.?T?(?:\s+threads?)?|left[\s-]?hand(?:ed)?(?:[\s-]+thread(?:s|ed)?)?"
    r"|left[\s-]thread(?:s|ed)?|(?:reversed?|counter|anti-?clockwise)[\s-]thread(?:s|ed)?)"
)
_RIGHT: Final = (
    r"(?:with\s+)?(?:an?\s+)?(?:R\.?/?H\.?(?:\s+threads?)?|right[\s-]?hand(?:ed)?(?:[\s-]+thread(?:s|ed)?)?)"
)
_NOT_A_HAND: Final = (
    r"(?![\w-])(?!\s+(?:(?:top|upper|lower|bottom|front|rear|back|inner|outer)\s+)?"
    r"(?:sides?|corners?|edges?|ends?|holes?|ones?|posts?|plates?)\b)"
)
_HAND: Final = re.compile(rf"(?:({_LEFT})|{_RIGHT}){_NOT_A_HAND}", re.I)
_LEFT_SAID: Final = re.compile(rf"(?<![\w-]){_LEFT}{_NOT_A_HAND}", re.I)
_THROUGH: Final = re.compile(r"(?:through|thro|thru|also\s+holds?)\s+(?=\S)", re.I)
_AT: Final = re.compile(r"(?:(?:at|from)\s+(?=\S)|@\s*(?=\w))", re.I)
_AT_EACH: Final = re.compile(r"each\s+(?:corner|side|end|edge|foot|post|hole|place|of)", re.I)
_BRACKETED: Final = re.compile(r"\(([^()]+)\)\s*$")
_WORD: Final = re.compile(r"(?:\d{1,2}-)?[^\W\d_][\w'’/#-]*")
_BETWEEN: Final = re.compile(r"(?:[\s,]|(?<=\s)[-–—](?=\s)|:(?=\s))+")

_NO_NOUN: Final = frozenset({"pieces", "pcs", "things", "bits", "them", "these", "those", "which"})
_NO_WORD: Final = frozenset({"and", "plus", "or", "with", "some", "several", "few", *_NO_NOUN})
_SHORT_HEADS: Final = {"csk": "countersunk"}
_WITH_WASHERS: Final = re.compile(
    r"[\s,]+(?P<each>each\s+)?(?:with|c/w|w/)\s+(?:(?P<one>an?|one)\s+|their\s+|its\s+)?(?P<what>(?:\w+\s+)?washer)(?P<s>s)?"
    r"(?:\s+each)?\s*$",
    re.I,
)
_WASHERS_COUNTED: Final = re.compile(rf"\bwith\s+{WHOLE}\s+(?:\w+\s+)?washers?\b", re.I)
_TWOS: Final = re.compile(r"\b([MS])\s+(one|two|three|four|five|eight|ten)s\b", re.I)
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
    is_place_quoted: bool = False
    is_noun: bool = False  # a noun was said: "screws"
    is_threaded: bool = False  # the size is that of a thread
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
    heard = count_first(_TWOS.sub(r"\1 \2", heard).rstrip(" ."))
    return tuple(
        one for kind in kinds_in(heard, EXAMPLE, _is_a_kind) for one in _with_washers(Line(kind, EXAMPLE), kind)
    )


def _with_washers(line: Line, kind: str) -> tuple[Fastener, ...]:
    """One kind of fastener, and its washers if each has one."""
    if counted := _WASHERS_COUNTED.search(kind):
        raise line.wrong("in all, or with each? Write each kind in a line of its own, with its count", counted[0])
    found = _WITH_WASHERS.search(kind[-60:])
    if not found:
        return (_fastener(line),)
    of = _fastener(Line(kind[: len(kind) - len(found[0])], EXAMPLE))
    if of.count > 1 and found["one"] and not (found["each"] or found[0].rstrip().endswith("each")):
        raise line.wrong(
            "one in all, or one with each? Write each kind in a line of its own, with its count", found[0].strip()
        )
    return of, Fastener(count=of.count, size=found["what"].casefold(), hole=of.hole)


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
        read.is_after = read.is_after or read.is_threaded or read.length_mm is not None
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
    _ask_about_two_places(line, read)
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


def _ask_about_two_places(line: Line, read: _Read) -> None:
    """One screw is in one place."""
    if read.count == 1 and read.hole and not read.is_place_quoted and (places := TWO_PLACES.search(read.hole)):
        raise line.wrong("one cannot be there and there: how many are they in all?", places[0])


def _is_threadless(words: list[str]) -> bool:
    return bool(words) and words[-1] in THREADLESS


def _take_piece(line: Line, read: _Read) -> bool:
    """Read the next piece of a line, whatever it is."""
    return (
        _take_hand(line, read)
        or _take_place(line, read)
        or _take_size(line, read)
        or _take_length(line, read)
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
    elif place := line.take(PLACE):
        read.hole = ", ".join(filter(None, (read.hole, place[0].strip())))
        _ask_how_many(line, read, read.hole)
    elif line.take(_AT) or line.take(WHERE) or line.take(BESIDE):
        start, read.is_place_quoted = line.i, bool(QUOTED.match(line.rest))
        read.hole = line.named()
        if not read.is_place_quoted:
            _ask_about_place(line, read, start)
    elif bracketed := line.take(_BRACKETED):
        _take_bracketed(line, read, bracketed[1].strip())
    else:
        return False
    return True


def _take_bracketed(line: Line, read: _Read, inside: str) -> None:
    """What stands in brackets at the end: the hand, the length, or the hole."""
    if hand := _HAND.fullmatch(inside):
        read.hand = "left" if hand[1] else "right"
    elif re.fullmatch(NUMBER, inside, re.I) or (read.length_mm is not None and _LENGTH_SAID.fullmatch(inside)):
        raise line.wrong("what is this number? How many comes first, and the length after the thread", f"({inside})")
    elif length := _LENGTH_SAID.fullmatch(inside):
        read.length_mm = in_mm(length[1], length[2])
    else:
        read.hole = inside
        _ask_about_place(line, read, line.i)


def _ask_about_place(line: Line, read: _Read, start: int) -> None:
    """Ask if the place tells of only some of them, or of the thread, or counts them a second time."""
    place = read.hole or ""
    line.i = start
    if read.count > 1 and (some := SOME_OF_THEM.search(place)):
        raise _which(line, some[0])
    if more := _MORE_OF_THEM.search(place):
        raise line.wrong("are these more of them? Write each kind in a line of its own", more[0])
    if _LEFT_SAID.search(place):
        raise line.wrong("a left-hand thread, or the left-hand side? Write LH, or “left side”", place)
    _ask_how_many(line, read, place)
    line.i = len(line.text)


def _ask_how_many(line: Line, read: _Read, place: str) -> None:
    """Ask where a count may be that at each of several places."""
    found = SEVERAL_PLACES.search(place)
    if found and not (found[0].casefold().startswith("all") and read.count > 2):
        raise line.wrong(
            f"{read.count} in all, or {read.count} at each? Write how many in all, and the place in quotes, "
            f'like 4 screws at "{place}"',
            found[0],
        )


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
    elif _is_threadless(read.words) and (diameter := line.take(_OF_A_PIN)):
        read.size, read.words = f"{' '.join(read.words)} {plain(number(diameter[1]))} mm", []
    else:
        read.size = _thread(line)
        read.is_threaded = read.size is not None
        return read.is_threaded
    return True


def _thread(line: Line) -> str | None:
    """A thread in its one spelling."""
    if metric := line.take(_METRIC):
        diameter_mm = number(metric[2] or metric[3])
        if not diameter_mm:
            raise line.wrong("no thread is so thin", metric[0])
        return f"{metric[1].upper()}{plain(diameter_mm)}{_pitch(line, diameter_mm)}"
    if ba := line.take(_BA):
        return f"{number(ba[1]):.0f}BA"
    if unified := line.take(_UNIFIED):
        return unified[1]
    if by_inches := line.take(_BY_INCHES):
        form = (by_inches[3] or "").rstrip(".").upper()
        return f"{by_inches[1]}-{by_inches[2]}" if by_inches[2] else f"{by_inches[1]} {'BSW' if 'WH' in form else form}"
    if diameter := line.take(_DIAMETER):  # nothing but a metric thread is called by its tenths of a millimetre
        return f"M{plain(number(diameter[1]))}"
    return None


def _pitch(line: Line, diameter_mm: float) -> str:
    """The pitch that follows a metric diameter, or nothing where the number is a length."""
    start = line.i
    pitch = line.take(_PITCH)
    if pitch and 0 < number(pitch[1]) <= _MOST_PITCH * diameter_mm:
        after = Line(line.rest, EXAMPLE)
        if number(pitch[1]) < 1 or after.take(_LENGTH_SAID) or (after.take(TIMES) and after.take(_LENGTH)):
            return f"x{plain(number(pitch[1]))}"
    line.i = start
    return ""


def _take_length(line: Line, read: _Read) -> bool:
    """A length: after a times sign, with its unit, or plain after a thread."""
    start = line.i
    is_times = bool(line.take(TIMES))
    if is_times and line.take(_LENGTH_NOT_TAKEN):
        return True
    if is_times and not line.rest.strip():
        line.i = start
        raise line.wrong("a length in mm belongs after the times sign")
    is_bare = read.size is not None and not line.text[:start].rstrip().endswith(",")
    found = line.take(_LENGTH if is_times or is_bare else _LENGTH_SAID)
    is_counted = found and not is_times and not found[2] and found[1][0].isalpha() and "long" not in found[0].casefold()
    if found and not is_counted and read.length_mm is None and not _ends_in_nought(found[1]):
        read.length_mm = in_mm(found[1], _unit(line, read, found))
        return True
    line.i = start
    if is_times and (read.size or read.words or read.is_noun):
        raise line.wrong("a length in mm belongs after the times sign")
    return False


def _unit(line: Line, read: _Read, found: re.Match[str]) -> str | None:
    """The unit of a length, or nothing where it can only be mm; asks where it may be either."""
    unit: str | None = found[2]
    is_fraction = bool(FRACTION.search(found[1]))
    is_inch = read.size is not None and bool(_IS_INCH.fullmatch(read.size))
    if unit is None and line.take(MIL):
        raise line.wrong(f"millimetres or thou? Write {found[1]} mm or {found[1]} thou", f"{found[1]} mil")
    start = line.i
    if unit is None and (after := line.take(_IN)):
        line.i = start
        if after[1].casefold() in DESCRIBES | THREADED | {"lh", "rh"}:
            if not (is_fraction or is_inch):
                raise line.wrong(both_spellings(found[1]), f"{found[1]} {after[0].strip()}")
            line.i = after.start(1)
            return "in"
    if read.size is None and found.re is _LENGTH_SAID and "long" not in found[0].casefold():
        mend = "the whole name in quotes" if _is_threadless(read.words) else "M2 for 2 mm thick"
        raise line.wrong(f"thick, or long? Write {mend}, or {found[0].strip()} long", found[0])
    length_mm = in_mm(found[1], unit)
    if unit is None and length_mm > 0 and (length_mm < 1 or (is_fraction and is_inch)):
        raise line.wrong(both_spellings(found[1]), found[1])
    return unit


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
                if word[0].casefold() in _NO_NOUN
                else "how many of each? Write each kind in a line of its own"
            )
        return False
    plain_word = _one_spelling(word[0])
    if trouble := _unclear(line, read, start, plain_word):
        raise trouble
    if plain_word in ALL_ALIKE:
        return True
    read.is_noun = read.is_noun or word[0].casefold() in SILENT
    read.words += [plain_word] if plain_word and plain_word not in SILENT else []
    return True


def _unclear(line: Line, read: _Read, start: int, word: str) -> NotUnderstood | None:
    """What to ask about a word that does not say what kind they are."""
    end, line.i = line.i, start
    question = next((each for words, each in _ASKED_OF.items() if word in words), None)
    if word in THREADLESS and (read.is_noun or (read.size and line.text[:start].rstrip().endswith(","))):
        question = "how many of each? Write each kind in a line of its own"
    if EACH.match(line.rest) and (word != "each" or _AT_EACH.match(line.rest)):
        question = "how many are they in all?"
    if question:
        return line.wrong(question)
    if word and read.is_after and word not in DESCRIBES | SILENT | ALL_ALIKE | THREADED | THREADLESS:
        if read.count > 1 and SOME_OF_THEM.search(line.rest):
            return _which(line, line.rest.strip()[:40])
        return line.wrong("is this a place? Write at ...; what is odd about a screw is a finding (`find`)")
    line.i = end
    return None


_A_SIDE: Final = frozenset({"left", "right"})
_ASKED_OF: Final = {
    NOT_THERE: "a screw that was missing did not come out; enter it as a finding (`find`)",
    ABOUT: "how many, or how long, exactly? Leave out what you did not take",
    WRONG_WITH_IT: "what is odd about a screw is a finding (`find`)",
    LEFT_PERHAPS: "a left-hand thread? Write LH",
    _A_SIDE: "a left-hand or right-hand thread, or the side? Write LH or RH, or at left last",
}


def _one_spelling(word: str) -> str:
    """One spelling of each head and noun: `Cheese-head`, `cheese head` and `cheese` are the same joint."""
    plain_word = word.casefold().replace("’", "'")
    for ending in ("-headed", "-heads", "-head", "headed", "heads", "head"):
        plain_word = plain_word.removesuffix(ending)
    if plain_word not in ONE_OF:
        plain_word = re.sub(r"(?<=[a-z])-?screws?$", "", plain_word)
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
