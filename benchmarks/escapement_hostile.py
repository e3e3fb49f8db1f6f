"""The slow train by sound: recordings made to mislead; a rate wrong by more than 3 % must be flagged, or refused."""

import math
import sys
from collections import Counter
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.escapement import simulate
from camerawright.bench.escapement.measure import measure
from camerawright.bench.escapement.simulate import Scene, Truth
from camerawright.recordings.sound import Waveform
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

WRONG = 0.03
RATE_HZ = 48_000.0
SPOILS = (
    "music", "voice", "a second camera", "knocks", "clicks", "missing beats", "echo", "hum", "clipped", "wind",
    "no train", "motor", "a clock", "uneven", "soft pallet", "gain", "lossy rate",
)  # fmt: skip


def hostile(seed: int) -> tuple[Scene, set[str], float, np.random.Generator]:
    """A scene, what goes wrong in it (one to three things), and how badly."""
    rng = np.random.default_rng([79, seed])
    spoils = {str(s) for s in rng.choice(SPOILS, int(rng.integers(1, 4)), replace=False)}
    severity = float(rng.uniform())
    scene = simulate.drawn(float(2 ** rng.uniform(4, 7.5)), float(rng.uniform(28, 60)), rng)
    assert scene.train is not None
    n = int(scene.open_s * scene.train.rate_hz)
    if "missing beats" in spoils:
        silent = tuple(int(i) for i in np.flatnonzero(rng.uniform(size=n) < 0.5 * severity))
        scene = replace(scene, train=replace(scene.train, silent=silent))
    if "uneven" in spoils:
        uneven = {"jitter": 0.2 * severity, "alternation": rng.uniform(-0.4, 0.4), "drift": rng.uniform(-0.4, 0.4)}
        scene = replace(scene, train=replace(scene.train or simulate.Train(), **uneven))
    if "soft pallet" in spoils:
        scene = replace(scene, tick_spread_db=2 + 8 * severity)
    if "echo" in spoils:
        room = replace(scene.room, reverb=0.1 + 0.5 * severity, reverb_s=float(rng.uniform(0.3, 1.2)))
        scene = replace(scene, room=room)
    if "no train" in spoils:
        scene = replace(scene, train=None)
    if "clipped" in spoils:
        scene = replace(scene, room=replace(scene.room, peak_fs=float(rng.uniform(1, 8))))
    return scene, spoils, severity, rng


