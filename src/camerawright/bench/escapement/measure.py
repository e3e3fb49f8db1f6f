"""A slow train by its sound: a recording in, the beat of every run with its uncertainties out."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.escapement.budget import Ticks
from camerawright.bench.escapement.clicks import Clicks, find_clicks
from camerawright.bench.escapement.false_beats import blades, doubt, n_beats_halfway, without_rebounds
from camerawright.bench.escapement.open_close import open_close
from camerawright.bench.escapement.record import Input, Measured, Run
from camerawright.bench.escapement.train import Chain, find_train
from camerawright.bench.record import Skipped
from camerawright.numeric.firings import block_width
from camerawright.recordings.channel import Channel, Recording
from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

METHOD = "beat of the slow train by sound, version 4"

MIN_RATE_HZ = 30_000.0
MIN_SNR_DB = 20.0
_SHORTEST_S = 0.1  # one beat of a slow train with the quiet beside it
_NEW_RUN_S = 0.6
_LATE = 0.15  # of a beat
_LOWEST_NOTE_HZ, _LIKE_A_NOTE_DB = 50.0, 0.6
_MOST_HALFWAY, _MOST_PART_HALFWAY = 2, 0.1  # one may be a knock; in a long run, some echo of walls and bench
_NOTHING = 1e-6  # of the power from 1.2 to 4.5 kHz
_FASTEST_CLOCK_HZ = 10.5  # watches beat 5 to 10 times a second. Common practice
_BOTH_PALLETS_DB = 16.0
_CLEAR_DB = 17.0  # beats this far above the noise are heard whenever they fall

_REBOUNDS = (
    "Each beat has a second, softer click: the clicks sound alike in fours, and two pallets sound alike in twos. The"
    " softer ones are not counted. If they are beats, the true rate is twice as high."
)
ADVICE = (
    "Hold the microphone a few centimetres from the shutter, in a quiet room with soft things about. Switch off noise"
    " suppression and automatic gain, leave a second between firings, and set 1 s or the slowest speed. If you hear the"
    " beat limp yourself, the train is at fault: look at its pallets and pivots. Time the shutter itself by light"
)


def measure(recording: Recording, *, target_s: float | None = None) -> Measured:
    """Measure the beat of every run in a recording.

    Parameters
    ----------
    recording
        The sound; of several channels the loudest is used.
    target_s
        The time the set speed stands for: one faster than 1/15 s refuses the time from opening to closing.

    Raises
    ------
    NotMeasurable
        Too few samples a second, too short, nothing above the noise, or no beat anywhere.

    Notes
    -----
    Beat lengths are fitted by a straight line and an alternation (entry and exit pallet), linear in the beats' times,
    so that the u of a beat's time goes through the same weights. That u is how far the two bands disagree, and an
    attack of its own.

    References
    ----------
    [jcgm-100] 5.1.2, 5.2.2.
    """
    if recording.rate_hz < MIN_RATE_HZ:
        rate = numbers.short(recording.rate_hz)
        raise NotMeasurable(f"{rate} samples a second are too few", "Record at 44.1 kHz or more")
    length_s = recording.n_samples / recording.rate_hz
    if length_s < _SHORTEST_S:
        raise NotMeasurable(f"{numbers.short(length_s, 2)} s of sound are too short to hold a beat", ADVICE)
    scan = recording.scan(block_width(recording.rate_hz))
    i_channel = int(np.argmax(np.subtract(scan.high, scan.low)))
    sound = Channel(recording, i_channel)
    clicks = find_clicks(sound, recording.rate_hz, float(scan.means[:, i_channel].mean(dtype=np.float64)))
    if clicks.snr_db <= MIN_SNR_DB:
        level = numbers.fixed(clicks.snr_db, 0)
        raise NotMeasurable(f"the loudest click stands only {level} dB above the noise", ADVICE)
    if len(clicks.at_s) == 0:
        raise NotMeasurable("no click stands out of the sound", ADVICE)
    runs, skipped = [], []
    for part in _parts(clicks):
        found = _clear_train(clicks.cut(part))
        if isinstance(found, str):
            skipped.append(Skipped(float(clicks.at_s[part.start]), found, ADVICE))
        else:
            runs.append(_run(found, target_s))
    if not runs:
        longest = max(skipped, key=lambda one: _order(one.reason))
        raise NotMeasurable(f"no beat of a slow train: {longest.reason}", ADVICE)
    made = Input(rate_hz=recording.rate_hz, channel=i_channel + 1, snr_db=clicks.snr_db)
    return Measured(tuple(runs), tuple(skipped), made, _flags(recording, sound))


@dataclass(frozen=True)
class _Found:
    """The beat of one run among its clicks, and what is doubtful about that."""

    clicks: Clicks
    chain: Chain
    flags: tuple[str, ...]


def _clear_train(own: Clicks) -> _Found | str:
    """The beat of one run, or why there is none that could be trusted."""
    chain = find_train(own.at_s, own.level_db)
    if isinstance(chain, str):
        return chain
    fewer = without_rebounds(own, chain)
    if fewer is not None:
        chain = find_train(fewer.at_s, fewer.level_db)
        if isinstance(chain, str):
            return f"every other click is the rebound of the one before, and of the others {chain}"
        return doubt(fewer, chain) or _Found(fewer, chain, (_REBOUNDS,))
    return doubt(own, chain) or _Found(own, chain, ())


def _order(reason: str) -> int:
    """The reason that tells most: one about a beat before one about too few clicks."""
    return 0 if reason.startswith("only") else 1


def _parts(clicks: Clicks) -> list[slice]:
    """Runs: clicks with no long silence between."""
    ends = np.flatnonzero(np.diff(clicks.at_s) > _NEW_RUN_S) + 1
    edges = [0, *(int(end) for end in ends), len(clicks.at_s)]
    return [slice(a, b) for a, b in pairwise(edges)]


def _run(found: _Found, target_s: float | None) -> Run:
    """The numbers of one run."""
    clicks, chain = found.clicks, found.chain
    beats_s = clicks.at_s[chain.i_clicks]
    apart = np.diff(clicks.by_band_s[:, chain.i_clicks], axis=0)[0]
    ticks = Ticks(beats_s, chain, float(np.std(apart, ddof=1)) / 2, blades(clicks, chain))
    timed = open_close(clicks, beats_s, target_s)
    hang_s = None
    if timed.close_s is not None:
        hang_s = max(0.0, timed.close_s - float(beats_s[-1]) - chain.period_s)
    beats = ticks.beats()
    margin_db = float(np.median(clicks.level_db[chain.i_clicks]))
    return Run(
        at_s=float(beats_s[0]),
        stop_s=float(beats_s[-1]),
        n_beats=len(beats_s),
        n_missed=chain.n_missed,
        beat_rate=ticks.rate(),
        drift=ticks.drift(),
        alternation=ticks.alternation(),
        unevenness=ticks.unevenness(),
        beats=beats,
        late=tuple(beat for beat in beats if abs(beat.deviation) > max(_LATE, 4 * beat.u_deviation)),
        stalls=chain.stalls,
        hang_s=hang_s,
        open_close=timed,
        flags=_run_flags(found, margin_db, hang_s),
    )


def _is_like_a_note(level_db: Floats, chain: Chain) -> bool:
    """Whether what beats at the pace of a note is as loud from one beat to the next as the periods of one.

    Second differences leave out how it fades; x[n-1] - 2 x[n] + x[n+1] of independent scatter has 1 + 4 + 1 = 6 times
    its variance. Two pallets never strike alike: simulated ones scatter by 0.9 to 2.5 dB.
    """
    scatter_db = math.sqrt(float(np.mean(np.diff(level_db, 2) ** 2)) / 6)
    return chain.period_s < 1 / _LOWEST_NOTE_HZ and scatter_db < _LIKE_A_NOTE_DB


def _run_flags(found: _Found, margin_db: float, hang_s: float | None) -> tuple[str, ...]:
    """What is doubtful about one run, or found in it."""
    clicks, chain, flags = found.clicks, found.chain, list(found.flags)
    if chain.period_s > 1 / _FASTEST_CLOCK_HZ:
        flags.append(
            f"{numbers.fixed(1 / chain.period_s, 1)} beats a second are as slow as those of a watch or a clock near by:"
            " take it away, and record again."
        )
    if margin_db < _BOTH_PALLETS_DB:
        flags.append(
            f"The beats stand only {numbers.fixed(margin_db, 0)} dB above the noise. If one pallet is much softer than"
            " the other it is not heard, and the true rate is twice as high. Hold the microphone nearer, or find a"
            " quieter room."
        )
    n = n_beats_halfway(clicks, chain)
    if n >= max(_MOST_HALFWAY, _MOST_PART_HALFWAY * len(chain.i_clicks)):
        flags.append(
            f"{n} clicks as loud as the beats lie half-way between two of them. Every other beat may be lost, and the"
            " true rate be twice as high."
        )
    if _is_like_a_note(clicks.level_db[chain.i_clicks], chain):
        flags.append(
            "Every beat is as loud as the one before. The periods of a note are, and the two pallets are not: it may be"
            " music or a whine. Record again where it is quiet."
        )
    if margin_db < _CLEAR_DB and chain.n_missed:
        flags.append(
            f"The beats stand only {numbers.fixed(margin_db, 0)} dB above the noise: a beat that is not heard need not"
            " be missing."
        )
    if chain.stalls:
        often = "once" if len(chain.stalls) == 1 else f"{len(chain.stalls)} times"
        flags.append(f"The train stands still {often} within the run.")
    if hang_s is not None and hang_s > 3 * chain.period_s:
        flags.append(
            f"No beat is heard for the last {numbers.fixed(1e3 * hang_s, 0)} ms before the closing: the train stands"
            " still, or its beat fades."
        )
    return tuple(flags)


def _flags(recording: Recording, sound: Channel) -> tuple[str, ...]:
    """What holds for the whole recording."""
    flags = ["By sound, and relative: compare a train with itself before and after the work, never for a certificate."]
    if _is_cut_off(sound):
        flags.append(
            "Nothing is heard above 10 kHz: the input is made for speech, or a coder cuts it off. The softer pallet may"
            " be lost with it, and the rate be half of what it is. Switch every enhancement off, and record as WAV or"
            " FLAC."
        )
    if recording.is_lossy:
        flags.append("The file is lossy, and its coder smears clicks: record as WAV or FLAC.")
    return tuple(flags)


def _is_cut_off(sound: Channel) -> bool:
    """Whether there is nothing from 10 to 14 kHz, where any microphone has its own noise at least."""
    n = min(len(sound), 4096)
    power = np.zeros(n // 2 + 1)
    for start in range(0, len(sound), 256 * n):
        piece = sound[start : start + 256 * n]
        blocks = piece[: len(piece) // n * n].reshape(-1, n) * np.hanning(n)
        power += np.sum(np.abs(np.fft.rfft(blocks, axis=1)) ** 2, axis=0)
    f_hz = np.fft.rfftfreq(n, 1 / sound.rate_hz)
    high, low = (float(power[(f_hz > a) & (f_hz < b)].mean()) for a, b in ((10e3, 14e3), (1.2e3, 4.5e3)))
    return high < _NOTHING * low
