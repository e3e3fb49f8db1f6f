"""Clips for the tests of footage: drawn shutters and cameras, filmed by the simulator."""

from dataclasses import dataclass

import numpy as np

from camerawright.bench.footage.measure import U_COMPRESSION, measure
from camerawright.bench.footage.openings import U_LEVEL
from camerawright.bench.footage.record import Measured
from camerawright.bench.footage.simulate import Blades, Camera, Filmed, Light, Scene, film, hold_for
from camerawright.bench.footage.times import U_CLOCK
from camerawright.bench.footage.tone import U_NAMED
from camerawright.recordings.clips import Clip, clip_of_luma
from camerawright.trouble import NotMeasurable

U_SPREAD = 0.03  # of single firings, relative


def clip_of(filmed: Filmed) -> Clip:
    """As if it had been read from a file that names its curve."""
    return clip_of_luma(filmed.luma, filmed.at_s)


def scene(
    time_s: float, n: int = 6, *, camera: Camera | None = None, light: Light | None = None, static_s: float = 0.4,
    spread: float = 0.0, seed: int = 0, dropped: tuple[int, ...] = (), repeated: int = 1,
) -> Scene:  # fmt: skip
    """A few firings at one speed, after the gate was held open."""
    rng = np.random.default_rng(seed)
    blades = Blades()
    holds = tuple(hold_for(time_s * 2 ** (spread * rng.standard_normal()), blades) for _ in range(n))
    return Scene(
        holds, blades=blades, camera=camera or Camera(), light=light or Light(), static_s=static_s, dropped=dropped,
        repeated=repeated,
    )  # fmt: skip


def measured(made: Scene, seed: int = 1) -> tuple[Measured, Filmed]:
    """A scene filmed and measured."""
    filmed = film(made, seed)
    return measure(clip_of(filmed)), filmed


@dataclass(frozen=True)
class Trial:
    """One firing against its truth: relative error and u, and whether the 95 % interval held the truth."""

    error: float
    u: float
    is_held: bool


def trials(
    fps: float, speed: float, seed: int, *, n: int = 6, is_exposure_known: bool = False, static: bool = True
) -> tuple[list[Trial], Measured | None, float]:
    """A shutter and a camera drawn at random: every firing, the result, and the mean of the firings' true times.

    What no clip shows (the curve's bend, the coder, the clock, the light since the level was shown) is drawn anew for
    each from what the budget states.
    """
    rng = np.random.default_rng([seed, round(speed), round(fps)])
    blades = Blades(open_s=rng.uniform(1e-3, 2.4e-3), close_s=rng.uniform(1e-3, 2.2e-3), free=rng.uniform(0.7, 0.95))
    camera = Camera(
        fps=fps, duty=rng.uniform(0.2, 1.0), readout=rng.uniform(0.3, 0.95), level=rng.uniform(0.35, 0.7),
        clock_error=U_CLOCK * rng.standard_normal(), bend=U_NAMED * rng.standard_normal(),
        coding=U_COMPRESSION * rng.standard_normal(), height_px=36, width_px=48,
    )  # fmt: skip
    true_s = 2 ** rng.uniform(-0.4, 0.4) / speed
    holds = tuple(hold_for(true_s * 2 ** (U_SPREAD * rng.standard_normal()), blades) for _ in range(n))
    static_s = max(0.2, 6 * true_s) if static else 0.0
    light = Light(held=U_LEVEL * rng.standard_normal())
    made = Scene(holds, blades=blades, camera=camera, light=light, static_s=static_s, gap_s=18 / fps)
    filmed = film(made, seed)
    try:
        result = measure(clip_of(filmed), exposure_s=camera.duty / fps if is_exposure_known else None)
    except NotMeasurable:
        return [], None, true_s
    out = []
    for firing in result.firings:
        i = int(np.argmin(np.abs(np.array(filmed.released_s) - firing.at_s)))
        true = filmed.effective_s[i]
        low, high = firing.effective.interval
        out.append(Trial(firing.effective.value / true - 1, firing.effective.u / true, low <= true <= high))
    return out, result, float(np.mean(filmed.effective_s))
