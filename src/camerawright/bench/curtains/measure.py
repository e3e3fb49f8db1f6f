"""Focal plane by light: two or three sensors across the gate, one recording in, both curtains' ways out."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.curtains.budget import U_LAMP, inputs_of
from camerawright.bench.curtains.channel import Channel, Seen, firings_of
from camerawright.bench.curtains.diameter import as_seen, from_edges
from camerawright.bench.curtains.diameter_flags import diameter_flags
from camerawright.bench.curtains.edges import Start
from camerawright.bench.curtains.firing import capped_by, firing_of
from camerawright.bench.curtains.flags import UNSTEADY, firing_flags, is_blunt_everywhere, recording_flags
from camerawright.bench.curtains.gate import DIAMETERS, PLACES, Gate
from camerawright.bench.curtains.look import SHORTEST_EDGE_S, Look, look_at, slit_speed
from camerawright.bench.curtains.motion import is_plausible
from camerawright.bench.curtains.record import Firing, Measured
from camerawright.bench.curtains.sensors import Sensors, of_class
from camerawright.bench.options import quoted
from camerawright.bench.record import Skipped
from camerawright.handbook.light_sensors import PHOTODIODE, PHOTOTRANSISTOR
from camerawright.numeric.firings import Span, block_width
from camerawright.recordings.channel import Recording
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

METHOD = "curtain edges fitted across disc sensors, AC coupling undone by the dark, version 3"

MIN_RATE_HZ = 22_000.0
_FULL = 1.1  # an exposure this many edges long shows the sensor's full light
_SURELY_FULL = 1.5  # and this many give a level for others
_SHARPEST = {2: 0.5, 3: 0.75}  # an edge over the sensor's width at the curtain's speed: less cannot be, by sensors lit


def measure(recording: Recording, gate: Gate, *, sensors: Sensors | None = None) -> Measured:
    """Measure both curtains in every firing of a recording.

    Parameters
    ----------
    recording
        One channel for each sensor.
    gate
        Where the sensors stand, channel by channel.
    sensors
        What is told of the light sensors; photodiodes where nothing is.

    Raises
    ------
    NotMeasurable
        Nothing in it can be measured; says why and what to do instead.

    Notes
    -----
    A curtain passes the middle of a sensor when the sensor is half lit. From the times at the sensors each curtain's
    motion follows as one of constant acceleration (two sensors: from rest before the gate), and from both the exposure
    along the gate. What is beyond the outer sensors is extrapolated, with a line in the budget for it.

    References
    ----------
    [iso-516] three points, the centre and two others; excerpt. [gost-19821] 6.4.2: the two others at 45 % of the width
    from the centre; 6.4.2.2, formula (7): non-uniformity as the ratio of the extreme effective times. [jcgm-100] 5.1.2.
    """
    refuse_too_few(recording)
    sensors = sensors or of_class(PHOTODIODE)
    channels = _channels(recording)
    firings = firings_of(channels)
    for channel in channels:
        channel.look_again(firings)
    firings = firings_of(channels)
    looks = [look_at(firing, channels) for firing in firings]
    given, is_turned = _turned(looks, gate)
    by_edges = tuple(from_edges(looks, i, given, sensors.each) for i in range(len(channels)))
    gate = as_seen(given, by_edges)
    references = tuple(_reference(looks, i, gate) for i in range(len(channels)))
    measured: list[Firing] = []
    skipped = []
    for firing, look in zip(firings, looks, strict=True):
        try:
            measured.append(_firing(look, firing, channels, gate, references, sensors, recording.is_lossy))
        except NotMeasurable as why:
            skipped.append(Skipped(firing.up_s, why.what, why.mend))
    if not measured:
        raise NotMeasurable(f"{len(skipped)} found, none can be measured: {skipped[0].reason}", skipped[0].advice)
    is_blunt = is_blunt_everywhere(measured)
    is_slow = sensors.each.name == PHOTOTRANSISTOR.name
    measured = [
        replace(one, flags=firing_flags(one, gate, is_blunt_everywhere=is_blunt, is_slow=is_slow)) for one in measured
    ]
    return Measured(
        _closings(measured),
        tuple(skipped),
        gate,
        by_edges,
        is_turned,
        recording.rate_hz,
        tuple(channel.sign for channel in channels),
        tuple(channel.coupling for channel in channels),
        sensors,
        (
            *recording_flags(measured, skipped, recording, is_turned=is_turned),
            *diameter_flags(given, by_edges, measured),
        ),
    )


def _closings(firings: list[Firing]) -> tuple[Firing, ...]:
    """The firings, where the slit closes told better where others lit every sensor."""
    whole = tuple(firing for firing in firings if not firing.dark_mm)
    return tuple(
        replace(firing, capped=capped_by(firing, whole) or firing.capped) if firing.dark_mm and whole else firing
        for firing in firings
    )


def refuse_too_few(recording: Recording) -> None:
    """Refuse a recording of one channel, or of too few samples a second.

    Raises
    ------
    NotMeasurable
        It is one.
    """
    if recording.rate_hz < MIN_RATE_HZ:
        raise NotMeasurable(
            f"{numbers.short(recording.rate_hz)} samples a second are too few", "Record at 44.1 kHz or more"
        )
    if recording.n_channels < 2:
        raise NotMeasurable(
            "there is one channel, and to time a curtain takes two sensors",
            "Record two sensors across the gate in stereo. With one sensor use the test of the leaf shutter: it times a"
            " focal-plane shutter too, where its sensor is narrower than the slit",
        )


def _channels(recording: Recording) -> tuple[Channel, ...]:
    """All channels; one that never sees anything is refused, as capping and a dead sensor look alike then."""
    scan = recording.scan(block_width(recording.rate_hz))
    channels = []
    for i in range(recording.n_channels):
        try:
            channels.append(Channel(recording, i, scan))
        except NotMeasurable as why:
            raise NotMeasurable(
                f"channel {i + 1} sees no firing: {why.what}",
                "Check that sensor, its cable and its light. If the shutter may be capped there, fire a slow speed in"
                " the same recording: that shows that the sensor works",
            ) from None
    return tuple(channels)


def _turned(looks: list[Look], gate: Gate) -> tuple[Gate, bool]:
    """The gate counted from where the curtains come in, by the order in which the sensors are lit."""
    whole = [look for look in looks if all(one is not None for one in look.seen)]
    pairs = [
        [(one.times_s[0], x) for one, x in zip(look.seen, gate.at_mm, strict=True) if one is not None]
        for look in (whole or looks)
    ]
    pairs = [pair for pair in pairs if len(pair) > 1]
    if not pairs:
        return gate, False
    together = [float(np.cov(np.array(pair).T)[0, 1]) for pair in pairs]
    is_turned = bool(np.median(together) < 0)
    turned = gate.turned() if is_turned else gate
    for look in whole:
        times = np.array([one.times_s[0] for one in look.seen if one is not None])
        why = is_plausible(times, np.array(turned.at_mm))
        if why:
            order = " then ".join(f"channel {i + 1}" for i in np.argsort(times))
            raise NotMeasurable(
                f"the places of the sensors cannot be right: {why} (light comes to {order})",
                f"Give the places under {quoted(PLACES)} in the order of the channels, measured from the edge of the"
                " gate that the curtains come in at; check that no two plugs are swapped",
            )
    return turned, is_turned


@dataclass(frozen=True)
class _Reference:
    """What a channel's firings tell of its full light: level and edges where any surely shows them (`start`).

    `u_level` is the relative u of taking another firing's level, `unsteady` the relative standard deviation of the
    levels, 0 where that is small. `flicker` is that of the light in those firings, as a part and its frequency.
    """

    start: Start | None
    u_level: float
    unsteady: float
    flicker: tuple[float, float] = (0.0, 0.0)


def _reference(looks: list[Look], i: int, gate: Gate) -> _Reference:
    """Level and edges of a channel from the firings that surely show them."""
    whole = [
        one
        for look in looks
        if (one := look.seen[i]) is not None
        and one.passage.fullness > _SURELY_FULL
        and _is_own(look, i, gate, _SURELY_FULL)
    ]
    if not whole:
        return _Reference(None, 0.0, 0.0)
    full = [one.passage for one in whole]
    flicker = max((one.flicker, one.flicker_hz) for one in whole)
    levels = np.array([passage.level for passage in full])
    # the curtains stand unlike far from the film: each edge has its own penumbra, which a narrow slit shows as light
    first_s, second_s, smear = (float(x) for x in np.median([(*one.edges_s, one.smear) for one in full], axis=0))
    spread = float(levels.std(ddof=1) / levels.mean()) if len(levels) > 1 else 0.0
    return _Reference(
        Start(0.0, 0.0, (first_s + second_s) / 2, float(np.median(levels)), (first_s, second_s), smear),
        math.hypot(max(spread, U_LAMP) * math.sqrt(1 + 1 / len(levels)), flicker[0] / math.sqrt(2)),
        spread if levels.max() > (1 + UNSTEADY) * levels.min() else 0.0,
        flicker,
    )


def _is_own(look: Look, i: int, gate: Gate, full: float) -> bool:
    """Whether a firing shows a sensor's full light: its slit is wider than the sensor and its edges no sharper."""
    one = look.seen[i]
    if one is None or one.passage.fullness < full:
        return False
    speed = slit_speed(look, gate, i)
    width = gate.diameter_mm[i]
    if speed is None:
        return one.passage.fullness > 2 * full
    sharpest = _SHARPEST[min(3, sum(other is not None for other in look.seen))]
    edge_mm = one.passage.edge_s * speed
    return one.passage.exposure_s * speed > full * width and edge_mm > sharpest * width


