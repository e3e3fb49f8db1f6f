"""Entries of the strip-down: what comes off, what is noted before, what is found, what is seized."""

from typing import Annotated, Final, Literal

from pydantic import Field

from camerawright.journal.entry import AnEntry, Command, Form, NamesAPart
from camerawright.journal.fields import (
    AlsoSaid,
    Among,
    Called,
    Moment,
    Name,
    Names,
    Part,
    Parts,
    Photo,
    Reads,
    Reason,
    Turns,
    Words,
)
from camerawright.journal.notation import Fasteners, Leads, LooseParts, Shims

Torque = Literal["free", "normal", "tight", "seized"]
Nature = Literal["worn", "broken", "foreign fastener", "deformed fastener", "previous work", "corrosion", "missing"]
Decision = Literal["repair", "replace", "make", "reuse knowingly"]
Rung = Literal["clean the slot", "right driver", "solvent and wait", "heat", "shock", "extract"]
Outcome = Literal["moved", "no change", "worse"]


class Removed(NamesAPart):
    """Enter that a part came off.

    The entry is refused, with every reason, if a reference mark is still to be noted, if another part comes off first,
    if the machine is in the wrong state, if something gets loose that you have not entered, or if a like joint had
    shims and nobody looked.
    """

    kind: Literal["removed"] = "removed"
    part: Part = Field(title="Came off")
    place: Name | None = Field(None, title="From where")
    fasteners: Fasteners = ()
    shims: Shims = ()
    loose: LooseParts = ()
    leads: Leads = ()
    torque: Torque | None = Field(None, title="How it felt")
    assembly: Annotated[Name, Among("assemblies")] | None = Field(
        None, title="Sub-assembly it goes with", examples=["shutter"]
    )
    tool: Name | None = Field(None, title="Tool that fits", examples=["1.2 mm driver"])
    under: Parts = Field((), title="Fitted under", description="What had to be off to reach it.")
    cell: Name | None = Field(None, title="Tray cell")
    photo: Photo | None = None
    material: Name | None = Field(None, description="It decides how the part is cleaned.", examples=["brass"])
    finish: Name | None = Field(
        None, description="It decides how the part is cleaned; “none” is an answer.", examples=["black paint"]
    )
    soil: Names = Field((), title="Dirt on it", examples=["old oil"])
    locked_with: Annotated[Name, Called("lock")] | None = Field(
        None, title="Adhesive or lock-lacquer on it", examples=["shellac on the screw heads"]
    )
    looked_beneath: Annotated[bool | None, Called("looked"), Reads({True: "looked beneath"})] = Field(
        None, description="You looked, and there are no shims but those you enter."
    )

    commands = (
        Command(
            "remove",
            "Strip-down",
            'remove J3 "top cover" --screw "3 x M1.7 x 4 cheese" --cell A1',
            'remove J3 "lens board" --under "front plate" --shim "1 x 0.10 NE corner" --torque tight',
            'remove J3 "speed dial" --loose "1 x ball 1.5 mm at the rim" --tool "1.2 mm driver"',
        ),
    )
    form = Form("Removal", "It is off")
    says = (
        "{part} came off",
        "from {place}",
        "{fasteners}",
        "shims: {shims}",
        "loose: {loose}",
        "leads: {leads}",
        "it lay under {under}",
        "it felt {torque}",
        "tool: {tool}",
        "it goes with the {assembly}",
        "cell {cell}",
        "{material}",
        "finish: {finish}",
        "dirt: {soil}",
        "held with {locked_with}",
        "{looked_beneath}",
    )


class Gauged(AnEntry):
    """Enter threads and thicknesses that you did not take as the part came off.

    Its removal then reads as if you had taken them.
    """

    kind: Literal["gauged"] = "gauged"
    part: Part
    fasteners: Fasteners = ()
    shims: Shims = ()

    commands = (
        Command(
            "gauge",
            "Strip-down",
            'gauge J3 "top cover" --screw "3 x M1.7 x 4 cheese"',
            'gauge J3 "lens board" --shim "1 x 0.10 NE corner"',
        ),
    )
    form = Form("Sizes", "Enter the sizes")
    says = ("{part}: sizes taken", "{fasteners}", "shims: {shims}")


class Marked(NamesAPart):
    """Note a reference mark before the part moves."""

    kind: Literal["marked"] = "marked"
    part: Part
    mark: Words = Field(
        title="Reference mark", description="What stands against what, and how far: “dot at twelve, ring on its stop”."
    )
    photo: Photo | None = None

    commands = (
        Command("mark", "Strip-down", 'mark J3 "focus ring" "infinity: dot 1.5 mm left of the index, hard stop"'),
    )
    form = Form("Mark", "Note the mark")
    says = ("mark of {part}: {mark}",)


