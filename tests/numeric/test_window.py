"""A firing cut out of a recording with the dark beside it."""

import numpy as np
import pytest

from camerawright.numeric.coupling import Coupling
from camerawright.numeric.firings import Span
from camerawright.numeric.noise import noise_of
from camerawright.numeric.window import Window
from camerawright.trouble import NotMeasurable

RATE_HZ = 48_000.0


@pytest.mark.parametrize(("span", "side"), [(Span(0.001, 0.02), "before"), (Span(0.4, 0.499), "after")])
def test_a_firing_at_either_end_of_the_recording_has_no_dark_and_is_refused(span: Span, side: str) -> None:
    level = np.where((np.arange(24_000) > span.up_s * RATE_HZ) & (np.arange(24_000) < span.down_s * RATE_HZ), 0.3, 0.0)
    coupling = Coupling(50.0, 250.0, 0.0, np.zeros((3, 3)))
    noise = noise_of([1e-4 * np.random.default_rng(0).standard_normal(4096)], RATE_HZ, coupling)
    with pytest.raises(NotMeasurable, match=f"no dark {side}"):
        Window(level, RATE_HZ, (span,), 0, coupling).pulse(noise)
