"""What is doubtful about a firing or a recording, or found in it."""

from camerawright.bench.sync.budget import ripple
from camerawright.bench.sync.contact import Closure
from camerawright.bench.sync.light import Light, Seen
from camerawright.bench.sync.result import Firing
from camerawright.recordings.channel import Recording

_STEADY = 0.02  # of the level: how much the plateau may move before it is said
_REST_S = 0.25  # a contact makes no later than that after the closing
_MOST_LEAK = 0.03  # of the light: -30 dB
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
            f"Only {1e3 * nearest_s:.0f} ms from another firing: what the contact does may belong to that one. Leave a"
            " second between firings."
        )
    if len(own) > 1:
        after_ms = ", ".join(f"{1e3 * (closure.make_s - own[0].make_s):.0f}" for closure in own[1:])
        flags.append(
            f"The contact closes {len(own)} times about this firing, again after {after_ms} ms: a flash may fire twice,"
            " or the first is of the firing before. The first is judged."
        )
    if not pulse.has_plateau:
        flags.append("The shutter does not stay fully open: its instants are relative to this firing's own peak.")
    leans, moves = abs(pulse.plateau_slope), ripple(pulse, light.noise)
    if leans > max(_LEANS, 4 * light.noise.u_of(pulse.slope_weights)) or moves > _STEADY:
        flags.append(
            f"The light moves by {100 * max(leans, moves):.0f} % while the shutter is open, as a mains lamp does: full"
            " open and the closing may be misplaced. Use a lamp on a battery."
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
    if not any(firing.closure for firing in firings):
        known = (
            "the bridged closure shows that the lead is whole"
            if bridge
            else "bridge it with a wire once in the recording, to see that the lead is whole"
        )
        flags.append(f"The contact never closed, in {len(firings)} firing(s): {known}.")
        if crosstalk_db is not None:
            flags.append(f"What is on its channel is the light, {-crosstalk_db:.0f} dB down: crosstalk.")
    if series_ohm is not None and bridge is None and closed:
        flags.append("No closure by a wire was found before the firings, so the contact's resistance is not told.")
    if bridge is not None and series_ohm is None:
        flags.append(
            "A closure far from any firing was taken for a wire; tell with the set-up how many ohms are else in the"
            " ring (series ohm), and the contact's resistance is told."
        )
    if leak > _MOST_LEAK:
        flags.append(
            f"The contact leaks into the light's channel by {100 * leak:.0f} % of the light: full open and the closing"
            " may be misplaced. Keep the two leads and plugs apart."
        )
    if recording.is_lossy:
        flags.append("The file is lossy: the times are widened for it; record as WAV or FLAC.")
    return tuple(flags)
