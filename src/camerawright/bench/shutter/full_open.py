"""How much light passes with the shutter fully open, for firings too short to show it: from the slower ones."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from camerawright.bench.shutter.record import Firing

_SAME_LIGHT = 0.05  # levels further apart are of another light, aperture or gain; `consistency` tells of it
_U_LAMP = 0.01  # what one firing alone does not tell of the lamp's steadiness. Common practice
_LEAST_U = 0.001
_LEAST_OPENS_TO, _OVER = 0.6, 1.02  # less is another aperture rather than a slow blade; more is more than fully open


@dataclass(frozen=True)
class FullOpen:
    """The level of full opening, its relative standard uncertainty, and the degrees of freedom of that."""

    level: float
    u: float
    dof: float

    def is_level_of(self, own_top: float) -> bool:
        """Whether a firing whose own top is so high may have been recorded in the same light."""
        return _LEAST_OPENS_TO * self.level < own_top < (_OVER + 2 * self.u) * self.level


def full_open(firings: Sequence[Firing]) -> FullOpen | None:
    """The level of those firings of a recording that stand fully open; None where there are none, or they differ.

    A further firing in the same light may differ from their mean as they differ from one another: its uncertainty is
    their scatter times √(1 + 1/n), with n - 1 degrees of freedom, and the flicker that was seen. [jcgm-100] 4.2.
    """
    open_ones = [firing for firing in firings if firing.has_plateau]
    if not open_ones:
        return None
    levels = np.array([firing.level for firing in open_ones])
    if levels.max() > (1 + _SAME_LIGHT) * levels.min():
        return None
    n, level = len(levels), float(levels.mean())
    scatter = float(levels.std(ddof=1)) / level if n > 1 else _U_LAMP
    u = float(np.sqrt(scatter**2 * (1 + 1 / n) + max(firing.flicker for firing in open_ones) ** 2 / 2))
    own = max(firing.u_level for firing in open_ones)
    return FullOpen(level, max(u, own, _LEAST_U), n - 1 if n > 1 else np.inf)
