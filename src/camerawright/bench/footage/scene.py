"""What all firings of a clip share: light, openings, level, dark and open frames, how edges are smeared."""

from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.footage import health
from camerawright.bench.footage.blades import uncovered
from camerawright.bench.footage.openings import (
    ADVICE_LEVEL,
    LONG,
    Opening,
    common_level,
    find_openings,
    maybe_held,
    plateau_of,
    references,
    shows_level,
)
from camerawright.bench.footage.record import Frame
from camerawright.bench.footage.region import Region, brightness
from camerawright.bench.footage.times import Times
from camerawright.bench.footage.tone import Tone, counted, straightened, tone_of
from camerawright.recordings.clips import Clip
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_GREY = 0.02  # of the level: frames further than this from dark and from fully lit show an edge
_MOST_LOOKED_AT = 40  # frames of a long opening
_STANDS = 0.1  # of the level from frame to frame: blades move faster
_FAINT = 0.012  # of the level: light beside the shutter that adds up if it lasts
_GREY_ALIKE = 0.05  # of the level: under it, what a phone's smoothing leaves of the frames before
_DIMMED = 0.5  # of the level
_HALFWAY = 0.35  # from a half: frames in which the spots of the gate differ most
_APART = 0.03  # scatter of the parts of the light along a row: less where a diffuser mixes the gate
_LIT_UP = 0.3  # of the brightest block: blocks of the gate, and not of its rim
_ALIKE = 0.5  # of the greyness of the whole: between blades that stand, 0, and light that is even, 1


