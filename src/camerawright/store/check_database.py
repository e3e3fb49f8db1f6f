"""What is wrong with the database itself: its tables, the guards of the journal, rows that refer to nothing."""

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import IntegrityError

from camerawright.store.tables import CACHES, GUARDS, METADATA
from camerawright.trouble import Refused, Trouble

ACCEPT: Final = "camerawright verify --accept"
RESTORE: Final = "restore it from a backup"
PUT_BACK: Final = f"nothing is lost, what it held is computed again; put it back: {ACCEPT}"
_SPACE: Final = re.compile(r"\s+")


def wrong_tables(connection: Connection, path: Path) -> Iterator[Trouble]:
    """Tables and columns that are missing."""
    there = inspect(connection)
    for table in METADATA.sorted_tables:
        if not there.has_table(table.name):
            mend = PUT_BACK if table in CACHES else RESTORE
            yield Trouble(where=str(path), what=f"the table {table.name} is missing", mend=mend)
            continue
        columns = {each["name"] for each in there.get_columns(table.name)}
        for column in table.columns:
            if column.name not in columns:
                what = f"the column {column.name} of the table {table.name} is missing"
                yield Trouble(where=str(path), what=what, mend=RESTORE)
        unique = {tuple(each["column_names"]) for each in there.get_unique_constraints(table.name)}
        for constraint in table.constraints:
            names = tuple(column.name for column in constraint.columns)  # type: ignore[attr-defined]
            if type(constraint).__name__ == "UniqueConstraint" and names not in unique:
                what = f"the table {table.name} takes the same {', '.join(names)} twice"
                yield Trouble(where=str(path), what=what, mend=RESTORE)


def triggers(connection: Connection) -> dict[str, str]:
    """The triggers there are."""
    if connection.dialect.name != "sqlite":
        return dict(GUARDS)
    found = connection.execute(text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"))
    return {str(name): str(sql) for name, sql in found}


def wrong_guards(connection: Connection) -> Iterator[Trouble]:
    """Guards of the journal that are missing or altered, and triggers that do not belong there."""
    there = triggers(connection)
    mend = f"see that the rest is whole, then put it right: {ACCEPT}"
    for name, sql in GUARDS.items():
        if name not in there:
            what = "it is missing, so entries could be changed or taken out"
            yield Trouble(where=f"the guard {name}", what=what, mend=mend)
        elif _SPACE.sub(" ", there[name]) != _SPACE.sub(" ", sql):
            yield Trouble(where=f"the guard {name}", what="it was altered", mend=mend)
    for name in there.keys() - GUARDS.keys():
        yield Trouble(where=f"the trigger {name}", what="another program put it into the database", mend=mend)


def wrong_indexes(connection: Connection) -> Iterator[Trouble]:
    """Indexes that are missing: without one a list is slow, or the same form makes two jobs."""
    there = inspect(connection)
    for table in METADATA.sorted_tables:
        if not there.has_table(table.name):  # named already
            continue
        names = {each["name"] for each in there.get_indexes(table.name)}
        for index in sorted(table.indexes, key=lambda index: str(index.name)):
            if index.name not in names:
                yield Trouble(where=f"the index {index.name}", what="it is missing", mend=f"put it back: {ACCEPT}")


def put_indexes_back(connection: Connection) -> None:
    """Make the indexes that are missing.

    Raises
    ------
    Refused
        Rows are there twice that may be there once.
    """
    missing = {trouble.where for trouble in wrong_indexes(connection)}
    for table in METADATA.sorted_tables:
        for index in table.indexes:
            if f"the index {index.name}" in missing:
                try:
                    index.create(connection)
                except IntegrityError as error:
                    what = "it cannot be put back: rows are there twice"
                    raise Refused(what, RESTORE, f"the index {index.name}") from error


def strange(connection: Connection) -> Iterator[Trouble]:
    """Tables and views that another program put in: they do no harm, and no command reads them."""
    there = inspect(connection)
    for name in sorted({*there.get_table_names(), *there.get_view_names()} - {*METADATA.tables, "alembic_version"}):
        mend = "no command reads it; find out which program that was"
        yield Trouble(where=f"the table or view {name}", what="another program put it into the database", mend=mend)


def orphans(connection: Connection) -> Iterator[Trouble]:
    """Rows that refer to rows that are not there."""
    if connection.dialect.name == "sqlite":
        for row in connection.execute(text("PRAGMA foreign_key_check")):
            what = f"it refers to a row of {row[2]} that is not there"
            yield Trouble(where=f"row {row[1]} of {row[0]}", what=what, mend=RESTORE)
