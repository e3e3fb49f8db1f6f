"""Each class of contact against its window, firing by firing, at each speed of a recording."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from camerawright.bench.marked_speeds import AtSpeed, sorted_to
from camerawright.bench.sync.result import Firing, SyncResult
from camerawright.bench.sync.uses import Setup, Use, during_opening, never, uses, worst
from camerawright.handbook import sync
from camerawright.handbook.exposure import MarkedSpeed, name_of, stops
from camerawright.handbook.sync import Contact, Instant, Peak
from camerawright.quantity import Quantity, Verdict, mean_of, verdict

_WRONG_MARK_EV = 1.0
_LEVELS_DIFFER = 0.05  # between firings: a lamp on the mains caught at another moment, or a gain that moves
_TOPS_DIFFER = 0.15  # where blades turn back before the hole is free, the top depends on the time itself
_OPENS_ALIKE_S = 0.3e-3  # common practice: a clean leaf opens in 1 to 2 ms, within some hundredths of it


@dataclass(frozen=True)
class ClassVerdict:
    """All firings of a speed against one class.

    `verdict` is that of the worst firing; None where this set-up cannot judge the class, and then `says` says why. The
    mean delay is counted from `instant` to the make, negative where the contact makes first; None where it never
    closed.
    """

    contact: Contact
    instant: Instant
    lower_s: float | None
    upper_s: float | None
    mean: Quantity | None
    repeatability_s: float | None
    singles: tuple[Verdict | None, ...]
    verdict: Verdict | None
    source: str
    says: str


@dataclass(frozen=True)
class Judged:
    """The firings of one speed: all classes, and the lights that may be used."""

    setup: Setup
    at: AtSpeed
    classes: tuple[ClassVerdict, ...]
    uses: tuple[Use, ...]
    flags: tuple[str, ...]


def judge(result: SyncResult, setup: Setup, marks: Sequence[MarkedSpeed]) -> tuple[Judged, ...]:
    """Judge every class, and the use of electronic flash and of bulbs, at each speed, slowest first.

    Raises
    ------
    NotUnderstood
        There are not as many speeds in the recording as marks were given.

    References
    ----------
    [jcgm-106] 8.3. [sync-glossary] windows.
    """
    out = []
    for at in sorted_to([firing.half_peak.value for firing in result.firings], marks):
        firings = tuple(result.firings[i] for i in at.i_firings)
        classes = tuple(_class(contact, firings, setup) for contact in sync.CONTACTS)
        out.append(Judged(setup, at, classes, uses(firings, setup), _flags(at, firings)))
    return tuple(out)


def _class(contact: Contact, firings: Sequence[Firing], setup: Setup) -> ClassVerdict:
    """One class."""
    window = sync.window(contact, setup.shutter)
    if window is None:
        return _by_opening(contact, firings, setup)
    lower_s, upper_s = -window.most_s, -window.least_s
    words = f"{1e3 * window.least_s:g} to {1e3 * window.most_s:g} ms before {_named(window.instant)}"
    mean, spread = _mean(firings, window.instant)
    if window.sensor_at not in (None, setup.sensor_at):
        says = f"{words}: put the sensor at the {window.sensor_at} of the curtain's way to judge it"
        singles: tuple[Verdict | None, ...] = (None,) * len(firings)
        return ClassVerdict(contact, window.instant, lower_s, upper_s, mean, spread, singles, None, window.source, says)
    verdicts = tuple(_in_window(firing, window.instant, lower_s, upper_s) for firing in firings)
    return ClassVerdict(
        contact, window.instant, lower_s, upper_s, mean, spread, verdicts, worst(verdicts), window.source, words
    )


def _named(instant: Instant) -> str:
    """An instant in a sentence."""
    return "the " + instant if instant == "middle of the opening" else instant


def _by_opening(contact: Contact, firings: Sequence[Firing], setup: Setup) -> ClassVerdict:
    """X, and F whose bulb peaks a little later: what must fall while the shutter is fully open."""
    mean, spread = _mean(firings, "full open")
    nothing: tuple[Verdict | None, ...] = (None,) * len(firings)
    if contact in ("M", "FP"):
        says = f"there is no class {contact} contact on a {setup.shutter} shutter"
        return ClassVerdict(contact, "full open", None, None, mean, spread, nothing, None, sync.SOURCE_X, says)
    if contact == "F":
        peak = next(peak for peak in sync.PEAKS if peak.bulb == "F")
        return _of_f(peak, firings, setup, mean, spread)
    verdicts = tuple(during_opening(firing, setup, 0.0, 0.0, 0.0) for firing in firings)
    says = "from full open until the closing begins"
    if setup.shutter == "focal-plane":
        says += (
            f"; the sensor at the {setup.sensor_at} cannot see both curtains, so it can say outside and never within"
        )
    return ClassVerdict(contact, "full open", 0.0, None, mean, spread, verdicts, worst(verdicts), sync.SOURCE_X, says)


def _of_f(
    peak: Peak, firings: Sequence[Firing], setup: Setup, mean: Quantity | None, spread: float | None
) -> ClassVerdict:
    """F, which is told by its bulb: the peak must fall while the shutter is fully open."""
    source = f"{peak.source}; here the peak must fall while the shutter is open"
    if setup.shutter != "leaf":
        says = "a class F bulb is over before a curtain has crossed"
        return ClassVerdict("F", "full open", None, None, mean, spread, (None,) * len(firings), None, source, says)
    verdicts = tuple(during_opening(firing, setup, peak.after_s, 0.0, peak.u_after_s) for firing in firings)
    says = f"the bulb's peak, about {1e3 * peak.after_s:g} ms after the make, while the shutter is fully open"
    return ClassVerdict("F", "full open", -peak.after_s, None, mean, spread, verdicts, worst(verdicts), source, says)


def _in_window(firing: Firing, instant: Instant, lower_s: float, upper_s: float) -> Verdict:
    """A delay between two limits; a contact that did not close is in none."""
    if firing.closure is None:
        return never(firing)
    delay = firing.delays[instant]
    return verdict(delay.value, delay.u, delay.dof, lower_s, upper_s)


def _mean(firings: Sequence[Firing], instant: Instant) -> tuple[Quantity | None, float | None]:
    """The mean delay of the firings that closed, with its repeatability; what they share is the largest of each
    line."""
    delays = [firing.delays[instant] for firing in firings if firing.closure is not None]
    if not delays:
        return None, None
    shared = {line.name for delay in delays for line in delay.budget} - {"light noise"}
    spread = float(np.std([delay.value for delay in delays], ddof=1)) if len(delays) > 1 else None
    return mean_of(delays, shared), spread


def _flags(at: AtSpeed, firings: Sequence[Firing]) -> tuple[str, ...]:
    """What the set-up and the recording say against each other."""
    flags = []
    if at.mark and abs(stops(at.usual_s, at.mark.target_s)) > _WRONG_MARK_EV:
        flags.append(
            f"The shutter was open for {name_of(at.usual_s)} and the mark is {at.mark.text}: another speed was set, or"
            " it is far off. The verdict holds for what was recorded."
        )
    levels = [firing.level_fs for firing in firings]
    most = _LEVELS_DIFFER if all(firing.has_plateau for firing in firings) else _TOPS_DIFFER
    differ = max(levels) / min(levels) - 1
    if differ > most:
        flags.append(
            f"The full light differs by {100 * differ:.0f} % between firings: a lamp on the mains, or a gain that"
            " moves. Full open and the closing may be misplaced: use a lamp on a battery, every enhancement off."
        )
    opens_s = [one.delays["half light"].value - one.delays["full open"].value for one in firings if one.closure]
    if opens_s and max(opens_s) - min(opens_s) > _OPENS_ALIKE_S:
        flags.append(
            f"From half light to full open takes {1e3 * min(opens_s):.2f} to {1e3 * max(opens_s):.2f} ms, and blades"
            " open alike every time: light that moves as a mains lamp's does, or blades that stick. Full open may be"
            " misplaced."
        )
    return tuple(flags)
