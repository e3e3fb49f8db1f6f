"""What is wrong with a clip or its light: refused where a time would be wrong, flagged where it would be doubtful."""

import math

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.footage.lines import stripes
from camerawright.bench.footage.openings import Opening, Plateau
from camerawright.bench.footage.region import Region
from camerawright.bench.footage.tone import Tone
from camerawright.bench.options import quoted
from camerawright.quantity import Quantity, coverage_factor
from camerawright.recordings.clips import Clip
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

LAMP_RATE = "Rate at which the lamp blinks"
"""An option, by its label."""
MAX_BLOWN_OUT = 0.02
MAX_FLICKER = 0.10
FLAG_FLICKER = 0.01
FLAG_DRIFT = 0.03
ALIKE = 0.15  # relative: firings this near to one another are one speed of a shutter in need of care. Common practice
SURELY = 0.999
WIDE = 2 ** (1 / 3) - 1  # a third of a stop


def refuse_blown_out(clip: Clip, open_frames: NDArray[np.intp], region: Region) -> None:
    """White that is cut off hides where full is."""
    patch_px = float(region.mask.sum()) * clip.block_px**2
    picture_px = clip.rows.shape[1] * clip.frames.shape[2] * clip.block_px
    part = float(np.median(clip.clipped[open_frames])) * picture_px / patch_px
    if part > MAX_BLOWN_OUT:
        raise NotMeasurable(
            f"the gate is blown out: {numbers.percent(min(part, 1))} of it is white",
            "Lower the exposure until the open gate is a light grey, and lock it",
        )


def refuse_blinking(clip: Clip) -> None:
    """A lamp that blinks within a frame: the time base's, or one that is dimmed by switching."""
    found = stripes(clip)
    if found is not None:
        raise NotMeasurable(
            f"the lamp blinks: stripes stand in the frames, {numbers.fixed(1 / found.per_row, 0)} rows apart and"
            f" {numbers.percent(min(found.contrast, 1))} deep",
            f"If it is the lamp for the line time, give its rate under {quoted(LAMP_RATE)}. For a shutter take a lamp"
            " that is not dimmed by switching",
        )


def refuse_repeated(clip: Clip, light: Floats, openings: tuple[Opening, ...]) -> None:
    """Frames written twice: the clip was converted from another rate."""
    n_edge = n_same = 0
    for one in openings:
        i = np.arange(one.first, one.last + 1)
        parts = (light[i] - one.dark) / max(one.top, 1e-9)
        for k in i[(parts > 0.05) & (parts < 0.9)]:
            n_edge += 1
            n_same += any(np.array_equal(clip.rows[k], clip.rows[k + step]) for step in (-1, 1))
    if n_same >= 2 and n_same > 0.3 * n_edge:
        raise NotMeasurable(
            "its frames are repeated: the clip was converted from a lower rate",
            "Give the clip as the camera wrote it, not one that was edited or sent through a messenger",
        )


def refuse_without_dark(opening: Opening) -> None:
    """A firing needs some dark beside it to tell where zero is."""
    if math.isinf(opening.u_dark):
        raise NotMeasurable("there is no dark beside this firing", "Leave a tenth of a second or more between firings")


def refuse_lost(parts: Floats, at_s: Floats, interval_s: float) -> tuple[str, ...]:
    """A frame lost on an edge takes light with it; one lost where nothing changes takes none."""
    flags: tuple[str, ...] = ()
    for k in np.flatnonzero(np.diff(at_s) > 1.5 * interval_s):
        a, b = parts[k], parts[k + 1]
        if not (min(a, b) > 0.97 or max(a, b) < 0.02):
            raise NotMeasurable("the camera lost a frame on an edge of this firing", "Fire again")
        if max(a, b) > 0.5:
            flags = ("The camera lost a frame while the shutter stood open; the gap is bridged.",)
    return flags


def flicker(plateaus: tuple[Plateau | None, ...]) -> float:
    """Scatter of fully open frames about their line, relative; 0 where too few frames tell or it is noise only.

    A swing of a sine is √2 times its standard deviation: that is what flags and refusals say.
    """
    known = [one for one in plateaus if one is not None and one.n >= 12]
    if not known:
        return 0.0
    n = sum(one.n for one in known)
    part = math.sqrt(sum(one.n * (one.scatter / one.level) ** 2 for one in known) / n)
    return part if part > FLAG_FLICKER / 2 else 0.0


