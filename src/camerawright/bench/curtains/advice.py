"""What the numbers mean at the bench: which curtain is slow, by how much, at which end, and what to try first."""

import math
from typing import Final

from camerawright.bench.curtains.firing import is_stray
from camerawright.bench.curtains.motion import stops_per_ms
from camerawright.bench.curtains.record import Firing, GateComparison, Speed
from camerawright.bench.curtains.sensors import ALIKE_LABEL, CLASS
from camerawright.bench.options import quoted
from camerawright.handbook.exposure import name_of
from camerawright.quantity import Quantity
from camerawright.wording import numbers

_MATTERS_EV = 0.1  # less between the ends is nothing to work on. Common practice
_FAST_S = 1e-3  # the speed at which the curtains' difference is told
_SLOW_S = 1 / 200  # slower than this the curtains' difference hardly shows in the exposure
_CLEAN_FIRST: Final = (
    "Clean first: free the rollers, bearings, tapes and edge bar of that curtain from old oil and dirt. Only then turn"
    " its spring, a little at a time, and measure after each turn (common practice)."
)
_CAUTION: Final = (
    "The curtain springs are wound up. Hold the ratchet wheel before you lift its pawl, let the tension down tooth by"
    " tooth, and keep fingers and eyes away from the worm or pawl."
)


def advice(firings: tuple[Firing, ...], speed: Speed | None, compared: GateComparison | None) -> tuple[str, ...]:
    """Sentences for the repairer, what matters most first; empty where there is nothing to do.

    `speed` is the setting that was compared; without a mark the fastest, which shows most.
    """
    out = [*_capping(firings), *_thrown_back(firings)]
    if speed is None:
        return tuple(out)
    out.extend(_curtains(speed, is_capped=any(firing.capped for firing in firings)))
    if compared is not None:
        out.extend(_setting(compared, speed))
    return tuple(out)


def _curtains(speed: Speed, *, is_capped: bool) -> list[str]:
    """How the two curtains differ, and what that does."""
    later_s, expanded_s = speed.later.value, speed.later.expanded_u
    if abs(later_s) < expanded_s:
        apart_mm = numbers.short(speed.points[-1].at_mm - speed.points[0].at_mm)
        unsure = math.log2(1 + expanded_s / _FAST_S)
        if unsure > _MATTERS_EV:
            return [
                f"Over {apart_mm} mm the curtains differ by less than {_ms(expanded_s)}, and nothing finer can be told"
                f" here: at 1/1000 that would be {numbers.fixed(unsure, 2)} stop. Say which sensors these are"
                f" ({quoted(CLASS)}) and {quoted(ALIKE_LABEL)}."
            ]
        return [
            f"The curtains take the same time over {apart_mm} mm, {_ms(speed.first.value)}, within {_ms(expanded_s)}:"
            " leave their tensions alone."
        ]
    slow, fast = ("second", "first") if later_s > 0 else ("first", "second")
    change = _change(speed)
    text = _difference(speed, slow, change)
    if speed.effective.value > _SLOW_S:
        # a slit of 1/1000 s at the near end has that much more or less at the far end
        change = math.log2(1 + abs(later_s) / _FAST_S)
        text += f" At 1/1000 it would be {numbers.fixed(change, 2)} stop."
    if abs(change) < _MATTERS_EV and not is_capped:
        return [text, "That is too little to work on."]
    return [
        text,
        f"Either the {slow} curtain drags or the {fast} is wound too tight. {_CLEAN_FIRST} If it stays slow, give the"
        f" {slow} more tension. Give the {fast} less where the maker's time says that it is fast.",
        _CAUTION,
    ]


def _change(speed: Speed) -> float:
    """How much more light the far sensor gets than the near one. [stops]"""
    return math.log2(speed.points[-1].exposure.value / speed.points[0].exposure.value)


