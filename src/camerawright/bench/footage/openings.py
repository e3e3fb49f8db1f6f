"""Openings in a clip: which frames are lit, how dark the dark is, how bright fully open is, how well each is known."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from camerawright.trouble import NotMeasurable
from camerawright.wording import numbers

Floats = NDArray[np.float64]

ADVICE_LEVEL = (
    "In one clip, with the exposure locked, film the gate held open on B or T for half a second and then the firings"
)
_MARGIN = 2  # frames beside the lit ones that may hold some light still
_DARK = 12  # frames of dark on each side that are looked at
LONG = 12  # plateau frames from which an opening has a level of its own
_SAME = 0.01  # of the level: frames this near to the brightest are fully open
_LEAST_SIGMAS = 20
_SETTLES = 24  # frames in which a coder renders a standing picture right: a tenth of a second. Common practice
U_LEVEL = 0.002  # relative, of lamp and camera from what shows the level to a firing. Common practice


@dataclass(frozen=True)
class Opening:
    """Frames `first` to `last` are lit. `dark` is the level beside them, `u_dark` its standard uncertainty."""

    first: int
    last: int
    dark: float
    u_dark: float
    top: float

    @property
    def window(self) -> slice:
        """The lit frames with a margin."""
        return slice(self.first - _MARGIN, self.last + _MARGIN + 1)


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


def find_openings(light: Floats) -> tuple[tuple[Opening, ...], int, float]:
    """Every opening that lies whole in the clip, how many are cut by its ends, and the scatter of the dark.

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
    whole, cut = [], 0
    for first, stop in zip(edges[::2], edges[1::2], strict=True):
        if light[first:stop].max() - middle < 0.05 * (high - middle):
            continue
        if first < _MARGIN + 2 or stop > len(light) - _MARGIN - 2:
            cut += 1
            continue
        whole.append(_opening(light, is_lit, int(first), int(stop) - 1))
    return tuple(whole), cut, sigma


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


def own_level(plateau: Plateau) -> Level:
    """The level that a firing shows itself: neither the lamp nor the camera has had time to change.

    Its u: the scatter of the mean over √n, and how far the level moved in the meantime, as a box over that: its width
    over √12. [jcgm-100] 4.2.3, 4.3.7
    """
    u = math.hypot(plateau.scatter / math.sqrt(plateau.n), plateau.slope * plateau.level / math.sqrt(12))
    return Level(plateau.level, u, "its own plateau", ())


def references(openings: tuple[Opening, ...]) -> tuple[bool, ...]:
    """Which openings were held open to show the level: far longer than the shortest half of the others."""
    lengths = np.array([one.last - one.first + 1 for one in openings])
    usual = float(np.median(np.sort(lengths)[: (len(lengths) + 1) // 2]))
    return tuple(bool(length > 2.8 * usual and length >= 2 * LONG) for length in lengths)


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
