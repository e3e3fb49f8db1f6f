"""A slow train by its sound: a recording in, the beat of every run with its uncertainties out."""

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.contract import NotMeasurable
from camerawright.bench.escapement.clicks import Clicks, find_clicks
from camerawright.bench.escapement.open_close import Pair, Refused, find_pair
from camerawright.bench.escapement.train import Chain, Stall, find_train
from camerawright.quantity import BudgetLine, Quantity
from camerawright.recordings.sound import Waveform

Floats = NDArray[np.float64]

METHOD = "beat of the slow train by sound, version 1"

MIN_RATE_HZ = 30_000.0
MIN_SNR_DB = 20.0
U_CLOCK = 50e-6
"""u of a crystal's rate. Common practice: 95 % are within 100 ppm."""
U_ATTACK_S = 0.04e-3
"""u of when a beat begins, beyond what its two bands disagree by: clicks of one part alike. From simulation; the
honesty test holds it."""
U_PALLETS_S = 0.065e-3
"""u of how much later one pallet's click is picked than the other's, since they ring unlike. From simulation."""
U_ECHO_S, ECHO_S = 0.12e-3, 0.04
"""u of how much the echo of the opening moves the first beats, and how fast it dies away. From simulation."""
_NEW_RUN_S = 0.6
_LATE = 0.15  # of a beat
_LEAST_MARGIN_DB = 13.5  # below, the softer pallet may not be heard, and the rate then is half of what it is
_MOST_U_BANDS_S = 0.35e-3
_LEAST_FADE_DB = 3.0
_MOST_BODY_DB = 6.0  # clicks of small parts have less below 1 kHz than above
_BLADES_DB = 6.0  # the blades' clicks are that much louder than a beat
_CLEAR_DB = 17.0  # beats this far above the noise are heard whenever they fall

ADVICE = (
    "Hold the microphone a few centimetres from the shutter in a quiet room with soft things about, switch off noise"
    " suppression and automatic gain, leave a second between firings, and set 1 s or the slowest speed; time the"
    " shutter"
    " itself by light"
)


@dataclass(frozen=True)
class Beat:
    """One beat's length against the line through all: deviation and u, relative to the usual beat."""

    at_s: float
    deviation: float
    u_deviation: float


@dataclass(frozen=True)
class Run:
    """One run of the train.

    `rate` is beats a second over all beats heard in a row; `drift` the change of a beat's length from first to last,
    `alternation` how much longer every other beat is than the one before, `unevenness` the standard deviation of what
    is left: all relative to the usual beat. `n_missed` beats were not heard. `part` of a stall is where along the run
    it is.
    """

    at_s: float
    stop_s: float
    n_beats: int
    n_missed: int
    rate: Quantity
    drift: Quantity
    alternation: Quantity
    unevenness: Quantity
    beats: tuple[Beat, ...]
    late: tuple[Beat, ...]
    stalls: tuple[Stall, ...]
    stall_parts: tuple[float, ...]
    hang_s: float | None  # from the last beat to the closing, beyond a beat's length; None where that is not known
    pair: Pair | Refused
    flags: tuple[str, ...]


@dataclass(frozen=True)
class Skipped:
    """A stretch of sound in which no beat is found."""

    at_s: float
    reason: str


@dataclass(frozen=True)
class EscapementResult:
    """All runs of a recording in order."""

    runs: tuple[Run, ...]
    skipped: tuple[Skipped, ...]
    rate_hz: float
    snr_db: float
    flags: tuple[str, ...]


def measure(waveform: Waveform, *, target_s: float | None = None) -> EscapementResult:
    """Measure the beat of every run in a recording.

    Parameters
    ----------
    waveform
        The sound; of several channels the loudest is used.
    target_s
        The time the set speed stands for: one faster than 1/15 s refuses the time from opening to closing.

    Raises
    ------
    NotMeasurable
        Too few samples a second, nothing above the noise, or no beat anywhere.

    Notes
    -----
    Beat lengths are fitted by a straight line and an alternation (entry and exit pallet), linear in the beats' times,
    so that the u of a beat's time goes through the same weights. That u is how far the two bands disagree, and an
    attack of its own.

    References
    ----------
    [jcgm-100] 5.1.2, 5.2.2.
    """
    if waveform.rate_hz < MIN_RATE_HZ:
        raise NotMeasurable(f"{waveform.rate_hz:g} samples a second are too few", "Record at 44.1 kHz or more")
    channels = [waveform.channel(i).astype(np.float64) for i in range(waveform.n_channels)]
    samples = max(channels, key=lambda channel: float(np.ptp(channel)))
    clicks = find_clicks(samples - samples.mean(), waveform.rate_hz)
    if clicks.snr_db <= MIN_SNR_DB:
        raise NotMeasurable(f"the loudest click stands only {clicks.snr_db:.0f} dB above the noise", ADVICE)
    if len(clicks.at_s) == 0:
        raise NotMeasurable("no click stands out of the sound", ADVICE)
    runs, skipped = [], []
    for part in _parts(clicks):
        chain = _clear_train(clicks, part)
        if isinstance(chain, str):
            skipped.append(Skipped(float(clicks.at_s[part.start]), chain))
        else:
            runs.append(_run(_cut(clicks, part), chain, target_s))
    if not runs:
        longest = max(skipped, key=lambda one: _order(one.reason))
        raise NotMeasurable(f"no beat of a slow train: {longest.reason}", ADVICE)
    return EscapementResult(tuple(runs), tuple(skipped), waveform.rate_hz, clicks.snr_db, _flags(waveform))


