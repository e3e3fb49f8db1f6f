"""Focal plane by light against the second simulator; `benchmarks.curtains_second` has the full tables."""

import numpy as np
import pytest
from benchmarks.curtains_second import CHECKED, quick, sweep

from camerawright.bench.curtains import run
from camerawright.bench.curtains.gate import gate_of
from camerawright.bench.curtains.measure import measure
from camerawright.bench.curtains.record import Measured
from camerawright.bench.curtains.sensors import sensors_told
from camerawright.recordings.sound import simulated
from tests.bench.second_curtain_simulator import Bench, Curtain, Sensor, Truth, recording

CURTAINS = (Curtain(), Curtain(across_s=0.0112, rubs=0.15, run_up=0.24))


def _measured(
    exposures_s: list[float], diameters_mm: tuple[float, ...], told: str | None = None
) -> tuple[Measured, tuple[Truth, ...]]:
    bench = Bench(sensors=tuple(Sensor(diameter_mm=one) for one in diameters_mm))
    samples, truths = recording(bench, CURTAINS, exposures_s, 1)
    return measure(simulated(samples, bench.rate_hz, bench.bits), gate_of(3, None, None, told, None)), truths


def _flags(found: Measured) -> list[str]:
    return [*found.flags, *(flag for firing in found.firings for flag in firing.flags)]


@pytest.mark.parametrize("told", [None, "1", "4"])
def test_a_diameter_that_the_edges_contradict_or_nobody_told_is_flagged_once_and_measured(told: str | None) -> None:
    found, truths = _measured([1 / 60, 1 / 500], (2.7, 2.7, 2.7), told)
    (flag,) = _flags(found)
    assert "Diameter of the sensors" in flag
    assert "2.7 ± " in flag or "2.6 ± " in flag
    for by_edges in found.by_edges_mm:
        assert by_edges is not None
        assert by_edges.interval[0] < 2.7 < by_edges.interval[1]
    for firing, truth in zip(found.firings, truths, strict=True):
        for one, true in zip(firing.sensors, truth.exposure_s, strict=True):
            assert one.exposure.interval[0] < true < one.exposure.interval[1]


@pytest.mark.parametrize(("wide_mm", "told"), [(1.0, None), (2.7, "2.7")])
def test_a_diameter_that_is_usual_or_rightly_told_is_no_doubt(wide_mm: float, told: str | None) -> None:
    assert not _flags(_measured([1 / 60, 1 / 500], (wide_mm,) * 3, told)[0])


def test_unlike_sensors_are_named_by_their_channels() -> None:
    found, _ = _measured([1 / 60, 1 / 500], (1.0, 2.7, 1.5))
    (flag,) = _flags(found)
    assert "channel 1 " in flag
    assert "channel 2 2.6 ±" in flag or "channel 2 2.7 ±" in flag


def test_blunt_edges_without_a_slow_firing_are_said_once_with_what_shows_the_diameter() -> None:
    (flag,) = _flags(_measured([1 / 500, 1 / 500], (2.7, 2.7, 2.7))[0])
    assert "1/30 or slower" in flag
    assert "Diameter of the sensors" in flag


@pytest.fixture(scope="module")
def alike() -> tuple[Measured, ...]:
    """One recording of sensors of one make on one card: the class told; what is alike as well; all that is known."""
    bench = Bench(sensors=(Sensor(lag_s=4e-6), Sensor(lag_s=4.2e-6), Sensor(lag_s=3.9e-6)))
    samples, _ = recording(bench, CURTAINS, [1 / 60, 1 / 1000], 1)
    told = (
        sensors_told("photodiode", None, None),
        sensors_told("photodiode", None, "both"),
        sensors_told("calibrated", "0 ± 0.5", "both"),
    )
    made = simulated(samples, bench.rate_hz, bench.bits)
    return tuple(measure(made, gate_of(3, None, None, "1", None), sensors=one) for one in told)


def test_a_lag_that_all_sensors_share_leaves_differences_between_them_and_no_exposure(
    alike: tuple[Measured, ...],
) -> None:
    """It moves all sensors' times alike. An exposure is one sensor's fall less its own rise: it shares nothing."""
    apart, together, checked = (found.firings[1] for found in alike)
    for name in ("first", "second"):
        assert getattr(together, name).between.u < getattr(apart, name).between.u / 4
    assert together.later.u < apart.later.u / 2
    assert together.sensors[0].exposure.u == pytest.approx(apart.sensors[0].exposure.u, rel=1e-6)
    assert checked.sensors[0].exposure.u < apart.sensors[0].exposure.u / 3
    assert checked.first.between.u < apart.first.between.u / 6


@pytest.mark.slow
def test_what_is_told_to_be_alike_is_as_sure_as_it_says() -> None:
    """The rms of error over u is 1 where an interval is as wide as it says; 50 recordings know it to a tenth."""
    cell = sweep(1000, range(50), CHECKED, quick, alike=True)
    assert cell.n_told >= 45
    for name in ("exposure", "between", "later"):
        over = np.sqrt(np.mean([(error / u) ** 2 for error, u, _ in cell.rows[name]]))
        assert 0.6 < over < 1.3, name
        assert cell.held(name) > 0.88, name


def test_curtains_whose_difference_cannot_be_told_are_not_called_alike() -> None:
    """They differ by 0.2 ms, 0.26 stop at 1/1000; sensors that nobody told leave 0.4 ms in doubt."""
    bench = Bench()
    samples, _ = recording(bench, CURTAINS, [1 / 60, 1 / 500], 1)
    made = simulated(samples, bench.rate_hz, bench.bits)
    untold, told = (" ".join(run(made, sensor=one).advice) for one in (None, "photodiode"))
    assert "nothing finer can be told" in untold
    assert "Class of the light sensors" in untold
    assert "leave their tensions alone" not in untold
    assert "the second is slower by" in told


def test_a_solar_cell_holds_the_truth_where_it_is_told_or_nothing_is() -> None:
    """As a photodiode of 10 µs and 1 % it is too long by far."""
    bench = Bench(sensors=(Sensor(kind="solar cell", lag_s=10e-6, forward_v=0.4),) * 3)
    samples, truths = recording(bench, CURTAINS, [1 / 500], 1)
    made = simulated(samples, bench.rate_hz, bench.bits)
    for sensor, is_held in (("photodiode", False), ("solar cell", True), (None, True)):
        (firing,) = measure(made, gate_of(3, None, None, "1", None), sensors=sensors_told(sensor, None, None)).firings
        for one, true in zip(firing.sensors, truths[0].exposure_s, strict=True):
            assert (one.exposure.interval[0] < true < one.exposure.interval[1]) == is_held, sensor


def test_the_tail_of_a_slow_sensor_is_no_curtain_that_is_thrown_back() -> None:
    bench = Bench(sensors=(Sensor(kind="phototransistor", lag_s=50e-6),) * 3, white=0.001)
    samples, _ = recording(bench, CURTAINS, [1 / 250], 1)
    told, believed = (
        _flags(measure(simulated(samples, bench.rate_hz, bench.bits), gate_of(3, None, None, "1", None), sensors=one))
        for one in (sensors_told("phototransistor", None, None), sensors_told("photodiode", None, None))
    )
    assert [flag for flag in told if "One firing alone" not in flag] == []
    assert any("lingers" in flag and "Class of the light sensors" in flag for flag in believed)
    assert not any("light comes again" in flag for flag in (*told, *believed))
