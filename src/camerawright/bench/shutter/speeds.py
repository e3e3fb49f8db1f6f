"""Several speeds in one recording: which firings belong together, and what each set says."""

from collections.abc import Sequence

import numpy as np

from camerawright.bench import comparison
from camerawright.bench.comparison import Comparison
from camerawright.bench.marked_speeds import APART, FAR, AtSpeed, sorted_to
from camerawright.bench.shutter.aperture import STOPS
from camerawright.bench.shutter.record import Drift, Firing, First, Measured, Speed, StoppedDown
from camerawright.handbook.exposure import MarkedSpeed, name_of
from camerawright.handbook.tolerances import Profile
from camerawright.numeric.series import drift, first_against_others
from camerawright.wording import numbers

SHARED = frozenset({"timing", "AC model", "sensor lag", "sensor linearity", "lossy coding", "level", "blade shape"})
"""Budget lines that are the same error in every firing of a recording."""


def speeds(result: Measured, marks: Sequence[MarkedSpeed], profile: Profile) -> tuple[Speed, ...]:
    """The speeds of a recording, slowest first; which firings are of which, `sorted_to` says.

    Raises
    ------
    NotUnderstood
        There are not as many speeds in the recording as marks were given.
    """
    times_s = [firing.effective.value for firing in result.firings]
    return tuple(_speed(result, at, profile) for at in sorted_to(times_s, marks))


def _speed(result: Measured, at: AtSpeed, profile: Profile) -> Speed:
    """What the firings of one speed say."""
    mark = at.mark
    firings = [result.firings[i] for i in at.i_firings]
    effective = [firing.effective for firing in firings]
    errors = np.asarray(np.log2([one.value for one in effective]))
    compared = comparison.compare(effective, mark.text, profile, shared=SHARED, series=mark.series) if mark else None
    first, changed = first_against_others(errors), drift(errors)
    return Speed(
        i_firings=at.i_firings,
        likely=at.likely.text if at.likely else None,
        effective=comparison.mean_time(effective, SHARED),
        repeatability_stops=float(errors.std(ddof=1)) if len(errors) > 1 else None,
        first=First(first.away, first.reach) if first else None,
        drift=Drift(changed.total, changed.probability) if changed else None,
        stopped_down=_stopped_down(firings),
        compared=compared,
        flags=_flags(errors, compared),
    )


def _stopped_down(firings: Sequence[Firing]) -> tuple[StoppedDown, ...]:
    """Mean over the firings that have a plateau, for each number of stops."""
    usable = [firing.stopped_down for firing in firings if firing.stopped_down]
    if not usable:
        return ()
    means = (comparison.mean_time([one[i].effective for one in usable], SHARED) for i in range(len(STOPS)))
    return tuple(StoppedDown(down, mean) for down, mean in zip(STOPS, means, strict=True))


def _flags(errors: "np.ndarray[tuple[int], np.dtype[np.float64]]", compared: Comparison | None) -> tuple[str, ...]:
    """What is odd about the set."""
    if compared is None:
        return comparison.order_flags(errors)
    flags = list(compared.flags)
    widest = float(np.diff(np.sort(errors)).max(initial=0.0))
    mean = compared.mean.value
    if widest > APART:
        flags.append(
            f"The firings compared with {compared.marked} lie {numbers.fixed(widest, 1)} stops apart: if you fired"
            " several"
            " speeds, give the mark of each, or none."
        )
    if abs(mean) > FAR:
        flags.append(
            f"The firings compared with {compared.marked} are {numbers.signed(mean, 1)} stops from it: is the mark"
            " right?"
        )
    return tuple(flags)


def name(speed: Speed) -> str:
    """A set of firings by its mark, or by its mean time."""
    return speed.compared.marked if speed.compared else name_of(speed.effective.value)
