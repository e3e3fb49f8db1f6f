"""A firing cut out of a recording with the dark beside it."""

import numpy as np
import pytest
from numpy.typing import NDArray

from camerawright.numeric.coupling import Coupling
from camerawright.numeric.firings import GUARD_S, Span
from camerawright.numeric.noise import noise_of
from camerawright.numeric.window import Window
from camerawright.trouble import NotMeasurable
from tests.numeric.high_pass import PLATEAU, angular, off_line, openings, recorded, spans
from tests.numeric.pulses import Known

Floats = NDArray[np.float64]

RATE_HZ = 48_000.0
CORNERS_HZ = (12.0, 1.3)
COUPLING = Coupling(*angular(CORNERS_HZ), 0.0, np.zeros((3, 3)))


def of(n: int, i: int, **where: float) -> tuple[Window, Floats]:
    """One of n openings, and the light that was recorded."""
    light = openings(n, rate_hz=RATE_HZ, **where)
    return Window(recorded(light, CORNERS_HZ, RATE_HZ), RATE_HZ, spans(n, **where), i, COUPLING), light


@pytest.mark.parametrize(("span", "side"), [(Span(0.001, 0.02), "before"), (Span(0.4, 0.499), "after")])
def test_a_firing_at_either_end_of_the_recording_has_no_dark_and_is_refused(span: Span, side: str) -> None:
    level = np.where((np.arange(24_000) > span.up_s * RATE_HZ) & (np.arange(24_000) < span.down_s * RATE_HZ), 0.3, 0.0)
    coupling = Coupling(50.0, 250.0, 0.0, np.zeros((3, 3)))
    noise = noise_of([1e-4 * np.random.default_rng(0).standard_normal(4096)], RATE_HZ, coupling)
    window = Window(level, RATE_HZ, (span,), 0, coupling)
    with pytest.raises(NotMeasurable, match=f"no dark {side}"):
        window.refuse_without_dark()
    with pytest.raises(NotMeasurable, match=f"no dark {side}"):
        window.pulse(noise)


def test_the_light_of_a_window_is_the_light_that_was_recorded_up_to_a_straight_line() -> None:
    window, light = of(3, 1)
    true = light[window.start : window.stop]
    assert off_line(window.light - true) == pytest.approx(0, abs=1e-9)
    assert window.recorded == pytest.approx(recorded(light, CORNERS_HZ, RATE_HZ)[window.start : window.stop])
    assert window.light == pytest.approx(window.recorded + window.terms.T @ [COUPLING.a, COUPLING.b, 0.0])


@pytest.mark.parametrize(("open_s", "dark_s"), [(0.002, 8e-3), (0.02, 15e-3), (0.3, 0.12)])
def test_a_window_holds_dark_of_three_quarters_of_the_firing_within_limits(open_s: float, dark_s: float) -> None:
    window, _ = of(3, 1, open_s=open_s)
    span = window.span
    assert window.start / RATE_HZ == pytest.approx(span.up_s - GUARD_S - dark_s, abs=1e-4)
    assert window.stop / RATE_HZ == pytest.approx(span.down_s + 2 * GUARD_S + dark_s, abs=1e-4)
    assert window.before.sum() / RATE_HZ == pytest.approx(dark_s, abs=1e-4)
    assert window.after.sum() / RATE_HZ == pytest.approx(dark_s, abs=1e-4)
    assert window.before[0]
    assert window.after[-1]


def test_a_window_stops_short_of_its_neighbours() -> None:
    window, _ = of(3, 1, open_s=0.1, apart_s=0.14)
    one, _, other = spans(3, open_s=0.1, apart_s=0.14)
    assert window.start / RATE_HZ == pytest.approx(one.down_s + 2 * GUARD_S, abs=1e-4)
    assert window.stop / RATE_HZ == pytest.approx(other.up_s - GUARD_S, abs=1e-4)