def spoilt(
    samples: Floats, spoils: set[str], severity: float, rng: np.random.Generator
) -> tuple[Floats, tuple[Truth, ...]]:
    """The recording with other sounds laid over it, as loud as its opening at the most; the truth of a second camera,
    which has a train of its own."""
    n = len(samples)
    loud = severity * float(np.abs(samples).max())
    sounds = {
        "music": _music, "voice": _voice, "knocks": _knocks, "clicks": _clicks, "wind": _wind, "motor": _motor,
        "a clock": _clock, "hum": _hum,
    }  # fmt: skip
    for name in sorted(spoils & sounds.keys()):
        sound = sounds[name](n, rng)
        samples = samples + loud * sound / max(float(np.abs(sound).max()), 1e-12)
    others: tuple[Truth, ...] = ()
    if "a second camera" in spoils:
        scene = simulate.drawn(float(2 ** rng.uniform(4, 7.5)), 60, rng)
        other, (truth,) = simulate.recording(scene, int(rng.integers(9999)))
        at = int(rng.integers(0, max(1, n // 2)))
        samples = samples + loud * np.concatenate([np.zeros(at), other, np.zeros(n)])[:n]
        others = (replace(truth, beats_s=truth.beats_s + at / RATE_HZ),)
    if "gain" in spoils:  # an automatic gain: loud sounds turn the rest down for a while
        follow = np.maximum.accumulate(np.abs(samples) * np.exp(np.arange(n) / (0.3 * RATE_HZ) - n / (0.3 * RATE_HZ)))
        follow *= np.exp(n / (0.3 * RATE_HZ) - np.arange(n) / (0.3 * RATE_HZ))
        samples = samples / (0.2 + severity * follow / max(float(follow.max()), 1e-12))
        samples = 0.5 * samples / max(float(np.abs(samples).max()), 1e-12)
    if "lossy rate" in spoils:  # nothing above a few kHz, as after a telephone's coder
        spectrum = np.fft.rfft(samples)
        spectrum[np.fft.rfftfreq(n, 1 / RATE_HZ) > rng.uniform(3000, 12_000)] = 0
        samples = np.fft.irfft(spectrum, n)
    return np.clip(samples, -1, 1), others


def _music(n: int, rng: np.random.Generator) -> Floats:
    """Plucked notes on a beat, with overtones, and a drum on every beat."""
    t = np.arange(n) / RATE_HZ
    beat_s, out = float(rng.uniform(0.1, 0.5)), np.zeros(n)
    for at_s in np.arange(rng.uniform(0, beat_s), t[-1], beat_s):
        since = np.maximum(t - at_s, 0)
        f_hz = 110 * 2 ** (rng.integers(0, 36) / 12)
        note = sum(np.sin(2 * np.pi * k * f_hz * since) / k for k in range(1, 8))
        hit = rng.standard_normal(n) * np.exp(-since / 8e-3) * rng.uniform(0, 1)
        out += (note * np.exp(-since / 0.2) + hit) * (t > at_s)
    return out


def _voice(n: int, rng: np.random.Generator) -> Floats:
    """Syllables: pulses of the glottis through formants, and hissing consonants between."""
    from scipy import signal  # noqa: PLC0415  slow to import

    out = np.zeros(n)
    at = int(rng.integers(0, 4000))
    while at < n - 2000:
        length = min(n - at, int(rng.uniform(0.08, 0.3) * RATE_HZ))
        period = RATE_HZ / rng.uniform(80, 250)
        pulses = np.zeros(length)
        pulses[np.arange(0, length, period).astype(int)] = 1
        low = signal.lfilter([1], [1, -1.94, 0.941], pulses)
        syllable = sum(
            signal.lfilter(*signal.iirpeak(f_hz, f_hz / 120, fs=RATE_HZ), low)
            for f_hz in (rng.uniform(300, 800), rng.uniform(900, 2300), rng.uniform(2400, 3500))
        ) * np.hanning(length)
        out[at : at + length] += syllable / max(float(np.abs(syllable).max()), 1e-12)
        hiss = min(n - at - length, int(rng.uniform(0.01, 0.1) * RATE_HZ))
        out[at + length : at + length + hiss] += rng.uniform(0, 0.5) * rng.standard_normal(hiss)
        at += length + hiss + int(rng.uniform(0, 0.15) * RATE_HZ)
    return out


def _burst(out: Floats, at_s: float, height: float, rng: np.random.Generator, decay_s: float, f_hz: float) -> None:
    """A ringing burst."""
    first = int(at_s * RATE_HZ)
    t = np.arange(min(len(out) - first, int(0.05 * RATE_HZ))) / RATE_HZ
    ring = np.exp(-t / decay_s) * np.sin(2 * np.pi * f_hz * t + rng.uniform(0, 6))
    out[first : first + len(t)] += height * (ring + 0.5 * np.exp(-t / 3e-4) * rng.standard_normal(len(t)))


def _knocks(n: int, rng: np.random.Generator) -> Floats:
    """Knocks on the table."""
    out = np.zeros(n)
    for at_s in rng.uniform(0, n / RATE_HZ - 0.06, int(rng.integers(1, 20))):
        _burst(out, float(at_s), float(rng.uniform(0.2, 1)), rng, float(rng.uniform(2e-3, 2e-2)), rng.uniform(80, 900))
    return out


def _clicks(n: int, rng: np.random.Generator) -> Floats:
    """Clicks at random times, as loud as beats and blades."""
    out = np.zeros(n)
    for at_s in rng.uniform(0, n / RATE_HZ - 0.06, int(rng.integers(5, 120))):
        _burst(out, float(at_s), float(rng.uniform(0.1, 1)), rng, 6e-4, rng.uniform(1500, 9000))
    return out


def _clock(n: int, rng: np.random.Generator) -> Floats:
    """A clock or watch near by: two to ten beats a second, or a printer's feed at up to a hundred."""
    out, rate_hz = np.zeros(n), float(rng.choice([rng.uniform(2, 10), rng.uniform(20, 100)]))
    for at_s in np.arange(rng.uniform(0, 0.1), n / RATE_HZ - 0.06, 1 / rate_hz):
        _burst(out, float(at_s), float(rng.uniform(0.8, 1)), rng, 6e-4, 5000.0)
    return out


def _motor(n: int, rng: np.random.Generator) -> Floats:
    """A motor's whirr: noise that swells with every turn."""
    t = np.arange(n) / RATE_HZ
    return rng.standard_normal(n) * (1 + np.sin(2 * np.pi * rng.uniform(15, 120) * t)) ** int(rng.integers(1, 8))


def _wind(n: int, rng: np.random.Generator) -> Floats:
    """Gusts at the microphone: noise that falls by 6 dB an octave, coming and going."""
    gust = np.interp(np.arange(n), np.linspace(0, n, 12), rng.uniform(0, 1, 12)) ** 3
    rumble = np.cumsum(rng.standard_normal(n))
    return (rumble - np.interp(np.arange(n), np.arange(0, n, 4800), rumble[::4800])) * gust


def _hum(n: int, rng: np.random.Generator) -> Floats:
    """The mains and its harmonics."""
    t = np.arange(n) / RATE_HZ
    return np.asarray(sum(rng.normal() / k * np.sin(2 * np.pi * 50 * k * t) for k in range(1, 12)), dtype=np.float64)


def true_rate(truth: Truth, at_s: float, stop_s: float) -> float:
    """Beats a second over the beats of a stretch, whether heard or not; nan where there are none."""
    beats_s = truth.beats_s[(truth.beats_s > at_s - 5e-3) & (truth.beats_s < stop_s + 5e-3)]
    return (len(beats_s) - 1) / float(beats_s[-1] - beats_s[0]) if len(beats_s) > 2 else math.nan


def main(n: int = 1000, first: int = 0) -> None:
    """How many wrong rates are flagged, and how many are not; the seeds of the latter."""
    counts: Counter[str] = Counter()
    missed: list[tuple[int, str, str]] = []
    for seed in range(first, first + n):
        scene, spoils, severity, rng = hostile(seed)
        samples, (truth,) = simulate.recording(scene, seed)
        samples, others = spoilt(samples, spoils, severity, rng)
        try:
            result = measure(Waveform(samples.astype(np.float32), RATE_HZ, 16))
        except NotMeasurable:
            counts["refused"] += 1
            continue
        for run in result.runs:
            rates = [true_rate(one, run.at_s, run.stop_s) for one in (truth, *others)]
            is_wrong = not any(abs(run.beat_rate.value / rate - 1) < WRONG for rate in rates)
            is_flagged = bool(run.flags) or len(result.flags) > 1  # that it is relative is always said
            counts["runs"] += 1
            counts["runs flagged"] += is_flagged
            counts["wrong"] += is_wrong
            if is_wrong and not is_flagged:
                missed.append((seed, f"{run.beat_rate.value:.2f} for {rates[0]:.2f}", " + ".join(sorted(spoils))))
    print(f"{n} hostile recordings: " + ", ".join(f"{name} {number}" for name, number in counts.items()))
    print(f"A rate wrong by more than {WRONG:.0%} without a flag: {len(missed)}")
    for one in missed[:60]:
        print(" ", *one)
    if not missed and n:
        print(f"None in {n} recordings: fewer than {3 / n:.2%} of such recordings, 95 % (rule of three)")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
