"""Where a fastener or a shim sits, as it is said: what is a place, and what counts anew what sits there."""

import re
from typing import Final

EACH: Final = re.compile(r"\b(?:each|every|either|per|apiece|twice|thrice|respectively|ditto)\b", re.I)
"""Words that make one count several."""

_SIDE: Final = (
    r"(?:N|S|E|W|(?i:NE|NW|SE|SW|north(?:-?(?:east|west))?|south(?:-?(?:east|west))?|east|west"
    r"|(?:left|right)-hand|left|right|top|bottom|upper|lower|front|rear|back|inner|outer|inside|outside|middle|cent(?:re|er)|hand|sides?|corners?|edges?|ends?"
    r"|rows?|\d{1,2}\s+o[’'`]?\s?clock))(?![\w’'-])"
)
PLACE: Final = re.compile(
    rf"(?:(?i:the|either|both|each|opposite)\s+)?{_SIDE}(?:[\s/-]+(?:(?i:and|&)\s+)?(?:(?i:the)\s+)?{_SIDE})*"
    r"(?=\s*(?:,|$|\())"
)
"""Nothing but a place, to the next comma: ``NE and SW``, ``left hand side``."""
_PLACES: Final = rf"{_SIDE}\s+(?:and|&|\+)\s+(?:(?:at|in|on)\s+)?(?:the\s+)?{_SIDE}"
SEVERAL_PLACES: Final = re.compile(
    rf"{EACH.pattern}|(?i:\bboth\s+\w+|\ball\s+(?:the\s+|\w+\s+)?(?:corners|sides|ends|edges|feet|holes|posts))\b",
    re.I,
)
"""Places of which each may have as many."""
TWO_PLACES: Final = re.compile(rf"(?<![\w-]){_PLACES}|(?i:\b(?:corners|sides|ends|edges|feet)\b)")
"""Where a single one cannot be."""
NOT_THERE: Final = re.compile(r"\b(?:missing|absent|gone|lost)\b", re.I)
_COUNTS_ANEW: Final = re.compile(rf"{EACH.pattern}|\b(?:another|or)\b|\bx\s*\d+$", re.I)
BESIDE: Final = re.compile(
    rf"(?=(?i:(?:(?:to|towards)\s+)?(?:the\s+)?){_SIDE}(?:[\s-]+{_SIDE})*(?i:\s+of\s+\S))"
    rf"|(?=(?i:(?:to|towards)\s+(?:the\s+)?){_SIDE})|(?=(?i:(?:around|along|into|across|opposite|round\s+the)\s+\S))"
)
"""A place that says beside what it is: ``left of the shoe``."""


def counts_anew(what: str, place: str, count: int) -> str | None:
    """The words, of a thing or of its place, after which there may be more of it than its count says."""
    found = (
        _COUNTS_ANEW.search(what)
        or EACH.search(place)
        or SEVERAL_PLACES.search(place)
        or (count == 1 and "between" not in place and TWO_PLACES.search(place))
    )
    return found[0] if found else None
