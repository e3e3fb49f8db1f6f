"""Looking through a sound recording once, block by block, so that a long one needs no more memory."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_ROW = 512


@dataclass(frozen=True)
class Scan:
    """A recording looked through once: means over blocks, shape (n, channels), and each channel's extremes."""

    means: NDArray[np.float32]
    low: tuple[float, ...]
    high: tuple[float, ...]


def scanned(blocks: Iterable[NDArray[np.float32]], width: int, n_channels: int) -> Scan:
    """Take the means over `width` samples and each channel's extremes; every block but the last holds whole means."""
    # a product of matrices sums over a short axis several times faster than mean or einsum
    of_each = np.kron(np.full((width, 1), 1 / width), np.eye(n_channels)).astype(np.float32)
    means, low, high = [], np.full(n_channels, np.inf), np.full(n_channels, -np.inf)
    for block in blocks:
        n = len(block) // width
        flat = block.reshape(-1)
        means.append(flat[: n * width * n_channels].reshape(n, width * n_channels) @ of_each)
        low, high = (
            np.minimum(low, _extreme(flat, n_channels, np.minimum)),
            np.maximum(high, _extreme(flat, n_channels, np.maximum)),
        )
    return Scan(np.concatenate(means), tuple(map(float, low)), tuple(map(float, high)))


def joined(parts: Sequence[Scan]) -> Scan:
    """Join the scans of consecutive parts of a recording; every part but the last holds whole means."""
    return Scan(
        np.concatenate([part.means for part in parts]),
        tuple(map(min, zip(*(part.low for part in parts), strict=True))),
        tuple(map(max, zip(*(part.high for part in parts), strict=True))),
    )


def _extreme(flat: NDArray[np.float32], n_channels: int, of: np.ufunc) -> NDArray[np.float32]:
    """Find the extreme of each channel; over long rows first, which is many times faster."""
    n = len(flat) // (_ROW * n_channels) * _ROW * n_channels
    rest = of.reduce(flat[-_ROW * n_channels :].reshape(-1, n_channels), axis=0)
    if n == 0:
        return np.asarray(rest)
    rows = of.reduce(flat[:n].reshape(-1, _ROW * n_channels), axis=0)
    return np.asarray(of(of.reduce(rows.reshape(_ROW, n_channels), axis=0), rest))
