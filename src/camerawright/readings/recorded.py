"""The record that a reading keeps, read back in its test's own type."""

from functools import lru_cache
from typing import Any

from camerawright.bench.catalogue import BY_NAME
from camerawright.bench.comparison import Comparison
from camerawright.bench.contract import BenchTest, Speed, Table
from camerawright.bench.readable import NotReadable, record_read
from camerawright.bench.record import Record, Refusal
from camerawright.journal.entries import Measured


def test_of(entry: Measured) -> BenchTest[Any] | None:
    """The bench test that a reading was made by; None where this program has none of that name."""
    return BY_NAME.get(entry.test)


def is_of_now(entry: Measured) -> bool:
    """Whether a reading was made by the method as it is now, so that its pictures can be drawn from its record.

    Its recording is kept: it can be measured again.
    """
    test = test_of(entry)
    return test is not None and entry.method == test.method and record_of(entry).refused is None


def record_of(entry: Measured) -> Record:
    """What a reading found. One that cannot be read says so, and has no figures."""
    return _read(_Stored(entry))


def speeds(entry: Measured) -> tuple[Speed, ...]:
    """The settings of the dial in a reading; none where its test takes no marks, or the record cannot be read."""
    test, record = test_of(entry), record_of(entry)
    if test is None or test.marked is None or not isinstance(record, test.record):
        return ()
    return test.marked.speeds(record)


def comparisons(entry: Measured) -> tuple[Comparison, ...]:
    """Every comparison with a marked speed in a reading."""
    return tuple(speed.compared for speed in speeds(entry) if speed.compared)


def table(entry: Measured) -> Table:
    """The single firings behind a reading; an empty table where its record cannot be read."""
    test, record = test_of(entry), record_of(entry)
    return test.table(record) if test is not None and isinstance(record, test.record) else Table()


class _Stored:
    """An entry as the key of a cache: an entry is never edited, so its id says what it holds."""

    def __init__(self, entry: Measured) -> None:
        self.entry = entry
        self._key = (entry.id, entry.test, entry.recording)

    def __hash__(self) -> int:
        return hash(self._key)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Stored) and self._key == other._key


@lru_cache(maxsize=2048)
def _read(stored: _Stored) -> Record:
    entry = stored.entry
    test = test_of(entry)
    why = f"this program has no bench test {entry.test}"
    if test is not None:
        try:
            return record_read(test, entry.method, entry.result)
        except NotReadable as error:
            why = str(error)
    return Record(test=entry.test, method=entry.method, refused=Refusal(why, "Measure its recording again"))
