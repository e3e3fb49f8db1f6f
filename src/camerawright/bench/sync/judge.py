"""Each class of contact against its window, firing by firing, at each speed of a recording."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from camerawright.bench.marked_speeds import AtSpeed, sorted_to
from camerawright.bench.options import quoted
from camerawright.bench.sync.record import ClassVerdict, Firing, Measured, Speed
from camerawright.bench.sync.uses import (
    UNDER_TEST,
    USABLE,
    Setup,
    decided,
    during_opening,
    dwell_verdict,
    lights,
    never,
    resistance,
    resistance_class,
    worst,
)
from camerawright.handbook import sync
from camerawright.handbook.exposure import MarkedSpeed, name_of, stops
from camerawright.handbook.sync import Contact, Instant, Peak
from camerawright.quantity import Quantity, Verdict, Word, mean_of, verdict
from camerawright.wording import numbers

_WRONG_MARK_EV = 1.0
_LEVELS_DIFFER = 0.05  # between firings: a lamp on the mains caught at another moment, or a gain that moves
_TOPS_DIFFER = 0.15  # where blades turn back before the hole is free, the top depends on the time itself
_OPENS_ALIKE_S = 0.3e-3  # common practice: a clean leaf opens in 1 to 2 ms, within some hundredths of it


def judge(result: Measured, setup: Setup, marks: Sequence[MarkedSpeed]) -> tuple[Speed, ...]:
    """Judge every class, and the use of electronic flash and of bulbs, at each speed, slowest first.

    Raises
    ------
    NotUnderstood
        There are not as many speeds in the recording as marks were given.

    References
    ----------
    [jcgm-106] 8.3. [sync-glossary] windows.
    """
    return tuple(
        _speed(at, tuple(result.firings[i] for i in at.i_firings), setup)
        for at in sorted_to([firing.half_peak.value for firing in result.firings], marks)
    )


def _speed(at: AtSpeed, firings: tuple[Firing, ...], setup: Setup) -> Speed:
    """What the firings of one speed say."""
    dwell, _ = _mean([firing.dwell for firing in firings])
    dwells = [dwell_verdict(firing.dwell) for firing in firings if firing.dwell]
    return Speed(
        marked=at.mark.text if at.mark else None,
        likely=at.likely.text if at.likely else None,
        target_s=at.mark.target_s if at.mark else None,
        open_s=at.usual_s,
        i_firings=at.i_firings,
        shutter=setup.shutter,
        sensor_at=setup.sensor_at if setup.shutter == "focal-plane" else None,
        contact=setup.contact,
        classes=tuple(_class(contact, firings, setup) for contact in sync.CONTACTS),
        lights=lights(firings, setup),
        dwell=dwell,
        dwell_verdict=worst(dwells).word if dwells else None,
        flags=_flags(at, firings),
    )


def judged(firings: Sequence[Firing], speeds: Sequence[Speed], setup: Setup) -> tuple[Firing, ...]:
    """The firings with what was judged of each."""
    by_firing = {i: (speed, n) for speed in speeds for n, i in enumerate(speed.i_firings)}
    return tuple(_judged(firing, *by_firing[i], setup) for i, firing in enumerate(firings))


def _judged(firing: Firing, speed: Speed, n: int, setup: Setup) -> Firing:
    """One firing, the `n`-th of its speed."""
    ohm = resistance(firing, setup)
    rated = resistance_class(ohm)
    return replace(
        firing,
        resistance=ohm,
        resistance_class=(rated.name if rated else "undecided") if ohm else None,
        verdicts={one.contact: _decided(one.singles[n], setup) for one in speed.classes},
        usable_for_flash=USABLE[speed.lights[0].singles[n].word],
    )


def untold_class(speed: Speed) -> tuple[str, ...]:
    """Where nobody said which contact it is: how to say it, and what the delay would mean for each class."""
    if speed.contact:
        return ()
    would = [
        f"as {one.contact} it would be {decided(one.probability_within).word}"
        for one in speed.classes
        if one.probability_within is not None
    ]
    return (
        "You did not say which contact this is, so its class is undecided. By this delay,"
        f" {', '.join(would)}. Choose it under {quoted(UNDER_TEST)}.",
    )


def resistance_flags(firings: Sequence[Firing]) -> tuple[str, ...]:
    """What a resistance that is not low means, once for each class that was found."""
    found = {firing.resistance_class for firing in firings}
    return tuple(
        f"The closed contact's resistance is {one.name}: it {one.says} ({one.source})."
        for one in sync.RESISTANCES[1:]
        if one.name in found
    )


@dataclass(frozen=True)
class _Asked:
    """What a class of contact asks of the delay from an instant of the light, and who says so."""

    contact: Contact
    instant: Instant
    lower_s: float | None
    upper_s: float | None
    source: str
    says: str


def _class(contact: Contact, firings: Sequence[Firing], setup: Setup) -> ClassVerdict:
    """One class."""
    window = sync.window(contact, setup.shutter)
    if window is None:
        return _by_opening(contact, firings, setup)
    lower_s, upper_s = -window.most_s, -window.least_s
    says = (
        f"{numbers.short(1e3 * window.least_s)} to {numbers.short(1e3 * window.most_s)} ms before"
        f" {_named(window.instant)}"
    )
    asked = _Asked(contact, window.instant, lower_s, upper_s, window.source, says)
    if window.sensor_at in (None, setup.sensor_at):
        singles = tuple(_in_window(firing, window.instant, lower_s, upper_s) for firing in firings)
        return _class_verdict(asked, firings, singles, setup)
    says = f"{says}: put the sensor at the {window.sensor_at} of the curtain's way to judge it"
    return _class_verdict(replace(asked, says=says), firings, None, setup)


def _class_verdict(
    asked: _Asked, firings: Sequence[Firing], singles: tuple[Verdict, ...] | None, setup: Setup
) -> ClassVerdict:
    """A class by the verdicts of its firings; None where this set-up cannot judge it."""
    mean, spread = _mean([firing.delay(asked.instant) if firing.has_closed else None for firing in firings])
    decisive = worst(singles) if singles else None
    return ClassVerdict(
        contact=asked.contact,
        verdict=_decided(decisive, setup),
        probability_within=decisive.probability if decisive else None,
        instant=asked.instant,
        lower_s=asked.lower_s,
        upper_s=asked.upper_s,
        mean_delay=mean,
        repeatability_s=spread,
        source=asked.source,
        says=asked.says,
        singles=singles or (None,) * len(firings),
    )


def _decided(one: Verdict | None, setup: Setup) -> Word | None:
    """A class's verdict; undecided where nobody said which contact it is: some class fits almost any delay."""
    if one is None:
        return None
    return one.word if setup.contact else "undecided"


