"""Names that the trade has for one part, and what speech recognition makes of them: to suggest, never to rename."""

from functools import cache

from camerawright.handbook.tables import table
from camerawright.wording.names import name_key


@cache
def _groups() -> tuple[frozenset[str], ...]:
    """The keys of the names in each row."""
    return tuple(frozenset(map(name_key, row.split(" / "))) for row in table("part_names")["same"])


def as_heard(key: str) -> str:
    """The key with the words that are known to be misheard put right."""
    heard: dict[str, str] = table("part_names")["heard"]
    return " ".join(heard.get(word, word) for word in key.split())


def same_part(key: str, other: str) -> bool:
    """Whether the trade uses both for one part."""
    return any(key in group and other in group for group in _groups())


def is_trade_name(key: str) -> bool:
    """Whether the trade calls a part so."""
    return any(as_heard(key) in group for group in _groups())
