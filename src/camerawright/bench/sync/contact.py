"""The contact's channel: when it closed and opened, to a few microseconds, and how it bounced.

A switched contact steps within a sample or two whatever the AC coupling does later; light takes tenths of a
millisecond. So steps find the closures and tell a contact from light; then the coupling is undone as for light, with
the open contact for its dark, and half the closed level gives the instants.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.sync.lead import NONE, TRIED, Lag, Tail, Undone, lag_from, tails
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
_NO_BOUNCE = 2  # samples
_CHATTER_S = 3e-3  # a make that follows a break sooner is the contact's chatter as it parts: no flash is ready again
# that soon. Common practice
_U_PLACED = 0.012  # u of placing a step between samples, in samples, for anti-alias filters that are down to a half at
# 0.85 to 1 of half the rate: what they fold back. From simulation; the honesty test holds it
_DIPS = 0.85  # of the level: ringing dips to about 0.95
_U_UNDONE, _U_BOTH, _U_ONE_SIDED = 0.1, 0.1, 0.6  # u of an instant where the lead's lag was undone, and of a time
# between two where both lag alike, and where one of them lags; in samples. From simulation by two hands
_FINE, _REACH, _KAISER = 16, 12, 5.0
_STEEPEST = 0.7  # of the level in a sample: an anti-alias filter leaves about that of a step


@dataclass(frozen=True)
class Closure:
    """One closing of the contact, in seconds from the start of the recording.

    `make_s` is its first make, `settled_s` where it stays closed, `break_s` its last break. Bounces are the times that
    it opened again before it settled; `n_late` counts its makes more than 3 ms after it let go, and it `chatters` if it
    makes again sooner as it parts. `level_fs` is the height of the closed contact, `u_edge_s` the u of an instant.
    `lag_s` is the lead's, which was undone; `u_lag_s` is what that leaves on an instant, `u_lags_apart_s` on the time
    from a make to a break.
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
    chatters: bool = False
    lag_s: float = 0.0
    u_lag_s: float = 0.0
    u_lags_apart_s: float = 0.0


@dataclass(frozen=True)
class Steps:
    """Sharp steps of a channel: the sample after which each comes, and its height (signed)."""

    at: NDArray[np.intp]
    height: Floats

    @property
    def n_odd(self) -> int:
        """How many of them are not as a contact's: the next one does not go back, or is nearer than any bounce."""
        if len(self.at) < 2:
            return len(self.at)
        same = self.height[1:] * self.height[:-1] > 0
        return int(np.sum(same | (np.diff(self.at) <= _NO_BOUNCE))) + len(self.at) % 2


def lagging_steps(channel: Samples, low: float, high: float) -> tuple[Steps, Lag]:
    """Steps of a channel whose lead may lag, and with what lag undone they are most like a contact's.

    Parameters
    ----------
    channel
        As recorded.
    low, high
        Its lowest and highest sample.
    """
    best, lag = sharp_steps([channel])[0], NONE
    for tried in TRIED[1:]:
        if len(best.at) and not best.n_odd:
            break
        steps = sharp_steps([Undone(channel, tried, low, high)])[0]
        if len(steps.at) > 1 and (not len(best.at) or steps.n_odd < best.n_odd):
            best, lag = steps, tried
    return best, lag


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
    recording: Recording, i_contact: int, steps: Steps, lag: Lag, firings: tuple[Span, ...]
) -> tuple[tuple[Closure, ...], tuple[float, ...]]:
    """All closures of the contact, in order, and where there is one that cannot be timed. [s]

    Parameters
    ----------
    recording, i_contact
        The contact's channel, of either polarity.
    steps, lag
        Its steps, and the lag of the lead that they were found with.
    firings
        When the shutter was open: the first step about a firing is a make, which gives the polarity.
    """
    rate_hz = recording.rate_hz
    sign = _polarity(steps, rate_hz, firings)
    spans, odd_s = _spans(steps, sign, rate_hz)
    if not spans:
        return (), tuple(odd_s)
    upright = Channel(recording, i_contact, sign)
    coupling = identify(upright, rate_hz, spans)
    noise = noise_between(upright, rate_hz, spans, coupling, recording.bits)
    out, lost = [], odd_s
    seen = [_seen(Window(upright, rate_hz, spans, i, coupling)) for i in range(len(spans))]
    lag = lag.turned(sign)
    lag = lag_from([tail for one in seen if one for tail in one.tails(lag)])
    for one, span in zip(seen, spans, strict=True):
        closure = one.closure(lag, noise) if one else None
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


