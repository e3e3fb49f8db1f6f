"""The uncertainty engine and the decision rule, against the guides' worked examples."""

import math

import numpy as np
import pytest

from camerawright.quantity import (
    BudgetLine,
    Quantity,
    conformance_probability,
    coverage_factor,
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
