"""What is wrong with a clip or its light: refused where a time would be wrong, flagged where it would be doubtful."""

import math

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.footage.lines import stripes
from camerawright.bench.footage.openings import Opening, Plateau
from camerawright.bench.footage.region import Region
from camerawright.quantity import Quantity, coverage_factor
from camerawright.recordings.clips import Clip
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

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
            f"the gate is blown out: {100 * min(part, 1):.0f} % of it is white",
            "Lower and lock the exposure until the open gate is a light grey",
        )


def refuse_blinking(clip: Clip) -> None:
    """A lamp that blinks within a frame: the time base's, or one that is dimmed by switching."""
    found = stripes(clip)
    if found is not None:
        raise NotMeasurable(
            f"the lamp blinks: stripes stand in the frames, {1 / found.per_row:.0f} rows apart and"
            f" {100 * min(found.contrast, 1):.0f} % deep",
            "If it is the lamp for the line time, tell its rate (--led-hz); for a shutter take a lamp that is not"
            " dimmed by switching",
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
            "its frames are repeated: it was converted from a lower rate",
            "Give the clip as the camera wrote it, not one that was edited or sent through a messenger",
        )


def refuse_without_dark(opening: Opening) -> None:
    """A firing needs some dark beside it to tell where zero is."""
    if math.isinf(opening.u_dark):
        raise NotMeasurable("there is no dark beside it", "Leave a tenth of a second and more between firings")


def refuse_lost(parts: Floats, at_s: Floats, interval_s: float) -> tuple[str, ...]:
    """A frame lost on an edge takes light with it; one lost where nothing changes takes none."""
    flags: tuple[str, ...] = ()
    for k in np.flatnonzero(np.diff(at_s) > 1.5 * interval_s):
        a, b = parts[k], parts[k + 1]
        if not (min(a, b) > 0.97 or max(a, b) < 0.02):
            raise NotMeasurable("the camera lost a frame on an edge of it", "Fire again")
        if max(a, b) > 0.5:
            flags = ("The camera lost a frame while it stood open; the gap is bridged.",)
    return flags


def flicker(plateaus: tuple[Plateau | None, ...]) -> float:
    """Scatter of fully open frames about their line, relative; 0 where too few frames tell or it is noise only."""
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
            f"the light flickers by {100 * math.sqrt(2) * part:.0f} %", "Use daylight, or a lamp on a battery"
        )


def light_flags(part: float, plateaus: tuple[Plateau | None, ...], clip: Clip, n_cut: int) -> tuple[str, ...]:
    """What is doubtful about the light and the clip."""
    flags = []
    if part > FLAG_FLICKER / math.sqrt(2):
        flags.append(f"The light flickers by {100 * math.sqrt(2) * part:.1f} %: use daylight or a battery.")
    known = [one for one in plateaus if one is not None]
    levels = [one.level for one in known if one.n >= 3]
    drift = max(levels) / min(levels) - 1 if levels else 0.0
    slope = max((abs(one.slope) for one in known), default=0.0)
    if max(drift, slope) > FLAG_DRIFT:
        flags.append(
            f"The level changes by {100 * max(drift, slope):.0f} % during the clip: lock the exposure of the camera."
        )
    if n_cut:
        flags.append(f"{n_cut} opening{'s' * (n_cut != 1)} at an end of the clip left out.")
    if not clip.is_transfer_known and clip.format:
        flags.append(f"The file does not name its tone curve; {clip.transfer} is taken.")
    return tuple(flags)


def length_flags(effective: list[Quantity]) -> tuple[str, ...]:
    """Firings of more than one speed in a clip, or firings that scatter by more than they are known."""
    values = np.array([one.value for one in effective])
    if values.max() > 2 * values.min():
        return (
            "The firings differ by more than a stop: film each speed in a clip of its own to compare it with a mark.",
        )
    spread = float(np.ptp(np.log(values)))
    known = max(one.u / one.value for one in effective)
    if spread > max(ALIKE, 4 * known):
        return (
            f"The firings differ by {math.log2(math.e) * spread:.2f} stop, more than they are known by: the shutter"
            " does not repeat, or frames are missing or made up that the file does not tell of.",
        )
    return ()


def wide_flags(effective: Quantity) -> tuple[str, ...]:
    """A firing that may be wrong by a third of a stop with a chance of one in a thousand and more."""
    part = coverage_factor(effective.dof, SURELY) * effective.u / effective.value
    if part < WIDE:
        return ()
    percent = 100 * effective.expanded_u / effective.value
    return (
        f"Known within {percent:.0f} % only: too short for this rate of frames; film at a higher one, or give the"
        " exposure of a frame.",
    )


def mark_flags(error_ev: float, *, is_told: bool) -> tuple[str, ...]:
    """Times that are twice, four or eight times the mark, in a clip whose rate of capture nobody named."""
    stops = round(error_ev)
    if is_told or not 1 <= stops <= 4 or abs(error_ev - stops) > 1 / 3:
        return ()
    return (
        f"The times are about {2**stops} times the marked one, and the file does not say at how many frames a second it"
        " was taken: slow motion looks like this. Give the rate of capture.",
    )
