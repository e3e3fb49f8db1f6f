"""What the measurement of a slow train found."""

from dataclasses import dataclass, field
from typing import Annotated, Any, ClassVar, Final

from camerawright.bench.codec import Keys, Named, in_unit
from camerawright.bench.record import Figure, Record, Refusal, Skipped
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity

Part = Annotated[Quantity, in_unit("1")]

_NOT_STORED: Final[dict[str, Any]] = {"stored": False}


@dataclass(frozen=True)
class Beat:
    """One beat's length against the line through all: deviation and u, relative to the usual beat."""

    at_s: float
    deviation: float
    u_deviation: float


@dataclass(frozen=True)
class Stall:
    """The train stood still for so long beyond a beat's length, that part of the run along; before beat `i_beat`."""

    at_s: float
    length_s: float
    part: float
    i_beat: int = field(default=0, metadata=_NOT_STORED)


@dataclass(frozen=True, kw_only=True)
class OpenClose:
    """The time from opening to closing by sound, or why there is none.

    `flags` say what is doubtful: below 1/8 s, 2 ms are more than a per cent.
    """

    time: Annotated[Quantity | None, Keys("s", value="{}_s", u="u_{}_s", k95="k95", budget="budget")] = None
    stops_from_mark: float | None = None
    open_s: float | None = None
    close_s: float | None = None
    flags: tuple[str, ...] = ()
    refused: Refusal | None = None


@dataclass(frozen=True, kw_only=True)
class Run:
    """One run of the train.

    `beat_rate` is beats a second over all beats heard in a row; `drift` the change of a beat's length from first to
    last, `alternation` how much longer every other beat is than the one before, `unevenness` the standard deviation of
    what is left: all relative to the usual beat. `n_missed` beats were not heard. `late` are the beats off by more than
    15 %. `hang_s` goes from the last beat to the closing, beyond a beat's length; None where that is not known.
    """

    at_s: float
    stop_s: float
    n_beats: int
    n_missed: int
    beat_rate: Annotated[Quantity, in_unit("1/s", "hz", k95="k95_{}_hz", budget="budget_{}")]
    drift: Part
    alternation: Part
    unevenness: Part
    stalls: tuple[Stall, ...]
    late: tuple[Beat, ...]
    beats: tuple[Beat, ...]
    hang_s: float | None
    open_close: OpenClose
    flags: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Speed:
    """The runs of one setting of the speed dial, with the means over them.

    `lasts_s` is how long a run usually lasts without its stalls.
    """

    marked: str | None
    likely: str | None
    lasts_s: float
    i_firings: tuple[int, ...]
    beat_rate: Annotated[Quantity, in_unit("1/s", "hz", k95="k95_{}_hz")]
    unevenness: Part
    alternation: Part
    drift: Part
    n_stalls: int
    n_missed: int

    @property
    def name(self) -> str:
        """The mark, or the time."""
        return self.marked or name_of(self.lasts_s)

    @property
    def figures(self) -> tuple[Figure, ...]:
        """What tells one train before the work from the same after it."""
        n = len(self.i_firings)
        return (
            Figure.of("beats a second", self.beat_rate, n=n, marked=self.name),
            Figure.of("unevenness of the beat", self.unevenness, n=n, marked=self.name),
            Figure.of("slowing from first to last beat", self.drift, n=n, marked=self.name),
            Figure(name="stalls", value=float(self.n_stalls), unit="", n=n, marked=self.name),
        )


@dataclass(frozen=True)
class Hypothesis:
    """What was seen, what it may come from, and how to find out."""

    seen: str
    may_be: str
    test: str


@dataclass(frozen=True, kw_only=True)
class Input:
    """How the recording was made: the channel that was heard, and how far its loudest click is above the noise."""

    rate_hz: float
    channel: int
    snr_db: float


@dataclass(frozen=True, kw_only=True)
class EscapementRecord(Record):
    """All runs of a recording in order, what each speed says, and what may be behind it.

    `compared` is always None: by sound nothing is compared with a mark for a certificate.
    """

    is_relative: ClassVar[bool] = True

    runs: Annotated[tuple[Run, ...], Named("firings")] = ()
    skipped: tuple[Skipped, ...] = ()
    input: Input | None = None
    at_speeds: tuple[Speed, ...] = ()
    hypotheses: tuple[Hypothesis, ...] = ()
    compared: None = None

    def __post_init__(self) -> None:
        """Records that were stored before there were figures get them from their speeds."""
        if not self.figures:
            object.__setattr__(self, "figures", tuple(one for speed in self.at_speeds for one in speed.figures))

    @property
    def advice(self) -> tuple[str, ...]:
        """What may be behind the beat, and how to find out."""
        return tuple(f"{one.seen}: may be {one.may_be}. To find out: {one.test}" for one in self.hypotheses)


@dataclass(frozen=True)
class Measured:
    """The beat of every run in a recording."""

    runs: tuple[Run, ...]
    skipped: tuple[Skipped, ...]
    input: Input
    flags: tuple[str, ...]
