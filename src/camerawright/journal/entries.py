"""What happened at the bench, one frozen entry each.

Nothing in a journal is edited: a `Corrected` entry strikes out or replaces an earlier one. The pydantic models are the
file format too: one JSON object a line, and the JSON Schema that `camerawright journal schema` prints.
"""

from datetime import date, datetime
from functools import lru_cache
from typing import Annotated, Any, Literal
from uuid import uuid4

from pydantic import (
    AfterValidator,
    AwareDatetime,
    BaseModel,
    ConfigDict,
    Field,
    JsonValue,
    SerializerFunctionWrapHandler,
    StringConstraints,
    TypeAdapter,
    model_serializer,
)


def _within_the_calendar(moment: datetime) -> datetime:
    """Refuse moments that no time zone's clock can show: they are typing errors."""
    if not 1900 <= moment.year <= 2200:
        raise ValueError(f"the year {moment.year} is out of reach; give one between 1900 and 2200")
    return moment


Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=120)]
Words = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=4000)]
Moment = Annotated[AwareDatetime, AfterValidator(_within_the_calendar)]
Sha256 = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{64}$")]
EntryId = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{32}$")]
Torque = Literal["free", "normal", "tight", "seized"]
Phase = Literal["as found", "as left"]
Nature = Literal["worn", "broken", "foreign fastener", "deformed fastener", "previous work", "corrosion", "missing"]
Decision = Literal["repair", "replace", "make", "reuse knowingly"]
Bond = Literal["covered by", "pinned by", "retained by", "springs free when"]
Turning = Literal["clockwise", "anticlockwise"]
Amount = Literal["dry", "film", "touch", "fill"]
Rung = Literal["clean the slot", "right driver", "solvent and wait", "heat", "shock", "extract"]

CLOSING = "closing"
"""What a reminder or hold point is tied to when no part's refit is meant."""


def new_id() -> str:
    """A fresh entry id."""
    return uuid4().hex


class _Record(BaseModel):
    """Frozen, and refuses what it does not know: a mistyped field is an error, not silence."""

    model_config = ConfigDict(frozen=True, extra="forbid")


class Fastener(_Record):
    """Like fasteners out of one joint."""

    count: int = Field(ge=1, le=99)
    size: Name  # "M1.7", "10BA": as the trade writes it
    length_mm: float | None = Field(default=None, gt=0, le=100)
    head: Name | None = None
    hand: Literal["right", "left"] = "right"
    hole: Name | None = None


class Shim(_Record):
    """A stack of like shims in one place."""

    place: Name
    count: int = Field(ge=1, le=99)
    thickness_mm: float | None = Field(default=None, gt=0, le=20)


class Loose(_Record):
    """Small parts that nothing holds once their neighbour moves: springs, balls, pawls, rollers."""

    what: Name  # "ball 1.5 mm"
    count: int = Field(default=1, ge=1, le=99)
    place: Name | None = None


class _Entry(_Record):
    id: EntryId = Field(default_factory=new_id)
    at: Moment
    by: Name | None = None
    words: Words | None = None  # what was said or typed, to the letter
    overruled: Words | None = None  # why a refusal was overruled

    @model_serializer(mode="wrap")
    def _kind_first(self, fields: SerializerFunctionWrapHandler) -> dict[str, Any]:
        """Its kind leads, and is written even where defaults are left out."""
        return {"kind": getattr(self, "kind"), **fields(self)}  # noqa: B009 every kind of entry declares its own


class Removed(_Entry):
    """A part came off."""

    kind: Literal["removed"] = "removed"
    part: Name
    place: Name | None = None  # from where
    fasteners: tuple[Fastener, ...] = ()
    shims: tuple[Shim, ...] = ()
    loose: tuple[Loose, ...] = ()
    torque: Torque | None = None
    assembly: Name | None = None  # the sub-assembly it goes with
    tool: Name | None = None  # the driver or spanner that fits
    under: tuple[Name, ...] = ()  # fitted-under: what had to be off to reach this part
    cell: Name | None = None  # tray cell
    photo: Sha256 | None = None
    material: Name | None = None
    finish: Name | None = None
    soil: tuple[Name, ...] = ()  # what is stuck to it
    looked_beneath: bool | None = None


class Marked(_Entry):
    """A reference mark was noted, before the part came off."""

    kind: Literal["marked"] = "marked"
    part: Name
    mark: Words
    photo: Sha256 | None = None


