"""Clicks in a sound: when each begins and how loud it is.

A click is where the sound within a fraction of a millisecond rises well above what was heard just before. Its
beginning is taken in two bands apart: how far the two disagree tells how well it can be told.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.numeric.samples import Samples
from camerawright.trouble import NotMeasurable

Floats = NDArray[np.float64]

_PIECE_S, _LEAD_S, _TAIL_S = 10.0, 0.5, 0.1  # what is looked at together, and what of its neighbours it needs
_BANDS_HZ = ((1_200.0, 4_500.0), (4_500.0, 14_000.0))
_BLOCK_S = 0.1e-3
_LOUD_S = 0.4e-3  # a click's loudness is its mean power over this
_BEFORE_S = 2.0e-3  # what it must stand out of
_FADED_S = 2.0e-3
_QUIET_S = 10e-3
_BODY_HZ, _BODY_S = (150.0, 1_000.0), 5e-3
_RISE_DB = 6.0
_OVER_NOISE_DB = 9.0
_APART_S = 2.5e-3
_ATTACK = 0.25  # of the way from the loudest just before to the click's peak


@dataclass(frozen=True)
class Clicks:
    """Clicks in order: when each begins [s], in each band, and its level.

    Levels are of power over 0.4 ms, in dB over the quiet, each band by its own.
    """

    at_s: Floats
    by_band_s: Floats  # shape (2, n)
    level_db: Floats
    fade_db: Floats  # how far its level is down 2 to 4 ms later; a motor's whirr is up
    tone_db: Floats  # its level above 4.5 kHz over that below
    body_db: Floats  # sound below 1 kHz over that above, in the 5 ms from each click; speech and music have more of it
    snr_db: float  # highest peak over the rms of the quiet, both over the whole band

    def cut(self, part: slice | NDArray[np.bool_]) -> "Clicks":
        """Some of the clicks."""
        return Clicks(
            self.at_s[part], self.by_band_s[:, part], self.level_db[part], self.fade_db[part], self.tone_db[part],
            self.body_db[part], self.snr_db,
        )  # fmt: skip


def find_clicks(sound: Samples, rate_hz: float, offset: float = 0.0) -> Clicks:
    """Find all clicks.

    Parameters
    ----------
    sound : shape (n,)
        The sound. [full scale = 1] Of a long one a piece is looked at after the other, each by its own quiet.
    rate_hz
        Sampling rate, 30 kHz at least. [Hz]
    offset
        The input's own zero.

    Raises
    ------
    NotMeasurable
        Silence.
    """
    block = max(1, round(_BLOCK_S * rate_hz))
    step, lead = (round(length_s * rate_hz) // block * block for length_s in (_PIECE_S, _LEAD_S))
    found = []
    for start in range(0, len(sound), step):
        first = max(0, start - lead)
        piece = sound[first : start + step + round(_TAIL_S * rate_hz)] - offset
        if np.any(piece):
            here = _clicks(piece, rate_hz)
            at = here.at_s * rate_hz + first
            found.append((first / rate_hz, here.cut((at >= start) & (at < start + step))))
    if not found:
        raise NotMeasurable("the recording is silent", "Check that the right microphone is recorded")
    parts = [part for _, part in found]
    return Clicks(
        np.concatenate([part.at_s + start_s for start_s, part in found]),
        np.concatenate([part.by_band_s + start_s for start_s, part in found], axis=1),
        np.concatenate([part.level_db for part in parts]),
        np.concatenate([part.fade_db for part in parts]),
        np.concatenate([part.tone_db for part in parts]),
        np.concatenate([part.body_db for part in parts]),
        max(part.snr_db for part in parts),
    )


def _clicks(samples: Floats, rate_hz: float) -> Clicks:
    """The clicks of a piece."""
    bands = np.stack([_band(samples, rate_hz, *limits) for limits in _BANDS_HZ])
    block = max(1, round(_BLOCK_S * rate_hz))
    power = np.stack([_power(band, block) for band in bands])
    n = power.shape[1]
    quiet = np.maximum(np.quantile(power, 0.2, axis=1, keepdims=True) / _QUANTILE_20, 1e-20)
    total = (power / quiet).mean(axis=0)  # each band by its own noise
    loud = _ahead(total, round(_LOUD_S / _BLOCK_S))
    before = _behind(total, round(_BEFORE_S / _BLOCK_S))
    with np.errstate(divide="ignore"):
        rise_db = 10 * np.log10(loud / np.maximum(before, 1.0))
        loud_db = 10 * np.log10(np.maximum(loud, 1e-20))
    later = _ahead(total, round(_FADED_S / _BLOCK_S))[np.minimum(np.arange(n) + round(_FADED_S / _BLOCK_S), n - 1)]
    fade_db = loud_db - 10 * np.log10(np.maximum(later, 1e-20))
    at = _peaks(np.where(loud_db > _OVER_NOISE_DB, rise_db, 0.0), round(_APART_S / _BLOCK_S))
    by_band = np.array([[_onset(band, int(i), block, rate_hz) for i in at] for band in bands]).reshape(2, -1)
    rms = float(np.sqrt(np.quantile(_power(samples, max(1, round(_QUIET_S * rate_hz))), 0.2)))
    return Clicks(
        by_band.mean(axis=0) if len(at) else np.zeros(0), by_band, loud_db[at], fade_db[at],
        _tone_db(power / quiet)[at], _body_db(_power(_band(samples, rate_hz, *_BODY_HZ), block), power)[at],
        20 * float(np.log10(np.abs(samples).max() / max(rms, 1e-9))),
    )  # fmt: skip


_QUANTILE_20 = 0.65  # the 20 % quantile of the power of a few samples of noise, of its mean


def _band(samples: Floats, rate_hz: float, low_hz: float, high_hz: float) -> Floats:
    """A band, by a causal filter: nothing is heard before it happens."""
    from scipy import signal  # noqa: PLC0415  slow to import

    sos = signal.butter(2, [low_hz, min(high_hz, 0.45 * rate_hz)], "bandpass", fs=rate_hz, output="sos")
    return np.asarray(signal.sosfilt(sos, samples))


def _power(samples: Floats, n: int) -> Floats:
    """Mean power of every n samples."""
    rows = samples[: len(samples) // n * n].reshape(-1, n)
    return np.asarray(np.einsum("ij,ij->i", rows, rows) / n)


def _body_db(low: Floats, power: Floats) -> Floats:
    """For each block, the low band's power over that of both others, what is always there taken off."""
    ahead = np.stack([_ahead(one, round(_BODY_S / _BLOCK_S)) for one in (low, *power)])
    above = np.maximum(ahead - np.quantile(ahead, 0.2, axis=1, keepdims=True), 1e-20)
    return np.asarray(10 * np.log10(above[0] / (above[1] + above[2])))


