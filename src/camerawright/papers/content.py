"""What each paper shows, as frozen dataclasses of finished words and whole numbers.

Nothing here is measured, computed or looked up: other code fills these, `render` prints them. Figures arrive as the
text to be read, rounded and with their unit, because their uncertainty decides how far they are rounded, not a paper.
Money alone arrives as whole minor units, so that a bill can be checked before it is printed.

An image is named here and handed to `render` under the same name.
"""

from dataclasses import dataclass
from datetime import date

from camerawright.readings.shown import ReadingRow, ToldRow
from camerawright.workshop.bill import BillLine
from camerawright.workshop.rows import Camera


@dataclass(frozen=True, kw_only=True)
class Workshop:
    """Who signs the papers. `address` may hold several lines."""

    name: str
    address: str = ""


# Certificate


@dataclass(frozen=True, kw_only=True)
class StoppedCell:
    """A speed at one aperture, and how far that is off its mark in stops."""

    time: str
    error: str


@dataclass(frozen=True, kw_only=True)
class StoppedRow:
    """A marked speed at each aperture."""

    marked: str
    phase: str  # as found, as left
    cells: tuple[StoppedCell, ...]


@dataclass(frozen=True, kw_only=True)
class Stopped:
    """The speeds wide open and at smaller apertures."""

    apertures: tuple[str, ...]
    rows: tuple[StoppedRow, ...]


@dataclass(frozen=True, kw_only=True)
class Picture:
    """The name of an image, and the same in words for whoever cannot see it; the caption stands below it."""

    name: str
    words: str
    caption: str = ""


@dataclass(frozen=True, kw_only=True)
class Readings:
    """The readings of one bench test, what they were judged against, and how they were made."""

    title: str  # "Shutter speeds"
    rows: tuple[ReadingRow, ...]
    method: str
    profile: str = ""
    profile_source: str = ""
    decision_rule: str = ""  # when a reading is called within, outside, undecided
    coverage_factor: str = ""  # "2.0", or "2.0 to 2.3" when it differs by row
    error_unit: str = "stops"
    setup: str = ""
    temperature: str = ""
    told: tuple[ToldRow, ...] = ()  # what no marked speed is compared with
    stopped: Stopped | None = None
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True, kw_only=True)
class FindingShown:
    """A defect, and what was done about it."""

    part: str
    defect: str
    done: str = ""


@dataclass(frozen=True, kw_only=True)
class ReplacedPart:
    """A part that is not the one the camera came with, and where the present one is from."""

    part: str
    origin: str  # "new", "made", "donor J4"


@dataclass(frozen=True, kw_only=True)
class RecordingShown:
    """A kept recording that readings were computed from."""

    label: str
    sha256: str


@dataclass(frozen=True, kw_only=True)
class Certificate:
    """What goes home with the camera."""

    workshop: Workshop
    number: str
    date: date
    camera: Camera
    owner: str
    owners_words: str = ""
    wanted: str = ""
    readings: tuple[Readings, ...] = ()
    findings: tuple[FindingShown, ...] = ()
    replaced: tuple[ReplacedPart, ...] = ()
    remarks: tuple[str, ...] = ()
    next_service: str = ""
    recordings: tuple[RecordingShown, ...] = ()
    signed_by: str = ""


# Refit sheet


@dataclass(frozen=True, kw_only=True)
class After:
    """A part that must be back first; `certain` is false where only the order of removal says so."""

    part: str
    reason: str
    certain: bool


@dataclass(frozen=True, kw_only=True)
class StepShown:
    """One part going back, with all that belongs to that moment."""

    n: int
    part: str
    after: tuple[After, ...] = ()
    needs: tuple[str, ...] = ()  # the state of the machine without which it may not move
    fasteners: tuple[str, ...] = ()
    shims: tuple[str, ...] = ()
    loose: tuple[str, ...] = ()
    marks: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    reminders: tuple[str, ...] = ()
    hold_points: tuple[str, ...] = ()
    cell: str = ""  # tray cell
    photo: str | None = None  # name of an image


@dataclass(frozen=True, kw_only=True)
class WaitingShown:
    """A part that cannot go back yet, and why."""

    part: str
    reason: str


@dataclass(frozen=True, kw_only=True)
class RefitSheet:
    """The way back, to be read at arm's length and ticked with a pencil."""

    workshop: Workshop
    job: str
    date: date
    camera: Camera
    state: str = ""  # "shutter released, focus at infinity"
    steps: tuple[StepShown, ...] = ()
    waiting: tuple[WaitingShown, ...] = ()
    owed: tuple[str, ...] = ()
    aids: tuple[str, ...] = ()


# Bill


@dataclass(frozen=True, kw_only=True)
class Tax:
    """The tax line: its label holds the rate ("VAT 20 %")."""

    label: str
    amount_minor: int


@dataclass(frozen=True, kw_only=True)
class Bill:
    """What is to be paid: lines of work in `hours`, parts and materials in `lines`, either may be empty.

    `minor_digits` is the currency's exponent in ISO 4217: 2 for most, 0 for yen.

    Raises
    ------
    ValueError
        The lines do not add up to `net_minor`, or net and tax to `total_minor`: such a bill is not printed.
    """

    workshop: Workshop
    number: str
    date: date
    customer: str  # name and address, may hold several lines
    currency: str  # ISO 4217 code
    net_minor: int
    total_minor: int
    subject: str = ""  # the camera and job it is for
    hours: tuple[BillLine, ...] = ()
    lines: tuple[BillLine, ...] = ()
    tax: Tax | None = None
    notes: tuple[str, ...] = ()
    minor_digits: int = 2

    def __post_init__(self) -> None:
        """Refuse sums that do not add up."""
        net = sum(line.amount_minor for line in (*self.hours, *self.lines))
        if net != self.net_minor:
            raise ValueError(f"bill {self.number}: its lines make {net}, its net sum says {self.net_minor}")
        total = net + (self.tax.amount_minor if self.tax else 0)
        if total != self.total_minor:
            raise ValueError(f"bill {self.number}: net and tax make {total}, its total says {self.total_minor}")
