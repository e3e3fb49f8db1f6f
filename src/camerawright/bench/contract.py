"""What a bench test is. Adding one: copy a folder, add a line to the catalogue."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from camerawright.handbook.tolerances import Profile
from camerawright.recordings.sound import Waveform

Json = dict[str, Any]
"""What `json.dumps` takes, keys in the order in which they are shown."""


class NotMeasurable(Exception):
    """The recording can be read and holds no answer: why, and what to do instead."""

    def __init__(self, reason: str, advice: str) -> None:
        super().__init__(f"{reason}. {advice}")
        self.reason = reason
        self.advice = advice


@dataclass(frozen=True)
class Outcome:
    """What a bench test made of one recording: for people, for scripts, for storage and for plots.

    `record` is the whole result as JSON: that is what is stored and printed, and what `plot` draws from. Exactly one of
    `record["refused"]` and a measurement is there.
    """

    record: Json

    @property
    def refused(self) -> Json | None:
        """Why there is no measurement, with its advice; None where there is one."""
        refused: Json | None = self.record["refused"]
        return refused


@dataclass(frozen=True)
class BenchTest:
    """One bench test.

    Attributes
    ----------
    name, title
        The word on the command line, and the title of the page.
    method
        The method and its version, kept with every result.
    setup
        How to set it up at the bench, in sentences. The folder's README says the rest.
    run
        ``run(waveform, marked, profile) -> Outcome``: measure, compare with the marked speed where one is given.
        Never raises `NotMeasurable`: a refusal is an outcome. Raises `NotASpeed` for a mark that cannot be read.
    simulate
        ``simulate(seed) -> Waveform``: an example recording.
    plots
        ``plots(waveform, outcome) -> {name: Figure}``.
    card
        ``card(as found, as left) -> Figure``: many readings in one picture, from their records; None without marks.
    lines
        ``lines(outcome) -> [text]``: the summary for the terminal.
    """

    name: str
    title: str
    method: str
    setup: str
    run: Callable[[Waveform, str | None, Profile | None], Outcome]
    simulate: Callable[[int], Waveform]
    plots: Callable[[Waveform, Outcome], dict[str, Any]]
    card: Callable[[list[Json], list[Json]], Any]
    lines: Callable[[Outcome], list[str]]