def _tone_db(power: Floats) -> Floats:
    """For each block, how much louder the high band is than the low one, each over its own quiet."""
    low, high = (np.maximum(_ahead(band, round(_LOUD_S / _BLOCK_S)), 1.0) for band in power)
    return np.asarray(10 * np.log10(high / low))


def _ahead(power: Floats, n: int) -> Floats:
    """Mean over a block and those after it, n in all."""
    total = np.concatenate([[0.0], np.cumsum(np.pad(power, (0, n)))])
    return np.asarray((total[n : n + len(power)] - total[: len(power)]) / n)


def _behind(power: Floats, n: int) -> Floats:
    """Mean over the n blocks before a block."""
    total = np.concatenate([[0.0], np.cumsum(np.pad(power, (n, 0), mode="edge"))])
    return np.asarray((total[n : n + len(power)] - total[: len(power)]) / n)


def _peaks(rise_db: Floats, apart: int) -> NDArray[np.intp]:
    """The highest rises, each the highest within a distance."""
    inner = rise_db[1:-1]
    peaks = np.flatnonzero((inner >= rise_db[:-2]) & (inner > rise_db[2:]) & (inner > _RISE_DB)) + 1
    kept: list[int] = []
    for peak in peaks:
        if kept and peak - kept[-1] < apart:
            if rise_db[peak] > rise_db[kept[-1]]:
                kept[-1] = int(peak)
        else:
            kept.append(int(peak))
    return np.array(kept, dtype=np.intp)


def _onset(band: Floats, i_block: int, block: int, rate_hz: float) -> float:
    """Where the sound first goes from what was there before part of the way to the click's first peak. [s]"""
    first = max(0, (i_block - 20) * block)
    search = max(0, (i_block - 5) * block)
    stop = (i_block + 10) * block
    before = float(np.abs(band[first:search]).max(initial=0.0))
    part = np.abs(band[search:stop])
    peak = float(part.max(initial=0.0))
    threshold = before + _ATTACK * (peak - before) if peak > before else peak
    reached = int(np.argmax(part >= threshold))
    if reached == 0:
        return search / rate_hz
    low, high = float(part[reached - 1]), float(part[reached])
    return (search + reached - 1 + (threshold - low) / max(high - low, 1e-12)) / rate_hz
