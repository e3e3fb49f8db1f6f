"""A flash contact against the light: a stereo recording in, every firing's delays with their budgets out."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.contract import NotMeasurable
from camerawright.bench.sync.channels import ADVICE_CONTACT, crosstalk, told_apart
from camerawright.bench.sync.contact import MIN_SNR_DB, Closure, closures
from camerawright.handbook.light_sensors import SENSORS, Sensor
from camerawright.handbook.sync import PARTS, Instant
from camerawright.numeric.clipping import n_clipped
from camerawright.numeric.coupling import Coupling, identify
from camerawright.numeric.firings import GUARD_S, Span
from camerawright.numeric.no_answer import NoAnswer
from camerawright.numeric.noise import Noise, noise_between
from camerawright.numeric.pulse import Pulse, Timed
from camerawright.numeric.window import Window
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]

METHOD = "flash contact and light on a stereo sound card, version 1"

MIN_RATE_HZ = 40_000.0
MIN_LIGHT_DB = 34.0
"""Below, noise moves the 95 % of full light by more than its budget says."""
U_SKEW_SAMPLES = 0.5
"""u of how much later one channel is sampled than the other, in samples: within one sample, 95 %. Common practice."""
U_CLOCK = 50e-6
"""u of a crystal's rate. Common practice: 95 % are within 100 ppm."""
U_LOSSY_S = 0.1e-3
"""u of an instant in a lossy file: its coder smears a step over about that. Common practice."""
_BEFORE_S = 0.05  # a make belongs to the firing that opens no later than this after it
_MAX_CLIPPED = 2
_FULL = 0.99  # a closed contact on a DC-coupled input is flat as well
_STEADY = 0.02  # of the level: how much the plateau may move before it is said


@dataclass(frozen=True)
class Firing:
    """One firing. `at_s` is where the light passed half its level, opening.

    `closure` is None where the contact did not close; then there are no delays. `delays` counts from each instant of
    the light to the make (negative: the contact makes first); `to_closing` from the make to where the closing begins
    (95 %); `open_for` from full open to there. `open_at_make` is the part of the full light that was there at the
    make, None where the shutter was closed. `resistance_ohm` is None where the set-up does not give it.
    """

    at_s: float
    half_peak_s: float
    closure: Closure | None
    delays: dict[Instant, Quantity]
    to_closing: Quantity | None
    open_for: Quantity
    dwell: Quantity | None
    open_at_make: float | None
    resistance_ohm: Quantity | None
    has_plateau: bool
    snr_db: float
    flags: tuple[str, ...]


@dataclass(frozen=True)
class Skipped:
    """A firing that is there and cannot be measured."""

    at_s: float
    reason: str
    advice: str


@dataclass(frozen=True)
class SyncResult:
    """All firings of a recording in order."""

    firings: tuple[Firing, ...]
    skipped: tuple[Skipped, ...]
    rate_hz: float
    i_light: int
    light_corners_hz: tuple[float, ...]
    crosstalk_db: float | None
    is_bridged: bool
    sensor: Sensor
    flags: tuple[str, ...]


