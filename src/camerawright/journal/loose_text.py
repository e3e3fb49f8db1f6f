"""Small loose parts as the bench says them: ``1 × ball 1.5 mm at dial rim``, ``two detent springs``, ``a ball``."""

import re
from typing import Final

from camerawright.journal.hardware import Loose
from camerawright.journal.line import Line, in_quotes, kinds_in, only
from camerawright.trouble import NotUnderstood

EXAMPLE: Final = "1 x ball 1.5 mm"
_PLACE: Final = re.compile(r"\s*\b(?:at|from)\s+(?=\S)", re.I)
_WHAT: Final = re.compile(r"\S(?:.*?\S)??(?=\s+(?:at|from)\s+\S|\Z)", re.I | re.S)
_NOUN: Final = re.compile(
    r"\b(?:balls?|springs?|pawls?|clicks?|rollers?|pins?|washers?|sleeves?|rings?|levers?|clips?|bush(?:es)?|keys?|"
    r"screws?|blades?|dowels?|collars?|spacers?|detents?|pads?|discs?|disks?|weights?|caps?)\b",
    re.I,
)


def loose_parts(text: str) -> tuple[Loose, ...]:
    """Read a line as small parts that nothing holds: balls, springs, pawls, one or more kinds of them.

    Parameters
    ----------
    text
        For each kind: count, what it is, and ``at`` its place, as far as known; in quotes what itself holds an ``at``.

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    return tuple(_loose(Line(kind, EXAMPLE)) for kind in kinds_in(text, EXAMPLE, _is_a_kind))


def loose(text: str) -> Loose:
    """Read a line as one kind of small part; else as `loose_parts`."""
    return only(loose_parts(text), text, EXAMPLE)


def _is_a_kind(piece: str) -> bool:
    """Whether a piece that begins with a count has its times sign, or names a small part."""
    return bool(re.match(r"\w+\s*[×x*]\s", piece, re.I) or _NOUN.search(piece))


def _loose(line: Line) -> Loose:
    """One kind."""
    count = line.count()
    what = line.quoted()
    if what is None:
        found = line.take(_WHAT)
        if not found:
            raise line.wrong("what is it? A ball, a spring, a pawl")
        what = found[0]
    place = line.named() if line.take(_PLACE) else None
    if line.rest.strip():
        raise line.wrong("only a place (at ...) follows what it is")
    return line.checked(Loose, what=what, count=count, place=place)


def written_loose(of: Loose) -> str:
    """The line that `of` reads as the same again."""
    place = f" at {of.place}" if of.place is not None else ""
    simple = f"{of.count} × {of.what}{place}"
    try:
        if loose_parts(simple) == (of,):
            return simple
    except NotUnderstood:
        pass
    place = f" at {in_quotes(of.place)}" if of.place is not None else ""
    return f"{of.count} × {in_quotes(of.what)}{place}"
