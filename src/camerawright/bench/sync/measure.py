"""A flash contact against the light: a stereo recording in, every firing's delays with their budgets out."""

import math
from dataclasses import replace

import numpy as np

from camerawright.bench.record import Skipped
from camerawright.bench.sync.budget import Budget
from camerawright.bench.sync.channels import ADVICE_CONTACT, Channels, told_apart
from camerawright.bench.sync.contact import MIN_SNR_DB, Closure, closures
from camerawright.bench.sync.flags import contact_flags, firing_flags, recording_flags
from camerawright.bench.sync.light import MOST_CLIPPED, Light, Seen
from camerawright.bench.sync.record import Delay, Firing, Input, Measured
from camerawright.bench.sync.uses import dwell_verdict
from camerawright.handbook.light_sensors import SENSORS, Sensor
from camerawright.handbook.sync import MOST_BOUNCE_S, PARTS, Instant
from camerawright.numeric.clipping import n_clipped
from camerawright.numeric.firings import GUARD_S
from camerawright.numeric.pulse import Timed
from camerawright.quantity import Quantity, Word, verdict
from camerawright.recordings.channel import Recording
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

METHOD = "flash contact and light on a stereo sound card, version 5"

MIN_RATE_HZ = 40_000.0
_BEFORE_S = 0.05  # a make belongs to the firing that opens no later than this after it
_PIECE = 1 << 20  # samples that are looked at together
_FULL = 0.99  # a closed contact on a DC-coupled input is flat as well


def measure(
    recording: Recording,
    *,
    sensor: Sensor = SENSORS[0],
    skew_s: float | None = None,
    series_ohm: float | None = None,
) -> Measured:
    """Time the contact against the light at every firing.

    Parameters
    ----------
    recording
        Stereo: light on one channel, the contact through a resistor and a battery on the other; either polarity.
    sensor
        The class of the light sensor.
    skew_s
        How much later the contact's channel is sampled than the light's, measured with one signal in both; None where
        not known, then it is taken as nought within a sample.
    series_ohm
        All resistance in the contact's circuit but the contact's own. With it, and a wire that bridged the contact
        once in the recording, the contact's resistance follows from the two levels: R (level bridged / level closed -
        1).

    Raises
    ------
    NotMeasurable
        Nothing in it can be measured; says why and what to do instead. A contact that never closes is no such case.

    References
    ----------
    [jcgm-100] 5.1.2. [sync-glossary] the instants.
    """
    if recording.rate_hz < MIN_RATE_HZ:
        rate = numbers.short(recording.rate_hz)
        raise NotMeasurable(f"{rate} samples a second are too few", "Record at 44.1 kHz or more")
    channels = told_apart(recording)
    _refuse_clipped(channels)
    closed, lost = closures(recording, 1 - channels.i_light, channels.steps, channels.lag, channels.found.spans)
    light = Light.of(channels)
    snr_db = float(np.median([closure.snr_db for closure in closed])) if closed else math.inf
    if snr_db < MIN_SNR_DB:
        raise NotMeasurable(f"the contact stands only {numbers.fixed(snr_db, 0)} dB above the noise", ADVICE_CONTACT)
    bridge, rest = _bridged(closed, light)
    budget = Budget(light, recording, sensor, skew_s, series_ohm, bridge)
    firings, skipped = [], []
    for i, span in enumerate(channels.found.spans):
        try:
            seen = light.seen(i)
            own = _own(rest, lost, seen)
            firings.append(_firing(seen, own, budget, is_lead_whole=bool(closed)))
        except NotMeasurable as why:
            skipped.append(Skipped(span.up_s, why.what, why.mend))
    if not firings:
        raise NotMeasurable(f"{len(skipped)} found, none can be measured: {skipped[0].reason}", skipped[0].advice)
    return Measured(
        tuple(firings),
        tuple(skipped),
        Input(
            rate_hz=recording.rate_hz,
            light_channel=channels.i_light + 1,
            corners_hz=light.coupling.corners_hz,
            crosstalk_db=channels.crosstalk_db,
            is_bridged=bridge is not None,
            sensor=sensor.name,
        ),
        recording_flags(firings, rest, bridge, series_ohm, channels.crosstalk_db, light.leak, recording),
    )


def _refuse_clipped(channels: Channels) -> None:
    """The contact's steps need both their levels."""
    recording, i = channels.recording, 1 - channels.i_light
    low, high = channels.scan.low[i], channels.scan.high[i]
    if max(-low, high) <= _FULL:
        return
    pieces = (recording.stretch(i, at, at + _PIECE) for at in range(0, recording.n_samples, _PIECE))
    if sum(n_clipped(piece, low, high, recording.bits) for piece in pieces) > MOST_CLIPPED:
        raise NotMeasurable(
            "the contact's channel is clipped", "Lower its gain, or take a smaller part of the battery's voltage"
        )


