"""How high the light of one firing stands: its plateau, or its top where it has none."""

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
    """Running mean of a window's light, as long as it takes to bring the noise to 2 % of the height and no longer.

    Parameters
    ----------
    light, inside : shape (n,)
        The light with its baseline off, and where the firing is.
    sigma
        Standard deviation of the noise of a sample.

    Returns
    -------
    The mean, shape (n,), and its length, which is odd. [samples]

    Raises
    ------
    NotMeasurable
        The firing hardly stands out of the noise.
    """
    width = 3
    for _ in range(3):
        smooth = running_mean(light, width)
        height = float(np.quantile(smooth[inside], 0.9))
        if height <= 0 or height < 4 * sigma / np.sqrt(width):
            raise NotMeasurable("a firing hardly stands out of the noise", ADVICE_EDGE)
        open_n = int(np.sum(smooth[inside] > height / 2))
        width = int(np.clip((sigma / (0.02 * height)) ** 2, 3, max(3, open_n // 6))) | 1
    return running_mean(light, width), width


def running_mean(light: Floats, width: int) -> Floats:
    """Mean over an odd number of samples about each; zeros beyond the ends."""
    beyond = np.zeros(width // 2)
    total = np.concatenate([[0.0], np.cumsum(np.concatenate([beyond, light, beyond]))])
    return np.asarray((total[width:] - total[:-width]) / width)


def plateau_of(
    light: Floats, smooth: Floats, inside: NDArray[np.bool_], width: int, sigma: float, rate_hz: float
) -> tuple[float, tuple[int, int]]:
    """Level and place of the plateau; an empty place and the highest smoothed light where there is none.

    Parameters
    ----------
    light, smooth, inside, width, sigma
        As `smoothed` takes and returns them.
    rate_hz
        Sampling rate. [Hz]
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
    """The plateau of an opening much longer than its edges, which may wander slowly: all but the edges."""
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
    """Weights of the level, and of a second opinion from the inner part of what it was taken from; shape (n,) each.

    Raises
    ------
    NotMeasurable
        There is no plateau, and no top stands out of the noise.
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
    """Weights of the top of a parabola through all that is above a height, where there is no plateau."""
    top = np.flatnonzero(smooth >= least)
    if top.size == 0:
        raise NotMeasurable("a firing hardly stands out of the noise", ADVICE_EDGE)
    middle = (int(top[0]) + int(top[-1])) // 2
    first, last = min(int(top[0]), middle - 2), max(int(top[-1]), middle + 2) + 1
    t = np.linspace(-1, 1, last - first)
    pseudo = np.linalg.pinv(np.vander(t, 3, increasing=True))
    fit = pseudo @ smooth[first:last]
    at = float(np.clip(-fit[1] / (2 * fit[2]), -1, 1)) if fit[2] < 0 else 0.0
    weights = np.zeros_like(smooth)
    weights[first:last] = np.power(at, np.arange(3)) @ pseudo
    return weights
