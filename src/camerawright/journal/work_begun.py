"""Whether the work had begun when a reading was entered as found: what had come off, been cleaned, or been turned."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from camerawright.journal.entries import Adjusted, Cleaned, Entry, Lubricated, Measured, Removed, part_key
from camerawright.wording.names import is_plural

_MOST_NAMED: Final = 3


@dataclass
class WorkBegun:
    """The work of a job so far. What came off counts for ever: that it is back makes nothing as it was found."""

    off: dict[str, str] = field(default_factory=dict)  # names of parts, by key
    cleaned: dict[str, str] = field(default_factory=dict)
    lubricated: dict[str, str] = field(default_factory=dict)
    turned: dict[str, dict[str, None]] = field(default_factory=dict)  # adjusters, by the test that they were turned for
    before: set[str] = field(default_factory=set)  # recordings that were entered as found before any of this

    def take(self, entry: Entry) -> None:
        """The next entry in force."""
        match entry:
            case Removed():
                self.off.setdefault(part_key(entry.part), entry.part)
            case Cleaned():
                self.cleaned.setdefault(part_key(entry.part), entry.part)
            case Lubricated():
                self.lubricated.setdefault(part_key(entry.part), entry.part)
            case Adjusted(test=str(test)):
                self.turned.setdefault(part_key(test), {})[entry.adjuster] = None
            case Measured(phase="as found") if not self.in_words(entry):
                self.before.add(entry.recording)

    def in_words(self, reading: Measured) -> str:
        """What had been done before a reading, for its test: "top cover came off"; "" for nothing.

        A recording that was entered before the work, and is measured again, is as found however late that is.
        """
        if reading.recording in self.before:
            return ""
        done = (
            (list(self.turned.get(part_key(reading.test), ())), "turned"),
            (list(self.off.values()), "came off"),
            (list(self.cleaned.values()), "cleaned"),
            (list(self.lubricated.values()), "lubricated"),
        )
        return " and ".join(_said(names, what) for names, what in done if names)


def _said(names: list[str], what: str) -> str:
    """The first few names, and what was done: "cam, ring, stop and 2 more came off"."""
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    is_one = len(names) == 1 and not is_plural(names[0])
    was = "" if what == "came off" else "was " if is_one else "were "
    return f"{', '.join(names[:_MOST_NAMED])}{more} {was}{what}"


def work_before(entries: Iterable[Entry], reading: Measured) -> str:
    """What had been done by these entries, before a reading as found; "" for nothing."""
    begun = WorkBegun()
    for entry in entries:
        begun.take(entry)
    return begun.in_words(reading)
