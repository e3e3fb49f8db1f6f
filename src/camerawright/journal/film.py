"""Film inside: until somebody takes it out, nothing that keeps light off it may come off."""

import re
from typing import Final

from camerawright.journal.entries import Set
from camerawright.journal.known import Known
from camerawright.journal.state import State

FILM: Final = "film"
"""The setting of the machine that says whether film is inside: `film = out`."""
_OUT: Final = frozenset({"out", "none", "no", "removed", "empty", "unloaded"})
_NOT_YET: Final = frozenset({"not", "half", "partly", "yet", "still", "maybe", "perhaps"})
_KEEPS_LIGHT_OUT: Final = frozenset(
    {
        *("back", "door", "lens", "cell", "shutter", "curtain", "curtains", "blade", "blades", "bellows"),
        *("window", "windows", "peephole", "peepholes", "seal", "seals", "trap", "traps", "gate", "magazine"),
        *("darkslide", "insert", "helicoid"),
    }
)
_ONLY_WORKS_IT: Final = frozenset(
    {
        *("button", "cap", "dial", "hood", "knob", "lever", "release"),
        *("finder", "rangefinder", "viewfinder", "meter", "counter", "flash", "distance"),  # windows of the outside
    }
)
_WORD: Final = re.compile(r"[^\W\d_]+")


def is_film_inside(state: State, known: Known) -> bool:
    """Whether film is inside: by the state of the machine if it says so, else as the camera was taken in."""
    now_set = state.setting(FILM)
    if now_set is None:
        return known.film_inside
    said = _words(now_set)
    return not said & _OUT or bool(said & _NOT_YET)


def keeps_light_out(name: str) -> bool:
    """Whether film fogs when this part comes off, by its name: a back, a lens, a shutter, and what belongs to them."""
    words = _words(name)
    return bool(words & _KEEPS_LIGHT_OUT) and not words & _ONLY_WORKS_IT


def _words(text: str) -> set[str]:
    return set(_WORD.findall(text.casefold()))


NOT_KNOWN: Final = "not known"


def film_said(state: State, known: Known) -> str:
    """Whether film is inside, as it was said last."""
    now_set = state.setting(FILM)
    if now_set is None:
        return "yes" if known.film_inside else "no"
    if now_set == NOT_KNOWN:
        return "not known: it counts as inside until you say so"
    if is_film_inside(state, known):
        return "yes" if now_set == "inside" else f"yes ({now_set})"
    was_known = not any(isinstance(entry, Set) and entry.settings.get(FILM) == NOT_KNOWN for entry in state.entries)
    return "out; it was inside when the camera came" if known.film_inside and was_known else "no"
