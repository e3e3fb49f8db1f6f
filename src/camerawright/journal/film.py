"""Film inside: until somebody takes it out, only what surely lies outside the light-tight box comes off unasked."""

import re
from collections.abc import Iterator
from typing import Final

from camerawright.journal.entries import Added, AidFitted, Set, part_key
from camerawright.journal.known import Known
from camerawright.journal.state import State
from camerawright.trouble import Trouble

FILM: Final = "film"
"""The setting of the machine that says whether film is inside: `film = out`."""
NOT_KNOWN: Final = "not known"
_PLAINLY_OUT: Final = re.compile(
    r"(?:(?:the )?film )?(?:(?:it )?(?:is|was|has been|came) )?(?:(?:all|already|now) )?(?:taken |rewound and )?"
    r"(?:out|none|no|no film|removed|empty|unloaded|not loaded)"
    r"(?: (?:already|now|inside|in the dark(?: bag)?|in the changing bag|of the camera))?[.!]?",
    re.I,
)
_OUT: Final = frozenset({"out", "none", "no", "removed", "empty", "unloaded"})
_DOUBT: Final = frozenset({"idea", "know", "maybe", "perhaps", "possibly", "probably", "sure", "think", "unsure"})
_NOT_YET: Final = frozenset({"not", "half", "partly", "yet", "still", "maybe", "perhaps"})
_OUTSIDE: Final = {
    "worked from outside, on a shaft or pin that the body closes around": (
        "button", "crank", "dial", "knob", "lever", "release"
    ),
    "fixed on the outside of the body": (
        "covering", "eyelet", "leather", "leatherette", "lug", "name plate", "nameplate", "shoe", "skin", "strap"
    ),
    "over the works, which the body parts from the film": ("bottom cover", "top cover", "top plate"),
    "before the lens, and the shutter lies between": ("cap", "filter", "hood"),
    "on a way of the light of its own": (
        "eyepiece", "finder", "viewfinder", "rangefinder window", "meter window", "distance window", "flash window"
    ),
}  # fmt: skip
"""What a name ends with if the part surely lies outside the light-tight box, by the reason (common practice)."""
_ENDINGS: Final = frozenset(ending for endings in _OUTSIDE.values() for ending in endings)
_FINDER: Final = frozenset({"eyepiece", "finder", "viewfinder"})  # and so does whatever belongs to it
_WORD: Final = re.compile(r"[^\W\d_]+")
_PLACE: Final = re.compile(r"\b(?:on|at|in|inside|under|beneath|behind|over|between|against|around)\b", re.I)
_MORE: Final = re.compile(r"\b(?:of|with|for)\b", re.I)


def is_film_inside(state: State, known: Known) -> bool:
    """Whether film is inside: by the state of the machine if it says so, else as the camera was taken in."""
    now_set = state.setting(FILM)
    return known.film_inside if now_set is None else _is_in(now_set)


def _is_in(setting: str) -> bool:
    """Only a plain word says that it is out."""
    return not _PLAINLY_OUT.fullmatch(setting.strip())


def _is_doubtful(setting: str) -> bool:
    """Whether it sounds as if it were out, and does not plainly say so: “out?”, “no idea”."""
    said = set(_words(setting))
    return _is_in(setting) and ("?" in setting or bool(said & _DOUBT) or bool(said & _OUT and not said & _NOT_YET))


def is_outside(name: str) -> bool:
    """Whether a part surely lies outside the light-tight box, by its name: “speed dial”, “covering of the back”.

    Of a name with a place or an “of” in it, the first piece says what it is.
    """
    words = [word.removesuffix("s") for word in _words(_MORE.split(_PLACE.split(name)[0])[0])]
    endings = {" ".join(words[-n:]) for n in (1, 2)}
    return bool(endings & _ENDINGS or {*words} & _FINDER)


def film_said(state: State, known: Known) -> str:
    """Whether film is inside, as it was said last."""
    now_set = state.setting(FILM)
    if now_set is None:
        return "yes" if known.film_inside else "no"
    if now_set == NOT_KNOWN:
        return "not known: it counts as inside until you say so"
    if _is_doubtful(now_set):
        return f"not known (“{now_set}”): it counts as inside until you say “film = out”"
    if is_film_inside(state, known):
        return "yes" if now_set == "inside" else f"yes ({now_set})"
    was_known = not any(isinstance(entry, Set) and entry.settings.get(FILM) == NOT_KNOWN for entry in state.entries)
    return "out; it was inside when the camera came" if known.film_inside and was_known else "no"


def film_fogs(state: State, known: Known, name: str) -> Iterator[Trouble]:
    """A part comes off, and film is inside."""
    if not is_outside(name):
        yield from _fogs(state, known, f"{name} comes off")


def _fogs(state: State, known: Known, act: str) -> Iterator[Trouble]:
    if is_film_inside(state, known):
        yield Trouble(
            what=f"film is inside, and it may fog when {act}",
            mend="take it out in the dark and enter “film = out”, or say why it does not matter",
            can_overrule=True,
        )


def put_in(state: State, known: Known, entry: AidFitted | Added) -> Iterator[Trouble]:
    """An aid or an added part that goes in where film may be: to put it there, somebody opens the box."""
    name = entry.aid if isinstance(entry, AidFitted) else entry.part
    where = entry.place or name
    found = _PLACE.search(where)
    if not is_outside(where[found.end() :] if found else where):
        yield from _fogs(state, known, f"{name} goes in")


def loaded(state: State, entry: Set) -> Iterator[Trouble]:
    """Film goes in while the box is open; or it may be out, and nobody plainly says so."""
    said = [how for what, how in entry.settings.items() if part_key(what) == FILM and how != NOT_KNOWN]
    for how in filter(_is_doubtful, said):
        yield Trouble(
            what=f"“{how}” does not say plainly whether the film is out: it counts as inside",
            mend=f"look in the dark, then enter “film = out” or “film = inside”; until then “film = {NOT_KNOWN}”",
            can_overrule=True,
        )
    is_open = [part.name for part in state.off if not is_outside(part.name)]
    if is_open and any(_is_in(how) and not _is_doubtful(how) for how in said):
        yield Trouble(
            what=f"film goes in, and {', '.join(is_open)} {'is' if len(is_open) == 1 else 'are'} off",
            mend="put back first what keeps light off it, or say why it does not matter",
            can_overrule=True,
        )


def still_in(state: State, known: Known) -> Iterator[Trouble]:
    """Film that is inside at the end of the job."""
    if is_film_inside(state, known):
        yield Trouble(
            what="film is inside",
            mend="take it out and enter “film = out”, or say that it goes back with the camera",
            can_overrule=True,
        )


def _words(text: str) -> list[str]:
    return _WORD.findall(text.casefold())
