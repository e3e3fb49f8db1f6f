"""Leaf shutter by a light sensor on an AC-coupled sound card: one recording in, every firing with its budget out."""

import math
from dataclasses import dataclass, replace

import numpy as np

from camerawright.bench.record import Skipped
from camerawright.bench.shutter import consistency, health, lamp, lows
from camerawright.bench.shutter.aperture import stopped_down
from camerawright.bench.shutter.budget import Budget, Seen
from camerawright.bench.shutter.full_open import FullOpen, full_open
from camerawright.bench.shutter.record import Chain, Firing, Measured
from camerawright.handbook.light_sensors import PHOTODIODE, Sensor
from camerawright.numeric.clipping import n_clipped
from camerawright.numeric.coupling import Coupling, identify
from camerawright.numeric.firings import Found, block_width, find_in_blocks
from camerawright.numeric.instrument import Instrument, agrees, is_another
from camerawright.numeric.noise import Noise, noise_between
from camerawright.numeric.plateau import ADVICE_EDGE
from camerawright.numeric.window import Window
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.channel import Channel, Recording, together
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

METHOD = "light on a sound card, AC coupling undone by the dark, version 3"

MIN_RATE_HZ = 22_000.0
MIN_SNR_DB = 23.0
FLAG_SNR_DB = 30.0
NOISY = "Noisy: the plateau stands less than 30 dB above the noise."
_MAX_RIPPLE = 0.06  # of the level: how far the dark beside a firing may move
_EFFICIENCY = 0.42, 1.3  # of the 10 % width: whatever the blades do lies well within
_ADVICE_STILL = "Keep other light away, keep the bench still, and switch off every filter and enhancement of the input"
_MOST_DISTURBED = 3.0  # times the usual slow noise: beside a thump no bounce can be told
_U_TIP = 0.01  # a parabola rounds off the tip where opening turns into closing. Simulated blades, 1/1000 to 1/2000
_CLEAR = 300.0  # a plateau 26 dB above white noise has edges of 100, one of 36 dB of 300
_SURELY = 1.5  # a bounce this much above the threshold passes it in spite of noise, and of being shorter than the mean


