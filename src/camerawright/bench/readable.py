"""Whether a stored record is one that its bench test can read, and tell in every way that a shell asks for.

A journal may come from another bench, from an older program, or from somebody's editor. A record that its own test
cannot tell is no record: it is refused where it comes in, and shown as unreadable where it is there already.
"""

from collections.abc import Mapping
from typing import Any

from camerawright.bench import codec
from camerawright.bench.contract import BenchTest, Speed
from camerawright.bench.marked_speeds import written
from camerawright.bench.record import Record, figure_text
from camerawright.trouble import NotUnderstood

_LEAST_S, _MOST_S = 1e-7, 1e6
"""No shutter is faster or slower."""


class NotReadable(ValueError):
    """The record is none of that test; the message says why."""


def record_read(test: BenchTest[Any], method: str, result: Mapping[str, Any]) -> Record:
    """A record from its JSON, told once in every way in which a reading by that method is told.

    Raises
    ------
    NotReadable
        It cannot be read or told.
    """
    try:
        record: Record = codec.read(test.record, result)
        _tell(test, record, is_of_now=method == test.method)
    except Exception as error:  # whatever arithmetic makes of figures that nobody measured
        raise NotReadable(f"its record cannot be read ({type(error).__name__}: {str(error)[:200]})") from error
    return record


def _tell(test: BenchTest[Any], record: Record, *, is_of_now: bool) -> None:
    """Tell a record, for the errors that may come; an older one is told by its figures and its table alone."""
    if record.test != test.name:
        raise ValueError(f"it is of the test {record.test[:40]!r}")
    for figure in record.figures:
        figure_text(figure)
    if record.refused is not None:
        return
    table = test.table(record)
    if any(len(row) != len(table.heads) for row in table.rows):
        raise ValueError("its rows differ in length")
    for speed in test.marked.speeds(record) if test.marked is not None else ():
        _check(speed, len(table.rows))
    for tell in (test.remembered, *((test.lines, test.words, test.waveform) if is_of_now else ())):
        if tell is not None:
            tell(record)


def _check(speed: Speed, n_firings: int) -> None:
    """Refuse times that are none, and firings that are not there."""
    if any(not 0 <= i < n_firings for i in speed.i_firings):
        raise ValueError("it counts firings that are not there")
    compared = speed.compared
    times_s = (compared.target_s, compared.mean_s) if compared else ()
    for time_s in (*times_s, *([speed.effective.value] if speed.effective else ())):
        if not _LEAST_S < time_s < _MOST_S:
            raise ValueError(f"a shutter that is open for {time_s} s")


def setup_problem(test: BenchTest[Any], setup: Mapping[str, Any]) -> str:
    """What is wrong with what was told about a reading; "" for nothing."""
    for name in ("marked", "input", "words", "profile", "file"):
        if not isinstance(setup.get(name), str | None):
            return f"{name}: it is no text"
    options = setup.get("options") or {}
    if not isinstance(options, dict) or not all(isinstance(text, str) for text in options.values()):
        return "options: they are no texts by their names"
    if strange := options.keys() - {option.name for option in test.options}:
        return f"options: the test {test.name} has no option {min(strange)[:40]}"
    try:
        written(setup.get("marked") or "")
    except NotUnderstood as error:
        return f"marked: {error}"
    return ""
