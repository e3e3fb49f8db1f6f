"""Threads and thicknesses that were taken after a part came off: its removal reads as if they had been taken then."""

from collections.abc import Iterator, Sequence

from camerawright.journal.entries import Entry, Fastener, Gauged, Removed, Shim, part_key
from camerawright.wording.names import name_key


def with_sizes(standing: Sequence[Entry]) -> tuple[Entry, ...]:
    """The entries in force, each removal with the sizes that were taken later; what fits no removal changes nothing."""
    entries = list(standing)
    last: dict[str, int] = {}
    for i_entry, entry in enumerate(standing):
        if isinstance(entry, Removed):
            last[part_key(entry.part)] = i_entry
        elif isinstance(entry, Gauged) and part_key(entry.part) in last:
            i_removed = last[part_key(entry.part)]
            removed = entries[i_removed]
            if isinstance(removed, Removed):
                entries[i_removed] = sized(removed, entry)
    return tuple(entries)


def sized(removed: Removed, gauged: Gauged) -> Removed:
    """A removal with the sizes in it, as far as it left them open."""
    fasteners, shims = list(removed.fasteners), list(removed.shims)
    for fastener in gauged.fasteners:
        fasteners = list(_fasteners(fasteners, fastener))
    for shim in gauged.shims:
        shims = list(_shims(shims, shim))
    return removed.model_copy(update={"fasteners": tuple(fasteners), "shims": tuple(shims)})


def not_open(removed: Removed, gauged: Gauged) -> bool:
    """Whether sizes were given of more than the removal left open."""
    open_now, open_then = n_open(removed), n_open(sized(removed, gauged))
    taken = sum(each.count for each in gauged.fasteners) + sum(each.count for each in gauged.shims)
    return open_now - open_then != taken


def n_open(removed: Removed) -> int:
    """How many screws and shims came off without a thread or thickness."""
    return sum(fastener.count for fastener in removed.fasteners if fastener.size is None) + sum(
        shim.count for shim in removed.shims if shim.thickness_mm is None
    )


def _fasteners(of: Sequence[Fastener], taken: Fastener) -> Iterator[Fastener]:
    """Put a thread that was taken in the place of as many that may be it; hole and head stay where they were said."""
    left = taken.count
    for each in of:
        n_here = min(left, each.count) if each.size is None and _may_be(each, taken) else 0
        left -= n_here
        if n_here:
            known = {name: value for name, value in taken if value is not None and name != "count"}
            yield each.model_copy(update={**known, "count": n_here})
        if n_here < each.count:
            yield each.model_copy(update={"count": each.count - n_here})


def _may_be(each: Fastener, taken: Fastener) -> bool:
    """Whether hole and head do not differ."""
    return all(
        mine is None or other is None or name_key(mine) == name_key(other)
        for mine, other in ((each.hole, taken.hole), (each.head, taken.head))
    )


def _shims(of: Sequence[Shim], taken: Shim) -> Iterator[Shim]:
    """Put a thickness that was taken in the place of as many of that place."""
    left = taken.count
    for each in of:
        is_open = each.thickness_mm is None and name_key(each.place) == name_key(taken.place)
        n_here = min(left, each.count) if is_open else 0
        left -= n_here
        if n_here:
            yield each.model_copy(update={"thickness_mm": taken.thickness_mm, "count": n_here})
        if n_here < each.count:
            yield each.model_copy(update={"count": each.count - n_here})
