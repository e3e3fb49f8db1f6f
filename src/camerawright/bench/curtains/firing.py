"""One firing: all that follows from the times at which two curtains passed the sensors."""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.curtains.budget import Inputs
from camerawright.bench.curtains.channel import Seen
from camerawright.bench.curtains.gate import Gate
from camerawright.bench.curtains.motion import Motion, doubt, exposure_zero_mm, motion_through
from camerawright.bench.curtains.record import Along, AtSensor, Curtain, Firing
from camerawright.quantity import BudgetLine, Quantity

Floats = NDArray[np.float64]

N_ALONG = 19
_ALIKE = 1e-3  # u of how alike a curtain runs in two firings, as a part of its time. Common practice


def is_stray(one: AtSensor, firing: Firing) -> bool:
    """Whether light after the closing comes before the second curtain can have come back: it strays or leaks."""
    if one.again is None:
        return False
    return one.second_s + one.again.after_s < max(other.second_s for other in firing.sensors)


def firing_of(
    seen: tuple[Seen, ...], own: tuple[bool, ...], lit: tuple[int, ...], inputs: Inputs, gate: Gate
) -> Firing:
    """All that follows from the times at the sensors; the flags are left empty."""
    at = np.array([gate.at_mm[i] for i in lit])
    near, far = int(np.argmin(at)), int(np.argmax(at))
    exposures = inputs.derived(lambda first, second, _: second - first, "s")
    motions = tuple(motion_through(times, at, gate.width_mm) for times in np.split(inputs.z, 3)[:2])
    along_mm = np.linspace(0, gate.width_mm, N_ALONG)
    curtains = tuple(_curtain(inputs, k, near, far, along_mm, motions[k]) for k in range(2))
    along = _along(inputs, along_mm, motions[0])
    low, high = (int(pick([one.value for one in exposures])) for pick in (np.argmin, np.argmax))
    ends = np.array([one.value for one in along])
    dark = tuple(x for i, x in enumerate(gate.at_mm) if i not in lit)
    capped = _capped(inputs, motions, gate, dark, tuple(float(x) for x in at))
    fully_open_s = float(motions[1].when(np.zeros(1))[0] - motions[0].when(np.array([gate.width_mm]))[0])
    slits = _slits(inputs, motions, gate)
    passing_s = [(float(inputs.z[k]), float(inputs.z[inputs.n + k])) for k in range(inputs.n)]
    sensors = tuple(
        _at_sensor(one, i, gate, motions, exposures[k], slits[k], passing_s[k], is_own=own[k])
        for k, (i, one) in enumerate(zip(lit, seen, strict=True))
    )
    return Firing(
        at_s=min(one.first_s for one in sensors),
        sensors=tuple(sorted(sensors, key=lambda one: one.at_mm)),
        first=curtains[0],
        second=curtains[1],
        later=inputs.derived(lambda f, s, _: np.array([s[far] - s[near] - f[far] + f[near]]), "s")[0],
        effective=inputs.derived(lambda f, s, _: np.array([np.exp(np.mean(np.log(s - f)))]), "s")[0],
        uneven=inputs.derived(lambda f, s, _: np.log2((s - f)[[high]] / (s - f)[[low]]), "stop")[0],
        uneven_gate=_uneven_gate(along, ends),
        along=Along.of(along_mm, along),
        fully_open_s=fully_open_s,
        capped=capped,
        dark_mm=dark,
        flags=(),
    )


def _at_sensor(
    one: Seen,
    i: int,
    gate: Gate,
    motions: tuple[Motion, ...],
    exposure: Quantity,
    slit: Quantity,
    times_s: tuple[float, float],
    *,
    is_own: bool,
) -> AtSensor:
    """One firing at one sensor."""
    again = one.again
    speed = float(np.mean([motion.speed(np.array([gate.at_mm[i]]))[0] for motion in motions]))
    return AtSensor(
        channel=i + 1,
        at_mm=gate.at_mm[i],
        exposure=exposure,
        slit=slit if _is_in_gate(motions, float(one.times_s.mean()), gate) else None,
        first_s=times_s[0],
        second_s=times_s[1],
        level=one.passage.level,
        snr_db=one.snr_db,
        own_level=is_own,
        blur_mm=float(np.mean(one.passage.edges_s)) * speed - gate.diameter_mm[i],
        again_part=again.height if again else None,
        again_light=Quantity(again.light_s, "s", (BudgetLine("noise", again.u_light_s),)) if again else None,
        again_after_s=again.after_s if again else None,
        least_again=one.least_again,
        dip=one.dip,
        disturbed=one.disturbed,
        lingers=one.lingers,
        flicker=one.flicker,
        flicker_hz=one.flicker_hz,
        beside=one.beside,
    )