def test_a_window_stops_at_the_ends_of_the_recording() -> None:
    light = openings(1, rate_hz=RATE_HZ, lead_s=0.02, apart_s=0.04)
    window = Window(light, RATE_HZ, spans(1, lead_s=0.02, apart_s=0.04), 0, COUPLING)
    assert window.start == round(RATE_HZ * (0.02 - GUARD_S - 15e-3))
    assert window.stop == len(light)
    early = Window(light, RATE_HZ, (Span(0.01, 0.03),), 0, COUPLING)
    assert early.start == 0


def test_a_firing_within_another_leaves_two_samples_and_no_error() -> None:
    level = np.zeros(9_600)
    window = Window(level, RATE_HZ, (Span(0.05, 0.1), Span(0.101, 0.102), Span(0.103, 0.15)), 1, COUPLING)
    assert len(window.light) == window.stop - window.start == 2


def test_the_opened_light_lies_between_the_edges_on_the_line_through_the_dark() -> None:
    window, _ = of(2, 1, open_s=0.2)
    opened = window.opened()
    assert opened == pytest.approx(PLATEAU, rel=1e-6)
    # two guards off the one edge and three off the other, of a firing with one guard before and two after
    assert len(opened) / RATE_HZ == pytest.approx(0.2 + 3 * GUARD_S - 5 * GUARD_S, abs=1e-3)
    assert len(of(2, 1, open_s=0.005)[0].opened()) == 0


def test_around_is_the_firing_with_two_milliseconds_on_each_side() -> None:
    window, light = of(1, 0)
    around = window.around()
    assert len(around) / RATE_HZ == pytest.approx(0.024, abs=1e-4)
    first = round((0.5 - 2e-3) * RATE_HZ) + 1
    assert np.array_equal(around, recorded(light, CORNERS_HZ, RATE_HZ)[first : first + len(around)])
    assert around.max() == recorded(light, CORNERS_HZ, RATE_HZ).max()


def test_a_firing_is_measured_on_the_dark_next_to_its_feet() -> None:
    known = Known(up_s=0.2, length_s=0.5)
    level = recorded(known.light, CORNERS_HZ, RATE_HZ)
    noise = noise_of([1e-5 * np.random.default_rng(0).standard_normal(4096)], RATE_HZ, COUPLING)
    span = Span(known.up_s + known.edge_s / 2, known.down_s - known.edge_s / 2)
    window = Window(level, RATE_HZ, (span,), 0, COUPLING)
    pulse = window.pulse(noise)
    assert pulse.effective.value_s == pytest.approx(known.effective_s, rel=1e-3)
    assert pulse.total.value_s == pytest.approx(known.width_s(0.1), abs=6e-6)
    assert pulse.level == pytest.approx(known.level, rel=1e-3)
    assert window.pulse(noise, full_open=0.6).opens_to == pytest.approx(0.5, rel=1e-3)
    first, last = pulse.reach
    assert np.array_equal(np.flatnonzero(~pulse.dark), np.arange(first, last + 1))
    assert np.count_nonzero(pulse.dark) > np.count_nonzero(window.before | window.after)


def test_a_pulse_whose_foot_reaches_into_the_next_firing_is_refused() -> None:
    """Dark enough between the guards, but the closing takes long: what is left beside its foot is too little."""
    known = Known(up_s=0.2, edge_s=14e-3, length_s=0.5)
    level = recorded(known.light, CORNERS_HZ, RATE_HZ)
    noise = noise_of([1e-5 * np.random.default_rng(0).standard_normal(4096)], RATE_HZ, COUPLING)
    span = Span(known.up_s + known.edge_s / 2, known.down_s - known.edge_s / 2)
    after = Span(span.down_s + 3 * GUARD_S + 4.2e-3, span.down_s + 0.1)
    with pytest.raises(NotMeasurable, match="no dark after"):
        Window(level, RATE_HZ, (span, after), 0, COUPLING).pulse(noise)
