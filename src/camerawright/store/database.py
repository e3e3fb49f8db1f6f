"""The SQLite file of a workshop: whose it is, how it is opened, its transactions, and its migrations."""

import os
import re
import shutil
import sqlite3
from collections import deque
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from sqlite3 import Connection
from threading import Lock
from typing import Final

from camerawright.recordings import disk
from camerawright.store.tables import COLUMNS, REVISIONS
from camerawright.trouble import Refused
from camerawright.wording import numbers

FILE_NAME: Final = "camerawright.sqlite"
APPLICATION_ID: Final = 0x43575754  # "CWWT", at offset 68 of the file
BUSY_S: Final = 10.0
_LOG_INDEX_BYTES: Final = 64 * 1024  # it grows by 32 KiB (https://sqlite.org/walformat.html, 2.2), and the log itself
_MAGIC: Final = b"SQLite format 3\0"

_MARK: Final = "alembic_version"
_A_MARK: Final = re.compile(r"[0-9]{4}")

_PRAGMAS: Final = (
    "journal_mode = WAL",
    "synchronous = FULL",  # a commit is on the disk before it is answered
    "fullfsync = ON",  # macOS: through the drive's own cache too
    "foreign_keys = ON",
)
"""What every connection that writes needs before its first use."""

_TROUBLES: Final = (  # the name SQLite gives the error begins so -> what it means, and the mend
    ("SQLITE_READONLY", "it may not be written", "give this user leave to write the folder and its files"),
    ("SQLITE_CANTOPEN", "it may not be opened", "give this user leave to read and write the folder and its files"),
    ("SQLITE_PERM", "it may not be opened", "give this user leave to read and write the folder and its files"),
    ("SQLITE_BUSY", f"another program kept it locked for {numbers.short(BUSY_S)} s", "wait for it and do it again"),
    ("SQLITE_IOERR", "the disk would not read or write it", "look after the disk, then restore a backup if need be"),
    ("SQLITE_CORRUPT", "its content is damaged", "restore a backup"),
    ("SQLITE_NOTADB", "it is not a workshop's database", "give another folder, or restore a backup"),
)

_DAMAGED: Final = ("no such table", "no such column", "Could not decode", "malformed")
"""How messages begin to which SQLite gives no name of their own."""


class DiskFull(Refused):
    """The disk is too full to write to."""

    def __init__(self, path: Path) -> None:
        super().__init__("the disk is full, nothing was written", "free some space and do it again", str(path))


def is_ours(path: Path) -> bool:
    """Whether a file is a workshop's database, told from its first bytes alone, so that nothing is touched.

    Raises
    ------
    OSError
        The file cannot be read.
    """
    with path.open("rb") as file:
        head = file.read(100)
    return head.startswith(_MAGIC) and int.from_bytes(head[68:72], "big") == APPLICATION_ID


