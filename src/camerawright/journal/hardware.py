"""What holds a part and what lies beneath it: fasteners, shims, and the small parts that nothing holds."""

from typing import Literal

from pydantic import Field

from camerawright.journal.fields import Name, Record


class Fastener(Record):
    """Like fasteners out of one joint."""

    count: int = Field(ge=1, le=99)
    size: Name | None = None  # "M1.7", "10BA", "hinge pin"; None if nobody took the thread yet
    length_mm: float | None = Field(default=None, gt=0, le=100)
    head: Name | None = None
    hand: Literal["right", "left"] = "right"
    hole: Name | None = None
    through: Name | None = None  # another part that it holds, too


class Shim(Record):
    """A stack of like shims in one place."""

    place: Name
    count: int = Field(ge=1, le=99)
    thickness_mm: float | None = Field(default=None, gt=0, le=20)


class Lead(Record):
    """Like leads that were unsoldered or unhooked, by their colour, from where to where."""

    colour: Name
    count: int = Field(default=1, ge=1, le=99)
    start: Name | None = None
    end: Name | None = None


class Loose(Record):
    """Small parts that nothing holds once their neighbour moves: springs, balls, pawls, rollers."""

    what: Name  # "ball 1.5 mm"
    count: int = Field(default=1, ge=1, le=99)
    place: Name | None = None
