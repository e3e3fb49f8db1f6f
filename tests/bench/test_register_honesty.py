"""Stated intervals of the register hold the truth as often as they say, over places, repeats, hand and step."""

from dataclasses import replace

import numpy as np
import pytest

from camerawright.bench import register
from camerawright.bench.register.simulate import CORNERS, SIDES, Scene, readings
from camerawright.recordings.table import Table
from tests.bench.test_register import plane_of

N = 700
FIVE, NINE = (*CORNERS, (0.0, 0.0)), (*CORNERS, *SIDES, (0.0, 0.0))
LIMITS_BY_CHANCE = 0.02  # 2.4 standard deviations of a frequency of 95 % in 700


def held(scene: Scene, *, is_flat: bool = False) -> list[float]:
    """How often the intervals of register and slopes hold the truth of bodies drawn anew each time."""
    hits = np.zeros(3)
    for seed in range(N):
        rng = np.random.default_rng([seed, scene.n_rounds, len(scene.at_mm), round(1e6 * scene.hand_mm)])
        nod, turn = (0.0, 0.0) if is_flat else 0.8e-3 * rng.standard_normal(2)
        body = replace(scene, register_mm=44.96 + rng.uniform(-0.05, 0.05), nod_rad=nod, turn_rad=turn)
        x_mm, y_mm, depth_mm = readings(body, rng)
        table = Table({"x_mm": x_mm, "y_mm": y_mm, "depth_mm": depth_mm})
        record = register.run(table, resolution_mm=str(body.step_mm))
        truth = (body.register_mm, *body.slopes_mrad)
        hits += [abs(one.value - true) <= one.expanded_u for one, true in zip(plane_of(record), truth, strict=True)]
    return list(hits / N)


@pytest.mark.parametrize("hand_mm", [0.005, 0.02])
@pytest.mark.parametrize(("at_mm", "n_rounds"), [(CORNERS, 3), (FIVE, 3), (NINE, 1), (NINE, 3)])
def test_where_the_hand_scatters_the_intervals_hold_the_truth_19_times_in_20(
    at_mm: tuple[tuple[float, float], ...], n_rounds: int, hand_mm: float
) -> None:
    parts = held(Scene(at_mm=at_mm, n_rounds=n_rounds, hand_mm=hand_mm))
    assert min(parts) >= 0.95 - LIMITS_BY_CHANCE
    assert np.mean(parts) <= 0.98


@pytest.mark.parametrize(("at_mm", "n_rounds"), [(CORNERS, 3), (FIVE, 3), (NINE, 1), (NINE, 3)])
def test_where_the_step_of_the_gauge_rules_they_hold_it_as_often_or_a_little_more(
    at_mm: tuple[tuple[float, float], ...], n_rounds: int
) -> None:
    """Rectangular errors have no tails, and k is that of Student's t: 99 % at the most where few of them are added."""
    for part in held(Scene(at_mm=at_mm, n_rounds=n_rounds, hand_mm=0.0005)):
        assert 0.95 - LIMITS_BY_CHANCE <= part <= 0.99


def test_single_readings_at_five_places_are_no_less_than_honest() -> None:
    """Two readings to spare: too wide an interval where the step rules, never too narrow a one."""
    for hand_mm in (0.0005, 0.005, 0.02):
        assert all(part >= 0.95 - LIMITS_BY_CHANCE for part in held(Scene(at_mm=FIVE, n_rounds=1, hand_mm=hand_mm)))


def test_a_body_without_any_slope_is_rounded_alike_everywhere_and_its_register_stays_honest() -> None:
    """One rounding error is in all readings: were it taken for many, two registers of five would be missed."""
    flat = held(Scene(at_mm=FIVE, hand_mm=0.0002, rails_mm=0.0002, pressure_mm=0.0), is_flat=True)
    assert flat[0] >= 0.95
