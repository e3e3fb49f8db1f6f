"""Which parts go together: what is inside a part, and what goes with a sub-assembly."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from camerawright.journal.entries import Contains, Removed, part_key
from camerawright.journal.reached import reached
from camerawright.journal.state import State

Members = Mapping[str, frozenset[str]]
"""Part keys by the key of what holds them."""


@dataclass(frozen=True, kw_only=True)
class Groups:
    """What names of groups stand for; all by part key.

    Parameters
    ----------
    inside
        What somebody said is inside a part, or belongs to a side of the camera.
    assemblies
        The parts that came off as part of a sub-assembly.
    names
        How each name was said.
    parts
        Every part that came off. The name of such a part stands for it and what is inside it; any other name stands
        for what goes with it.
    """

    inside: Members = field(default_factory=dict)
    assemblies: Members = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    parts: frozenset[str] = frozenset()

    def __or__(self, other: "Groups") -> "Groups":
        return Groups(
            inside=_joined(self.inside, other.inside),
            assemblies=_joined(self.assemblies, other.assemblies),
            names={**other.names, **self.names},
            parts=self.parts | other.parts,
        )

    @cached_property
    def below(self) -> Members:
        """What each name directly stands for, beside itself."""
        named = {key: members for key, members in self.assemblies.items() if key not in self.parts}
        return _joined(self.inside, named)

    def members(self, key: str) -> frozenset[str]:
        """Everything that a name stands for, itself among it."""
        return frozenset(reached([key], self.below) | {key})

    def is_group(self, key: str) -> bool:
        """Whether a name stands for several parts, and is itself none that came off."""
        return key in self.below and key not in self.parts

    def sides(self, one: str, other: str) -> tuple[frozenset[str], frozenset[str]]:
        """What two names stand for; what both stand for is left out."""
        here, there = self.members(one), self.members(other)
        return here - there, there - here


def joined_groups(groups: Iterable[Groups]) -> Groups:
    """The groups of several journals: the same as `|` one after another, in one go."""
    every = tuple(groups)
    return Groups(
        inside=_joined(*(each.inside for each in every)),
        assemblies=_joined(*(each.assemblies for each in every)),
        names={key: name for each in reversed(every) for key, name in each.names.items()},
        parts=frozenset().union(*(each.parts for each in every)),
    )


def groups_of(state: State) -> Groups:
    """The groups that a journal names."""
    inside: dict[str, set[str]] = {}
    assemblies: dict[str, set[str]] = {}
    names: dict[str, str] = {}
    parts = set()

    def key(name: str) -> str:
        names.setdefault(part_key(name), name)
        return part_key(name)

    for entry in state.entries:
        if isinstance(entry, Contains):
            inside.setdefault(key(entry.part), set()).update(map(key, entry.parts))
        elif isinstance(entry, Removed):
            parts.add(key(entry.part))
            if entry.assembly:
                assemblies.setdefault(key(entry.assembly), set()).add(key(entry.part))
    return Groups(inside=_frozen(inside), assemblies=_frozen(assemblies), names=names, parts=frozenset(parts))


def _frozen(members: Mapping[str, Iterable[str]]) -> Members:
    return {key: frozenset(each) for key, each in members.items()}


def _joined(*several: Members) -> Members:
    found: dict[str, set[str]] = {}
    for members in several:
        for key, those in members.items():
            found.setdefault(key, set()).update(those)
    return _frozen(found)
