"""Depth readings of an invented body, with everything a gauge and a hand do to them."""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CORNERS: Final = ((-16.0, -10.0), (16.0, -10.0), (16.0, 10.0), (-16.0, 10.0))
SIDES: Final = ((0.0, -10.0), (16.0, 0.0), (0.0, 10.0), (-16.0, 0.0))
"""Places on the rails of a gate of 24 × 36 mm."""


@dataclass(frozen=True, kw_only=True)
class Scene:
    """A body and a gauge.

    The film plane is turned about the x axis and then about the y axis, `nod_rad` and `turn_rad`. The gauge measures
    along the normal of the mount. `rails_mm` and `pressure_mm` are how far the rail at each place, and the pressure of
    the hand that day, may be off, ±, all values being as likely. `bumps_mm` is dirt or a burr at a place.
    """

    register_mm: float = 44.96
    nod_rad: float = 0.0
    turn_rad: float = 0.0
    at_mm: tuple[tuple[float, float], ...] = (*CORNERS, (0.0, 0.0))
    n_rounds: int = 3
    hand_mm: float = 0.004
    step_mm: float = 0.01
    rails_mm: float = 0.003
    pressure_mm: float = 0.002
    bumps_mm: tuple[float, ...] = ()
    rocks_rad: float = 0.0

    @property
    def normal(self) -> tuple[float, float, float]:
        """The normal of the film plane, by turning (0, 0, 1)."""
        return (
            math.sin(self.turn_rad) * math.cos(self.nod_rad),
            -math.sin(self.nod_rad),
            math.cos(self.turn_rad) * math.cos(self.nod_rad),
        )

    def depth_mm(self, x_mm: float, y_mm: float) -> float:
        """Where the spindle meets the plane n·(x, y, z − register) = 0."""
        n_x, n_y, n_z = self.normal
        return self.register_mm - (n_x * x_mm + n_y * y_mm) / n_z

    @property
    def slopes_mrad(self) -> tuple[float, float]:
        """By how much the depth grows along x and along y, by going a millimetre."""
        along_x, along_y = self.depth_mm(1.0, 0.0), self.depth_mm(0.0, 1.0)
        return 1e3 * (along_x - self.register_mm), 1e3 * (along_y - self.register_mm)


def readings(scene: Scene, rng: np.random.Generator) -> tuple[Floats, Floats, Floats]:
    """What is read off, round by round: x, y and depth, shape (n_rounds · places,) each. [mm]"""
    n_places = len(scene.at_mm)
    under = scene.rails_mm * rng.uniform(-1, 1, n_places)
    under[: len(scene.bumps_mm)] -= scene.bumps_mm  # what lies on the rail makes it less deep
    pressed = scene.pressure_mm * rng.uniform(-1, 1)
    x, y, depth = [], [], []
    for _ in range(scene.n_rounds):
        rocked = scene.rocks_rad * rng.choice([-0.5, 0.5])
        for (x_mm, y_mm), rail_mm in zip(scene.at_mm, under, strict=True):
            true_mm = scene.depth_mm(x_mm, y_mm) + rail_mm + pressed + rocked * (x_mm + y_mm) / math.sqrt(2)
            hand_mm = scene.hand_mm * rng.standard_normal()
            x.append(x_mm)
            y.append(y_mm)
            depth.append(scene.step_mm * round((true_mm + hand_mm) / scene.step_mm))
    return np.array(x), np.array(y), np.array(depth)


def example(seed: int) -> Scene:
    """A body of some age: three to six hundredths too long, askew by half a milliradian."""
    rng = np.random.default_rng([seed, 1])
    return Scene(
        register_mm=28.80 + rng.uniform(0.03, 0.06),
        nod_rad=0.5e-3 * rng.standard_normal(),
        turn_rad=0.5e-3 * rng.standard_normal(),
        at_mm=(*CORNERS, *SIDES),
    )
