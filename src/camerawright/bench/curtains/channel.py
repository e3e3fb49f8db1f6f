"""One channel of the recording: its firings found, its coupling undone, each passage fitted, and what else it saw."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.curtains.edges import Fit, Passage, Start, first_guess, fit_passage
from camerawright.bench.curtains.record import Again
from camerawright.handbook.light_sensors import MAINS_LIGHT_HZ
from camerawright.numeric.clipping import n_clipped
from camerawright.numeric.coupling import Coupling, identify, terms
from camerawright.numeric.firings import GUARD_S, Span, block_width, find_in_blocks
from camerawright.numeric.noise import Noise, noise_between
from camerawright.numeric.window import Window
from camerawright.recordings.channel import Channel as Recorded
from camerawright.recordings.channel import Recording, together
from camerawright.recordings.scan import Scan
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

MIN_SNR_DB = 23.0
TOGETHER_S = 0.03  # light that begins within this of the last belongs to the same firing: curtains run 5 to 20 ms
_BRIEF_S = 0.2e-3  # what is looked for after the closing is averaged over this
_SOON_S = 20e-3  # a curtain that is thrown back is so at once
_LEAST_BOUNCE, _LEAST_DIP = 0.01, 0.03  # in levels
_FOLLOWS, _PASSES = 0.03, 3
_MAX_RIPPLE = 0.06
_NEAR_S = 40e-3
_BESIDE_S = (2e-3, 10e-3)
_MAX_FLICKER = 0.2
_MOSTLY = 0.6  # of a variance: the rest is a lamp's harmonics

FLICKERS = "the light flickers"
"""How the reason begins for which a firing is refused in such a light."""
ADVICE_LIGHT = (
    "Raise the light or the gain, shade the sensors from other light, and keep their cables away from mains cables: the"
    " light should stand at least twenty times above the noise"
)


@dataclass(frozen=True)
class Seen:
    """A firing at one sensor. Times of `passage` count from `start_s`.

    `by_noise_s2` and `by_undoing_s2`, shape (2, 2), are the covariance of the two times from the noise and from how the
    coupling was undone.
    """

    passage: Passage
    start_s: float
    by_noise_s2: Floats
    by_undoing_s2: Floats
    snr_db: float
    disturbed: float
    again: Again | None
    lingers: float  # height of light that lingers after the closing and only falls, in levels; 0 where none does
    least_again: float  # height of what would have been seen, in levels
    dip: float  # how far the light goes down while open, in levels; 0 where that is not seen
    flicker: float
    flicker_hz: float
    beside: Floats  # what the dark holds from `_BESIDE_S` after the closing on, 1 ms a value, in levels

    @property
    def times_s(self) -> Floats:
        """First and second curtain, from the recording's start, shape (2,)."""
        return self.start_s + np.array([self.passage.first_s, self.passage.second_s])


