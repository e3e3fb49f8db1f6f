"""Names of parts as they are said: which are known, and what one that is not may have meant."""

import re
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Final

from camerawright.handbook.part_names import as_heard, same_part
from camerawright.journal.asked import asked
from camerawright.journal.entries import (
    CLOSING,
    Cautioned,
    Entry,
    GoesLast,
    HoldPoint,
    Independent,
    NeedsState,
    Ordered,
    Reminded,
    Removed,
    Sits,
    part_key,
)
from camerawright.journal.entry import AnEntry, NamesAPart
from camerawright.journal.known import Known
from camerawright.journal.state import State
from camerawright.trouble import Trouble
from camerawright.wording.names import likeness, slip_of

N_LIKE: Final = 4
"""How many names are suggested at most."""
_RESEMBLES: Final = 0.6
_ASK_ALWAYS: Final = (Reminded, HoldPoint, Ordered, Independent, Cautioned, NeedsState, GoesLast)
"""What is said of a part that moves later: under a name that nobody uses it would never come up."""
_MAY_BE_NEW: Final = frozenset({"frees", "assembly"})  # what gets loose, or belongs together, has often no name yet


@cache
def _fields(kind: type[AnEntry]) -> tuple[str, ...]:
    """The fields of a kind that hold names of parts, springs or sub-assemblies."""
    return tuple(field.name for field in asked(kind) if field.among in {"parts", "springs", "assemblies"})


def named_in(entry: Entry) -> Iterator[tuple[str, str]]:
    """The names of parts, springs and sub-assemblies that an entry holds, each with its field."""
    for field in _fields(type(entry)):
        value = getattr(entry, field)
        for name in (value,) if isinstance(value, str) else value or ():
            if part_key(name) != CLOSING:
                yield field, name


def names_in(state: State) -> dict[str, str]:
    """Every name that the journal uses, by its key."""
    return {part_key(name): name for entry in state.entries for _, name in named_in(entry)}


def is_spoken_of(state: State, known: Known, name: str, *, besides: Entry | None = None) -> bool:
    """Whether another job, or an entry of this one, names a part: it is on until somebody takes it off."""
    key = part_key(name)
    if key in known.names:
        return True
    others = (entry for entry in state.entries if besides is None or entry.id != besides.id)
    return any(key in map(part_key, _all_names(entry)) for entry in others)


def _all_names(entry: Entry) -> Iterator[str]:
    """Every part that an entry names, those too that its screws go through or that came loose."""
    yield from (name for _, name in named_in(entry))
    yield from (fastener.through for fastener in getattr(entry, "fasteners", ()) if fastener.through)
    yield from (loose.what for loose in getattr(entry, "loose", ()))


def unknown_names(state: State, entry: Entry, known: Known) -> Iterator[Trouble]:
    """Names that nobody used before, each with what it may have meant; nothing if they are said to be new."""
    if known.named is None or not isinstance(entry, NamesAPart) or entry.is_new:
        return
    names = {**known.named, **names_in(state)}
    for field, name in _each(entry):
        if part_key(name) in names or not names or _was_told_of(state, name):
            continue
        asks_always = isinstance(entry, _ASK_ALWAYS) and field not in _MAY_BE_NEW
        like = meant(name, names) if asks_always else slips(name, names)
        if like or asks_always:
            yield Trouble(
                what=f"no part was called “{name}” before",
                mend=f"did you mean {' or '.join(like)}? If it is new, say so" if like else "if it is new, say so",
                unknown=name,
                like=like,
            )


def _was_told_of(state: State, name: str) -> bool:
    """Whether it came off among the loose parts of another, or somebody told how it sits."""
    key = part_key(name)
    loose = (item.what for entry in state.entries if isinstance(entry, Removed) for item in entry.loose)
    words = re.compile(rf"\b{re.escape(key)}\b")
    return key in map(part_key, loose) or any(
        words.search(part_key(f"{entry.what or ''}; {entry.how}")) for entry in state.entries if isinstance(entry, Sits)
    )


def _each(entry: Entry) -> Iterable[tuple[str, str]]:
    """Each name once, with its field."""
    return {part_key(name): (field, name) for field, name in named_in(entry)}.values()


def slips(name: str, names: Mapping[str, str]) -> tuple[str, ...]:
    """The names that a slip of the finger or the ear makes of this one: they differ in no word that counts."""
    key = as_heard(part_key(name))
    return tuple(names[other] for other in names if slip_of(key, as_heard(other)))[:N_LIKE]


def meant(name: str, names: Mapping[str, str]) -> tuple[str, ...]:
    """The names that this one may have meant, the likeliest first: by spelling, the trade's words, a word shared."""
    key = as_heard(part_key(name))
    scores = {other: _likeness(key, as_heard(other)) for other in names}
    likely = [other for other, score in sorted(scores.items(), key=lambda item: -item[1]) if score >= _RESEMBLES]
    return tuple(names[other] for other in likely[:N_LIKE])


def _likeness(key: str, other: str) -> float:
    if same_part(key, other) or slip_of(key, other):
        return 1.0
    shared = {word for word in key.split() if len(word) > 2} & set(other.split())
    return max(likeness(key, other), 0.65 if shared else 0.0)