Aspect = Literal[
    "which way round", "order", "overlap", "hooked in", "preload", "teeth from the mark", "angle", "trial fit"
]
_ASPECTS: Final = AlsoSaid(
    {
        **dict.fromkeys(("which way", "way round", "which way up", "face", "facing", "side up"), "which way round"),
        **dict.fromkeys(("sequence", "stacking", "which first"), "order"),
        **dict.fromkeys(("overlaps", "lap"), "overlap"),
        **dict.fromkeys(("hook", "hooked", "hole", "which hole", "hooks in"), "hooked in"),
        **dict.fromkeys(("pretension", "tension", "wound", "turns"), "preload"),
        **dict.fromkeys(("teeth", "tooth from mark", "teeth off the mark", "mesh"), "teeth from the mark"),
        **dict.fromkeys(("fit", "fitted to try"), "trial fit"),
    }
)


class Sits(NamesAPart):
    """Enter how something sits.

    Which face of a shim or blade is up, in which order blades lie and overlap, which hole a spring is hooked in and how
    far it is wound, how many teeth a gear stands from its mark, where an eccentric points. You get it back when you
    refit the part.
    """

    kind: Literal["sits"] = "sits"
    part: Part = Field(title="Goes back with")
    how: Words = Field(title="How it sits", examples=["dull face up, over blade 2"])
    what: Name | None = Field(None, title="Which of it, if not the part itself", examples=["blade 3"])
    aspect: Annotated[Aspect, _ASPECTS] | None = Field(None, title="What that is")
    photo: Photo | None = None

    commands = (
        Command(
            "sits",
            "Strip-down",
            'sits J3 shutter "dull face up, over blade 2" --what "blade 3" --aspect overlap',
            'sits J3 "cocking ring" "second hole from the post" --what "return spring" --aspect "hooked in"',
            'sits J3 "retard cam" "3 teeth clockwise of the dot" --aspect "teeth from the mark"',
        ),
        Command(
            "trial-fit",
            "Strip-down",
            'trial-fit J3 helicoid "third start: infinity at twelve, 0.2 mm gap"',
            text="Enter what a trial fit showed: the part is still off. You get it back when you refit the part.",
            fixed={"aspect": "trial fit"},
        ),
    )
    form = Form("How it sits", "Note how it sits")
    says = ("{thing}: {how}", "{aspect}")

    @property
    def thing(self) -> str:
        """What sits so."""
        return f"{self.what} of {self.part}" if self.what else self.part

    @property
    def back(self) -> str:
        """The words for the refit of its part."""
        label = f"{self.what}: " if self.what else ""
        return f"{label}{self.how}" + (f" ({self.aspect})" if self.aspect else "")


class Turned(NamesAPart):
    """Enter that screws were turned where they are.

    A screw that was loosened and left in, or only nipped up, is owed until it is tightened.
    """

    kind: Literal["turned"] = "turned"
    part: Part
    act: Literal["loosened", "nipped up", "tightened"] = Field(title="They were")
    fasteners: Annotated[Fasteners, Field(description="All of the part, if you name none.")] = ()
    turns: Turns | None = Field(None, gt=0, le=200, title="By how many turns", examples=["1/2"])
    locked_with: Annotated[Name, Called("lock")] | None = Field(
        None, title="Adhesive or lock-lacquer on them", examples=["lock lacquer"]
    )

    commands = (
        Command(
            "loosen",
            "Strip-down",
            'loosen J3 "focus ring" --screw "3 x grub M1.4" --turns 1/2',
            text="Enter that screws were loosened and left in. They are owed until `tighten`.",
            fixed={"act": "loosened"},
        ),
        Command(
            "nip-up",
            "Refit",
            'nip-up J3 "top cover"',
            text="Enter that screws were only nipped up: the first of two stages. They are owed until `tighten`.",
            fixed={"act": "nipped up"},
        ),
        Command(
            "tighten",
            "Refit",
            'tighten J3 "focus ring" --lock "lock lacquer"',
            text="Enter that screws were tightened.",
            fixed={"act": "tightened"},
        ),
    )
    form = Form("Loosened or tightened", "Enter it")
    says = ("screws of {part} {act}", "{fasteners}", "{turns}", "with {locked_with}")


