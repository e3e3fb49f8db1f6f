"""A flash contact against the light: a stereo recording in, every firing's delays with their budgets out."""

import math

import numpy as np

from camerawright.bench.contract import Skipped
from camerawright.bench.sync.budget import Budget
from camerawright.bench.sync.channels import ADVICE_CONTACT, Channels, told_apart
from camerawright.bench.sync.contact import MIN_SNR_DB, Closure, closures
from camerawright.bench.sync.flags import firing_flags, recording_flags
from camerawright.bench.sync.light import MOST_CLIPPED, Light, Seen
from camerawright.bench.sync.result import Firing, SyncResult
from camerawright.handbook.light_sensors import SENSORS, Sensor
from camerawright.handbook.sync import PARTS, Instant
from camerawright.numeric.clipping import n_clipped
from camerawright.numeric.firings import GUARD_S
from camerawright.numeric.pulse import Timed
from camerawright.quantity import Quantity
from camerawright.recordings.channel import Recording
from camerawright.trouble import NotMeasurable

METHOD = "flash contact and light on a stereo sound card, version 3"

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
) -> SyncResult:
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
        raise NotMeasurable(f"{recording.rate_hz:g} samples a second are too few", "Record at 44.1 kHz or more")
    channels = told_apart(recording)
    _refuse_clipped(channels)
    try:
        closed, lost = closures(recording, 1 - channels.i_light, channels.steps, channels.found.spans)
        light = Light.of(channels)
    except NotMeasurable as why:
        raise NotMeasurable(why.what, why.mend) from None
    if closed and np.median([closure.snr_db for closure in closed]) < MIN_SNR_DB:
        raise NotMeasurable(
            f"the contact stands only {np.median([c.snr_db for c in closed]):.0f} dB above the noise", ADVICE_CONTACT
        )
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
    return SyncResult(
        tuple(firings), tuple(skipped), recording.rate_hz, channels.i_light, light.coupling.corners_hz,
        channels.crosstalk_db, bridge is not None, sensor,
        recording_flags(firings, rest, bridge, series_ohm, channels.crosstalk_db, light.leak, recording),
    )  # fmt: skip


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
    passing = {name: pulse.passing(part, rising=True) for name, part in PARTS.items()}
    falls = pulse.passing(PARTS["full open"], rising=False)
    opened = passing["full open"]
    span = Timed(
        falls.value_s - opened.value_s, falls.weights - opened.weights, falls.per_level_s - opened.per_level_s,
        falls.per_bend_s - opened.per_bend_s, 0.0, math.hypot(falls.u_between, opened.u_between),
    )  # fmt: skip
    delays: dict[Instant, Quantity] = {}
    if closure is not None:
        for name, timed in passing.items():
            delays[name] = budget.delay(seen.start_s + timed.value_s, timed, seen, closure)
        middle = _middle(passing["half light"], pulse.passing(0.5, rising=False))
        delays["middle of the opening"] = budget.delay(seen.start_s + middle.value_s, middle, seen, closure)
    return Firing(
        at_s=seen.half_up_s,
        half_peak=budget.width(pulse.half_peak, seen, closure),
        closure=closure,
        is_lead_whole=is_lead_whole,
        delays=delays,
        to_closing=budget.delay(seen.start_s + falls.value_s, falls, seen, closure, -1.0) if closure else None,
        open_for=budget.width(span, seen, closure),
        dwell=budget.dwell(closure) if closure else None,
        open_at_make=_open_at(seen, closure.make_s) if closure else None,
        resistance_ohm=budget.resistance(closure) if closure else None,
        has_plateau=pulse.has_plateau,
        level_fs=pulse.level,
        snr_db=seen.snr_db,
        flags=firing_flags(seen, own, budget.light),
    )


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
