"""Each class of contact against its window, firing by firing, and whether an electronic flash may be used."""

import math
from dataclasses import dataclass, replace

import numpy as np

from camerawright.bench.sync.result import Firing, SyncResult
from camerawright.handbook import sync
from camerawright.handbook.exposure import MarkedSpeed, marked_speed, name_of, stops
from camerawright.handbook.sync import Contact, Instant, SensorAt, Shutter
from camerawright.quantity import BudgetLine, Quantity, Verdict, t_probability, verdict

_WRONG_MARK_EV = 1.0


@dataclass(frozen=True)
class Setup:
    """What no recording shows: the kind of shutter, where along the curtain's way the sensor is, which contact it
    is."""

    shutter: Shutter = "leaf"
    sensor_at: SensorAt = "middle"
    contact: Contact | None = None
    flash_s: float = sync.FLASH_S


@dataclass(frozen=True)
class ClassVerdict:
    """All firings against one class.

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
    """All classes, the electronic flash, and the speed that was set."""

    setup: Setup
    speed: MarkedSpeed | None
    classes: tuple[ClassVerdict, ...]
    flash: tuple[Verdict, ...]
    flash_says: str
    flags: tuple[str, ...]

    @property
    def flash_verdict(self) -> Verdict:
        """Of the worst firing."""
        return worst(self.flash)


def judge(result: SyncResult, setup: Setup, marked: str | None) -> Judged:
    """Judge every class and the use of electronic flash.

    References
    ----------
    [jcgm-106] 8.3. [sync-glossary] windows.
    """
    speed = marked_speed(marked) if marked is not None else None
    flash = tuple(_during_opening(firing, setup, 0.0, setup.flash_s, 0.0) for firing in result.firings)
    at = f" at {speed.text}" if speed else ""
    return Judged(
        setup, speed, tuple(_class(contact, result, setup) for contact in sync.CONTACTS), flash,
        f"An electronic flash of {1e3 * setup.flash_s:g} ms{at}: it must fire after full open and end before the"
        f" closing"
        " begins",
        _flags(result, speed),
    )  # fmt: skip


def worst(verdicts: tuple[Verdict, ...]) -> Verdict:
    """Outside where one is outside, within only where all are within."""
    return min(verdicts, key=lambda one: one.probability)


def _class(contact: Contact, result: SyncResult, setup: Setup) -> ClassVerdict:
    """One class."""
    window = sync.window(contact, setup.shutter)
    if window is None:
        return _by_opening(contact, result, setup)
    lower_s, upper_s = -window.most_s, -window.least_s
    words = f"{1e3 * window.least_s:g} to {1e3 * window.most_s:g} ms before {_named(window.instant)}"
    mean, spread = _mean(result, window.instant)
    if window.sensor_at not in (None, setup.sensor_at):
        says = f"{words}: put the sensor at the {window.sensor_at} of the curtain's way to judge it"
        singles: tuple[Verdict | None, ...] = (None,) * len(result.firings)
        return ClassVerdict(contact, window.instant, lower_s, upper_s, mean, spread, singles, None, window.source, says)
    verdicts = tuple(_in_window(firing, window.instant, lower_s, upper_s) for firing in result.firings)
    return ClassVerdict(
        contact, window.instant, lower_s, upper_s, mean, spread, verdicts, worst(verdicts), window.source, words
    )


def _named(instant: Instant) -> str:
    """An instant in a sentence."""
    return "the " + instant if instant == "middle of the opening" else instant


def _by_opening(contact: Contact, result: SyncResult, setup: Setup) -> ClassVerdict:
    """X, and F whose bulb peaks a little later: what must fall while the shutter is fully open."""
    mean, spread = _mean(result, "full open")
    nothing: tuple[Verdict | None, ...] = (None,) * len(result.firings)
    if contact in ("M", "FP"):
        says = f"there is no class {contact} contact on a {setup.shutter} shutter"
        return ClassVerdict(contact, "full open", None, None, mean, spread, nothing, None, sync.SOURCE_X, says)
    if contact == "F":
        says = "the bulb's peak, about 5 ms after the make, while the shutter is fully open"
        if setup.shutter != "leaf":
            says = "a class F bulb is over before a curtain has crossed"
            return ClassVerdict(contact, "full open", None, None, mean, spread, nothing, None, sync.SOURCE_F, says)
        verdicts = tuple(_during_opening(f, setup, sync.F_PEAK_S, 0.0, sync.U_F_PEAK_S) for f in result.firings)
        return ClassVerdict(
            contact, "full open", -sync.F_PEAK_S, None, mean, spread, verdicts, worst(verdicts), sync.SOURCE_F, says
        )
    verdicts = tuple(_during_opening(firing, setup, 0.0, 0.0, 0.0) for firing in result.firings)
    says = "from full open until the closing begins"
    if setup.shutter == "focal-plane":
        says += (
            f"; the sensor at the {setup.sensor_at} cannot see both curtains, so it can say outside and never within"
        )
    return ClassVerdict(contact, "full open", 0.0, None, mean, spread, verdicts, worst(verdicts), sync.SOURCE_X, says)


_NEVER = Verdict("outside", 0.0)


def _in_window(firing: Firing, instant: Instant, lower_s: float, upper_s: float) -> Verdict:
    """A delay between two limits; a contact that did not close is outside."""
    if firing.closure is None:
        return _NEVER
    delay = firing.delays[instant]
    return verdict(delay.value, delay.u, delay.dof, lower_s, upper_s)


def _during_opening(firing: Firing, setup: Setup, later_s: float, lasts_s: float, u_later_s: float) -> Verdict:
    """What begins `later_s` after the make and lasts `lasts_s`: after full open and before the closing?"""
    if firing.closure is None or firing.to_closing is None:
        return _NEVER
    after = _beyond(firing.delays["full open"], -later_s, u_later_s)
    before = _beyond(firing.to_closing, later_s + lasts_s, u_later_s)
    if setup.shutter == "focal-plane":
        # the first curtain clears the frame at its end, the second sets out at its start: one sensor sees one of them
        ends = {"start": before, "end": after, "middle": min(after, before)}
        probability = min(0.5, ends[setup.sensor_at])
    else:
        probability = max(0.0, after + before - 1)  # at the least, whatever they share
    word = "within" if probability >= 0.95 else "outside" if probability <= 0.05 else "undecided"
    return Verdict(word, probability)  # type: ignore[arg-type]


def _beyond(quantity: Quantity, least: float, u_least: float) -> float:
    """Probability that a quantity is above a limit that is itself uncertain."""
    both = replace(quantity, budget=(*quantity.budget, BudgetLine("limit", u_least)))
    return t_probability((quantity.value - least) / both.u, both.dof)


def _mean(result: SyncResult, instant: Instant) -> tuple[Quantity | None, float | None]:
    """The mean delay of the firings that closed, with its repeatability; what they share is the largest of each
    line."""
    delays = [firing.delays[instant] for firing in result.firings if firing.closure is not None]
    if not delays:
        return None, None
    mean = float(np.mean([delay.value for delay in delays]))
    if len(delays) == 1:
        return delays[0], None
    spread = float(np.std([delay.value for delay in delays], ddof=1))
    n = len(delays)
    shared = {
        line.name: line
        for line in sorted((line for delay in delays for line in delay.budget), key=lambda line: line.u)
        if line.name != "light noise"
    }
    repeat = BudgetLine("repeatability", spread / math.sqrt(n), n - 1, "A")
    return Quantity(mean, "s", (repeat, *shared.values())), spread


def _flags(result: SyncResult, speed: MarkedSpeed | None) -> tuple[str, ...]:
    """What the set-up and the recording say against each other."""
    flags = []
    usual_s = float(np.median([firing.half_peak_s for firing in result.firings]))
    if speed and abs(stops(usual_s, speed.target_s)) > _WRONG_MARK_EV:
        flags.append(
            f"The shutter was open for {name_of(usual_s)} and the mark is {speed.text}: another speed was set, or it"
            f" is far"
            " off. The verdict holds for what was recorded."
        )
    return tuple(flags)
