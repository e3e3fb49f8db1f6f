"""Records as a bench test would have left them, for tests that need a certain error and no recording."""

from typing import Any

from camerawright.bench import codec
from camerawright.bench.comparison import Comparison
from camerawright.bench.shutter.record import ShutterRecord, Speed
from camerawright.handbook.exposure import marked_speed
from camerawright.quantity import BudgetLine, Quantity


def shutter_result(
    marked: str, *, stops: float, u: float, dof: float = 5.0, target_s: float | None = None, test: str = "shutter"
) -> dict[str, Any]:
    """The stored result of a reading that was so far off its mark."""
    target_s = target_s or marked_speed(marked).target_s
    mean = Quantity(stops, "stop", (BudgetLine("repeatability", u, dof, "A"),))
    effective = Quantity(target_s * 2**stops, "s", (BudgetLine("timing", 1e-6),))
    compared = Comparison(
        marked=marked, target_s=target_s, series="power of two", profile="user", lower_ev=-0.33, upper_ev=0.33,
        source="common practice", firings=(), mean=mean, mean_s=effective.value, repeatability_stops=None,
        verdict="undecided", probability_within=0.5, more_firings=None,
    )  # fmt: skip
    speed = Speed(
        i_firings=(), likely=None, effective=effective, repeatability_stops=None, first=None, drift=None,
        stopped_down=(), compared=compared,
    )  # fmt: skip
    return codec.written(ShutterRecord(test=test, method="m 1", speeds=(speed,), compared=compared))
