"""An invented 6 × 9 folding camera with coupled rangefinder and meter: 70 parts, and what a repairer knows of them.

Written from general knowledge of the trade (from memory), with no camera in hand and without the planner: how it comes
apart, what holds what, and how an expert puts it back, sub-assembly by sub-assembly.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from camerawright.journal.entries import Contains, Entry, GoesLast, Independent, Ordered, Removed
from tests.journal.makers import Clock

STRIP_DOWN = """
back cover            | back       |
pressure plate        | back       | back cover
rear covering         | back       |
red window shutter    | back       | rear covering
reminder disc         | top        |
wind knob             | top        | reminder disc
knob washer           | top        | wind knob
accessory shoe        | top        |
top cover             | top        | knob washer, accessory shoe
finder front glass    | top        | top cover
meter window          | top        | top cover
meter unit            | meter side | top cover
meter lead            | meter side | top cover
rangefinder unit      | finder side | top cover
counter gear          | winding    | top cover
double exposure lock  | winding    | counter gear
wind shaft            | winding    | counter gear, knob washer
front covering        | body       |
name ring             | lens side  |
front cell            | lens side  | name ring
rear cell             | lens side  |
shutter retaining ring | lens side | rear cell
shutter               | lens side  | shutter retaining ring
shutter shim          | lens side  | shutter
release link          | lens side  | shutter
coupling lever        | lens side  | front covering
rangefinder cam       | lens side  | shutter
focusing mount        | lens side  | rangefinder cam
bellows front frame   | lens side  | focusing mount
lens board            | lens side  | focusing mount
front standard        | lens side  | lens board
strut springs         | lens side  | front standard
left strut            | lens side  | front standard
right strut           | lens side  | front standard
bellows rear frame    | body       | pressure plate, bellows front frame
bellows               | body       | bellows rear frame
door catch            | body       | front covering
door hinge pin        | body       | left strut, right strut
bed door              | body       | door hinge pin
spool fork            | winding    | back cover
tripod boss           | body       | front covering
ocular                | finder side |
beam splitter cover   | finder side |
beam splitter         | finder side | beam splitter cover
beam splitter frame   | finder side | beam splitter
arm spring            | finder side | beam splitter cover
moving mirror arm     | finder side | arm spring
infinity adjuster     | finder side | moving mirror arm
fixed mirror          | finder side | beam splitter cover
meter dial            | meter side |
calculator ring       | meter side | meter dial
needle window         | meter side |
meter cell            | meter side | needle window
cell contact          | meter side | meter cell
meter movement        | meter side | calculator ring, cell contact
trimmer plate         | meter side | meter movement
speed ring clip       | shutter    |
speed ring            | shutter    | speed ring clip
speed cam             | shutter    | speed ring
cocking spring        | shutter    | speed cam
slow train            | shutter    | speed cam
self-timer train      | shutter    | speed cam
main lever            | shutter    | cocking spring
sync contact          | shutter    | speed cam
release lever         | shutter    | main lever
blade cover           | shutter    |
shutter blades        | shutter    | blade cover
iris ring             | shutter    | blade cover
iris blades           | shutter    | iris ring
focus stop ring       | focusing mount |
"""
"""Part, the sub-assembly it goes with, and what had to be off to reach it, in the order in which they came off."""

CONTAINS = {
    "rangefinder unit": (
        "ocular, beam splitter cover, beam splitter, beam splitter frame, arm spring, moving mirror arm, "
        "infinity adjuster, fixed mirror"
    ),
    "meter unit": "meter dial, calculator ring, needle window, meter cell, cell contact, meter movement, trimmer plate",
    "shutter": (
        "speed ring clip, speed ring, speed cam, cocking spring, slow train, self-timer train, main lever, "
        "sync contact, release lever, blade cover, shutter blades, iris ring, iris blades"
    ),
    "focusing mount": "focus stop ring",
    "upper half": "top, winding, meter side, finder side",
    "front half": "lens side, body",
}
"""What a repairer says once of each lump that is taken apart on the bench, and of what sides there are."""

FREE = (
    ("upper half", "front half", "only the coupling lever joins them"),
    ("meter side", "finder side", "at opposite ends of the top"),
    ("meter side", "winding", "at opposite ends of the top"),
    ("finder side", "winding", "apart"),
    ("back", "lens side", "back and front"),
    ("back", "top", "apart"),
    ("back", "meter side", "apart"),
    ("back", "finder side", "apart"),
)
"""What a repairer says once of two sides of the camera."""

FIRST = (("rangefinder unit", "coupling lever", "its follower rides on the lever"),)
"""What joins two sides nevertheless: comes off first, comes off after it, why."""

LAST = {
    "front covering": "it hides the screws of the door and the coupling lever",
    "rear covering": "it hides the rivets of the back",
}

TRUTH = {
    # On the body: what carries and lies beneath comes first.
    "bed door": "tripod boss",
    "door hinge pin": "bed door",
    "left strut": "door hinge pin",
    "right strut": "door hinge pin",
    "strut springs": "left strut, right strut",
    "front standard": "strut springs",
    "bellows rear frame": "bellows",
    "bellows front frame": "bellows rear frame, lens board",
    "lens board": "front standard",
    "focusing mount": "lens board, bellows front frame, focus stop ring",
    "rangefinder cam": "focusing mount",
    "coupling lever": "bed door",
    "release link": "focusing mount",
    "shutter shim": "focusing mount",
    "shutter": "shutter shim, release link, rangefinder cam, speed ring clip, iris blades, shutter blades, blade cover",
    "shutter retaining ring": "shutter",
    "rear cell": "shutter retaining ring",
    "front cell": "shutter",
    "name ring": "front cell",
    "wind shaft": "spool fork",
    "double exposure lock": "wind shaft",
    "counter gear": "wind shaft, double exposure lock",
    "door catch": "bed door",
    "front covering": "door catch, tripod boss, coupling lever",
    # Under the top cover.
    "rangefinder unit": "coupling lever, beam splitter cover, ocular",
    "meter unit": "meter lead, meter dial, trimmer plate, needle window",
    "top cover": "rangefinder unit, meter unit, counter gear, finder front glass, meter window",
    "accessory shoe": "top cover",
    "knob washer": "top cover, wind shaft",
    "reminder disc": "wind knob",
    "wind knob": "knob washer",
    # The back.
    "back cover": "pressure plate, red window shutter, spool fork",
    "pressure plate": "bellows rear frame",
    "rear covering": "red window shutter",
    # The rangefinder on the bench.
    "beam splitter": "beam splitter frame",
    "moving mirror arm": "infinity adjuster",
    "arm spring": "moving mirror arm",
    "beam splitter cover": "beam splitter, arm spring, fixed mirror",
    # The meter on the bench.
    "meter movement": "trimmer plate",
    "cell contact": "meter movement",
    "meter cell": "cell contact",
    "needle window": "meter cell",
    "calculator ring": "meter movement",
    "meter dial": "calculator ring",
    # The shutter on the bench.
    "iris ring": "iris blades",
    "blade cover": "iris ring, shutter blades",
    "main lever": "release lever",
    "cocking spring": "main lever",
    "speed cam": "cocking spring, slow train, self-timer train, sync contact",
    "speed ring": "speed cam",
    "speed ring clip": "speed ring",
}
"""What must be on before a part goes back: what carries it, and what it covers, pins or holds."""

EXPERT = """
Shutter, on the bench: iris blades, iris ring, shutter blades, blade cover, release lever, main lever, cocking spring, \
slow train, self-timer train, sync contact, speed cam, speed ring, speed ring clip
Focusing mount, on the bench: focus stop ring
Rangefinder unit, on the bench: infinity adjuster, moving mirror arm, arm spring, beam splitter frame, beam splitter, \
fixed mirror, beam splitter cover, ocular
Meter unit, on the bench: trimmer plate, meter movement, cell contact, meter cell, needle window, calculator ring, \
meter dial
Body: tripod boss, bed door, door hinge pin, door catch, bellows, bellows rear frame
Lens side: left strut, right strut, strut springs, front standard, lens board, bellows front frame, focusing mount, \
rangefinder cam, coupling lever, release link, shutter shim, shutter, shutter retaining ring, rear cell, front cell, \
name ring
Winding: spool fork, wind shaft, double exposure lock, counter gear
Finder side: rangefinder unit
Meter side: meter lead, meter unit
Top: meter window, finder front glass, top cover, accessory shoe, knob washer, wind knob, reminder disc
Back: red window shutter, pressure plate, back cover
Coverings: front covering, rear covering
"""
"""The way back as an expert writes it."""


@dataclass(frozen=True)
class Row:
    """One removal."""

    part: str
    assembly: str
    under: tuple[str, ...]


def _named(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(",") if name.strip())


def strip_down() -> tuple[Row, ...]:
    """The removals in order."""
    rows = [line.split("|") for line in STRIP_DOWN.strip().splitlines()]
    return tuple(Row(part.strip(), assembly.strip(), _named(under)) for part, assembly, under in rows)


def removals(clock: Clock) -> Iterator[Entry]:
    """The strip-down as it is entered."""
    for row in strip_down():
        yield Removed(at=clock(), part=row.part, assembly=row.assembly, under=row.under)


def said(clock: Clock) -> Iterator[Entry]:
    """What the repairer says of the order besides."""
    for whole, parts in CONTAINS.items():
        yield Contains(at=clock(), part=whole, parts=_named(parts))
    for one, other, reason in FREE:
        yield Independent(at=clock(), part=one, other=other, reason=reason)
    for first, then, reason in FIRST:
        yield Ordered(at=clock(), first=first, then=then, reason=reason)
    for part, reason in LAST.items():
        yield GoesLast(at=clock(), part=part, reason=reason)


def truth() -> dict[str, tuple[str, ...]]:
    """What must be on before each part."""
    return {row.part: _named(TRUTH.get(row.part, "")) for row in strip_down()}


def expert() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """The expert's sub-assemblies with their headings, in order."""
    lines = [line.split(":") for line in EXPERT.replace("\\\n", "").strip().splitlines()]
    return tuple((heading, _named(parts)) for heading, parts in lines)
