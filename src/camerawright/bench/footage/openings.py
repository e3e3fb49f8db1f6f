"""Openings in a clip: which frames are lit, how dark the dark is, how bright fully open is, how well each is known."""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

ADVICE_LEVEL = (
    "In one clip, with the exposure locked, begin with the gate open on B or T, close it after half a second, and then"
    " film the firings"
)
_MARGIN = 2  # frames beside the lit ones that may hold some light still
_DARK = 12  # frames of dark on each side that are looked at
LONG = 12  # plateau frames from which an opening has a level of its own
_SAME = 0.01  # of the level: frames this near to the brightest are fully open
_LEAST_SIGMAS = 20
_BY_HAND_S = 0.25  # shorter than a hand holds a release. Common practice
_ODD = 1.3  # firings of one setting differ by less. Common practice
_SETTLES = 24  # frames in which a coder renders a standing picture right: a tenth of a second. Common practice
U_LEVEL = 0.002  # relative, of lamp and camera from what shows the level to a firing. Common practice


@dataclass(frozen=True)
class Opening:
    """Frames `first` to `last` are lit. `dark` is the level beside them, `u_dark` its standard uncertainty.

    `is_cut` where the clip begins or ends in it: nobody saw it open, or close, so it is no firing.
    """

    first: int
    last: int
    dark: float
    u_dark: float
    top: float
    is_cut: bool = False

    @property
    def window(self) -> slice:
        """The lit frames with a margin."""
        return slice(self.first - _MARGIN, self.last + _MARGIN + 1)

    @property
    def n_lit(self) -> int:
        """How many frames are lit."""
        return self.last - self.first + 1


@dataclass(frozen=True)
class Plateau:
    """The fully open frames of one opening: light above the dark, scatter about their line, change over them."""

    n: int
    level: float
    scatter: float
    slope: float


@dataclass(frozen=True)
class Level:
    """The fully open level of a clip: its uncertainty, and where it is from."""

    value: float
    u: float
    source: str
    flags: tuple[str, ...]


def find_openings(light: Floats) -> tuple[tuple[Opening, ...], float]:
    """Every opening in the clip in order, whole or cut by its ends, and the scatter of the dark.

    Raises
    ------
    NotMeasurable
        The light does not stand out, or nothing is dark.
    """
    low, high = float(light.min()), float(light.max())
    dark = light[light < (low + high) / 2]
    middle = float(np.median(dark))
    # 1.4826, one over the upper quartile of a normal distribution, makes a standard deviation of the median deviation
    sigma = max(1.4826 * float(np.median(np.abs(dark - middle))), 1e-6)
    if high - middle < _LEAST_SIGMAS * sigma:
        raise NotMeasurable(
            "the light hardly stands out of the noise of the dark", "Use more light, and take other light away"
        )
    is_lit = light > middle + max(4 * sigma, 0.02 * (high - middle))
    edges = np.flatnonzero(np.diff(np.concatenate([[False], is_lit, [False]]).astype(int)))
    found = []
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        if light[first:stop].max() - middle < 0.05 * (high - middle):
            continue
        opening = _opening(light, is_lit, int(first), int(stop) - 1)
        is_cut = bool(first < _MARGIN + 2 or stop > len(light) - _MARGIN - 2)
        found.append(replace(opening, is_cut=is_cut))
    return tuple(found), sigma


def _opening(light: Floats, is_lit: NDArray[np.bool_], first: int, last: int) -> Opening:
    """An opening with the dark on both sides of it, as far as the next light."""
    before = np.arange(max(0, first - _MARGIN - _DARK), first - _MARGIN)
    after = np.arange(last + _MARGIN + 1, min(len(light), last + _MARGIN + 1 + _DARK))
    beside = np.concatenate([before, after])
    beside = beside[~is_lit[beside]]
    if len(beside) < 2:
        return Opening(first, last, 0.0, math.inf, float(light[first : last + 1].max()))
    dark = float(light[beside].mean())
    sides = [float(light[side][~is_lit[side]].mean()) for side in (before, after) if np.any(~is_lit[side])]
    step = abs(sides[0] - sides[-1]) / math.sqrt(12)  # the dark may have moved at any moment between
    u_dark = math.hypot(float(light[beside].std(ddof=1)) / math.sqrt(len(beside)), step)
    return Opening(first, last, dark, u_dark, float(light[first : last + 1].max()) - dark)


def plateau_of(light: Floats, opening: Opening, sigma: float) -> Plateau | None:
    """The fully open frames of an opening, None where fewer than three tell that it stood open."""
    inner = light[opening.first + 2 : opening.last - 1] - opening.dark
    if len(inner) >= _SETTLES + LONG:
        inner = inner[_SETTLES:]
    if len(inner) >= LONG:
        n = np.arange(len(inner))
        slope, start = np.polyfit(n, inner, 1)
        level = float(inner.mean())
        scatter = float(np.std(inner - start - slope * n, ddof=2))
        return Plateau(len(inner), level, scatter, float(slope * len(inner) / level))
    lit = light[opening.first : opening.last + 1] - opening.dark
    near = lit >= opening.top - max(4 * sigma, _SAME * opening.top)
    start, stop = int(np.argmax(near)), len(near) - int(np.argmax(near[::-1]))
    if stop - start < 3 or not near[start:stop].all():
        return None
    run = lit[start:stop]
    return Plateau(len(run), float(run.mean()), float(run.std(ddof=1)), 0.0)


