"""What no recording shows: how wide the gate is, where the sensors stand, and how large they are."""

from dataclasses import dataclass, replace
from itertools import pairwise

from camerawright.trouble import NotUnderstood
from camerawright.wording.numbers import counted, short

PLACES = "Where the sensors stand"
DIAMETERS = "Diameter of the sensors"
"""Options, by their labels."""
USUAL_MM = 1.0  # how wide a sensor is taken to be where nothing shows it
GATES_MM = (8.0, 250.0)
_EDGE_MM = 2.0  # the outer sensors stand this far inside the gate unless told; the standard asks for 45 % of the width
_LEAST_APART_MM = 4.0
DIAMETERS_MM = (0.1, 12.0)
U_AT_MM = (
    0.35  # u of where a sensor stands; of the distance between two 0.5 mm. Common practice: a rule held to the gate
)


@dataclass(frozen=True)
class Gate:
    """The set-up: gate width along the curtains' way, the sensors' middles from the near edge, and their diameters.

    Channel by channel; `u_at_mm` is the standard uncertainty of each place. Where nobody told the diameters, they are
    the usual one until the edges of the light show better.
    """

    width_mm: float
    at_mm: tuple[float, ...]
    diameter_mm: tuple[float, ...]
    u_at_mm: float = U_AT_MM
    is_diameter_told: bool = True

    def turned(self) -> "Gate":
        """The same counted from the other edge."""
        return replace(self, at_mm=tuple(self.width_mm - x for x in self.at_mm))


def gate_of(n_channels: int, at: str | None, gate: str | None, diameter: str | None, placed: str | None) -> Gate:
    """The set-up as it was told, and what is usual for the rest.

    Parameters
    ----------
    n_channels
        Of the recording.
    at, gate, diameter, placed
        As typed, in mm: places of the sensors in the order of the channels, gate width, diameter of the sensors (one,
        or one each), standard uncertainty of a place.

    Raises
    ------
    NotUnderstood
        Not numbers, not as many as there are channels, or impossible.
    """
    width = _one(gate, "gate", 36.0, GATES_MM)
    u_at = _one(placed, "placed", U_AT_MM, (0.0, 5.0))
    places = _numbers(at, "at") if at is not None else _usual(n_channels, width)
    if len(places) != n_channels:
        raise NotUnderstood(
            f"{counted(len(places), 'place is', 'places are')} named, and the recording has"
            f" {counted(n_channels, 'channel')}",
            "give one place for each channel, in their order, as 2,18,34",
            "at",
        )
    diameters = _numbers(diameter, "diameter") if diameter is not None else (USUAL_MM,)
    if len(diameters) == 1:
        diameters *= n_channels
    if len(diameters) != n_channels:
        raise NotUnderstood(
            f"{counted(len(diameters), 'diameter is', 'diameters are')} named, and there are {n_channels} sensors",
            "give one for all, or one each",
            "diameter",
        )
    low, high = DIAMETERS_MM
    for one in diameters:
        if not low <= one <= high:
            raise NotUnderstood(
                f"{short(one)} mm is not a sensor", f"give {short(low)} to {short(high)} mm", "diameter"
            )
    _refuse_places(places, width, max(diameters))
    return Gate(width, places, diameters, u_at, is_diameter_told=diameter is not None)


def _usual(n_channels: int, width: float) -> tuple[float, ...]:
    """The usual places of two or three sensors."""
    usual = {
        2: (_EDGE_MM, width - _EDGE_MM),
        3: (_EDGE_MM, width / 2, width - _EDGE_MM),
    }.get(n_channels)
    if usual is None:
        raise NotUnderstood(f"there are {n_channels} channels", "say where each sensor stands, as 2,13,23,34", "at")
    return usual


def _refuse_places(places: tuple[float, ...], width: float, diameter: float) -> None:
    """Places outside the gate, or too near one another to tell a speed."""
    for x in places:
        if not 0 <= x <= width:
            raise NotUnderstood(
                f"{short(x)} mm lies outside the gate",
                f"give a place between 0 and the gate's width of {short(width)} mm, or another gate",
                "at",
            )
    ordered = sorted(places)
    least = max(_LEAST_APART_MM, diameter)
    for a, b in pairwise(ordered):
        if b - a < least:
            raise NotUnderstood(
                f"{short(a)} and {short(b)}: sensors {short(b - a)} mm apart tell no speed",
                f"set them {short(least)} mm apart or more",
                "at",
            )


def _one(text: str | None, name: str, usual: float, within: tuple[float, float]) -> float:
    """One number, or the usual one."""
    if text is None:
        return usual
    mend = f"give one number of millimetres from {short(within[0])} to {short(within[1])}"
    given = _numbers(text, name, mend)
    if len(given) != 1 or not within[0] <= given[0] <= within[1]:
        raise NotUnderstood(f"{text!r} does not fit", mend, name)
    return given[0]


def _numbers(
    text: str, name: str, mend: str = "write millimetres with commas between, as 2,18,34"
) -> tuple[float, ...]:
    """Numbers with commas between them."""
    try:
        return tuple(float(part) for part in text.replace("mm", "").replace(";", ",").split(","))
    except ValueError:
        raise NotUnderstood(f"{text!r} is not understood", mend, name) from None
