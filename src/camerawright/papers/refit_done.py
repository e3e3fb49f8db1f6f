"""What was done, for the refit sheet of a camera that is whole again: how it came apart and went together."""

from collections.abc import Iterator
from dataclasses import replace

from camerawright.job.now import JobNow
from camerawright.job.refit import needs_words
from camerawright.journal.entries import (
    Added,
    Adjusted,
    AidFitted,
    AidTakenOut,
    Entry,
    Found,
    Refitted,
    Removed,
    Set,
    Tension,
    Turned,
    part_key,
)
from camerawright.journal.order import constraints_said
from camerawright.journal.sentences import sentence
from camerawright.journal.state import Part
from camerawright.papers.paper import Line
from camerawright.papers.refit_steps import Step, after_words, hardware_lines, lines_of, step_of


def _how_it_came_off(part: Part, entry: Removed) -> Iterator[str]:
    """What was said of a part that came off although a fastener had not moved."""
    last = {part_key(tried.fastener): tried for tried in part.tried}
    if entry.overruled and any(tried.outcome == "no change" for tried in last.values()):
        yield entry.overruled


class Done:
    """The last strip-down and refit of each part, told in the order of the journal.

    `pending` holds what was done between two parts: it stands with the next one that moves.
    """

    def __init__(self, here: JobNow) -> None:
        self.here = here
        self.bonds = tuple(constraints_said(here.state))
        self.came_off: list[Step] = []
        self.went_back: list[Step] = []
        self.pending: list[str] = []
        for entry in here.state.entries:
            self._take(entry)

    def _take(self, entry: Entry) -> None:
        match entry:
            case Removed() if self.here.state.part(entry.part).removed is entry:
                self._off(self.here.state.part(entry.part), entry)
            case Refitted() if self.here.state.part(entry.part).refitted is entry:
                self._back(self.here.state.part(entry.part), entry)
            case Added() | Adjusted() | AidFitted() | AidTakenOut() | Set() | Tension() | Turned():
                self.pending.append(sentence(entry))

    def _first(self) -> tuple[Line, ...]:
        """What was done before this step, which is told now."""
        first, self.pending = self.pending, []
        return lines_of("first", first)

    def _off(self, part: Part, entry: Removed) -> None:
        lines = (
            *self._first(),
            *lines_of("after", (after_words(bond.first, bond) for bond in self.bonds if bond.keys[1] == part.key)),
            *lines_of("only when", needs_words(part, "removal")),
            *lines_of("mark", dict.fromkeys(mark.mark for mark in part.marks if mark.at <= entry.at)),
            *hardware_lines(entry),
            *lines_of("sits", (each.back for each in part.sits)),
            *lines_of("tool", filter(None, [entry.tool])),
            *lines_of("felt", (each for each in (entry.torque,) if each in {"tight", "seized"})),
            *lines_of("freed", (sentence(tried) for tried in part.tried if tried.outcome == "moved")),
            *lines_of("tried", (sentence(tried) for tried in part.tried if tried.outcome != "moved")),
            *lines_of("came off", _how_it_came_off(part, entry)),
            *lines_of("found", (found.what_is_found for found in part.findings)),
        )
        self.came_off.append(step_of(self.here, len(self.came_off) + 1, part, lines))

    def _back(self, part: Part, entry: Refitted) -> None:
        lines = (
            *self._first(),
            *lines_of("after", (after_words(bond.then, bond) for bond in self.bonds if bond.keys[0] == part.key)),
            *lines_of("only when", needs_words(part, "refit")),
            *lines_of("mark", dict.fromkeys(mark.mark for mark in part.marks if mark.at <= entry.at)),
            *lines_of("lubricant", map(sentence, part.lubricated)),
            *hardware_lines(entry),
            *lines_of("another one", filter(None, [entry.replacement])),
            *lines_of("done", self.answered(part.name)),
        )
        step = step_of(self.here, len(self.went_back) + 1, part, lines)
        self.went_back.append(replace(step, photos=()))

    def answered(self, name: str) -> Iterator[str]:
        """What was asked for before a part went back, or at the closing, and the answer."""
        answers = self.here.state.answers
        for promise in self.here.state.promises_ever(name):
            if promise.id in self.here.state.failed:
                yield self.here.state.asked_by(promise).removeprefix("check: ")
            elif promise.id in answers:
                parted = "; " if isinstance(promise, Found) else ": "
                yield f"{promise.asks.removeprefix('check: ')}{parted}{answers[promise.id].answer}"
