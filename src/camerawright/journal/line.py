"""What fasteners, shims and loose parts share as lines of text: a count first, quotes, several kinds in a line."""

import re
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Final, TypeVar

from pydantic import BaseModel, ValidationError

from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import SIGNS, WHOLE, in_plain_signs, value

One = TypeVar("One", bound=BaseModel)

OCLOCK: Final = r"\s*o[’'`]?\s?clock"
TIMES: Final = re.compile(r"\s*(?:[×*]|x(?![^\W\d_])|by\b)\s*", re.I)
SOME_OF_THEM: Final = re.compile(
    r"\b(?:ones?|others?|rest|longer|shorter|longest|shortest|thicker|thinner|bigger|smaller|larger|different|unequal"
    r"|missing|broken)\b",
    re.I,
)
"""Words that single some out of several."""
WHERE: Final = re.compile(
    r"(?=(?:in(?!\s+(?:at|from|in|on|through)\b)|on|under|underneath|beneath|behind|near|beside|above|below|inside|over|between|next\s+to|by\s+the)\s+\S)",
    re.I,
)
"""Words that can only be a place: ``under the ball``."""
QUOTED: Final = re.compile(r'"((?:[^"]|"")+)"|[“„”]([^“„”]+)[“”]|«([^«»]+)»|‘([^‘’]+)’')
"""In quotes, straight or curly; a straight one within is doubled."""
_ALL_QUOTED: Final = re.compile(r"""\s*(?:"([^"]+)"|[“„”]([^“„”"]+)[“”"]|«([^«»]+)»|[‘’']([^‘’']+)[’'])\s*""")

_PAIRS: Final = {
    "a pair of": 2,
    "pair of": 2,
    "a couple of": 2,
    "couple of": 2,
    "half a dozen": 6,
    "a dozen": 12,
    "a single": 1,
    "single": 1,
    "a": 1,
    "an": 1,
}
_NOT_A_COUNT: Final = (
    r"(?!\s*(?:mm|cm|millimet(?:re|er)s?|centimet(?:re|er)s?|[µμu]m|microns?|micromet(?:re|er)s?|mils?|thou|tenths?"
    r"|hundredths?|thousandths?|inch(?:es)?|in|turns?|BA)\b|\s*″"
    r"|\s*(?:long|deep|thick)\b(?=\s*(?:,|$|at\b|from\b))"
    r"|\s+(?:couple|few|lot|bunch|handful|number|set(?!\s+screw)|load|row|stack|pile|dozen|or|more)\b"
    rf"|{OCLOCK}|\s*[-/]\s?\d|-(?!off\b)[^\W\d_]|\s+(?:half|quarters?|thirds?|eighths?)\b|[.,]\d|[{SIGNS}])"
)
_OFF: Final = r"(?:-?off|nos?|pcs?)"
_COUNT: Final = re.compile(
    rf"({'|'.join(_PAIRS)}|{WHOLE}\s+dozen|{WHOLE})(?:(?={_OFF}\b)|(?![^\W_x×])){_NOT_A_COUNT}", re.I
)
_AFTER_COUNT: Final = re.compile(
    rf"(?:\s*(?:{_OFF}\b\.?|pieces|of|ea)(?=\s))?(?:\s*[×*]\s*|(?<=\d)x\s*|\s+x(?![^\W\d_])\s*|\s+|(?=[,?]|$))",
    re.I,
)
_COUNT_LAST: Final = re.compile(
    rf"(?P<what>.*\S)\s*(?:\((?:[x×]\s*)?(?P<bracketed>{WHOLE})(?:\s*(?:{_OFF}|of)\.?)?\)"
    rf"|[\s,x×]\s*(?P<last>{WHOLE})\s*(?:{_OFF}|of)\.?)\s*",
    re.I | re.S,
)
_NONE: Final = re.compile(
    r"(?:none|nil|nothing|no\s+(?:shims?|screws?|fasteners?|leads?|wires?|loose\s+parts?|springs?|balls?))\.?", re.I
)
_PARTED: Final = re.compile(r"\s*(?:;|\n|\+|&|,(?!\d)(?:\s*(?:and|plus)\b)?|\b(?:and|plus)\b)\s*", re.I)

MOST_QUOTED: Final = 200
_RUN: Final = re.compile(r"\s+|.", re.S)
"""One sign, or a run of spaces at once: where nothing parts at its beginning, nothing does within it."""


