"""What is wrong with the database itself: its tables, the guards of the journal, rows that refer to nothing."""

import re
from collections.abc import Iterator
from pathlib import Path
from sqlite3 import Connection, IntegrityError
from typing import Final

from camerawright.store.tables import CACHES, COLUMNS, GUARDS, INDEXES, UNIQUE
from camerawright.trouble import Refused, Trouble

ACCEPT: Final = "camerawright verify --accept"
RESTORE: Final = "restore it from a backup"
PUT_BACK: Final = f"nothing is lost, what it held is computed again; put it back: {ACCEPT}"
_SPACE: Final = re.compile(r"\s+")


def wrong_tables(connection: Connection, path: Path) -> Iterator[Trouble]:
    """Tables and columns that are missing."""
    there = _names(connection, "table")
    for table, columns in COLUMNS.items():
        if table not in there:
            mend = PUT_BACK if table in CACHES else RESTORE
            yield Trouble(where=str(path), what=f"the table {table} is missing", mend=mend)
            continue
        found = connection.execute("SELECT name FROM pragma_table_info(:table)", {"table": table}).fetchall()
        for column in sorted(set(columns) - {row["name"] for row in found}, key=columns.index):
            what = f"the column {column} of the table {table} is missing"
            yield Trouble(where=str(path), what=what, mend=RESTORE)
        if table in UNIQUE and UNIQUE[table] not in _unique(connection, table):
            what = f"the table {table} takes the same {', '.join(UNIQUE[table])} twice"
            yield Trouble(where=str(path), what=what, mend=RESTORE)


def _names(connection: Connection, kind: str) -> set[str]:
    """What there is of a kind in the database: tables, views, indexes."""
    found = connection.execute("SELECT name FROM sqlite_master WHERE type = :kind", {"kind": kind})
    return {row["name"] for row in found}


def _unique(connection: Connection, table: str) -> set[tuple[str, ...]]:
    """The columns that no two rows of a table may share, as the table itself says."""
    found = connection.execute(
        "SELECT list.name AS list, info.name FROM pragma_index_list(:table) AS list"
        " JOIN pragma_index_info(list.name) AS info WHERE list.origin = 'u' ORDER BY list.seq, info.seqno",
        {"table": table},
    )
    columns: dict[str, tuple[str, ...]] = {}
    for name, column in found:
        columns[name] = (*columns.get(name, ()), column)
    return set(columns.values())


def triggers(connection: Connection) -> dict[str, str]:
    """The triggers there are."""
    found = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'")
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
    for name in _missing_indexes(connection):
        yield Trouble(where=f"the index {name}", what="it is missing", mend=f"put it back: {ACCEPT}")


def _missing_indexes(connection: Connection) -> dict[str, str]:
    """How each is made, by name; those of a table that is missing itself are named with it."""
    tables, there = _names(connection, "table"), _names(connection, "index")
    return {
        name: sql
        for table, indexes in INDEXES.items()
        for name, sql in indexes.items()
        if table in tables and name not in there
    }


def put_back(connection: Connection) -> None:
    """Make the tables that can be thrown away, and the indexes, where they are missing.

    Raises
    ------
    Refused
        Rows are there twice that may be there once.
    """
    for name in CACHES.keys() - _names(connection, "table"):
        connection.execute(CACHES[name])
    for name, sql in _missing_indexes(connection).items():
        try:
            connection.execute(sql)
        except IntegrityError as error:
            what = "it cannot be put back: rows are there twice"
            raise Refused(what, RESTORE, f"the index {name}") from error


def strange(connection: Connection) -> Iterator[Trouble]:
    """Tables and views that another program put in: they do no harm, and no command reads them."""
    there = _names(connection, "table") | _names(connection, "view")
    for name in sorted(there - COLUMNS.keys() - {"alembic_version"}):
        if name.startswith("sqlite_"):  # SQLite's own
            continue
        mend = "no command reads it; find out which program that was"
        yield Trouble(where=f"the table or view {name}", what="another program put it into the database", mend=mend)


def orphans(connection: Connection) -> Iterator[Trouble]:
    """Rows that refer to rows that are not there."""
    for row in connection.execute("PRAGMA foreign_key_check"):
        what = f"it refers to a row of {row['parent']} that is not there"
        yield Trouble(where=f"row {row['rowid']} of {row['table']}", what=what, mend=RESTORE)
