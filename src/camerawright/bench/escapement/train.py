"""The beat of a slow train among the clicks of a sound: which clicks are beats, where one is missing, where it stands
still.

A chain is grown from the most even stretch of clicks: the next beat is sought where the last few say that it should
be, then one and two beats later (missed), then at the next even stretch (a stall). Clicks that are not due are passed
over.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.bench.escapement.record import Stall
from camerawright.wording import numbers

Floats = NDArray[np.float64]

_LEAST_BEATS = 8
_SEED = 5
_ALIKE = 0.2  # of a beat: intervals that differ by less belong to one chain
_DUE = 0.3  # of a beat: a beat may come this much early or late
_DUE_LATER = 0.25  # the same for one two or three beats away
_MOST_SKIPPED = 2
_LEVEL_DB = 8.0  # a beat is no louder or softer than this against the others
_MOST_UNEVEN, _SURE_BEATS = 0.10, 24  # clicks at random are even for a while: fewer beats must be evener
_END = 0.12  # of a beat: an end that is further off is the lever, the blades or an echo
_NEAR_END, _OFF_S, _FAR_OFF = 14, 0.5e-3, 6.0
_LEAST_SHARE, _MOST_MISSED = 0.65, 1 / 6
_PERIODS_S = (4e-3, 0.15)


@dataclass(frozen=True)
class Chain:
    """Beats in order: which click each is, how many beats lie between it and the first (missed ones counted), stalls.

    A stall counts as one beat. `period_s` is the usual length of a beat. `before_s` and `after_s` are clicks that might
    be the first and last beats and do not fall in with those next to them: left out, nearest the chain first.
    """

    i_clicks: NDArray[np.intp]
    n_since: NDArray[np.intp]
    period_s: float
    n_missed: int
    stalls: tuple[Stall, ...]
    before_s: tuple[float, ...] = ()
    after_s: tuple[float, ...] = ()


def find_train(at_s: Floats, level_db: Floats) -> Chain | str:
    """The beat among the clicks of one run, or why there is none.

    Parameters
    ----------
    at_s, level_db : shape (n,)
        The clicks.
    """
    if len(at_s) < _LEAST_BEATS:
        return f"only {numbers.counted(len(at_s), 'click')} can be heard, and a beat needs {_LEAST_BEATS}"
    seed = _seed(at_s, level_db)
    if seed is None:
        return "the clicks have no even beat"
    usual_db = float(np.median(level_db[seed]))
    first, last = _between_blades(level_db, usual_db, seed)
    n = np.arange(len(at_s))
    may = np.flatnonzero((np.abs(level_db - usual_db) < _LEVEL_DB) & (n > first) & (n < last))
    forward = _grown(at_s, may, seed)
    backward = _grown(-at_s[::-1], len(at_s) - 1 - may[::-1], len(at_s) - 1 - forward[::-1])
    chain = (len(at_s) - 1 - backward)[::-1]
    return _checked(at_s, may, chain)


def _between_blades(level_db: Floats, usual_db: float, seed: NDArray[np.intp]) -> tuple[int, int]:
    """The opening and the closing, where the two loudest clicks are far louder than a beat; beats lie between."""
    loud = [int(i) for i in np.argsort(level_db)[-2:] if level_db[i] > usual_db + _LEVEL_DB]
    before, after = [i for i in loud if i < seed[0]], [i for i in loud if i > seed[-1]]
    return max(before, default=-1), min(after, default=len(level_db))


def _seed(at_s: Floats, level_db: Floats) -> NDArray[np.intp] | None:
    """The most even stretch of neighbours among clicks of one loudness, of the commonest interval."""
    best: tuple[tuple[int, float], NDArray[np.intp]] | None = None
    for anchor_db in np.unique(np.round(level_db / 4) * 4):
        alike = np.flatnonzero(np.abs(level_db - anchor_db) < _LEVEL_DB)
        found = _even_stretch(at_s[alike])
        if found is not None and (best is None or found[0] > best[0]):
            best = found[0], alike[found[1] : found[1] + _SEED]
    return None if best is None else best[1]


def _even_stretch(at_s: Floats) -> tuple[tuple[int, float], int] | None:
    """How common and how even the best stretch of a few clicks is, and where it begins."""
    gaps = np.diff(at_s)
    best: tuple[tuple[int, float], int] | None = None
    for i in range(len(gaps) - _SEED + 2):
        few = gaps[i : i + _SEED - 1]
        period_s = float(np.median(few))
        if not _PERIODS_S[0] <= period_s <= _PERIODS_S[1] or np.abs(few / period_s - 1).max() > _ALIKE:
            continue
        worth = int(np.sum(np.abs(gaps / period_s - 1) < _ALIKE)), -float(np.std(few) / period_s)
        if best is None or worth > best[0]:
            best = worth, i
    return best


def _grown(at_s: Floats, may: NDArray[np.intp], seed: NDArray[np.intp]) -> NDArray[np.intp]:
    """The chain continued to the end, over missed beats and stalls."""
    chain = [int(i) for i in seed]
    while True:
        period_s = _local_period(at_s[chain])
        following = _following(at_s, may, chain[-1], period_s)
        if following is None:
            following = _resumed(at_s, may, chain[-1], period_s)
        if following is None:
            return np.array(chain, dtype=np.intp)
        chain.append(following)


def _local_period(beats_s: Floats) -> float:
    """The usual length of the last few beats, missed ones and stalls apart."""
    gaps = np.diff(beats_s[-9:])
    shortest = float(np.quantile(gaps, 0.25))
    return float(np.mean(gaps[gaps < 1.5 * shortest]))


def _following(at_s: Floats, may: NDArray[np.intp], last: int, period_s: float) -> int | None:
    """The click where the next beat is due, or the one after, or the third."""
    for n in range(1, _MOST_SKIPPED + 2):
        due = at_s[last] + n * period_s
        reach = (_DUE if n == 1 else _DUE_LATER) * period_s
        near = may[(np.abs(at_s[may] - due) < reach) & (may > last)]
        if len(near):
            return int(near[np.argmin(np.abs(at_s[near] - due))])
    return None


def _resumed(at_s: Floats, may: NDArray[np.intp], last: int, period_s: float) -> int | None:
    """The first click after a stall from which it beats evenly again."""
    after = may[may > last]
    for k in range(len(after) - _SEED + 1):
        few = np.diff(at_s[after[k : k + _SEED]])
        if np.abs(few / period_s - 1).max() < _DUE:
            return int(after[k])
    return None


def _checked(at_s: Floats, may: NDArray[np.intp], chain: NDArray[np.intp]) -> Chain | str:
    """The chain counted out, or why it is no beat."""
    grown, chain = chain, _trimmed(at_s, chain)
    gaps = np.diff(at_s[chain])
    shortest = float(np.quantile(gaps, 0.25))
    period_s = float(np.mean(gaps[gaps < 1.5 * shortest]))
    n_beats = np.maximum(1, np.round(gaps / period_s)).astype(np.intp)
    is_stall = gaps > (_MOST_SKIPPED + 1 + _DUE_LATER) * period_s
    n_beats[is_stall] = 1
    single = (n_beats == 1) & ~is_stall
    within = int(np.sum((may >= chain[0]) & (may <= chain[-1])))
    if len(chain) < _LEAST_BEATS:
        return f"only {numbers.counted(len(chain), 'even beat')} can be heard, and {_LEAST_BEATS} are needed"
    if len(chain) < _LEAST_SHARE * within:
        return "most clicks do not fall in with any beat"
    even = gaps[single] / period_s
    if len(even) < _LEAST_BEATS - 2 or float(np.std(even - _line(even))) > _MOST_UNEVEN * min(
        1.0, len(chain) / _SURE_BEATS
    ):
        return "the clicks have no even beat"
    if int(np.sum(n_beats - 1)) > _MOST_MISSED * len(chain):
        return "too many beats are missing to be sure of any"
    first_s, last_s = float(at_s[chain[0]]), float(at_s[chain[-1]])
    stalls = tuple(
        Stall(
            at_s=float(at_s[chain[i]]),
            length_s=float(gaps[i] - period_s),
            part=(float(at_s[chain[i]]) - first_s) / (last_s - first_s),
            i_beat=int(i + 1),
        )
        for i in np.flatnonzero(is_stall)
    )
    since = np.concatenate([[0], np.cumsum(n_beats)]).astype(np.intp)
    return Chain(
        chain, since, period_s, int(np.sum(n_beats - 1)), stalls,
        tuple(float(t) for t in at_s[grown[grown < chain[0]]][::-1]),
        tuple(float(t) for t in at_s[grown[grown > chain[-1]]]),
    )  # fmt: skip


def _trimmed(at_s: Floats, chain: NDArray[np.intp]) -> NDArray[np.intp]:
    """Without ends that do not fall in with the six beats next to them."""
    while len(chain) > _LEAST_BEATS:
        gaps = np.diff(at_s[chain])
        first, last = _is_off(gaps), _is_off(gaps[::-1])
        if not first and not last:
            break
        chain = chain[1 if first else 0 : len(chain) - (1 if last else 0)]
    return chain


def _is_off(gaps: Floats) -> bool:
    """Whether an end does not fall in: a beat picked in the echo of the blades is some milliseconds off."""
    if abs(gaps[0] / np.median(gaps[1:7]) - 1) > _END:
        return True
    same, other = gaps[2:_NEAR_END:2], gaps[1:_NEAR_END:2]  # beats of one pallet are alike
    scatter = np.concatenate([same - np.median(same), other - np.median(other)])
    off_s = abs(float(gaps[0] - np.median(same)))
    return off_s > max(_OFF_S, _FAR_OFF * 1.4826 * float(np.median(np.abs(scatter))))


def _line(y: Floats) -> Floats:
    """The straight line through a few values."""
    x = np.arange(len(y))
    return np.asarray(np.polyval(np.polyfit(x, y, 1), x)) if len(y) > 2 else np.full(len(y), y.mean())
