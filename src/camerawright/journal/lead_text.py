"""Leads as the bench says them: ``red from the battery tag to the meter``, ``2 x black to the sync socket``."""

import re
from collections.abc import Iterator
from typing import Final

from camerawright.journal.hardware import Lead
from camerawright.journal.line import QUOTED, Line, breaks, in_quotes, kinds_in
from camerawright.journal.places import NOT_THERE, counts_anew
from camerawright.trouble import NotUnderstood
from camerawright.wording.spoken import WHOLE

EXAMPLE: Final = "red from battery tag to meter"
_COLOUR: Final = re.compile(r"\S(?:.*?\S)??(?=\s+(?:from|to)\s+\S|\s*\Z)", re.I | re.S)
_FROM: Final = re.compile(r"\s*\bfrom\s+(?=\S)", re.I)
_START: Final = re.compile(r"\S(?:.*?\S)??(?=\s+to\s+\S|\s*\Z)", re.I | re.S)
_TO: Final = re.compile(r"\s*\bto\s+(?=\S)", re.I)
_ONE_COLOUR: Final = (
    r"red|black|white|yellow|green|blue|brown|grey|gray|pink|orange|violet|purple|bare|clear|transparent|turquoise"
)
_LEADS: Final = r"(?:leads?|wires?|cords?|cables?)"
_COLOURS: Final = re.compile(rf"\b(?:{_ONE_COLOUR})\b|\b{_LEADS}\b", re.I)
_A_LEAD: Final = re.compile(
    rf"(?:(?:the|an?)\s+)?(?:(?:dark|light|pale|thin|thick|stranded|solid)\s+)*(?:{_ONE_COLOUR})(?:\s+{_LEADS})?", re.I
)
_BEGINS_A_LEAD: Final = re.compile(rf"{_A_LEAD.pattern}\s+(?:from|to)\s", re.I)
_JOINER: Final = re.compile(r"\s*(?:,|&|\+|\band\b|\bplus\b)\s*(?:(?:and|plus)\s+)?", re.I)
_ONE_IN_TWO_COLOURS: Final = re.compile(
    r"\b(?:strip\w*|tracer|band\w*|ringed|flecked|mixed|one\s+(?:lead|wire))\b", re.I
)
_LEAD: Final = re.compile(rf"\s+{_LEADS}$", re.I)


def leads(text: str) -> tuple[Lead, ...]:
    """Read a line as leads, one or more kinds of them.

    Parameters
    ----------
    text
        For each: how many if more than one, colour, ``from`` where ``to`` where, as far as known. Two colours are two
        leads from and to the same places: ``red and black to galvo``; ``red/black`` and ``red with a black stripe``
        are one.

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    kinds = kinds_in(text, EXAMPLE, lambda piece: bool(_COLOURS.search(piece)))
    return tuple(lead for kind in kinds for one in _one_by_one(kind) for lead in _leads(Line(one, EXAMPLE)))


def _one_by_one(kind: str) -> Iterator[str]:
    """Leads of a line that each say where they go: ``red to the meter, black to the cell``."""
    start = 0
    for end, begin in breaks(kind):
        if _BEGINS_A_LEAD.match(kind, begin) and re.search(r"\b(?:from|to)\s", kind[start:end], re.I):
            yield kind[start:end]
            start = begin
    yield kind[start:]


def _leads(line: Line) -> tuple[Lead, ...]:
    """One kind, or one for each colour of it."""
    try:
        count = line.count()
    except NotUnderstood:
        count = 1
    colour = line.quoted()
    if colour is not None:
        colours: tuple[str, ...] = (colour,)
    else:
        found = line.take(_COLOUR)
        if not found:
            raise line.wrong("which colour is it?")
        _ask_how_many(line, found[0], "")
        colours = _colours(line, count, found[0])
        count = count if len(colours) == 1 else 1
    start = _named(line, _START) if line.take(_FROM) else None
    end = _end(line) if line.take(_TO) else None
    if line.rest.strip():
        raise line.wrong("only from where to where follows the colour")
    return tuple(line.checked(Lead, colour=one, count=count, start=start, end=end) for one in colours)


def _colours(line: Line, count: int, said: str) -> tuple[str, ...]:
    """The colours of as many leads, each once; one lead in two colours is one."""
    said = re.sub(rf"^{_LEADS}\s*[,:]\s*", "", said, flags=re.I)
    pieces = tuple(piece.strip() for piece in _JOINER.split(said))
    if len(pieces) == 1 and not re.search(rf"(?<!^)\b{WHOLE}\b\s+{_A_LEAD.pattern}", said, re.I):
        return (_LEAD.sub("", said),)
    if _ONE_IN_TWO_COLOURS.search(said):
        return (said,)
    if not all(_A_LEAD.fullmatch(piece) for piece in pieces) or count not in {1, len(pieces)}:
        raise line.wrong("how many of each? Write each lead in a line of its own", said[:40])
    return tuple(_LEAD.sub("", piece) for piece in pieces)


def _named(line: Line, pattern: re.Pattern[str]) -> str:
    """A name in quotes, or up to what the pattern ends at."""
    quoted = line.quoted()
    if quoted is None:
        found = line.take(pattern)
        quoted = found[0] if found else ""
        _ask_how_many(line, "", quoted)
    return quoted


def _end(line: Line) -> str:
    """All that is left; in quotes it is a name, and counts nothing."""
    quoted = QUOTED.fullmatch(line.rest.strip())
    end = line.named()
    if not quoted:
        _ask_how_many(line, "", end)
    return end


def _ask_how_many(line: Line, colour: str, place: str) -> None:
    """Ask about more leads than are counted, and about one that was not there."""
    if missing := NOT_THERE.search(colour):
        raise line.wrong("what was missing did not come off; enter it as a finding (`find`)", missing[0])
    if words := counts_anew(colour, place, 2):
        raise line.wrong("how many are they in all? Write that first, and the place in quotes", words)


def written_lead(of: Lead) -> str:
    """The line that `of` reads as the same again."""
    simple = _written(of, quotes=False)
    try:
        if leads(simple) == (of,):
            return simple
    except NotUnderstood:
        pass
    return _written(of, quotes=True)


def _written(of: Lead, *, quotes: bool) -> str:
    name = in_quotes if quotes else str
    start = f" from {name(of.start)}" if of.start else ""
    end = f" to {name(of.end)}" if of.end else ""
    return f"{f'{of.count} × ' if of.count > 1 or quotes else ''}{name(of.colour)}{start}{end}"