class MarkWanted(NamesAPart):
    """Ask for a reference mark.

    The part may not come off before somebody notes it.
    """

    kind: Literal["mark wanted"] = "mark wanted"
    part: Part = Field(title="Before this comes off")
    mark: Words = Field(title="Note this mark")

    commands = (Command("want-mark", "Strip-down", 'want-mark J3 "front cell" "angle and gap where the thread parts"'),)
    form = Form("Mark wanted", "Ask for the mark")
    says = ("before {part} comes off, note the mark: {mark}",)


class Found(NamesAPart):
    """Enter a finding: a defect, previous work, anything unusual."""

    kind: Literal["found"] = "found"
    part: Part
    defect: Annotated[Words, Called("finding")] = Field(title="What you found")
    todo: Words | None = Field(
        None,
        title="What is to be done",
        description="It is owed until you answer it. So is what is to be repaired, replaced or made.",
    )
    nature: Nature | None = Field(None, title="What kind")
    decision: Decision | None = Field(None, title="What you decided")
    fastener: Annotated[Name, Called("screw")] | None = Field(
        None, title="On which fastener, if on one", examples=["NE screw"]
    )
    photo: Photo | None = None

    commands = (
        Command(
            "find",
            "Strip-down",
            'find J3 bellows "pinhole in the second fold" --todo "patch it from inside"',
            'find J3 "top cover" "one screw too long" --nature "foreign fastener" --decision replace',
        ),
    )
    form = Form("Finding", "Enter the finding")
    says = ("{part}: {what_is_found}", "{nature}", "decided: {decision}", "to do: {todo}")

    @property
    def what_is_found(self) -> str:
        """The finding, with the fastener that it is on."""
        return f"{self.fastener}, {self.defect}" if self.fastener else self.defect

    @property
    def is_owed(self) -> bool:
        """Whether something is to be done about it."""
        return bool(self.todo) or self.decision in {"repair", "replace", "make"}

    @property
    def asks(self) -> str:
        """What is to be done, with what it is about."""
        return f"{self.what_is_found}: {self.todo or self.decision or ''}"


class Irreplaceable(NamesAPart):
    """Mark a part that cannot be had again.

    You are told wherever the part moves, on this job and on the next of its kind. To fit another one, or to leave it
    out, you have to give a reason.
    """

    kind: Literal["irreplaceable"] = "irreplaceable"
    part: Part
    reason: Reason = Field(title="Why it cannot be had again")

    commands = (
        Command(
            "irreplaceable", "Strip-down", 'irreplaceable J3 "front cell" --because "the coating is no longer made"'
        ),
    )
    form = Form("Irreplaceable", "Say so wherever it moves")
    says = ("{part} cannot be had again: {reason}",)


class Tried(NamesAPart):
    """Enter one try on a fastener that does not move.

    The next try is refused if this one made it worse, or while it still has to soak. What got worse is owed until you
    answer what became of it. `ladder` says what to try next.
    """

    kind: Literal["tried"] = "tried"
    part: Part
    fastener: Annotated[Name, Called("screw")] = Field(title="Which fastener", examples=["M1.7 at the hinge"])
    rung: Rung = Field(title="What you tried")
    outcome: Outcome = Field(title="What came of it")
    materials: Annotated[Names, Called("material")] = Field(
        (),
        title="Materials",
        description="First of the fastener, then of what it sits in, then of what lies beside it; “none” is an answer.",
        examples=["steel, brass, none"],
    )
    hand: Literal["right", "left"] | None = Field(
        None, title="Hand of its thread", description="Once you made sure of it."
    )
    wait_until: Annotated[Moment | None, Called("wait")] = Field(None, title="Leave it until", examples=["20 min"])

    commands = (
        Command(
            "tried",
            "Strip-down",
            'tried J3 "top cover" "NE screw" "solvent and wait" "no change" --material steel --wait "20 min"',
        ),
    )
    form = Form("Seized", "Enter the try")
    says = (
        "{fastener} of {part}: {rung}, {outcome}",
        "{materials}",
        "{hand}-hand thread",
        "leave it until {wait_until}",
    )

    @property
    def is_owed(self) -> bool:
        """Whether somebody has to say what becomes of it: it got worse."""
        return self.outcome == "worse"

    @property
    def asks(self) -> str:
        """What is to be answered."""
        return f"{self.fastener} got worse ({self.rung}): what became of it?"


StripDown = Removed | Gauged | Sits | Turned | Marked | MarkWanted | Found | Irreplaceable | Tried
