"""What is doubtful about a firing or a recording, or found in it."""

from camerawright.bench.options import quoted
from camerawright.bench.sync.budget import ripple
from camerawright.bench.sync.contact import Closure
from camerawright.bench.sync.light import Light, Seen
from camerawright.bench.sync.record import Firing
from camerawright.bench.sync.uses import SERIES
from camerawright.handbook import sync
from camerawright.recordings.channel import Recording
from camerawright.wording import numbers

_STEADY = 0.02  # of the level: how much the plateau may move before it is said
_REST_S = 0.25  # a contact makes no later than that after the closing
_MOST_LEAK = 0.03  # of the light: -30 dB
_LONG_LAG_S = 30e-6
_LEANS = 0.04  # of the level: the same from one end of the plateau to the other, which blades do a little


def firing_flags(seen: Seen, own: tuple[Closure, ...], light: Light) -> tuple[str, ...]:
    """What is doubtful about one firing, or found at it."""
    flags = []
    pulse = seen.pulse
    if not own:
        flags.append("The contact did not close at this firing.")
    before_s = [seen.half_up_s - span.down_s for span in light.spans if span.down_s < seen.half_up_s]
    after_s = [span.up_s - seen.half_down_s for span in light.spans if span.up_s > seen.half_down_s]
    nearest_s = min(before_s + after_s, default=_REST_S)
    if nearest_s < _REST_S:
        flags.append(
            f"Only {numbers.fixed(1e3 * nearest_s, 0)} ms from another firing: the contact may have closed for that"
            " one. Leave a second between firings."
        )
    if len(own) > 1:
        after_ms = ", ".join(numbers.fixed(1e3 * (closure.make_s - own[0].make_s), 0) for closure in own[1:])
        flags.append(
            f"The contact closes {len(own)} times about this firing, again after {after_ms} ms. A flash may fire twice,"
            " or the first closure belongs to the firing before. The first one is judged."
        )
    if not pulse.has_plateau:
        flags.append("The shutter does not stay fully open: this firing's own peak is taken for its full light.")
    leans, moves = abs(pulse.plateau_slope), ripple(pulse, light.noise)
    if leans > max(_LEANS, 4 * light.noise.u_of(pulse.slope_weights)) or moves > _STEADY:
        flags.append(
            f"The light moves by {numbers.percent(max(leans, moves))} while the shutter is open, as a mains lamp does."
            " Full open and the closing may be misplaced: use a lamp on a battery."
        )
    return tuple(flags)


def contact_flags(firing: Firing) -> tuple[str, ...]:
    """What is wrong with how the contact closed."""
    flags: list[str] = []
    if firing.dwell is None or firing.longest_bounce is None:
        return ()
    if firing.bounce_verdict == "outside":
        flags.append(
            f"The contact bounces {numbers.counted(firing.n_bounces or 0, 'time')}, the longest for"
            f" {numbers.fixed(1e3 * firing.longest_bounce.value, 2)} ms (common practice allows"
            f" {numbers.short(1e3 * sync.MOST_BOUNCE_S)} ms)."
        )
    if firing.n_late:
        flags.append(
            f"The contact closes again {numbers.counted(firing.n_late, 'time')} after it let go: a flash may fire"
            " twice."
        )
    if firing.dwell_verdict == "outside":
        flags.append(
            f"The contact stays closed for only {numbers.fixed(1e3 * firing.dwell.value, 2)} ms: a flash may not fire."
        )
    return tuple(flags)


def recording_flags(
    firings: list[Firing],
    closed: tuple[Closure, ...],
    bridge: Closure | None,
    series_ohm: float | None,
    crosstalk_db: float | None,
    leak: float,
    recording: Recording,
) -> tuple[str, ...]:
    """What is found about, or doubtful in, the whole recording."""
    flags = []
    if not any(firing.has_closed for firing in firings):
        known = (
            "A wire closed the circuit once, so the lead is whole."
            if bridge
            else "Record again and bridge it with a wire once, to see that the lead is whole."
        )
        flags.append(f"The contact never closed, in {numbers.counted(len(firings), 'firing')}. {known}")
        if crosstalk_db is not None:
            flags.append(
                f"What its channel shows is crosstalk of the light, {numbers.fixed(-crosstalk_db, 0)} dB below it."
            )
    if series_ohm is not None and bridge is None and closed:
        flags.append("Nobody bridged the contact with a wire before the firings, so its resistance is not known.")
    if bridge is not None and series_ohm is None:
        flags.append(
            f"A closure far from any firing was taken for a wire. Give {quoted(SERIES)}: it tells the contact's own."
        )
    lag_s = max((closure.lag_s for closure in closed), default=0.0)
    if lag_s > _LONG_LAG_S:
        flags.append(
            f"The contact's lead lags by {numbers.fixed(1e3 * lag_s, 2)} ms: a long lead, or a large resistor before"
            " the input. That is taken off the times. Use a shorter lead to be surer."
        )
    if leak > _MOST_LEAK:
        flags.append(
            f"The contact leaks into the light's channel by {numbers.percent(leak)} of the light. Full open and the"
            " closing may be misplaced: keep the two leads and plugs apart."
        )
    if recording.is_lossy:
        flags.append("The file is lossy, so the times are less certain: record as WAV or FLAC.")
    return tuple(flags)
