"""A second simulator of the slow train, by another hand: it shares no code and no model with the first.

It was written before its author read the first simulator or the test. It starts from the mechanism, where the first one
starts from the sound:

- An anchor without a hairspring rocks between two pallets. A pallet's tooth pushes it through the same angle each time,
  so a beat lasts as the root of inertia over torque. The torque falls as the spring runs down, so the beats lengthen.
- The train starts from rest, so the first beats are longer, and the first knocks softer.
- The escape wheel may run out of true (a slow wave over its turn), its teeth differ (scatter), the anchor may sit to
  one side (every other beat is longer).
- Each knock is a push of some tens of microseconds on plates that ring in a dozen modes. The two pallets excite them
  differently. A knock may have a second one within the beat: the tooth drops, then the anchor's tail lands.
- Opening and closing are loud, and their stops bounce. A lever moves before them.
- What rings is heard through the bench (a few early reflections), the room (a tail) and a microphone, over pink noise,
  white noise and hum.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Array = NDArray[np.float64]

_FINE = 8
_RING_S = 0.03
_SOUND_M_S = 343.0
_ROOM_M3 = 40.0


@dataclass(frozen=True, kw_only=True)
class Bench:
    """What is recorded: a train, a room, a microphone. Levels in dB are of amplitudes.

    `beat_hz` is the train's at the middle of the run. `torque_lost` is the part of the torque that is gone at the last
    beat. `run_up` is how much longer the first beat is than the torque alone would have it; it falls by `run_up_decay`
    from beat to beat. `lean` is how much longer every other beat is than the one before. `wobble` and `scatter` are the
    wheel's wave and the teeth's spread, as parts of a beat. `beats_db` is how far a beat's knock is below the opening;
    `pallet_db` how far one pallet is below the other; `first_db` how far the first knocks are below the others.
    `second_db` is the second knock's level below its beat's, None for none; it comes `second_at` of a beat later.
    `snr_db` is how far the usual beat's peak is above the rms noise, `hum_db` the mains' hum against that noise.
    `away_m` is from the camera to the microphone: what comes round about has spread further, and the room's tail grows
    against the direct sound with the square of the distance. `rt60_s` is the room's reverberation.
    """

    beat_hz: float = 60.0
    n_beats: int = 40
    n_runs: int = 1
    torque_lost: float = 0.1
    run_up: float = 0.0
    run_up_decay: float = 0.4
    lean: float = 0.02
    wobble: float = 0.003
    n_teeth: int = 14
    scatter: float = 0.004
    beats_db: float = 16.0
    pallet_db: float = 3.0
    first_db: float = 0.0
    n_first: int = 1
    second_db: float | None = None
    second_at: float = 0.45
    lag_in_beats: float = 0.7
    tail_in_beats: float = 0.6
    snr_db: float = 30.0
    away_m: float = 0.08
    rt60_s: float = 0.3
    hum_db: float = -6.0
    rate_hz: float = 48_000.0


@dataclass(frozen=True)
class Run:
    """What truly happened in one run: when each knock fell, the law without scatter, and the blades' times. [s]"""

    knocks_s: Array
    law_s: Array
    open_s: float
    close_s: float

    @property
    def beat_hz(self) -> float:
        """Beats a second from the first knock to the last."""
        return (len(self.knocks_s) - 1) / float(self.knocks_s[-1] - self.knocks_s[0])

    @property
    def drift(self) -> float:
        """How much longer the last beat is than the first by the law of the torque, part of the usual beat."""
        return float((self.law_s[-1] - self.law_s[0]) / np.median(self.law_s))


@dataclass(frozen=True)
class Heard:
    """The recording (full scale is 1) and the truth about it."""

    samples: NDArray[np.float32]
    rate_hz: float
    runs: tuple[Run, ...]


@dataclass(frozen=True)
class _Plates:
    """The modes of the case at each of `_FINE` positions between samples: shape (_FINE, modes, samples)."""

    rings: Array
    pallets: tuple[Array, Array] = field(repr=False)
    stops: Array = field(repr=False)


def record(bench: Bench, random: np.random.Generator) -> Heard:
    """Let the train run, and record it."""
    plates = _plates(bench, random)
    period = 1 / bench.beat_hz
    gap_s = 0.9
    dry = np.zeros(int((0.8 + bench.n_runs * (bench.n_beats * period * 1.6 + gap_s)) * bench.rate_hz))
    start_s, runs = 0.5, []
    for _ in range(bench.n_runs):
        run = _run(bench, start_s + random.uniform(0, 0.1), random)
        _sound(dry, run, bench, plates, random)
        runs.append(run)
        start_s = run.close_s + gap_s
    dry = dry[: int((start_s + 0.1) * bench.rate_hz)]
    heard = _through_the_room(dry, bench, random)
    beat_peak = 10 ** (-bench.beats_db / 20) * float(np.max(np.abs(heard)))
    noisy = heard + beat_peak * 10 ** (-bench.snr_db / 20) * _noise(len(heard), bench, random)
    level = random.uniform(0.2, 0.8) / float(np.max(np.abs(noisy)))
    return Heard((np.round(noisy * level * 2**15) / 2**15).astype(np.float32), bench.rate_hz, tuple(runs))


