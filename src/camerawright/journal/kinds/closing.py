"""Entries of the journal itself, the bill and the closing: notes, hours, materials, handing back."""

from typing import Annotated, Literal

from pydantic import Field

from camerawright.journal.entry import AnEntry, Command, Form
from camerawright.journal.fields import Minutes, Name, Price, Reason, Whole, Words


class Noted(AnEntry):
    """Note anything worth keeping that no other command enters."""

    kind: Literal["noted"] = "noted"
    note: Words

    commands = (Command("note", "The journal", 'note J3 "been in before: glue on the cover screws"'),)
    form = Form("Note", "Keep the note")
    says = ("note: {note}",)


class Worked(AnEntry):
    """Put hands-on time on the bill."""

    kind: Literal["worked"] = "worked"
    minutes: Annotated[Minutes, Field(ge=1, le=24 * 60, examples=["95"], description="Or hours: 1:30, 1.5 h.")]
    task: Words = Field(title="What you worked on")

    commands = (
        Command(
            "worked",
            "Closing and handing back",
            'worked J3 95 "shutter stripped, cleaned and set"',
            'worked J3 "1.5 h" "shutter stripped, cleaned and set"',
        ),
    )
    form = Form("Worked", "Enter the time")
    says = ("worked {minutes} min: {task}",)


class Supplied(AnEntry):
    """Put a part or material on the bill.

    The price is in the workshop's currency.
    """

    kind: Literal["supplied"] = "supplied"
    item: Words = Field(title="Part or material")
    count: Whole = Field(1, ge=1, le=999, title="How many")
    price_minor: Price = Field(ge=0, le=10**9, title="Price of one", examples=["4.50"])

    commands = (Command("supply", "Closing and handing back", 'supply J3 "light seal foam" 4.50 --count 2'),)
    form = Form("Supplied", "Enter the part")
    says = ("supplied {count} × {item}", "{price_minor} each")


class Closed(AnEntry):
    """Close the job; refused until the balance is zero.

    Afterwards nothing is added or undone, but for `hand-back` and `reopen`.
    """

    kind: Literal["closed"] = "closed"
    in_parts: Words | None = Field(
        None,
        title="Given back in parts: why",
        description="All that is off or missing then goes home with the camera, and nothing more is owed.",
    )

    commands = (
        Command(
            "close",
            "Closing and handing back",
            "close J3",
            'close J3 --in-parts "the owner fetches it, no spare to be had"',
        ),
    )
    form = Form("Close", "Close the job")
    says = ("the job was closed", "given back in parts: {in_parts}")


class HandedBack(AnEntry):
    """Enter that the camera went back to its owner."""

    kind: Literal["handed back"] = "handed back"
    to: Name = Field(title="Handed back to")

    commands = (Command("hand-back", "Closing and handing back", 'hand-back J3 "Ines Marrow"'),)
    form = Form("Hand back", "Hand it back")
    says = ("handed back to {to}",)


class Reopened(AnEntry):
    """Open a closed job again, or one whose camera was handed back.

    Until then nothing is added to it and nothing in it is undone. What is to be checked at the closing is owed again.
    """

    kind: Literal["reopened"] = "reopened"
    reason: Reason = Field(title="Why it is opened again")

    commands = (
        Command("reopen", "Closing and handing back", 'reopen J3 --because "the owner brought the lens cap for it"'),
    )
    form = Form("Reopen", "Reopen the job")
    says = ("the job was reopened: {reason}",)


Closing = Noted | Worked | Supplied | Closed | HandedBack | Reopened