class Line:
    """A line, and how far it was read."""

    def __init__(self, text: str, example: str) -> None:
        self.text, self.example, self.i = text.strip(), example, 0

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        """What matches here, if anything; it is read then."""
        found = pattern.match(self.text, self.i)
        if found:
            self.i = found.end()
        return found

    def quoted(self) -> str | None:
        """What stands in quotes here."""
        found = self.take(QUOTED)
        return next(filter(None, found.groups())).replace('""', '"').strip() if found else None

    def count(self) -> int:
        """How many; never taken for granted, because the balance rests on it."""
        start = self.i
        found = self.take(_COUNT)
        if not found or not self.take(_AFTER_COUNT):
            self.i = start
            raise self.wrong("how many? A number comes first")
        word = found[1].casefold()
        dozens = word.removesuffix("dozen")
        return _PAIRS[word] if word in _PAIRS else int(value(dozens) or 0) * (1 if dozens == word else 12)

    @property
    def rest(self) -> str:
        """What was not read yet."""
        return self.text[self.i :]

    def named(self) -> str:
        """All that is left, in quotes or not, as one name."""
        start = self.i
        quoted = self.quoted()
        if quoted is None or self.rest.strip():
            self.i = start
            quoted = self.rest.strip()
        self.i = len(self.text)
        return quoted

    def wrong(self, expected: str, place: str | None = None) -> NotUnderstood:
        """What to say of a line that cannot be read: the place, what belongs there, and an example."""
        place = self.rest.strip()[:40] if place is None else place
        here = f"at “{place}”" if place else "at the end" if self.text else "nothing is written"
        return NotUnderstood(f"{here}: {expected}", f"write it like “{self.example}”", shown(self.text))

    def checked(self, kind: type[One], **fields: object) -> One:
        """What was read, if it is within bounds."""
        try:
            return kind.model_validate(fields)
        except ValidationError as error:
            first = error.errors()[0]
            field = str(first["loc"][0]).removesuffix("_mm")
            place = f"{first['input']:g}" if isinstance(first["input"], float) else str(first["input"])[:40]
            raise self.wrong(f"{field}: {first['msg'][:1].lower()}{first['msg'][1:]}", place) from None


def shown(text: str) -> str:
    """A line as a trouble quotes it: a long one by its beginning."""
    return f"“{text}”" if len(text) <= MOST_QUOTED else f"“{text[:MOST_QUOTED]} …”"


def only(found: tuple[One, ...], text: str, example: str, what: str = "kind") -> One:
    """The one thing that was read in a line.

    Raises
    ------
    NotUnderstood
        There are several.
    """
    if len(found) != 1:
        raise Line(text, example).wrong(f"only one {what} belongs here", text.strip()[:40])
    return found[0]


def kinds_in(text: str, example: str, is_a_kind: Callable[[str], bool]) -> tuple[str, ...]:
    """The kinds that a line names: ``2 screws, 1 pin``. What stands in quotes is one name.

    Parameters
    ----------
    is_a_kind
        Whether a piece that begins with a count can only be a kind of its own.

    Raises
    ------
    NotUnderstood
        A count follows that may be more of them, or some of those: ``3 screws, one longer``.
    """
    text = _in_plain_signs(without_quotes(text))
    if _NONE.fullmatch(text.strip()):
        return ()
    kinds, start = [], 0
    there = list(breaks(text))
    for i_break, (end, begin) in enumerate(there, start=1):
        piece = text[begin : there[i_break][0] if i_break < len(there) else len(text)]
        count = _COUNT.match(piece)
        if not count or not piece[count.end() :].strip(" x×*,"):
            continue
        if not is_a_kind(piece):
            question = "are these more of them, or some of those? Write each kind in a line of its own"
            raise Line(text, example).wrong(question, piece.strip()[:40])
        kinds.append(text[start:end])
        start = begin
    return (*kinds, text[start:])


def breaks(text: str) -> Iterator[tuple[int, int]]:
    """Where a line may be parted, as the end of what comes before and the beginning of what follows."""
    i = first = len(text) - len(text.lstrip())
    while i < len(text):
        if quoted := QUOTED.match(text, i):
            i = quoted.end()
        elif i > first and (parted := _PARTED.match(text, i)):
            yield i, parted.end()
            i = parted.end()
        else:
            i += len(_RUN.match(text, i)[0])  # type: ignore[index]  # it matches any sign


_SIGNS_OUTSIDE: Final = re.compile(rf"(?<=[\d{SIGNS}])(?:[\"”]|''|’’)(?!\w)|{QUOTED.pattern}|[^\x00-\x7f]+")


def _in_plain_signs(text: str) -> str:
    """A line with the signs of any keyboard as those of this one, and ″ for the inch; in quotes they stay."""
    return _SIGNS_OUTSIDE.sub(_plain_sign, text)


def _plain_sign(found: re.Match[str]) -> str:
    if any(found.groups()):
        return found[0]
    return "″" if found[0] in {'"', "”", "''", "’’"} else in_plain_signs(found[0])


def count_first(text: str) -> str:
    """A line of one kind whose count stands last, ``M2 x 4, 3 off`` or ``M2 x 4 (3)``, with its count first."""
    found = _COUNT_LAST.fullmatch(without_quotes(text).strip()) if len(text) <= MOST_QUOTED else None
    what = found["what"].rstrip(" ,x×") if found else ""
    if not found or _COUNT.match(what) or _PARTED.search(what):
        return text
    return f"{found['bracketed'] or found['last']} x {what}"


def without_quotes(text: str) -> str:
    """A line without the quotes around the whole of it."""
    found = _ALL_QUOTED.fullmatch(text)
    return next(filter(None, found.groups())) if found else text


def at_place(place: str, name: Callable[[str], str] = str) -> str:
    """A place behind what lies there: `` at NE``, `` under the ball``."""
    return f" {place}" if name is str and WHERE.match(place) else f" at {name(place)}"


def number(text: str) -> float:
    """A number that the pattern `NUMBER` found."""
    found = value(text)
    return float(found) if found is not None else float("nan")


def plain(of: float) -> str:
    """The shortest digits that give the number back, without an exponent."""
    text = f"{Decimal(repr(of)):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def in_quotes(text: str) -> str:
    """In straight quotes, those within doubled."""
    doubled = text.replace('"', '""')
    return f'"{doubled}"'
