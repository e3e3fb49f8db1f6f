"""Whether an assembly was stripped, by what came out of it: then its shell is cleaned like any other part."""

from camerawright.handbook.part_words import understood, whole_assembly
from camerawright.journal.entries import part_key
from camerawright.journal.state import Part, State
from camerawright.refit.part_facts import PartSpec


def spec_of(part: Part, state: State) -> PartSpec:
    """What the journal knows of a part, for its route."""
    return PartSpec(part.name, part.material, part.finish, part.soil, is_stripped=_is_stripped(part, state))


def _is_stripped(part: Part, state: State) -> bool:
    """Whether the blades of a shutter or the glass of a lens came out of it, and nothing that did is back in it."""
    row = whole_assembly(part.name, part.material, part.finish)
    if row is None:
        return False
    went_with = [other for other in state.parts.values() if _assembly(other) == part.key]
    out = [other for other in went_with if other.status == "off"]
    return len(out) == len(went_with) and any(_names(other) & row.until for other in out)


def _assembly(part: Part) -> str | None:
    """The key of the sub-assembly that it went with."""
    return part_key(part.removed.assembly) if part.removed and part.removed.assembly else None


def _names(part: Part) -> frozenset[str]:
    """The rows of the table that its name and its material mean."""
    said = [understood(text) for text in (part.name, part.material) if text]
    return frozenset(row.name for each in said for row in (*each.kinds, *each.materials))
