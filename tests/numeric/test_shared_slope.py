"""The slope shared by several runs: worked by hand, beside lmfit, and honest over simulated adjustments."""

import math

import lmfit  # type: ignore[import-untyped]
import numpy as np
import pytest

from camerawright.numeric.shared_slope import Move, Run, SharedSlope, move_to_zero, shared_slope, value_after


def run(at: list[float], value: list[float], u: list[float], *, dof: float = math.inf) -> Run:
    """Readings at places, a move between each two."""
    n = len(at)
    return Run(np.array(at), np.arange(n, dtype=float), np.array(value), np.array(u), np.full(n, dof))


def test_a_weighted_line_through_three_points_is_that_worked_by_hand() -> None:
    """Weights 625, 1111, 625 about x = 1/4: Sxx = 2 x 625/16; slope = 625/4 x (0.22 - 0.60)/Sxx; u = Sxx^-1/2."""
    fit = shared_slope([run([0, 0.25, 0.5], [0.60, 0.38, 0.22], [0.04, 0.03, 0.04])], u_move=0, unit="stop/turn")
    assert fit.slope.value == pytest.approx(-0.76)
    assert fit.slope.u == pytest.approx(78.125**-0.5)
    assert fit.dof_scatter == 1
    assert fit.stretch == 1


def test_two_readings_and_what_the_move_is_off_by_hand() -> None:
    """[orear-1982], [jcgm-100] 5.1.2 (10): s = (0.1 - 0.5)/0.5; u² = (0.03² + 0.04²)/0.5² + (0.8 x 0.02/0.5)²."""
    fit = shared_slope([run([0, 0.5], [0.5, 0.1], [0.03, 0.04], dof=5)], u_move=0.02, unit="stop/turn")
    assert fit.slope.value == pytest.approx(-0.8)
    assert fit.slope.u == pytest.approx(math.hypot(0.05 / 0.5, 0.8 * 0.02 / 0.5))
    assert {line.name: line.u for line in fit.slope.budget} == pytest.approx({"readings": 0.1, "moves": 0.032})
    # G.4.1 by hand: (0.06^4 + 0.08^4)/5 under u^4
    assert fit.slope.dof == pytest.approx((0.1**2 + 0.032**2) ** 2 / ((0.06**4 + 0.08**4) / 5))


def test_parallel_lines_are_those_of_lmfit() -> None:
    """lmfit 1.3, least squares with a level for each run and one slope, weights 1/u, covariance not scaled."""
    rng = np.random.default_rng(4)
    runs = [
        run(list(np.cumsum(rng.uniform(-0.5, 0.8, n))), list(rng.normal(0.3, 0.2, n)), list(rng.uniform(0.02, 0.2, n)))
        for n in (2, 4, 3)
    ]
    parameters = lmfit.Parameters()
    parameters.add("slope", value=0)
    for i in range(len(runs)):
        parameters.add(f"level{i}", value=0)

    def left(p: lmfit.Parameters) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.concatenate(
            [(r.value - p[f"level{i}"] - p["slope"] * r.at) / r.u for i, r in enumerate(runs)], dtype=np.float64
        )

    theirs = lmfit.minimize(left, parameters, scale_covar=False)
    ours = shared_slope(runs, u_move=0, unit="")
    assert ours.slope.value == pytest.approx(theirs.params["slope"].value, rel=1e-6)
    assert math.hypot(ours.slope.budget[0].u, ours.slope.budget[1].u) == pytest.approx(
        theirs.params["slope"].stderr, rel=1e-4
    )
    assert ours.dof_scatter == theirs.nfree
    assert ours.stretch in (1.0, pytest.approx(math.sqrt(theirs.redchi), rel=1e-6))


def test_readings_off_the_line_stretch_the_uncertainty() -> None:
    """[birge-1932] by hand: four readings 10 u off the line, chi² = 4 x 100 on 5 - 2 degrees of freedom."""
    fit = shared_slope([run([0, 1, 1, 0, 0.5], [0.1, 0.9, 1.1, -0.1, 0.5], [0.01] * 5)], u_move=0, unit="")
    assert fit.slope.value == pytest.approx(1.0)
    assert fit.stretch == pytest.approx(math.sqrt(4 * 100 / 3))
    assert fit.slope.u == pytest.approx(fit.stretch * 0.01)  # Sxx = 4 x 0.5² = 1
    assert [(line.name, line.kind) for line in fit.slope.budget] == [
        ("readings", "A"),
        ("moves", "B"),
        ("scatter about the line", "A"),
    ]
    assert fit.slope.budget[-1].dof == 3


def test_scatter_stretches_what_the_moves_add_too() -> None:
    """[birge-1932]: u of the whole slope, its moves included, times the stretch."""
    fit = shared_slope([run([0, 1, 1, 0, 0.5], [0.1, 0.9, 1.1, -0.1, 0.5], [0.01] * 5)], u_move=0.01, unit="")
    readings, moves, _ = fit.slope.budget
    assert fit.stretch > 2
    assert moves.u > 0.3 * readings.u
    assert fit.slope.u == pytest.approx(fit.stretch * math.hypot(readings.u, moves.u))


def test_a_run_at_one_place_is_no_slope() -> None:
    with pytest.raises(ValueError, match="two places"):
        shared_slope([run([1, 1], [0, 1], [1, 1])], u_move=0, unit="")


