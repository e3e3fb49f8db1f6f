"""What a recording of the LED tells about the sensor, the input and its settings: arrays in, a frozen result out."""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.setup_check import faults
from camerawright.bench.setup_check.record import Estimate, SetupCheck
from camerawright.bench.setup_check.signal import Pulse, Signal
from camerawright.numeric.clipping import clipped
from camerawright.numeric.coupling import Coupling, identify
from camerawright.numeric.firings import Span, find
from camerawright.numeric.noise import Noise, noise_between
from camerawright.numeric.pulse import Pulse as Seen
from camerawright.numeric.pulse import Timed
from camerawright.numeric.window import Window
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_NEAR_S: Final = 0.02  # how far a pulse may be from where it was played, on a rough clock
_LONG_S: Final = 15e-3
_U_EDGE: Final = 0.06  # samples: placing an edge between two, as for the total time of a firing
_RATE_S: Final = 0.35  # bandwidth times rise time: a first-order chain 1 / (2π T) wide rises in T ln 9, ln 9 / 2π


def setup_check(waveform: Waveform, played: Signal) -> SetupCheck:
    """Measure the set-up from a recording of the signal.

    Parameters
    ----------
    waveform
        From before the first pulse until after the last; of several channels the one that shows them best is used.
    played
        What the LED was given.

    Raises
    ------
    NotMeasurable
        The pulses are not in the recording.

    Notes
    -----
    The poles follow from the dark between the pulses: an LED driven backwards is dark whatever the output's own
    coupling does. What that does to the light shows as `sag`.
    """
    try:
        return _checked(waveform, played)
    except NotMeasurable as why:
        raise NotMeasurable(
            f"the LED's pulses are not seen: {why.what}",
            "Put the LED against the sensor, turn the headphone volume up, and see that the sensor is on this input."
            " Connect the LED between left and right, its long leg at the left",
        ) from None


def _checked(waveform: Waveform, played: Signal) -> SetupCheck:
    level, spans, sign, i_channel = _heard(waveform)
    rate_hz = waveform.rate_hz
    pairs = _paired(spans, played)
    spans = tuple(span for span, _ in pairs)
    coupling = identify(level, rate_hz, spans)
    noise = noise_between(level, rate_hz, spans, coupling, waveform.bits)
    seen = []
    for i, (_, pulse) in enumerate(pairs):
        window = Window(level, rate_hz, spans, i, coupling)
        try:
            seen.append(_Played(pulse, window.start / rate_hz, window.pulse(noise)))
        except NotMeasurable as why:  # a light that sags has no end that can be followed
            refusal = why
    if len(seen) < len(played.pulses) - 1:
        raise refusal
    long = [each for each in seen if each.played.width_s > _LONG_S]
    alike = [each for each in seen if each.played.width_s == played.pulses[0].width_s]
    height = float(np.mean([each.seen.level for each in long]))
    longest = max(long, key=lambda each: each.played.width_s)
    rise_s = _pooled([each.seen.opening for each in long], noise)
    check = SetupCheck(
        rise_s=rise_s,
        fall_s=_pooled([each.seen.closing for each in long], noise),
        fall_lag_s=_fall_lag(seen, noise),
        corners_hz=_corners(coupling),
        is_inverted=sign < 0,
        level_fs=height,
        noise_db=20 * math.log10(height / noise.sigma),
        n_clipped=int(np.count_nonzero(clipped(waveform.channel(i_channel), waveform.bits))),
        gain_change=_gain_change([each.seen for each in alike], noise),
        clock=_clock(seen, rate_hz),
        sag=-longest.seen.plateau_slope,
        sag_over_s=longest.played.width_s,
        iso_516_s=100 * rise_s.value / _RATE_S,
        missing_s=tuple(each.width_s for each in played.pulses if each not in {one.played for one in seen}),
    )
    return replace(check, wrong=faults.wrong(check), flags=faults.flags(check))


@dataclass(frozen=True)
class _Played:
    """A pulse as played and as seen; `start_s` is where its window begins."""

    played: Pulse
    start_s: float
    seen: Seen


def _heard(waveform: Waveform) -> tuple[Floats, tuple[Span, ...], float, int]:
    """The channel in which the pulses stand out most, upright."""
    best, refusal = None, None
    for i in range(waveform.n_channels):
        level = waveform.channel(i).astype(np.float64)
        try:
            found = find(level, waveform.rate_hz)
        except NotMeasurable as why:
            refusal = refusal or why
            continue
        if best is None or found.contrast > best[3]:
            best = (level, found, i, found.contrast)
    if best is None:
        assert refusal is not None
        raise refusal
    level, found, i, _ = best
    # a long pulse through a coupling may look like two of the other sign: the played pattern tells which is light
    return level * found.sign, found.spans, found.sign, i