def measure(
    waveform: Waveform,
    *,
    sensor: Sensor = SENSORS[0],
    skew_s: float | None = None,
    series_ohm: float | None = None,
) -> SyncResult:
    """Time the contact against the light at every firing.

    Parameters
    ----------
    waveform
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
    if waveform.rate_hz < MIN_RATE_HZ:
        raise NotMeasurable(f"{waveform.rate_hz:g} samples a second are too few", "Record at 44.1 kHz or more")
    channels = told_apart(waveform)
    _refuse_clipped(waveform, 1 - channels.i_light)
    try:
        closed, lost = closures(channels.contact, waveform.rate_hz, waveform.bits, channels.found.spans)
        light = _Light.of(channels.light, channels.contact, channels.found.spans, waveform)
    except NoAnswer as why:
        raise NotMeasurable(why.reason, why.advice) from None
    if closed and np.median([closure.snr_db for closure in closed]) < MIN_SNR_DB:
        raise NotMeasurable(
            f"the contact stands only {np.median([c.snr_db for c in closed]):.0f} dB above the noise", ADVICE_CONTACT
        )
    bridge, rest = _bridged(closed, light)
    budget = _Budget(light, waveform, sensor, skew_s, series_ohm, bridge)
    firings, skipped = [], []
    raw = waveform.channel(channels.i_light)
    for i, span in enumerate(channels.found.spans):
        try:
            seen = light.seen(i, raw, waveform.bits)
            own = _own(rest, lost, seen)
            firings.append(_firing(seen, own, budget))
        except NoAnswer as why:
            skipped.append(Skipped(span.up_s, why.reason, why.advice))
    if not firings:
        raise NotMeasurable(f"{len(skipped)} found, none can be measured: {skipped[0].reason}", skipped[0].advice)
    return SyncResult(
        tuple(firings), tuple(skipped), waveform.rate_hz, channels.i_light, light.coupling.corners_hz,
        channels.crosstalk_db, bridge is not None, sensor,
        _flags(firings, rest, bridge, series_ohm, channels.crosstalk_db, waveform),
    )  # fmt: skip


def _refuse_clipped(waveform: Waveform, i_contact: int) -> None:
    """The contact's steps need both their levels."""
    raw = waveform.channel(i_contact)
    low, high = float(raw.min()), float(raw.max())
    if max(-low, high) > _FULL and n_clipped(raw, low, high, waveform.bits) > _MAX_CLIPPED:
        raise NotMeasurable(
            "the contact's channel is clipped", "Lower its gain, or take a smaller part of the battery's voltage"
        )


@dataclass(frozen=True)
class _Seen:
    """One opening, measured."""

    window: Window
    pulse: Pulse
    start_s: float
    snr_db: float

    @property
    def half_up_s(self) -> float:
        """Where the light passed half, from the start of the recording."""
        return self.start_s + self.pulse.half_up_s

    @property
    def half_down_s(self) -> float:
        """Where it passed half again."""
        return self.start_s + self.pulse.half_down_s


@dataclass(frozen=True)
class _Light:
    """The light's channel, the contact's part in it taken off."""

    level: Floats
    spans: tuple[Span, ...]
    rate_hz: float
    coupling: Coupling
    noise: Noise
    u_leak: float  # u of what is left of the contact in it, of the contact's height

    @classmethod
    def of(cls, light: Floats, contact: Floats, spans: tuple[Span, ...], waveform: Waveform) -> "_Light":
        """Identify, take the crosstalk off, identify again."""
        coupling = identify(light, waveform.rate_hz, spans)
        noise = noise_between(light, waveform.rate_hz, spans, coupling, waveform.bits)
        leak, u_leak = crosstalk(light, contact, noise.sigma)
        light = light - leak * contact
        coupling = identify(light, waveform.rate_hz, spans)
        noise = noise_between(light, waveform.rate_hz, spans, coupling, waveform.bits)
        return cls(light, spans, waveform.rate_hz, coupling, noise, u_leak)

    def seen(self, i: int, raw: NDArray[np.float32], bits: int | None) -> _Seen:
        """One opening, or why not."""
        window = Window(self.level, self.rate_hz, self.spans, i, self.coupling)
        window.refuse_without_dark()
        stretch = raw[window.start : window.stop]
        if n_clipped(stretch, float(raw.min()), float(raw.max()), bits) > _MAX_CLIPPED:
            raise NoAnswer("the light of this firing is clipped", "Lower the gain or the light, and record again")
        pulse = window.pulse(self.noise)
        snr_db = 20 * math.log10(pulse.level / self.noise.sigma) if self.noise.sigma > 0 else math.inf
        if snr_db < MIN_LIGHT_DB:
            raise NoAnswer(f"the light stands only {snr_db:.0f} dB above the noise", "Raise the light or the gain")
        return _Seen(window, pulse, window.start / self.rate_hz, snr_db)


def _bridged(closed: tuple[Closure, ...], light: _Light) -> tuple[Closure | None, tuple[Closure, ...]]:
    """The closure far from any light, made by a wire (the longest of them), and all others."""
    away = [
        closure
        for closure in closed
        if all(closure.break_s < s.up_s - 0.1 or closure.make_s > s.down_s + 0.1 for s in light.spans)
    ]
    bridge = max(away, key=lambda closure: closure.break_s - closure.make_s, default=None)
    return bridge, tuple(closure for closure in closed if closure not in away)


