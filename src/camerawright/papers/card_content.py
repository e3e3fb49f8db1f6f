"""What each card for the bench shows: finished words, and lengths in mm for what is drawn at true size.

A card lies or hangs at the bench while the camera is in parts, but for the owner's, which goes home with it; the papers
that leave the bench are in `content`.
"""

from dataclasses import dataclass
from datetime import date

from camerawright.papers.content import StepShown, WaitingShown
from camerawright.workshop.rows import Camera


@dataclass(frozen=True, kw_only=True)
class Card:
    """What stands at the head of every card; the date is that of the last entry."""

    workshop: str
    job: str
    date: date
    camera: Camera


# Refit strip


@dataclass(frozen=True, kw_only=True)
class RefitStrip(Card):
    """The way back in large type, a few lines a step; reasons and photos are on the refit sheet."""

    state: str = ""  # "shutter released, focus at infinity"
    steps: tuple[StepShown, ...] = ()
    waiting: tuple[WaitingShown, ...] = ()
    at_the_end: tuple[str, ...] = ()


# Tray card


@dataclass(frozen=True, kw_only=True)
class PartInCell:
    """A part in its tray cell and what lies with it; `is_back` where only its hardware is left there."""

    part: str
    screws: int = 0
    shims: int = 0
    loose: tuple[str, ...] = ()
    route: str = ""  # how it is cleaned
    wet: str = ""  # a warning, if it has one
    irreplaceable: bool = False
    is_back: bool = False


@dataclass(frozen=True, kw_only=True)
class Cell:
    """A tray cell. `parts` is empty where nothing lies in it now."""

    label: str
    parts: tuple[PartInCell, ...] = ()


@dataclass(frozen=True, kw_only=True)
class TrayCard(Card):
    """The tray as it is filled, row by row."""

    rows: tuple[tuple[Cell, ...], ...]


# Screw card


@dataclass(frozen=True, kw_only=True)
class LikeScrews:
    """Like fasteners of a part. `diameter_mm` and `length_mm` are drawn at true size."""

    words: str  # "3 × M1.4 × 1.6 grub"
    holes: tuple[str, ...]  # a label for each screw
    diameter_mm: float
    ring: str  # what the ring is: "ring 1.4 mm [iso-261]"
    is_known: bool = True  # whether the thread's diameter is
    length_mm: float | None = None
    length: str = ""  # "1.6 mm"
    warning: str = ""  # "LEFT-HAND"


@dataclass(frozen=True, kw_only=True)
class ScrewsOfPart:
    """The screws of one part that is off."""

    part: str
    screws: tuple[LikeScrews, ...]
    cell: str = ""


@dataclass(frozen=True, kw_only=True)
class ScrewCard(Card):
    """A hole for each screw that is out, to push it through."""

    parts: tuple[ScrewsOfPart, ...]


# Shim card


@dataclass(frozen=True, kw_only=True)
class Stack:
    """Like shims in one place: `n_drawn` layers of `layer_mm` on paper, magnified as `scale` says."""

    place: str
    words: str  # "3 × 0.10 mm = 0.30 mm"
    count: int
    n_drawn: int
    layer_mm: float
    scale: str  # "drawn 20 : 1"
    is_known: bool = True  # whether the thickness was taken


@dataclass(frozen=True, kw_only=True)
class ShimsOfPart:
    """The shims that lay under one part."""

    part: str
    stacks: tuple[Stack, ...]
    cell: str = ""


@dataclass(frozen=True, kw_only=True)
class ShimCard(Card):
    """Every shim that is out, with room for what is measured."""

    parts: tuple[ShimsOfPart, ...]


# Hazard card


@dataclass(frozen=True, kw_only=True)
class PartHazards:
    """What to mind when one part moves."""

    part: str
    moves: str  # "comes off", "goes back", "waits"
    escapes: str = ""  # "return spring", or that something gets loose
    cautions: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()  # states without which it may not move
    irreplaceable: str = ""


@dataclass(frozen=True, kw_only=True)
class HazardCard(Card):
    """Every caution of the parts that have still to move."""

    state: str = ""
    parts: tuple[PartHazards, ...] = ()
    held: tuple[str, ...] = ()  # aids and springs that must stay as they are


# Lubrication chart


@dataclass(frozen=True, kw_only=True)
class PointShown:
    """A point, what it gets and why."""

    part: str
    point: str
    amount: str
    lubricant: str = ""
    why: str = ""  # with its source
    doubt: str = ""  # where journal and handbook disagree
    known_from: str = ""  # "this job"
    is_done: bool = False


@dataclass(frozen=True, kw_only=True)
class AmountShown:
    """What the word for an amount means."""

    name: str
    meaning: str


@dataclass(frozen=True, kw_only=True)
class LubricationChart(Card):
    """What gets which lubricant, how much of it, and what stays dry; `untouched` of parts that were not off."""

    points: tuple[PointShown, ...] = ()
    dry: tuple[PointShown, ...] = ()
    untouched: tuple[PointShown, ...] = ()
    amounts: tuple[AmountShown, ...] = ()


# Resume card


@dataclass(frozen=True, kw_only=True)
class TimerShown:
    """Something that takes its time."""

    part: str
    what: str
    until: str


@dataclass(frozen=True, kw_only=True)
class LastShown:
    """One of the last entries."""

    at: str
    words: str


@dataclass(frozen=True, kw_only=True)
class ResumeCard(Card):
    """After a break: what is loose, what must not move, what comes next."""

    next_step: str
    next_hazard: str = ""
    state: str = ""
    loose: tuple[str, ...] = ()
    do_not_move: tuple[str, ...] = ()
    timers: tuple[TimerShown, ...] = ()
    out: str = ""  # "14 screws, 2 shims"
    last: tuple[LastShown, ...] = ()


# Owner's card


@dataclass(frozen=True, kw_only=True)
class Gives:
    """What a marked speed gives: about which time, and how many stops off that is, in words ("0.7 slow")."""

    about: str  # "1/310"
    off: str


@dataclass(frozen=True, kw_only=True)
class SpeedShown:
    """One marked speed, wide open and stopped down."""

    marked: str
    open: Gives
    stopped: Gives | None = None


@dataclass(frozen=True, kw_only=True)
class OwnerCard(Card):
    """What the dial's speeds give, for the owner's wallet. `stopped` names the smaller aperture: "at f/8"."""

    speeds: tuple[SpeedShown, ...]
    expanded_u: str  # the largest of the speeds shown, in stops
    stopped: str = ""
    sentence: str = ""  # on the one that is farthest off
    series: str = ""  # what the dial's marks stand for, where that is not what they say