class Database:
    """An open database file.

    Parameters
    ----------
    path
        The file. It must be ours (`is_ours`) or about to become so (`lay_down`).
    is_read_only
        Whether it lies where nothing can be written.
    is_full
        Whether that is because the disk is full.
    copy_of
        The file that it is a copy of for now: troubles name that one.
    """

    def __init__(
        self, path: Path, *, is_read_only: bool = False, is_full: bool = False, copy_of: Path | None = None
    ) -> None:
        self.path, self.is_read_only, self._file = copy_of or path, is_read_only or is_full, path
        self._is_full = is_full
        self._address = _read_only(path) if self.is_read_only else str(path)
        self._idle: deque[Connection] = deque()
        self._one_writer = Lock()

    def close(self) -> None:
        """Let go of the file."""
        while self._idle:
            self._idle.pop().close()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent look at the database; a row that holds no such thing as it should is told as `Refused`."""
        try:
            with self._transaction("BEGIN") as connection:
                yield connection
        except ValueError as error:  # bytes that are no text, a day that is none, JSON that is none
            mend = "see `camerawright verify`, and restore a backup"
            raise Refused("something in it cannot be read", mend, str(self.path)) from error

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction, locked for writing from its start, on the disk when the block is left without error.

        The threads of this process wait for each other here: SQLite asks again now and then for its lock, and where
        many ask, one of them can be left out until its time is over.
        """
        if self._is_full:
            raise DiskFull(self.path)
        if self.is_read_only:
            mend = "give this user leave to write it, or copy the workshop to a disk that can be written"
            raise Refused("it may not be written", mend, str(self.path))
        with self._one_writer, self._transaction("BEGIN IMMEDIATE") as connection:
            yield connection

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[Connection]:
        """A transaction, undone where the block is left by an error."""
        with self._told(), self._connection() as connection:
            connection.execute(begin)
            try:
                yield connection
                connection.execute("COMMIT")
            finally:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")

    @contextmanager
    def _told(self) -> Iterator[None]:
        """Mendable troubles of the database are told as `Refused`."""
        try:
            yield
        except sqlite3.Error as error:
            raise (trouble(error, self.path) or error) from error
        except UnicodeDecodeError as error:  # in SQLite's own words, and in the names of tables
            raise Refused("its content is damaged", "restore a backup", str(self.path)) from error

    @contextmanager
    def _connection(self) -> Iterator[Connection]:
        """A connection that no other thread uses meanwhile; afterwards the next one has it, unless there was an error.

        An error may hold on to a half-read statement: its connection sees the database as it was, and may not write.
        """
        try:
            connection = self._idle.pop()
        except IndexError:
            connection = self._open()
        try:
            yield connection
        except BaseException:
            connection.close()
            raise
        self._idle.append(connection)

    def _open(self) -> Connection:
        """A new connection: transactions are begun by us, and rows know the names of their columns."""
        connection = sqlite3.connect(
            self._address, timeout=BUSY_S, isolation_level=None, check_same_thread=False, uri=self.is_read_only
        )
        connection.row_factory = sqlite3.Row
        try:
            for pragma in () if self.is_read_only else _PRAGMAS:
                connection.execute(f"PRAGMA {pragma}")
        except BaseException:
            connection.close()
            raise
        return connection

    def revision(self) -> str | None:
        """The last migration applied; None where none ever was.

        Raises
        ------
        Refused
            A newer program wrote it, or the mark that says which migration was the last is gone or is none.
        """
        with self.reading() as connection:
            there = {row["name"] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            found = f"SELECT CAST(version_num AS BLOB) FROM {_MARK}"
            marks = [row[0] for row in connection.execute(found)] if _MARK in there else []
            if not marks and there.isdisjoint(COLUMNS):
                return None
        mark = marks[0].decode(errors="replace") if len(marks) == 1 and marks[0] else ""
        if mark in REVISIONS:
            return mark
        if not _A_MARK.fullmatch(mark):
            what = f"the mark of its tables ({_MARK}) should be one of {REVISIONS[0]} to {REVISIONS[-1]}, and is"
            raise Refused(f"{what} {_said(marks)}", "another program changed it: restore a backup", str(self.path))
        what = f"a newer camerawright wrote it (tables {mark}, this program knows {REVISIONS[-1]})"
        raise Refused(what, "install the newer camerawright", str(self.path))

    def copy_to(self, path: Path) -> None:
        """Copy the database as it is at one moment, while others go on writing, to a file that is not there yet.

        In one go (the online backup API with all pages): a copy in steps starts again at every write.
        """
        try:
            disk.touch(path)
            with self._connection() as source, closing(sqlite3.connect(path)) as target:
                source.backup(target, pages=-1)
                target.execute("PRAGMA journal_mode = DELETE")  # one file, that a read-only disk can hold too
        except sqlite3.Error as error:
            raise (trouble(error, path) or error) from error

    def damage(self) -> tuple[str, ...]:
        """What SQLite's own checks find wrong, in its words."""
        with self._file.open("rb") as file:
            versions = file.read(20)[18:]
        if not set(versions) <= {1, 2}:  # https://sqlite.org/fileformat.html, 1.3.3: a greater one may only be read
            return (f"its write and read version should be 1 or 2, and are {' and '.join(map(str, versions))}",)
        try:
            with self._connection() as connection:
                found = [row[0] for row in connection.execute("PRAGMA integrity_check")]
        except (sqlite3.DatabaseError, UnicodeDecodeError) as error:
            return (str(error),)
        return tuple(words for words in found if words != "ok")

    def upgrade(self) -> bool:
        """Bring the tables to what this program works with, in one transaction; whether that was needed.

        Raises
        ------
        Refused
            A newer program wrote them, or they are not what their mark says. Then they are as they were.
        """
        found = self.revision()
        if found == REVISIONS[-1]:
            return False
        # It loads SQLAlchemy and Alembic: that takes longer than most commands take as a whole.
        from camerawright.store.migrations import steps  # noqa: PLC0415

        try:
            with self._told(), self._one_writer, closing(self._open()) as connection:
                connection.row_factory = None  # SQLAlchemy makes its own
                steps.take(connection)
        except (sqlite3.Error, ValueError) as error:
            what = f"its tables are not those of their mark, {found or 'none'} ({error})"
            raise Refused(what, "another program changed it: restore a backup", str(self.path)) from error
        return True


def lay_down(path: Path) -> None:
    """Make a new database file that says whose it is; tables come with `Database.upgrade`."""
    # Before it is a WAL database, so that the file itself says so and not only the log beside it.
    try:
        disk.touch(path)  # SQLite's own files beside it get the same permissions
        connection = sqlite3.connect(path, timeout=BUSY_S)
        try:
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        finally:
            connection.close()
    except sqlite3.Error as error:
        raise (trouble(error, path) or error) from error


def is_read_only(path: Path) -> bool:
    """Whether this user may not write a file or the folder it lies in, or their disk takes nothing."""
    effective = {"effective_ids": True} if os.access in os.supports_effective_ids else {}
    return not all(os.access(each, os.W_OK, **effective) for each in (path, path.parent))


def trouble(error: BaseException | None, path: Path) -> Refused | None:
    """What a database error means to the user; None where it is a bug."""
    name = getattr(error, "sqlite_errorname", None) or ""
    if name == "SQLITE_FULL" or (name.startswith("SQLITE_IOERR") and _has_no_room(path.parent)):
        return DiskFull(path)
    for beginning, where, mend in _TROUBLES:
        if name.startswith(beginning):
            return Refused(where, mend, str(path))
    if any(str(error).startswith(beginning) for beginning in _DAMAGED):
        return Refused(f"its content is damaged ({error})", "restore a backup", str(path))
    return None


def _has_no_room(folder: Path) -> bool:
    """Whether a disk has no room for the index of SQLite's log: without it, SQLite says that the disk fails."""
    try:
        return shutil.disk_usage(folder).free < _LOG_INDEX_BYTES
    except OSError:
        return False


def _said(marks: Sequence[bytes | None]) -> str:
    """The marks of a database's tables, as they are quoted."""
    said = " and ".join(f"“{(mark or b'').decode(errors='replace')[:20]}”" for mark in marks[:3])
    return said + (" and more" if len(marks) > 3 else "") or "missing"


def _read_only(path: Path) -> str:
    """The address by which SQLite opens a file without writing anything beside it.

    References
    ----------
    https://sqlite.org/uri.html: `immutable` asks for no lock and no log, which a log's index would need to be written
    for. Where a log is there, others may write, or left something in it: then it is needed.
    """
    log = path.with_name(f"{path.name}-wal")
    return f"{path.absolute().as_uri()}?mode=ro{'' if log.exists() and log.stat().st_size else '&immutable=1'}"
