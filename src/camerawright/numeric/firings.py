"""Where in a recording the shutter fired."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

# Chosen, not cited; the tests of refusals and of hostile recordings hold what comes of them.
_BLOCK_S = 0.25e-3
_STEP_BLOCKS = 4  # a step is the difference of two means over 1 ms: edges last about that, thumps are slower
_OVER_NOISE = 7.0  # normal noise passes 7 sigma once in 4e11 steps: never in a recording
_OVER_LARGEST = 0.25  # of the largest step: a recording may hold firings at several apertures
_OVER_NEAR, _NEAR_S = 0.3, 0.1  # of the largest step near by: smaller ones are droop, bounces, flicker and ticks
_END_STOP = 0.98  # of full scale
_MERGE_S = 3e-3  # an edge is one edge, however its noise makes it look

GUARD_S = 4e-3
"""How far an edge may reach from its middle, as a first guess; a closing with its bounce may take twice that. [s]"""


@dataclass(frozen=True)
class Span:
    """One opening and closing, to about half a millisecond. [s from the start of the recording]"""

    up_s: float
    down_s: float

    @property
    def duration_s(self) -> float:
        """Roughly how long it was open."""
        return self.down_s - self.up_s


@dataclass(frozen=True)
class Found:
    """The firings of a recording.

    `spans` are in order; `sign` is the sign of their light; `n_lonely` counts the edges without a partner; `contrast`
    is the middle edge's step over the middle step of the whole recording.
    """

    spans: tuple[Span, ...]
    sign: float
    n_lonely: int
    contrast: float


def find(level: Floats, rate_hz: float) -> Found:
    """Find the firings of a recording: a step towards the light, then a step back.

    Parameters
    ----------
    level : shape (n,)
        One channel, any offset, either polarity, AC coupled or not.
    rate_hz
        Sampling rate. [Hz]

    Raises
    ------
    NotMeasurable
        No step stands out from the noise, or none has a partner.

    Notes
    -----
    A step at time t is the mean of the light over 1 ms after t less the mean over 1 ms before it. An AC coupling lets
    edges pass and turns everything slow into still slower droop, so steps tell what levels cannot.
    """
    width = block_width(rate_hz)
    return find_in_blocks(level[: len(level) // width * width].reshape(-1, width).mean(axis=1), width / rate_hz)


def block_width(rate_hz: float) -> int:
    """Count the samples in a block: firings are looked for in the means of blocks."""
    return max(1, round(_BLOCK_S * rate_hz))


def find_in_blocks(blocks: Floats, block_s: float) -> Found:
    """Find the firings in means over blocks of `block_width` samples, each `block_s` long; raises as `find` does."""
    if len(blocks) < 40:
        raise NotMeasurable("the recording is too short to hold a firing and dark beside it", _ADVICE_QUIET)
    _refuse_one_value(blocks)
    total = np.concatenate([[0.0], np.cumsum(blocks)])
    m = _STEP_BLOCKS
    # with T the running sum, (T(i+2m) - T(i+m))/m - (T(i+m) - T(i))/m is the step in the middle, at block i + m
    step = (total[2 * m :] - 2 * total[m:-m] + total[: -2 * m]) / m
    edges = _edges(step)
    if not len(edges):
        raise NotMeasurable("the only edge of light is at the very start or end of the recording", _ADVICE_QUIET)
    times_s: Floats = np.asarray((edges + m) * block_s)
    signs = np.sign(step[edges])
    pairs = [(sign, _paired(times_s, np.asarray(signs * sign))) for sign in (float(signs[0]), -float(signs[0]))]
    # the right polarity pairs more edges; where a cut-off firing makes it a draw, it is open for less of the time
    sign, spans = min(pairs, key=lambda pair: (-len(pair[1]), sum(span.duration_s for span in pair[1])))
    if not spans:
        raise NotMeasurable("there is an edge of light and no second one to close it", _ADVICE_QUIET)
    size = np.abs(step)
    contrast = float(np.median(size[edges]) / max(float(np.median(size)), 1e-12))
    return Found(tuple(spans), sign, len(edges) - 2 * len(spans), contrast)


def _refuse_one_value(blocks: Floats) -> None:
    """Refuse a recording that never moves: silent, or stuck at an end stop."""
    if np.ptp(blocks) > 0:
        return
    if abs(blocks[0]) > _END_STOP:
        raise NotMeasurable(
            "the recording stands at full scale from beginning to end",
            "Turn the gain all the way down, and see that nothing puts a steady voltage on the input; then raise it"
            " until the firings are well above the noise",
        )
    raise NotMeasurable("the recording is silent", _ADVICE_QUIET)


def _paired(times_s: Floats, upward: Floats) -> list[Span]:
    """Pair every step up with the step down that follows it."""
    return [
        Span(float(times_s[i]), float(times_s[i + 1]))
        for i in range(len(upward) - 1)
        if upward[i] > 0 and upward[i + 1] < 0
    ]


def _edges(step: Floats) -> NDArray[np.intp]:
    """Find the largest steps, one for each edge of light; their indices."""
    size = np.abs(step)
    # half of all normal values lie within 0.6745 = 1/1.4826 sigma, and the few edges hardly move the median (textbook,
    # from memory)
    noise = 1.4826 * float(np.median(size))
    largest = float(size.max())
    if largest < _OVER_NOISE * noise:
        raise NotMeasurable("no edge of light stands out from the noise", _ADVICE_QUIET)
    peaks = _peaks(step, max(_OVER_NOISE * noise, _OVER_LARGEST * largest))
    reach = round(_NEAR_S / _BLOCK_S)
    near = [float(size[max(0, peak - reach) : peak + reach].max()) for peak in peaks]
    return peaks[size[peaks] >= _OVER_NEAR * np.array(near)]


def _peaks(step: Floats, least: float) -> NDArray[np.intp]:
    """Find the extremes beyond a threshold; of several of one sign close together, the largest."""
    size = np.abs(step)
    inner = size[1:-1]
    peaks = np.flatnonzero((inner >= size[:-2]) & (inner > size[2:]) & (inner >= least)) + 1
    kept: list[int] = []
    for peak in peaks:
        if kept and step[kept[-1]] * step[peak] > 0 and (peak - kept[-1]) * _BLOCK_S < _MERGE_S:
            if size[peak] > size[kept[-1]]:
                kept[-1] = int(peak)
        else:
            kept.append(int(peak))
    return np.array(kept, dtype=np.intp)


_ADVICE_QUIET = (
    "Check that the sensor sees the lamp through the open shutter and that the right input is recorded, raise the light"
    " or the gain until the firings stand well above the noise, and leave a second of dark before and after each"
)
