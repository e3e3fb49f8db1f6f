"""A value with its unit and its uncertainty budget, and the rule that turns it into a verdict.

The budget is a list of named lines, and the reader of a certificate sees every one of them.
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

    `u` is its standard uncertainty in the unit of the result, `dof` its degrees of freedom, and `kind` tells how it was
    evaluated: A from repeated observations, B in any other way. [jcgm-100] 4.2 and 4.3.
    """

    name: str
    u: float
    dof: float = math.inf
    kind: Kind = "B"


@dataclass(frozen=True)
class Quantity:
    """A measured value, its unit and its budget, whose lines are independent of each other."""

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
        """Half the width of the 95 % interval: U = k u. [jcgm-100] 6.2.1, eq. (18)."""
        return coverage_factor(self.dof) * self.u

    @property
    def interval(self) -> tuple[float, float]:
        """The 95 % interval, lower end first."""
        return self.value - self.expanded_u, self.value + self.expanded_u


@dataclass(frozen=True)
class Verdict:
    """What may be said of a value and its limits, and the probability that the true value lies within them."""

    word: Word
    probability: float


def shared_lines(lines: Iterable[BudgetLine], shared: Set[str]) -> tuple[BudgetLine, ...]:
    """Keep the largest line of each shared name; the other names are left out.

    A shared line is the same error in every reading of one thing, as that of a clock, so a mean of many has all of it.
    Of unlike sizes the largest is the safe one.

    Parameters
    ----------
    lines
        The lines of all readings.
    shared
        The names of the shared ones.
    """
    largest: dict[str, BudgetLine] = {}
    for line in lines:
        if line.name in shared and (line.name not in largest or line.u > largest[line.name].u):
            largest[line.name] = line
    return tuple(largest.values())


def mean_of(readings: Sequence[Quantity], shared: Set[str]) -> Quantity:
    """Mean of readings of one thing, with its repeatability and the lines that the readings share.

    Parameters
    ----------
    readings
        At least one. A single one is returned as it is.
    shared
        The names of the shared lines, as `shared_lines` takes them. The other lines show in the scatter.

    References
    ----------
    [jcgm-100] 4.2.3, eq. (5): u² = s²/n.
    """
    if len(readings) == 1:
        return readings[0]
    values = np.array([one.value for one in readings])
    n = len(values)
    spread = BudgetLine("repeatability", float(values.std(ddof=1)) / math.sqrt(n), n - 1, "A")
    lines = shared_lines((line for one in readings for line in one.budget), shared)
    return Quantity(float(values.mean()), readings[0].unit, (spread, *lines))


def combined_u(budget: tuple[BudgetLine, ...]) -> float:
    """Combined standard uncertainty: the root of the sum of the squares of the lines.

    References
    ----------
    [jcgm-100] 5.1.2, eq. (10). The sensitivities are in the lines already; there is no correlation.
    """
    return math.hypot(*(line.u for line in budget))


def effective_dof(budget: tuple[BudgetLine, ...]) -> float:
    """Effective degrees of freedom by Welch and Satterthwaite; infinite if no line limits them.

    Notes
    -----
    u⁴/dof = Σ u_i⁴/dof_i: a variance with dof degrees of freedom has itself the variance 2 u⁴/dof, and variances of
    independent lines add up.

    References
    ----------
    [jcgm-100] G.4.1, eq. (G.2b).
    """
    limiting = sum(line.u**4 / line.dof for line in budget if math.isfinite(line.dof))
    return combined_u(budget) ** 4 / limiting if limiting > 0 else math.inf


def coverage_factor(dof: float, confidence: float = CONFIDENCE) -> float:
    """Coverage factor k of a two-sided interval, by Student's t.

    Notes
    -----
    Two-sided 95 % leaves 2.5 % beyond each end: the quantile is that of 0.5 + 0.95/2. The guide rounds fractional
    degrees of freedom down or interpolates (G.4.1 note 1); Student's t is defined between whole ones, so it is used.

    References
    ----------
    [jcgm-100] G.3, table G.2.
    """
    return t_quantile(0.5 + confidence / 2, dof)


def t_quantile(probability: float, dof: float) -> float:
    """Quantile of Student's t; of the normal distribution if `dof` is infinite."""
    return float(special.ndtri(probability) if math.isinf(dof) else special.stdtrit(dof, probability))


def t_probability(t: float, dof: float) -> float:
    """Probability that Student's t is below `t`."""
    return float(special.ndtr(t) if math.isinf(dof) or math.isinf(t) else special.stdtr(dof, t))


def conformance_probability(value: float, u: float, dof: float, lower: float, upper: float) -> float:
    """Probability that the true value lies between two limits; either may be infinite.

    Notes
    -----
    What is known of the true value is centred on `value` and `u` wide: P = F((upper - value)/u) - F((lower - value)/u),
    where F is the normal distribution, or Student's t if `u` has finite degrees of freedom.

    References
    ----------
    [jcgm-106] 7.2 to 7.4, for the normal distribution.
    """
    if u == 0:
        return float(lower <= value <= upper)
    return t_probability((upper - value) / u, dof) - t_probability((lower - value) / u, dof)


def verdict(value: float, u: float, dof: float, lower: float, upper: float) -> Verdict:
    """Decide by guarded acceptance and guarded rejection, 95 % each.

    The verdict is *within* if the true value lies between the limits with at least 95 % probability, *outside* if it
    lies beyond them with at least 95 %, else *undecided*. If only one limit is near, that is a guard band of
    t(95 %, dof) times `u`, one-sided: 1.645 u for infinite degrees of freedom.

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