def shows_level(opening: Opening, light: Floats, sigma: float) -> bool:
    """Whether an opening that an end of the clip cuts is long enough to show the level, with some dark beside it."""
    plateau = plateau_of(light, opening, sigma)
    return plateau is not None and plateau.n >= LONG and not math.isinf(opening.u_dark)


def own_level(plateau: Plateau) -> Level:
    """The level that a firing shows itself: neither the lamp nor the camera has had time to change.

    Its u: the scatter of the mean over √n, and how far the level moved in the meantime, as a box over that: its width
    over √12. [jcgm-100] 4.2.3, 4.3.7
    """
    u = math.hypot(plateau.scatter / math.sqrt(plateau.n), plateau.slope * plateau.level / math.sqrt(12))
    return Level(plateau.level, u, "its own plateau", ())


def references(openings: tuple[Opening, ...]) -> tuple[bool, ...]:
    """Which openings were held open to show the level: open at an end of the clip, or far longer than the others.

    The others are the shortest half of those that lie whole in the clip.
    """
    whole = np.sort([one.n_lit for one in openings if not one.is_cut])
    usual = float(np.median(whole[: (len(whole) + 1) // 2]))
    return tuple(one.is_cut or (one.n_lit > 2.8 * usual and one.n_lit >= 2 * LONG) for one in openings)


def maybe_held(lengths_s: Floats, marked_s: float | None) -> tuple[int, ...]:
    """Which of some openings may have been held by hand: one that differs from the others, while those are alike.

    A hand holds for a quarter of a second and more. Of two openings either may be the odd one; a mark tells which.
    """
    if len(lengths_s) < 2:
        return ()
    usual = marked_s or math.nan if len(lengths_s) == 2 else float(np.median(lengths_s))
    away = np.abs(np.log(lengths_s / usual))
    odd = (0, 1) if math.isnan(usual) else (int(np.argmax(away)),)
    others = np.delete(lengths_s, odd[0])
    if others.max() > _ODD * others.min() or abs(math.log(lengths_s[odd[0]] / np.median(others))) < math.log(_ODD):
        return ()
    return tuple(i for i in odd if lengths_s[i] >= _BY_HAND_S)


def common_level(
    openings: tuple[Opening, ...], plateaus: tuple[Plateau | None, ...], is_reference: tuple[bool, ...], sigma: float
) -> Level:
    """The level of a clip.

    In order: what every firing reaches alike (at moments that are unrelated to the frames, a curve without a plateau
    would not); the openings that were held; the firings that stand open for three frames.

    Raises
    ------
    NotMeasurable
        No opening shows it.
    """
    tops = np.array([one.top for one, held in zip(openings, is_reference, strict=True) if not held])
    known = [one for one in plateaus if one is not None]
    alike = len(tops) >= 4 and float(tops.std(ddof=1)) < max(2 * sigma, 0.005 * float(tops.mean()))
    if not known and not alike:
        raise NotMeasurable(
            "no opening stands open for three frames, so the fully open level is not known", ADVICE_LEVEL
        )
    if alike and not any(is_reference):
        spread = float(tops.std(ddof=1))
        return Level(float(tops.mean()), math.hypot(spread, U_LEVEL * float(tops.mean())), "the firings' own tops", ())
    held = [one for one, is_held in zip(plateaus, is_reference, strict=True) if one is not None and is_held] or known
    weights = np.array([one.n for one in held], float)
    levels = np.array([one.level for one in held])
    value = float(np.average(levels, weights=weights))
    within = math.sqrt(float(np.sum(weights * np.array([one.scatter for one in held]) ** 2))) / float(weights.sum())
    between = float(levels.std(ddof=1)) / math.sqrt(len(levels)) if len(levels) > 1 else 0.0
    slope = max(abs(one.slope) for one in held) * value / math.sqrt(12)
    source = "the gate held open" if any(is_reference) else "the firings' own plateaus"
    flags: tuple[str, ...] = ()
    away = 0.0
    if alike and abs(float(tops.mean()) / value - 1) > _SAME:
        away = abs(float(tops.mean()) - value)
        off = numbers.signed(100 * float(tops.mean()) / value - 100, 1)
        flags = (
            f"The tops of the firings differ by {off} % from the level that the gate held open shows: the exposure was"
            " not locked, or the firings do not open fully. We use the firings' own tops.",
        )
        value, source = float(tops.mean()), "the firings' own tops"
    return Level(value, math.hypot(within, between, slope, away / 2, U_LEVEL * value), source, flags)
