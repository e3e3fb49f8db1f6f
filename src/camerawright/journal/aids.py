"""Temporary aids: where each sits, and what would close over it."""

import re
from collections.abc import Iterator
from typing import Final

from camerawright.handbook.part_names import is_trade_name
from camerawright.journal.entries import Added, AidFitted, Refitted, part_key
from camerawright.journal.known import Known
from camerawright.journal.naming import is_spoken_of
from camerawright.journal.order import constraints_said
from camerawright.journal.reached import reached
from camerawright.journal.state import Part, State
from camerawright.trouble import Trouble

_WORD: Final = re.compile(r"\w+")
_BENEATH: Final = re.compile(
    r"\b(?:under|underneath|beneath|behind|below)\s+"
    r"((?:(?!\s(?:to|so|for|while|with|and|until|that|which|where|because)\b)[^,;.()])+)",
    re.I,
)
_CLOSING_WORDS: Final = frozenset({"board", "casing", "cover", "escutcheon", "housing", "panel", "plate", "shell"})
"""What the name of a part that closes something in ends with."""
_LIFTED: Final = frozenset({
    "arm", "back", "back cover", "bed", "blade", "button", "catch", "crank", "curtain", "door", "flap", "hand",
    "handle", "hood", "hook", "knob", "latch", "lead", "lever", "lid", "mirror", "needle", "pawl", "pointer", "spring",
    "strap", "trigger", "wire",
})  # fmt: skip
"""What the name of a part ends with if it swings, opens or gives, so that something goes in beneath it as it is."""
_SAYS_WHERE: Final = re.compile(r"\b(?:on|at|in|under|beneath|behind|over|between|against|around)\b", re.I)
"""A name that says where it sits: “tape on the blades”."""


def sits_nowhere(state: State, entry: AidFitted, known: Known) -> Iterator[Trouble]:
    """An aid whose place nobody can tell: nothing could ask for it in time."""
    if entry.place is None and not _SAYS_WHERE.search(entry.aid) and not _anchors(state, entry, known):
        yield Trouble(
            what=f"nobody can tell where {entry.aid} sits",
            mend="give its place, with the name of a part: you are asked for it before something closes over it",
            can_overrule=True,
        )


def out_of_reach(state: State, entry: AidFitted | Added, known: Known) -> Iterator[Trouble]:
    """Something goes in beneath a part that is on: by its place, or by what surely sits over an added part."""
    name, text = (entry.aid, entry.place or entry.aid) if isinstance(entry, AidFitted) else (entry.part, entry.place)
    beneath = _BENEATH.search(text or "")
    over = [state.part(beneath[1]).name] if beneath and _closes(state, known, beneath[1]) else []
    if isinstance(entry, Added):
        key = part_key(entry.part)
        said = (*known.constraints, *constraints_said(state))
        over += [each.first for each in said if each.certain and each.keys[1] == key]
    for cover in {part_key(each): each for each in over}.values():
        if state.part(cover).status == "on":
            yield Trouble(
                what=f"{name} goes in beneath {cover}, and the journal has {cover} still on",
                mend=f"enter the removal of {cover} first, or say how it went in",
                can_overrule=True,
            )


def _closes(state: State, known: Known, name: str) -> bool:
    """Whether somebody calls a part so, and nothing gets beneath it while it is on."""
    if state.part(name).removed is not None:
        return True
    words = part_key(name).removesuffix("s").split()
    endings = {" ".join(words[-n:]) for n in (1, 2)}
    is_part = is_spoken_of(state, known, name) or is_trade_name(part_key(name)) or endings & _CLOSING_WORDS
    return bool(is_part) and not endings & _LIFTED


def closed_in(state: State, part: Part, known: Known) -> Iterator[Trouble]:
    """The aids that are in where this part goes back: it would close over them."""
    for aid in state.aids:
        covers = _covers(state, aid, known)
        if _names(aid, part.name) or part.key in covers:
            yield Trouble(
                what=f"{part.name} closes over the aid {aid.aid}{where(aid)}",
                mend="take it out first, or say why it stays",
                can_overrule=True,
            )
        elif not covers and not _asked_since(state, aid):
            yield Trouble(
                what=f"the aid {aid.aid} is still in{where(aid)}, and {part.name} may close over it",
                mend="take it out first, or say why it stays; you are asked once",
                can_overrule=True,
            )


def where(aid: AidFitted) -> str:
    """Where it sits, in brackets."""
    return f" ({aid.place})" if aid.place else ""


def _covers(state: State, aid: AidFitted, known: Known) -> set[str]:
    """The keys of what surely goes over the place of an aid."""
    over: dict[str, list[str]] = {}
    for constraint in (*known.constraints, *constraints_said(state)):
        if constraint.certain:
            first, then = constraint.keys
            over.setdefault(then, []).append(first)
    return reached(_anchors(state, aid, known) | {key for key in over if _names(aid, key)}, over)


def _anchors(state: State, aid: AidFitted, known: Known) -> set[str]:
    """The keys of the parts that an aid's name or place names."""
    return {key for key in (*state.parts, *known.names) if _names(aid, key)}


def _names(aid: AidFitted, part: str) -> bool:
    """Whether an aid, by its name or its place, sits at a part."""
    name = _WORD.findall(part.casefold())
    for text in (aid.aid, aid.place or ""):
        words = _WORD.findall(text.casefold())
        if name and any(words[i : i + len(name)] == name for i in range(len(words))):
            return True
    return False


def _asked_since(state: State, aid: AidFitted) -> bool:
    """Whether something went back past this question already."""
    after = state.entries[state.entries.index(aid) :] if aid in state.entries else ()
    return any(isinstance(entry, Refitted) and entry.overruled for entry in after)
