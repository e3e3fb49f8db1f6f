"""How a column holds what SQLite has no type for: instants, days and lists."""

import json
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime
from sqlite3 import Connection
from typing import Any


def value(connection: Connection, sql: str, **named: object) -> Any:
    """The first value of the first row that a statement finds or returns; None where there is none."""
    row = connection.execute(sql, named).fetchone()
    return None if row is None else row[0]


def instant_text(at: datetime) -> str:
    """An instant as it is kept: in UTC, always to the microsecond, so that texts sort as instants do.

    Raises
    ------
    ValueError
        It has no offset, which is a bug of the caller.
    """
    if at.tzinfo is None:
        raise ValueError("an instant needs its offset")
    return at.astimezone(UTC).replace(tzinfo=None).isoformat(sep=" ", timespec="microseconds")


def instant(text: object) -> datetime:
    """An instant that was kept; a ValueError where the column holds none."""
    at: datetime = _read(datetime.fromisoformat, text)
    return at.replace(tzinfo=UTC)


def day(text: object) -> date:
    """A day that was kept as "2031-05-04"; a ValueError where the column holds none."""
    found: date = _read(date.fromisoformat, text)
    return found


def list_text(values: Iterable[object]) -> str:
    """A list of texts or numbers as it is kept: in JSON. A statement takes one too, and reads it with `json_each`."""
    return json.dumps(list(values))


def values(text: object) -> tuple[Any, ...]:
    """A list that was kept; a ValueError where the column holds none."""
    found = _read(json.loads, text)
    if not isinstance(found, list):
        raise ValueError(f"{text!r} is no list")
    return tuple(found)


def _read(parse: Callable[[str], Any], text: object) -> Any:
    """What a text says; another program may have put something else into the column."""
    if not isinstance(text, str):
        raise ValueError(f"{text!r} is no text")
    return parse(text)
