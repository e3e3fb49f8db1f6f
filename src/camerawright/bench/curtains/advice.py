"""What the numbers mean at the bench: which curtain is slow, by how much, at which end, and what to try first."""

import math

from camerawright.bench.curtains.groups import Compared, Speed
from camerawright.bench.curtains.measure import CurtainResult
from camerawright.bench.curtains.motion import stops_per_ms
from camerawright.bench.curtains.results import is_stray
from camerawright.handbook.exposure import name_of

_MATTERS_EV = 0.1  # less between the ends is nothing to work on. Common practice
_SLOW_S = 1 / 200  # slower than this the curtains' difference hardly shows in the exposure
_CLEAN_FIRST = (
    "Clean first: free that curtain's rollers, bearings, tapes and edge bar of old oil and dirt; only then touch its"
    " spring, a little at a time, and measure after each turn (common practice)."
)
_CAUTION = (
    "Curtain springs are wound up: hold the ratchet wheel before its pawl is lifted, let tension down tooth by tooth,"
    " and keep fingers and eyes away from its worm or pawl."
)


def advice(result: CurtainResult, compared: Compared | None, speeds: tuple[Speed, ...]) -> tuple[str, ...]:
    """Sentences for the repairer, what matters most first; empty where there is nothing to do."""
    out = [*_capping(result), *_thrown_back(result)]
    speed = compared.speed if compared else (speeds[0] if speeds else None)  # the fastest shows most
    if speed is None:
        return tuple(out)
    out.extend(_curtains(speed, is_capped=any(firing.capped_mm is not None for firing in result.firings)))
    if compared is not None:
        out.extend(_setting(compared))
    return tuple(out)


def _curtains(speed: Speed, *, is_capped: bool) -> list[str]:
    """How the two curtains differ, and what that does."""
    apart_mm = speed.at_mm[-1] - speed.at_mm[0]
    later, u95 = speed.later.value, speed.later.expanded_u
    ends = speed.points[0].value, speed.points[-1].value
    change = math.log2(ends[1] / ends[0])
    if abs(later) < u95:
        return [
            f"The curtains take the same time over {apart_mm:g} mm, {1e3 * speed.first.value:.2f} ms, within"
            f" {1e3 * u95:.2f} ms; leave their tensions alone."
        ]
    slow, fast = ("second", "first") if later > 0 else ("first", "second")
    text = (
        f"Over the {apart_mm:g} mm between the outer sensors the first curtain takes {1e3 * speed.first.value:.2f} ms,"
        f" the second {1e3 * speed.second.value:.2f} ms: the {slow} is slower by {1e3 * abs(later):.2f} ±"
        f" {1e3 * u95:.2f} ms ({100 * abs(later) / speed.first.value:.1f} %). The slit"
        f" {'widens' if later > 0 else 'narrows'} on its way: {name_of(ends[0])} at {speed.at_mm[0]:g} mm,"
        f" {name_of(ends[1])} at {speed.at_mm[-1]:g} mm, {abs(change):.2f} stop {'more' if later > 0 else 'less'} light"
        f" where the curtains end. Here 0.1 ms is {stops_per_ms(speed.effective.value, 0.1):.2f} stop."
    )
    if speed.effective.value > _SLOW_S:
        text += f" At 1/1000 it would be {math.log2(1 + abs(later) / 1e-3):.2f} stop."
        change = math.log2(1 + abs(later) / 1e-3)
    if abs(change) < _MATTERS_EV and not is_capped:
        return [text, "That is too little to work on."]
    return [
        text,
        f"Either the {slow} curtain drags or the {fast} is wound too tight. {_CLEAN_FIRST} If it stays slow, more"
        f" tension on the {slow}, or less on the {fast} where the maker's time says that one is fast.",
        _CAUTION,
    ]


def _setting(compared: Compared) -> list[str]:
    """The mean against the mark, once the curtains agree."""
    mean, limits = compared.mean, compared.mean.limits
    if limits is None or abs(mean.mean_ev.value) < mean.mean_ev.expanded_u:
        return []
    if limits.lower_ev <= mean.mean_ev.value <= limits.upper_ev:
        return []
    side, slit = ("slow", "wide") if mean.mean_ev.value > 0 else ("fast", "narrow")
    even = compared.speed.uneven.value < _MATTERS_EV
    return [
        f"Over the whole gate {abs(mean.mean_ev.value):.2f} stop {side}: the slit is too {slit}."
        + (
            " As both ends agree, that is the setting of the slit (when the second curtain is let go), not the tension."
            if even
            else " Bring the curtains to the same time first, then set the slit (when the second curtain is let go)."
        )
    ]


def _capping(result: CurtainResult) -> list[str]:
    """Where the slit closes."""
    capped = [firing for firing in result.firings if firing.capped_mm is not None]
    if not capped:
        return []
    worst = min(capped, key=lambda firing: firing.effective.value)
    where = worst.capped_mm
    assert where is not None
    ends = worst.sensors[0].exposure.value, worst.sensors[-1].exposure.value
    closes = ends[1] < ends[0]
    return [
        f"Capped in {len(capped)} of {len(result.firings)} firings: the slit"
        f" {'closes' if closes else 'is closed up to'} about {where.value:.0f} mm into the gate"
        f" (± {where.expanded_u:.0f} mm);"
        f" {'the second curtain overtakes the first' if closes else 'the second curtain starts before the slit opens'}."
        " The rest of the frame gets no light at this speed. A first curtain that drags does this as well as a second"
        " that is too tight: clean the first before anything else (common practice)."
    ]


def _thrown_back(result: CurtainResult) -> list[str]:
    """Light after the closing."""
    seen = [
        (one.again, one, i)
        for i, firing in enumerate(result.firings)
        for one in firing.sensors
        if one.again is not None and not is_stray(one, firing)
    ]
    if not seen:
        return []
    again, worst, _ = max(seen, key=lambda found: found[0].light_s / found[1].exposure.value)
    added = math.log2(1 + again.light_s / worst.exposure.value)
    return [
        f"The second curtain is thrown back in {len({i for *_, i in seen})} of {len(result.firings)} firings: light"
        f" again {1e3 * again.after_s:.1f} ms after it had closed at {worst.at_mm:g} mm, {added:.2f} stop more there."
        " Look at its brake and buffer first, and at too much tension after that (common practice)."
    ]
