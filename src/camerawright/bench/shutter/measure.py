"""Leaf shutter by a light sensor on an AC-coupled sound card: one recording in, every firing with its budget out."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.contract import NotMeasurable
from camerawright.bench.shutter import health
from camerawright.bench.shutter.coupling import Coupling, identify, terms, undone
from camerawright.bench.shutter.firings import Found, Span, find
from camerawright.bench.shutter.noise import Noise, noise_of
from camerawright.bench.shutter.pulse import ADVICE_EDGE, Pulse, Timed, measure_pulse
from camerawright.bench.shutter.sensor import PHOTODIODE, Sensor
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]

METHOD = "light on a sound card, AC coupling undone by the dark, version 1"

MIN_RATE_HZ = 22_000.0
MIN_SNR_DB = 23.0
FLAG_SNR_DB = 30.0
_MAX_RIPPLE = 0.06  # of the level: how far the dark beside a firing may move
_LEAST_DARK_S = 4e-3
_GUARD_S = 4e-3  # first guess of how far an edge reaches from its middle
U_CLOCK = 50e-6  # u of a crystal's rate, normal: 95 % are within 100 ppm. Common practice
_NOISE_S = 0.1  # length of a piece of dark
_NOISE_SEGMENTS = 120  # that many pieces tell the noise well enough


@dataclass(frozen=True)
class Firing:
    """One firing. Times in seconds, each with its budget; `at_s` is where the light passed half its level, opening.

    `total` is the 10 % to 10 % width, `half_peak` the width at half the level, `effective` the light integral over the
    level; the level is that of the plateau, or the firing's own peak where there is none (then a flag says so).
    """

    at_s: float
    total: Quantity
    half_peak: Quantity
    effective: Quantity
    efficiency: float
    opening: Quantity
    closing: Quantity
    level: float
    snr_db: float
    has_plateau: bool
    flags: tuple[str, ...]


@dataclass(frozen=True)
class Skipped:
    """A firing that is there and cannot be measured."""

    at_s: float
    reason: str
    advice: str


@dataclass(frozen=True)
class ShutterResult:
    """All firings of a recording in order, what was skipped, and how the recording was made."""

    firings: tuple[Firing, ...]
    skipped: tuple[Skipped, ...]
    coupling: Coupling
    is_inverted: bool
    rate_hz: float
    i_channel: int
    sensor: Sensor
    flags: tuple[str, ...]


def measure(waveform: Waveform, *, sensor: Sensor = PHOTODIODE) -> ShutterResult:
    """Measure every firing in a recording.

    Parameters
    ----------
    waveform
        The recording; of several channels, the one whose firings stand highest above its noise is used.
    sensor
        The class of the light sensor: what its lag and bend, which no recording shows, may add.

    Raises
    ------
    NotMeasurable
        Nothing in it can be measured; says why and what to do instead.

    Notes
    -----
    ISO 516 defines the effective time as the light integral over the fully open level and the total time from first to
    last light; as light begins with zero slope the total time here is the 10 % to 10 % width. The standard asks for a
    chain flat from DC to 100 over the total time; a sound card is neither, so no conformity with its method is
    claimed: the AC coupling is undone (see `coupling`), the upper end is the sampling rate.

    References
    ----------
    [iso-516] definitions and test method, excerpt. [jcgm-100] 5.1.2, G.4.
    """
    if waveform.rate_hz < MIN_RATE_HZ:
        raise NotMeasurable(f"{waveform.rate_hz:g} samples a second are too few", "Record at 44.1 kHz or more")
    i_channel, level, found = _best_channel(waveform)
    health.refuse_switched_lamp(found)
    coupling = identify(level, waveform.rate_hz, found.spans)
    windows = [_Window(level, waveform.rate_hz, found.spans, i, coupling) for i in range(len(found.spans))]
    noise = _noise(level, found.spans, coupling, waveform)
    clipped = health.Clipping(waveform.channel(i_channel), waveform.bits)
    seen: list[_Seen] = []
    skipped = []
    for window in windows:
        try:
            seen.append(_see(window, noise, clipped))
        except NotMeasurable as why:
            skipped.append(Skipped(window.span.up_s, why.reason, why.advice))
    if not seen:
        raise NotMeasurable(f"{len(skipped)} found, none can be measured: {skipped[0].reason}", skipped[0].advice)
    unsteady = health.unsteadiness([one.pulse for one in seen])
    budget = _Budget(noise, coupling, sensor, waveform, unsteady)
    return ShutterResult(
        firings=tuple(_firing(one, budget) for one in seen),
        skipped=tuple(skipped),
        coupling=coupling,
        is_inverted=found.sign < 0,
        rate_hz=waveform.rate_hz,
        i_channel=i_channel,
        sensor=sensor,
        flags=health.recording_flags(unsteady, found, waveform),
    )


def _best_channel(waveform: Waveform) -> tuple[int, Floats, Found]:
    """The channel with the highest steps over its noise, its samples and its firings."""
    best: tuple[float, int, Floats, Found] | None = None
    refusal: NotMeasurable | None = None
    for i in range(waveform.n_channels):
        level = waveform.channel(i).astype(np.float64)
        try:
            found = find(level, waveform.rate_hz)
        except NotMeasurable as why:
            refusal = refusal or why
            continue
        if best is None or found.contrast > best[0]:
            best = (found.contrast, i, level, found)
    if best is None:
        assert refusal is not None
        raise refusal
    return best[1], best[2] * best[3].sign, best[3]


class _Window:
    """One firing with a little dark on both sides, undone."""

    def __init__(self, level: Floats, rate_hz: float, spans: tuple[Span, ...], i: int, coupling: Coupling) -> None:
        self.span = span = spans[i]
        self.rate_hz = rate_hz
        dark_s = float(np.clip(0.75 * span.duration_s, 8e-3, 0.12))
        earliest_s = spans[i - 1].down_s + 2 * _GUARD_S if i else 0.0
        latest_s = spans[i + 1].up_s - _GUARD_S if i + 1 < len(spans) else len(level) / rate_hz
        start_s = max(earliest_s, span.up_s - _GUARD_S - dark_s)
        stop_s = min(latest_s, span.down_s + 2 * _GUARD_S + dark_s)
        self.start = round(start_s * rate_hz)
        self.stop = max(round(stop_s * rate_hz), self.start + 2)
        self.recorded = y = level[self.start : self.stop]
        self.terms = terms(y, 1 / rate_hz)
        self.light = y + np.array([coupling.a, coupling.b, coupling.e]) @ self.terms
        at_s = (self.start + np.arange(len(y))) / rate_hz
        self.before = at_s < span.up_s - _GUARD_S
        self.after = at_s > span.down_s + 2 * _GUARD_S

    def refuse(self, clipped: health.Clipping) -> None:
        """What makes this firing not measurable before it is looked at closely."""
        self._refuse_without_dark(self.before, self.after)
        clipped.refuse(self.start, self.stop)

    def opened(self) -> Floats:
        """The light well between the edges, on the line through the dark on both sides; empty for a short firing."""
        dark = np.flatnonzero(self.before | self.after)
        line = np.polyfit(dark, self.light[dark], 1)
        edge = round(_GUARD_S * self.rate_hz)
        n = np.flatnonzero(~(self.before | self.after))[2 * edge : -3 * edge]
        return np.asarray(self.light[n] - np.polyval(line, n))

    def around(self) -> Floats:
        """The recorded firing with a little about it."""
        at_s = (self.start + np.arange(len(self.light))) / self.rate_hz
        return self.recorded[(at_s > self.span.up_s - 2e-3) & (at_s < self.span.down_s + 2e-3)]

    def pulse(self, noise: Noise) -> Pulse:
        """The firing measured, with the dark as near to its feet as they allow."""
        wide = measure_pulse(self.light, self.before | self.after, noise.sigma, self.rate_hz)
        n = np.arange(len(self.light))
        before, after = n < wide.reach[0], n > wide.reach[1]
        self._refuse_without_dark(before, after)
        return measure_pulse(self.light, before | after, noise.sigma, self.rate_hz)

    def _refuse_without_dark(self, before: NDArray[np.bool_], after: NDArray[np.bool_]) -> None:
        """A firing needs some dark on both sides to tell where zero is."""
        for side, where in ((before, "before"), (after, "after")):
            if side.sum() < _LEAST_DARK_S * self.rate_hz:
                raise NotMeasurable(
                    f"there is no dark {where} this firing: another firing, or the end of the recording, is too near",
                    "Leave a second of dark before and after each firing",
                )


def _noise(level: Floats, spans: tuple[Span, ...], coupling: Coupling, waveform: Waveform) -> Noise:
    """Noise of the undone dark between the firings, no less than the converter's steps."""
    rate_hz = waveform.rate_hz
    edges_s = [
        0.0,
        *(t for span in spans for t in (span.up_s - _GUARD_S, span.down_s + 2 * _GUARD_S)),
        len(level) / rate_hz,
    ]
    darks = [level[round(a * rate_hz) : round(b * rate_hz)] for a, b in zip(edges_s[::2], edges_s[1::2], strict=True)]
    longest = max(len(dark) for dark in darks)
    n_bins = 2 ** int(np.clip(math.log2(max(longest, 64)), 6, math.log2(_NOISE_S * rate_hz)))
    step = n_bins // 2
    starts = [(dark, start) for dark in darks for start in range(0, len(dark) - n_bins + 1, step)]
    if not starts:
        raise NotMeasurable(
            "there is no dark between the firings", "Leave a second of dark before and after each firing"
        )
    every = max(1, len(starts) // _NOISE_SEGMENTS)
    pieces = [
        undone(dark[start : start + n_bins], 1 / rate_hz, coupling.a, coupling.b, coupling.e)
        for dark, start in starts[::every]
    ]
    noise = noise_of(pieces, rate_hz, coupling)
    lsb = 2.0 ** (1 - waveform.bits) if waveform.bits else 0.0
    return replace(noise, density=np.maximum(noise.density, lsb**2 / 12))


@dataclass(frozen=True)
class _Seen:
    """A firing measured, before its budget: how loud the slow noise beside it is, and the lamp's flicker."""

    window: _Window
    pulse: Pulse
    flicker: health.Flicker
    disturbed: float
    snr_db: float


def _see(window: _Window, noise: Noise, clipped: health.Clipping) -> _Seen:
    """One firing measured, or refused with its reason."""
    window.refuse(clipped)
    flicker = health.flicker(window.opened(), noise)
    health.refuse_swinging(window.around(), window.rate_hz)
    pulse = window.pulse(noise)
    snr_db = 20 * math.log10(pulse.level / noise.sigma)
    if snr_db < MIN_SNR_DB:
        raise NotMeasurable(f"this firing stands only {snr_db:.0f} dB above the noise", ADVICE_EDGE)
    ripple, disturbed = _disturbance(pulse, noise)
    if disturbed > 3 and ripple > _MAX_RIPPLE * pulse.level:
        raise NotMeasurable(
            f"the dark beside this firing moves by {100 * ripple / pulse.level:.0f} % of the light: a thump,"
            " another light, or an input whose coupling is not one or two poles",
            "Take other light away, keep the bench still, switch off every filter and enhancement of the input",
        )
    return _Seen(window, pulse, flicker, disturbed, snr_db)


def _disturbance(pulse: Pulse, noise: Noise) -> tuple[float, float]:
    """Slow movement of the dark beside a firing, and how many times the recording's noise that is (at least 1)."""
    dark = pulse.light[pulse.dark]
    block = max(1, round(1e-3 * noise.rate_hz))
    means = dark[: len(dark) // block * block].reshape(-1, block).mean(axis=1)
    if len(means) < 4:
        return 0.0, 1.0
    weights = np.zeros(block * 16)
    weights[:block] = 1 / block
    ripple = float(np.std(means))
    return ripple, max(1.0, ripple / max(noise.u_of(weights), 1e-30) / (1 + 2 / math.sqrt(len(means))))


@dataclass(frozen=True)
class _Budget:
    """What all firings of a recording share in their budgets."""

    noise: Noise
    coupling: Coupling
    sensor: Sensor
    waveform: Waveform
    unsteady: float

    def quantity(self, timed: Timed, one: _Seen) -> Quantity:
        """A time with its budget lines."""
        bent_s = self.sensor.lag_s**2 * timed.per_lag2_1_s
        u_noise = one.disturbed * self.noise.u_of(timed.weights)
        lines = [
            BudgetLine("noise", u_noise, self.noise.n_segments, "A"),
            BudgetLine("level", self._level_doubt(one) * abs(timed.per_level_s)),
            BudgetLine("timing", math.hypot(U_CLOCK * timed.value_s, timed.u_between / self.waveform.rate_hz)),
            BudgetLine("AC model", self._u_coupling(timed.weights, one.window), kind="A"),
            BudgetLine("sensor lag", math.hypot(self.sensor.u_lag_s, bent_s)),
            BudgetLine("sensor linearity", self.sensor.u_bend * abs(timed.per_bend_s)),
        ]
        if one.flicker.part > 0:
            lines.append(BudgetLine("flicker", one.flicker.u_s(timed.value_s)))
        if self.unsteady > 0:
            lines.append(BudgetLine("unsteady light", health.u_unsteady_s(self.unsteady, timed.value_s)))
        if self.waveform.is_lossy:
            lines.append(BudgetLine("lossy coding", health.U_LOSSY * timed.value_s))
        return Quantity(timed.value_s - bent_s, "s", tuple(lines))

    def _u_coupling(self, weights: Floats, window: _Window) -> float:
        """What the uncertainty of a and b does to something linear in the light."""
        moved = window.terms @ weights
        return math.sqrt(max(0.0, float(moved @ self.coupling.covariance @ moved)))

    def _level_doubt(self, one: _Seen) -> float:
        """How far the inner part of the plateau differs from the whole beyond what noise explains."""
        weights = one.pulse.inner_weights
        expected = math.hypot(self.noise.u_of(weights), self._u_coupling(weights, one.window))
        return math.sqrt(max(0.0, one.pulse.inner_level**2 - (1.5 * expected) ** 2))


def _firing(one: _Seen, budget: _Budget) -> Firing:
    """The numbers of one firing, each with its budget."""
    pulse = one.pulse
    total, effective = budget.quantity(pulse.total, one), budget.quantity(pulse.effective, one)
    return Firing(
        at_s=one.window.start / one.window.rate_hz + pulse.half_up_s,
        total=total,
        half_peak=budget.quantity(pulse.half_peak, one),
        effective=effective,
        efficiency=effective.value / total.value,
        opening=budget.quantity(pulse.opening, one),
        closing=budget.quantity(pulse.closing, one),
        level=pulse.level,
        snr_db=one.snr_db,
        has_plateau=pulse.has_plateau,
        flags=health.firing_flags(pulse, budget.noise, one.disturbed, one.flicker, one.snr_db < FLAG_SNR_DB),
    )