def _run(bench: Bench, open_s: float, random: np.random.Generator) -> Run:
    """When the knocks of one run fall, from the torque that drives the anchor."""
    n = bench.n_beats - 1
    along = np.linspace(0, 1, n)
    torque = 1 - bench.torque_lost * along
    law = torque**-0.5
    law *= (1 / bench.beat_hz) / np.median(law)
    i = np.arange(n)
    lengths = law * (1 + bench.run_up * bench.run_up_decay**i)
    lengths *= 1 + np.where(i % 2 == 0, 0.5, -0.5) * bench.lean * random.choice([-1, 1])
    lengths *= 1 + bench.wobble * np.sin(np.pi * i / bench.n_teeth + random.uniform(0, 2 * np.pi))
    lengths *= 1 + bench.scatter * random.standard_normal(n)
    first = open_s + bench.lag_in_beats / bench.beat_hz * random.uniform(0.7, 1.3)
    knocks = first + np.concatenate([[0.0], np.cumsum(lengths)])
    close = knocks[-1] + bench.tail_in_beats / bench.beat_hz * random.uniform(0.5, 1.5) + random.uniform(0.002, 0.006)
    return Run(knocks, law, open_s, float(close))


def _sound(dry: Array, run: Run, bench: Bench, plates: _Plates, random: np.random.Generator) -> None:
    """Add the sound of one run's knocks and stops to the dry recording."""
    beat = 10 ** (-bench.beats_db / 20)
    for i, at in enumerate(run.knocks_s):
        level = beat * 10 ** (-bench.pallet_db / 20 * (i % 2)) * 10 ** (random.normal(0, 1.2) / 20)
        if i < bench.n_first:
            level *= 10 ** (-bench.first_db / 20)
        _knock(dry, at, level, plates.pallets[i % 2], bench, plates, random)
        if bench.second_db is not None:
            later = at + bench.second_at / bench.beat_hz * (1 + 0.03 * random.standard_normal())
            softer = level * 10 ** ((-bench.second_db + random.normal(0, 1.0)) / 20)
            _knock(dry, later, softer, plates.pallets[1 - i % 2], bench, plates, random)
    _knock(dry, run.open_s - random.uniform(0.004, 0.02), 0.2, plates.stops, bench, plates, random)
    for at, level in ((run.open_s, 1.0), (run.close_s, random.uniform(0.7, 1.2))):
        _knock(dry, at, level, plates.stops, bench, plates, random)
        bounce = at
        for part in (random.uniform(0.1, 0.3), random.uniform(0.03, 0.1)):
            bounce += random.uniform(0.0006, 0.003)
            _knock(dry, bounce, level * part, plates.stops, bench, plates, random)


def _knock(
    dry: Array, at_s: float, level: float, weights: Array, bench: Bench, plates: _Plates, random: np.random.Generator
) -> None:
    """Add one knock: the plates ring from this moment on, each mode a little differently each time."""
    whole, part = divmod(round(at_s * bench.rate_hz * _FINE), _FINE)
    ring = (weights * (1 + 0.1 * random.standard_normal(len(weights)))) @ plates.rings[part]
    stop = min(len(dry), whole + len(ring))
    dry[whole:stop] += level * ring[: stop - whole]


def _plates(bench: Bench, random: np.random.Generator) -> _Plates:
    """Draw the modes of this case, and how each kind of knock excites them.

    A mode of frequency f and quality Q fades with the time Q/(pi f). A push that lasts as half a sine wave excites the
    low modes more than the high ones.
    """
    fine_hz = bench.rate_hz * _FINE
    t = np.arange(int(_RING_S * fine_hz)) / fine_hz
    frequencies = np.exp(random.uniform(np.log(900), np.log(17_000), 12))
    quality = random.uniform(8, 35, 12)
    modes = np.sin(2 * np.pi * frequencies[:, None] * t) * np.exp(-t * (np.pi * frequencies / quality)[:, None])
    push = np.sin(np.pi * np.linspace(0, 1, int(random.uniform(30e-6, 90e-6) * fine_hz) + 2))
    pushed = signal.fftconvolve(modes, push[None, :] / push.sum(), axes=1)[:, : len(t)]
    smooth = signal.firwin(32 * _FINE + 1, 0.46 * bench.rate_hz, fs=fine_hz)
    band = signal.fftconvolve(pushed, smooth[None, :], axes=1)
    delay = 16 * _FINE
    band = band[:, delay : delay + len(t)]
    late = [np.concatenate([np.zeros((12, part)), band[:, : band.shape[1] - part]], axis=1) for part in range(_FINE)]
    rings = np.stack([one[:, ::_FINE] for one in late])

    def excited() -> Array:
        weights = random.lognormal(0, 0.6, 12) * random.choice([-1, 1], 12) * np.sqrt(frequencies)
        return np.asarray(weights / np.max(np.abs(weights @ rings[0])))

    entry = excited()
    leave = 0.6 * entry + 0.6 * excited()
    return _Plates(rings, (entry, leave / np.max(np.abs(leave @ rings[0]))), excited())


