"""Entries of what binds a part when it moves: hazards, order, and the state of the machine."""

from typing import Annotated, Final, Literal

from pydantic import Field

from camerawright.journal.entry import AnEntry, Command, Form, NamesAPart
from camerawright.journal.fields import (
    AlsoSaid,
    Called,
    Name,
    OtherPart,
    Part,
    Parts,
    Reads,
    Reason,
    Settings,
    Spring,
    Turns,
    Words,
)

Bond = Literal["covered by", "pinned by", "retained by", "springs free when"]
Turning = Literal["clockwise", "anticlockwise"]
_TURNINGS: Final = AlsoSaid(
    {"cw": "clockwise", **dict.fromkeys(("ccw", "acw", "counterclockwise"), "anticlockwise")},
)


class Cautioned(NamesAPart):
    """Warn of what happens when a part moves.

    The caution is shown one step early, on this job and on the next of its kind. Whoever takes the part off is asked
    for what gets loose: as a part of its own, or among the loose parts.
    """

    kind: Literal["cautioned"] = "cautioned"
    part: Part
    hazard: Words = Field(title="What can happen when it moves")
    escapes: Annotated[bool, Reads({True: "something gets loose"})] = Field(
        False, title="A spring, ball or pawl gets loose"
    )
    frees: Parts = Field((), title="What gets loose", description="Whoever takes the part off is asked for each.")

    commands = (
        Command("caution", "Hazards, order and state", 'caution J3 "speed dial" "detent ball jumps out" --frees ball'),
    )
    form = Form("Caution", "Enter the caution")
    says = ("caution with {part}: {hazard}", "{escapes}", "this gets loose: {frees}")

    @property
    def lets_loose(self) -> bool:
        """Whether a spring, ball or pawl gets loose, named or not."""
        return self.escapes or bool(self.frees)


class Ordered(NamesAPart):
    """State that one part comes off before another.

    So it goes back after it. The name of a sub-assembly stands for all its parts.
    """

    kind: Literal["ordered"] = "ordered"
    first: OtherPart = Field(title="Comes off first")
    then: OtherPart = Field(title="Comes off after it")
    reason: Reason = Field(description="It covers its screws, pins it, or retains it.")
    bond: (
        Annotated[
            Bond,
            Reads(
                {
                    "covered by": "is covered by it",
                    "pinned by": "is pinned by it",
                    "retained by": "is retained by it",
                    "springs free when": "springs free when it goes",
                }
            ),
        ]
        | None
    ) = Field(None, title="How the second hangs on the first")
    certain: Annotated[bool, Called("assumed"), Reads({False: "assumed: nobody saw it"})] = Field(
        True, title="Did somebody see it?"
    )

    commands = (
        Command(
            "order",
            "Hazards, order and state",
            'order J3 "top cover" "rewind shaft" --because "covers its screw" --bond "covered by"',
        ),
    )
    form = Form("Order", "Enter the order")
    says = ("{first} comes off before {then}: {reason}", "{then} {bond}", "{certain}")


class Independent(NamesAPart):
    """State that two parts may move in either order.

    The name of a sub-assembly stands for all its parts, and so does the name of a part for what it contains. So you
    say once that one side of the camera is free of the other.
    """

    kind: Literal["independent"] = "independent"
    part: Part = Field(title="Part or sub-assembly")
    other: OtherPart = Field(title="Other part or sub-assembly")
    reason: Reason = Field(title="How you know")

    commands = (
        Command(
            "independent",
            "Hazards, order and state",
            'independent J3 "front cell" "back cover" --because "opposite ends"',
            'independent J3 "meter side" "shutter side" --because "one under the top cover, one behind the lens"',
        ),
    )
    form = Form("Either order", "Either may move first")
    says = ("{part} and {other} may move in either order: {reason}",)


class Contains(NamesAPart):
    """State what a part or a side of the camera contains.

    What you say of the order of a sub-assembly then counts for all its parts, and a check that needs it waits for all
    of them. What came out of a part that lay on the bench goes back into it before it goes back itself, and nothing
    else waits for that.
    """

    kind: Literal["contains"] = "contains"
    part: Part = Field(title="Part or sub-assembly", examples=["shutter"])
    parts: Parts = Field(title="What it contains", min_length=1, examples=["speed cam, slow train"])

    commands = (
        Command(
            "contains",
            "Hazards, order and state",
            'contains J3 shutter "speed cam" "slow train" "blade ring"',
            'contains J3 "meter side" "meter cell" "needle" "coupling ring"',
        ),
    )
    form = Form("Contains", "Enter what it contains")
    says = ("{part} contains: {parts}",)


