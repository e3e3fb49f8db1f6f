"""Which samples of a channel are clipped: stuck at the highest or lowest code the converter had."""

import numpy as np
from numpy.typing import NDArray

# A signal that is free to move seldom has its highest value twice in a row. So pairs of equal neighbours at an extreme
# are an end stop: two pairs at full scale, a dozen anywhere else. Common practice
_FULL_RUN, _RUN = 2, 12


def clipped(samples: NDArray[np.float32], bits: int | None) -> NDArray[np.bool_]:
    """Find the samples of a channel that are clipped, at full scale or at a stop before it.

    Parameters
    ----------
    samples : shape (n,)
        As recorded. [full scale = 1]
    bits
        Of the converter; None if not known.

    Returns
    -------
    shape (n,)
        True at an end stop.
    """
    return _clipped(samples, float(samples.min()), float(samples.max()), bits)


def n_clipped(stretch: NDArray[np.float32], low: float, high: float, bits: int | None) -> int:
    """Count the clipped samples of a stretch of a channel whose lowest and highest samples are `low` and `high`."""
    return int(np.count_nonzero(_clipped(stretch, low, high, bits)))


def _clipped(stretch: NDArray[np.float32], low: float, high: float, bits: int | None) -> NDArray[np.bool_]:
    """Find the samples that equal an extreme, if enough pairs of them stand side by side."""
    at = np.zeros(len(stretch), dtype=bool)
    for extreme in (low, high):
        same = stretch == extreme
        # full scale is 1 less one step, 2^(1 - bits), above and -1 below; a file of more bits may come from 16
        is_full = abs(extreme) >= 1 - 2.0 ** (1 - min(bits or 16, 16))
        if np.count_nonzero(same[1:] & same[:-1]) >= (_FULL_RUN if is_full else _RUN):
            at |= same
    return at
