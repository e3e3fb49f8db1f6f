"""Rolling shutter as a time base: the line time from a lamp that blinks, and a firing from the band it leaves."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.footage.record import LineTime
from camerawright.bench.footage.times import Times
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.clips import Clip
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

U_LED = 1e-4  # u of the blink rate of a lamp driven from a sound output, relative: its crystal. Common practice
MIN_CONTRAST = 0.03
_LEAST_PERIODS = 2.0
_BRIGHT, _LEAST_FRAMES = 0.3, 4  # frames at least this bright, of the brightest, and so many of them
_LEAST_TURNS = 1.5  # of the stripes through the field, over all frames
_FINEST = 0.4  # stripes to a row: finer ones are fields that were woven into one frame
_OVER_NOISE = 30.0  # of the power beside the peak
_FLAT = 0.6  # darkest row of the field over the brightest
_USABLE = 0.3  # rows at least this bright, of the brightest, are looked at


def line_time(clip: Clip, times: Times, led_hz: float) -> LineTime:
    """The line time from a clip of a lamp that blinks at a known rate over the whole field.

    Raises
    ------
    NotMeasurable
        No stripes, too few of them, or stripes that stand still or cannot be those of that rate.

    Notes
    -----
    A row's brightness over its own mean of all frames swings with the blink rate times its moment, so its spatial
    frequency [1/row] is blink rate [1/s] times line time [s/row]: the peak of the spectra of all frames together,
    refined by least squares of the first three harmonics in groups of frames. The mean over the groups has the
    uncertainty of their scatter over √groups ([jcgm-100] 4.2.3). A row out of step by one frame turns the stripes by
    blink rate times frame interval: a whole number of turns leaves them where they are, as unevenness stays too.
    """
    found = stripes(clip)
    if found is None:
        raise NotMeasurable(
            "no stripes stand in the frames",
            "Let the lamp blink on and off at 500 to 2000 Hz, light the whole field through a diffuser, set the"
            " shortest exposure, and choose a rate that is not a multiple of the frame rate",
        )
    swing = found.swing
    n_frames, n_rows = swing.shape
    turns = led_hz * times.interval_s
    if abs(turns - round(turns)) * n_frames < _LEAST_TURNS:
        raise NotMeasurable(
            f"at {numbers.short(led_hz)} Hz the stripes hardly move over {n_frames} frames of"
            f" {numbers.short(1e3 * times.interval_s, 4)} ms, and look like the unevenness of the field itself",
            f"Let the lamp blink at {numbers.fixed(led_hz + 0.25 / times.interval_s, 0)} Hz, or at any rate that is not"
            " close to a multiple of the frame rate",
        )
    n_groups = min(8, n_frames // 2)
    each = np.array([_frequency(swing[i::n_groups], found.per_row, 1 / n_rows) for i in range(n_groups)])
    value_s = float(each.mean()) / led_hz
    u_scatter = float(each.std(ddof=1)) / math.sqrt(n_groups) / led_hz
    readout_s = value_s * clip.rows.shape[1]
    if readout_s > 1.05 * times.interval_s:
        raise NotMeasurable(
            f"at {numbers.short(led_hz)} Hz the rows would take {numbers.short(1e3 * readout_s, 3)} ms, longer than a"
            f" frame of {numbers.short(1e3 * times.interval_s, 3)} ms",
            "Check the rate of the lamp and the rate of capture",
        )
    return LineTime(
        Quantity(value_s, "s", (
            BudgetLine("scatter of the frames", u_scatter, n_groups - 1, "A"),
            BudgetLine("lamp's rate", U_LED * value_s),
        )),
        readout_s, found.contrast, n_frames, times.flags,
    )  # fmt: skip


@dataclass(frozen=True)
class Stripes:
    """Stripes of light that blinks within a frame: rows over their mean of all frames, (frames, rows), less one.

    `per_row` is how many stripes there are to a row, `contrast` how deep they are.
    """

    swing: Floats
    per_row: float
    contrast: float


def stripes(clip: Clip) -> Stripes | None:
    """The stripes of a lamp that blinks twice and more within a frame; None where none stand in the bright frames."""
    means = clip.rows.mean(axis=1)
    rows = clip.rows[means > _BRIGHT * float(means.max())].astype(float)
    if len(rows) < _LEAST_FRAMES:
        return None
    profile = rows.mean(axis=0)
    bright = profile > _USABLE * profile.max()
    first, stop = int(np.argmax(bright)), len(bright) - int(np.argmax(bright[::-1]))
    swing = rows[:, first:stop] / np.maximum(profile[first:stop], 1e-9) - 1
    swing -= swing.mean(axis=1, keepdims=True)
    n_rows = swing.shape[1]
    n_bins = 16 * 2 ** math.ceil(math.log2(max(n_rows, 16)))
    power = (np.abs(np.fft.rfft(swing * np.hanning(n_rows), n_bins, axis=1)) ** 2).mean(axis=0)
    least = math.ceil(_LEAST_PERIODS / n_rows * n_bins)
    within = power[least : round(_FINEST * n_bins)]
    if not within.size:
        return None
    peak = least + int(np.argmax(within))
    contrast = 2 * math.sqrt(float(power[peak])) / (n_rows / 2)
    if contrast < MIN_CONTRAST or power[peak] < _OVER_NOISE * float(np.median(power[least:])) or peak <= least + 1:
        return None
    return Stripes(swing, peak / n_bins, contrast)


def _frequency(swing: Floats, near: float, reach: float) -> float:
    """Spatial frequency at which three harmonics, in any phase for each frame, leave the least. [1/row]"""
    from scipy.optimize import minimize_scalar  # noqa: PLC0415  slow to import

    y = np.arange(swing.shape[1]) - (swing.shape[1] - 1) / 2

    def left(frequency: float) -> float:
        """Square sum of what the fit leaves."""
        waves = [np.ones_like(y)]
        for k in (1, 2, 3):
            if k * frequency < 0.45:
                waves += [np.cos(2 * math.pi * k * frequency * y), np.sin(2 * math.pi * k * frequency * y)]
        basis = np.linalg.qr(np.stack(waves, axis=1))[0]
        return float(np.sum(swing**2) - np.sum((swing @ basis) ** 2))

    found = minimize_scalar(
        left, bounds=(near - reach / 2, near + reach / 2), method="bounded", options={"xatol": 1e-9}
    )
    return float(found.x)


@dataclass(frozen=True)
class Band:
    """A firing as the band it left in one frame: its time in rows, the rows partly lit, noise of that. [rows]"""

    i_frame: int
    rows: float
    mixed: float
    u_noise: float
    u_level: float


class Field:
    """The rows of a field that is lit alike from top to bottom, from frames of the gate open and of the dark.

    Parameters
    ----------
    open_frames, dark_frames
        Their numbers in the clip.

    Raises
    ------
    NotMeasurable
        The field is not flat.
    """

    def __init__(self, clip: Clip, open_frames: NDArray[np.intp], dark_frames: NDArray[np.intp]) -> None:
        self.clip = clip
        self.dark = clip.rows[dark_frames].mean(axis=0, dtype=float)
        full = clip.rows[open_frames].mean(axis=0, dtype=float) - self.dark
        usable = full > _USABLE * full.max()
        self.first, self.stop = int(np.argmax(usable)), len(usable) - int(np.argmax(usable[::-1]))
        inner = full[self.first : self.stop]
        flatness = float(np.quantile(inner, 0.02) / inner.max())
        if self.stop - self.first < 0.5 * len(full) or flatness < _FLAT:
            raise NotMeasurable(
                f"the field is not flat: its rows fall to {numbers.percent(min(flatness, 1))} of the brightest, over"
                f" {numbers.percent((self.stop - self.first) / len(full))} of the height of the picture",
                "Put a diffuser close to the lens of the camera that films, so that every row sees the whole gate. Or"
                " do not give a line time: then the test sums the frames",
            )
        self.full = inner
        dark_rows = clip.rows[dark_frames][:, self.first : self.stop]
        self.sigma = float(np.median(dark_rows.std(axis=0, ddof=1)) / np.median(inner))
        self.u_relative = max(0.002, self.sigma / math.sqrt(max(1, len(open_frames))))

    def lit(self, i_frame: int) -> Floats:
        """Each row of a frame over its full level."""
        return np.asarray(
            (self.clip.rows[i_frame, self.first : self.stop] - self.dark[self.first : self.stop]) / self.full
        )

    def band(self, frames: range) -> Band:
        """The band of a firing that was seen in these frames.

        Raises
        ------
        NotMeasurable
            It does not lie whole in one frame.
        """
        seen = [self.lit(i) for i in frames]
        threshold = max(0.05, 5 * self.sigma)
        hit = [n for n, rows in enumerate(seen) if np.any(_smooth(rows) > threshold)]
        if not hit:
            raise NotMeasurable("its frames show no band", "Use more light, or a longer exposure of the camera")
        rows = seen[hit[0]]
        lit = np.flatnonzero(_smooth(rows) > threshold)
        edge = max(3, round(0.03 * len(rows)))
        if len(hit) > 1 or lit[0] < edge or lit[-1] >= len(rows) - edge:
            raise NotMeasurable(
                "its band runs over the edge of a frame, where the camera may not look",
                "Fire again: a band lies whole in a frame by luck, and only if firing and exposure together are shorter"
                " than the readout",
            )
        start, stop = max(0, lit[0] - edge), min(len(rows), lit[-1] + edge + 1)
        inside = rows[start:stop]
        clipped = np.clip(inside, 0, 1)
        return Band(
            frames[hit[0]], float(inside.sum()), float(np.sum(clipped * (1 - clipped))),
            2 * self.sigma * math.sqrt(stop - start), self.u_relative * float(inside.sum()),
        )  # fmt: skip


def _smooth(rows: Floats) -> Floats:
    """Mean of three rows."""
    return np.convolve(rows, np.full(3, 1 / 3), mode="same")