def _own(closed: tuple[Closure, ...], lost: tuple[float, ...], seen: _Seen) -> Closure | None:
    """The closure of a firing, None where the contact stayed open.

    Raises
    ------
    NoAnswer
        It closed, and that cannot be timed.
    """
    first_s, last_s = seen.half_up_s - _BEFORE_S, seen.half_down_s + 2 * GUARD_S
    for closure in closed:
        if first_s < closure.make_s < last_s:
            return closure
    if any(first_s < at_s < last_s for at_s in lost):
        raise NoAnswer("the contact closed and cannot be timed here", "Leave a second between firings")
    return None


@dataclass(frozen=True)
class _Budget:
    """What all firings of a recording share."""

    light: _Light
    waveform: Waveform
    sensor: Sensor
    skew_s: float | None
    series_ohm: float | None
    bridge: Closure | None

    def instant(self, timed: Timed, seen: _Seen, closure: Closure | None) -> list[BudgetLine]:
        """Lines of an instant of the light, or of a time between two."""
        light, pulse = self.light, seen.pulse
        level = max(_level_doubt(seen, light), _ripple(pulse, light.noise))
        leak = light.u_leak * closure.level_fs / pulse.level if closure else 0.0
        return [
            BudgetLine("light noise", light.noise.u_of(timed.weights), light.noise.n_segments, "A"),
            BudgetLine("light level", level * abs(timed.per_level_s)),
            BudgetLine("AC model", _u_coupling(timed.weights, seen.window, light.coupling), kind="A"),
            BudgetLine("crosstalk", leak * abs(timed.per_level_s)),
            BudgetLine("sensor linearity", self.sensor.u_bend * abs(timed.per_bend_s)),
            BudgetLine("timing", timed.u_between / light.rate_hz),
            *([BudgetLine("lossy coding", U_LOSSY_S)] if self.waveform.is_lossy else []),
        ]

    def delay(self, light_s: float, timed: Timed, seen: _Seen, closure: Closure, sign: float = 1.0) -> Quantity:
        """From an instant of the light to the make (the other way with a negative sign)."""
        u_skew_s = (U_SKEW_SAMPLES if self.skew_s is None else 0.02) / self.light.rate_hz
        value = closure.make_s + (self.skew_s or 0.0) - (light_s - self.sensor.lag_s)
        return Quantity(
            sign * value,
            "s",
            (
                *self.instant(timed, seen, closure),
                BudgetLine("contact edge", closure.u_edge_s),
                BudgetLine("skew of the channels", u_skew_s),
                BudgetLine("sensor lag", self.sensor.u_lag_s),
                BudgetLine("clock", U_CLOCK * abs(value)),
            ),
        )

    def dwell(self, closure: Closure) -> Quantity:
        """From the first make to the last break."""
        value = closure.break_s - closure.make_s
        lossy = [BudgetLine("lossy coding", U_LOSSY_S)] if self.waveform.is_lossy else []
        edge = BudgetLine("contact edge", math.sqrt(2) * closure.u_edge_s)
        return Quantity(value, "s", (edge, BudgetLine("clock", U_CLOCK * value), *lossy))

    def resistance(self, closure: Closure) -> Quantity | None:
        """Of the closed contact, by the divider."""
        if self.series_ohm is None or self.bridge is None:
            return None
        ratio = self.bridge.level_fs / closure.level_fs
        per = self.series_ohm * ratio
        return Quantity(
            self.series_ohm * (ratio - 1),
            "ohm",
            (
                BudgetLine("level bridged", per * self.bridge.u_level_fs / self.bridge.level_fs),
                BudgetLine("level closed", per * closure.u_level_fs / closure.level_fs),
                BudgetLine("series resistor", 0.05 / math.sqrt(3) * abs(self.series_ohm * (ratio - 1))),
            ),
        )


