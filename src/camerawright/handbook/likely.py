"""What a part of an old camera is usually made of and what usually sticks to it, by its name; from likely.toml."""

from dataclasses import dataclass
from functools import cache

from camerawright.handbook.part_words import words_of
from camerawright.handbook.tables import table


@dataclass(frozen=True, slots=True)
class Likely:
    """A guess from a part's name. Common practice."""

    material: str
    finish: str | None
    soil: tuple[str, ...]


@cache
def _by_phrase() -> dict[tuple[str, ...], Likely]:
    """Every guess by the words that lead to it."""
    return {
        words_of(name): Likely(row["material"], row.get("finish"), tuple(row["soil"]))
        for row in table("likely")["likely"]
        for name in row["names"]
    }


@cache
def _longest() -> int:
    return max(map(len, _by_phrase()))


def likely(part: str) -> Likely | None:
    """Guess from a part's name; `None` if no word of it is in the table.

    Parameters
    ----------
    part
        As written or narrated. The phrase that ends last counts, and of those the longest: a "top cover screw" is a
        screw, and a "bellows frame" a frame.
    """
    words = words_of(part)
    for end in range(len(words), 0, -1):
        for size in range(min(_longest(), end), 0, -1):
            found = _by_phrase().get(words[end - size : end])
            if found:
                return found
    return None