def refuse_flicker(part: float) -> None:
    """A lamp that flickers makes the time depend on the moment."""
    if part > MAX_FLICKER / math.sqrt(2):
        raise NotMeasurable(
            f"the light flickers by {numbers.percent(math.sqrt(2) * part)}", "Use daylight, or a lamp on a battery"
        )


def light_flags(part: float, plateaus: tuple[Plateau | None, ...], n_cut: int) -> tuple[str, ...]:
    """What is doubtful about the light, and what is cut off."""
    flags = []
    if part > FLAG_FLICKER / math.sqrt(2):
        swing = numbers.percent(math.sqrt(2) * part, 1)
        flags.append(f"The light flickers by {swing}: use daylight, or a lamp on a battery.")
    known = [one for one in plateaus if one is not None]
    levels = [one.level for one in known if one.n >= 3]
    drift = max(levels) / min(levels) - 1 if levels else 0.0
    slope = max((abs(one.slope) for one in known), default=0.0)
    if max(drift, slope) > FLAG_DRIFT:
        flags.append(
            f"The level changes by {numbers.percent(max(drift, slope))} during the clip: lock the exposure of the"
            " camera."
        )
    if n_cut:
        flags.append(f"The clip cuts off {numbers.counted(n_cut, 'opening')} at its ends; we left out what is cut off.")
    return tuple(flags)


def tone_flags(clip: Clip, tone: Tone) -> tuple[str, ...]:
    """A tone curve that nobody named, or that the picture contradicts."""
    if tone.is_contradicted:
        return (
            f"The file names the tone curve {clip.transfer}, but the edges of the blades show another: the times are"
            " corrected by what they show, and their intervals are wider.",
        )
    if clip.is_transfer_known:
        return ()
    taken = f"The file does not name its tone curve; we took {clip.transfer}"
    if tone.is_checked:
        return (f"{taken}, and corrected the times by what the edges of the blades show of it.",)
    return (f"{taken}. Too few openings show how far it bends: the intervals hold all that is likely.",)


def length_flags(effective: list[Quantity]) -> tuple[str, ...]:
    """Firings of more than one speed in a clip, or firings that scatter by more than they are known."""
    if is_of_several_speeds(effective):
        return (
            "The firings differ by more than a stop. To compare a speed with its mark, film it in a clip of its own.",
        )
    spread = float(np.ptp(np.log([one.value for one in effective])))
    known = max(one.u / one.value for one in effective)
    if spread > max(ALIKE, 4 * known):
        return (
            f"The firings differ by {numbers.fixed(math.log2(math.e) * spread, 2)} stop, more than they are known by:"
            " the shutter does not repeat, or frames are missing or made up and the file does not say so.",
        )
    return ()


def is_of_several_speeds(effective: list[Quantity]) -> bool:
    """Whether firings differ by more than a stop, as those of one setting of the dial hardly do. Common practice."""
    values = [one.value for one in effective]
    return max(values) > 2 * min(values)


def wide_flags(effective: Quantity) -> tuple[str, ...]:
    """A firing that may be wrong by a third of a stop with a chance of one in a thousand and more."""
    part = coverage_factor(effective.dof, SURELY) * effective.u / effective.value
    if part < WIDE:
        return ()
    return (
        f"Known within {numbers.percent(effective.expanded_u / effective.value)} only: the firing is too short for this"
        " rate of frames. Film at a higher one, or give the exposure of a frame.",
    )


def mark_flags(error_ev: float, *, is_told: bool) -> tuple[str, ...]:
    """Times that are twice, four or eight times the mark, in a clip whose rate of capture nobody named."""
    stops = round(error_ev)
    if is_told or not 1 <= stops <= 4 or abs(error_ev - stops) > 1 / 3:
        return ()
    return (
        f"The times are about {2**stops} times the marked one, and the file does not say how many frames a second the"
        " camera took: slow motion looks like this. Give the rate of capture.",
    )