def _through_the_room(dry: Array, bench: Bench, random: np.random.Generator) -> Array:
    """What the microphone hears: the direct sound, the bench's and walls' reflections, the room's tail.

    The tail has the direct sound's energy at the critical distance, 0.057 sqrt(volume / reverberation time).
    """
    n = int(bench.rt60_s * bench.rate_hz)
    path = np.zeros(n)
    path[0] = 1.0
    for late_s in random.uniform(0.0003, 0.014, 8):
        spread = bench.away_m / (bench.away_m + _SOUND_M_S * late_s)
        path[int(late_s * bench.rate_hz)] += random.choice([-1, 1]) * random.uniform(0.3, 0.9) * spread
    t = np.arange(n) / bench.rate_hz
    tail = random.standard_normal(n) * np.exp(-6.91 * t / bench.rt60_s) * (t > 0.003)
    critical_m = 0.057 * np.sqrt(_ROOM_M3 / bench.rt60_s)
    path += tail * bench.away_m / critical_m / np.sqrt(np.sum(tail**2))
    heard = signal.fftconvolve(dry, path)[: len(dry)]
    cuts = signal.butter(2, random.uniform(80, 200), "highpass", fs=bench.rate_hz, output="sos")
    return np.asarray(signal.sosfilt(cuts, heard))


def _noise(n: int, bench: Bench, random: np.random.Generator) -> Array:
    """Pink and white noise in equal parts, of rms 1 together, and hum with its harmonics beside it."""
    white = random.standard_normal(n)
    spectrum = np.fft.rfft(random.standard_normal(n))
    f = np.fft.rfftfreq(n, 1 / bench.rate_hz)
    pink = np.fft.irfft(spectrum / np.sqrt(np.maximum(f, 60.0)), n)
    t = np.arange(n) / bench.rate_hz
    mains = random.choice([50, 60])
    hum = sum(np.sin(2 * np.pi * k * mains * t + random.uniform(0, 6.3)) / k for k in (1, 2, 3, 5))
    return np.asarray((white + pink / pink.std()) / np.sqrt(2) + 10 ** (bench.hum_db / 20) * hum)


def cells() -> Iterator[tuple[str, Bench]]:
    """The benches of the table: plain ones over rate and noise, and one thing at a time that a plain one has not."""
    for beat_hz, n in ((22.0, 20), (45.0, 30), (80.0, 40), (130.0, 60), (170.0, 60)):
        for snr_db in (40.0, 28.0, 21.0):
            yield f"{beat_hz:.0f} a second, {snr_db:.0f} dB", Bench(beat_hz=beat_hz, n_beats=n, snr_db=snr_db)
    yield "short: 10 beats", Bench(n_beats=10)
    yield "run-up 20 %", Bench(run_up=0.2)
    yield "first three soft by 10 dB", Bench(first_db=10.0, n_first=3)
    yield "run-up 20 %, first two soft by 10 dB", Bench(run_up=0.2, first_db=10.0, n_first=2)
    yield "torque falls by a third", Bench(torque_lost=0.33)
    yield "torque falls by a third, first three soft", Bench(torque_lost=0.33, first_db=12.0, n_first=3)
    yield "torque falls by a third, 12 beats, run-up", Bench(torque_lost=0.33, n_beats=12, run_up=0.15)
    yield "every other beat 12 % longer", Bench(lean=0.12)
    yield "uneven by 2 %", Bench(scatter=0.02)
    yield "wheel out of true by 2 %", Bench(wobble=0.02)
    yield "one pallet 8 dB softer", Bench(pallet_db=8.0)
    yield "microphone 30 cm away, hard room", Bench(away_m=0.3, rt60_s=0.5)
    yield "first knock in the echo of the opening", Bench(lag_in_beats=0.25, beats_db=22.0)
    yield "second knock at 0.2 of a beat", Bench(second_db=8.0, second_at=0.2)
    yield "second knock at 0.45 of a beat", Bench(second_db=8.0, second_at=0.45)
    yield "second knock at 0.5 of a beat", Bench(second_db=4.0, second_at=0.5)
