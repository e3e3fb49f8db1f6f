"""Names of parts, springs, settings, makers and models: what makes two spellings one, and the verb that follows."""

import re
import unicodedata
from difflib import SequenceMatcher
from functools import lru_cache
from typing import Final

_ACCENTS: Final = re.compile("[\u0300-\u036f]")  # of Latin, Greek and Cyrillic; signs of other scripts are letters
_JOINED: Final = re.compile(r"[\s_‐‑‒–—―−-]+")
_QUOTES: Final = re.compile("['’‘`´]")
_DECIMAL_COMMA: Final = re.compile(r"(?<=\d),(?=\d)")
_ARTICLE: Final = re.compile(r"(?:the )+(?=.)")


@lru_cache(maxsize=100_000)
def name_key(name: str) -> str:
    """Fold a name to what is compared.

    Case, accents, hyphens, spacing, apostrophes, a leading “the”, a decimal comma, × for x and the Unicode form do not
    matter. Folding a key again changes nothing.
    """
    folded = _folded(name)
    while (again := _folded(folded)) != folded:
        folded = again
    return folded


def _folded(name: str) -> str:
    """Once; a name of nothing but signs stays what it is."""
    bare = _ACCENTS.sub("", unicodedata.normalize("NFKD", name.casefold().replace("×", "x")))
    plain = _QUOTES.sub("", unicodedata.normalize("NFKC", bare))
    plain = _JOINED.sub(" ", _DECIMAL_COMMA.sub(".", plain)).strip()
    return _ARTICLE.sub("", plain) or " ".join(unicodedata.normalize("NFKC", name.casefold()).split())


_BLANK: Final = frozenset("\u115f\u1160\u2800\u3164\uffa0")  # letters and signs by their kind, and nothing to see


def shows(text: str) -> bool:
    """Whether there is anything to see in a text: a letter, a figure or a sign."""
    return any(sign.isascii() and sign.isprintable() and sign != " " for sign in text) or any(
        unicodedata.category(sign)[0] in "LNPS" and sign not in _BLANK for sign in text
    )


_HEAD: Final = re.compile(r"\s+(?:of|for|on|in|at|under|behind|beside|with)\s+|[,(]")
_NOT_SEVERAL: Final = re.compile(r"(?:ss|us|is)$|^(?:lens|gas|canvas|atlas)$", re.I)


def is_plural(name: str) -> bool:
    """Whether a name is that of several: "shutter blades", "screws of the shoe", but not "lens" or "iris"."""
    words = _HEAD.split(name.strip())[0].split()
    return bool(words) and words[-1].casefold().endswith("s") and not _NOT_SEVERAL.search(words[-1])


def be(name: str) -> str:
    """The verb that follows a name: "is", or "are"."""
    return "are" if is_plural(name) else "is"


_SIMILAR: Final = 0.8


def slip_of(key: str, other: str) -> bool:
    """Whether two keys are the same but for spaces, an s, or letters within words.

    “Left” and “right”, “1” and “2” are no slips.
    """
    if key.replace(" ", "").removesuffix("s") == other.replace(" ", "").removesuffix("s"):
        return True
    words, others = key.split(), other.split()
    return len(words) == len(others) and all(map(_slip_of_a_word, words, others))


def _slip_of_a_word(word: str, other: str) -> bool:
    """The same, or letters dropped, doubled or swapped in a word of more than three."""
    if word == other:
        return True
    is_long = min(len(word), len(other)) > 3 and word.isalpha() and other.isalpha()
    return is_long and (sorted(word) == sorted(other) or likeness(word, other) >= _SIMILAR)


def likeness(one: str, two: str) -> float:
    """How alike two words are, from 0 to 1."""
    return SequenceMatcher(None, one, two, autojunk=False).ratio()
