"""What all firings of a clip share: light, openings, level, dark and open frames, how edges are smeared."""

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.footage import health
from camerawright.bench.footage.blades import uncovered
from camerawright.bench.footage.openings import (
    ADVICE_LEVEL,
    Opening,
    common_level,
    find_openings,
    plateau_of,
    references,
)
from camerawright.bench.footage.record import Frame
from camerawright.bench.footage.region import Region, brightness
from camerawright.bench.footage.times import Times
from camerawright.recordings.clips import Clip
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_GREY = 0.02  # of the level: frames further than this from dark and from fully lit show an edge
_MOST_LOOKED_AT = 40  # frames of a long opening


class Scene:
    """One clip: its openings, and which of them were held to show the level."""

    def __init__(self, clip: Clip, region: Region, times: Times) -> None:
        self.clip, self.region, self.times = clip, region, times
        self.light = brightness(clip, region)
        openings, n_cut, self.sigma = find_openings(self.light)
        if not openings:
            raise NotMeasurable(
                "no opening lies whole in the clip", "Start the clip before the first firing and end it after the last"
            )
        health.refuse_repeated(clip, self.light, openings)
        self.is_reference = references(openings)
        self.openings = openings
        self.plateaus = tuple(plateau_of(self.light, one, self.sigma) for one in openings)
        self.firings = tuple(one for one, held in zip(openings, self.is_reference, strict=True) if not held)
        self.level = common_level(openings, self.plateaus, self.is_reference, self.sigma)
        self.flicker = health.flicker(self.plateaus)
        health.refuse_flicker(self.flicker)
        self.open_frames = self._open_frames()
        self.dark_frames = np.flatnonzero(self.light < np.median([one.dark for one in openings]) + 3 * self.sigma)
        full = [one for one in openings if one.top > 0.95 * self.level.value]
        if not len(self.dark_frames):
            raise NotMeasurable(
                "no frame shows the gate as dark as it is beside the firings: other light comes and goes",
                "Take other light away, lock the exposure of the camera, and leave dark between the firings",
            )
        self.mixed = np.array([self._mixed(one) for one in full])
        self.flags = (
            *self.level.flags,
            *health.light_flags(self.flicker, self.plateaus, clip, n_cut),
        )

    def parts(self, opening: Opening, level: float) -> Floats:
        """Light over the level in the frames of an opening."""
        return (self.light[opening.window] - opening.dark) / level

    def _mixed(self, opening: Opening) -> float:
        """Sum of b(1 - b) over the frames of an opening: how much of it lies on edges. [frames]"""
        parts = self.parts(opening, self.level.value)
        edge = parts[parts < 1 - _GREY]  # an error of the level would add up over the frames that stand open
        return float(np.sum(edge * (1 - edge)))

    def greyness(self, opening: Opening) -> float:
        """Sum of b(1 - b) block by block: a tone curve bends what is neither dark nor fully lit itself. [frames]"""
        i, mask = self._looked_at(opening), self.region.mask
        parts = (self.light[i] - opening.dark) / self.level.value
        i = i[(parts > _GREY) & (parts < 1 - _GREY)]  # noise would add up over the others
        dark = self.clip.frames[self.dark_frames[:100]][:, mask].mean(axis=0, dtype=float)
        full = np.maximum(self.clip.frames[self.open_frames][:, mask].mean(axis=0, dtype=float) - dark, 1)
        part = np.clip((self.clip.frames[i][:, mask] - dark) / full, 0, 1)
        return float(np.sum((part * (1 - part)) @ full) / full.sum())

    def shown(self, opening: Opening) -> tuple[Frame, ...]:
        """How far the gate is uncovered in the frames of an opening; of a long one, in its first and last."""
        i = self._looked_at(opening)
        return uncovered(self.clip, self.region, i, self.open_frames, self.dark_frames, self.times.at_s)

    def _looked_at(self, opening: Opening) -> NDArray[np.intp]:
        """The frames of an opening, or its edges where all between is fully lit."""
        i = np.arange(opening.window.start, opening.window.stop)
        half = _MOST_LOOKED_AT // 2
        return np.concatenate([i[:half], i[-half:]]) if len(i) > _MOST_LOOKED_AT else i

    def _open_frames(self) -> NDArray[np.intp]:
        """Frames that show the gate fully open, at the most a hundred."""
        lit = np.concatenate([np.arange(one.first, one.last + 1) for one in self.openings])
        darks = np.concatenate([np.full(one.last + 1 - one.first, one.dark) for one in self.openings])
        near = lit[self.light[lit] - darks > 0.97 * self.level.value]
        if not len(near):
            raise NotMeasurable("no frame shows the gate fully open", ADVICE_LEVEL)
        return np.asarray(near[:: max(1, len(near) // 100)])