class Channel:
    """One channel, upright, read where it was fired; `scan` is the recording looked through.

    Raises
    ------
    NotMeasurable
        No firing stands out in it.
    """

    def __init__(self, recording: Recording, i_channel: int, scan: Scan) -> None:
        self.recorded_hz, self.bits = recording.rate_hz, recording.bits
        block_s = block_width(self.recorded_hz) / self.recorded_hz
        found = find_in_blocks(scan.means[:, i_channel].astype(np.float64), block_s)
        self.sign = found.sign
        self.level = Recorded(recording, i_channel, found.sign, together(self.recorded_hz))
        self.rate_hz = self.level.rate_hz
        self._low, self._high = scan.low[i_channel], scan.high[i_channel]
        self.spans = _joined(found.spans)
        self._prepare()
        for _ in range(_PASSES):
            spans = tuple(self._with_what_follows(i) for i in range(len(self.spans)))
            if spans == self.spans:
                break
            self.spans = spans
            self._prepare()

    def _prepare(self) -> None:
        """Coupling and noise from the dark between the spans."""
        self.coupling: Coupling = identify(self.level, self.rate_hz, self.spans)
        self.noise: Noise = noise_between(self.level, self.rate_hz, self.spans, self.coupling, self.bits)

    def _with_what_follows(self, i: int) -> Span:
        """A span that holds the light of a curtain that is thrown back, which is not dark."""
        span = self.spans[i]
        window = Window(self.level, self.rate_hz, self.spans, i, self.coupling)
        dark = np.flatnonzero(window.before | window.after)
        if len(dark) < 3:
            return span
        n = np.arange(len(window.light))
        smooth = _smooth(window.light - np.polyval(np.polyfit(dark, window.light[dark], 1), n), self.rate_hz)
        at_s = window.start / self.rate_hz + n / self.rate_hz
        soon = (at_s > span.down_s + 1.5e-3) & (at_s < span.down_s + _SOON_S)
        least = max(_FOLLOWS * float(smooth.max()), 8 * self.noise.sigma / math.sqrt(_width(self.rate_hz)))
        lit = at_s[soon & (smooth > least)]
        return Span(span.up_s, float(lit[-1])) if lit.size else span

    def look_again(self, others: tuple[Span, ...]) -> None:
        """Look for weak light where other channels saw a firing and this one did not."""
        more = [
            span
            for other in others
            if not any(_touch(span, other) for span in self.spans) and (span := self._weak(other)) is not None
        ]
        if more:
            self.spans = tuple(sorted([*self.spans, *more], key=lambda span: span.up_s))
            self._prepare()

    def span_within(self, firing: Span) -> int | None:
        """Which of its spans belongs to a firing."""
        return next((i for i, span in enumerate(self.spans) if _touch(span, firing)), None)

    def seen(self, i: int, shortest_edge_s: float, known: Start | None = None) -> Seen:
        """Fit one firing; with `known` its level and edges are taken as given.

        Raises
        ------
        NotMeasurable
            Clipped, no dark beside it, lost in the noise, or too much else that moves.
        """
        window = Window(self.level, self.rate_hz, self.spans, i, self.coupling)
        window.refuse_without_dark()
        self._refuse_clipped(window)
        dark = np.flatnonzero(window.before | window.after)
        line = np.polyval(np.polyfit(dark, window.light[dark], 1), np.arange(len(window.light)))
        start = first_guess(window.light - line, self.noise.sigma, self.rate_hz, shortest_edge_s)
        if start is None:
            raise NotMeasurable("this firing hardly stands out of the noise", ADVICE_LIGHT)
        flicker = _flicker(_between(window.light - line, start, self.rate_hz), self.rate_hz)
        if flicker[0] == 0 and _swings(window.opened(), self.rate_hz):  # so deep that each half cycle is an opening
            flicker = _flicker(window.opened(), self.rate_hz)
        if flicker[0] > _MAX_FLICKER:
            raise NotMeasurable(
                f"{FLICKERS} by {numbers.percent(flicker[0])} at {numbers.fixed(flicker[1], 0)} Hz, as a mains lamp"
                " does",
                "Use a lamp on a battery or a steady supply",
            )
        if known is not None:
            start = replace(known, first_s=start.first_s, second_s=start.second_s)
        # far from the edges, light and dark tell little more and may wander
        t = np.arange(len(window.light)) / self.rate_hz
        use = (np.abs(t - start.first_s) < _NEAR_S) | (np.abs(t - start.second_s) < _NEAR_S)
        fit = fit_passage(window.light, use, start, self.noise.sigma, self.rate_hz)
        odd = self._odd(window.light - fit.model, fit.passage)
        if odd.any():
            use &= ~odd
            fit = fit_passage(window.light, use, start, self.noise.sigma, self.rate_hz)
        return self._judged(window, fit, flicker)

    def _judged(self, window: Window, fit: Fit, flicker: tuple[float, float]) -> Seen:
        """A fitted passage with all else that the window shows."""
        passage = fit.passage
        level, sigma = passage.level, self.noise.sigma
        if level <= 0 or 20 * math.log10(level / sigma) < MIN_SNR_DB or passage.exposure_s <= 0:
            raise NotMeasurable("this firing hardly stands out of the noise", ADVICE_LIGHT)
        rest = window.light - fit.model
        n = np.arange(len(rest)) / self.rate_hz
        ripple, disturbed = self.noise.unrest(rest[(n < passage.first_s - 1e-3) | window.after])
        if disturbed > 3 and ripple > _MAX_RIPPLE * level:
            raise NotMeasurable(
                f"the dark beside this firing moves by {numbers.percent(ripple / level)} of the light: a thump, another"
                " light, or an input that couples by more than two poles",
                "Take other light away, keep the bench still, and switch off every filter and enhancement of the input",
            )
        again, lingers, least = self._again(rest, passage)
        if disturbed > 2:  # a thump looks like light as well
            least = max(least, 4 * ripple / level)
            again = again if again is not None and again.height > least else None
        return Seen(
            passage,
            window.start / self.rate_hz,
            disturbed**2 * self._noise_s2(fit.weights),
            self._undoing_s2(window, fit.weights),
            20 * math.log10(level / sigma),
            disturbed,
            again,
            lingers,
            least,
            _dip(rest, n, passage, self.rate_hz, sigma) if not flicker[0] else 0.0,
            *flicker,
            self._beside(rest, passage),
        )

    def _beside(self, rest: Floats, passage: Passage) -> Floats:
        """What follows the closing, in means over 1 ms."""
        block = round(1e-3 * self.rate_hz)
        first = round((passage.second_s + passage.edges_s[1] + _BESIDE_S[0]) * self.rate_hz)
        after = rest[first : first + round(_BESIDE_S[1] * self.rate_hz)]
        return np.asarray(after[: len(after) // block * block].reshape(-1, block).mean(axis=1) / passage.level)

    def _refuse_clipped(self, window: Window) -> None:
        """Refuse a firing any of whose light is clipped."""
        n = n_clipped(self.level.raw(window.start, window.stop), self._low, self._high, self.bits)
        if n > 2:
            raise NotMeasurable(
                f"this firing is clipped at {n} samples",
                "Lower the gain of the input or the light until the highest peak stays below full scale, and record"
                " again",
            )

    def _weak(self, other: Span) -> Span | None:
        """Light too weak for the finder, about where another channel saw a firing."""
        first = max(0, round((other.up_s - TOGETHER_S) * self.rate_hz))
        y = self.level[first : round((other.down_s + 2 * TOGETHER_S) * self.rate_hz)]
        if any(
            other.up_s - 2 * TOGETHER_S < span.down_s and span.up_s < other.down_s + 3 * TOGETHER_S
            for span in self.spans
        ):
            return None
        coupling = self.coupling
        light = y + np.array([coupling.a, coupling.b, coupling.e]) @ terms(y, 1 / self.rate_hz)
        edge = round(GUARD_S * self.rate_hz)
        ends = np.r_[0:edge, len(light) - edge : len(light)]
        light = light - np.polyval(np.polyfit(ends, light[ends], 1), np.arange(len(light)))
        start = first_guess(light, self.noise.sigma, self.rate_hz, _BRIEF_S)
        if start is None:
            return None
        return Span(first / self.rate_hz + start.first_s, first / self.rate_hz + start.second_s)

    def _noise_s2(self, weights: Floats) -> Floats:
        """Covariance of two times from noise of any colour."""
        first, second, apart = (self.noise.u_of(one) ** 2 for one in (weights[0], weights[1], weights[1] - weights[0]))
        between = (first + second - apart) / 2
        return np.array([[first, between], [between, second]])

    def _undoing_s2(self, window: Window, weights: Floats) -> Floats:
        """Covariance of two times from that of the undoing."""
        moved = window.terms @ weights.T
        return np.asarray(moved.T @ self.coupling.covariance @ moved)

    def _odd(self, rest: Floats, passage: Passage) -> NDArray[np.bool_]:
        """Where the model leaves light after the closing, with a margin: not part of the two edges."""
        width = _width(self.rate_hz)
        smooth = _smooth(rest, self.rate_hz)
        t = np.arange(len(rest)) / self.rate_hz
        late = t > _closed_s(passage)
        least = max(_LEAST_BOUNCE * passage.level, 6 * self.noise.sigma / math.sqrt(width))
        odd = late & (smooth > least) & (t < passage.second_s + _SOON_S)
        if not odd.any():
            return odd
        at = np.flatnonzero(odd)
        odd[max(0, at[0] - 2 * width) : at[-1] + 2 * width] = True
        return odd & late

    def _again(self, rest: Floats, passage: Passage) -> tuple[Again | None, float, float]:
        """Light after the closing, how high it lingers there, and how high it would have to be to be seen. [levels]

        What is highest at once and only falls is no curtain that comes back: a slow sensor lingers so.
        """
        width = _width(self.rate_hz)
        least = max(_LEAST_BOUNCE, 6 * self.noise.sigma / math.sqrt(width) / passage.level)
        odd = self._odd(rest, passage)
        if not odd.any():
            return None, 0.0, least
        at = np.flatnonzero(odd)
        smooth = _smooth(rest, self.rate_hz)
        if at[np.argmax(smooth[at])] - at[0] <= width and at[0] / self.rate_hz < _closed_s(passage) + _BRIEF_S / 2:
            return None, float(smooth[at].max()) / passage.level, least
        return (
            Again(
                float(smooth[at].max()) / passage.level,
                max(0.0, float(rest[at].sum()) / passage.level / self.rate_hz),
                self.noise.u_of(odd.astype(np.float64)) / passage.level / self.rate_hz,
                float(at[np.argmax(smooth[at])]) / self.rate_hz - passage.second_s,
            ),
            0.0,
            least,
        )


def _closed_s(passage: Passage) -> float:
    """When the second curtain's edge has surely passed, with the width of a brief mean."""
    return passage.second_s + passage.edges_s[1] * 0.6 + _BRIEF_S


def _width(rate_hz: float) -> int:
    """Samples of a brief mean, odd."""
    return max(3, round(_BRIEF_S * rate_hz)) | 1


def _smooth(light: Floats, rate_hz: float) -> Floats:
    """Brief running mean."""
    width = _width(rate_hz)
    return np.convolve(light, np.full(width, 1 / width), mode="same")


def firings_of(channels: tuple[Channel, ...]) -> tuple[Span, ...]:
    """From the first to the last light of each firing, over all channels."""
    return _joined(tuple(sorted((span for channel in channels for span in channel.spans), key=lambda span: span.up_s)))


def _joined(spans: tuple[Span, ...]) -> tuple[Span, ...]:
    """Spans that touch or nearly do, as one."""
    out: list[Span] = []
    for span in spans:
        if out and span.up_s < out[-1].down_s + TOGETHER_S:
            out[-1] = Span(out[-1].up_s, max(out[-1].down_s, span.down_s))
        else:
            out.append(span)
    return tuple(out)


def _touch(a: Span, b: Span) -> bool:
    """Whether two spans overlap, or nearly."""
    return a.up_s < b.down_s + 2e-3 and b.up_s < a.down_s + 2e-3


def _between(light: Floats, start: Start, rate_hz: float) -> Floats:
    """The light between the edges, well off them: a curtain that is thrown back afterwards is not part of it."""
    off_s = max(start.edge_s, 1e-3)
    return light[round((start.first_s + off_s) * rate_hz) : max(0, round((start.second_s - off_s) * rate_hz))]


def _swings(opened: Floats, rate_hz: float) -> bool:
    """Whether what is open for two cycles of the mains and more is a swing at that rate and little else."""
    part, f_hz = _flicker(opened, rate_hz)
    if part == 0 or len(opened) * f_hz < 2 * rate_hz:
        return False
    return part**2 / 2 * float(np.mean(opened)) ** 2 > _MOSTLY * float(np.var(opened))


def _flicker(opened: Floats, rate_hz: float) -> tuple[float, float]:
    """Mains flicker while open: part of the level (0 where none is seen, or not open for a cycle), frequency."""
    best = (0.0, 100.0)
    for f_hz in MAINS_LIGHT_HZ:
        if len(opened) * f_hz < rate_hz:
            continue
        turn = 2 * np.pi * f_hz * np.arange(len(opened)) / rate_hz
        design = np.column_stack([np.ones_like(turn), np.cos(turn), np.sin(turn)])
        fit = np.linalg.lstsq(design, opened, rcond=None)[0]
        part = float(np.hypot(fit[1], fit[2]) / max(abs(fit[0]), 1e-12))
        if part > max(0.01, best[0]):
            best = (part, f_hz)
    return best


def _dip(rest: Floats, t: Floats, passage: Passage, rate_hz: float, sigma: float) -> float:
    """How far the light goes down for a moment while the slit is over the sensor; 0 where that is not seen."""
    width = _width(rate_hz)
    until_s = min(passage.second_s - 0.6 * passage.edges_s[1], passage.first_s + _SOON_S)
    on = (t > passage.first_s + 0.6 * passage.edges_s[0]) & (t < until_s)
    if on.sum() < 4 * width:
        return 0.0
    smooth = _smooth(rest, rate_hz)[on]
    deep = -float(smooth.min()) / passage.level
    return deep if deep > max(_LEAST_DIP, 6 * sigma / math.sqrt(width) / passage.level) else 0.0
