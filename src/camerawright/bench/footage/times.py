"""When the frames were taken: real timestamps, the slow motion of the container, lost and uneven frames."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.recordings.clips import Clip
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

U_CLOCK = 1e-4  # u of a camera's clock, relative. Common practice
U_NOMINAL = 2e-3  # u of a rate that is only named, not in the timestamps. Common practice
_AGREE = 0.05
_LOST = 1.5  # of the interval: a step this long has lost a frame


@dataclass(frozen=True, eq=False)
class Times:
    """Moments of the frames in the time of the shutter.

    `slowed` is how many times slower than life the container plays; `jitter_s` is the scatter of the steps;
    `lost_after` are the frames after which one or more are missing; `is_told` where somebody or the file named the
    rate of capture.
    """

    at_s: Floats
    interval_s: float
    slowed: float
    jitter_s: float
    lost_after: NDArray[np.intp]
    u_relative: float
    is_told: bool
    flags: tuple[str, ...]


def times_of(clip: Clip, capture_fps: float | None) -> Times:
    """The moments of the frames, with the container's slow motion undone.

    Parameters
    ----------
    capture_fps
        The rate at which the camera took the frames, where somebody says so; else what the file says.

    Raises
    ------
    NotMeasurable
        The rate that was given and the timestamps cannot both be right.
    """
    played_fps = 1 / float(np.median(np.diff(clip.at_s)))
    told = capture_fps or clip.capture_fps
    rate_hz = told or played_fps
    slowed = rate_hz / played_fps
    flags = []
    if abs(slowed - 1) < _AGREE:
        slowed = 1.0
        if not told and played_fps < 100:
            flags.append(
                f"The file plays at {numbers.fixed(played_fps, 0)} frames a second and does not say how many the camera"
                " took: if it was saved as slow motion, every time here is too long. Give the rate of capture."
            )
    elif _is_whole(slowed):
        flags.append(
            f"The file plays {numbers.short(slowed, 3)} times slower than life. Times count at the"
            f" {numbers.short(rate_hz)} frames a second that {'you gave' if capture_fps else 'the camera noted'}."
        )
    else:
        raise NotMeasurable(
            f"the frames were taken at {numbers.short(rate_hz)} a second and play at {numbers.short(played_fps, 4)}:"
            " that is no whole number of times slower, so frames were left out or made up",
            "Give the clip as the camera wrote it, and the rate of capture as the camera shows it",
        )
    at_s = clip.at_s / slowed
    steps = np.diff(at_s)
    interval_s = float(np.median(steps))
    lost = np.flatnonzero(steps > _LOST * interval_s)
    regular = steps[steps <= _LOST * interval_s]
    jitter_s = float(np.std(regular)) if slowed == 1 else 0.0
    if len(lost):
        flags.append(f"The camera lost one or more frames {numbers.counted(len(lost), 'time')}.")
    if jitter_s > 0.1 * interval_s:
        flags.append(
            f"The frames come unevenly, by {numbers.short(1e3 * jitter_s, 2)} ms: we use their own timestamps."
        )
    u_relative = U_CLOCK if slowed == 1 else U_NOMINAL
    return Times(at_s, interval_s, slowed, jitter_s, lost, u_relative, told is not None, tuple(flags))


def _is_whole(factor: float) -> bool:
    """A factor by which cameras slow a clip down."""
    return factor >= 1.5 and abs(factor - round(factor)) < 0.03 * round(factor)
