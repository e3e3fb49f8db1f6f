"""What every entry has: when, by whom, in whose words; and how its kind is entered and told, said once in its class."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Annotated, Any, ClassVar
from uuid import uuid4

from pydantic import Field, SerializerFunctionWrapHandler, model_serializer

from camerawright.journal.fields import AsText, Called, EntryId, Moment, Name, Record, Words


class Command:
    """A command of the terminal that enters one kind of entry, the heading under which the help lists it, and examples.

    Its help is the docstring of the entry's class, unless it has a `text` of its own. `fixed` are the fields that its
    word says already.
    """

    def __init__(
        self, word: str, heading: str, *examples: str, text: str = "", fixed: Mapping[str, str] | None = None
    ) -> None:
        self.word, self.heading, self.examples, self.text, self.fixed = word, heading, examples, text, fixed or {}


@dataclass(frozen=True)
class Form:
    """A form that enters it: what opens it, and its button."""

    name: str
    button: str


def new_id() -> str:
    """A fresh entry id."""
    return uuid4().hex


class AnEntry(Record):
    """One thing that happened.

    `says` is how it sounds: pieces with fields in braces, and a piece is left out where one of its fields says nothing.
    The first piece alone says what happened.
    """

    says: ClassVar[tuple[str, ...]]
    commands: ClassVar[tuple[Command, ...]] = ()
    form: ClassVar[Form | None] = None

    id: EntryId = Field(default_factory=new_id)
    at: Moment
    by: Name | None = None
    words: Annotated[Words, Called("say"), AsText(stands_for="WORDS")] | None = Field(
        None, title="Your words, to the letter"
    )
    overruled: Annotated[Words, Called("overrule"), AsText(stands_for="WHY")] | None = Field(
        None, title="Your reason to enter it despite a refusal"
    )

    clock: Annotated[Moment, Called("when")] | None = Field(
        None,
        title="When it was, if the clock was wrong",
        description="Its place among the entries stays as it is.",
        examples=["2031-05-04 09:30"],
    )

    @property
    def moment(self) -> datetime:
        """When it happened, as far as one can tell: `at` keeps the entries in order, whatever a clock showed."""
        return self.clock or self.at

    @model_serializer(mode="wrap")
    def _kind_first(self, fields: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Its kind leads, and is written even where defaults are left out."""
        return {"kind": getattr(self, "kind"), **fields(self)}  # noqa: B009 every kind of entry declares its own


class NamesAPart(AnEntry):
    """An entry that names parts; one that nobody named before is asked for, unless it is said to be new."""

    is_new: Annotated[bool, Called("new")] = Field(False, title="A part that nobody named before")