def _difference(speed: Speed, slow: str, change: float) -> str:
    """Which curtain is slower, and what the exposure does along the gate."""
    near, far, later = speed.points[0], speed.points[-1], speed.later
    part = numbers.percent(abs(later.value) / speed.first.value, 1)
    widens, more = ("widens", "more") if later.value > 0 else ("narrows", "less")
    return (
        f"Over the {numbers.short(far.at_mm - near.at_mm)} mm between the outer sensors the first curtain takes"
        f" {_ms(speed.first.value)}, the second {_ms(speed.second.value)}: the {slow} is slower by"
        f" {numbers.fixed(1e3 * abs(later.value), 2)} ± {_ms(later.expanded_u)} ({part}). The slit {widens} on its way:"
        f" {name_of(near.exposure.value)} at {numbers.short(near.at_mm)} mm, {name_of(far.exposure.value)} at"
        f" {numbers.short(far.at_mm)} mm, {numbers.fixed(abs(change), 2)} stop {more} light where the curtains end."
        f" Here 0.1 ms is {numbers.fixed(stops_per_ms(speed.effective.value, 0.1), 2)} stop."
    )


def _setting(compared: GateComparison, speed: Speed) -> list[str]:
    """The mean against the mark, once the curtains agree."""
    mean = compared.mean
    if compared.lower_ev is None or compared.upper_ev is None or abs(mean.value) < mean.expanded_u:
        return []
    if compared.lower_ev <= mean.value <= compared.upper_ev:
        return []
    side, slit = ("slow", "wide") if mean.value > 0 else ("fast", "narrow")
    text = f"Over the whole gate it is {numbers.fixed(abs(mean.value), 2)} stop {side}: the slit is too {slit}."
    if speed.uneven.value < _MATTERS_EV:
        return [
            f"{text} As both ends agree, that is the setting of the slit (when the second curtain is let go), not the"
            " tension."
        ]
    return [f"{text} Bring the curtains to the same time first, then set the slit (when the second curtain is let go)."]


def _capping(firings: tuple[Firing, ...]) -> list[str]:
    """Where the slit closes."""
    capped = [(firing, firing.capped) for firing in firings if firing.capped]
    if not capped:
        return []
    worst, where = min(capped, key=lambda one: one[0].effective.value)
    closes = worst.sensors[-1].exposure.value < worst.sensors[0].exposure.value
    return [
        f"Capped in {len(capped)} of {len(firings)} firings: the slit {'closes' if closes else 'is closed up to'} about"
        f" {_place(where)} into the gate;"
        f" {'the second curtain overtakes the first' if closes else 'the second curtain starts before the slit opens'}."
        " The rest of the frame gets no light at this speed. A first curtain that drags does this, and so does a second"
        " that is too tight: clean the first before you do anything else (common practice)."
    ]


def _place(where: Quantity) -> str:
    """Where the slit closes, to a millimetre."""
    return f"{numbers.fixed(where.value, 0)} mm (± {numbers.fixed(where.expanded_u, 0)} mm)"


def _thrown_back(firings: tuple[Firing, ...]) -> list[str]:
    """Light after the closing."""
    seen = [
        (one.again, one, i)
        for i, firing in enumerate(firings)
        for one in firing.sensors
        if one.again is not None and not is_stray(one, firing)
    ]
    if not seen:
        return []
    again, worst, _ = max(seen, key=lambda found: found[0].light_s / found[1].exposure.value)
    added = math.log2(1 + again.light_s / worst.exposure.value)
    return [
        f"The second curtain is thrown back in {len({i for *_, i in seen})} of {len(firings)} firings: light comes"
        f" again {numbers.fixed(1e3 * again.after_s, 1)} ms after it had closed at {numbers.short(worst.at_mm)} mm,"
        f" {numbers.fixed(added, 2)} stop more there. Look at its brake and buffer first, and then for too much tension"
        " (common practice)."
    ]


def _ms(time_s: float) -> str:
    """A time to a hundredth of a millisecond."""
    return f"{numbers.fixed(1e3 * time_s, 2)} ms"