def _clear_train(clicks: Clicks, part: slice) -> Chain | str:
    """The beat of one run, or why there is none that could be trusted."""
    own = _cut(clicks, part)
    chain = find_train(own.at_s, own.level_db)
    if isinstance(chain, str):
        return chain
    beats = chain.i_clicks
    usual_db = float(np.median(own.level_db[beats]))
    if usual_db < _LEAST_MARGIN_DB:
        return f"the beats stand only {usual_db:.0f} dB above the noise, so softer ones may not be heard"
    is_dull = float(np.std(np.diff(own.by_band_s[:, beats], axis=0))) / 2 > _MOST_U_BANDS_S
    is_dull |= float(np.median(own.fade_db[beats])) < _LEAST_FADE_DB
    if is_dull or float(np.median(own.body_db[beats])) > _MOST_BODY_DB:
        return "what beats does not click: a motor, a voice or music"
    outside = np.concatenate([own.level_db[: beats[0]], own.level_db[beats[-1] + 1 :]])
    if outside.max(initial=-math.inf) < usual_db + _BLADES_DB:
        return "neither opening nor closing is heard beside the beat, so it may be anything that beats"
    return chain


def _order(reason: str) -> int:
    """The reason that tells most: one about a beat before one about too few clicks."""
    return 0 if reason.startswith("only") else 1


def _parts(clicks: Clicks) -> list[slice]:
    """Runs: clicks with no long silence between."""
    ends = np.flatnonzero(np.diff(clicks.at_s) > _NEW_RUN_S) + 1
    edges = [0, *(int(end) for end in ends), len(clicks.at_s)]
    return [slice(a, b) for a, b in pairwise(edges)]


def _cut(clicks: Clicks, part: slice) -> Clicks:
    """The clicks of one run."""
    return Clicks(
        clicks.at_s[part],
        clicks.by_band_s[:, part],
        clicks.level_db[part],
        clicks.fade_db[part],
        clicks.body_db[part],
        clicks.snr_db,
    )


def _run(clicks: Clicks, chain: Chain, target_s: float | None) -> Run:
    """The numbers of one run."""
    beats_s = clicks.at_s[chain.i_clicks]
    apart = np.diff(clicks.by_band_s[:, chain.i_clicks], axis=0)[0]
    ticks = _Ticks(beats_s, chain, float(np.std(apart, ddof=1)) / 2)
    pair = find_pair(clicks, beats_s, target_s)
    hang_s = None
    if isinstance(pair, Pair):
        hang_s = max(0.0, pair.close_s - float(beats_s[-1]) - chain.period_s)
    length_s = float(beats_s[-1] - beats_s[0])
    beats = ticks.beats()
    margin_db = float(np.median(clicks.level_db[chain.i_clicks]))
    return Run(
        at_s=float(beats_s[0]),
        stop_s=float(beats_s[-1]),
        n_beats=len(beats_s),
        n_missed=chain.n_missed,
        rate=ticks.rate(),
        drift=ticks.drift(),
        alternation=ticks.alternation(),
        unevenness=ticks.unevenness(),
        beats=beats,
        late=tuple(beat for beat in beats if abs(beat.deviation) > max(_LATE, 4 * beat.u_deviation)),
        stalls=chain.stalls,
        stall_parts=tuple((stall.at_s - float(beats_s[0])) / length_s for stall in chain.stalls),
        hang_s=hang_s,
        pair=pair,
        flags=_run_flags(chain, margin_db, hang_s),
    )


