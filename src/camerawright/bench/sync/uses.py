"""Which lights may be used with a contact at one speed: electronic flash, and bulbs; and what its resistance says."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from camerawright.bench.sync.record import Firing, Light, Usable
from camerawright.handbook import sync
from camerawright.handbook.sync import Contact, Resistance, SensorAt, Shutter
from camerawright.quantity import CONFIDENCE, BudgetLine, Quantity, Verdict, Word, t_probability, verdict
from camerawright.wording import numbers

UNDER_TEST = "The contact under test"
SERIES = "All resistance in the ring but the contact's"
"""Options, by their labels."""
U_METER_OHM, U_METER_PART = 0.1, 0.02
"""u of a contact's resistance by an ohmmeter: its leads, and its range. Common practice."""
USABLE: Final[dict[Word, Usable]] = {"within": "yes", "outside": "no", "undecided": "undecided"}
_AT_MOST: Final[dict[Word, float]] = {"within": 1.0, "undecided": 0.5, "outside": 0.0}


@dataclass(frozen=True)
class Setup:
    """What no recording shows: the kind of shutter, where along the curtain's way the sensor is, which contact it is,
    and its resistance by a meter."""

    shutter: Shutter = "leaf"
    sensor_at: SensorAt = "middle"
    contact: Contact | None = None
    flash_s: float = sync.FLASH_S
    contact_ohm: float | None = None


def worst(verdicts: Sequence[Verdict]) -> Verdict:
    """Outside where one is outside, within only where all are within."""
    return min(verdicts, key=lambda one: one.probability)


def lights(firings: Sequence[Firing], setup: Setup) -> tuple[Light, ...]:
    """Electronic flash, and the bulbs that a leaf shutter may be open for; those of curtains are told by their class.

    Whether a light fires at all depends on the contact's resistance, and for a bulb on how long it is closed.
    """
    flash = _light(
        f"electronic flash of {numbers.short(1e3 * setup.flash_s)} ms",
        tuple(
            _at_most(during_opening(one, setup, 0.0, setup.flash_s, 0.0), _fires(one, setup).flash) for one in firings
        ),
        "it must fire after full open and end before the closing begins" + _doubt(firings, setup, is_bulb=False),
        "flash-duration",
        is_bulb=False,
    )
    if setup.shutter != "leaf":
        return (flash,)
    bulbs = tuple(
        _light(
            f"class {peak.bulb} bulb",
            tuple(_at_most(during_opening(one, setup, peak.after_s, 0.0, peak.u_after_s), _lit(one, setup))
                  for one in firings),
            f"its peak, about {numbers.short(1e3 * peak.after_s)} ms after the make, must fall while the shutter is"
            f" fully open{_doubt(firings, setup, is_bulb=True)}",
            peak.source,
            is_bulb=True,
        )
        for peak in sync.PEAKS
    )  # fmt: skip
    return (flash, *bulbs)


def _light(light: str, singles: tuple[Verdict, ...], says: str, source: str, *, is_bulb: bool) -> Light:
    """A light by its worst firing."""
    decisive = worst(singles)
    return Light(
        light=light, is_bulb=is_bulb, usable=USABLE[decisive.word], verdict=decisive.word,
        probability=decisive.probability, says=says, source=source, singles=singles,
    )  # fmt: skip


def never(firing: Firing) -> Verdict:
    """Of a contact that did not close: no, unless it may be the lead that is broken."""
    return decided(0.0 if firing.is_lead_whole else 0.5)


def during_opening(firing: Firing, setup: Setup, later_s: float, lasts_s: float, u_later_s: float) -> Verdict:
    """What begins `later_s` after the make and lasts `lasts_s`: after full open and before the closing?

    Notes
    -----
    Both must hold. By Bonferroni's inequality P(A and B) is P(A) + P(B) - 1 at the least, whatever uncertainty the two
    share.
    """
    if firing.to_closing is None:
        return never(firing)
    after = _beyond(firing.delay("full open"), -later_s, u_later_s)
    before = _beyond(firing.to_closing, later_s + lasts_s, u_later_s)
    if setup.shutter == "focal-plane":
        # the first curtain clears the frame at its end, the second sets out at its start: one sensor sees one of them
        ends = {"start": before, "end": after, "middle": min(after, before)}
        return decided(min(0.5, ends[setup.sensor_at]))
    return decided(max(0.0, after + before - 1))


def resistance(firing: Firing, setup: Setup) -> Quantity | None:
    """Of the closed contact: by the divider, else by the meter."""
    if not firing.has_closed or firing.resistance is not None or setup.contact_ohm is None:
        return firing.resistance
    ohm = setup.contact_ohm
    return Quantity(ohm, "ohm", (BudgetLine("leads", U_METER_OHM), BudgetLine("meter", U_METER_PART * ohm)))


def resistance_class(ohm: Quantity | None) -> Resistance | None:
    """The class that it surely is of; None where there is none."""
    if ohm is None:
        return None
    least = -math.inf
    for one in sync.RESISTANCES:
        if verdict(ohm.value, ohm.u, ohm.dof, least, one.most_ohm).word == "within":
            return one
        least = one.most_ohm
    return None


def dwell_verdict(dwell: Quantity) -> Verdict:
    """Whether the contact is closed for long enough to fire an electronic flash."""
    return verdict(dwell.value, dwell.u, dwell.dof, sync.LEAST_DWELL_S, math.inf)


def _fires(firing: Firing, setup: Setup) -> Resistance:
    """The class of the contact; healthy where it is not known to be otherwise."""
    return resistance_class(resistance(firing, setup)) or sync.RESISTANCES[0]


def _lit(firing: Firing, setup: Setup) -> Word:
    """Whether a bulb is lit."""
    through = _fires(firing, setup).bulb
    return "undecided" if through == "within" and _is_short(firing) else through


def _is_short(firing: Firing) -> bool:
    """Whether it is surely closed for less than a bulb wants."""
    dwell = firing.dwell
    return dwell is not None and (
        verdict(dwell.value, dwell.u, dwell.dof, sync.LEAST_DWELL_BULB_S, math.inf).word == "outside"
    )


def _doubt(firings: Sequence[Firing], setup: Setup, *, is_bulb: bool) -> str:
    """Why it may not fire at all."""
    classes = [_fires(firing, setup) for firing in firings]
    worse = [one for one in classes if (one.bulb if is_bulb else one.flash) != "within"]
    if worse:
        return f"; the contact's resistance is {worse[0].name}, so it may not fire it"
    if is_bulb and any(_is_short(firing) for firing in firings):
        return (
            f"; the contact is closed for less than the {numbers.short(1e3 * sync.LEAST_DWELL_BULB_S)} ms that a bulb"
            " needs"
        )
    return ""


def _at_most(one: Verdict, word: Word) -> Verdict:
    """A verdict no better than a word."""
    return decided(min(one.probability, _AT_MOST[word]))


def decided(probability: float) -> Verdict:
    """The word of a probability."""
    word: Word = "within" if probability >= CONFIDENCE else "outside" if probability <= 1 - CONFIDENCE else "undecided"
    return Verdict(word, probability)


def _beyond(quantity: Quantity, least: float, u_least: float) -> float:
    """Probability that a quantity is above a limit that is itself uncertain."""
    both = replace(quantity, budget=(*quantity.budget, BudgetLine("limit", u_least)))
    return t_probability((quantity.value - least) / both.u, both.dof)
