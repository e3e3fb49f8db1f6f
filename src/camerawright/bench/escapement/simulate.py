"""The sound of a slow speed: clicks, the beat of the escapement, a room. Truth in, arrays out.

Nothing here is shared with the estimator: each click rings a handful of modes of its own, the pallet's two beats sound
different, a room answers with a decaying noise, and pink and white noise lie over all.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.simulated_card import pink_noise, quantised

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Train:
    """The slow train: beats a second, and what is wrong with it.

    `drift` is the change of the beat's length over the run (relative), `alternation` how much longer every other beat
    is (relative), `jitter` the standard deviation of a beat (relative). `silent` lists beats that make no sound;
    `stalls` holds (beat, length in s): it stands still that long before this beat.
    """

    rate_hz: float = 60.0
    drift: float = 0.0
    alternation: float = 0.0
    jitter: float = 0.01
    silent: tuple[int, ...] = ()
    stalls: tuple[tuple[int, float], ...] = ()


@dataclass(frozen=True)
class Room:
    """Where it was recorded: reverberation, noise (rms, relative to the peak of the opening click), and the card."""

    rate_hz: float = 48_000.0
    reverb_s: float = 0.25  # decay by 60 dB
    reverb: float = 0.08  # its first part, relative to the direct sound
    noise: float = 0.003
    pink: float = 0.0
    bits: int = 16
    peak_fs: float = 0.5


@dataclass(frozen=True)
class Scene:
    """Everything but the seed; levels in dB relative to the opening click.

    `onset_s` is the spread of when a click begins to be heard after the blade stops; `offset_s` how much longer the
    sound says the shutter was open than the light does.
    """

    open_s: float = 1.0
    n_firings: int = 1
    train: Train | None = field(default_factory=Train)
    room: Room = field(default_factory=Room)
    lever_db: float | None = -14.0
    lever_lead_s: float = 0.03
    closing_db: float = -1.0
    tick_db: float = -20.0
    tick_spread_db: float = 2.0
    onset_s: float = 0.0
    offset_s: float = 0.0
    gap_s: float = 1.2
    lead_s: float = 0.8


@dataclass(frozen=True)
class Truth:
    """One firing: when the light opened and closed, and when each beat fell (heard or not)."""

    open_s: float
    close_s: float
    beats_s: Floats
    is_heard: NDArray[np.bool_]


def drawn(rate_hz: float, snr_db: float, rng: np.random.Generator) -> Scene:
    """A train and a room drawn at random; SNR is the opening click's peak over the rms noise."""
    return Scene(
        open_s=rng.uniform(0.4, 1.1),
        train=Train(
            rate_hz * rng.uniform(0.93, 1.07), rng.uniform(-0.08, 0.08), rng.uniform(-0.04, 0.04), rng.uniform(0.0,
            0.015)
        ),
        room=Room(
            reverb_s=rng.uniform(0.15, 0.35), reverb=rng.uniform(0.03, 0.1), noise=10 ** (-snr_db / 20),
            pink=10 ** (-snr_db / 20) * rng.uniform(0, 1), peak_fs=rng.uniform(0.2, 0.8),
        ),
        lever_db=-rng.uniform(11, 20),
        lever_lead_s=rng.uniform(0.01, 0.04),
        closing_db=-rng.uniform(-3, 4),
        tick_db=-rng.uniform(14, 22),
        lead_s=0.6,
        gap_s=0.8,
    )  # fmt: skip


def recording(scene: Scene, seed: int) -> tuple[Floats, tuple[Truth, ...]]:
    """Samples of shape (n,), full scale 1, and the truth of each firing."""
    rng = np.random.default_rng(seed)
    room = scene.room
    n = math.ceil((scene.lead_s + scene.n_firings * (scene.open_s + scene.gap_s + _stalled_s(scene))) * room.rate_hz)
    dry = np.zeros(n)
    camera = _Camera(rng)
    truths = []
    at_s = scene.lead_s
    for _ in range(scene.n_firings):
        truth = _truth(scene, at_s, rng)
        truths.append(truth)
        if scene.lever_db is not None:
            camera.click(dry, room.rate_hz, at_s - scene.lever_lead_s, scene.lever_db, "lever")
        late_s = scene.onset_s * rng.standard_normal(2)
        camera.click(dry, room.rate_hz, truth.open_s + late_s[0], 0.0, "opening")
        for i, (beat_s, is_heard) in enumerate(zip(truth.beats_s, truth.is_heard, strict=True)):
            if is_heard:
                db = scene.tick_db + scene.tick_spread_db * rng.standard_normal()
                camera.click(dry, room.rate_hz, float(beat_s), db, f"pallet {i % 2}")
        camera.click(dry, room.rate_hz, truth.close_s + late_s[1] + scene.offset_s, scene.closing_db, "closing")
        at_s = truth.close_s + scene.gap_s
    wet = dry + _reverberated(dry, room, rng)
    wet += room.noise * rng.standard_normal(n) + room.pink * pink_noise(n, room.rate_hz, rng, from_hz=20.0)
    return quantised(room.peak_fs * wet / 1.3, room.bits), tuple(truths)


