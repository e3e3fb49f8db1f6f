"""What the owner's card says: each marked speed as it was left, wide open and stopped down, in plain words."""

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from camerawright.bench.catalogue import CATALOGUE
from camerawright.bench.comparison_record import never_less
from camerawright.bench.contract import Json
from camerawright.handbook.exposure import name_of
from camerawright.job.now import JobNow
from camerawright.papers import card_content
from camerawright.papers.letterhead import card_head
from camerawright.readings.apertures import widest_f_number
from camerawright.readings.rows import Read, rows, void
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused

F_NUMBER: Final = 8.0
"""The aperture that the card shows besides the largest."""
STOPS_DOWN: Final = 2.0
"""By how much it is stopped down instead where the largest aperture is not known. [stops]"""


_SERIES: Final = "A dial doubles from speed to speed: 1/60 stands for 1/64, 1/125 for 1/128."


def owner_card(workshop: Workshop, here: JobNow) -> card_content.OwnerCard:
    """The speeds as left; of several tests that read one, the surest counts.

    Raises
    ------
    Refused
        No speed was read as left, or something made those readings void since.
    """
    read = _as_left(here)
    if not read:
        raise Refused(
            f"no marked speed of {here.job.id} has a reading as left that still holds",
            "measure the speeds as left, and print it then",
            "owner's card",
        )
    largest = widest_f_number(here.job.camera, (one.entry for one in read))
    down = STOPS_DOWN if largest is None else 2 * math.log2(F_NUMBER / largest)
    smaller = [stopped_down(one.record, down) for one in read]
    is_stopped = any(smaller)
    doubts = [one.against["U95_mean_stops"] for one in read] + [one.expanded_stops for one in smaller if one]
    farthest = max(read, key=lambda one: abs(one.against["mean_stops"]))
    return card_content.OwnerCard(
        **card_head(workshop, here),
        speeds=tuple(_shown(one, stopped) for one, stopped in zip(read, smaller, strict=True)),
        expanded_u=never_less(max(doubts)),
        stopped=(f"{STOPS_DOWN:g} stops down" if largest is None else f"at f/{F_NUMBER:g}") if is_stopped else "",
        sentence=_sentence(farthest, is_stopped=is_stopped),
        series=_SERIES if any(one.against.get("series") == "power of two" for one in read) else "",
    )


def _as_left(here: JobNow) -> list[Read]:
    """One reading for each marked speed, slowest first."""
    is_void = void(here.state)
    measured = [entry for entry in here.state.measured if entry.id not in is_void]
    surest: dict[str, Read] = {}
    for test in CATALOGUE:
        for row in rows(measured, test):
            known = surest.get(row.marked)
            if row.as_left and (
                known is None or row.as_left.against["U95_mean_stops"] < known.against["U95_mean_stops"]
            ):
                surest[row.marked] = row.as_left
    return sorted(surest.values(), key=lambda one: -one.against["target_s"])


def _shown(read: Read, stopped: "StoppedDown | None") -> card_content.SpeedShown:
    """One speed. The mark is as engraved."""
    against = read.against
    return card_content.SpeedShown(
        marked=against["marked"],
        open=_gives(against["mean_s"], against["target_s"]),
        stopped=None if stopped is None else _gives(stopped.effective_s, against["target_s"]),
    )


@dataclass(frozen=True, kw_only=True)
class StoppedDown:
    """An effective time with the lens stopped down, and half its 95 % interval in stops."""

    effective_s: float
    expanded_stops: float


def stopped_down(record: Json, stops_down: float) -> StoppedDown | None:
    """The effective time with the lens stopped down, as the record of its one speed predicts it.

    None where the record has no such prediction, or none that far. Between two predictions the time runs straight with
    the relative radius of the aperture, as for a round opening that grows at a steady rate; its uncertainty is the
    larger of theirs.
    """
    for speed in record.get("speeds") or ():
        known = [{**speed, "stops_down": 0.0}, *(speed.get("stopped_down") or ())]
        radius = 2.0 ** (-stops_down / 2)
        for one, other in pairwise(known):
            wide, narrow = (2.0 ** (-each["stops_down"] / 2) for each in (one, other))
            if narrow <= radius < wide:
                part = (wide - radius) / (wide - narrow)
                return StoppedDown(
                    effective_s=one["effective_s"] + (other["effective_s"] - one["effective_s"]) * part,
                    expanded_stops=max(_expanded_stops(one), _expanded_stops(other)),
                )
    return None


def _expanded_stops(time: Json) -> float:
    """Half the 95 % interval of an effective time of a record, in stops."""
    return float(time["k95_effective"] * time["u_effective_s"] / time["effective_s"] / math.log(2))


def _gives(time_s: float, target_s: float) -> card_content.Gives:
    """A time to two digits, and its error to a tenth of a stop."""
    return card_content.Gives(about=about(time_s), off=off_words(math.log2(time_s / target_s)))


def about(time_s: float) -> str:
    """A time as on a dial, to two digits: "1/310", "1.1 s"."""
    if time_s >= 0.95:
        return f"{time_s:.1f} s" if time_s < 9.95 else f"{time_s:.0f} s"
    return name_of(1 / float(f"{1 / time_s:.2g}"))


def off_words(stops: float) -> str:
    """How far off in plain words: "0.7 slow", "as marked" where a tenth of a stop does not show it."""
    tenths = f"{abs(stops):.1f}"
    return "as marked" if tenths == "0.0" else f"{tenths} {'slow' if stops > 0 else 'fast'}"


def _sentence(read: Read, *, is_stopped: bool) -> str:
    """The speed that is farthest off wide open, in a sentence."""
    against = read.against
    off = off_words(against["mean_stops"])
    if off == "as marked":
        if is_stopped:
            return "Wide open every speed is as marked, to a tenth of a stop."
        return "Every speed gives what the dial says, to a tenth of a stop."
    more = "more" if against["mean_stops"] > 0 else "less"
    gives = f"{against['marked']} gives about {about(against['mean_s'])}"
    return f"{gives}: {off.split()[0]} stop {more} light than the dial says."
