"""Small loose parts as the bench says them: ``1 × ball 1.5 mm at dial rim``, ``pallet spring``."""

import re
from collections.abc import Iterator
from typing import Final

from camerawright.journal.hardware import Loose
from camerawright.journal.line import (
    QUOTED,
    SOME_OF_THEM,
    WHERE,
    Line,
    at_place,
    breaks,
    count_first,
    in_quotes,
    kinds_in,
    only,
)
from camerawright.journal.places import NOT_THERE, counts_anew
from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import WHOLE

EXAMPLE: Final = "1 x ball 1.5 mm"
_SMALL: Final = (
    r"ball|spring|pawl|click|roller|pin|washer|sleeve|ring|lever|clip|bush|key|screw|blade|dowel|collar|spacer|detent"
    r"|pad|dis[ck]|weight|cap|circlip|nut|gear|wheel|catch|link|rivet|stud"
)
_NOUN: Final = re.compile(rf"\b(?:{_SMALL})(?:e?s)?\b", re.I)
_SEVERAL: Final = re.compile(rf"\b(?:{_SMALL})e?s\b|\b(?:some|several|few|couple)\b", re.I)
_PLACE: Final = re.compile(rf"\s*(?:\b(?:at|from)\s+(?=\S)|\b{WHERE.pattern})", re.I)
_WHAT: Final = re.compile(rf"\S(?:.*?\S)??(?=\s+(?:at|from)\s+\S|\s+{WHERE.pattern}|\Z)", re.I | re.S)
_COUNTED: Final = re.compile(
    rf"(?<![\w.,/])\b{WHOLE}\b(?!-[^\W\d_]|[.,/]\d|\s*(?:mm|inch|in|thou|[µμu]m|teeth|tooth|turns?)\b)", re.I
)
_THE_ONE: Final = re.compile(r"(?:the|its)\s+", re.I)
_JOINED: Final = re.compile(rf"\band\b|&|\+|\bwith\b(?=.*\b(?:{_SMALL})\b)", re.I)


def loose_parts(text: str) -> tuple[Loose, ...]:
    """Read a line as small parts that nothing holds: balls, springs, pawls, one or more kinds of them.

    Parameters
    ----------
    text
        For each kind: count, what it is, and ``at`` its place, as far as known; in quotes what itself holds an ``at``.
        What has no count is one: ``spring under the ball``.

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    kinds = kinds_in(count_first(text), EXAMPLE, _is_a_kind)
    return tuple(_loose(Line(one, EXAMPLE)) for kind in kinds for one in _one_by_one(kind))


def loose(text: str) -> Loose:
    """Read a line as one kind of small part; else as `loose_parts`."""
    return only(loose_parts(text), text, EXAMPLE)


def _is_a_kind(piece: str) -> bool:
    """Whether a piece that begins with a count has its times sign, or names a small part."""
    return bool(re.match(r"\w+\s*[×x*]\s", piece, re.I) or _NOUN.search(piece))


def _one_by_one(kind: str) -> Iterator[str]:
    """Single parts of a line without their counts: ``ball and spring``. Behind a place they may belong to it."""
    start = 0
    for end, begin in breaks(kind):
        what = _WHAT.match(kind, begin)
        if what and _NOUN.search(what[0]):
            if _PLACE.search(kind, start, end):
                raise Line(kind, EXAMPLE).wrong("are these more parts, or the place? Write each in a line of its own")
            yield kind[start:end]
            start = begin
    yield kind[start:]


def _loose(line: Line) -> Loose:
    """One kind."""
    count = _count(line)
    what = line.quoted()
    if what is None:
        found = line.take(_WHAT)
        if not found:
            raise line.wrong("what is it? A ball, a spring, a pawl")
        what = found[0]
        _ask_what_is_unclear(line, count or 1, what)
    place = _place(line, count or 1) if line.take(_PLACE) else None
    if line.rest.strip():
        raise line.wrong("only a place (at ...) follows what it is")
    return line.checked(Loose, what=what, count=1 if count is None else count, place=place)


def _place(line: Line, count: int) -> str:
    """All that is left; in quotes it is a name, and counts nothing."""
    quoted = QUOTED.fullmatch(line.rest.strip())
    place = line.named()
    if not quoted and (words := counts_anew("", place, count)):
        raise line.wrong("how many are they in all? Write that first, and the place in quotes", words)
    return place


def _count(line: Line) -> int | None:
    """How many. Without a number it is one, if the words say so."""
    try:
        return line.count()
    except NotUnderstood:
        said = _WHAT.match(line.rest)
        if not said or line.rest[0] in '"“„«‘' or _SEVERAL.search(said[0]) or _COUNTED.search(said[0]):
            raise
        line.take(_THE_ONE)
        return None


def _ask_what_is_unclear(line: Line, count: int, what: str) -> None:
    """Ask about several in one, and about what is said of some only."""
    if missing := NOT_THERE.search(what):
        raise line.wrong("what was missing did not come out; enter it as a finding (`find`)", missing[0])
    if words := counts_anew(what, "", count):
        raise line.wrong("how many are they in all? Write that first", words)
    more = _COUNTED.search(what)
    if _JOINED.search(what) or (more and _NOUN.search(what, more.end())):
        raise line.wrong("how many of each? Write each kind in a line of its own", what[:40])
    if count > 1 and (some := SOME_OF_THEM.search(what)):
        raise line.wrong("of which of them? Write each kind in a line of its own, with its count", what[some.start() :])


def written_loose(of: Loose) -> str:
    """The line that `of` reads as the same again."""
    simple = f"{of.count} × {of.what}{at_place(of.place) if of.place is not None else ''}"
    try:
        if loose_parts(simple) == (of,):
            return simple
    except NotUnderstood:
        pass
    place = at_place(of.place, in_quotes) if of.place is not None else ""
    return f"{of.count} × {in_quotes(of.what)}{place}"
