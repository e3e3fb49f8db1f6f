"""The extremes of a long signal column by column, so that millions of samples are drawn without losing a peak."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.samples import Samples

Floats = NDArray[np.float32]

BLOCK: Final = 32
"""Samples of which the extremes are remembered together."""


@dataclass(frozen=True, eq=False)
class Envelope:
    """Extremes of columns of `step` samples from `start` on; column i is samples start + i·step up to the next.

    `low` and `high` have shape (columns,) and are equal where a column is one sample.
    """

    start: int
    step: int
    low: Floats
    high: Floats


@dataclass(frozen=True, eq=False)
class Extremes:
    """Lowest and highest of every `BLOCK` samples of a signal of `n_samples`, shape (blocks,)."""

    low: Floats
    high: Floats
    n_samples: int


def extremes(pieces: Iterable[Floats]) -> Extremes:
    """Look once through a signal that comes in pieces, all but the last of whole blocks.

    Parameters
    ----------
    pieces
        Consecutive, shape (n,) each.
    """
    empty = np.zeros(0, np.float32)
    low, high, n_samples = [empty], [empty], 0
    for piece in pieces:
        n_samples += len(piece)
        low.append(_reduced(piece, BLOCK, np.minimum))
        high.append(_reduced(piece, BLOCK, np.maximum))
    return Extremes(np.concatenate(low), np.concatenate(high), n_samples)


def envelope(samples: Samples, known: Extremes, start: int, stop: int, width: int) -> Envelope:
    """Extremes of a stretch in at most `width` columns of equal length.

    A column of many blocks begins and ends on a block, so that the stretch may begin up to a block earlier than asked
    and end later; nothing is left out.

    Parameters
    ----------
    samples
        The signal; only what is drawn finely is read.
    known
        Its extremes.
    start, stop
        The stretch; clipped to the signal.
    width
        The most columns.
    """
    start = max(0, min(start, known.n_samples))
    stop = max(start, min(stop, known.n_samples))
    step = max(1, -(-(stop - start) // max(1, width)))
    if step < 4 * BLOCK:
        stop = min(known.n_samples, start + -(-(stop - start) // step) * step)
        stretch = np.asarray(samples[start:stop], np.float32)
        return Envelope(start, step, _reduced(stretch, step, np.minimum), _reduced(stretch, step, np.maximum))
    per_column = -(-step // BLOCK)
    first = start // BLOCK
    last = min(len(known.low), first + -(-(stop - first * BLOCK) // (per_column * BLOCK)) * per_column)
    return Envelope(
        first * BLOCK,
        per_column * BLOCK,
        _reduced(known.low[first:last], per_column, np.minimum),
        _reduced(known.high[first:last], per_column, np.maximum),
    )


def _reduced(values: Floats, step: int, of: np.ufunc) -> Floats:
    """The extreme of every `step` values, the last of what is left."""
    if step == 1 or not len(values):
        return values
    n = len(values) // step
    whole = of.reduce(values[: n * step].reshape(n, step), axis=1)
    return whole if n * step == len(values) else np.append(whole, of.reduce(values[n * step :]))
