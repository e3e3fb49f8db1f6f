"""What the measurement of a flash contact found."""

from dataclasses import dataclass, field, replace
from typing import Annotated, Any, Final, Literal

from camerawright.bench.codec import Keys, Named, in_unit
from camerawright.bench.record import Figure, Record, Skipped
from camerawright.handbook.exposure import name_of
from camerawright.handbook.sync import Contact, Instant, SensorAt, Shutter
from camerawright.quantity import Quantity, Verdict, Word

Usable = Literal["yes", "no", "undecided"]

Time = Annotated[Quantity, in_unit("s", "s", k95="")]
Ohm = Annotated[Quantity, in_unit("ohm", "ohm", k95="")]

_NOT_STORED: Final[dict[str, Any]] = {"stored": False}
_USABLE: Final[dict[Usable, str]] = {"yes": "usable", "no": "not usable", "undecided": "undecided"}
NOT_NAMED: Final = "a contact that was not named"


@dataclass(frozen=True)
class Delay:
    """From an instant of the light to the make, negative where the contact makes first. [s]"""

    instant: Annotated[Instant, Named("from")]
    delay: Annotated[Quantity, Keys("s", value="{}_s", u="u_{}_s", k95="k95", budget="budget")]


@dataclass(frozen=True, kw_only=True)
class Firing:
    """One firing. `at_s` is where the light passed half its level, opening.

    `half_peak` is how long the light stood above half. What a closed contact is needed for is None where it did not
    close, and there are no `delays`; `is_lead_whole` says whether that is surely the contact's fault: a wire, or
    another firing, closed the circuit. `to_closing` goes from the make to where the closing begins (95 %), `open_for`
    from full open to there, `dwell` from the first make to the last break. `n_bounces` counts how often the contact
    opened again before it settled, `n_late` its makes after it first let go. `open_at_make` is the part of the full
    light that was there at the make, None where the shutter was closed. `resistance` is None where the set-up does not
    give it. `verdicts` are by class, None where the set-up cannot judge it.
    """

    at_s: float
    half_peak: Time
    has_closed: bool
    make_s: float | None = None
    break_s: float | None = None
    delays: tuple[Delay, ...] = ()
    to_closing: Time | None = None
    open_for: Time
    dwell: Time | None = None
    dwell_verdict: Word | None = None
    n_bounces: int | None = None
    longest_bounce: Time | None = None
    bounce_verdict: Word | None = None
    settling_s: float | None = None
    n_late: int | None = None
    open_at_make: float | None = None
    resistance: Ohm | None = None
    resistance_class: str | None = None
    verdicts: dict[Contact, Word | None] = field(default_factory=dict)
    usable_for_flash: Usable = "undecided"
    has_plateau: bool
    snr_db: float
    contact_snr_db: float | None = None
    flags: tuple[str, ...]
    level_fs: float = field(default=0.0, metadata=_NOT_STORED)
    is_lead_whole: bool = field(default=False, metadata=_NOT_STORED)

    def delay(self, instant: Instant) -> Quantity:
        """From an instant to the make.

        Raises
        ------
        KeyError
            The contact did not close.
        """
        return {one.instant: one.delay for one in self.delays}[instant]

    @property
    def stop_s(self) -> float:
        """When the shutter has closed and the contact is open again."""
        return max(self.at_s + self.half_peak.value, self.break_s or self.at_s)

    @property
    def start_s(self) -> float:
        """When the shutter opens or the contact makes, whichever comes first."""
        return self.at_s if self.make_s is None else min(self.at_s, self.make_s)


@dataclass(frozen=True, kw_only=True)
class ClassVerdict:
    """All firings of a speed against one class of contact.

    `verdict` is that of the worst firing: None where this set-up cannot judge the class (`says` says why), undecided
    where nobody said which contact it is. `probability_within` says what the delay would mean for the class, whether or
    not it is the contact's. The mean delay goes from `instant` to the make; None where the contact never closed.
    `singles` are the verdicts of the firings.
    """

    contact: Contact
    verdict: Word | None
    probability_within: float | None
    instant: Annotated[Instant, Named("from")]
    lower_s: float | None
    upper_s: float | None
    mean_delay: Annotated[Quantity | None, Keys("s", value="{}_s", u="u_{}_s", expanded="U95_{}_s")]
    repeatability_s: float | None
    source: str
    says: str
    singles: tuple[Verdict | None, ...] = field(default=(), metadata=_NOT_STORED)