def _firing(
    look: Look,
    firing: Span,
    channels: tuple[Channel, ...],
    gate: Gate,
    references: tuple[_Reference, ...],
    sensors: Sensors,
    is_lossy: bool,
) -> Firing:
    """One firing, or why it cannot be measured."""
    if look.refusal is not None:
        raise look.refusal
    lit = [i for i, one in enumerate(look.seen) if one is not None]
    if len(lit) < 2:
        raise NotMeasurable(
            f"only the sensor at {numbers.short(gate.at_mm[lit[0]])} mm sees this firing: the slit is closed at"
            " the others",
            "The shutter is capped here: fire slower speeds, they show by how much the curtains differ",
        )
    seen, own = [], []
    for i in lit:
        one = look.seen[i]
        assert one is not None
        is_own = _is_own(look, i, gate, _FULL)
        if not is_own:
            one = _by_reference(look, i, channels[i], gate, references[i])
        seen.append(one)
        own.append(is_own)
    at_mm = tuple(gate.at_mm[i] for i in lit)
    for k in range(2):
        why = is_plausible(np.array([one.times_s[k] for one in seen]), np.array(at_mm))
        if why:
            raise NotMeasurable(
                f"{('first', 'second')[k]} curtain: {why}",
                "Check the places of the sensors, and that nothing else lights or shades them",
            )
    inputs = inputs_of(
        tuple(seen),
        channels[lit[0]],
        at_mm,
        u_at_mm=gate.u_at_mm,
        u_level=tuple(references[i].u_level for i in lit),
        unsteady=tuple(references[i].unsteady for i in lit),
        sensors=sensors,
        is_lossy=is_lossy,
    )
    return firing_of(tuple(seen), tuple(own), tuple(lit), inputs, gate)