def measure(recording: Recording, *, sensor: Sensor = PHOTODIODE, instrument: Instrument | None = None) -> Measured:
    """Measure every firing in a recording.

    Parameters
    ----------
    recording
        The recording, in memory or in its file; of several channels, the one whose firings stand highest above its
        noise is used. It is looked through once and then read about the firings only.
    sensor
        The class of the light sensor: what its lag and bend, which no recording shows, may add.
    instrument
        What earlier recordings told of the coupling of this input; not used where this recording contradicts it.

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
    if recording.rate_hz < MIN_RATE_HZ:
        raise NotMeasurable(
            f"{numbers.short(recording.rate_hz)} samples a second are too few", "Record at 44.1 kHz or more"
        )
    try:
        return _measured(recording, sensor, instrument)
    except NotMeasurable as why:
        raise NotMeasurable(why.what, why.mend) from None


def _measured(recording: Recording, sensor: Sensor, instrument: Instrument | None) -> Measured:
    """What can be measured in a recording of a sufficient rate."""
    heard = _heard(recording)
    lamp.refuse_switched_lamp(heard.found)
    lows.refuse_unpaired(heard.found)
    spans, level = heard.found.spans, heard.level
    alone = identify(level, level.rate_hz, spans)
    told = (alone.a, alone.b, alone.covariance)
    is_known = instrument is not None and agrees(instrument, *told)
    coupling = identify(level, level.rate_hz, spans, instrument) if is_known else alone
    noise = noise_between(level, level.rate_hz, spans, coupling, recording.bits)
    budget = Budget(noise, coupling, sensor, recording.is_lossy)
    firings, skipped = _fired(heard, budget)
    if not firings:
        why = lamp.seen(skipped) or skipped[0]
        advice = lows.also(why.advice) if why.advice == ADVICE_EDGE and _is_clear(heard.found) else why.advice
        raise NotMeasurable(f"none of {len(skipped)} firings can be measured: {why.reason}", advice)
    if lamp.seen(skipped) is None:
        lows.refuse_cut_lows(firings)
    unsteady = consistency.unsteadiness(firings)
    return Measured(
        firings=tuple(_in_unsteady_light(firing, unsteady) for firing in firings),
        skipped=tuple(skipped),
        coupling=coupling,
        coupling_alone=alone,
        is_inverted=heard.found.sign < 0,
        rate_hz=recording.rate_hz,
        i_channel=heard.i_channel,
        sensor=sensor.name,
        chain=_chain(firings, recording.rate_hz, coupling, sensor),
        flags=(
            *lamp.flags(firings, skipped),
            *lows.flags(firings, coupling),
            *consistency.flags(firings, unsteady),
            *health.recording_flags(
                heard.found,
                recording.is_lossy,
                is_other_input=instrument is not None and is_another(instrument, *told),
                i_channel=heard.i_channel,
                others=heard.others,
            ),
        ),
    )


def _is_clear(found: Found) -> bool:
    """Whether the edges stand so far above the noise that no firing can be lost in it."""
    return found.contrast > _CLEAR


def _fired(heard: "_Heard", budget: Budget) -> tuple[list[Firing], list[Skipped]]:
    """The firings, in order, and those that cannot be measured; what stands fully open gives its level to the rest."""
    spans, level = heard.found.spans, heard.level
    done: dict[int, Firing] = {}
    short: dict[int, Seen] = {}
    skipped = []
    for i, span in enumerate(spans):
        try:
            one = _see(Window(level, level.rate_hz, spans, i, budget.coupling), budget.noise, heard)
            if one.pulse.has_plateau:
                done[i] = _firing(one, budget)
            else:
                short[i] = one
        except NotMeasurable as why:
            skipped.append(Skipped(span.up_s, why.what, why.mend))
    known = full_open(list(done.values()))
    for i, one in short.items():
        done[i] = _firing(_on_full_level(one, known, budget.noise), budget)
    return [done[i] for i in sorted(done)], skipped


def _on_full_level(one: Seen, known: FullOpen | None, noise: Noise) -> Seen:
    """A firing without a plateau on the level of full opening, where that is known and fits; else as it is."""
    if known is None or not known.is_level_of(one.pulse.level):
        return one
    try:
        return replace(one, pulse=one.window.pulse(noise, known.level), full_open=known)
    except NotMeasurable:
        return one


@dataclass(frozen=True)
class _Heard:
    """The channel with the highest steps over its noise, its firings and extremes; those that fire at other times."""

    i_channel: int
    level: Channel
    found: Found
    low: float
    high: float
    bits: int | None
    others: tuple[int, ...]

    def n_clipped(self, window: Window) -> int:
        """How many samples of a window are clipped."""
        return n_clipped(self.level.raw(window.start, window.stop), self.low, self.high, self.bits)


def _heard(recording: Recording) -> _Heard:
    """What was fired, in the channel that shows it best."""
    width = block_width(recording.rate_hz)
    scan = recording.scan(width)
    firings: dict[int, Found] = {}
    refusal: NotMeasurable | None = None
    for i in range(recording.n_channels):
        try:
            firings[i] = find_in_blocks(scan.means[:, i].astype(np.float64), width / recording.rate_hz)
        except NotMeasurable as why:
            refusal = refusal or why
    if not firings:
        assert refusal is not None
        raise refusal
    i = max(firings, key=lambda each: firings[each].contrast)
    health.refuse_contact(recording, firings, i)
    found = firings[i]
    level = Channel(recording, i, found.sign, together(recording.rate_hz))
    return _Heard(i, level, found, scan.low[i], scan.high[i], recording.bits, health.at_other_times(firings, i))


def _see(window: Window, noise: Noise, heard: _Heard) -> Seen:
    """One firing measured, or refused with its reason."""
    window.refuse_without_dark()
    health.refuse_clipped(heard.n_clipped(window))
    flicker = lamp.flicker(window.opened(), noise)
    health.refuse_swinging(window.around(), window.rate_hz)
    pulse = window.pulse(noise)
    if not _EFFICIENCY[0] * pulse.total.value_s < pulse.effective.value_s < _EFFICIENCY[1] * pulse.total.value_s:
        raise NotMeasurable("the light of this firing does not fit its width: something bends the curve", _ADVICE_STILL)
    snr_db = 20 * math.log10(pulse.level / noise.sigma)
    if snr_db < MIN_SNR_DB:
        raise NotMeasurable(f"this firing stands only {numbers.fixed(snr_db, 0)} dB above the noise", ADVICE_EDGE)
    ripple, disturbed = noise.unrest(pulse.light[pulse.dark])
    if disturbed > 3 and ripple > _MAX_RIPPLE * pulse.level:
        raise NotMeasurable(
            f"the dark beside this firing moves by {numbers.percent(ripple / pulse.level)} of the light: a thump,"
            " other light, or an input that cuts lows more than a line input does",
            f"{_ADVICE_STILL}; if every firing says so, use a line input and no microphone input",
        )
    return Seen(window, pulse, flicker, disturbed, snr_db)


def _firing(one: Seen, budget: Budget) -> Firing:
    """The numbers of one firing, each with its budget."""
    pulse = one.pulse
    total, effective = budget.quantity(pulse.total, one), budget.quantity(pulse.effective, one)
    u_slope = budget.u_of(pulse.slope_weights, one) if pulse.has_plateau else 0.0
    return Firing(
        at_s=one.window.start / one.window.rate_hz + pulse.half_up_s,
        total=total,
        half_peak=budget.quantity(pulse.half_peak, one),
        effective=effective,
        efficiency=effective.value / total.value,
        opening=budget.quantity(pulse.opening, one, is_edge=True),
        closing=budget.quantity(pulse.closing, one, is_edge=True),
        level=pulse.level,
        u_level=one.full_open.u if one.full_open else budget.u_of(pulse.level_weights, one) / pulse.level,
        opens_to=pulse.opens_to,
        u_opens_to=_u_opens_to(one, budget),
        snr_db=one.snr_db,
        flicker=one.flicker.part,
        has_plateau=pulse.has_plateau,
        level_from=one.level_from,
        slope=pulse.plateau_slope,
        u_slope=u_slope,
        bounce=pulse.reopened,
        dip=pulse.dipped,
        bounce_seen_from=_bounce_seen_from(one),
        tail_s=pulse.tail.value_s,
        stopped_down=stopped_down(one, effective, budget),
        flags=health.firing_flags(
            one.pulse,
            u_slope,
            budget.u_of(pulse.tail.weights, one),
            one.disturbed,
            one.flicker,
            level_from=one.level_from,
        )
        + ((NOISY,) if one.snr_db < FLAG_SNR_DB else ()),
    )


def _u_opens_to(one: Seen, budget: Budget) -> float:
    """Uncertainty of how far it opens."""
    if one.full_open is None:
        return 0.0
    return math.hypot(budget.u_of(one.pulse.top_weights, one), one.full_open.u * one.pulse.opens_to, _U_TIP)


def _bounce_seen_from(one: Seen) -> float | None:
    """The smallest bounce that would have been seen, in levels; None beside a thump, where nothing can be said."""
    if one.disturbed > _MOST_DISTURBED:
        return None
    return _SURELY * max(1.0, one.disturbed) * one.pulse.bounce_seen_from


def _in_unsteady_light(firing: Firing, unsteady: float) -> Firing:
    """The same firing with what a light that differs from firing to firing adds to its times."""
    if unsteady == 0:
        return firing

    def wider(time: Quantity) -> Quantity:
        line = BudgetLine("unsteady light", consistency.u_unsteady_s(unsteady, time.value))
        return replace(time, budget=(*time.budget, line))

    return replace(
        firing,
        total=wider(firing.total),
        half_peak=wider(firing.half_peak),
        effective=wider(firing.effective),
        opening=wider(firing.opening),
        closing=wider(firing.closing),
        stopped_down=tuple(replace(one, effective=wider(one.effective)) for one in firing.stopped_down),
    )


def _chain(firings: list[Firing], rate_hz: float, coupling: Coupling, sensor: Sensor) -> Chain:
    """How far the set-up is from a chain that is flat from DC to 100/t0. [iso-516]"""
    sensor_hz = 1 / (2 * math.pi * sensor.lag_s) if sensor.lag_s else math.inf
    return Chain(
        asked_hz=100 / min(firing.total.value for firing in firings),
        reached_hz=min(rate_hz / 2, sensor_hz),
        from_hz=max(coupling.corners_hz),
    )