def _named(instant: Instant) -> str:
    """An instant in a sentence."""
    return "the " + instant if instant == "middle of the opening" else instant


def _by_opening(contact: Contact, firings: Sequence[Firing], setup: Setup) -> ClassVerdict:
    """X, and F whose bulb peaks a little later: what must fall while the shutter is fully open."""
    if contact in ("M", "FP"):
        says = f"there is no class {contact} contact on a {setup.shutter} shutter"
        return _class_verdict(_Asked(contact, "full open", None, None, sync.SOURCE_X, says), firings, None, setup)
    if contact == "F":
        return _of_f(next(peak for peak in sync.PEAKS if peak.bulb == "F"), firings, setup)
    singles = tuple(during_opening(firing, setup, 0.0, 0.0, 0.0) for firing in firings)
    says = "from full open until the closing begins"
    if setup.shutter == "focal-plane":
        says += (
            f"; the sensor at the {setup.sensor_at} cannot see both curtains, so it can say outside and never within"
        )
    return _class_verdict(_Asked(contact, "full open", 0.0, None, sync.SOURCE_X, says), firings, singles, setup)


def _of_f(peak: Peak, firings: Sequence[Firing], setup: Setup) -> ClassVerdict:
    """F, which is told by its bulb: the peak must fall while the shutter is fully open."""
    source = f"{peak.source}; here the peak must fall while the shutter is open"
    if setup.shutter != "leaf":
        says = "a class F bulb is over before a curtain has crossed"
        return _class_verdict(_Asked("F", "full open", None, None, source, says), firings, None, setup)
    singles = tuple(during_opening(firing, setup, peak.after_s, 0.0, peak.u_after_s) for firing in firings)
    says = (
        f"the bulb's peak, about {numbers.short(1e3 * peak.after_s)} ms after the make, while the shutter is fully open"
    )
    return _class_verdict(_Asked("F", "full open", -peak.after_s, None, source, says), firings, singles, setup)


def _in_window(firing: Firing, instant: Instant, lower_s: float, upper_s: float) -> Verdict:
    """A delay between two limits; a contact that did not close is in none."""
    if not firing.has_closed:
        return never(firing)
    delay = firing.delay(instant)
    return verdict(delay.value, delay.u, delay.dof, lower_s, upper_s)


def _mean(all_of: Sequence[Quantity | None]) -> tuple[Quantity | None, float | None]:
    """The mean over the firings that closed, with its repeatability; what they share is the largest of each line."""
    times = [one for one in all_of if one is not None]
    if not times:
        return None, None
    shared = {line.name for one in times for line in one.budget} - {"light noise"}
    spread = float(np.std([one.value for one in times], ddof=1)) if len(times) > 1 else None
    return mean_of(times, shared), spread


def _flags(at: AtSpeed, firings: Sequence[Firing]) -> tuple[str, ...]:
    """What the set-up and the recording say against each other."""
    flags = []
    if at.mark and abs(stops(at.usual_s, at.mark.target_s)) > _WRONG_MARK_EV:
        flags.append(
            f"The shutter was open for {name_of(at.usual_s)} and the mark is {at.mark.text}: another speed was set, or"
            " the shutter is far off. The verdict holds for what was recorded."
        )
    levels = [firing.level_fs for firing in firings]
    most = _LEVELS_DIFFER if all(firing.has_plateau for firing in firings) else _TOPS_DIFFER
    differ = max(levels) / min(levels) - 1
    if differ > most:
        flags.append(
            f"The full light differs by {numbers.percent(differ)} between firings, as with a lamp on the mains or a"
            " gain that moves. Full open and the closing may be misplaced: use a lamp on a battery, and switch every"
            " enhancement off."
        )
    opens_s = [one.delay("half light").value - one.delay("full open").value for one in firings if one.has_closed]
    if opens_s and max(opens_s) - min(opens_s) > _OPENS_ALIKE_S:
        flags.append(
            f"From half light to full open takes {numbers.fixed(1e3 * min(opens_s), 2)} to"
            f" {numbers.fixed(1e3 * max(opens_s), 2)} ms, and blades open alike every time. Either the light moves, as"
            " a mains lamp's does, or the blades stick. Full open may be misplaced."
        )
    return tuple(flags)
