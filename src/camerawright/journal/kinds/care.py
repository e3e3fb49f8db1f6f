"""Entries of cleaning and lubrication."""

from typing import Annotated, Final, Literal

from pydantic import Field

from camerawright.journal.entry import AnEntry, Command, Form, NamesAPart
from camerawright.journal.fields import AlsoSaid, Name, Names, Part, Parts, Reason

Amount = Literal["dry", "film", "touch", "fill"]
_AMOUNTS: Final = AlsoSaid(
    {
        **dict.fromkeys(("none", "no", "nothing", "left dry", "stays dry"), "dry"),
        **dict.fromkeys(("trace", "touch of it", "speck", "hint", "dot"), "touch"),
        **dict.fromkeys(("smear", "thin film", "thin coat", "wipe", "thin smear"), "film"),
        **dict.fromkeys(("filled", "packed", "full"), "fill"),
    }
)


class Described(AnEntry):
    """Note what parts are made of, how they are finished, and what dirt is on them.

    One entry serves several parts that are alike. The cleaning plan asks for it; you may enter it before a part comes
    off, too.
    """

    kind: Literal["described"] = "described"
    parts: Parts = Field(min_length=1, title="Parts that are alike")
    material: Name | None = Field(None, description="It decides how the parts are cleaned.", examples=["brass"])
    finish: Name | None = Field(
        None, description="It decides how the parts are cleaned; “none” is an answer.", examples=["black paint"]
    )
    soil: Names = Field((), title="Dirt on them", description="“Dust” is an answer.", examples=["old oil"])

    commands = (
        Command(
            "describe",
            "Cleaning and lubrication",
            'describe J3 "gear train" "speed cam" --material "brass, steel pivots" --finish none --soil "old oil"',
        ),
    )
    form = Form("Description", "Note it")
    says = ("{parts} described", "{material}", "finish: {finish}", "dirt: {soil}")


class Cleaned(AnEntry):
    """Enter that a part was cleaned."""

    kind: Literal["cleaned"] = "cleaned"
    part: Part
    route: Name = Field(title="How it was cleaned", description="As the plan calls it.")

    commands = (
        Command("cleaned", "Cleaning and lubrication", 'cleaned J3 "gear train" "ultrasonic bath, neutral detergent"'),
    )
    form = Form("Cleaned", "It is clean")
    says = ("{part} cleaned: {route}",)


class CleaningDecided(NamesAPart):
    """Decide yourself how a part is cleaned.

    Your decision goes before the route that is worked out. What speaks against it is shown beside it.
    """

    kind: Literal["cleaning decided"] = "cleaning decided"
    part: Part
    route: Name = Field(
        title="How it is to be cleaned",
        description="As the plan calls it, or in your words.",
        examples=["swab, naphtha"],
    )
    reason: Reason = Field(title="Why so")

    commands = (
        Command(
            "clean-by",
            "Cleaning and lubrication",
            'clean-by J3 "shutter blades" "by hand, naphtha" --because "one by one, until the cloth stays clean"',
        ),
    )
    form = Form("Clean it so", "Clean it so")
    says = ("{part} is to be cleaned so: {route}, because {reason}",)


class Lubricated(NamesAPart):
    """Enter that a point got its lubricant, or stays dry."""

    kind: Literal["lubricated"] = "lubricated"
    part: Part
    point: Name = Field(examples=["pivots"])
    amount: Annotated[Amount, _AMOUNTS] = Field(title="How much", description="“Dry” if it stays without.")
    lubricant: Name | None = Field(
        None, title="Which lubricant", description="Its class, and the batch.", examples=["light oil, batch 12"]
    )

    commands = (
        Command(
            "lubricated",
            "Cleaning and lubrication",
            'lubricated J3 "gear train" pivots film --lubricant "watch oil"',
            "lubricated J3 shutter blades dry",
        ),
    )
    form = Form("Lubricated", "Enter the point")
    says = ("{point} of {part}: {amount}", "{lubricant}")


Care = Described | Cleaned | CleaningDecided | Lubricated
