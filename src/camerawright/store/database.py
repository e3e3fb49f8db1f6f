"""The SQLite file of a workshop: whose it is, how it is opened, its transactions, and its migrations."""

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Connection, Engine, column, create_engine, event, inspect, select, table
from sqlalchemy.exc import DatabaseError, DBAPIError

from camerawright.store.tables import REVISIONS
from camerawright.trouble import Refused
from camerawright.wording import numbers

FILE_NAME: Final = "camerawright.sqlite"
APPLICATION_ID: Final = 0x43575754  # "CWWT", at offset 68 of the file
BUSY_S: Final = 10.0
_MAGIC: Final = b"SQLite format 3\0"

_TROUBLES: Final = (  # the name SQLite gives the error begins so -> what it means, and the mend
    ("SQLITE_FULL", "the disk is full, nothing was written", "free some space and do it again"),
    ("SQLITE_READONLY", "it may not be written", "give this user leave to write the folder and its files"),
    ("SQLITE_CANTOPEN", "it may not be opened", "give this user leave to read and write the folder and its files"),
    ("SQLITE_PERM", "it may not be opened", "give this user leave to read and write the folder and its files"),
    ("SQLITE_BUSY", f"another program kept it locked for {numbers.short(BUSY_S)} s", "wait for it and do it again"),
    ("SQLITE_IOERR", "the disk would not read or write it", "look after the disk, then restore a backup if need be"),
    ("SQLITE_CORRUPT", "its content is damaged", "restore a backup"),
    ("SQLITE_NOTADB", "it is not a workshop's database", "give another folder, or restore a backup"),
)


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
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        self._engine = create_engine(
            URL.create("sqlite", database=str(path)), connect_args={"timeout": BUSY_S}, hide_parameters=True
        )
        self._writer = self._engine.execution_options(writes=True)
        event.listen(self._engine, "connect", _set_up)
        event.listen(self._engine, "begin", _begin)

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent look at the database."""
        with self._transaction(self._engine) as connection:
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """One transaction, locked for writing from its start, on the disk when the block is left without error."""
        with self._transaction(self._writer) as connection:
            yield connection

    @contextmanager
    def _transaction(self, engine: Engine) -> Iterator[Connection]:
        """A transaction whose mendable troubles are told as `Refused`."""
        try:
            with engine.begin() as connection:
                yield connection
        except DBAPIError as error:
            raise (trouble(error.orig, self.path) or error) from error

    def revision(self) -> str | None:
        """The last migration applied; None where none ever was."""
        with self.reading() as connection:
            if not inspect(connection).has_table("alembic_version"):
                return None
            return connection.scalar(select(column("version_num")).select_from(table("alembic_version")))

    def copy_to(self, path: Path) -> None:
        """Copy the database as it is at one moment, while others go on writing, to a file that is not there yet.

        In one go (the online backup API with all pages): a copy in steps starts again at every write.
        """
        try:
            with closing(self._engine.raw_connection()) as source, closing(sqlite3.connect(path)) as target:
                assert isinstance(source.driver_connection, sqlite3.Connection)
                source.driver_connection.backup(target, pages=-1)
                target.execute("PRAGMA journal_mode = DELETE")  # one file, that a read-only disk can hold too
        except sqlite3.Error as error:
            raise (trouble(error, path) or error) from error

    def damage(self) -> tuple[str, ...]:
        """What SQLite's own checks find wrong, in its words."""
        try:
            with self._engine.begin() as connection:
                found = connection.exec_driver_sql("PRAGMA integrity_check").scalars().all()
                orphans = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        except DatabaseError as error:
            return (str(error.orig),)
        broken = tuple(f"row {row[1]} of {row[0]} refers to a row of {row[2]} that is not there" for row in orphans)
        return tuple(words for words in found if words != "ok") + broken

    def upgrade(self) -> None:
        """Bring the tables to what this program works with, in one transaction.

        Raises
        ------
        Refused
            A newer program wrote them.
        """
        found = self.revision()
        if found == REVISIONS[-1]:
            return
        if found is not None and found not in REVISIONS:
            raise Refused(
                f"a newer camerawright wrote it (tables {found}, this program knows {REVISIONS[-1]})",
                "install the newer camerawright",
                str(self.path),
            )
        # Alembic takes longer to import than all the rest takes to open, and is seldom needed.
        from alembic import command  # noqa: PLC0415
        from alembic.config import Config  # noqa: PLC0415

        config = Config()
        config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
        with self.writing() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, "head")


def lay_down(path: Path) -> None:
    """Make a new database file that says whose it is; tables come with `Database.upgrade`."""
    # Before it is a WAL database, so that the file itself says so and not only the log beside it.
    try:
        connection = sqlite3.connect(path, timeout=BUSY_S)
        try:
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        finally:
            connection.close()
    except sqlite3.Error as error:
        raise (trouble(error, path) or error) from error


def trouble(error: BaseException | None, path: Path) -> Refused | None:
    """What a database error means to the user; None where it is a bug."""
    name = getattr(error, "sqlite_errorname", None) or ""
    for beginning, where, mend in _TROUBLES:
        if name.startswith(beginning):
            return Refused(where, mend, str(path))
    return None


def _set_up(dbapi_connection: Any, _record: object) -> None:
    """What every connection needs before its first use."""
    dbapi_connection.isolation_level = None  # transactions are begun by `_begin`, not behind our back
    for pragma in (
        "journal_mode = WAL",
        "synchronous = FULL",  # a commit is on the disk before it is answered
        "fullfsync = ON",  # macOS: through the drive's own cache too
        "foreign_keys = ON",
    ):
        dbapi_connection.execute(f"PRAGMA {pragma}").close()


def _begin(connection: Connection) -> None:
    """Take the write lock at once where the transaction will write: a lock asked for later can be refused."""
    connection.exec_driver_sql("BEGIN IMMEDIATE" if connection.get_execution_options().get("writes") else "BEGIN")
