"""The stated 95 % interval holds the truth as often as it says, on a simulator that shares nothing with it.

What no recording shows (lags, bends, skews, misplaced sensors, the clock, the lamp, how a curtain runs between the
sensors) is drawn anew for every recording from the spread that the budget states; one firing each, so that the trials
are independent.
"""

from collections import defaultdict

import numpy as np
import pytest
from benchmarks.curtains import Cell, sweep

from camerawright.handbook.light_sensors import CALIBRATED, PHOTODIODE, Sensor

THREE, WIDE, TWO = (1.0, 1.0, 1.0), (1.0, 2.0, 1.5), (1.0, 1.0)


def _cells(cases: list[tuple[float, float, tuple[float, ...], Sensor, float | None]], n: int) -> list[Cell]:
    """One cell for each case, with hardly a firing refused."""
    cells = []
    fired = told = 0
    for speed, snr_db, diameters_mm, sensor, slow_s in cases:
        cell, n_fired, n_told = sweep(1 / speed, snr_db, range(100, 100 + n), diameters_mm, sensor, slow_s)
        fired, told = fired + n_fired, told + n_told
        cells.append(cell)
    assert told >= 0.9 * fired  # no passing by refusing: at 1/1000 a few slits are too narrow at one sensor
    return cells


def _held(cells: list[Cell]) -> dict[str, float]:
    """Part of the intervals that held, by quantity, over all cells."""
    pooled: dict[str, list[bool]] = defaultdict(list)
    for cell in cells:
        for name, rows in cell.items():
            pooled[name].extend(held for _, _, held in rows)
    return {name: float(np.mean(rows)) for name, rows in pooled.items()}


@pytest.mark.slow
def test_the_95_percent_interval_holds_the_truth_93_to_98_percent_of_the_time() -> None:
    """Exposure at a sensor, times between sensors, the curtains' difference, unevenness; the rest is not below 93 %.

    Each of the first four has about 100 independent trials: 95 % of them, give or take 4 % (two standard deviations).
    """
    cells = _cells([(s, db, THREE, PHOTODIODE, None) for s in (125, 1000) for db in (60, 40, 28)], 14)
    cells += _cells([(1000, 50, WIDE, CALIBRATED, None)], 14)
    held = _held(cells)
    told = ("exposure", "between", "later", "uneven")
    pooled = [row[2] for cell in cells for name in told for row in cell[name]]
    assert 0.93 <= np.mean(pooled) <= 0.98, held
    assert all(0.91 <= held[name] <= 0.99 for name in told), held
    for name in ("inside", "beyond", "across", "slit"):
        assert held[name] >= 0.91, held


@pytest.mark.slow
def test_a_level_from_a_slow_firing_and_two_sensors_are_honest_too() -> None:
    wide = _held(_cells([(2000, 40, WIDE, PHOTODIODE, 1 / 30)], 12))
    two = _held(_cells([(1000, 40, TWO, PHOTODIODE, None)], 12))
    for held in (wide["exposure"], two["exposure"], two["between"], two["inside"]):
        assert held >= 0.88  # 36 trials of 95 %, less two standard deviations


@pytest.mark.slow
def test_what_two_sensors_do_not_see_is_stated_neither_too_narrow_nor_too_wide() -> None:
    """Stated u against the rms of the errors, which 60 independent trials know to 9 % where errors are normal.

    These curtains start about 7 mm before the gate; the budget allows for those that start at 1.5 mm, too.
    """
    (cell,) = _cells([(1000, 40, TWO, PHOTODIODE, None)], 60)
    for name in ("across", "slit", "inside", "beyond"):
        errors, u, held = (np.array(column, dtype=float) for column in zip(*cell[name], strict=True))
        assert 0.7 < np.sqrt(np.mean(u**2) / np.mean(errors**2)) < 1.9, name
        assert held.mean() >= 0.9, name


def test_at_1_1000_every_point_is_within_3_hundredths_of_a_stop_and_travel_within_half_a_percent() -> None:
    """At 40 dB with photodiodes, whatever their lags and skews."""
    for cell in _cells([(1000, 40, THREE, PHOTODIODE, None), (1000, 40, WIDE, PHOTODIODE, None)], 8):
        errors = np.array([error for error, _, _ in cell["exposure"]])
        assert np.all(np.abs(np.log2(1 + errors)) < 0.03)
        assert np.all(np.abs([error for error, _, _ in cell["between"]]) < 0.005)
