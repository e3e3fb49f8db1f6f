"""Entries of cleaning and lubrication."""

from typing import Literal

from pydantic import Field

from camerawright.journal.entry import AnEntry, Command, Form
from camerawright.journal.fields import Name, Part

Amount = Literal["dry", "film", "touch", "fill"]


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


class Lubricated(AnEntry):
    """Enter that a point got its lubricant, or stays dry."""

    kind: Literal["lubricated"] = "lubricated"
    part: Part
    point: Name = Field(examples=["pivots"])
    amount: Amount = Field(title="How much", description="“Dry” if it stays without.")
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


Care = Cleaned | Lubricated
