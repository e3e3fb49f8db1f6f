"""Leaf shutter by a light sensor on an AC-coupled sound card: one recording in, every firing with its budget out."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.contract import NotMeasurable
from camerawright.bench.shutter import health
from camerawright.handbook.light_sensors import PHOTODIODE, Sensor
from camerawright.numeric.clipping import clipped
from camerawright.numeric.coupling import Coupling, identify
from camerawright.numeric.firings import Found, find
from camerawright.numeric.no_answer import NoAnswer
from camerawright.numeric.noise import Noise, noise_between
from camerawright.numeric.pulse import ADVICE_EDGE, Pulse, Timed
from camerawright.numeric.window import Window
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]

METHOD = "light on a sound card, AC coupling undone by the dark, version 1"

MIN_RATE_HZ = 22_000.0
MIN_SNR_DB = 23.0
FLAG_SNR_DB = 30.0
_MAX_RIPPLE = 0.06  # of the level: how far the dark beside a firing may move
U_CLOCK = 50e-6  # u of a crystal's rate, normal: 95 % are within 100 ppm. Common practice


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
    try:
        return _measured(waveform, sensor)
    except NoAnswer as why:
        raise NotMeasurable(why.reason, why.advice) from None


def _measured(waveform: Waveform, sensor: Sensor) -> ShutterResult:
    """What can be measured in a recording of a sufficient rate."""
    i_channel, level, found = _best_channel(waveform)
    health.refuse_switched_lamp(found)
    coupling = identify(level, waveform.rate_hz, found.spans)
    windows = [Window(level, waveform.rate_hz, found.spans, i, coupling) for i in range(len(found.spans))]
    noise = noise_between(level, waveform.rate_hz, found.spans, coupling, waveform.bits)
    is_clipped = clipped(waveform.channel(i_channel), waveform.bits)
    seen: list[_Seen] = []
    skipped = []
    for window in windows:
        try:
            seen.append(_see(window, noise, is_clipped))
        except (NoAnswer, NotMeasurable) as why:
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
    refusal: NoAnswer | None = None
    for i in range(waveform.n_channels):
        level = waveform.channel(i).astype(np.float64)
        try:
            found = find(level, waveform.rate_hz)
        except NoAnswer as why:
            refusal = refusal or why
            continue
        if best is None or found.contrast > best[0]:
            best = (found.contrast, i, level, found)
    if best is None:
        assert refusal is not None
        raise refusal
    return best[1], best[2] * best[3].sign, best[3]


@dataclass(frozen=True)
class _Seen:
    """A firing measured, before its budget: how loud the slow noise beside it is, and the lamp's flicker."""

    window: Window
    pulse: Pulse
    flicker: health.Flicker
    disturbed: float
    snr_db: float


def _see(window: Window, noise: Noise, is_clipped: NDArray[np.bool_]) -> _Seen:
    """One firing measured, or refused with its reason."""
    window.refuse_without_dark()
    health.refuse_clipped(int(is_clipped[window.start : window.stop].sum()))
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

    def _u_coupling(self, weights: Floats, window: Window) -> float:
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