def _spans(steps: Steps, sign: float, rate_hz: float) -> tuple[tuple[Span, ...], list[float]]:
    """From each make to its break, bounces within; and when it makes while it is closed already: a break is missing.

    Where it breaks and was open, a make is missing. While it bounces, that make hides beside the break before: the
    bounce was a sample or two long.
    """
    at_s, up = steps.at / rate_hz, steps.height * sign > 0
    spans: list[Span] = []
    start_s: float | None = None
    odd_s = []
    for t, is_make in zip(at_s, up, strict=True):
        if is_make and start_s is None:
            start_s = float(t)
        elif not is_make and start_s is not None:
            if spans and start_s - spans[-1].down_s < _ONE_CLOSURE_S:
                start_s = spans.pop().up_s
            spans.append(Span(start_s, float(t)))
            start_s = None
        elif is_make:
            odd_s.append(float(t))
        elif spans and spans[-1].duration_s < _ONE_CLOSURE_S:
            spans[-1] = Span(spans[-1].up_s, float(t))
    return tuple(spans), odd_s if start_s is None else [*odd_s, start_s]


@dataclass(frozen=True)
class _Seen:
    """The voltage about one closure, 0 for open, and the level of the closed contact."""

    window: Window
    volts: Floats
    level: float
    n_closed: int

    def _crossings(self, lag: Lag) -> tuple[Floats, Floats]:
        """Where it makes and breaks by half the level, the lag undone; [sample of the window].

        Where only one direction lags, undoing that makes the ringing of the other's sharp edge larger. So what opens
        must show in the voltage itself.
        """
        made, broke = _crossings(lag.undone(self.volts), self.level / 2)
        if not lag.is_one_sided or not len(made):
            return made, broke
        lowest = [self.volts[int(a) : int(b) + 2].min() for a, b in zip(broke[:-1], made[1:], strict=True)]
        opens = np.array([low < _DIPS * self.level for low in lowest], dtype=bool)
        return made[np.append(True, opens)], broke[np.append(opens, True)]

    def tails(self, lag: Lag) -> list[Tail]:
        """What follows each make and break, with a lag undone to find them."""
        made, broke = self._crossings(lag)
        edges = sorted([(int(at), True) for at in made] + [(int(at), False) for at in broke])
        return tails(self.volts, self.level, edges)

    def closure(self, lag: Lag, noise: Noise) -> Closure | None:
        """The instants by half the level; None where it does not close."""
        made, broke = self._crossings(lag)
        if not len(made):
            return None
        longest = int(np.argmax(broke - made))
        gaps = made[1:] - broke[:-1]
        dt_s = 1 / self.window.rate_hz
        start_s, level = self.window.start * dt_s, self.level
        sigma = noise.sigma * lag.noise_gain
        return Closure(
            make_s=start_s + float(made[0]) * dt_s,
            settled_s=start_s + float(made[longest]) * dt_s,
            break_s=start_s + float(broke[-1]) * dt_s,
            n_bounces=longest,
            longest_bounce_s=float(gaps[:longest].max(initial=0.0)) * dt_s,
            n_late=int(np.sum(gaps[longest:] * dt_s > _CHATTER_S)),
            level_fs=level,
            u_level_fs=float(np.hypot(noise.sigma / np.sqrt(self.n_closed), 2e-3 * level)),
            u_edge_s=float(np.hypot(_U_PLACED, sigma / (_STEEPEST * level))) * dt_s,
            snr_db=20 * float(np.log10(level / sigma)) if sigma > 0 else np.inf,
            chatters=bool(np.any(gaps[longest:] * dt_s <= _CHATTER_S)),
            lag_s=lag.longest * dt_s,
            u_lag_s=_U_UNDONE * dt_s if lag.longest else 0.0,
            u_lags_apart_s=(_U_ONE_SIDED if lag.is_one_sided else _U_BOTH) * dt_s if lag.longest else 0.0,
        )


def _seen(window: Window) -> _Seen | None:
    """The voltage of one closure; None where it does not stand out, or there is no dark beside it."""
    try:
        window.refuse_without_dark()
    except NotMeasurable:
        return None
    open_at = np.flatnonzero(window.before | window.after)
    n = np.arange(len(window.light))
    volts = window.light - np.polyval(np.polyfit(open_at, window.light[open_at], 1), n)
    inside = volts[~(window.before | window.after)]
    top = float(np.quantile(inside, 0.98)) if len(inside) else 0.0
    closed = inside[inside > top / 2]
    if top <= 0 or not len(closed):
        return None
    return _Seen(window, volts, float(np.median(closed)), len(closed))


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