def _firing(seen: _Seen, closure: Closure | None, budget: _Budget) -> Firing:
    """The numbers of one firing."""
    pulse = seen.pulse
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
        half_peak_s=pulse.half_peak.value_s,
        closure=closure,
        delays=delays,
        to_closing=budget.delay(seen.start_s + falls.value_s, falls, seen, closure, -1.0) if closure else None,
        open_for=Quantity(span.value_s, "s", tuple(budget.instant(span, seen, closure))),
        dwell=budget.dwell(closure) if closure else None,
        open_at_make=_open_at(seen, closure.make_s) if closure else None,
        resistance_ohm=budget.resistance(closure) if closure else None,
        has_plateau=pulse.has_plateau,
        snr_db=seen.snr_db,
        flags=_firing_flags(seen, closure, budget.light.noise),
    )


def _middle(up: Timed, down: Timed) -> Timed:
    """Half-way between two instants."""
    return Timed(
        (up.value_s + down.value_s) / 2, (up.weights + down.weights) / 2, (up.per_level_s + down.per_level_s) / 2,
        (up.per_bend_s + down.per_bend_s) / 2, 0.0, up.u_between,
    )  # fmt: skip


def _open_at(seen: _Seen, at_s: float) -> float | None:
    """The part of the full light at an instant, over a tenth of a millisecond; None outside the window."""
    n = (at_s - seen.start_s) * seen.window.rate_hz
    half = max(1, round(0.05e-3 * seen.window.rate_hz))
    if not half <= n < len(seen.pulse.light) - half:
        return None
    part = float(seen.pulse.light[round(n) - half : round(n) + half + 1].mean() / seen.pulse.level)
    return min(1.0, max(0.0, part))


def _u_coupling(weights: Floats, window: Window, coupling: Coupling) -> float:
    """What the uncertainty of the undoing does to something linear in the light."""
    moved = window.terms @ weights
    return math.sqrt(max(0.0, float(moved @ coupling.covariance @ moved)))


def _level_doubt(seen: _Seen, light: _Light) -> float:
    """How far the inner part of the plateau differs from the whole, beyond what noise explains."""
    weights = seen.pulse.inner_weights
    expected = math.hypot(light.noise.u_of(weights), _u_coupling(weights, seen.window, light.coupling))
    return math.sqrt(max(0.0, seen.pulse.inner_level**2 - (1.5 * expected) ** 2))


def _ripple(pulse: Pulse, noise: Noise) -> float:
    """How much the plateau moves within itself beyond noise, in levels: a lamp that flickers."""
    block = max(1, round(1e-3 * noise.rate_hz))
    top = pulse.light[slice(*pulse.plateau)]
    means = top[: len(top) // block * block].reshape(-1, block).mean(axis=1)
    if len(means) < 4:
        return 0.0
    spread = float(np.std(means - np.polyval(np.polyfit(np.arange(len(means)), means, 1), np.arange(len(means)))))
    weights = np.zeros(block * 16)
    weights[:block] = 1 / block
    return math.sqrt(max(0.0, spread**2 - (1.5 * noise.u_of(weights)) ** 2)) / pulse.level


def _firing_flags(seen: _Seen, closure: Closure | None, noise: Noise) -> tuple[str, ...]:
    """What is doubtful about one firing, or found at it."""
    flags = []
    if closure is None:
        flags.append("The contact did not close at this firing.")
    if not seen.pulse.has_plateau:
        flags.append("The shutter does not stay fully open: its instants are relative to this firing's own peak.")
    ripple = _ripple(seen.pulse, noise)
    if ripple > _STEADY:
        flags.append(f"The light moves by {100 * ripple:.0f} % while the shutter is open, as a mains lamp does.")
    return tuple(flags)


def _flags(
    firings: list[Firing],
    closed: tuple[Closure, ...],
    bridge: Closure | None,
    series_ohm: float | None,
    crosstalk_db: float | None,
    waveform: Waveform,
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
            "A closure far from any firing was taken for a wire; give --series-ohm for the contact's resistance."
        )
    if waveform.is_lossy:
        flags.append("The file is lossy: the times are widened for it; record as WAV or FLAC.")
    return tuple(flags)
