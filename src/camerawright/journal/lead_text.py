"""Leads as the bench says them: ``red from the battery tag to the meter``, ``2 x black to the sync socket``."""

import re
from collections.abc import Callable
from typing import Final

from camerawright.journal.hardware import Lead
from camerawright.journal.line import Line, in_quotes, kinds_in
from camerawright.trouble import NotUnderstood

EXAMPLE: Final = "red from battery tag to meter"
_COLOUR: Final = re.compile(r"\S(?:.*?\S)??(?=\s+(?:from|to)\s+\S|\s*\Z)", re.I | re.S)
_FROM: Final = re.compile(r"\s*\bfrom\s+(?=\S)", re.I)
_START: Final = re.compile(r"\S(?:.*?\S)??(?=\s+to\s+\S|\s*\Z)", re.I | re.S)
_TO: Final = re.compile(r"\s*\bto\s+(?=\S)", re.I)
_COLOURS: Final = re.compile(
    r"\b(?:red|black|white|yellow|green|blue|brown|grey|gray|pink|orange|violet|purple|bare|clear)\b"
    r"|\b(?:lead|wire|cord)s?\b",
    re.I,
)
_LEAD: Final = re.compile(r"\s+(?:lead|wire|cord)s?$", re.I)


def leads(text: str) -> tuple[Lead, ...]:
    """Read a line as leads, one or more kinds of them.

    Parameters
    ----------
    text
        For each: how many if more than one, colour, ``from`` where ``to`` where, as far as known.

    Raises
    ------
    NotUnderstood
        Naming the place in the line.
    """
    return tuple(
        _lead(Line(kind, EXAMPLE)) for kind in kinds_in(text, EXAMPLE, lambda piece: bool(_COLOURS.search(piece)))
    )


def _lead(line: Line) -> Lead:
    """One kind."""
    try:
        count = line.count()
    except NotUnderstood:
        count = 1
    colour = line.quoted()
    if colour is None:
        found = line.take(_COLOUR)
        if not found:
            raise line.wrong("which colour is it?")
        colour = _LEAD.sub("", found[0])
    start = _named(line, _START) if line.take(_FROM) else None
    end = line.named() if line.take(_TO) else None
    if line.rest.strip():
        raise line.wrong("only from where to where follows the colour")
    return line.checked(Lead, colour=colour, count=count, start=start, end=end)


def _named(line: Line, pattern: re.Pattern[str]) -> str:
    """A name in quotes, or up to what the pattern ends at."""
    quoted = line.quoted()
    if quoted is None:
        found = line.take(pattern)
        quoted = found[0] if found else ""
    return quoted


def written_lead(of: Lead) -> str:
    """The line that `of` reads as the same again."""
    simple = _written(of, str)
    try:
        if leads(simple) == (of,):
            return simple
    except NotUnderstood:
        pass
    return _written(of, in_quotes)


def _written(of: Lead, name: Callable[[str], str]) -> str:
    start = f" from {name(of.start)}" if of.start else ""
    end = f" to {name(of.end)}" if of.end else ""
    return f"{f'{of.count} × ' if of.count > 1 or name is in_quotes else ''}{name(of.colour)}{start}{end}"
