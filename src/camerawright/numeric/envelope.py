"""The lowest and highest sample of each column of a drawing, so that millions of samples lose no peak."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.samples import Samples

Floats = NDArray[np.float32]

BLOCK: Final = 32
"""How many samples share one remembered pair of extremes."""


@dataclass(frozen=True, eq=False)
class Envelope:
    """The extremes of columns of `step` samples each; column i begins at sample start + i·step.

    `low` and `high` have shape (columns,) and are equal if a column is one sample.
    """

    start: int
    step: int
    low: Floats
    high: Floats


@dataclass(frozen=True, eq=False)
class Extremes:
    """The lowest and the highest of every `BLOCK` samples of a signal of `n_samples`; shape (blocks,)."""

    low: Floats
    high: Floats
    n_samples: int


def extremes(pieces: Iterable[Floats]) -> Extremes:
    """Find the extremes of every block of a signal that comes in pieces; each piece but the last holds whole blocks.

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
    """Find the extremes of a stretch in at most `width` columns of equal length.

    A column of many blocks begins and ends with a block. So the stretch may begin up to a block earlier than asked and
    end later, but it leaves nothing out.

    Parameters
    ----------
    samples
        The signal. It is read only if the columns are short; long ones come from `known`.
    known
        Its extremes.
    start, stop
        The stretch. What lies beyond the signal is left out.
    width
        The most columns.
    """
    start = max(0, min(start, known.n_samples))
    stop = max(start, min(stop, known.n_samples))
    # -(-n // m) is n/m rounded up
    step = max(1, -(-(stop - start) // max(1, width)))
    if step < 4 * BLOCK:  # rounding such columns to blocks would show; and there are few samples to read
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
    """Extreme of every `step` values; the last one is that of what is left over."""
    if step == 1 or not len(values):
        return values
    n = len(values) // step
    whole = of.reduce(values[: n * step].reshape(n, step), axis=1)
    return whole if n * step == len(values) else np.append(whole, of.reduce(values[n * step :]))
