"""What a bench test found, in one shape for every test: who measured what how, and the figures.

Each test adds to `Record` what it alone knows. `codec` writes and reads it; nothing else knows the keys.
"""

from dataclasses import dataclass
from typing import Annotated, Self

from camerawright.bench.codec import Keys, in_unit
from camerawright.quantity import Quantity, Word, coverage_factor
from camerawright.trouble import NotMeasurable

Seconds = Annotated[Quantity, in_unit("s", "s")]
SecondsWithBudget = Annotated[Quantity, in_unit("s", "s", budget="budget_{}")]
Stops = Annotated[Quantity, in_unit("stop", "stops")]
StopsWith95 = Annotated[Quantity, Keys("stop", value="{}", u="u_{}", expanded="U95_{}")]


@dataclass(frozen=True, kw_only=True)
class Figure:
    """One number that a test found, as every shell shows it and every script reads it.

    `marked` is the speed it belongs to, where a recording holds several; `n` is how many readings are behind it, None
    where that means nothing. `k95` is the coverage factor of its 95 % interval. A figure without a value is a word:
    `says`. `is_error` marks an error against a marked speed: the table of speeds shows those.
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
    def is_calibration(self) -> bool:
        """Whether it calibrates a tool of the bench and says nothing of a camera."""
        return False