class MarkWanted(_Entry):
    """A reference mark is asked for before the part may come off."""

    kind: Literal["mark wanted"] = "mark wanted"
    part: Name
    mark: Words


class Found(_Entry):
    """A finding: a defect, previous work, anything out of the ordinary."""

    kind: Literal["found"] = "found"
    part: Name
    defect: Words
    todo: Words | None = None
    nature: Nature | None = None
    decision: Decision | None = None
    photo: Sha256 | None = None


class Cautioned(_Entry):
    """A caution that belongs to the part's removal and refit, shown one step early."""

    kind: Literal["cautioned"] = "cautioned"
    part: Name
    hazard: Words
    escapes: bool = False  # a spring, ball or pawl gets loose when this part moves
    frees: tuple[Name, ...] = ()  # which


class Ordered(_Entry):
    """An order constraint: `first` comes off before `then`, and goes back after it."""

    kind: Literal["ordered"] = "ordered"
    first: Name
    then: Name
    reason: Words  # "covers its screws", "pins it", "retains it"
    bond: Bond | None = None  # how `then` hangs on `first`
    certain: bool = True


class Independent(_Entry):
    """Two parts may come off, and go back, in either order."""

    kind: Literal["independent"] = "independent"
    part: Name
    other: Name
    reason: Words


class NeedsState(_Entry):
    """A part may move only while the machine is in a certain state."""

    kind: Literal["needs state"] = "needs state"
    part: Name
    settings: dict[Name, Name] = Field(min_length=1)
    moves: Literal["removal", "refit", "both"] = "removal"
    reason: Words


class Tension(_Entry):
    """A spring was let down or tensioned, in counted turns."""

    kind: Literal["tension"] = "tension"
    spring: Name
    act: Literal["let down", "tensioned"]
    turns: float = Field(gt=0, le=200)
    direction: Turning
    from_state: Words | None = None  # "released, drum against its stop"


class Irreplaceable(_Entry):
    """A part that cannot be had again: said wherever it moves."""

    kind: Literal["irreplaceable"] = "irreplaceable"
    part: Name
    reason: Words


class Tried(_Entry):
    """One rung of the ladder on a fastener that does not move."""

    kind: Literal["tried"] = "tried"
    part: Name
    fastener: Name
    rung: Rung
    outcome: Literal["moved", "no change", "worse"]
    materials: tuple[Name, ...] = ()  # the screw, what it sits in, what lies beside it ("none" is an answer)
    hand: Literal["right", "left"] | None = None  # of its thread, once somebody made sure
    wait_until: Moment | None = None


class Lubricated(_Entry):
    """A point got its lubricant, or is known to stay dry."""

    kind: Literal["lubricated"] = "lubricated"
    part: Name
    point: Name
    amount: Amount
    lubricant: Name | None = None  # class and batch; none for what stays dry


class Reminded(_Entry):
    """Something to be done when `part` goes back, or at the closing; blocks there until answered."""

    kind: Literal["reminded"] = "reminded"
    part: Name  # a part, or CLOSING
    todo: Words
    test: Name | None = None  # blocks this bench test as left, too
    due: date | None = None  # cannot be answered before that day


class HoldPoint(_Entry):
    """A check that must be passed before `part` goes back, because a failure later would undo it again."""

    kind: Literal["hold point"] = "hold point"
    part: Name = CLOSING  # the part it bars, or CLOSING
    check: Words
    needs: tuple[Name, ...] = ()


class Answered(_Entry):
    """A reminder was done, or a hold point passed."""

    kind: Literal["answered"] = "answered"
    entry: EntryId
    answer: Words


class AidFitted(_Entry):
    """A temporary aid went in: tape, a wedge, a slave screw."""

    kind: Literal["aid fitted"] = "aid fitted"
    aid: Name
    place: Name | None = None


class AidTakenOut(_Entry):
    """A temporary aid came out again."""

    kind: Literal["aid taken out"] = "aid taken out"
    aid: Name


class Set(_Entry):
    """The state of the machine, as far as it was changed: shutter released, focus at infinity."""

    kind: Literal["set"] = "set"
    settings: dict[Name, Name] = Field(min_length=1)


class Cleaned(_Entry):
    """A part went through its route."""

    kind: Literal["cleaned"] = "cleaned"
    part: Name
    route: Name


