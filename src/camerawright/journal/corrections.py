"""What stands of a journal once its corrections are taken into account."""

from collections.abc import Sequence

from camerawright.journal.entries import Corrected, Entry


def in_force(ordered: Sequence[Entry]) -> tuple[tuple[Entry, ...], frozenset[str]]:
    """Resolve the corrections of an ordered journal: what stands, and the ids of what was struck out.

    A correction is judged from the newest back: one that was itself struck out has no effect, and of several that name
    the same entry the newest counts. What it puts in place keeps the id and the moment of the entry it replaces.
    """
    decided: dict[str, Entry | None] = {}
    for entry in reversed(ordered):
        if isinstance(entry, Corrected) and not (entry.id in decided and decided[entry.id] is None):
            decided.setdefault(
                entry.entry,
                entry.becomes.model_copy(update={"id": entry.entry}) if entry.becomes is not None else None,
            )
    standing = []
    for entry in ordered:
        if isinstance(entry, Corrected):
            continue
        kept = decided.get(entry.id, entry)
        if kept is not None:
            standing.append(kept if kept is entry else kept.model_copy(update={"at": entry.at}))
    struck = frozenset(entry_id for entry_id, kept in decided.items() if kept is None)
    return tuple(standing), struck
