"""Whether an even beat may be taken for that of a train: what else beats is refused with the reason."""

import math

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.escapement.budget import Blades
from camerawright.bench.escapement.clicks import Clicks
from camerawright.bench.escapement.train import Chain
from camerawright.wording import numbers

Floats = NDArray[np.float64]

_LEAST_MARGIN_DB = 13.5  # below, the softer pallet may not be heard, and the rate then is half of what it is
_MOST_U_BANDS_S = 0.35e-3
_LEAST_FADE_DB = 3.0
_MOST_BODY_DB = 6.0  # clicks of small parts have less below 1 kHz than above
_BLADES_DB = 6.0  # the blades' clicks are that much louder than a beat
_HALFWAY, _MOST_HALFWAY = 0.15, 0.6
_LEAST_FOR_FOURS, _SURELY_FOURS = 16, 1e-5
_AS_LOUD_DB, _SAME_PACE, _MOST_BEYOND = 8.0, 0.08, 4
_DULLER_DB = 10.0  # pallets differ by less


def without_rebounds(own: Clicks, chain: Chain) -> Clicks | None:
    """The clicks of a run without the softer half of a beat that comes in fours; None where it does not.

    The two pallets strike in turns, so a train's clicks are alike in twos: every other one sounds the same. Where each
    beat is followed by a second click (the anchor's tail lands, or a tooth drops once more), they are alike in fours.
    Level and tone are fitted by a line and the two pallets, without and with a part of four clicks' period; the ratio
    of what is left follows Fisher's F (textbook, from memory).
    """
    if len(chain.i_clicks) < _LEAST_FOR_FOURS or chain.stalls:
        return None
    level_db = own.level_db[chain.i_clicks]
    if min(_by_chance(of, chain) for of in (level_db, own.tone_db[chain.i_clicks])) > _SURELY_FOURS:
        return None
    is_odd = chain.n_since % 2 == 1
    softer = is_odd if level_db[is_odd].mean() < level_db[~is_odd].mean() else ~is_odd
    keep = np.ones(len(own.at_s), dtype=bool)
    keep[chain.i_clicks[softer]] = False
    return own.cut(keep)


def _by_chance(of: Floats, chain: Chain) -> float:
    """The probability that clicks alike in twos look so much alike in fours."""
    from scipy import special  # noqa: PLC0415  slow to import

    n, quarter = chain.n_since, np.pi / 2 * chain.n_since
    twos = np.column_stack([np.ones(len(n)), n, n % 2])
    fours = np.column_stack([twos, np.cos(quarter), np.sin(quarter)])
    left = [float(np.sum((of - m @ np.linalg.lstsq(m, of, rcond=None)[0]) ** 2)) for m in (twos, fours)]
    dof = len(n) - fours.shape[1]
    return float(special.fdtrc(2, dof, (left[0] - left[1]) / 2 / max(left[1] / dof, 1e-12)))


def doubt(own: Clicks, chain: Chain) -> str | None:
    """Why the beat of a run is not to be trusted; None where it is.

    Parameters
    ----------
    own
        The clicks of the run, the chain's among them.
    """
    usual_db = float(np.median(own.level_db[chain.i_clicks]))
    if usual_db < _LEAST_MARGIN_DB:
        return f"the beats stand only {numbers.fixed(usual_db, 0)} dB above the noise, so softer ones may not be heard"
    if _is_dull(own, chain):
        return "what beats does not click: a motor, a voice or music"
    if _halfway(own, chain) > _MOST_HALFWAY:
        return (
            "half-way between most beats lies another click: it may be the other pallet, softer, and then the rate is"
            " twice as high"
        )
    outside = np.concatenate([own.level_db[: chain.i_clicks[0]], own.level_db[chain.i_clicks[-1] + 1 :]])
    if outside.max(initial=-math.inf) < usual_db + _BLADES_DB:
        return "neither opening nor closing is heard beside the beat, so it may be anything that beats"
    if _n_beyond(own, chain, usual_db) >= _MOST_BEYOND:
        return (
            "the same beat is heard before the opening or after the closing too, so it is a clock, a motor or the next"
            " firing, and not the train"
        )
    return None


def blades(own: Clicks, chain: Chain) -> Blades:
    """The loudest clicks before and after the beats, where they are as loud as blades."""
    least_db = float(np.median(own.level_db[chain.i_clicks])) + _BLADES_DB
    first, last = int(chain.i_clicks[0]), int(chain.i_clicks[-1])

    def loudest(start: int, stop: int) -> float | None:
        level_db = own.level_db[start:stop]
        if level_db.max(initial=-math.inf) < least_db:
            return None
        return float(own.at_s[start + int(np.argmax(level_db))])

    return Blades(loudest(0, first), loudest(last + 1, len(own.at_s)))


def _is_dull(own: Clicks, chain: Chain) -> bool:
    """Whether its beginnings are blurred, it does not fade, or it is mostly below 1 kHz."""
    beats = chain.i_clicks
    u_bands_s = float(np.std(np.diff(own.by_band_s[:, beats], axis=0))) / 2
    fade_db, body_db = float(np.median(own.fade_db[beats])), float(np.median(own.body_db[beats]))
    return u_bands_s > _MOST_U_BANDS_S or fade_db < _LEAST_FADE_DB or body_db > _MOST_BODY_DB


def _halfway(own: Clicks, chain: Chain) -> float:
    """The part of the beats that have a click, however soft, half-way to the next."""
    return float(np.mean(_is_near(own.at_s, _middles_s(own, chain), chain)))


def n_beats_halfway(own: Clicks, chain: Chain) -> int:
    """How many clicks like the beats lie half-way between two of them, or half a beat beyond either end.

    What is as loud and far duller is an echo: walls and cloth swallow the high notes.
    """
    level_db, tone_db = (float(np.median(of[chain.i_clicks])) for of in (own.level_db, own.tone_db))
    alike = (np.abs(own.level_db - level_db) < _AS_LOUD_DB) & (own.tone_db > tone_db - _DULLER_DB)
    half_s = chain.period_s / 2
    ends_s = own.at_s[chain.i_clicks[[0, -1]]] + np.array([-half_s, half_s])
    return int(np.sum(_is_near(own.at_s[alike], np.concatenate([_middles_s(own, chain), ends_s]), chain)))


def _middles_s(own: Clicks, chain: Chain) -> Floats:
    """Half-way between each two beats in a row."""
    beats_s = own.at_s[chain.i_clicks]
    return np.asarray((beats_s[:-1] + beats_s[1:])[np.diff(chain.n_since) == 1] / 2)


def _is_near(at_s: Floats, middles_s: Floats, chain: Chain) -> NDArray[np.bool_]:
    """Which of the middles have one of some clicks near by."""
    return np.asarray(np.abs(at_s[:, None] - middles_s).min(axis=0) < _HALFWAY * chain.period_s)


def _n_beyond(own: Clicks, chain: Chain, usual_db: float) -> int:
    """How many clicks as loud as the beats go on at their pace, or half of it, beyond them; a train stands still there.

    At half of it where a clock that beats as fast as the train falls between its beats.
    """
    alike = np.abs(own.level_db - usual_db) < _AS_LOUD_DB
    first, last = int(chain.i_clicks[0]), int(chain.i_clicks[-1])
    gaps = [np.diff(own.at_s[side][alike[side]]) for side in (slice(0, first), slice(last + 1, None))]
    pace = np.concatenate(gaps) / chain.period_s
    return max(int(np.sum(np.abs(pace / n - 1) < _SAME_PACE)) for n in (1, 2))