def test_the_move_has_the_ends_that_the_quadratic_gives_by_hand() -> None:
    """Value 1 ± 0 and slope -2, u 0.25, known well: m = 1/(2 -+ 1.96 x 0.25) for a last reading without error."""
    slope = shared_slope([run([0, 1], [2, 0], [0.25, 1e-5])], u_move=0, unit="")
    move = move_to_zero(slope, run([5], [1.0], [1e-5]), None)
    assert move is not None
    assert move.value == pytest.approx(0.5)
    k = 1.959964  # standard normal, 97.5 %
    assert (move.low, move.high) == pytest.approx((1 / (2 + k * 0.25), 1 / (2 - k * 0.25)), rel=1e-5)
    assert value_after(slope, run([5], [1.0], [1e-5]), None, 0.5).u == pytest.approx(0.5 * 0.25)


@pytest.mark.parametrize("move", [-0.5, 0.75, 2.0])
def test_the_last_reading_counts_once_though_it_is_part_of_the_slope(move: float) -> None:
    """By hand: after a move m from the second of two readings, v1 + m (v1 - v0) = (1 + m) v1 - m v0."""
    readings = run([0, 1], [0.9, 0.3], [0.03, 0.05])
    fit = shared_slope([readings], u_move=0, unit="")
    after = value_after(fit, readings, 0, move)
    assert after.value == pytest.approx(0.3 - 0.6 * move)
    assert after.u == pytest.approx(math.hypot((1 + move) * 0.05, move * 0.03))
    assert after.budget[0].name == "now"
    apart = value_after(fit, readings, None, move)  # another camera of the same reading: nothing is shared
    assert apart.u == pytest.approx(math.hypot(0.05, move * math.hypot(0.05, 0.03)))


def test_the_ends_of_the_move_are_those_at_which_the_value_is_just_told_from_zero() -> None:
    """[fieller-1954] by hand, two readings: |(1 + m) v1 - m v0| is k times √(((1 + m) u1)² + (m u0)²) at either end."""
    readings = run([0, 1], [0.9, 0.3], [0.03, 0.05])
    move = move_to_zero(shared_slope([readings], u_move=0, unit=""), readings, 0)
    assert move is not None
    assert move.value == pytest.approx(0.5)
    assert move.low < move.value < move.high
    k = 1.959964  # standard normal, 97.5 %
    for m in (move.low, move.high):
        assert abs(0.3 - 0.6 * m) == pytest.approx(k * math.hypot((1 + m) * 0.05, m * 0.03), rel=1e-5)


def test_a_slope_that_is_not_told_from_zero_gives_no_move() -> None:
    fit = shared_slope([run([0, 1], [0.1, 0.0], [0.1, 0.1])], u_move=0, unit="")
    assert not fit.is_told_from_zero
    assert move_to_zero(fit, run([0], [0.1], [0.1]), None) is None


# Honesty


def simulated(
    rng: np.random.Generator, slope: float, turns: list[list[float]], sd: float, n_firings: int
) -> tuple[list[Run], float]:
    """Cameras whose adjuster is turned within ±10° of what is entered, read by means of firings; the last truth."""
    runs = []
    for of_camera in turns:
        level = rng.normal(0, 0.5)
        nominal = np.concatenate(([0.0], np.cumsum(of_camera)))
        actual = nominal + np.concatenate(([0.0], np.cumsum(rng.uniform(-10 / 360, 10 / 360, len(of_camera)))))
        truth = level + slope * actual
        firings = truth[:, None] + rng.normal(0, sd, (len(truth), n_firings))
        runs.append(
            Run(
                nominal,
                np.arange(len(truth), dtype=float),
                firings.mean(axis=1),
                firings.std(axis=1, ddof=1) / math.sqrt(n_firings),
                np.full(len(truth), n_firings - 1.0),
            )
        )
    return runs, float(truth[-1])


CELLS = {
    "one turn": ([[0.5]], 0.05),
    "one turn, quiet": ([[0.5]], 0.005),
    "three turns": ([[0.5, -0.25, 0.25]], 0.05),
    "two cameras": ([[0.5, 0.25], [0.25, 0.25]], 0.05),
    "two cameras, quiet": ([[0.5, 0.25], [0.25, 0.25]], 0.01),
}


def test_the_stated_intervals_hold_the_truth() -> None:
    """Slope and move, 1000 adjustments a cell; 95 % intervals hold 93 to 98 % pooled, and no cell less than 92 %."""
    rng = np.random.default_rng(16)
    slope, u_move, n = 1.2, 10 / 360 / math.sqrt(3), 1000
    held: dict[str, tuple[float, float]] = {}
    for name, (turns, sd) in CELLS.items():
        slopes, moves = [], []
        for _ in range(n):
            runs, value = simulated(rng, slope, turns, sd, n_firings=6)
            fit: SharedSlope = shared_slope(runs, u_move=u_move, unit="stop/turn")
            low, high = fit.slope.interval
            slopes.append(low <= slope <= high)
            move: Move | None = move_to_zero(fit, runs[-1], len(runs) - 1)
            if move is not None:
                moves.append(move.low <= -value / slope <= move.high)
        held[name] = float(np.mean(slopes)), float(np.mean(moves))
        assert len(moves) > 0.95 * n
    pooled = np.mean(list(held.values()), axis=0)
    assert all(0.93 <= part <= 0.98 for part in pooled), held
    assert min(min(pair) for pair in held.values()) >= 0.92, held