@dataclass(frozen=True, kw_only=True)
class Light:
    """Whether a light may be used: it fires, and shines while the shutter is fully open.

    `says` is what it must do, and why it may not fire; the verdict is that of the worst firing, `singles` are those of
    all.
    """

    light: str
    is_bulb: bool
    usable: Usable
    verdict: Word
    probability: float
    says: str
    source: str
    singles: tuple[Verdict, ...] = field(default=(), metadata=_NOT_STORED)


@dataclass(frozen=True, kw_only=True)
class Speed:
    """The firings of one setting of the speed dial: all classes, and the lights that may be used.

    `open_s` is how long the light usually stood above half. `dwell` is the mean of the firings that closed.
    """

    marked: str | None
    likely: str | None
    target_s: float | None
    open_s: float
    i_firings: tuple[int, ...]
    shutter: Shutter
    sensor_at: SensorAt | None
    contact: Contact | None
    classes: tuple[ClassVerdict, ...]
    lights: tuple[Light, ...]
    dwell: Annotated[Quantity | None, in_unit("s", "s")] = None
    dwell_verdict: Word | None = None
    flags: tuple[str, ...] = field(default=(), metadata=_NOT_STORED)  # they stand with the record's own

    @property
    def name(self) -> str:
        """The mark, or the time."""
        return self.marked or name_of(self.open_s)

    @property
    def figures(self) -> tuple[Figure, ...]:
        """The delay of the class under test, how long the contact stays closed, and what may be used with it."""
        under_test = [one for one in self.classes if one.contact == (self.contact or "X") and one.verdict]
        by = f"the {self.contact} contact" if self.contact else NOT_NAMED
        return (
            *(self._delay_figure(one) for one in under_test),
            *self._dwell_figures(),
            *(
                Figure(name=f"{one.light} by {by}", value=None, unit="", n=len(self.i_firings), marked=self.name,
                       says=_USABLE[one.usable])
                for one in self.lights
            ),
        )  # fmt: skip

    def _delay_figure(self, one: ClassVerdict) -> Figure:
        """The class under test; where nobody said which that is, the delay that X is judged by, of no class."""
        what = f"class {one.contact} contact" if self.contact else NOT_NAMED
        name, n = f"{what}, from {one.instant} to the make", len(self.i_firings)
        if one.mean_delay is None:
            return Figure(
                name=name, value=None, unit="s", n=n, verdict=one.verdict, marked=self.name, says="does not close"
            )
        delay = Figure.of(name, one.mean_delay, n=n, verdict=one.verdict, marked=self.name)
        return replace(delay, has_sign=True)

    def _dwell_figures(self) -> tuple[Figure, ...]:
        if self.dwell is None:
            return ()
        return (
            Figure.of(
                "contact stays closed", self.dwell, n=len(self.i_firings), verdict=self.dwell_verdict, marked=self.name
            ),
        )


@dataclass(frozen=True, kw_only=True)
class Input:
    """How the recording was made. `crosstalk_db` is of the light in the contact's channel, where it is seen.

    `is_bridged` says that a wire closed the contact once; `corners_hz` are of the light's channel.
    """

    rate_hz: float
    light_channel: int
    corners_hz: tuple[float, ...]
    crosstalk_db: float | None
    is_bridged: bool
    sensor: str

    @property
    def i_light(self) -> int:
        """The light's channel, from nought."""
        return self.light_channel - 1


@dataclass(frozen=True, kw_only=True)
class SyncRecord(Record):
    """All firings of a recording in order, what was skipped, and what each speed says.

    `compared` is always None: a delay is no error in stops, and the verdicts stand in `at_speeds`.
    """

    firings: tuple[Firing, ...] = ()
    skipped: tuple[Skipped, ...] = ()
    input: Input | None = None
    at_speeds: tuple[Speed, ...] = ()
    compared: None = None

    def __post_init__(self) -> None:
        """Records that were stored before there were figures get them from their speeds."""
        if not self.figures:
            object.__setattr__(self, "figures", tuple(one for speed in self.at_speeds for one in speed.figures))


@dataclass(frozen=True)
class Measured:
    """What `measure` found in a recording, before any class is judged."""

    firings: tuple[Firing, ...]
    skipped: tuple[Skipped, ...]
    input: Input
    flags: tuple[str, ...]
