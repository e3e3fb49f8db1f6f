"""Where in the picture the shutter opens."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.recordings.clips import WHITE, Clip
from camerawright.trouble import NotMeasurable, NotUnderstood

Floats = NDArray[np.float64]

_LEAST_BLOCKS = 12
_LEAST_SWING = 0.02  # of white


@dataclass(frozen=True, eq=False)
class Region:
    """The blocks that are watched, and the box around them in pixels: x, y, width, height."""

    mask: NDArray[np.bool_]
    box_px: tuple[int, int, int, int]


def find_region(clip: Clip) -> Region:
    """The largest patch that becomes bright: where the clip swings by more than half of its widest swing, and a margin.

    Raises
    ------
    NotMeasurable
        Nothing in the clip becomes bright and dark.
    """
    from scipy import ndimage  # noqa: PLC0415  slow to import

    swing = (clip.frames.max(axis=0).astype(float) - clip.frames.min(axis=0)) / WHITE
    widest = float(np.quantile(swing, 0.995))
    if widest < _LEAST_SWING:
        raise NotMeasurable(
            "nothing in the clip becomes bright and dark",
            "Film the gate against an evenly lit white screen, dark before and after each firing",
        )
    labels, n = ndimage.label(swing > widest / 2)
    sizes = np.bincount(labels.ravel(), minlength=n + 1)[1:]
    patch = labels == 1 + int(np.argmax(sizes))
    if patch.sum() < _LEAST_BLOCKS:
        raise NotMeasurable(
            f"what becomes bright is only {int(patch.sum()) * clip.block_px**2} pixels large",
            "Go nearer, so that the gate fills a third of the picture",
        )
    margin = max(1, round(0.1 * np.sqrt(patch.sum())))
    return _region(ndimage.binary_dilation(patch, iterations=margin), clip.block_px)


def given_region(clip: Clip, text: str) -> Region:
    """The region that somebody gave as ``x,y,width,height`` in pixels of the picture as it is stored.

    Raises
    ------
    NotUnderstood
        It is no such thing, or lies outside.
    """
    try:
        x, y, width, height = (int(part) for part in text.split(","))
    except ValueError:
        raise NotUnderstood(
            f"{text!r} is not understood", "write x,y,width,height in pixels, as 200,120,400,400", "region"
        ) from None
    mask = np.zeros_like(clip.frames[0], bool)
    block = clip.block_px
    mask[max(y, 0) // block : -(-(y + height) // block), max(x, 0) // block : -(-(x + width) // block)] = True
    if mask.sum() < _LEAST_BLOCKS or x < 0 or y < 0:
        wide, high = mask.shape[1] * block, mask.shape[0] * block
        raise NotUnderstood(
            f"{text!r} does not lie in the picture", f"choose a region within its {wide} x {high} pixels", "region"
        )
    return _region(mask, block)


def _region(mask: NDArray[np.bool_], block_px: int) -> Region:
    """A mask with its box."""
    y, x = np.flatnonzero(mask.sum(axis=1)), np.flatnonzero(mask.sum(axis=0))
    left, top = int(x[0]), int(y[0])
    width, height = int(x[-1]) - left + 1, int(y[-1]) - top + 1
    return Region(mask, (left * block_px, top * block_px, width * block_px, height * block_px))


def brightness(clip: Clip, region: Region) -> Floats:
    """Mean linear light of the region in each frame, white is 1, shape (n,)."""
    return np.asarray(clip.frames[:, region.mask].mean(axis=1, dtype=np.float64) / WHITE)
