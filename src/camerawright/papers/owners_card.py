"""The owner's card: what each marked speed gives as it was left, at each aperture of the lens, in plain words."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from camerawright.handbook.exposure import name_of
from camerawright.job.now import JobNow
from camerawright.papers.paper import Paper, head
from camerawright.papers.speeds import AtAperture, by_aperture, surest
from camerawright.readings.rows import Read
from camerawright.readings.validity import in_force
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.wording import numbers


@dataclass(frozen=True, kw_only=True)
class SpeedShown:
    """One marked speed: about which time it gives as it was read, and how many stops it is off at each aperture."""

    marked: str
    gives: str  # "1/310"
    off: tuple[str, ...]  # "+0.7"; "0.7 slow" on a card of one aperture


@dataclass(frozen=True, kw_only=True)
class OwnersCard(Paper):
    """What the dial's speeds give, for the owner's wallet."""

    apertures: tuple[str, ...]  # "f/8"; one alone has no name
    speeds: tuple[SpeedShown, ...]
    expanded_u: str  # the largest of those shown, in stops
    sentence: str = ""  # on the speed that is farthest off
    note: str = ""  # what the dial's marks stand for, where that is not what they say


def owners_card(workshop: Workshop, here: JobNow) -> OwnersCard:
    """The speeds as left; of several tests that read one, the surest counts.

    Raises
    ------
    Refused
        No speed was read as left, or something made those readings void since.
    """
    table = surest(in_force(here.state))
    read = [row.as_left for row in table if row.as_left]
    if not read:
        raise Refused(
            f"no marked speed of {here.job.id} has a reading as left that still holds",
            "measure the speeds as left, and print it then",
            "owner's card",
        )
    shown = by_aperture(here.job.camera, read)
    doubts = [cell.error.expanded_u for row in shown.cells for cell in row if cell]
    has_several = len(shown.apertures) > 1
    return OwnersCard(
        **head(workshop, here),
        apertures=tuple(aperture.name for aperture in shown.apertures) if has_several else (),
        speeds=tuple(
            SpeedShown(
                marked=one.against.marked,
                gives=about(one.against.mean_s),
                off=tuple(map(_signed_off, cells)) if has_several else (off_words(one.against.mean.value),),
            )
            for one, cells in zip(read, shown.cells, strict=True)
        ),
        expanded_u=numbers.never_less(max(doubts)),
        sentence=_sentence(read, has_several=has_several),
        note=" ".join(
            filter(None, [_not_left([row.marked for row in table if not row.as_left]), _marks_stand_for(read)])
        ),
    )


def _not_left(marks: Sequence[str]) -> str:
    """The speeds that were read as found only."""
    return f"Not measured after the work: {', '.join(marks)}." if marks else ""


def about(time_s: float) -> str:
    """A time as on a dial, to two digits: "1/310", "1.1 s"."""
    if time_s >= 0.95:
        return f"{numbers.fixed(time_s, 1 if time_s < 9.95 else 0)} s"
    return name_of(1 / float(f"{1 / time_s:.2g}"))


def off_words(stops: float) -> str:
    """How far off in plain words: "0.7 slow", "as marked" where a tenth of a stop does not show it."""
    tenths = numbers.fixed(abs(stops), 1)
    return "as marked" if tenths == "0.0" else f"{tenths} {'slow' if stops > 0 else 'fast'}"


_NOT_TOLD: Final = "–"


def _signed_off(cell: AtAperture | None) -> str:
    """How far off with its sign, to a tenth of a stop; 0 where a tenth does not show it."""
    if cell is None:
        return _NOT_TOLD
    tenths = numbers.signed(cell.error.value, 1)
    return "0" if tenths[1:] == "0.0" else tenths


def _sentence(read: Sequence[Read], *, has_several: bool) -> str:
    """The speed that is farthest off as it was read, in a sentence."""
    against = max((one.against for one in read), key=lambda against: abs(against.mean.value))
    off = off_words(against.mean.value)
    if off == "as marked":
        if has_several:
            return "Wide open each speed above is as marked, to a tenth of a stop."
        return "Each speed above gives what the dial says, to a tenth of a stop."
    more = "more" if against.mean.value > 0 else "less"
    gives = f"{against.marked} gives about {about(against.mean_s)}"
    return f"{gives}: {off.split()[0]} stop {more} light than the dial says."


def _marks_stand_for(read: Sequence[Read]) -> str:
    """What the marks stand for, where that is not what they say; that they double only where every step does."""
    against = [one.against for one in read]
    differ = [
        f"{one.marked} is exactly {name_of(one.target_s)}" for one in against if name_of(one.target_s) != one.marked
    ]
    doubles = len(against) > 1 and all(
        abs(slow.target_s / fast.target_s - 2) < 1e-6 for slow, fast in pairwise(against)
    )
    if not differ:
        return ""
    said = f"{', '.join(differ)}."
    return f"Each step of the dial doubles the time: {said}" if doubles else said
