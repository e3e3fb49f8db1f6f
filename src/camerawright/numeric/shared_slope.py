"""The slope that several runs of readings share, each run having a level of its own; and the move that brings zero."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import special

from camerawright.quantity import BudgetLine, Quantity, coverage_factor, effective_dof

Floats = NDArray[np.float64]

_MOST_ITERATIONS = 20
_SCATTER_PASSED_BY_CHANCE = 0.05  # of chi squared. Common practice


@dataclass(frozen=True, eq=False)
class Run:
    """Readings between which only one thing was moved; all of shape (n,), in order.

    `at` tells where that thing stood (from any zero), and `n_moves` how many moves had been made by then. `value` with
    its `u` (k = 1) and its degrees of freedom `dof` is what was read.
    """

    at: Floats
    n_moves: Floats
    value: Floats
    u: Floats
    dof: Floats


@dataclass(frozen=True, eq=False)
class SharedSlope:
    """The slope of value against place, common to all runs.

    `slope` has the budget lines *readings*, *moves* and, if the readings scatter about the lines by more than their own
    uncertainties, *scatter about the line*. `weights` holds d(slope)/d(value) of each reading, for each run. `stretch`
    (1 or more) is the factor by which the scatter exceeds those uncertainties, on `dof_scatter` degrees of freedom.
    """

    slope: Quantity
    weights: tuple[Floats, ...]
    stretch: float
    dof_scatter: int

    @property
    def is_told_from_zero(self) -> bool:
        """Whether zero lies outside the 95 % interval."""
        return abs(self.slope.value) > self.slope.expanded_u


@dataclass(frozen=True)
class Move:
    """How far to move, and its 95 % interval."""

    value: float
    low: float
    high: float


def shared_slope(runs: Sequence[Run], *, u_move: float, unit: str) -> SharedSlope:
    """Fit parallel lines by generalised least squares.

    Parameters
    ----------
    runs
        At least one of them with readings at two places.
    u_move
        Standard uncertainty of the size of one move.
    unit
        The unit of the slope.

    Returns
    -------
    SharedSlope
        The slope with its budget.

    Raises
    ------
    ValueError
        No run has readings at two places.

    Notes
    -----
    Model: value = level of the run + slope x place. The error of a move displaces all later readings of its run, each
    by slope x error. So two readings of a run have the covariance slope² u_move² times the number of moves made before
    both. It depends on the slope that it helps to find, so the fit is repeated until the slope stays (effective
    variance). If chance would make chi squared as large in fewer than 5 % of cases, the uncertainty is stretched by the
    root of chi squared over its degrees of freedom (Birge ratio), and the stretch has these degrees of freedom.

    References
    ----------
    [jcgm-100] 5.1.2, G.4.1. [orear-1982] for the effective variance, [birge-1932] for the ratio.
    """
    if not any(np.ptp(run.at) > 0 for run in runs):
        raise ValueError("a slope needs a run with readings at two places")
    slope = 0.0
    for _ in range(_MOST_ITERATIONS):
        told = _fitted(runs, slope, u_move)
        if math.isclose(told[0], slope, rel_tol=1e-9, abs_tol=1e-15):
            break
        slope = told[0]
    slope, weights, chi2 = told
    dof_scatter = sum(len(run.at) for run in runs) - len(runs) - 1
    readings, dof = _from_readings(runs, weights)
    moved = math.sqrt(
        sum(float(w @ _moves_covariance(run, slope, u_move) @ w) for run, w in zip(runs, weights, strict=True))
    )
    stretch = 1.0
    if dof_scatter > 0 and special.chdtrc(dof_scatter, chi2) < _SCATTER_PASSED_BY_CHANCE:
        stretch = math.sqrt(chi2 / dof_scatter)
    budget = [BudgetLine("readings", readings, dof, "A"), BudgetLine("moves", moved)]
    if stretch > 1:
        # (stretch u)² = u² + rest²
        rest = math.hypot(readings, moved) * math.sqrt(stretch**2 - 1)
        budget.append(BudgetLine("scatter about the line", rest, dof_scatter, "A"))
    return SharedSlope(Quantity(slope, unit, tuple(budget)), weights, stretch, dof_scatter)


def move_to_zero(fit: SharedSlope, run: Run, i_run: int | None) -> Move | None:
    """Find how far to move from the place of a run's last reading to bring the value to zero.

    Parameters
    ----------
    fit
        The slope.
    run
        Its last reading tells how things stand now.
    i_run
        Which of the fitted runs that is; None if it is none of them.

    Returns
    -------
    Move or None
        None while the 95 % interval of the slope holds zero: then any move might be the right one.

    Notes
    -----
    The move is -value / slope. Its interval is that of a ratio of two correlated estimates (Fieller): all moves m for
    which value + slope x m is no further from zero than k times its u,

        (value + slope m)² <= k² (u_value² + 2 m cov(value, slope) + m² u_slope²).

    Between the roots of that quadratic; it is not symmetric about the move. As the slope is Σ w x value and the run's
    last reading is one of these values, cov(value, slope) = w u_value².

    References
    ----------
    [fieller-1954]. [jcgm-100] 5.2.2 for the correlation, G.4.1 for k.
    """
    value, slope = float(run.value[-1]), fit.slope.value
    if not fit.is_told_from_zero:
        return None
    move = -value / slope
    u2_value, u2_slope = float(run.u[-1]) ** 2, fit.slope.u**2
    shared = float(fit.weights[i_run][-1]) * u2_value if i_run is not None else 0.0
    k = coverage_factor(value_after(fit, run, i_run, move).dof)
    # a m² + 2 b m + c = 0
    a = slope**2 - k**2 * u2_slope
    b = value * slope - k**2 * shared
    c = value**2 - k**2 * u2_value
    inside = b * b - a * c
    if a <= 0 or inside < 0:
        return None
    return Move(move, *sorted(((-b - math.sqrt(inside)) / a, (-b + math.sqrt(inside)) / a)))


def _fitted(runs: Sequence[Run], slope: float, u_move: float) -> tuple[float, tuple[Floats, ...], float]:
    """Fit the slope, its weights and chi squared; the covariance of a run is taken at a given slope."""
    # With C⁻¹ the inverse covariance of a run and 1 a vector of ones, the best level leaves (value - slope at)ᵀ Q
    # (value - slope at) with Q = C⁻¹ - C⁻¹ 1 1ᵀ C⁻¹ / (1ᵀ C⁻¹ 1). Least over all runs together at
    # slope = Σ atᵀ Q value / Σ atᵀ Q at, which is linear in the values
    information, gathered, factors = 0.0, [], []
    for run in runs:
        inverse = np.linalg.inv(np.diag(run.u**2) + _moves_covariance(run, slope, u_move))
        ones = inverse.sum(axis=1)
        off_level = inverse - np.outer(ones, ones) / ones.sum()  # takes the run's own level out
        gathered.append(off_level)
        factors.append(off_level @ run.at)
        information += float(run.at @ off_level @ run.at)
    weights = tuple(factor / information for factor in factors)
    found = float(sum(float(w @ run.value) for w, run in zip(weights, runs, strict=True)))
    chi2 = 0.0
    for run, off_level in zip(runs, gathered, strict=True):
        left = run.value - found * run.at
        chi2 += float(left @ off_level @ left)
    return found, weights, chi2


def _moves_covariance(run: Run, slope: float, u_move: float) -> Floats:
    """Covariance that the errors of the moves give the readings of a run, shape (n, n)."""
    return np.asarray((slope * u_move) ** 2 * np.minimum.outer(run.n_moves, run.n_moves), dtype=np.float64)


def _from_readings(runs: Sequence[Run], weights: Sequence[Floats]) -> tuple[float, float]:
    """Standard uncertainty of the slope from the readings alone, and its effective degrees of freedom."""
    lines = tuple(
        BudgetLine("reading", abs(float(w)) * float(u), float(dof))
        for run, of_run in zip(runs, weights, strict=True)
        for w, u, dof in zip(of_run, run.u, run.dof, strict=True)
    )
    return math.hypot(*(line.u for line in lines)), effective_dof(lines)


def value_after(fit: SharedSlope, run: Run, i_run: int | None, move: float) -> Quantity:
    """Predict the value after a move from a run's last reading; its budget has the line *now* and those of the slope.

    The move is taken as made exactly. The arguments are those of `move_to_zero`.

    References
    ----------
    [jcgm-100] 5.2.2, eq. (13). The last reading is part of the slope too: twice their covariance stands in *now*.
    """
    u2_now = float(run.u[-1]) ** 2
    shared = float(fit.weights[i_run][-1]) * u2_now if i_run is not None else 0.0
    others = tuple(BudgetLine(line.name, abs(move) * line.u, line.dof, line.kind) for line in fit.slope.budget)
    now = BudgetLine("now", math.sqrt(max(u2_now + 2 * move * shared, 0.0)), float(run.dof[-1]), "A")
    return Quantity(float(run.value[-1]) + fit.slope.value * move, "", (now, *others))