def _by_reference(look: Look, i: int, channel: Channel, gate: Gate, known: _Reference) -> Seen:
    """A firing that does not show the sensor's full light, fitted with the level of others; refused without.

    How the lamp flickers shows in those others alone.
    """
    width = gate.diameter_mm[i]
    if known.start is None:
        speed = slit_speed(look, gate, i)
        one = look.seen[i]
        assert one is not None
        slit, seen = "narrow", f"the sensor {numbers.short(width)} mm"
        if speed:
            slit = f"about {numbers.fixed(one.passage.exposure_s * speed, 1)} mm"
            if one.passage.exposure_s * speed > _FULL * width:
                blurred = numbers.fixed(one.passage.edge_s * speed, 1)
                seen = f"the sensor of {numbers.short(width)} mm, with the blur of its edges, {blurred} mm"
        raise NotMeasurable(
            f"at {numbers.short(gate.at_mm[i])} mm the slit is {slit} wide and {seen}: it never sees the full"
            " light, and its own peak would measure the sensor, not the slit",
            f"Mask the sensors to a third of the slit or less (tell their width under {quoted(DIAMETERS)}), or fire a"
            " slow speed, as 1/30, in the same recording with the same light: that shows the full level",
        )
    span = look.spans[i]
    assert span is not None
    flicker, flicker_hz = known.flicker
    return replace(channel.seen(span, SHORTEST_EDGE_S, known.start), flicker=flicker, flicker_hz=flicker_hz)
