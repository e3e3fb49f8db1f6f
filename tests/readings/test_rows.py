"""How a reading is written (JCGM 100:2008, 7.2.6: no more digits than the uncertainty leaves, and it never shrinks)."""

import pytest

from camerawright.readings.rows import dial_time, milliseconds
from camerawright.wording.numbers import never_less, signed


@pytest.mark.parametrize(("stops", "text"), [(0.383, "+0.38"), (-0.041, "−0.04"), (0.0, "+0.00")])
def test_a_deviation_carries_its_sign(stops: float, text: str) -> None:
    assert signed(stops) == text


@pytest.mark.parametrize(("expanded", "text"), [(0.0052, "0.01"), (0.02, "0.02"), (0.0201, "0.03"), (0.3, "0.30")])
def test_an_expanded_uncertainty_is_never_rounded_down(expanded: float, text: str) -> None:
    assert never_less(expanded) == text


@pytest.mark.parametrize(
    ("time_s", "relative_u", "text"),
    [(0.0197732, 0.012, "19.77 ms"), (1.931, 0.015, "1931 ms"), (0.0069658, 0.2, "6.97 ms"), (0.001, 0.0, "1.000 ms")],
)
def test_a_time_shows_what_its_uncertainty_leaves(time_s: float, relative_u: float, text: str) -> None:
    assert milliseconds(time_s, relative_u) == text


@pytest.mark.parametrize(
    ("time_s", "text"), [(1 / 51, "1/51 s"), (1.93, "1.93 s"), (0.25, "1/4 s"), (0.1898, "1/5.3 s")]
)
def test_a_time_reads_as_on_a_dial(time_s: float, text: str) -> None:
    assert dial_time(time_s) == text
