"""Focal plane by light against the second simulator; `benchmarks.curtains_second` has the full tables."""

import pytest

from camerawright.bench.curtains.gate import gate_of
from camerawright.bench.curtains.measure import measure
from camerawright.bench.curtains.record import Measured
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
    found, truths = _measured([1 / 30, 1 / 500], (2.7, 2.7, 2.7), told)
    (flag,) = _flags(found)
    assert "Diameter of the sensors" in flag
    assert "2.7 ± " in flag or "2.6 ± " in flag
    for by_edges in found.by_edges_mm:
        assert by_edges is not None
        assert by_edges.interval[0] < 2.7 < by_edges.interval[1]
    for firing, truth in zip(found.firings, truths, strict=True):
        for one, true in zip(firing.sensors, truth.exposure_s, strict=True):
            assert one.exposure.interval[0] < true < one.exposure.interval[1]


@pytest.mark.parametrize(("wide_mm", "told"), [(1.0, None), (1.0, "1"), (2.7, "2.7")])
def test_a_diameter_that_is_usual_or_rightly_told_is_no_doubt(wide_mm: float, told: str | None) -> None:
    assert not _flags(_measured([1 / 30, 1 / 500], (wide_mm,) * 3, told)[0])


def test_unlike_sensors_are_named_by_their_channels() -> None:
    found, _ = _measured([1 / 30, 1 / 500], (1.0, 2.7, 1.5))
    (flag,) = _flags(found)
    assert "channel 1 " in flag
    assert "channel 2 2.7 ±" in flag


def test_blunt_edges_without_a_slow_firing_are_said_once_with_what_shows_the_diameter() -> None:
    (flag,) = _flags(_measured([1 / 500, 1 / 500], (2.7, 2.7, 2.7))[0])
    assert "1/30 or slower" in flag
    assert "Diameter of the sensors" in flag
