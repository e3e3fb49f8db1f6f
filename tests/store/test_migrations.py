"""The steps lead to the tables that the program works with."""

import hashlib
import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.runtime.migration import MigrationContext
from sqlalchemy import make_url
from sqlalchemy.schema import CreateTable

from camerawright.journal.entries import written
from camerawright.store.database import lay_down
from camerawright.store.tables import GUARDS, METADATA, REVISIONS
from camerawright.store.workshop import Workshop, create_workshop, open_workshop
from tests.store.invented import note, refusal
from tests.store.test_folder import without_leave


def test_the_steps_lead_to_the_tables(workshop: Workshop) -> None:
    with workshop._database.reading() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, METADATA) == []
        assert context.get_current_revision() == REVISIONS[-1]


def test_every_step_is_known_and_they_form_one_line() -> None:
    from alembic.script import ScriptDirectory

    import camerawright.store.migrations as steps

    [folder] = steps.__path__
    found = [step.revision for step in ScriptDirectory(folder).walk_revisions()]
    assert tuple(reversed(found)) == REVISIONS


def test_a_workshop_without_tables_gets_them_when_it_is_opened(tmp_path: Path) -> None:
    (tmp_path / "w").mkdir()
    with closing(sqlite3.connect(tmp_path / "w" / "camerawright.sqlite")) as connection:
        connection.execute("PRAGMA application_id = 0x43575754")  # a creation that was killed there
    with create_workshop(tmp_path / "w") as made:
        assert made.jobs() == ()


def test_opening_a_workshop_of_today_leaves_alembic_alone(workshop: Workshop) -> None:
    program = (
        "import sys, pathlib\n"
        "from camerawright.store.workshop import open_workshop\n"
        "open_workshop(pathlib.Path(sys.argv[1])).close()\n"
        "sys.exit('alembic' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", program, str(workshop.folder)], check=False).returncode == 0


def test_the_tables_can_be_written_for_postgresql() -> None:
    postgresql = make_url("postgresql://").get_dialect()()
    for table in METADATA.sorted_tables:
        assert "CREATE TABLE" in str(CreateTable(table).compile(dialect=postgresql))


def test_a_workshop_from_before_the_apertures_opens_with_all_that_is_in_it(tmp_path: Path) -> None:
    """The tables as the first step made them, with a camera and a job in them, written in plain SQL."""
    from alembic import command
    from alembic.config import Config
    from sqlalchemy import create_engine, text

    import camerawright.store.migrations as steps

    folder = tmp_path / "w"
    create_workshop(folder).close()
    database = folder / "camerawright.sqlite"
    database.unlink()
    lay_down(database)
    config = Config()
    config.set_main_option("script_location", next(iter(steps.__path__)))
    engine = create_engine(f"sqlite:///{database}")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
        connection.execute(text("INSERT INTO owner VALUES (1, 'Ines Marrow', '')"))
        connection.execute(
            text("INSERT INTO camera VALUES (1, 'Orlmann', 'Falter', '7', 'f/4', 'orlmann', 'falter', '7', 'k')")
        )
        connection.execute(text("INSERT INTO job VALUES (1, 1, 1, '2020-01-02', 'sticks', 0, '[]', '', '', 'user')"))
    engine.dispose()
    with open_workshop(folder) as opened:
        job = opened.job("J1")
        assert (job.owner.name, job.camera.variant, job.visit.owners_words) == ("Ines Marrow", "f/4", "sticks")
        assert job.camera.f_numbers == ()
        opened.set_apertures("J1", (4.0, 5.6))
        assert opened.job("J1").camera.f_numbers == (4.0, 5.6)
        assert opened.verify() == ()


def _of_before_the_seals(folder: Path) -> None:
    """A workshop as the second step left it, with a job and two entries in it, written in plain SQL."""
    from alembic import command
    from alembic.config import Config
    from sqlalchemy import create_engine, text

    import camerawright.store.migrations as steps

    create_workshop(folder).close()
    database = folder / "camerawright.sqlite"
    database.unlink()
    lay_down(database)
    config = Config()
    config.set_main_option("script_location", next(iter(steps.__path__)))
    engine = create_engine(f"sqlite:///{database}")
    with engine.begin() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0002")
        connection.execute(text("INSERT INTO owner VALUES (1, 'Ines Marrow', '')"))
        connection.execute(
            text("INSERT INTO camera VALUES (1, 'Orlmann', 'Falter', '7', '', 'orlmann', 'falter', '7', '', '[]')")
        )
        connection.execute(text("INSERT INTO job VALUES (1, 1, 1, '2020-01-02', 'sticks', 0, '[]', '', '', 'user')"))
        for n in (1, 2):
            entry = note(n)
            connection.execute(
                text("INSERT INTO entry VALUES (:n, 1, :id, :at, 'noted', :body, :sha256)"),
                {
                    "n": n,
                    "id": entry.id,
                    "at": f"{entry.at:%Y-%m-%d %H:%M:%S.%f}",
                    "body": written(entry),
                    "sha256": hashlib.sha256(written(entry).encode()).hexdigest(),
                },
            )
    engine.dispose()


def test_a_workshop_from_before_the_seals_is_sealed_from_now_on_and_says_so(tmp_path: Path) -> None:
    folder = tmp_path / "w"
    _of_before_the_seals(folder)
    folder.chmod(0o755)
    with open_workshop(folder) as opened:
        assert [entry.at for entry in opened.journal("J1")] == [note(1).at, note(2).at]
        found = opened.checked()
        assert (found.damage, found.edited) == ((), ())
        assert [each.what for each in found.remarks] == ["2 entries came in before there were seals"]
        assert opened.append("J1", note(3))
        assert opened.verify() == ()
    assert folder.stat().st_mode & 0o777 == 0o700
    with closing(sqlite3.connect(folder / "camerawright.sqlite")) as stranger, stranger:
        with pytest.raises(sqlite3.IntegrityError, match="a journal entry is never"):
            stranger.execute("DELETE FROM entry")
        stranger.execute("DROP TRIGGER entry_stays")
        stranger.execute("DELETE FROM entry WHERE n = 1")
    with open_workshop(folder) as opened:
        assert next(each.where for each in opened.verify()) == "the guard entry_stays"
        assert "the journal of J1" in [each.where for each in opened.verify()]


def test_an_old_backup_on_a_disk_that_cannot_be_written_is_read_by_a_newer_program(tmp_path: Path) -> None:
    folder = tmp_path / "w"
    _of_before_the_seals(folder)
    before = (folder / "camerawright.sqlite").read_bytes()
    with without_leave(folder), open_workshop(folder) as opened:
        assert len(opened.journal("J1")) == 2
        assert opened.verify() == ()
        with refusal("it may not be written", "copy the workshop"):
            opened.append("J1", note(3))
    assert (folder / "camerawright.sqlite").read_bytes() == before
    assert not (folder / "camerawright.sqlite-wal").exists()


def test_the_guards_of_the_steps_are_those_that_verify_looks_for(workshop: Workshop) -> None:
    with closing(sqlite3.connect(workshop.folder / "camerawright.sqlite")) as connection:
        found = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    assert dict(found) == GUARDS