class GoesLast(NamesAPart):
    """State that a part goes on last, whenever it came off.

    It waits for every other part that is off, such as a covering that hides the adjusters. It may still come off at
    any time: the next strip-down is not bound by it.
    """

    kind: Literal["goes last"] = "goes last"
    part: Part
    reason: Reason

    commands = (
        Command("last", "Hazards, order and state", 'last J3 "front covering" --because "it hides the adjusters"'),
    )
    form = Form("Goes on last", "It goes on last")
    says = ("{part} goes on last: {reason}",)


class NeedsState(NamesAPart):
    """State how the machine must be set before a part moves.

    In any other state, or if nobody entered the state, the move is refused with this reason. `set`, `let-down` and
    `tension` enter the state.
    """

    kind: Literal["needs state"] = "needs state"
    part: Part
    settings: Settings = Field(title="State that it needs", examples=["shutter=released"])
    moves: Annotated[
        Literal["removal", "refit", "both"],
        Reads({"removal": "comes off", "refit": "goes back", "both": "comes off or goes back"}),
    ] = Field("removal", title="Needed for")
    reason: Reason

    commands = (
        Command(
            "needs-state",
            "Hazards, order and state",
            'needs-state J3 "front plate" shutter=released --because "the rack meshes only then" --moves both',
        ),
    )
    form = Form("Needs a state", "It needs that state")
    says = ("{part} {moves} only with {settings}: {reason}",)


class Set(AnEntry):
    """Enter the state of the machine, as far as it changed."""

    kind: Literal["set"] = "set"
    settings: Settings = Field(title="State of the machine", examples=["shutter=released, focus=infinity"])

    commands = (Command("set", "Hazards, order and state", "set J3 shutter=released focus=infinity"),)
    form = Form("State", "Set it")
    says = ("machine set: {settings}",)


class Tension(NamesAPart):
    """Enter that a spring was let down or tensioned, in counted turns."""

    kind: Literal["tension"] = "tension"
    spring: Spring
    act: Literal["let down", "tensioned"] = Field(title="It was")
    turns: Turns = Field(gt=0, le=200, examples=["4 1/2"])
    direction: Annotated[Turning, _TURNINGS] = Field(title="Turned")
    goes_with: Annotated[OtherPart, Called("with")] | None = Field(
        None, title="Goes with which part", description="You are told the turns when you refit it."
    )
    from_state: Annotated[Words | None, Called("from")] = Field(
        None, title="From which state", examples=["released, drum against its stop"]
    )
    left: Turns | None = Field(
        None, ge=0, le=200, title="Turns still on it", description="0 if it is slack. It counts as let down only then."
    )

    commands = (
        Command(
            "let-down",
            "Hazards, order and state",
            'let-down J3 "opening curtain" 4.5 anticlockwise --from "released, drum at its stop"',
            'let-down J3 "return spring" 0.75 anticlockwise --with "cocking ring"',
            text="""Enter that a spring was let down, in counted turns.

            The turns are owed until `tension` puts them back the other way. Caution: let a spring down under control,
            and wear eye protection.""",
            fixed={"act": "let down"},
        ),
        Command(
            "tension",
            "Hazards, order and state",
            'tension J3 "opening curtain" 4.5 clockwise --from slack',
            text="Enter that a spring was tensioned, in counted turns.",
            fixed={"act": "tensioned"},
        ),
    )
    form = Form("Spring", "Enter the turns")
    says = (
        "{spring} {act} {turns} {direction}",
        "it goes with {goes_with}",
        "from {from_state}",
        "{left} still on it",
    )

    @property
    def clockwise(self) -> float:
        """The turns, clockwise as positive."""
        return self.turns if self.direction == "clockwise" else -self.turns


class AidFitted(AnEntry):
    """Enter that you fitted a temporary aid.

    The job does not close while it is in.
    """

    kind: Literal["aid fitted"] = "aid fitted"
    aid: Name = Field(title="Temporary aid", description="Tape, a wedge, a slave screw.")
    place: Name | None = Field(None, title="Where it sits")

    commands = (
        Command(
            "aid-in",
            "Hazards, order and state",
            'aid-in J3 "tape on the shutter blades" --place "behind the lens board"',
        ),
    )
    form = Form("Aid in", "The aid is in")
    says = ("{aid} went in as an aid", "{place}")


class AidTakenOut(AnEntry):
    """Enter that you took a temporary aid out."""

    kind: Literal["aid taken out"] = "aid taken out"
    aid: Name = Field(title="Temporary aid", description="As you called it when it went in.")

    commands = (Command("aid-out", "Hazards, order and state", 'aid-out J3 "tape on the shutter blades"'),)
    form = Form("Aid out", "It is out again")
    says = ("{aid} came out again",)


Binding = Cautioned | Ordered | Independent | Contains | GoesLast | NeedsState | Set | Tension | AidFitted | AidTakenOut