def _is_in_gate(motions: tuple[Motion, ...], t_s: float, gate: Gate) -> bool:
    """Whether both edges are within the gate: what they do beyond is not measured."""
    return motions[0].at(t_s) < gate.width_mm and motions[1].at(t_s) > 0


def _along(inputs: Inputs, along_mm: Floats, motion: Motion) -> tuple[Quantity, ...]:
    """Exposure along the gate, from one edge of it to the other. [s]"""
    gate_mm = float(along_mm[-1])

    def exposure(first_s: Floats, second_s: Floats, at_mm: Floats) -> Floats:
        second, first = (motion_through(times, at_mm, gate_mm) for times in (second_s, first_s))
        return second.when(along_mm) - first.when(along_mm)

    _, difference = doubt(motion, along_mm, np.split(inputs.z, 3)[2])
    return tuple(
        _with(one, "motion between sensors", abs(float(off)))
        for one, off in zip(inputs.derived(exposure, "s"), difference, strict=True)
    )


def _curtain(inputs: Inputs, k: int, near: int, far: int, along_mm: Floats, motion: Motion) -> Curtain:
    """One curtain's times and speeds."""
    edges_mm = along_mm[[0, -1]]
    at = np.split(inputs.z, 3)[2]
    between = inputs.derived(lambda *z: np.array([z[k][far] - z[k][near]]), "s")[0]

    def way(*z: Floats) -> Floats:
        """Time across, both speeds, and when it passes each place."""
        run = motion_through(z[k], z[2], float(edges_mm[1]))
        return np.concatenate([np.diff(run.when(edges_mm)), run.speed(edges_mm), run.when(along_mm)])

    across, *rest = inputs.derived(way, "s")
    off, _ = doubt(motion, edges_mm, at)
    step = np.array([0.0, 0.01 * along_mm[-1]])
    bent = [float(np.diff(doubt(motion, x + step, at)[0])[0]) / step[1] for x in edges_mm]
    late = doubt(motion, along_mm, at)[0]
    # dt/dx is 1/v: a slope of the time that is wrong by `bent` makes v wrong by that times v²
    near_speed, far_speed = (
        _with(replace(one, unit="mm/s"), "motion between sensors", abs(slope) * one.value**2)
        for one, slope in zip(rest[:2], bent, strict=True)
    )
    return Curtain(
        between=between,
        across=_with(across, "motion between sensors", max(abs(off[1] - off[0]), *np.abs(off))),
        speed_near=near_speed,
        speed_far=far_speed,
        motion=motion,
        u_passing_s=tuple(math.hypot(one.u, float(x)) for one, x in zip(rest[2:], late, strict=True)),
    )


def _slits(inputs: Inputs, motions: tuple[Motion, ...], gate: Gate) -> tuple[Quantity, ...]:
    """How far apart the edges stand when the middle of the slit passes each sensor. [mm]

    A motion that is wrong by a time `off` that grows along the way has the speed wrong in proportion: by the slope of
    `off` [s/mm] times the speed, and so the slit.
    """

    def slits(first_s: Floats, second_s: Floats, at_mm: Floats) -> Floats:
        first, second = (motion_through(times, at_mm, gate.width_mm) for times in (first_s, second_s))
        return np.array([first.at(t) - second.at(t) for t in (first_s + second_s) / 2])

    at_mm = np.split(inputs.z, 3)[2]
    step_mm = 0.01
    steps = doubt(motions[0], at_mm + step_mm, at_mm)[0] - doubt(motions[0], at_mm, at_mm)[0]
    speeds_off = np.abs(steps / step_mm) * motions[0].speed(at_mm)
    return tuple(
        _with(one, "motion between sensors", abs(one.value) * float(off))
        for one, off in zip(inputs.derived(slits, "mm"), speeds_off, strict=True)
    )


