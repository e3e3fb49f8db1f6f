"""The pictures of the annex: all marks in one, and the one that shows most of the fastest speed as left."""

from collections.abc import Iterable, Sequence
from typing import Any, Final

from camerawright.bench.contract import BenchTest
from camerawright.journal.entries import Measured
from camerawright.papers.paper import Picture
from camerawright.readings.measuring import recording_of
from camerawright.readings.pictures import card_figure, svg
from camerawright.readings.recorded import is_of_now, record_of
from camerawright.readings.rows import Row
from camerawright.readings.set_up import marks_of
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Unreadable
from camerawright.wording import numbers

_WIDE_IN: Final = 174 / 25.4
"""Between the margins of the sheet: type in a picture is as large as it says."""
_MOST_HIGH_IN: Final = 95 / 25.4


def about(entry: Measured) -> str:
    """What a reading is of: ``1/250, as left``."""
    return f"{marks_of(entry) or entry.test}, {entry.phase}"


def pictures_of(
    workshop: Workshop, test: BenchTest[Any], table: Sequence[Row], of_test: Sequence[Measured]
) -> tuple[list[tuple[Picture, bytes]], list[str]]:
    """All marks in one picture; then what tells most of one reading, the fastest as it was left. Remarks too."""
    pictures = []
    card = card_figure(test, table) if sum(len(row.read) for row in table) > 1 else None
    if card is not None:
        pictures.append((Picture(name=f"{test.name}, all", words=_card_words(table)), _printed(card, 0.42)))
    best = most_telling(table, of_test)
    if not is_of_now(best):
        return pictures, [f"{about(best)}: no picture, it was read by an earlier version of the method"]
    record = record_of(best)
    try:
        figures = test.plots(recording_of(workshop, best), record)
    except (Refused, Unreadable) as why:
        return pictures, [f"{about(best)}: no picture, its recording cannot be read: {why}"]
    if figures:
        name, figure = next(iter(figures.items()))
        said = test.words(record)[name]
        drawn = said.partition(":")[0]  # which firing, of which mark: not all that the reading holds
        of = best.phase if "," in marks_of(best) else about(best)
        picture = Picture(
            name=f"{test.name}, one",
            words=f"{name}: {of}. {said}",
            caption=f"{name}: {of}; {drawn[:1].lower()}{drawn[1:]}",
        )
        pictures.append((picture, _printed(figure)))
    return pictures, []


def _printed(figure: Any, high: float | None = None) -> bytes:
    """A figure as wide as the sheet, as SVG; `high` as a part of that, else as it was drawn."""
    wide_in, high_in = figure.get_size_inches()
    figure.set_size_inches(_WIDE_IN, min(_MOST_HIGH_IN, _WIDE_IN * (high or high_in / wide_in)))
    return svg(figure)


def most_telling(table: Sequence[Row], of_test: Sequence[Measured]) -> Measured:
    """The fastest mark as left, as found where none was left; without marks the newest reading."""
    if table:
        left = [row for row in table if row.as_left] or table
        return left[-1].read[-1].entry
    left_only = [entry for entry in of_test if entry.phase == "as left"]
    return (left_only or of_test)[-1]


def _card_words(table: Iterable[Row]) -> str:
    """The picture of all marks in words."""
    return "; ".join(
        f"{row.marked}: {numbers.signed(read.against.mean.value)} stops {read.entry.phase}"
        for row in table
        for read in row.read
    )
