"""What happened at the bench, one frozen entry each: every kind by its name, and the lines of a journal.

Nothing in a journal is edited: a `Corrected` entry strikes out or replaces an earlier one. The models are the file
format too: one JSON object a line, and the JSON Schema that `camerawright journal schema` prints. `kinds/` describes
them, by the stage of the job; this module names them all.
"""

from collections.abc import Iterator
from contextlib import suppress
from typing import Annotated, Any, Final, Literal, cast, get_args

from pydantic import ConfigDict, Field, JsonValue, TypeAdapter, ValidationError

from camerawright.journal.entry import AnEntry, Form, new_id
from camerawright.journal.fields import CLOSING, KEPT, EntryId, Name, Reason, Sha256, Words, part_key
from camerawright.journal.hardware import Fastener, Lead, Loose, Shim
from camerawright.journal.kinds.binding import (
    AidFitted,
    AidTakenOut,
    Binding,
    Bond,
    Cautioned,
    Contains,
    GoesLast,
    Independent,
    NeedsState,
    Ordered,
    Set,
    Tension,
)
from camerawright.journal.kinds.care import Amount, Care, Cleaned, CleaningDecided, Described, Lubricated
from camerawright.journal.kinds.closing import Closed, Closing, HandedBack, Noted, Reopened, Supplied, Worked
from camerawright.journal.kinds.going_back import (
    IN_THE_BATH,
    AccountedFor,
    Added,
    Adjusted,
    Arrived,
    Awaited,
    GoingBack,
    Measured,
    Phase,
    Refitted,
)
from camerawright.journal.kinds.owed import Answered, HoldPoint, Owed, Reminded
from camerawright.journal.kinds.strip_down import (
    Found,
    Gauged,
    Irreplaceable,
    Marked,
    MarkWanted,
    Removed,
    Rung,
    Sits,
    StripDown,
    Tried,
    Turned,
)

__all__ = [
    "CLOSING",
    "ENTRY",
    "IN_THE_BATH",
    "KINDS",
    "AccountedFor",
    "Added",
    "Adjusted",
    "AidFitted",
    "AidTakenOut",
    "Amount",
    "Answered",
    "Arrived",
    "Awaited",
    "Bond",
    "Cautioned",
    "Cleaned",
    "CleaningDecided",
    "Closed",
    "Contains",
    "Corrected",
    "Described",
    "Entry",
    "EntryId",
    "Fastener",
    "Found",
    "Gauged",
    "GoesLast",
    "HandedBack",
    "Happening",
    "HoldPoint",
    "Independent",
    "Irreplaceable",
    "Lead",
    "Loose",
    "Lubricated",
    "MarkWanted",
    "Marked",
    "Measured",
    "Name",
    "NeedsState",
    "Noted",
    "Ordered",
    "Phase",
    "Refitted",
    "Reminded",
    "Removed",
    "Reopened",
    "Rung",
    "Set",
    "Sha256",
    "Shim",
    "Sits",
    "Supplied",
    "Tension",
    "Tried",
    "Turned",
    "Words",
    "Worked",
    "in_order",
    "json_schema",
    "media_of",
    "new_id",
    "part_key",
    "written",
]

Happening = Annotated[StripDown | Binding | Owed | Care | GoingBack | Closing, Field(discriminator="kind")]


class Corrected(AnEntry):
    """Strike out an earlier entry, or put something else in its place; an undo is one too."""

    kind: Literal["corrected"] = "corrected"
    entry: EntryId
    becomes: Happening | None = None
    reason: Reason | None = Field(None, title="Why it was wrong")

    form = Form("Correct", "Put this in its place")
    says = ("{done} “{entry}”", "it now reads “{becomes}”", "because {reason}")

    @property
    def done(self) -> str:
        """What became of it."""
        return "corrected" if self.becomes else "struck out"


Entry = Annotated[Happening | Corrected, Field(discriminator="kind")]
KINDS: Final[dict[str, type[AnEntry]]] = {
    kind.model_fields["kind"].default: kind for kind in (*get_args(get_args(Happening)[0]), Corrected)
}
"""Every kind of entry, by its word."""
_OF_ANY_KIND: Final[TypeAdapter[Entry]] = TypeAdapter(Entry, config=ConfigDict(defer_build=True))


class _ByItsKind:
    """Reads an entry by the model of its kind alone: to build those of all kinds takes longer than most commands.

    What that model refuses, all of them together refuse again: their errors name the kind first.
    """

    def validate_python(self, given: Any) -> Entry:
        """Make an entry of its fields; raises `pydantic.ValidationError`."""
        kind = KINDS.get(str(given.get("kind"))) if isinstance(given, dict) else None
        with suppress(ValidationError):
            if kind:
                return cast(Entry, kind.model_validate(given))
        return _OF_ANY_KIND.validate_python(given)

    def validate_json(self, line: str | bytes, *, is_kept: bool = False) -> Entry:
        """Read a line of JSON, of a journal where it is kept already; raises `pydantic.ValidationError`."""
        kind = KINDS.get(_kind_first(line)) if isinstance(line, str) else None
        context = KEPT if is_kept else None
        with suppress(ValidationError):
            if kind:
                return cast(Entry, kind.model_validate_json(line, context=context))
        return _OF_ANY_KIND.validate_json(line, context=context)


ENTRY: Final = _ByItsKind()


def _kind_first(line: str) -> str:
    """The word of the kind, if the line begins as `written` makes it."""
    before, _, after = line.partition('{"kind":"')
    return "" if before else after.partition('"')[0]


def written(entry: Entry) -> str:
    """The entry as one line of JSON, without what was left open.

    What equals its default is not written, so that a field added later leaves the lines of earlier entries as they are.
    """
    return entry.model_dump_json(exclude_defaults=True)


def media_of(entry: Entry) -> Iterator[str]:
    """The recordings and photos that an entry refers to, by their hashes."""
    for said in (entry, entry.becomes) if isinstance(entry, Corrected) else (entry,):
        for name in ("photo", "recording"):
            sha256 = getattr(said, name, None)
            if sha256 is not None:
                yield sha256


def json_schema() -> dict[str, JsonValue]:
    """The JSON Schema (draft 2020-12) of one line of a journal file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "One entry of a camerawright journal; a journal file has one a line",
        **_OF_ANY_KIND.json_schema(),
    }


def in_order(entries: "list[Entry]") -> "list[Entry]":
    """The one order in which a journal is read, whichever way its entries came together."""
    return sorted(entries, key=lambda entry: (entry.at, entry.id))