def example(seed: int) -> Scene:
    """Three firings of a 1 s whose train slows down, beats unevenly and stalls once two thirds through."""
    rng = np.random.default_rng(seed)
    train = Train(rng.uniform(55, 65), 0.06, 0.03, 0.02, silent=(21,), stalls=((40, 0.09),))
    return Scene(1.05, 3, train, tick_db=-18.0)


class _Camera:
    """The modes that each part of a camera rings, the same whenever it is struck."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self._modes: dict[str, tuple[Floats, Floats, Floats, float]] = {}

    def click(self, dry: Floats, rate_hz: float, at_s: float, db: float, part: str) -> None:
        """One click, its peak at a level, beginning at a time between samples; the phases differ a little each time."""
        if part not in self._modes:
            n = int(self._rng.integers(5, 10))
            decay = 10 ** self._rng.uniform(-3.5, -2.6, n)
            self._modes[part] = (
                self._rng.uniform(1200, 14_000, n), decay, self._rng.uniform(0, 2 * math.pi, n),
                self._rng.uniform(20e-6, 120e-6),
            )  # fmt: skip
        f_hz, decay_s, phase, attack_s = self._modes[part]
        first = math.ceil(at_s * rate_hz)
        t = np.arange(round(0.02 * rate_hz)) / rate_hz + first / rate_hz - at_s
        phases = phase + self._rng.normal(0, 0.3, len(phase))
        rung = np.exp(-t[:, None] / decay_s) * np.sin(2 * math.pi * f_hz * t[:, None] + phases)
        click = rung.sum(axis=1) * -np.expm1(-t / attack_s)
        stop = min(len(dry), first + len(click))
        dry[first:stop] += (10 ** (db / 20) * click / np.abs(click).max())[: max(0, stop - first)]


def _stalled_s(scene: Scene) -> float:
    """How long the train stands still in all."""
    return sum(length for _, length in scene.train.stalls) if scene.train else 0.0


def _truth(scene: Scene, open_s: float, rng: np.random.Generator) -> Truth:
    """When each beat falls: from a little after the opening to a little before the closing."""
    train = scene.train
    if train is None:
        return Truth(open_s, open_s + scene.open_s, np.zeros(0), np.zeros(0, dtype=bool))
    beat_s, beats = open_s + rng.uniform(0.3, 1.0) / train.rate_hz, []
    i = 0
    while beat_s < open_s + scene.open_s + _stalled_s(scene) - 0.3 / train.rate_hz:
        beats.append(beat_s)
        part = (beat_s - open_s) / scene.open_s - 0.5
        relative = 1 + train.drift * part + train.alternation * (0.5 if i % 2 else -0.5) + train.jitter * rng.normal()
        i += 1
        beat_s += relative / train.rate_hz + sum(length for beat, length in train.stalls if beat == i)
    heard = np.array([k not in train.silent for k in range(len(beats))])
    return Truth(open_s, open_s + scene.open_s + _stalled_s(scene), np.array(beats), heard)


def _reverberated(dry: Floats, room: Room, rng: np.random.Generator) -> Floats:
    """The room's answer: decaying noise that begins after the first reflection."""
    from scipy import signal  # noqa: PLC0415  slow to import

    t = np.arange(round(room.reverb_s * room.rate_hz)) / room.rate_hz
    tail = rng.standard_normal(len(t)) * 10 ** (-3 * t / room.reverb_s) * (t > 1.5e-3)
    return np.asarray(room.reverb * signal.fftconvolve(dry, tail / math.sqrt(room.rate_hz * 1e-3))[: len(dry)])
