"""How far the blades uncover the gate, frame by frame."""

import math

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.footage.record import Frame
from camerawright.bench.footage.region import Region
from camerawright.recordings.clips import Clip

Floats = NDArray[np.float64]


def uncovered(
    clip: Clip, region: Region, frames: NDArray[np.intp], open_frames: NDArray[np.intp], dark_frames: NDArray[np.intp],
    at_s: Floats,
) -> tuple[Frame, ...]:  # fmt: skip
    """The uncovered part of the gate in each of some frames.

    Notes
    -----
    A block counts as uncovered where it holds more than half of the light that it has fully open. A block between a
    quarter and three quarters may be either: the standard uncertainty is that of a box over half of those to either
    side, half their number over √3 ([jcgm-100] 4.3.7), and half a block for the grid. Within the
    exposure of a frame the blades move; the part is that of its middle only as far as they move evenly.
    """
    mask = region.mask
    dark = clip.frames[dark_frames][:, mask].mean(axis=0, dtype=float)
    full = clip.frames[open_frames][:, mask].mean(axis=0, dtype=float) - dark
    gate = full > 0.5 * np.quantile(full, 0.9)
    n_gate = int(gate.sum())
    out = []
    for i in map(int, frames):
        part = (clip.frames[i][mask].astype(float) - dark)[gate] / full[gate]
        doubtful = int(np.sum((part > 0.25) & (part < 0.75)))
        area = float(np.sum(part > 0.5)) / n_gate
        u_area = math.hypot(0.5 * doubtful / math.sqrt(3), 0.5) / n_gate
        out.append(Frame(i, float(at_s[i]), float(part @ full[gate] / full[gate].sum()), area, u_area))
    return tuple(out)
