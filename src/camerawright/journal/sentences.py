"""An entry as a sentence: the same words in the terminal, on the pages and on the papers."""

from collections.abc import Mapping
from string import Formatter

from camerawright.journal.asked import field_of
from camerawright.journal.entry import AnEntry


def sentence(entry: AnEntry, others: Mapping[str, AnEntry] | None = None) -> str:
    """What an entry says.

    Parameters
    ----------
    others
        Entries by id, so that one which is named is said in words.
    """
    return "; ".join(filter(None, (_piece(piece, entry, others or {}) for piece in entry.says)))


def briefly(entry: AnEntry, others: Mapping[str, AnEntry] | None = None) -> str:
    """What happened, without the details; `others` as for `sentence`."""
    return _piece(entry.says[0], entry, others or {})


def _piece(piece: str, entry: AnEntry, others: Mapping[str, AnEntry]) -> str:
    """A piece of the sentence; nothing if one of its fields says nothing."""
    words = {name: _said(entry, name, others) for _, name, _, _ in Formatter().parse(piece) if name}
    return piece.format(**words) if all(words.values()) else ""


def _said(entry: AnEntry, name: str, others: Mapping[str, AnEntry]) -> str:
    value = getattr(entry, name)
    if isinstance(value, AnEntry):
        return sentence(value)
    field = field_of(type(entry), name)
    if field is None:
        return str(value or "")
    if field.is_entry:
        return sentence(others[value]) if value in others else f"entry {value[:8]}"
    return field.said(value)