class _Ticks:
    """Beat lengths of a run as something linear in the times of its beats."""

    def __init__(self, beats_s: Floats, chain: Chain, u_bands_s: float) -> None:
        self._beats_s, self._u_bands_s = beats_s, u_bands_s
        self._is_odd = (chain.n_since % 2).astype(np.float64)
        stalled = {stall.i_beat for stall in chain.stalls}
        self._single = np.array(
            [i for i, n in enumerate(np.diff(chain.n_since)) if n == 1 and i + 1 not in stalled], dtype=np.intp
        )
        gaps = np.diff(beats_s)
        self._gaps_s = gaps[self._single]
        usual = np.abs(self._gaps_s / chain.period_s - 1) < 0.3
        self._single, self._gaps_s = self._single[usual], self._gaps_s[usual]
        self._period_s = float(self._gaps_s.mean())
        middle_s = beats_s[self._single] + self._gaps_s / 2
        run = (middle_s - middle_s[0]) / (middle_s[-1] - middle_s[0]) - 0.5
        odd = np.where(chain.n_since[self._single] % 2, 0.5, -0.5)
        self._design = np.column_stack([np.ones_like(run), run, odd])
        fit = np.linalg.lstsq(self._design, self._gaps_s, rcond=None)[0]
        left = self._gaps_s - self._design @ fit
        keep = np.abs(left) <= max(4 * 1.4826 * float(np.median(np.abs(left))), 1e-9)
        self._solve = np.zeros((3, len(self._gaps_s)))
        self._solve[:, keep] = np.linalg.pinv(self._design[keep])
        self._fit = self._solve @ self._gaps_s
        self._left = self._gaps_s - self._design @ self._fit
        self._keep = keep

    def _quantity(self, value: float, unit: str, weights: Floats) -> Quantity:
        """Something linear in the beats' lengths, through what moves the beats' times."""
        on_beats = np.zeros(len(self._beats_s))
        np.add.at(on_beats, self._single + 1, weights)
        np.add.at(on_beats, self._single, -weights)
        norm = float(np.linalg.norm(on_beats))
        echo = np.exp(-(self._beats_s - self._beats_s[0]) / ECHO_S)
        return Quantity(
            value,
            unit,
            (
                BudgetLine("bands disagree", self._u_bands_s * norm, len(self._beats_s) - 1, "A"),
                BudgetLine("attack", U_ATTACK_S * norm),
                BudgetLine("pallets sound unlike", U_PALLETS_S * abs(float(on_beats @ self._is_odd))),
                BudgetLine("echo of the opening", U_ECHO_S * abs(float(on_beats @ echo))),
                BudgetLine("clock", U_CLOCK * value if unit == "1/s" else 0.0),
            ),
        )

    def rate(self) -> Quantity:
        """Beats a second, by the mean of all single lengths."""
        n = len(self._gaps_s)
        rate = 1 / self._period_s
        return self._quantity(rate, "1/s", np.full(n, rate**2 / n))

    def drift(self) -> Quantity:
        """Change of length over the run, relative."""
        return self._quantity(float(self._fit[1] / self._fit[0]), "1", self._solve[1] / self._fit[0])

    def alternation(self) -> Quantity:
        """How much longer odd beats are than even ones, relative, without a sign: which is first is not known."""
        return self._quantity(abs(float(self._fit[2] / self._fit[0])), "1", self._solve[2] / self._fit[0])

    def unevenness(self) -> Quantity:
        """Standard deviation of a beat's length about its line, the share of the timing taken off, relative."""
        n = int(self._keep.sum())
        left = self._left[self._keep]
        variance = float(left @ left) / max(1, n - 3)
        u_tick_s = math.hypot(self._u_bands_s, U_ATTACK_S)
        own = math.sqrt(max(0.0, variance - 2 * u_tick_s**2))
        # d(own) = (variance's doubt + the timing's doubt) / (2 own), held where own is small
        doubt = math.hypot(variance * math.sqrt(2 / max(1, n - 3)), 2 * u_tick_s**2 * 0.5)
        u = doubt / (2 * max(own, math.sqrt(doubt)))
        return Quantity(own / self._period_s, "1", (BudgetLine("few beats, timing", u / self._period_s, n - 3, "A"),))

    def beats(self) -> tuple[Beat, ...]:
        """Every single beat against the line."""
        u = math.sqrt(2) * math.hypot(self._u_bands_s, U_ATTACK_S) / self._period_s
        return tuple(
            Beat(float(self._beats_s[i]), float(left / self._period_s), u)
            for i, left in zip(self._single, self._left, strict=True)
        )


def _run_flags(chain: Chain, margin_db: float, hang_s: float | None) -> tuple[str, ...]:
    """What is doubtful about one run, or found in it."""
    flags = []
    if margin_db < _CLEAR_DB and chain.n_missed:
        flags.append(
            f"The beats stand only {margin_db:.0f} dB above the noise: one that is not heard need not be missing."
        )
    if chain.stalls:
        flags.append(f"The train stands still {len(chain.stalls)} time(s) within the run.")
    if hang_s is not None and hang_s > 3 * chain.period_s:
        flags.append(
            f"No beat is heard for the last {1e3 * hang_s:.0f} ms before the closing: it stands still, or fades."
        )
    return tuple(flags)


def _flags(waveform: Waveform) -> tuple[str, ...]:
    """What holds for the whole recording."""
    flags = ["By sound, and relative: for comparing one train before and after the work, never for a certificate."]
    if waveform.is_lossy:
        flags.append("The file is lossy: its coder smears clicks; record as WAV or FLAC.")
    return tuple(flags)
