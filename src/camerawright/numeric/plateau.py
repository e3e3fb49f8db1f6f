"""How high the light of one firing stands: its plateau, or its top if it has none."""

import numpy as np
from numpy.typing import NDArray

from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_SURELY_OPEN_S = 12e-3  # edges of leaf shutters last 4 ms at most: what is open for longer has a plateau

ADVICE_EDGE = (
    "Raise the light or the gain, shade the sensor from other light, and keep its cable away from mains"
    " cables; the plateau"
    " should stand at least twenty times above the noise"
)


def smoothed(light: Floats, inside: NDArray[np.bool_], sigma: float) -> tuple[Floats, int]:
    """Smooth a window's light by a running mean just long enough to bring its noise to 2 % of its height.

    Parameters
    ----------
    light, inside : shape (n,)
        The light with its baseline off, and where the firing is.
    sigma
        Standard deviation of the noise of a sample.

    Returns
    -------
    The running mean, shape (n,), and its length, which is odd. [samples]

    Raises
    ------
    NotMeasurable
        The firing hardly stands out from the noise.

    Notes
    -----
    A mean of n samples has the noise sigma/sqrt(n); that is 2 % of the height for n = (sigma/(0.02 height))². It is
    never longer than a sixth of the time the shutter was open, else it would wash out the edges. The height is itself
    read off the smoothed light, so this is done three times.
    """
    width = 3
    for _ in range(3):
        smooth = running_mean(light, width)
        height = float(np.quantile(smooth[inside], 0.9))
        if height <= 0 or height < 4 * sigma / np.sqrt(width):
            raise NotMeasurable("a firing hardly stands out from the noise", ADVICE_EDGE)
        open_n = int(np.sum(smooth[inside] > height / 2))
        width = int(np.clip((sigma / (0.02 * height)) ** 2, 3, max(3, open_n // 6))) | 1
    return running_mean(light, width), width


def running_mean(light: Floats, width: int) -> Floats:
    """Mean over an odd number of samples around each; beyond the ends there are zeros."""
    # a difference of two running sums: as fast for long means as for short ones
    beyond = np.zeros(width // 2)
    total = np.concatenate([[0.0], np.cumsum(np.concatenate([beyond, light, beyond]))])
    return np.asarray((total[width:] - total[:-width]) / width)


def plateau_of(
    light: Floats, smooth: Floats, inside: NDArray[np.bool_], width: int, sigma: float, rate_hz: float
) -> tuple[float, tuple[int, int]]:
    """Find the level and the place of the plateau; without one, the highest smoothed light and an empty place.

    Parameters
    ----------
    light, smooth, inside, width, sigma
        As `smoothed` takes and returns them.
    rate_hz
        Sampling rate. [Hz]

    Notes
    -----
    The plateau is what lies within 3 % of the level, or 2.5 sigma of the smoothed light if that is more, less half the
    running mean's length and an eighth of the edges on each side, so that no edge reaches into it. The level is the
    mean over it; that moves the 3 %, so this is done until it rests, at most five times. A plateau shorter than a tenth
    of the opening is none. Chosen so; the honesty tests hold what comes of it.
    """
    top = float(smooth[inside].max())
    high = np.flatnonzero(smooth * inside > 0.5 * top)
    if high[-1] - high[0] > _SURELY_OPEN_S * rate_hz:
        return _long_plateau(light, smooth, (int(high[0]), int(high[-1])), width)
    level = top
    slack = sigma / np.sqrt(width)
    for _ in range(5):
        near = np.flatnonzero(smooth * inside > level - max(0.03 * level, 2.5 * slack))
        high = np.flatnonzero(smooth * inside > 0.5 * level)
        if near.size == 0:
            return top, (0, 0)
        trim = (width + 1) // 2 + (near[0] - high[0] + high[-1] - near[-1]) // 8
        first, last = int(near[0] + trim), int(near[-1] + 1 - trim)
        if last - first < max(5, 0.1 * (high[-1] - high[0])):
            return top, (0, 0)
        level = float(light[first:last].mean())
    return level, (first, last)


def _long_plateau(light: Floats, smooth: Floats, high: tuple[int, int], width: int) -> tuple[float, tuple[int, int]]:
    """Find the plateau of an opening much longer than its edges: all but the edges, however slowly it wanders."""
    quarter = (high[1] - high[0]) // 4
    level = float(np.median(light[high[0] + quarter : high[1] - quarter]))
    near = np.flatnonzero(smooth[high[0] : high[1] + 1] > 0.85 * level) + high[0]
    if near.size == 0:
        return float(smooth[high[0] : high[1] + 1].max()), (0, 0)
    trim = width + int(near[0] - high[0] + high[1] - near[-1]) // 2
    first, last = int(near[0]) + trim, int(near[-1]) + 1 - trim
    if last - first < max(5, 0.1 * (high[1] - high[0])):
        return float(smooth[high[0] : high[1] + 1].max()), (0, 0)
    return float(light[first:last].mean()), (first, last)


def level_weights_of(
    smooth: Floats, level: float, plateau: tuple[int, int], width: int, sigma: float
) -> tuple[Floats, Floats]:
    """Weights of the level, and of a second opinion from the inner part of the same samples; shape (n,) each.

    Raises
    ------
    NotMeasurable
        There is no plateau, and no top stands out from the noise.

    Notes
    -----
    The level is ``weights @ light``. On a plateau both are means: over all of it, and over its inner half. On a top
    both are the height of a parabola: through all within 4 to 12 % of the top, and within half of that. If the two
    differ, the plateau slopes or the top is no parabola.
    """
    if plateau[1] > plateau[0]:
        quarter = (plateau[1] - plateau[0]) // 4
        return _mean_weights(smooth, *plateau), _mean_weights(smooth, plateau[0] + quarter, plateau[1] - quarter)
    slack = float(np.clip(4 * sigma / np.sqrt(width) / level, 0.04, 0.12))
    return _peak_weights(smooth, (1 - slack) * level), _peak_weights(smooth, (1 - slack / 2) * level)


def _mean_weights(like: Floats, first: int, last: int) -> Floats:
    """Weights of the mean over a stretch."""
    weights = np.zeros_like(like)
    weights[first:last] = 1 / (last - first)
    return weights


def _peak_weights(smooth: Floats, least: float) -> Floats:
    """Weights of the top of a parabola through all that is above a height."""
    # p(t) = c0 + c1 t + c2 t² fitted by least squares is c = pinv(V) y; its top is at t = -c1/(2 c2), and its height
    # there is (1, t, t²) c: linear in y as long as t holds still, which it does to first order because the top is flat
    top = np.flatnonzero(smooth >= least)
    if top.size == 0:
        raise NotMeasurable("a firing hardly stands out from the noise", ADVICE_EDGE)
    middle = (int(top[0]) + int(top[-1])) // 2
    first, last = min(int(top[0]), middle - 2), max(int(top[-1]), middle + 2) + 1
    t = np.linspace(-1, 1, last - first)
    pseudo = np.linalg.pinv(np.vander(t, 3, increasing=True))
    fit = pseudo @ smooth[first:last]
    at = float(np.clip(-fit[1] / (2 * fit[2]), -1, 1)) if fit[2] < 0 else 0.0
    weights = np.zeros_like(smooth)
    weights[first:last] = np.power(at, np.arange(3)) @ pseudo
    return weights
