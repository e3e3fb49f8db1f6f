"""Springs, balls and pawls that get loose: which of those entered is the one that a caution names."""

import re
from collections.abc import Iterable
from typing import Final

from camerawright.journal.entries import Loose

_WORD: Final = re.compile(r"\w+")


def not_caught(names: Iterable[str], caught: Iterable[Loose]) -> tuple[str, ...]:
    """The hazards that no loose part answers.

    A loose part answers a hazard if it is called by all the words of it, and maybe more: “ball 1.5 mm” answers “ball”,
    and “spring” answers no “click spring”. One ball answers one hazard.
    """
    wanted = sorted(dict.fromkeys(names), key=lambda name: -len(_words(name)))  # the most exact takes its own first
    left = sorted((_words(loose.what) for loose in caught for _ in range(loose.count)), key=len)
    missing = set()
    for name in wanted:
        fits = next((words for words in left if _words(name) <= words), None)
        if fits is None:
            missing.add(name)
        else:
            left.remove(fits)
    return tuple(name for name in dict.fromkeys(names) if name in missing)


def _words(text: str) -> frozenset[str]:
    """The words of a name; one and several are alike."""
    return frozenset(word.removesuffix("s") if len(word) > 3 else word for word in _WORD.findall(text.casefold()))
