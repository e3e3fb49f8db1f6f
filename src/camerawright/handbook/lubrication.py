"""Where a camera gets lubricant, which and how much, and what stays dry; read from lubrication.toml."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Literal

from camerawright.handbook.tables import Reason, table

NONE = "none"
"""The class of what stays dry."""

Measure = Literal["dry", "film", "touch", "fill"]


@dataclass(frozen=True, slots=True)
class Class:
    """What to lubricate with; the product in the bottle is the workshop's choice."""

    name: str
    what: Reason


@dataclass(frozen=True, slots=True)
class Amount:
    """How much, in words that two people read the same way."""

    name: Measure
    meaning: Reason


@dataclass(frozen=True, slots=True)
class Spot:
    """A point of the trade.

    Parameters
    ----------
    also
        Other words for the point.
    parts, guess
        Words in the name of a part that has such a point, or may have it.
    lubricant
        Name of a class, or `NONE`.
    """

    name: str
    also: tuple[str, ...]
    parts: tuple[str, ...]
    guess: tuple[str, ...]
    lubricant: str
    amount: Measure
    why: Reason

    @property
    def is_dry(self) -> bool:
        """Whether it stays without lubricant."""
        return self.amount == "dry"


@cache
def classes() -> dict[str, Class]:
    """Every class of lubricant by name."""
    return {
        row["name"]: Class(row["name"], Reason(row["what"], row["source"])) for row in table("lubrication")["class"]
    }


@cache
def amounts() -> dict[str, Amount]:
    """Every amount by name, least first."""
    return {
        row["name"]: Amount(row["name"], Reason(row["meaning"], row["source"]))
        for row in table("lubrication")["amount"]
    }


@cache
def spots() -> tuple[Spot, ...]:
    """Every point of the trade: what gets lubricant first, then what stays dry."""
    return tuple(
        Spot(
            name=row["name"],
            also=tuple(row["also"]),
            parts=tuple(row["parts"]),
            guess=tuple(row.get("guess", ())),
            lubricant=row["lubricant"],
            amount=row["amount"],
            why=Reason(row["why"], row["source"]),
        )
        for row in table("lubrication")["point"]
    )


# -- words -------------------------------------------------------------------------------------------------------------


def _plain(text: str) -> str:
    """Words and single spaces, so that case and hyphens do not matter."""
    return " ".join(re.findall(r"[^\W_]+", text.casefold()))


def _pattern(phrases: Iterable[str], *, unless_before: Iterable[str] = ()) -> re.Pattern[str]:
    """Any of the phrases, the longest first, not followed by a word that makes it another thing."""
    longest_first = "|".join(sorted(map(_plain, phrases), key=len, reverse=True))
    others = "|".join(map(_plain, unless_before))
    return re.compile(rf"\b(?>{longest_first})\b" + (rf"(?! (?:{others})\b)" if others else ""))


@cache
def _by_part() -> tuple[re.Pattern[str], dict[str, tuple[Spot, ...]]]:
    """The words for parts, and the points that each brings with it."""
    found: dict[str, tuple[Spot, ...]] = {}
    for spot in spots():
        for phrase in dict.fromkeys(map(_plain, (*spot.parts, *spot.guess))):
            found[phrase] = (*found.get(phrase, ()), spot)
    found |= {_plain(phrase): () for phrase in table("lubrication")["words"]["not_known"]}
    return _pattern(found, unless_before=table("lubrication")["words"]["other_part"]), found


@lru_cache(10_000)  # a page asks for each part that earlier jobs named
def spots_of(part: str) -> tuple[Spot, ...]:
    """List the points that a part of this name has, in the order of the table; empty where the name says nothing.

    Parameters
    ----------
    part
        As written or narrated: "slow-speed train", "first curtain roller". "Blade cover" is no blade.
    """
    pattern, by_phrase = _by_part()
    found = {spot for match in pattern.finditer(_plain(part)) for spot in by_phrase[match.group()]}
    return tuple(spot for spot in spots() if spot in found)


_WHICH_ONE = re.compile(r"(?: (?:\d+|[a-z]|left|right|upper|lower|front|rear|inner|outer|assembly|unit|block))+$")
"""Words after a name that do not make it another thing: “strut left”, “shutter blade 3”."""


def is_guess(part: str, spot: Spot) -> bool:
    """Whether a part of this name may be another kind than the one that has the point.

    The kind is sure if the name ends in it: a “slow train” is one, a “retard lever” is no retard.
    """
    pattern, by_phrase = _by_part()
    name = _WHICH_ONE.sub("", _plain(part))
    sure = set(map(_plain, spot.parts))
    return not any(
        match.end() == len(name) and match.group() in sure and spot in by_phrase[match.group()]
        for match in pattern.finditer(name)
    )


def is_not_known(part: str) -> bool:
    """Whether a part of this name is dry in one camera and greased in another, and nothing else is known of it."""
    pattern, by_phrase = _by_part()
    return any(not by_phrase[match.group()] for match in pattern.finditer(_plain(part)))


@cache
def _by_name() -> tuple[re.Pattern[str], dict[str, Spot]]:
    """The words for points."""
    names = {_plain(phrase): spot for spot in spots() for phrase in (*spot.also, spot.name)}
    return _pattern(names), names


def spot_called(point: str) -> Spot | None:
    """Find the one point of the trade that the words mean; `None` where they mean none, or more than one."""
    pattern, by_phrase = _by_name()
    found = {by_phrase[match.group()] for match in pattern.finditer(_plain(point))}
    return found.pop() if len(found) == 1 else None
