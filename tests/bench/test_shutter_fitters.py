"""The same curves fitted by independent libraries, with the whole forward model and nothing of ours."""

import lmfit  # type: ignore[import-untyped]
import numpy as np
import pytest
from scipy import optimize, signal, special

from camerawright.bench.shutter.measure import measure
from camerawright.handbook.light_sensors import Sensor
from tests.bench.scenes import RATE_HZ, Floats, waveform

PERFECT = Sensor("perfect", 0.0, 0.0, 0.0, "none: the shape is given as numbers")
START_S, EDGE_S = 0.35, 0.35e-3
T = np.arange(round(0.8 * RATE_HZ)) / RATE_HZ


def _recorded(open_s: float, level: float, up_s: float, edge_s: float, corner_hz: float, second_hz: float) -> Floats:
    """A firing with error-function edges through two high-pass poles; effective and half-peak time are `open_s`."""
    light = special.ndtr((T - up_s) / edge_s) - special.ndtr((T - up_s - open_s) / edge_s)
    for hz in (corner_hz, second_hz):
        w = 2 * np.pi * hz
        b, a = signal.bilinear([1, 0], [1, w], RATE_HZ)
        light = signal.lfilter(b, a, light)
    return np.asarray(level * light)


@pytest.mark.parametrize("open_s", [1 / 15, 1 / 60, 1 / 250])
@pytest.mark.parametrize("noise", [1e-3, 1e-2], ids=["60 dB", "40 dB"])
def test_the_times_agree_with_a_fit_of_the_forward_model_by_scipy(open_s: float, noise: float) -> None:
    """scipy.optimize.curve_fit on the raw samples, six parameters; both have errors, so twice our u is allowed."""
    level, up_s = 0.3, START_S + 0.3 / RATE_HZ
    clean = _recorded(open_s, level, up_s, EDGE_S, 8.0, 0.7)
    rng = np.random.default_rng(round(1 / open_s))
    samples = clean + noise * level * rng.standard_normal(len(T))
    guess = (open_s * 1.002, level * 0.99, up_s, EDGE_S * 1.1, 7.5, 0.8)

    def model(_: Floats, *given: float) -> Floats:
        return _recorded(*given)

    fit, covariance = optimize.curve_fit(model, T, samples, guess, method="trf", x_scale=guess)
    (firing,) = measure(waveform(samples, bits=None), sensor=PERFECT).firings
    assert firing.effective.value == pytest.approx(fit[0], abs=2 * firing.effective.expanded_u)
    assert firing.half_peak.value == pytest.approx(fit[0], abs=2 * firing.half_peak.expanded_u)
    # ours must know nothing of the shape, the fit knows all of it: the price is small
    u_noise = next(line.u for line in firing.effective.budget if line.name == "noise")
    assert u_noise < 3 * np.sqrt(covariance[0, 0])


def test_the_poles_agree_with_a_fit_by_lmfit() -> None:
    """lmfit.minimize with bounds; the sum and the product of the angular corners are what both tell."""
    clean = _recorded(1 / 30, 0.3, START_S, EDGE_S, 9.0, 0.9)
    samples = clean + 3e-4 * np.random.default_rng(3).standard_normal(len(T))
    parameters = lmfit.Parameters()
    for name, value, low, high in (
        ("open_s", 1 / 30, 0.03, 0.04), ("level", 0.29, 0.2, 0.4), ("up_s", START_S, 0.34, 0.36),
        ("edge_s", 4e-4, 1e-4, 1e-3), ("corner_hz", 8.0, 4.0, 16.0), ("second_hz", 0.7, 0.1, 3.0),
    ):  # fmt: skip
        parameters.add(name, value=value, min=low, max=high)
    fit = lmfit.minimize(lambda given: _recorded(**given.valuesdict()) - samples, parameters)
    w = 2 * np.pi * np.array([fit.params["corner_hz"].value, fit.params["second_hz"].value])
    coupling = measure(waveform(samples, bits=None), sensor=PERFECT).coupling
    assert coupling.a == pytest.approx(w.sum(), abs=4 * np.sqrt(coupling.covariance[0, 0]))
    assert coupling.b == pytest.approx(w.prod(), abs=4 * np.sqrt(coupling.covariance[1, 1]))