class Refitted(_Entry):
    """A part went back, with what was under it and what holds it."""

    kind: Literal["refitted"] = "refitted"
    part: Name
    fasteners: tuple[Fastener, ...] = ()
    shims: tuple[Shim, ...] = ()
    loose: tuple[Loose, ...] = ()
    replacement: Name | None = None  # "new", "made", "donor J4": another specimen went in
    photo: Sha256 | None = None


class AccountedFor(_Entry):
    """A part, or some of its fasteners and shims, will not go back; says where it is instead."""

    kind: Literal["accounted for"] = "accounted for"
    part: Name
    reason: Words


class Awaited(_Entry):
    """Work on a part waits: a spare on order, an adhesive curing."""

    kind: Literal["awaited"] = "awaited"
    part: Name
    awaiting: Words
    until: Moment | None = None  # an adhesive cures by then, a spare is promised for then


class Arrived(_Entry):
    """The wait for a part is over."""

    kind: Literal["arrived"] = "arrived"
    part: Name


class Measured(_Entry):
    """A bench test's result, kept with its set-up and the recording that it can be computed from again."""

    kind: Literal["measured"] = "measured"
    test: Name
    phase: Phase
    method: Name
    setup: dict[str, JsonValue]
    result: dict[str, JsonValue]
    recording: Sha256


class Adjusted(_Entry):
    """An adjuster was moved."""

    kind: Literal["adjusted"] = "adjusted"
    adjuster: Name
    before: Words | None = None
    after: Words
    turns: float | None = Field(default=None, ge=-200, le=200)  # clockwise positive, as one looks at the adjuster
    test: Name | None = None  # the bench test that it is meant for
    marked: Name | None = None  # and the marked speed


class Noted(_Entry):
    """Anything worth keeping that is none of the others."""

    kind: Literal["noted"] = "noted"
    note: Words


class Worked(_Entry):
    """Hands-on time to put on the bill."""

    kind: Literal["worked"] = "worked"
    minutes: int = Field(ge=1, le=24 * 60)
    task: Words


class Supplied(_Entry):
    """A part or material to put on the bill; the price is in the minor unit of the workshop's currency."""

    kind: Literal["supplied"] = "supplied"
    item: Words
    count: int = Field(default=1, ge=1, le=999)
    price_minor: int = Field(ge=0, le=10**10)


class Closed(_Entry):
    """The balance was struck and the job closed."""

    kind: Literal["closed"] = "closed"


class HandedBack(_Entry):
    """The camera went back to its owner."""

    kind: Literal["handed back"] = "handed back"
    to: Name


Happening = Annotated[
    Removed
    | Marked
    | MarkWanted
    | Found
    | Cautioned
    | Ordered
    | Independent
    | NeedsState
    | Tension
    | Irreplaceable
    | Tried
    | Lubricated
    | Reminded
    | HoldPoint
    | Answered
    | AidFitted
    | AidTakenOut
    | Set
    | Cleaned
    | Refitted
    | AccountedFor
    | Awaited
    | Arrived
    | Measured
    | Adjusted
    | Noted
    | Worked
    | Supplied
    | Closed
    | HandedBack,
    Field(discriminator="kind"),
]


class Corrected(_Entry):
    """An earlier entry is struck out, or something else is put in its place; the last undo is a correction too."""

    kind: Literal["corrected"] = "corrected"
    entry: EntryId
    becomes: Happening | None = None
    reason: Words | None = None


Entry = Annotated[Happening | Corrected, Field(discriminator="kind")]
ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)


def written(entry: Entry) -> str:
    """The entry as one line of JSON, without what was left open.

    What equals its default is not written, so that a field added later leaves the lines of earlier entries as they are.
    """
    return ENTRY.dump_json(entry, exclude_defaults=True).decode()


def json_schema() -> dict[str, JsonValue]:
    """The JSON Schema (draft 2020-12) of one line of a journal file."""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "One entry of a camerawright journal; a journal file has one a line",
        **ENTRY.json_schema(),
    }


def in_order(entries: "list[Entry]") -> "list[Entry]":
    """The one order in which a journal is read, whichever way its entries came together."""
    return sorted(entries, key=lambda entry: (entry.at, entry.id))


@lru_cache(maxsize=100_000)
def part_key(name: str) -> str:
    """What makes two spellings the same part: case and spacing do not matter."""
    return " ".join(name.casefold().split())
