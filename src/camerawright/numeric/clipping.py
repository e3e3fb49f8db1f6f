"""Where a channel stands at its end stops."""

import numpy as np
from numpy.typing import NDArray

_FULL_RUN, _RUN = 2, 12  # neighbours that are equal, at full scale and at any other extreme


def clipped(samples: NDArray[np.float32], bits: int | None) -> NDArray[np.bool_]:
    """Which samples of a channel stand at an end stop: runs at its extremes, at full scale or short of it.

    Parameters
    ----------
    samples : shape (n,)
        As recorded. [full scale = 1]
    bits
        Of the converter; None where not known.

    Returns
    -------
    shape (n,)
    """
    return _clipped(samples, float(samples.min()), float(samples.max()), bits)


def n_clipped(stretch: NDArray[np.float32], low: float, high: float, bits: int | None) -> int:
    """How many samples of a stretch stand at an end stop of the channel, whose extremes are `low` and `high`."""
    return int(np.count_nonzero(_clipped(stretch, low, high, bits)))


def _clipped(stretch: NDArray[np.float32], low: float, high: float, bits: int | None) -> NDArray[np.bool_]:
    """Runs at these extremes."""
    at = np.zeros(len(stretch), dtype=bool)
    for extreme in (low, high):
        same = stretch == extreme
        is_full = abs(extreme) >= 1 - 2.0 ** (1 - min(bits or 16, 16))
        if np.count_nonzero(same[1:] & same[:-1]) >= (_FULL_RUN if is_full else _RUN):
            at |= same
    return at