def _capped(
    inputs: Inputs, motions: tuple[Motion, ...], gate: Gate, dark: tuple[float, ...], at: tuple[float, ...]
) -> Quantity | None:
    """Where the slit closes; bounded by sensors where one of them saw nothing."""
    if dark:
        beyond = [x for x in dark if x > max(at)]
        low, high = (max(at), min(beyond)) if beyond else (max(dark), min(x for x in at if x > max(dark)))
        zero = exposure_zero_mm(motions[0], motions[1], gate.width_mm, (low + high) / 2)
        value = float(np.clip(zero if zero is not None else (low + high) / 2, low, high))
        return Quantity(value, "mm", (BudgetLine("between the sensors", (high - low) / math.sqrt(12)),))
    zero = exposure_zero_mm(motions[0], motions[1], gate.width_mm, gate.width_mm)
    speeds = [float(motion.speed(np.array([zero]))[0]) for motion in motions] if zero is not None else []
    if zero is None or min(speeds) <= 0:  # what is extrapolated so far never gets there
        return None

    def where(first_s: Floats, second_s: Floats, at_mm: Floats) -> Floats:
        """The place, as far as small moves of the times go: one step of Newton's method, the slope being `per_mm`."""
        first, second = (motion_through(times, at_mm, gate.width_mm) for times in (first_s, second_s))
        x = np.array([zero])
        per_mm = 1 / second.speed(x) - 1 / first.speed(x)
        return np.asarray(x - (second.when(x) - first.when(x)) / per_mm)

    _, difference = doubt(motions[0], np.array([zero]), np.array(at))
    u = abs(float(difference[0]) / (1 / speeds[1] - 1 / speeds[0]))
    return _with(inputs.derived(where, "mm")[0], "motion between sensors", u)


def capped_by(firing: Firing, whole: tuple[Firing, ...]) -> Quantity | None:
    """Where a firing's slit closes, by how the exposure runs along the gate in firings that lit every sensor.

    The curtains run alike at every speed: only the time between their releases differs. None where that shows no
    closing between the last sensor lit and the first that saw nothing.
    """
    x = np.linspace(0, firing.along.at_mm[-1], 721)
    runs = [np.interp(x, one.along.at_mm, one.along.exposure_s) for one in whole]
    run = np.mean(runs, axis=0)
    lit_mm = np.array([one.at_mm for one in firing.sensors])
    shift = float(np.mean([one.exposure.value for one in firing.sensors] - np.interp(lit_mm, x, run)))
    beyond = [one for one in firing.dark_mm if one > lit_mm.max()]
    if not beyond:
        return None
    inside = (x > lit_mm.max()) & (x < min(beyond))
    closed = np.flatnonzero(inside & (run + shift <= 0))
    if not closed.size:
        return None
    i = int(closed[0])
    slope = float(np.gradient(run, x)[i])
    points = [one.along.u_exposure_s[int(np.argmin(np.abs(np.array(one.along.at_mm) - x[i])))] for one in whole]
    alike_s = max(_ALIKE * whole[0].first.between.value, float(np.ptp([np.ptp(run) for run in runs])))
    return Quantity(
        float(x[i]),
        "mm",
        (
            BudgetLine("exposures", math.hypot(firing.sensors[-1].exposure.u, max(points)) / abs(slope)),
            BudgetLine("curtains running alike", alike_s / abs(slope)),
        ),
    )


def _uneven_gate(along: tuple[Quantity, ...], values: Floats) -> Quantity | None:
    """Ratio of the extremes along the gate in stops, the two places' budgets taken as independent; None if capped.

    log2 of a ratio moves by the relative change of either exposure over ln 2.
    """
    low, high = along[int(np.argmin(values))], along[int(np.argmax(values))]
    if low.value <= 0:
        return None
    lines = tuple(
        replace(a, u=math.hypot(a.u / low.value, b.u / high.value) / math.log(2))
        for a, b in zip(low.budget, high.budget, strict=True)
    )
    return Quantity(math.log2(high.value / low.value), "stop", lines)


def _with(quantity: Quantity, name: str, u: float) -> Quantity:
    """The quantity with one more line."""
    return replace(quantity, budget=(*quantity.budget, BudgetLine(name, u)))