class Scene:
    """One clip: its openings, and which of them were held to show the level."""

    def __init__(self, clip: Clip, region: Region, times: Times) -> None:
        self.clip, self.region, self.times = clip, region, times
        self.light = brightness(clip, region)
        found, self.sigma = find_openings(self.light)
        self.of_other_light = tuple(one for one in found if not self.is_of_blades(one))
        left_out = {
            *self.of_other_light,
            *(one for one in found if one.is_cut and not shows_level(one, self.light, self.sigma)),
        }
        openings = tuple(one for one in found if one not in left_out)
        if all(one.is_cut for one in openings):
            raise NotMeasurable(
                "no opening lies whole in the clip: nobody saw it both open and close",
                "Start the clip before the first firing and end it after the last",
            )
        health.refuse_repeated(clip, self.light, tuple(one for one in openings if not one.is_cut))
        self.is_reference = references(openings)
        self.openings = openings
        self.plateaus = tuple(plateau_of(self.light, one, self.sigma) for one in openings)
        self.firings = tuple(one for one, held in zip(openings, self.is_reference, strict=True) if not held)
        self.level = common_level(openings, self.plateaus, self.is_reference, self.sigma)
        self.flicker = health.flicker(self.plateaus)
        health.refuse_flicker(self.flicker)
        self.open_frames = self._open_frames()
        self.dark_frames = np.flatnonzero(self.light < np.median([one.dark for one in openings]) + 3 * self.sigma)
        full = [one for one in openings if not one.is_cut and one.top > 0.95 * self.level.value]
        if not len(self.dark_frames):
            raise NotMeasurable(
                "no frame shows the gate as dark as it is beside the firings: other light comes and goes",
                "Take other light away, lock the exposure of the camera, and leave dark between the firings",
            )
        self.mixed = np.array([self._mixed(one) for one in full])
        self.flags = (
            *self.level.flags,
            *health.light_flags(self.flicker, self.plateaus, sum(one.is_cut for one in left_out)),
        )

    def length_s(self, opening: Opening) -> float:
        """How long an opening is lit, to a frame. [s]"""
        return opening.n_lit * self.times.interval_s

    def maybe_held(self, marked_s: float | None) -> tuple[Opening, ...]:
        """Firings that may be the gate held open: none where another opening was surely held."""
        if any(self.is_reference):
            return ()
        odd = maybe_held(np.array([self.length_s(one) for one in self.firings]), marked_s)
        return tuple(self.firings[i] for i in odd)

    def parts(self, opening: Opening, level: float) -> Floats:
        """Light over the level in the frames of an opening."""
        return (self.light[opening.window] - opening.dark) / level

    def _mixed(self, opening: Opening) -> float:
        """Sum of b(1 - b) over the frames of an opening: how much of it lies on edges. [frames]"""
        parts = self.parts(opening, self.level.value)
        edge = parts[parts < 1 - _GREY]  # an error of the level would add up over the frames that stand open
        return float(np.sum(edge * (1 - edge)))

    @cached_property
    def tone(self) -> Tone:
        """The tone curve, by the file and by the edges of every opening that was seen whole.

        Through a diffuser every block sees the whole gate, and its edges tell nothing.
        """
        seen = [one for one in self.openings if not one.is_cut and one.top > 0.5 * self.level.value]
        gate = self._dark_and_full[1] > _LIT_UP * self._dark_and_full[1].max()
        grey = [self._grey_blocks(one)[:, gate] for one in seen]
        row = np.nonzero(self.region.mask)[0][gate]
        together = np.concatenate(grey)
        half = together[np.abs(together.mean(axis=1) - 0.5) < _HALFWAY]
        within = [half[:, row == each].std(axis=1) for each in np.unique(row)]
        if not len(half) or float(np.mean(within)) < _APART:
            grey = []
        return tone_of(self.clip.is_transfer_known, [counted(one) for one in grey])

    def bent(self, opening: Opening) -> tuple[float, float]:
        """What the bend of the tone curve adds to the sum over an opening, and the u of that. [frames]"""
        part, full = self._grey_blocks(opening), self._dark_and_full[1]
        weight, tone = full / full.sum(), self.tone

        def added(bend: float) -> float:
            return float(np.sum((part - straightened(part, bend)) @ weight))

        return added(tone.bend), (added(tone.bend + tone.u / 2) - added(tone.bend - tone.u / 2))

    def _grey_blocks(self, opening: Opening) -> Floats:
        """The part of its light that each block has, in the frames of an opening that are neither dark nor open.

        A tone curve bends what is grey itself. Noise would add up over the other frames.
        """
        i = self._looked_at(opening)
        parts = (self.light[i] - opening.dark) / self.level.value
        i = i[(parts > _GREY) & (parts < 1 - _GREY)]
        dark, full = self._dark_and_full
        return np.asarray(np.clip((self.clip.frames[i][:, self.region.mask] - dark) / full, 0, 1))

    def is_of_blades(self, opening: Opening, level: float | None = None) -> bool:
        """Whether no light that came and went all over the gate alike is in an opening: a lamp, a hand, a leak.

        Blades that stand, or move slowly, leave each block of the gate dark or lit; such light leaves all of them grey.
        Grey is what lies between the dark and the level, or the opening's own top where no level is known yet.
        """
        i = np.arange(max(opening.window.start, 0), min(opening.window.stop, len(self.light)))
        parts = (self.light[i] - opening.dark) / (level or opening.top)
        stands = np.zeros(len(i), bool)
        stands[1:-1] = (np.abs(parts[2:] - parts[:-2]) < 2 * _STANDS) & (parts[1:-1] > _FAINT)
        full = np.flatnonzero(parts > 0.9)
        if level:
            stands &= parts < _DIMMED  # brighter it may be the gate, seen by a camera whose exposure was not locked
        else:
            stands[full[0] : full[-1] + 1] = False  # what swings there is a lamp that flickers
        open_frames = self.open_frames if level else i[parts > 0.95]
        for is_among, least in ((parts > _GREY_ALIKE, 3), (parts <= _GREY_ALIKE, LONG)):
            among = i[stands & is_among]
            if len(among) >= least and self._greyness(among, open_frames) > _ALIKE:
                return False
        return True

    def _greyness(self, frames: NDArray[np.intp], open_frames: NDArray[np.intp]) -> float:
        """How grey the blocks of some frames are, over how grey the whole is: 0 between blades, 1 in even light."""
        mask = self.region.mask
        dark = self.clip.frames[self.light < np.median(self.light[self.light < self.light.mean()])][:, mask].mean(
            axis=0
        )
        full = self.clip.frames[open_frames][:, mask].mean(axis=0, dtype=float) - dark
        lit = full > _LIT_UP * full.max()
        part = np.clip((self.clip.frames[frames][:, mask] - dark)[:, lit] / full[lit], 0, 1)
        whole = part.mean(axis=1)
        return float(np.median((part * (1 - part)).mean(axis=1) / np.maximum(whole * (1 - whole), 1e-6)))

    @cached_property
    def _dark_and_full(self) -> tuple[Floats, Floats]:
        """Each block of the region in the dark, and what it gains when the gate is fully open."""
        mask = self.region.mask
        dark = self.clip.frames[self.dark_frames[:100]][:, mask].mean(axis=0, dtype=float)
        return dark, np.maximum(self.clip.frames[self.open_frames][:, mask].mean(axis=0, dtype=float) - dark, 1)

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
