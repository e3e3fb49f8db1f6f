"""The uncertainty engine and the decision rule, against the guides' worked examples."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from camerawright.quantity import (
    BudgetLine,
    Quantity,
    conformance_probability,
    coverage_factor,
    effective_dof,
    mean_of,
    shared_lines,
    t_probability,
    t_quantile,
    verdict,
)
from tests import published

GUM = published.load("jcgm-100")
JCGM_106 = published.load("jcgm-106")

END_GAUGE = Quantity(
    50_000_838,
    "nm",
    (
        BudgetLine("standard", 25, 18, "A"),
        BudgetLine("difference", 9.7, 25.6, "A"),
        BudgetLine("expansion", 2.9, 50),
        BudgetLine("temperature", 16.6, 2),
    ),
)


def test_the_end_gauge_of_the_gum_has_the_printed_uncertainty() -> None:
    assert GUM["h1_u_nm"].holds(END_GAUGE.u)
    assert GUM["h1_dof"].value == math.floor(END_GAUGE.dof)
    t99 = coverage_factor(math.floor(END_GAUGE.dof), 0.99)
    assert GUM["h1_t99"].holds(t99)
    assert GUM["h1_expanded_99_nm"].holds(t99 * GUM["h1_u_nm"].value)  # the guide multiplies the rounded 32 nm


@pytest.mark.parametrize("dof", [1, 4, 19])
def test_the_coverage_factor_is_that_of_the_printed_t_table(dof: int) -> None:
    assert GUM[f"t95_{dof}"].holds(coverage_factor(dof))


@pytest.mark.parametrize(
    ("name", "value", "u", "lower", "upper"),
    [
        ("zener_conformance", -5.47, 0.05, -math.inf, -5.40),
        ("burst_conformance", 509.7, 8.6, 490, math.inf),
        ("two_sided_conformance", 13.6, 1.8, 12.5, 16.3),
    ],
)
def test_conformance_probabilities_are_those_of_jcgm_106(
    name: str, value: float, u: float, lower: float, upper: float
) -> None:
    assert JCGM_106[name].holds(conformance_probability(value, u, math.inf, lower, upper))


def test_the_speed_limit_example_of_jcgm_106_has_its_guard_band() -> None:
    # a true 100 km/h must read above the enforced limit with 0.1 % probability at most: v(1 - 3.09 x 2 %) = 100
    assert JCGM_106["speed_limit_km_h"].holds(100 / (1 - t_quantile(0.999, math.inf) * 0.02))


def test_the_guard_band_moves_a_third_stop_limit_by_1_645_u() -> None:
    """JCGM 106:2012 8.3.2, arithmetic: limits ±1/3, u 0.05 accept up to 0.2511."""
    assert verdict(0.2510, 0.05, math.inf, -1 / 3, 1 / 3).word == "within"
    assert verdict(0.2512, 0.05, math.inf, -1 / 3, 1 / 3).word == "undecided"
    assert verdict(-0.4157, 0.05, math.inf, -1 / 3, 1 / 3).word == "outside"
    assert verdict(-0.4155, 0.05, math.inf, -1 / 3, 1 / 3).word == "undecided"


def test_at_the_limit_the_probability_is_one_half() -> None:
    assert verdict(1 / 3, 0.01, math.inf, -1 / 3, 1 / 3).probability == pytest.approx(0.5)


def test_a_value_without_uncertainty_is_simply_compared() -> None:
    assert verdict(0.3, 0, math.inf, -1 / 3, 1 / 3).word == "within"
    assert verdict(0.4, 0, math.inf, -1 / 3, 1 / 3).word == "outside"


def test_a_bare_type_b_budget_has_infinite_degrees_of_freedom_and_k_1_96() -> None:
    quantity = Quantity(1.0, "s", (BudgetLine("a", 0.3), BudgetLine("b", 0.4)))
    assert quantity.u == pytest.approx(0.5)
    assert math.isinf(quantity.dof)
    assert quantity.interval == pytest.approx((1 - 0.97998, 1 + 0.97998), abs=1e-4)


@pytest.mark.parametrize("n", [3, 5, 10])
def test_a_true_value_at_the_limit_is_accepted_falsely_at_most_one_time_in_twenty(n: int) -> None:
    """Physical identity by Monte Carlo: the guard band does what it promises for few firings."""
    rng = np.random.default_rng(n)
    samples = rng.normal(1 / 3, 0.1, size=(20_000, n))
    means, u = samples.mean(axis=1), samples.std(axis=1, ddof=1) / math.sqrt(n)
    within = sum(
        verdict(float(m), float(s), n - 1, -math.inf, 1 / 3).word == "within" for m, s in zip(means, u, strict=True)
    )
    assert within / 20_000 == pytest.approx(0.05, abs=0.006)


# Students t and the decision, beside scipy.stats


@pytest.mark.parametrize("dof", [1.0, 2.5, 30.0, math.inf])
def test_probability_and_quantile_are_those_of_scipys_distribution(dof: float) -> None:
    """scipy.stats.t, norm."""
    theirs = stats.norm if math.isinf(dof) else stats.t(dof)
    for t in (-3.0, -0.4, 0.0, 1.7):
        assert t_probability(t, dof) == pytest.approx(float(theirs.cdf(t)))
        assert t_quantile(float(theirs.cdf(t)), dof) == pytest.approx(t, abs=1e-9)
    assert (t_probability(-math.inf, dof), t_probability(math.inf, dof)) == (0, 1)


@pytest.mark.parametrize("dof", [3.0, math.inf])
def test_conformance_is_the_part_of_the_distribution_between_the_limits(dof: float) -> None:
    """The density of scipy.stats integrated numerically."""
    theirs = stats.norm(2, 0.5) if math.isinf(dof) else stats.t(dof, 2, 0.5)
    between, _ = integrate.quad(theirs.pdf, 1.2, 2.4)
    assert conformance_probability(2.0, 0.5, dof, 1.2, 2.4) == pytest.approx(between)


@pytest.mark.parametrize(("value", "expected"), [(0.999, 0), (1, 1), (1.5, 1), (2, 1), (2.001, 0)])
def test_without_uncertainty_the_limits_themselves_are_within(value: float, expected: float) -> None:
    assert conformance_probability(value, 0.0, math.inf, 1, 2) == expected


def test_few_degrees_of_freedom_widen_the_guard_band() -> None:
    """t(95 %, 4) = 2.132, textbook table: a limit 2.1 u away is undecided with five readings, clear with a hundred."""
    assert verdict(0.0, 1.0, 4, -math.inf, 2.10).word == "undecided"
    assert verdict(0.0, 1.0, 4, -math.inf, 2.14).word == "within"
    assert verdict(0.0, 1.0, 99, -math.inf, 2.10).word == "within"
    assert verdict(0.0, 1.0, 4, 2.14, math.inf).word == "outside"
    assert verdict(0.0, 1.0, 4, 2.14, math.inf).probability == pytest.approx(0.05, abs=0.001)


# Means


def reading(value: float, **lines: float) -> Quantity:
    return Quantity(value, "ms", tuple(BudgetLine(name, u) for name, u in lines.items()))


def test_a_mean_has_its_repeatability_and_what_the_readings_share() -> None:
    """[jcgm-100] 4.2.3 by hand: 1, 2, 4 scatter by s = √(7/3), u = s/√3 on 2 degrees of freedom; of the clock's errors
    the largest stays whole; noise shows in the scatter."""
    mean = mean_of(
        [reading(1, clock=0.1, noise=9), reading(2, clock=0.3, noise=9), reading(4, noise=9, clock=0.2)], {"clock"}
    )
    assert mean.value == pytest.approx(7 / 3)
    assert mean.unit == "ms"
    scatter, clock = mean.budget
    assert (scatter.name, scatter.dof, scatter.kind) == ("repeatability", 2, "A")
    assert scatter.u == pytest.approx(math.sqrt(7) / 3)
    assert clock == BudgetLine("clock", 0.3)


def test_a_mean_of_one_is_that_one() -> None:
    one = reading(3, noise=0.2)
    assert mean_of([one], {"clock"}) is one


def test_more_readings_do_not_lessen_what_they_share() -> None:
    """1000 workshops with 100 readings each: the mean is as far off as the clock."""
    rng = np.random.default_rng(3)
    clocks = rng.normal(0, 0.3, 1000)
    away = [(clock + rng.normal(0, 1, 100)).mean() for clock in clocks]
    stated = mean_of([reading(value, clock=0.3) for value in rng.normal(0, 1, 100)], {"clock"}).u
    assert np.std(away) == pytest.approx(stated, rel=0.1)


def test_shared_lines_are_one_of_each_name_the_largest() -> None:
    lines = [BudgetLine("a", 1), BudgetLine("b", 5), BudgetLine("a", 3, 7, "A"), BudgetLine("a", 2), BudgetLine("c", 1)]
    assert shared_lines(lines, {"a", "c", "d"}) == (BudgetLine("a", 3, 7, "A"), BudgetLine("c", 1))


def test_effective_degrees_of_freedom_are_those_that_make_the_variances_scatter_alike() -> None:
    """Monte Carlo of Welch and Satterthwaite: the variance of an estimated variance u² is 2 u⁴/dof."""
    rng = np.random.default_rng(5)
    estimated = 4 * rng.chisquare(6, 200_000) / 6 + 9 * rng.chisquare(15, 200_000) / 15
    dof = effective_dof((BudgetLine("a", 2, 6), BudgetLine("b", 3, 15)))
    assert 2 * estimated.mean() ** 2 / estimated.var() == pytest.approx(dof, rel=0.02)
