"""Entries of the refit: what goes back, what waits, what does not go back, what is measured and adjusted."""

from datetime import datetime
from typing import Annotated, Final, Literal

from pydantic import Field, JsonValue

from camerawright.journal.entry import AnEntry, Command, Form, NamesAPart
from camerawright.journal.fields import (
    Called,
    Moment,
    Name,
    Part,
    Photo,
    Reads,
    Reason,
    Sha256,
    SignedTurns,
    Speed,
    Test,
    Words,
)
from camerawright.journal.notation import Fasteners, Leads, LooseParts, Shims

Phase = Literal["as found", "as left"]
IN_THE_BATH: Final = "in the bath: "
"""How a wait begins that is a bath; the name of the process follows."""


class Refitted(AnEntry):
    """Enter that a part went back.

    The entry is refused, with every reason, if another part goes back first, if something is owed before, or if what
    goes in differs from what came out.
    """

    kind: Literal["refitted"] = "refitted"
    part: Part
    fasteners: Fasteners = ()
    shims: Shims = ()
    loose: LooseParts = ()
    leads: Leads = ()
    nipped: Annotated[bool, Reads({True: "only nipped up"})] = Field(
        False, title="Only nipped up", description="Its screws are owed until they are tightened."
    )
    locked_with: Annotated[Name, Called("lock")] | None = Field(
        None, title="Adhesive or lock-lacquer used", examples=["shellac"]
    )
    replacement: Name | None = Field(
        None,
        title="Another one went in",
        description="“new”, “made” or “donor J4”, if it is not the one that came out.",
    )
    photo: Photo | None = None

    commands = (
        Command(
            "refitted",
            "Refit",
            'refitted J3 "lens board" --all',
            'refitted J3 "top cover" --screw "2 x M1.7 x 4 cheese" --overrule "one sheared, hole plugged"',
        ),
    )
    form = Form("Refit", "It is back")
    says = (
        "{part} went back",
        "{fasteners}",
        "shims: {shims}",
        "loose: {loose}",
        "leads: {leads}",
        "{nipped}",
        "held with {locked_with}",
        "another one went in: {replacement}",
    )


class Added(NamesAPart):
    """Enter a part that you added: the camera came without it.

    A shim that brings the register right, a missing washer, a new seal. From now on it is part of the camera.
    """

    kind: Literal["added"] = "added"
    part: Part = Field(title="What went in")
    reason: Reason = Field(title="Why it went in")
    place: Name | None = Field(None, title="Where")
    fasteners: Fasteners = ()
    shims: Shims = ()
    loose: LooseParts = ()
    leads: Leads = ()
    photo: Photo | None = None

    commands = (
        Command(
            "add",
            "Refit",
            'add J3 "register shim" --because "0.1 mm short" --shim "1 x 0.10 under the mount"',
        ),
    )
    form = Form("Something added", "It went in")
    says = (
        "{part} was added: {reason}",
        "{place}",
        "{fasteners}",
        "shims: {shims}",
        "loose: {loose}",
        "leads: {leads}",
    )


class AccountedFor(AnEntry):
    """Account for a part that will not go back.

    Or, if the part is back, for those of its screws and shims that are not.
    """

    kind: Literal["accounted for"] = "accounted for"
    part: Part = Field(title="Part, or the part whose screws or shims are missing")
    reason: Reason = Field(title="Where it is instead")

    commands = (
        Command(
            "account",
            "Refit",
            'account J3 "self-timer" --because "left out at the owner\'s wish, in a bag with the camera"',
        ),
    )
    form = Form("It does not go back", "Account for it")
    says = ("{part} accounted for: {reason}",)


class Awaited(AnEntry):
    """Enter that a part waits for something.

    A spare is on order, or an adhesive cures. If you say until when, the wait ends by itself. A part that is back may
    cure in place until then: only what surely covers it waits.
    """

    kind: Literal["awaited"] = "awaited"
    part: Part
    awaiting: Words = Field(title="For what", description="A spare on order, an adhesive that cures.")
    until: Moment | None = Field(
        None, title="Until when, if you know", examples=["24 h", "3 weeks", "2031-05-04 09:30"]
    )

    commands = (
        Command(
            "wait",
            "Refit",
            'wait J3 shutter "main spring from a donor"',
            'wait J3 bellows "the adhesive cures" --until "24 h"',
        ),
    )
    form = Form("It waits", "It waits")
    says = ("{part} must wait: {awaiting}", "until {until}")

    @property
    def bath(self) -> str | None:
        """The name of the process, if it is a bath."""
        return self.awaiting.removeprefix(IN_THE_BATH) if self.awaiting.startswith(IN_THE_BATH) else None

    def lasts(self, now: datetime) -> bool:
        """Whether the wait still lasts: one with an end is over by itself."""
        return self.until is None or now < self.until


class Arrived(AnEntry):
    """Enter that the wait for a part is over.

    A part that is in a bath comes out by `batch-out`, or by `cleaned`.
    """

    kind: Literal["arrived"] = "arrived"
    part: Part

    commands = (Command("arrived", "Refit", "arrived J3 shutter"),)
    form = Form("It arrived", "It arrived")
    says = ("{part}: the wait is over",)


class Adjusted(AnEntry):
    """Enter that you moved an adjuster.

    If you enter the turns, and measure before and after, `adjusting` tells you what a turn does and how far to turn
    next.
    """

    kind: Literal["adjusted"] = "adjusted"
    adjuster: Name
    before: Words | None = Field(None, title="Where it stood")
    after: Words = Field(title="Where it stands now")
    turns: SignedTurns | None = Field(
        None, ge=-200, le=200, title="Turns", description="Clockwise as you look at it; a minus for the other way.",
        examples=["-1/4"],
    )  # fmt: skip
    test: Test | None = Field(None, title="For which bench test")
    marked: Speed | None = Field(None, title="For which marked speed", examples=["1/25"])

    commands = (
        Command(
            "adjust",
            "Refit",
            'adjust J3 "retard lever" "1/6 turn in" --before flush',
            'adjust J3 "retard lever" "at 2 o\'clock" --turns 0.25 --test shutter --marked 1/25',
        ),
    )
    form = Form("Adjusted", "Enter the adjustment")
    says = ("{adjuster} moved: {after}", "before: {before}", "{turns}", "for {test}", "at {marked}")


class Measured(AnEntry):
    """A bench test's result, with its set-up and the recording that it can be computed from again."""

    kind: Literal["measured"] = "measured"
    test: Name
    phase: Phase
    method: Name
    setup: dict[str, JsonValue]
    result: dict[str, JsonValue]
    recording: Sha256

    says = ("{test} measured {phase}", "at {marked}", "{told}")

    @property
    def marked(self) -> str:
        """The marked speeds, as they were given."""
        return str(self.setup.get("marked") or "")

    @property
    def told(self) -> str:
        """What else the repairer said of the set-up."""
        options, source, words = (self.setup.get(key) for key in ("options", "input", "words"))
        given = options.items() if isinstance(options, dict) else ()
        said = [f"{name.replace('_', ' ')} {text}" for name, text in given]
        return "; ".join(str(each) for each in (words, *said, source and f"input “{source}”") if each)


GoingBack = Refitted | Added | AccountedFor | Awaited | Arrived | Adjusted | Measured
