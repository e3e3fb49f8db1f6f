"""Reading free text about a part: its material, finish, kind and dirt, as rows of the cleaning table."""

import re
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache, lru_cache
from typing import Any, Final

from camerawright.handbook import cleaning
from camerawright.handbook.cleaning import Soil, Subject
from camerawright.handbook.tables import Reason

_STOP_FIRST: Final = frozenset({"flash capacitor", "asbestos"})
_STRONG_SPRING: Final = re.compile(
    r"\b(?:main|mains|clock|clockwork|driv(?:e|ing)|curtain|blind|drum|barrel|wind(?:ing)?|motor)[ -]?springs?\b", re.I
)
_UNDER_LOAD: Final = Reason(
    text="A spring under load flies out and cuts: let it down first, under control, and wear eye protection.",
    source="common practice",
)


@dataclass(frozen=True, slots=True)
class Understanding:
    """What free text says about a part, row by row of the table, and the words that no row knows.

    One word may stand for several rows ("glass", "alloy"): then the limits of all of them hold. `vague` are such words
    for a material.
    """

    materials: tuple[Subject, ...] = ()
    finishes: tuple[Subject, ...] = ()
    kinds: tuple[Subject, ...] = ()
    soils: tuple[Soil, ...] = ()
    unknown: tuple[str, ...] = ()
    vague: tuple[str, ...] = ()


def words_of(text: str) -> tuple[str, ...]:
    """Words for comparison. A question mark counts as a word, because it is a doubt."""
    return tuple(re.findall(r"[^\W_]+|\?", text.casefold()))


@cache
def _phrases(group: str) -> dict[tuple[str, ...], tuple[Subject | Soil, ...]]:
    """The rows of one group by each phrase that means them."""
    rows: dict[str, tuple[Subject | Soil, ...]] = {
        "material": cleaning.materials(),
        "finish": cleaning.finishes(),
        "kind": cleaning.kinds(),
        "soil": cleaning.soils(),
    }
    found: dict[tuple[str, ...], tuple[Subject | Soil, ...]] = {}
    for row in rows[group]:
        for phrase in dict.fromkeys(map(words_of, (row.name, *row.also))):
            found[phrase] = (*found.get(phrase, ()), row)
    return found


@cache
def _known(groups: tuple[str, ...]) -> frozenset[tuple[str, ...]]:
    """Every phrase that raises no question."""
    return frozenset(map(words_of, cleaning.silent_phrases())).union(*(_phrases(group) for group in groups))


def _split(text: str, groups: tuple[str, ...]) -> tuple[list[tuple[str, ...]], tuple[str, ...]]:
    """The known phrases in the text, longest first from the left, and the words left over."""
    known = _known(groups)
    longest = max(map(len, known))
    words, phrases, unknown = words_of(text), [], []
    while words:
        sizes = range(min(longest, len(words)), 0, -1)
        size = next((size for size in sizes if words[:size] in known), 0)
        if size:
            phrases.append(words[:size])
        else:
            unknown.append(words[0])
        words = words[max(size, 1) :]
    return phrases, tuple(dict.fromkeys(unknown))


def _rows(phrases: list[tuple[str, ...]], group: str) -> tuple[Any, ...]:
    """The rows of one group that the phrases mean, each once."""
    rows = _phrases(group)
    return tuple(dict.fromkeys(row for phrase in phrases for row in rows.get(phrase, ())))


@lru_cache(maxsize=4096)
def understood(text: str) -> Understanding:
    """Find what is said of material, finish and kind of part in free text.

    Parameters
    ----------
    text
        As written or narrated: "nickel-plated brass", "pot metal", "bakelite". Case, hyphens and commas do not matter.

    Returns
    -------
    Understanding
        Rows found, and every word that no row knows (a question mark, "not" and "or" among them), so that whoever asks
        can take the safest way.
    """
    phrases, unknown = _split(text, ("material", "finish", "kind"))
    return Understanding(
        materials=_rows(phrases, "material"),
        finishes=_rows(phrases, "finish"),
        kinds=_rows(phrases, "kind"),
        unknown=unknown,
        vague=tuple(" ".join(phrase) for phrase in phrases if len(_phrases("material").get(phrase, ())) > 1),
    )


