"""What is told about a set-up, as a form has it: a field for each option of each test, and the input's name."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from camerawright.bench.contract import BenchTest
from camerawright.job.states import state_of
from camerawright.readings.set_up import SetUp, told_before, told_of
from camerawright.recordings.table import table_of, typed
from camerawright.store.workshop import Workshop
from camerawright.trouble import NotUnderstood
from camerawright.web.forms import BadFields, Typed

MARKED = "marked"
"""The field of the mark."""
INPUT = "input"
"""After a test's name: the field with the name of the input that a file was recorded by."""
WORDS = "words"
"""The field for the rest of the set-up, whatever is measured."""
_LEAST_ROWS = 8
_MOST_ROWS = 100  # a form has 200 fields
_DIGITS = 4


@dataclass(frozen=True, kw_only=True)
class Asked:
    """One field: its name, what it asks, what is written there, and the words to choose from where there are any."""

    name: str
    label: str
    about: str
    example: str
    choices: tuple[tuple[str, str], ...]


def asked(tests: Iterable[BenchTest[Any]]) -> dict[str, tuple[Asked, ...]]:
    """What each test wants to be told, by its name."""
    return {
        test.name: tuple(
            Asked(
                name=field_of(test.name, option.name),
                label=option.label,
                about=option.about,
                example=option.example,
                choices=(("", "not told"), *((word, word) for word in option.choices)) if option.choices else (),
            )
            for option in test.options
        )
        for test in tests
    }


def field_of(test: str, name: str) -> str:
    """The field of one of a test's options; two tests may have options of one name."""
    return f"{test}.{name}"


def typed_set_up(typed: Typed, test: BenchTest[Any]) -> SetUp:
    """What was told of the chosen test's set-up; the fields of the others stay unread."""
    told = {option.name: typed.get(field_of(test.name, option.name), "").strip() for option in test.options}
    return SetUp(
        options={name: text for name, text in told.items() if text},
        input=typed.get(field_of(test.name, INPUT), "").strip() or None,
        words=typed.get(WORDS, "").strip() or None,
    )


def filled_in(workshop: Workshop, job_id: str) -> dict[str, str]:
    """The fields as they were told last, test by test; the words as they were told last of this camera."""
    found: dict[str, str] = {}
    for test, told in told_before(workshop, job_id).items():
        found |= {field_of(test, name): text for name, text in told.options.items()}
        if told.input:
            found[field_of(test, INPUT)] = told.input
    here = state_of(workshop, workshop.job(job_id).id).measured
    if here and (words := told_of(here[-1]).words):
        found[WORDS] = words
    return found


# -- readings typed into a table ---------------------------------------------------------------------------------------


def cells_asked(tests: Iterable[BenchTest[Any]], given: Typed) -> dict[str, tuple[tuple[str, ...], ...]]:
    """The fields of each test that takes a table, row by row: as many rows as were sent, and no fewer than eight."""
    return {
        test.name: tuple(
            tuple(_cell(test.name, n, column.name) for column in test.medium.columns)
            for n in range(max(_LEAST_ROWS, _n_rows(given, test.name)))
        )
        for test in tests
        if test.medium.columns
    }


def typed_table(given: Typed, test: BenchTest[Any]) -> bytes | None:
    """The readings that were typed, as the CSV file in which they are kept; None where none were.

    Raises
    ------
    Unreadable
        A cell cannot be read.
    """
    columns = test.medium.columns
    rows = [
        {column.name: given.get(_cell(test.name, n, column.name), "") for column in columns}
        for n in range(_n_rows(given, test.name))
    ]
    if not any(text.strip() for row in rows for text in row.values()):
        return None
    table = typed(rows, columns)
    table_of(table, columns)
    return table


def _cell(test: str, n_row: int, column: str) -> str:
    return f"{test}.{n_row}.{column}"


def _n_rows(given: Typed, test: str) -> int:
    parts = (name.split(".") for name in given if name.startswith(f"{test}."))
    rows = (int(part[1]) for part in parts if len(part) == 3 and part[1].isdecimal() and len(part[1]) <= _DIGITS)
    return max((1 + row for row in rows if row < _MOST_ROWS), default=0)


# -- what cannot be understood -----------------------------------------------------------------------------------------


@contextmanager
def at_their_fields(test: str, typed: Typed) -> Iterator[None]:
    """What cannot be understood is raised as `BadFields`."""
    try:
        yield
    except NotUnderstood as bad:
        raise BadFields(field_errors(test, bad, typed.get(MARKED))) from None


def field_errors(test: str, bad: NotUnderstood, marked: str | None) -> dict[str, str]:
    """What cannot be understood, at the field in which it was typed; `marked` is what stands in the mark's."""
    said = f"{bad.what}; {bad.mend}"
    if bad.where and bad.where != MARKED:
        return {field_of(test, bad.where.replace("-", "_")): said}
    commas = "; for several speeds, list them all: 1/30, 1/60" if len((marked or "").split()) > 1 else ""
    return {MARKED: f"{said}{commas}"}
