"""Which readings belong to one place, and which to one round of all places."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

SAME_PLACE: Final = 0.03
"""Readings no farther apart than this share of the widest distance are of one place: 1.1 mm for the corners of
20 × 32 mm. By eye nobody finds a place again more closely. Common practice"""


def gathered(x_mm: Floats, y_mm: Floats) -> NDArray[np.intp]:
    """The place of each reading, counted from 0 in the order of reading, shape (n,).

    A reading belongs to the first place whose first reading is near it.
    """
    at = np.column_stack([x_mm, y_mm])
    near_mm = SAME_PLACE * float(np.hypot(*np.ptp(at, axis=0))) + 1e-9
    firsts: list[int] = []
    places = np.empty(len(at), np.intp)
    for i, one in enumerate(at):
        is_near = np.hypot(*(at[firsts] - one).T) <= near_mm
        places[i] = np.argmax(is_near) if is_near.any() else len(firsts)
        if not is_near.any():
            firsts.append(i)
    return places


def rounds(i_place: NDArray[np.intp]) -> NDArray[np.intp] | None:
    """The readings of each round, place by place, shape (r, m); None where they do not come in rounds.

    They do where the rows go through all places, and then through all of them again.
    """
    n_places = int(i_place.max()) + 1
    n_rounds, rest = divmod(len(i_place), n_places)
    if n_rounds < 2 or rest:
        return None
    rows = np.argsort(i_place.reshape(n_rounds, n_places), axis=1) + n_places * np.arange(n_rounds)[:, np.newaxis]
    return rows if (i_place[rows] == np.arange(n_places)).all() else None
