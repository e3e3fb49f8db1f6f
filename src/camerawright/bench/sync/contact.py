"""The contact's channel: when it closed and opened, to a few microseconds, and how it bounced.

A switched contact steps within a sample or two whatever the AC coupling does later; light takes tenths of a
millisecond. So steps find the closures and tell a contact from light; then the coupling is undone as for light, with
the open contact for its dark, and half the closed level gives the instants.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.coupling import identify
from camerawright.numeric.firings import Span
from camerawright.numeric.noise import Noise, noise_between
from camerawright.numeric.samples import Samples
from camerawright.numeric.window import Window
from camerawright.recordings.channel import Channel, Recording
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

MIN_SNR_DB = 30.0
_LEAST_SAMPLES = 8
_PIECE, _LAP = 1 << 20, 5  # samples that are looked at together, and those beyond them that a step there needs
_ENOUGH = 100_000  # samples tell the noise of a piece
_SURE = 12.0  # a step of a contact at 30 dB is 22 times the noise of a difference
_LIKE_LARGEST = 0.35
_PART_OF_ALL = (
    0.2  # of all that the channel swings: a contact's steps are half of it, those that leak into light a hundredth
)
_ONE_CLOSURE_S = 6e-3  # gaps shorter than this are bounces
_SHORTEST = 1.2  # samples: shorter crossings of half the level are noise
_U_PLACED = 0.012  # u of placing a step between samples, in samples, for anti-alias filters that are down to a half at
# 0.85 to 1 of half the rate: what they fold back. From simulation; the honesty test holds it
_FINE, _REACH, _KAISER = 16, 12, 5.0
_STEEPEST = 0.7  # of the level in a sample: an anti-alias filter leaves about that of a step


@dataclass(frozen=True)
class Closure:
    """One closing of the contact, in seconds from the start of the recording.

    `make_s` is its first make, `settled_s` where it stays closed, `break_s` its last break. Bounces are the times that
    it opened again before it settled; `n_late` counts its makes after it first let go. `level_fs` is the height of the
    closed contact, `u_edge_s` the u of an instant.
    """

    make_s: float
    settled_s: float
    break_s: float
    n_bounces: int
    longest_bounce_s: float
    n_late: int
    level_fs: float
    u_level_fs: float
    u_edge_s: float
    snr_db: float


@dataclass(frozen=True)
class Steps:
    """Sharp steps of a channel: the sample after which each comes, and its height (signed)."""

    at: NDArray[np.intp]
    height: Floats


def sharp_steps(channels: Sequence[Samples]) -> tuple[Steps, ...]:
    """Steps of each channel that are over within two samples; none where noise or slow edges are all there is.

    Parameters
    ----------
    channels
        As recorded, all of one length. They are looked through in pieces: a step stands out of the noise of its piece,
        and is held against the largest of its channel.
    """
    n = len(channels[0])
    seekers = [_Seeker() for _ in channels]
    for start in range(0, n if n >= _LEAST_SAMPLES else 0, _PIECE):
        first = max(0, start - _LAP)
        for seeker, channel in zip(seekers, channels, strict=True):
            seeker.look(channel[first : start + _PIECE + _LAP], first, start)
    return tuple(seeker.steps() for seeker in seekers)


class _Seeker:
    """The steps of one channel, as its pieces come."""

    def __init__(self) -> None:
        self._at, self._height = [np.zeros(0, dtype=np.intp)], [np.zeros(0)]
        self._largest, self._low, self._high = 0.0, np.inf, -np.inf

    def look(self, piece: Floats, first: int, start: int) -> None:
        """A piece that begins at sample `first`; what lies before `start` is of the piece before it."""
        across = piece[2:] - piece[:-2]
        size = np.abs(across)
        self._largest = max(self._largest, float(size.max()))
        self._low, self._high = min(self._low, float(piece.min())), max(self._high, float(piece.max()))
        sigma = 1.4826 * float(np.median(size[:: 1 + len(size) // _ENOUGH]))
        i = _steep(across, size, max(_SURE * sigma, self._least()))
        i = i[(first + i + 1 >= start) & (first + i + 1 < start + _PIECE)]
        self._at.append(first + i + 1)
        self._height.append(across[i])

    def _least(self) -> float:
        """No step is lower, by what has been seen."""
        return max(_LIKE_LARGEST * self._largest, _PART_OF_ALL * (self._high - self._low))

    def steps(self) -> Steps:
        """Those high enough, now that all is seen."""
        at, height = np.concatenate(self._at), np.concatenate(self._height)
        is_high = np.abs(height) >= self._least()
        return Steps(at[is_high], height[is_high])


def _steep(across: Floats, size: Floats, least: float) -> NDArray[np.intp]:
    """Where the difference of two samples is an extreme of that size, and what comes before and after is not alike."""
    at = np.flatnonzero((size[1:-1] >= least) & (size[1:-1] > 0)) + 1
    at = at[(size[at] >= size[at - 1]) & (size[at] > size[at + 1])]
    # light rises as steeply before and after; a bounce near by goes the other way
    same = [np.maximum(0, across[np.clip(at + k, 0, len(across) - 1)] * np.sign(across[at])) for k in (-3, 3)]
    return at[np.minimum(*same) < 0.4 * size[at]]


def closures(
    recording: Recording, i_contact: int, steps: Steps, firings: tuple[Span, ...]
) -> tuple[tuple[Closure, ...], tuple[float, ...]]:
    """All closures of the contact, in order, and where there is one that cannot be timed. [s]

    Parameters
    ----------
    recording, i_contact
        The contact's channel, of either polarity.
    steps
        Its sharp steps.
    firings
        When the shutter was open: the first step about a firing is a make, which gives the polarity.
    """
    rate_hz = recording.rate_hz
    sign = _polarity(steps, rate_hz, firings)
    spans = _spans(steps, sign, rate_hz)
    if not spans:
        return (), ()
    upright = Channel(recording, i_contact, sign)
    coupling = identify(upright, rate_hz, spans)
    noise = noise_between(upright, rate_hz, spans, coupling, recording.bits)
    out, lost = [], []
    for i, span in enumerate(spans):
        try:
            closure = _closure(Window(upright, rate_hz, spans, i, coupling), noise)
        except NotMeasurable:
            closure = None
        if closure is None:
            lost.append(span.up_s)
        else:
            out.append(closure)
    return tuple(out), tuple(lost)


def _polarity(steps: Steps, rate_hz: float, firings: tuple[Span, ...]) -> float:
    """Sign of a make: that of the first step about each firing, by majority."""
    at_s = steps.at / rate_hz
    signs = [
        float(np.sign(steps.height[near[0]]))
        for span in firings
        if len(near := np.flatnonzero((at_s > span.up_s - 0.04) & (at_s < span.down_s + 5e-3)))
    ]
    return 1.0 if not signs or sum(signs) >= 0 else -1.0


def _spans(steps: Steps, sign: float, rate_hz: float) -> tuple[Span, ...]:
    """From each make to its break, bounces within."""
    at_s, up = steps.at / rate_hz, steps.height * sign > 0
    spans: list[Span] = []
    start_s: float | None = None
    for t, is_make in zip(at_s, up, strict=True):
        if is_make and start_s is None:
            start_s = float(t)
        elif not is_make and start_s is not None:
            if spans and start_s - spans[-1].down_s < _ONE_CLOSURE_S:
                start_s = spans.pop().up_s
            spans.append(Span(start_s, float(t)))
            start_s = None
    return tuple(spans)


def _closure(window: Window, noise: Noise) -> Closure | None:
    """One closure by half its level; None where it does not stand out."""
    window.refuse_without_dark()
    open_at = np.flatnonzero(window.before | window.after)
    n = np.arange(len(window.light))
    volts = window.light - np.polyval(np.polyfit(open_at, window.light[open_at], 1), n)
    inside = volts[~(window.before | window.after)]
    top = float(np.quantile(inside, 0.98)) if len(inside) else 0.0
    closed = inside[inside > top / 2]
    if top <= 0 or not len(closed):
        return None
    level = float(np.median(closed))
    made, broke = _crossings(volts, level / 2)
    if not len(made):
        return None
    longest = int(np.argmax(broke - made))
    gaps = made[1:] - broke[:-1]
    dt_s = 1 / window.rate_hz
    start_s = window.start * dt_s
    return Closure(
        make_s=start_s + float(made[0]) * dt_s,
        settled_s=start_s + float(made[longest]) * dt_s,
        break_s=start_s + float(broke[-1]) * dt_s,
        n_bounces=longest,
        longest_bounce_s=float(gaps[:longest].max(initial=0.0)) * dt_s,
        n_late=len(made) - 1 - longest,
        level_fs=level,
        u_level_fs=float(np.hypot(noise.sigma / np.sqrt(len(closed)), 2e-3 * level)),
        u_edge_s=float(np.hypot(_U_PLACED, noise.sigma / (_STEEPEST * level))) * dt_s,
        snr_db=20 * float(np.log10(level / noise.sigma)) if noise.sigma > 0 else np.inf,
    )


def _crossings(volts: Floats, half: float) -> tuple[Floats, Floats]:
    """Where it rises and falls through half the level, between samples; each stretch above is one closing."""
    above = volts > half
    above[0] = above[-1] = False
    up, down = np.flatnonzero(above[1:] & ~above[:-1]), np.flatnonzero(~above[1:] & above[:-1])
    made, broke = (_placed(volts - half, i) for i in (up, down))
    is_closed = broke - made > _SHORTEST
    return made[is_closed], broke[is_closed]


def _placed(level: Floats, i: NDArray[np.intp]) -> Floats:
    """Where a level passes zero between samples `i` and the next, as the band-limited signal does that they are of.

    An anti-alias filter of linear phase leaves a step antisymmetric about its half, so that the half is where it was;
    a straight line between the two samples is up to a tenth of a sample off.

    References
    ----------
    The sampling theorem, its series cut short by a Kaiser window.
    """
    part = np.linspace(0, 1, _FINE + 1)
    n = np.arange(1 - _REACH, _REACH + 1)
    off = part[:, None] - n
    window = np.i0(_KAISER * np.sqrt(np.maximum(0, 1 - (off / (_REACH + 1)) ** 2))) / np.i0(_KAISER)
    fine = level[np.clip(i[:, None] + n, 0, len(level) - 1)] @ (np.sinc(off) * window).T
    is_past = np.sign(fine) != np.sign(fine[:, :1])
    is_past[:, -1] = True
    j = np.maximum(1, np.argmax(is_past, axis=1))
    rows = np.arange(len(i))
    before, after = fine[rows, j - 1], fine[rows, j]
    return np.asarray(i + (j - 1 + before / np.where(before == after, np.inf, before - after)) / _FINE)
