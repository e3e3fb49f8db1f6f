"""The solvents of the bench: flash points, cautions, and the rule that keeps them out of the ultrasonic bath."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase
from functools import cache, lru_cache
from typing import Final

from camerawright.handbook.tables import COMMON_PRACTICE, Reason, table

FLASH_POINT_MIN_C = 60.0
"""A liquid that flashes at or below this is flammable, of category 3 or worse ([ghs] 2.6, from memory). [°C]"""

HEATING_MARGIN_C = 17.0
"""30 °F, rounded up: so near its flash point a hot liquid counts as the next worse category [29-cfr-1910-106]. [°C]"""

WARMTH_MIN_C = 40.0
"""From here on a thing counts as warmed: above what a hand or a summer's bench gives. Common practice. [°C]"""

CARE = Reason(
    "The product's safety data sheet, local rules and licensed practice come first.",
    COMMON_PRACTICE,
)


_DEGREES: Final = re.compile(r"(\d+(?:[.,]\d+)?)\s*(?:°|º|deg(?:rees?)?\.?)?\s*(C|F|Celsius|Fahrenheit|c|f)\b")
_WORD: Final = re.compile(r"\*?\w+\*?")


def words_of(text: str) -> tuple[str, ...]:
    """The words of a text, without case and the s of several."""
    return _phrase(text.replace("*", " "))


@lru_cache(maxsize=10_000)
def _phrase(text: str) -> tuple[str, ...]:
    """The words of a phrase of a table; a star in it is any beginning or end of a word."""
    return tuple(_singular(word) for word in _WORD.findall(text.casefold()))


def _singular(word: str) -> str:
    return word.removesuffix("s") if len(word) > 3 and not word.endswith(("ss", "us")) else word


def stands_at(phrase: tuple[str, ...], words: tuple[str, ...], i: int) -> bool:
    """Whether a phrase stands at that place."""
    there = words[i : i + len(phrase)]
    return len(there) == len(phrase) and all(map(_is_word, there, phrase))


def _is_word(word: str, called: str) -> bool:
    return word == called or ("*" in called and fnmatchcase(word, called))


@dataclass(frozen=True, slots=True)
class Solvent:
    """A flammable liquid of the bench; explosive limits are `None` where no source was at hand.

    Parameters
    ----------
    flash_point_c
        The lowest that our sources give. [°C]
    lower_limit_percent, upper_limit_percent
        Explosive limits of the vapour in air. [% by volume]
    explosive_above_c
        Where a source gives it: the temperature above which the vapour makes explosive mixtures with air, by itself and
        below the flash point. [°C]
    """

    name: str
    also: tuple[str, ...]
    cas: str
    flash_point_c: float
    flash_source: str
    harm: Reason
    lower_limit_percent: float | None = None
    upper_limit_percent: float | None = None
    limits_source: str | None = None
    explosive_above_c: float | None = None
    explosive_source: str | None = None


@cache
def solvents() -> dict[str, Solvent]:
    """Every solvent of the table by name."""
    found = {}
    for row in table("solvents")["solvent"]:
        plain = {key: value for key, value in row.items() if key != "harm_source"}
        plain |= {"also": tuple(row["also"]), "harm": Reason(row["harm"], row["harm_source"])}
        found[row["name"]] = Solvent(**plain)
    return found


@cache
def never() -> dict[str, Reason]:
    """What old handbooks list and nobody should use, with the reason."""
    return {row["name"]: Reason(row["why"], row["source"]) for row in table("solvents")["never"]}


@cache
def _called() -> tuple[tuple[tuple[str, ...], str], ...]:
    """Every liquid's names as words, and its name in the table."""
    rows = (row for kind in ("solvent", "flammable", "never") for row in table("solvents")[kind])
    return tuple((_phrase(name), row["name"]) for row in rows for name in (row["name"], *row["also"]))


@lru_cache(maxsize=10_000)
def _named(text: str) -> tuple[str, ...]:
    """The liquids of the table whose name or other name stands in a text, word by word; the longest name counts."""
    found: dict[str, None] = {}
    words = words_of(text)
    i = 0
    while i < len(words):
        fits = [(len(called), name) for called, name in _called() if stands_at(called, words, i)]
        n_words, name = max(fits, default=(1, ""))
        found |= {name: None} if name else {}
        i += n_words
    return tuple(found)


def flammable_named(text: str) -> str | None:
    """The flammable liquid that a text names; else the word in it that such liquids mostly have; else None."""
    burns = (name for name in _named(text) if name not in never() or name in _burn_too())
    return next(burns, None) or _by_words("unknown", text)


@cache
def _burn_too() -> frozenset[str]:
    """What nobody should use, and burns besides."""
    return frozenset(row["name"] for row in table("solvents")["never"] if row.get("burns"))