def _bridged(closed: tuple[Closure, ...], light: Light) -> tuple[Closure | None, tuple[Closure, ...]]:
    """The closure far from any light, made by a wire (the longest of them), and all others."""
    away = [
        closure
        for closure in closed
        if all(closure.break_s < s.up_s - 0.1 or closure.make_s > s.down_s + 0.1 for s in light.spans)
    ]
    bridge = max(away, key=lambda closure: closure.break_s - closure.make_s, default=None)
    return bridge, tuple(closure for closure in closed if closure not in away)


def _own(closed: tuple[Closure, ...], lost: tuple[float, ...], seen: Seen) -> tuple[Closure, ...]:
    """The closures about a firing, the first of them its own; none where the contact stayed open.

    Raises
    ------
    NotMeasurable
        It closed, and that cannot be timed.
    """
    first_s, last_s = seen.half_up_s - _BEFORE_S, seen.half_down_s + 2 * GUARD_S
    own = tuple(closure for closure in closed if first_s < closure.make_s < last_s)
    if not own and any(first_s < at_s < last_s for at_s in lost):
        raise NotMeasurable("the contact closed and cannot be timed here", "Leave a second between firings")
    return own


def _firing(seen: Seen, own: tuple[Closure, ...], budget: Budget, *, is_lead_whole: bool) -> Firing:
    """The numbers of one firing."""
    pulse, closure = seen.pulse, own[0] if own else None
    opened, falls = pulse.passing(PARTS["full open"], rising=True), pulse.passing(PARTS["full open"], rising=False)
    span = Timed(
        falls.value_s - opened.value_s, falls.weights - opened.weights, falls.per_level_s - opened.per_level_s,
        falls.per_bend_s - opened.per_bend_s, 0.0, math.hypot(falls.u_between, opened.u_between),
    )  # fmt: skip
    firing = Firing(
        at_s=seen.half_up_s,
        half_peak=budget.width(pulse.half_peak, seen, closure),
        has_closed=closure is not None,
        open_for=budget.width(span, seen, closure),
        has_plateau=pulse.has_plateau,
        snr_db=seen.snr_db,
        flags=firing_flags(seen, own, budget.light),
        level_fs=pulse.level,
        is_lead_whole=is_lead_whole,
    )
    return firing if closure is None else _closed(firing, seen, falls, closure, budget)


def _closed(firing: Firing, seen: Seen, falls: Timed, closure: Closure, budget: Budget) -> Firing:
    """The same with what the contact did; `falls` is where the closing begins."""
    dwell, longest = budget.dwell(closure), budget.longest_bounce(closure)
    found = replace(
        firing,
        make_s=closure.make_s,
        break_s=closure.break_s,
        delays=_delays(seen, closure, budget),
        to_closing=budget.delay(seen.start_s + falls.value_s, falls, seen, closure, -1.0),
        dwell=dwell,
        dwell_verdict=dwell_verdict(dwell).word,
        n_bounces=closure.n_bounces,
        longest_bounce=longest,
        bounce_verdict=_bounce_verdict(closure.n_bounces, longest),
        settling_s=closure.settled_s - closure.make_s,
        n_late=closure.n_late,
        open_at_make=_open_at(seen, closure.make_s),
        resistance=budget.resistance(closure),
        contact_snr_db=closure.snr_db,
    )
    return replace(found, flags=(*firing.flags, *contact_flags(found)))


def _delays(seen: Seen, closure: Closure, budget: Budget) -> tuple[Delay, ...]:
    """From each instant of the light to the make."""
    pulse = seen.pulse
    instants: dict[Instant, Timed] = {name: pulse.passing(part, rising=True) for name, part in PARTS.items()}
    instants["middle of the opening"] = _middle(instants["half light"], pulse.passing(0.5, rising=False))
    return tuple(
        Delay(name, budget.delay(seen.start_s + timed.value_s, timed, seen, closure))
        for name, timed in instants.items()
    )


def _bounce_verdict(n_bounces: int, longest: Quantity) -> Word:
    """Whether the longest bounce is let pass."""
    if not n_bounces:
        return "within"
    return verdict(longest.value, longest.u, math.inf, -1.0, MOST_BOUNCE_S).word


def _middle(up: Timed, down: Timed) -> Timed:
    """Half-way between two instants."""
    return Timed(
        (up.value_s + down.value_s) / 2, (up.weights + down.weights) / 2, (up.per_level_s + down.per_level_s) / 2,
        (up.per_bend_s + down.per_bend_s) / 2, 0.0, up.u_between,
    )  # fmt: skip


def _open_at(seen: Seen, at_s: float) -> float | None:
    """The part of the full light at an instant, over a tenth of a millisecond; None outside the window."""
    n = (at_s - seen.start_s) * seen.window.rate_hz
    half = max(1, round(0.05e-3 * seen.window.rate_hz))
    if not half <= n < len(seen.pulse.light) - half:
        return None
    part = float(seen.pulse.light[round(n) - half : round(n) + half + 1].mean() / seen.pulse.level)
    return min(1.0, max(0.0, part))
