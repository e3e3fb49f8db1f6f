"""The steps lead to the tables that the program works with."""

import hashlib
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from camerawright.journal.entries import written
from camerawright.store.check import Checked
from camerawright.store.database import lay_down
from camerawright.store.tables import CACHES, COLUMNS, GUARDS, INDEXES, REVISIONS, UNIQUE
from camerawright.store.workshop import Workshop, create_workshop, open_workshop
from camerawright.workshop.rows import Glance
from tests.store.invented import FALTER, INES, VISIT, note, refusal
from tests.store.test_folder import without_leave

DATABASE = "camerawright.sqlite"


@contextmanager
def _at_step(folder: Path, step: str) -> Iterator[sqlite3.Connection]:
    """A new workshop whose tables are as that step left them, to be filled in plain SQL."""
    from camerawright.store.migrations import steps

    create_workshop(folder).close()
    (folder / DATABASE).unlink()
    lay_down(folder / DATABASE)
    with closing(sqlite3.connect(folder / DATABASE, isolation_level=None)) as connection:
        steps.take(connection, step)
        yield connection


def _told(connection: sqlite3.Connection, table: str) -> dict[str, list[tuple[object, ...]]]:
    """What SQLite itself says of a table: columns, indexes and what they are of, what refers elsewhere."""
    names = [row[1] for row in connection.execute(f"PRAGMA index_list({table})")]
    return {
        "columns": connection.execute(f"PRAGMA table_xinfo({table})").fetchall(),
        "refers": connection.execute(f"PRAGMA foreign_key_list({table})").fetchall(),
        "indexes": sorted(row[1:] for row in connection.execute(f"PRAGMA index_list({table})")),
        **{name: connection.execute(f"PRAGMA index_xinfo({name})").fetchall() for name in names},
    }


def test_the_steps_lead_to_the_tables(workshop: Workshop) -> None:
    with closing(sqlite3.connect(workshop.folder / DATABASE)) as connection:
        assert connection.execute("SELECT version_num FROM alembic_version").fetchall() == [(REVISIONS[-1],)]
        named = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall()
        assert {name for (name,) in named} == COLUMNS.keys() | {"alembic_version"}
        for table, columns in COLUMNS.items():
            told = _told(connection, table)
            assert tuple(row[1] for row in told["columns"]) == columns
            unique = [name for name, _, origin, _ in told["indexes"] if origin == "u"]
            assert [tuple(row[2] for row in told[str(name)] if row[5]) for name in unique] == (
                [UNIQUE[table]] if table in UNIQUE else []
            )
        made = connection.execute("SELECT tbl_name, name, sql FROM sqlite_master WHERE type = 'index' AND sql <> ''")
        assert {each[1:] for each in made} == {each for indexes in INDEXES.values() for each in indexes.items()}


def test_a_cache_that_is_put_back_is_as_the_steps_make_it(workshop: Workshop) -> None:
    with closing(sqlite3.connect(workshop.folder / DATABASE)) as stranger, stranger:
        before = [_told(stranger, table) for table in CACHES]
        for table in CACHES:
            stranger.execute(f"DROP TABLE {table}")
    workshop.accept()
    with closing(sqlite3.connect(workshop.folder / DATABASE)) as stranger:
        assert [_told(stranger, table) for table in CACHES] == before


def test_every_step_is_known_and_they_form_one_line() -> None:
    from alembic.script import ScriptDirectory

    import camerawright.store.migrations as steps

    [folder] = steps.__path__
    found = [step.revision for step in ScriptDirectory(folder).walk_revisions()]
    assert tuple(reversed(found)) == REVISIONS


def test_a_workshop_without_tables_gets_them_when_it_is_opened(tmp_path: Path) -> None:
    (tmp_path / "w").mkdir()
    with closing(sqlite3.connect(tmp_path / "w" / DATABASE)) as connection:
        connection.execute("PRAGMA application_id = 0x43575754")  # a creation that was killed there
    with create_workshop(tmp_path / "w") as made:
        assert made.jobs() == ()


def test_a_list_of_jobs_loads_nothing_that_takes_long(workshop: Workshop, job: str) -> None:
    """Neither what makes tables nor what reads an entry: each alone takes longer to load than a command may take."""
    program = (
        "import sys, pathlib\n"
        "from camerawright.store.workshop import open_workshop\n"
        "with open_workshop(pathlib.Path(sys.argv[1])) as opened:\n"
        "    assert [job.id for job in opened.jobs()] == [sys.argv[2]]\n"
        "    opened.listed(is_done=False)\n"
        "print(*{'alembic', 'sqlalchemy', 'pydantic', 'camerawright.journal'} & sys.modules.keys())"
    )
    command = [sys.executable, "-c", program, str(workshop.folder), job]
    assert subprocess.run(command, check=True, capture_output=True, text=True).stdout.split() == []


