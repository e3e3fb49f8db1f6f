"""Where a channel stands at its end stops."""

import numpy as np
from numpy.typing import NDArray

_FULL_RUN, _RUN = 2, 12  # neighbours that are equal, at full scale and at any other extreme


def clipped(samples: NDArray[np.float32], bits: int | None) -> NDArray[np.bool_]:
    """Which samples stand at an end stop: runs at the highest or the lowest value, at full scale or short of it.

    Parameters
    ----------
    samples : shape (n,)
        One channel as recorded. [full scale = 1]
    bits
        Of the converter; None where not known.

    Returns
    -------
    shape (n,)
    """
    at = np.zeros(len(samples), dtype=bool)
    for extreme in (float(samples.min()), float(samples.max())):
        same = samples == extreme
        is_full = abs(extreme) >= 1 - 2.0 ** (1 - min(bits or 16, 16))
        if np.count_nonzero(same[1:] & same[:-1]) >= (_FULL_RUN if is_full else _RUN):
            at |= same
    return at
