"""Settings as the bench says them: ``shutter = released``, ``focus at infinity``, ``mirror locked up``, ``no film``."""

import re
from typing import Final

from camerawright.trouble import NotUnderstood

_EQUALS: Final = re.compile("=")
_COLON: Final = re.compile(r":(?!\d)")
_IS: Final = re.compile(r"\s+(?:is|are|was|were|has\s+been|have\s+been|has|at|on|to|set\s+(?:to|at|on))\s+(?=\S)", re.I)
_TWO_WORDS: Final = re.compile(r"(?:the\s+)?([^\s,&]+)\s+((?:(?:not|half|fully)\s+)?[^\s,&]+)", re.I)
_NOTHING_IN: Final = re.compile(r"no\s+(\w+)(?:\s+(?:in|inside|in\s+it|loaded))?", re.I)
_TAKEN_OUT: Final = re.compile(
    r"(?:the\s+)?film\s+(?:is\s+|was\s+|has\s+been\s+)?(?:taken\s+|rolled\s+|wound\s+)?(?:out|removed|unloaded)"
    r"(?:\s+of\s+(?:it|the\s+camera))?",
    re.I,
)
_STATE: Final = (
    r"cocked|uncocked|released|fired|locked|unlocked|engaged|disengaged|wound|unwound|rewound|removed|collapsed|extended"
    r"|retracted|folded|unfolded|raised|lowered|stopped|tensioned|slack|empty|loaded|unloaded|halfway|half\s+way|infinity"
)
_WHICH_WAY: Final = r"up|down|in|out|on|off|open|closed|shut|home|back|away"
_DONE: Final = (
    r"locked|run|wound|let|pulled|pushed|pressed|switched|turned|folded|stood|swung|taken|lifted|dropped|screwed|slid"
    r"|clipped|latched|stopped|wide|set"
)
_HOW: Final = rf"(?:(?:not|half|fully)\s+)?(?:(?:(?:{_DONE})\s+)?(?:{_WHICH_WAY})|{_STATE}|f/?\d\S*|\d\S*|[BTXM])"
_SEVERAL_WORDS: Final = re.compile(rf"(?:the\s+)?([^\s,&=]+(?:\s+[^\s,&=]+){{0,2}}?)\s+({_HOW})", re.I)
_NOT_A_NAME: Final = re.compile(rf"\b(?:and|then|or|but|not|it|with|{_STATE}|{_DONE}|up|down|in|out|off)\b(?!-)", re.I)


def setting(text: str) -> tuple[str, str]:
    """What of the machine is set, and how.

    Raises
    ------
    NotUnderstood
        One of the two is not said.
    """
    text = text.strip()
    if nothing := _NOTHING_IN.fullmatch(text):
        return nothing[1], "out"
    if _TAKEN_OUT.fullmatch(text):
        return "film", "out"
    parting = _EQUALS.search(text) or _COLON.search(text) or _IS.search(text)
    if parting:
        what, how = text[: parting.start()].strip(), text[parting.end() :].strip()
    else:
        what, how = _said(text)
    if not (what and how):
        raise NotUnderstood(f"“{text}” is not a name and a value", "write it like shutter=released")
    return what, how


def _said(text: str) -> tuple[str, str]:
    """Both, where nothing parts them; nothing where it is not plain which words are which."""
    if (several := _SEVERAL_WORDS.fullmatch(text)) and not _NOT_A_NAME.search(several[1]):
        return several[1], several[2]
    two = _TWO_WORDS.fullmatch(text)
    return (two[1], two[2]) if two else ("", "")