def test_a_workshop_from_before_the_apertures_opens_with_all_that_is_in_it(tmp_path: Path) -> None:
    """The tables as the first step made them, with a camera and a job in them, written in plain SQL."""
    folder = tmp_path / "w"
    with _at_step(folder, "0001") as connection:
        connection.execute("INSERT INTO owner VALUES (1, 'Ines Marrow', '')")
        connection.execute(
            "INSERT INTO camera VALUES (1, 'Orlmann', 'Falter', '7', 'f/4', 'orlmann', 'falter', '7', 'k')"
        )
        connection.execute("INSERT INTO job VALUES (1, 1, 1, '2020-01-02', 'sticks', 0, '[]', '', '', 'user')")
    with open_workshop(folder) as opened:
        job = opened.job("J1")
        assert (job.owner.name, job.camera.variant, job.visit.owners_words) == ("Ines Marrow", "f/4", "sticks")
        assert job.camera.f_numbers == ()
        opened.set_apertures("J1", (4.0, 5.6))
        assert opened.job("J1").camera.f_numbers == (4.0, 5.6)
        assert opened.verify() == ()


def _of_before_the_seals(folder: Path) -> None:
    """A workshop as the second step left it, with a job and two entries in it, written in plain SQL."""
    with _at_step(folder, "0002") as connection:
        connection.execute("INSERT INTO owner VALUES (1, 'Ines Marrow', '')")
        connection.execute(
            "INSERT INTO camera VALUES (1, 'Orlmann', 'Falter', '7', '', 'orlmann', 'falter', '7', '', '[]')"
        )
        connection.execute("INSERT INTO job VALUES (1, 1, 1, '2020-01-02', 'sticks', 0, '[]', '', '', 'user')")
        for n in (1, 2):
            entry = note(n)
            connection.execute(
                "INSERT INTO entry VALUES (:n, 1, :id, :at, 'noted', :body, :sha256)",
                {
                    "n": n,
                    "id": entry.id,
                    "at": f"{entry.at:%Y-%m-%d %H:%M:%S.%f}",
                    "body": written(entry),
                    "sha256": hashlib.sha256(written(entry).encode()).hexdigest(),
                },
            )


def test_what_lists_show_is_kept_when_an_older_workshop_is_opened(tmp_path: Path) -> None:
    """From step 6, which had no second telling of a glance: 20,000 of them computed again would take minutes."""
    folder = tmp_path / "w"
    until = datetime(2031, 5, 4, tzinfo=UTC)
    kept = Glance(stage="in parts", is_done=False, n_off=3, n_owed=1, next_step="off: hood", good_until=until)
    with create_workshop(folder) as workshop:
        for glance in (kept, Glance(stage="together", is_done=True, n_off=0, n_owed=0, next_step="")):
            workshop.keep_glances([(workshop.take_in(INES, FALTER, VISIT).id, 0, glance)])
    with closing(sqlite3.connect(folder / DATABASE)) as older, older:  # the step back, in plain SQL
        older.execute("DROP INDEX ix_glance_altered")
        older.execute("ALTER TABLE glance DROP COLUMN said")
        older.execute("UPDATE alembic_version SET version_num = '0006'")
    with open_workshop(folder) as opened:
        assert opened.without_a_glance(until - timedelta(days=1), most=None) == ()
        assert [(job.id, glance) for job, glance in opened.listed(is_done=False)] == [("J1", kept)]
        assert [job.id for job, _ in opened.listed(is_done=True)] == ["J2"]
        assert opened.checked() == Checked()


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
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, stranger:
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
    before = (folder / DATABASE).read_bytes()
    with without_leave(folder), open_workshop(folder) as opened:
        assert len(opened.journal("J1")) == 2
        assert opened.verify() == ()
        with refusal("it may not be written", "copy the workshop"):
            opened.append("J1", note(3))
    assert (folder / DATABASE).read_bytes() == before
    assert not (folder / "camerawright.sqlite-wal").exists()


def test_the_guards_of_the_steps_are_those_that_verify_looks_for(workshop: Workshop) -> None:
    with closing(sqlite3.connect(workshop.folder / DATABASE)) as connection:
        found = connection.execute("SELECT name, sql FROM sqlite_master WHERE type = 'trigger'").fetchall()
    assert dict(found) == GUARDS
