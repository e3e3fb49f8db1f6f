"""How far the tone curve of a clip bends from the one that was undone: what its file says, and what its edges show."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

U_NAMED: Final = 0.12
"""u of the bend where the file names its curve: cameras add contrast of their own. Common practice."""
U_NOT_NAMED: Final = 0.5
"""u of the bend where it does not: see `Tone`."""
_USUAL: Final = (0.25, 0.45)  # mean and standard deviation of the bends named below; the root of their squares is 0.5
_OTHER: Final = 0.2  # of the files that name a curve follow another all the same. From memory
_AGAINST: Final = 0.4  # chance of another curve from which we no longer take the named one as it stands
_LEAST_OPENINGS: Final = 4
_DARK, _LIT = 0.03, 0.10  # parts from which a block counts as grey, a little and fully; the same from the top down
_PARTS = np.linspace(-0.1, 1.1, 481)
_BENDS = np.linspace(-0.9, 0.95, 75)


@dataclass(frozen=True)
class Tone:
    """The bend c of a curve that shows the part b of the light as b + c b (1 - b), and its standard uncertainty.

    Bends of published curves, read as BT.709 with the open gate at 60 to 85 % of the signal: sRGB 0.2, HLG 0.3 to 0.9;
    of curves as cameras have them: a logarithmic one 0.2 to 0.6, a knee at 60 % of the signal 0 to 1, a contrasty one
    -0.2. `is_checked` where edges tell the bend, `is_contradicted` where they speak against the curve that the file
    names. [itu-r-bt-709] [iec-61966-2-1] [itu-r-bt-2100]
    """

    bend: float
    u: float
    is_checked: bool = False
    is_contradicted: bool = False


def straightened(part: Floats, bend: float) -> Floats:
    """The part b of the light that a curve with this bend, under 1, shows as `part`: undoes b + c b (1 - b).

    Without the difference of numbers that are nearly the same, the root of the quadratic is
    2 p / (1 + c + √((1 + c)² - 4 c p)).
    """
    root = np.sqrt(np.maximum((1 + bend) ** 2 - 4 * bend * part, 0))
    return np.asarray(2 * part / (1 + bend + root))


def counted(parts: Floats) -> Floats:
    """How many of some parts lie near each of `_PARTS`."""
    i = np.round((parts - _PARTS[0]) / (_PARTS[1] - _PARTS[0])).astype(int)
    return np.bincount(np.clip(i, 0, len(_PARTS) - 1).ravel(), minlength=len(_PARTS)).astype(float)


def tone_of(is_named: bool, openings: Sequence[Floats] = ()) -> Tone:
    """The bend by what the file says of its curve and what the edges of its openings show.

    Parameters
    ----------
    openings
        For each the `counted` blocks of the frames in which it opened and closed.

    Notes
    -----
    Where the file names its curve, most follow it to `U_NAMED`, and one in five may have any that cameras have.
    Bayes's rule weighs bends so given by how likely they make what the edges show; the result is the mean and the
    standard deviation of what that leaves. What the file says stands where no edge tells, and while the edges do not
    speak against it.
    """
    counts = np.reshape(openings, (-1, len(_PARTS)))
    if len(counts) < _LEAST_OPENINGS or not counts[:, (_PARTS > _LIT) & (_PARTS < 1 - _LIT)].any():
        return Tone(0.0, U_NAMED if is_named else U_NOT_NAMED)
    kinds = ((1 - _OTHER, 0.0, U_NAMED), (_OTHER, *_USUAL)) if is_named else ((1.0, *_USUAL),)
    given = np.array([share / u * np.exp(-0.5 * ((_BENDS - usual) / u) ** 2) for share, usual, u in kinds])
    left = given * _likely(counts)
    if is_named and left[-1].sum() < _AGAINST * left.sum():
        return Tone(0.0, U_NAMED, True)
    p = left.sum(axis=0) / left.sum()
    mean = float(p @ _BENDS)
    u = math.sqrt(float(p @ (_BENDS - mean) ** 2))
    return Tone(mean, u, True, is_named)


def _likely(counts: Floats) -> Floats:
    """How likely each of `_BENDS` makes the grey blocks of some openings.

    An edge sweeps over a block at a chance moment of the exposure. As the exposure is a box, the block's part of the
    light is then any part from 0 to 1 alike: the code density test of converters with a ramp ([ieee-1241] 4.1.6, from
    memory). A blurred blade smears both ends alike. What a phone smooths over time it smooths the other way round at
    opening and closing. So the blocks between dark and lit are as often under a half as over it by the same amount,
    whatever the exposure and the smear, if the curve is right. With the right bend undone they lean to neither side
    but by chance, and the scatter of the openings tells by how much: Student's t of the mean of their leans.
    """
    kernels = []
    for bend in _BENDS:
        b = straightened(_PARTS, float(bend))
        ends = np.clip((np.minimum(b, 1 - b) - _DARK) / (_LIT - _DARK), 0, 1)
        kernels.append(ends * (b - 0.5))
    leans = counts @ np.array(kernels).T  # by opening and bend
    n = len(leans)
    t_square = n * leans.mean(axis=0) ** 2 / np.maximum(leans.var(axis=0, ddof=1), 1e-12)
    return np.asarray((1 + t_square / (n - 1)) ** (-n / 2))
