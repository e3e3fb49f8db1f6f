"""What a bench test found, in one shape for every test: who measured what how, and the figures.

Each test adds to `Record` what it alone knows. `codec` writes and reads it; nothing else knows the keys.
"""

from dataclasses import dataclass
from typing import ClassVar, Final, Self

from camerawright.quantity import Quantity, Word, coverage_factor
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

EFFECTIVE: Final = "effective"
"""The name of an effective time: the table of speeds shows it, with the error against the mark."""


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One number that a test found, as every shell shows it and every script reads it.

    `marked` is the speed it belongs to, where a recording holds several; `n` is how many readings are behind it, None
    where that means nothing. `k95` is the coverage factor of its 95 % interval. A figure without a value is a word:
    `says`. `is_error` marks an error against a marked speed: the table of speeds shows those. `has_sign` figures
    say by their sign on which side of zero they lie, and are shown with a plus. `allowed` says what the verdict is
    against, where no table of speeds does, and `source` where that is from.
    """

    name: str
    value: float | None
    unit: str
    u: float | None = None
    k95: float | None = None
    n: int | None = None
    verdict: Word | None = None
    marked: str = ""
    says: str = ""
    is_error: bool = False
    has_sign: bool = False
    allowed: str = ""
    source: str = ""

    @classmethod
    def of(
        cls, name: str, quantity: Quantity, *, n: int | None = None, verdict: Word | None = None, marked: str = ""
    ) -> Self:
        """A measured quantity."""
        return cls(
            name=name, value=quantity.value, unit=quantity.unit, u=quantity.u, k95=coverage_factor(quantity.dof), n=n,
            verdict=verdict, marked=marked,
        )  # fmt: skip

    @property
    def label(self) -> str:
        """Its name as people read it."""
        return self.name.replace("_", " ")

    @property
    def expanded_u(self) -> float | None:
        """Half the width of the 95 % interval."""
        return None if self.u is None else (self.k95 or coverage_factor(float("inf"))) * self.u


@dataclass(frozen=True)
class Skipped:
    """A firing that is there and cannot be measured."""

    at_s: float
    reason: str
    advice: str


@dataclass(frozen=True)
class Refusal:
    """Why there is no measurement, and what to do instead."""

    reason: str
    advice: str

    @classmethod
    def of(cls, why: NotMeasurable) -> Self:
        """From what was raised."""
        return cls(why.what, why.mend)


@dataclass(frozen=True, kw_only=True)
class Record:
    """What every test's record holds. `refused` says why there are no figures, where there are none."""

    is_relative: ClassVar[bool] = False
    """Whether its figures only compare a camera with itself, before and after: such figures go on no certificate."""

    test: str
    method: str
    figures: tuple[Figure, ...] = ()
    flags: tuple[str, ...] = ()
    refused: Refusal | None = None

    @property
    def advice(self) -> tuple[str, ...]:
        """What to look at next, in the repairer's terms; most tests have none."""
        return ()

    @property
    def budgeted(self) -> tuple[tuple[str, Quantity], ...]:
        """The quantities whose budgets a certificate shows, where no table of speeds does, by their names."""
        return ()

    @property
    def is_calibration(self) -> bool:
        """Whether it calibrates a tool of the bench and says nothing of a camera."""
        return False


_SHOWN: Final = {"s": (1e3, "ms"), "stop": (1.0, "stops"), "1": (100.0, "%"), "1/s": (1.0, "a second")}
"""How people read a unit: what a value in it is multiplied by, and the unit beside it."""


_SHORT_S: Final = 1e-6  # an interval below this would read "± 0.000 ms"


def figure_text(figure: Figure) -> str:
    """A figure as tables show it: value, half its 95 % interval, unit; or its word."""
    if figure.value is None:
        return figure.says
    scale, unit = _SHOWN.get(figure.unit, (1.0, figure.unit))
    if figure.unit == "s" and figure.expanded_u is not None and figure.expanded_u < _SHORT_S:
        scale, unit = 1e6, "µs"
    if figure.expanded_u is None:
        return f"{numbers.short(scale * figure.value, 3)} {unit}".rstrip()
    value = numbers.with_interval(scale * figure.value, scale * figure.expanded_u, has_sign=figure.has_sign)
    return f"{value} {unit}"