def _paired(spans: tuple[Span, ...], played: Signal) -> list[tuple[Span, Pulse]]:
    """Every pulse with where it was recorded, for the delay at which most fit."""
    best: list[tuple[Span, Pulse]] = []
    for span in spans:
        for first in played.pulses:
            delay_s = span.up_s - first.at_s
            fit = [
                (near, pulse)
                for pulse in played.pulses
                for near in spans
                if abs(near.up_s - pulse.at_s - delay_s) < _NEAR_S
                and abs(near.duration_s - pulse.width_s) < 2e-3 + 0.1 * pulse.width_s
            ]
            best = max(best, fit, key=len)
    if len(best) < len(played.pulses) - 1:  # an output that is AC coupled may not hold the longest
        raise NotMeasurable(f"{len(best)} of its {len(played.pulses)} pulses were found", "")
    return best


def _pooled(times: list[Timed], noise: Noise) -> Estimate:
    """The mean of like times; placing them between samples does not average out."""
    values = np.array([time.value_s for time in times])
    u_noise = math.sqrt(sum(noise.u_of(time.weights) ** 2 for time in times)) / len(times)
    u_scatter = float(np.std(values, ddof=1)) / math.sqrt(len(values)) if len(values) > 1 else 0.0
    u_between = max(time.u_between for time in times) / noise.rate_hz
    return Estimate(float(values.mean()), math.hypot(max(u_noise, u_scatter), u_between))


def _fall_lag(seen: list[_Played], noise: Noise) -> Estimate:
    """How much longer than played the pulses are."""
    pooled = _pooled([each.seen.half_peak for each in seen], noise)
    return Estimate(pooled.value - float(np.mean([each.played.width_s for each in seen])), _u_lag(seen, noise))


def _u_lag(seen: list[_Played], noise: Noise) -> float:
    """Uncertainty of that; the scatter is that of the differences, not of the widths."""
    differences = [each.seen.half_peak.value_s - each.played.width_s for each in seen]
    u_scatter = float(np.std(differences, ddof=1)) / math.sqrt(len(seen))
    u_noise = math.sqrt(sum(noise.u_of(each.seen.half_peak.weights) ** 2 for each in seen)) / len(seen)
    return math.hypot(max(u_scatter, u_noise), seen[0].seen.half_peak.u_between / noise.rate_hz)


def _gain_change(alike: list[Seen], noise: Noise) -> Estimate:
    """How much the highest of like pulses is above the lowest."""
    levels = [pulse.level for pulse in alike]
    mean = float(np.mean(levels))
    u = max(noise.u_of(pulse.level_weights) for pulse in alike) / mean
    return Estimate((max(levels) - min(levels)) / mean, math.sqrt(2) * u)


def _clock(seen: list[_Played], rate_hz: float) -> Estimate:
    """The slope of recorded over played rising edges, less 1.

    Least squares of the lateness y on the time x played, both about their means: slope x·y / x·x, its u that of an edge
    over |x|.
    """
    at_s = np.array([each.start_s + each.seen.half_up_s for each in seen])
    played_s = np.array([each.played.at_s for each in seen])
    spread = played_s - played_s.mean()
    slope = float(spread @ (at_s - played_s) / (spread @ spread))
    rest = at_s - played_s - slope * spread
    u_edge_s = max(float(np.std(rest, ddof=2)), _U_EDGE / rate_hz)
    return Estimate(slope, u_edge_s / math.sqrt(float(spread @ spread)))


def _corners(coupling: Coupling) -> tuple[Estimate, ...]:
    """The corner frequencies with what the covariance of a and b leaves them.

    The poles p solve p² - a p + b = 0: p = a/2 ± r with r = √(a²/4 - b), so dp/da = 1/2 ± a/(4 r) and dp/db = ∓1/(2 r).
    A corner is p / 2π.
    """
    told = coupling.corners_hz
    root = math.sqrt(max(0.0, coupling.a**2 / 4 - coupling.b))
    if len(told) == 1 or root == 0:
        gradients = [np.array([1.0 / len(told), 0.0])] * len(told)
    else:
        gradients = [np.array([0.5 + s * coupling.a / (4 * root), -s / (2 * root)]) for s in (1, -1)]
    ab = coupling.covariance[:2, :2]
    return tuple(
        Estimate(corner, math.sqrt(max(0.0, float(row @ ab @ row))) / (2 * math.pi))
        for corner, row in zip(told, gradients, strict=True)
    )