def meanings(word: str) -> tuple[str, ...]:
    """The materials that a vague word may mean."""
    return tuple(row.name for row in _phrases("material").get(words_of(word), ()))


@lru_cache(maxsize=4096)
def understood_soil(text: str) -> Understanding:
    """Find what is stuck to a part in free text: "old oil and verdigris"; else as `understood`."""
    phrases, unknown = _split(text, ("soil",))
    return Understanding(soils=_rows(phrases, "soil"), unknown=unknown)


@lru_cache(maxsize=4096)
def whole_assembly(part: str, *said: str | None) -> Subject | None:
    """Find the assembly that a part is by its name, if nothing that was said of it means that it is one no more.

    Parameters
    ----------
    part
        Its name. The phrase that ends it counts, and of those the longest: a “shutter” is one, and a “shutter speed
        ring” is not. What stands behind a comma, a bracket or “with” says nothing, nor do numbers and single letters.
    said
        Its material and its finish: “brass, empty”.
    """
    head = _BEHIND.split(part, maxsplit=1)[0]
    row = _ends_in_assembly(words_of(head)) or _ends_in_assembly(words_of(part))
    if row is None or any(_says(text, row.unless) for text in (part, *said) if text):
        return None
    return row


_BEHIND = re.compile(r"[(,;:]|\b(?:with|in|from|for|no|incl\w*)\b", re.IGNORECASE)
"""Where a name goes on to say more than what the part is."""


@cache
def _assemblies() -> dict[tuple[str, ...], Subject]:
    """Every assembly by each of its names."""
    return {phrase: row for row in cleaning.assemblies() for phrase in map(words_of, (row.name, *row.also))}


def _ends_in_assembly(words: tuple[str, ...]) -> Subject | None:
    """The assembly whose name ends the words; a “shutter assembly, complete” is a shutter."""
    while words and (words[-1].isdigit() or len(words[-1]) == 1):
        words = words[:-1]
    any_kind = _assemblies()[("assembly",)]
    row = next((found for i in range(len(words)) if (found := _assemblies().get(words[i:]))), None)
    return (_ends_in_assembly(words[:-1]) or row) if row is any_kind else row


def nearest(word: str, group: str) -> tuple[str, ...]:
    """The known phrases of a group (material, finish, soil) that are most like a word, three at most."""
    known = [" ".join(phrase) for phrase in _phrases(group)]
    return tuple(get_close_matches(" ".join(words_of(word)), known, n=3, cutoff=0.6))


def _says(text: str, phrases: tuple[str, ...]) -> bool:
    """Whether one of the phrases stands in the text; “not empty” does not say “empty”."""
    words = words_of(text)
    if {"not", "or", "maybe", "?"} & set(words):
        return False
    return any(words[i : i + len(end)] == end for end in map(words_of, phrases) for i in range(len(words)))


@lru_cache(10_000)  # a page asks for each part that may be next
def dangers(*texts: str | None) -> tuple[Reason, ...]:
    """List the cautions for whoever handles a part, by its name and by what it is made of and finished with."""
    found = [understood(text) for text in texts if text]
    rows = [row for said in found for row in (*said.materials, *said.finishes, *said.kinds) if row.is_danger]
    springs = [_UNDER_LOAD for text in texts if text and _STRONG_SPRING.search(text)]
    return tuple(dict.fromkeys((*(caution for row in rows for caution in row.cautions), *springs)))


def stop_first(*texts: str | None) -> tuple[Reason, ...]:
    """List those of the cautions before which nobody goes on without a word: what kills, and what dust of it kills."""
    rows = [row for text in texts if text for row in (*understood(text).materials, *understood(text).kinds)]
    return tuple(dict.fromkeys(row.cautions[0] for row in rows if row.name in _STOP_FIRST))


@cache
def old_film() -> Reason:
    """What whoever takes a camera in with a film inside has to know: it may be nitrate."""
    return dangers("nitrate film")[0]
