"""A value with its unit and its uncertainty budget, and the rule that turns one into a verdict.

The budget is an explicit list of named lines: the reader of a certificate sees every one.
"""

import math
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import special

Kind = Literal["A", "B"]
Word = Literal["within", "outside", "undecided"]

CONFIDENCE = 0.95
"""The level of confidence of every expanded uncertainty and verdict."""


@dataclass(frozen=True)
class BudgetLine:
    """One named source of uncertainty.

    `u` is its standard uncertainty in the unit of the result, `dof` its degrees of freedom, and `kind` how it was
    evaluated: A from repeated observations, B otherwise (JCGM 100:2008, 4.2 and 4.3).
    """

    name: str
    u: float
    dof: float = math.inf
    kind: Kind = "B"


@dataclass(frozen=True)
class Quantity:
    """A measured value, its unit and its budget; the lines are taken as uncorrelated."""

    value: float
    unit: str
    budget: tuple[BudgetLine, ...]

    @property
    def u(self) -> float:
        """Combined standard uncertainty, k = 1."""
        return combined_u(self.budget)

    @property
    def dof(self) -> float:
        """Effective degrees of freedom of `u`."""
        return effective_dof(self.budget)

    @property
    def expanded_u(self) -> float:
        """Half the width of the 95 % interval."""
        return coverage_factor(self.dof) * self.u

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval, lower end first."""
        return self.value - self.expanded_u, self.value + self.expanded_u


@dataclass(frozen=True)
class Verdict:
    """What may be said about a value and its limits, and the probability that the true value is within them."""

    word: Word
    probability: float


def shared_lines(lines: Iterable[BudgetLine], shared: Set[str]) -> tuple[BudgetLine, ...]:
    """The largest line of each shared name: the same error in all readings of one thing, which more do not lessen.

    Parameters
    ----------
    lines
        Of all readings.
    shared
        Names of the lines that are such.
    """
    largest: dict[str, BudgetLine] = {}
    for line in lines:
        if line.name in shared and (line.name not in largest or line.u > largest[line.name].u):
            largest[line.name] = line
    return tuple(largest.values())


def mean_of(readings: Sequence[Quantity], shared: Set[str]) -> Quantity:
    """Mean of readings of one thing: its repeatability, and the largest of each line that all of them share.

    References
    ----------
    [jcgm-100] 4.2.3.
    """
    if len(readings) == 1:
        return readings[0]
    values = np.array([one.value for one in readings])
    n = len(values)
    spread = BudgetLine("repeatability", float(values.std(ddof=1)) / math.sqrt(n), n - 1, "A")
    lines = shared_lines((line for one in readings for line in one.budget), shared)
    return Quantity(float(values.mean()), readings[0].unit, (spread, *lines))


def combined_u(budget: tuple[BudgetLine, ...]) -> float:
    """Root sum of squares of the lines.

    References
    ----------
    [jcgm-100] 5.1.2, eq. (10), unit sensitivity, no correlation.
    """
    return math.hypot(*(line.u for line in budget))


def effective_dof(budget: tuple[BudgetLine, ...]) -> float:
    """Effective degrees of freedom by Welch and Satterthwaite; infinite when no line limits them.

    References
    ----------
    [jcgm-100] G.4.1, eq. (G.2b).
    """
    limiting = sum(line.u**4 / line.dof for line in budget if math.isfinite(line.dof))
    return combined_u(budget) ** 4 / limiting if limiting > 0 else math.inf


def coverage_factor(dof: float, confidence: float = CONFIDENCE) -> float:
    """Two-sided coverage factor k by Student's t, for fractional degrees of freedom too.

    References
    ----------
    [jcgm-100] G.3, table G.2. The guide rounds the degrees of freedom down or interpolates (G.4.1 note 1); we
    interpolate.
    """
    return t_quantile(0.5 + confidence / 2, dof)


def t_quantile(probability: float, dof: float) -> float:
    """Quantile of Student's t, of the normal distribution where `dof` is infinite."""
    return float(special.ndtri(probability) if math.isinf(dof) else special.stdtrit(dof, probability))


def t_probability(t: float, dof: float) -> float:
    """Probability that Student's t is below `t`."""
    return float(special.ndtr(t) if math.isinf(dof) or math.isinf(t) else special.stdtr(dof, t))


def conformance_probability(value: float, u: float, dof: float, lower: float, upper: float) -> float:
    """Probability that the true value lies between two limits, either of which may be infinite.

    References
    ----------
    [jcgm-106] 7.2 to 7.4, with Student's t in place of the normal distribution where `u` has finite degrees of freedom.
    """
    if u == 0:
        return float(lower <= value <= upper)
    return t_probability((upper - value) / u, dof) - t_probability((lower - value) / u, dof)


def verdict(value: float, u: float, dof: float, lower: float, upper: float) -> Verdict:
    """Decide by guarded acceptance and guarded rejection, 95 % each.

    *Within* when the true value lies between the limits with at least 95 % probability, *outside* when it lies beyond
    them with at least 95 %, else *undecided*. Near one limit that is a guard band of t(95 %, dof) times `u`.

    References
    ----------
    [jcgm-106] 8.3.2 and 8.3.3.
    """
    probability = conformance_probability(value, u, dof, lower, upper)
    if probability >= CONFIDENCE:
        return Verdict("within", probability)
    if probability <= 1 - CONFIDENCE:
        return Verdict("outside", probability)
    return Verdict("undecided", probability)
