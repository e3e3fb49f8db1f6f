"""Taking the steps that a database does not have yet."""

import sqlite3
from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Connection, StaticPool, create_engine, event
from sqlalchemy.exc import DBAPIError


def take(connection: sqlite3.Connection, until: str = "head") -> None:
    """Take the steps that are missing, in one transaction that is locked for writing from its start.

    Parameters
    ----------
    connection
        Of its own: not in a transaction, and closed by the caller afterwards.
    until
        The step to stop at.

    Raises
    ------
    sqlite3.Error
        The tables are not as the steps before left them. Then they are as they were.
    """
    engine = create_engine("sqlite://", creator=lambda: connection, poolclass=StaticPool)
    event.listen(engine, "begin", _begin)
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent).replace("%", "%%"))
    try:
        with engine.begin() as bound:
            config.attributes["connection"] = bound
            command.upgrade(config, until)
    except DBAPIError as error:
        raise (error.orig or error) from error


def _begin(connection: Connection) -> None:
    """Transactions are begun here, not behind our back."""
    connection.exec_driver_sql("BEGIN IMMEDIATE")