def unknown_liquid(text: str, *, besides: str = "") -> str | None:
    """The first words in how a part was cleaned that may name a liquid that nobody knows; else None.

    Every word counts that is no tool, motion, warmth or harmless liquid of the table, stands in no name of it, and not
    in that of the part (`besides`).
    """
    words, own = words_of(text), words_of(besides)
    masked = {i for name in _all_known() for i in _places(name, words)}
    masked |= {i for i, word in enumerate(words) if word in own}
    unknown = [i for i, word in enumerate(words) if i not in masked and not word[0].isdigit()]
    if not unknown:
        return None
    end = next(i for i in range(unknown[0], len(words) + 1) if i not in unknown)
    return " ".join(words[unknown[0] : end])


@cache
def _all_known() -> tuple[tuple[str, ...], ...]:
    """Every phrase that names something else than a liquid that nobody knows."""
    listed = table("solvents")
    phrases = (*listed["harmless"]["words"], *listed["warmth"]["words"], *listed["unknown"]["not"])
    return tuple(dict.fromkeys((*map(_phrase, phrases), *(name for name, _ in _called()))))


def _places(phrase: tuple[str, ...], words: tuple[str, ...]) -> Iterator[int]:
    """The places of the words of a phrase, wherever it stands."""
    for i in range(len(words)):
        if stands_at(phrase, words, i):
            yield from range(i, i + len(phrase))


def warmth_named(text: str) -> str | None:
    """The word in a text that says that something was warmed, or how warm it was made."""
    return _by_words("warmth", text) or _warm_degrees(text)


def _warm_degrees(text: str) -> str | None:
    """A temperature in a text at which things count as warm: “45 °C”, “110 °F”."""
    for found in _DEGREES.finditer(text):
        degrees, unit = float(found[1].replace(",", ".")), found[2][0].casefold()
        if (degrees if unit == "c" else (degrees - 32) / 1.8) >= WARMTH_MIN_C:
            return found[0]
    return None


@lru_cache(maxsize=10_000)
def _by_words(kind: str, text: str) -> str | None:
    """The first phrase of a list of words that stands in a text, outside the phrases that mean something else."""
    row, words = table("solvents")[kind], words_of(text)
    others = [_phrase(phrase) for phrase in row["not"]]
    starts = range(len(words))
    masked = {i + n for other in others for i in starts if stands_at(other, words, i) for n in range(len(other))}
    left = tuple("" if i in masked else word for i, word in enumerate(words))
    phrases = [_phrase(phrase) for phrase in row["words"]]
    found = ((i, i + len(phrase)) for i in starts for phrase in phrases if stands_at(phrase, left, i))
    start, end = next(found, (0, 0))
    return " ".join(words[max(start - 1, 0) : end]) or None  # with the word before: “brake cleaner”


def never_named(text: str) -> dict[str, Reason]:
    """What a text names that nobody should use, with the reason; benzine is no benzene."""
    return {name: never()[name] for name in _named(text) if name in never()}


def unfit_for_ultrasound(solvent: Solvent, *, bath_c: float) -> Reason | None:
    """Say why a liquid must not go into an ultrasonic bath, or nothing if its flash point is out of reach.

    Parameters
    ----------
    solvent
        What would be in the tank.
    bath_c
        Temperature of the bath; ultrasound heats it by itself. [°C]

    Notes
    -----
    Ultrasound throws up a fog of droplets, and the fog burns below the flash point of the liquid at rest [ctg-2012].
    So the bound lies well above the temperature of the bath, and a cold bath does not get round it.

    References
    ----------
    [29-cfr-1910-106] (a)(19), as revised in 2012: within 30 °F of the flash point.
    [ctg-2012] on fog.
    """
    flash_c = solvent.flash_point_c
    if flash_c <= FLASH_POINT_MIN_C:
        text = (
            f"No {solvent.name} in an ultrasonic bath: it flashes at {flash_c:g} °C [{solvent.flash_source}], "
            "and ultrasound throws it up as a fog that catches fire."
        )
        return Reason(text, "ctg-2012")
    if flash_c - bath_c <= HEATING_MARGIN_C:
        text = (
            f"No {solvent.name} in a bath at {bath_c:g} °C: that is within {HEATING_MARGIN_C:g} °C of its flash point, "
            f"{flash_c:g} °C [{solvent.flash_source}]."
        )
        return Reason(text, "29-cfr-1910-106")
    return None


def cautions(solvent: Solvent) -> tuple[Reason, ...]:
    """What to say at the step where a solvent is used, figures with their sources."""
    text = f"Flammable: {solvent.name} flashes at {solvent.flash_point_c:g} °C"
    source = solvent.flash_source
    said = [
        Reason(
            f"{text}. Keep flames, sparks and heaters away, and air the room. Use a small jar and a waste tin, both "
            "with a lid.",
            source,
        )
    ]
    if solvent.lower_limit_percent is not None and solvent.limits_source is not None:
        limits = (
            f"Air with {solvent.lower_limit_percent:g} to {solvent.upper_limit_percent:g} % of its vapour explodes."
        )
        said.append(Reason(limits, solvent.limits_source))
    if solvent.explosive_above_c is not None and solvent.explosive_source is not None:
        mixtures = (
            f"Its vapour makes explosive mixtures with air above {solvent.explosive_above_c:g} °C, so at room "
            "temperature too."
        )
        said.append(Reason(mixtures, solvent.explosive_source))
    return (*said, solvent.harm, CARE)
