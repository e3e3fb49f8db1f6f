"""Where a workshop may be, and what is said where it may not."""

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from tempfile import gettempdir
from typing import NamedTuple

import pytest

from camerawright.store import media
from camerawright.store.columns import value
from camerawright.store.workshop import Workshop, create_workshop, default_folder, open_workshop
from camerawright.workshop.rows import Terms
from tests.store.invented import FALTER, INES, VISIT, note, refusal

DATABASE = "camerawright.sqlite"


def test_a_workshop_made_twice_is_the_same_workshop(tmp_path: Path) -> None:
    with create_workshop(tmp_path / "deep" / "down") as first:
        job = first.take_in(INES, FALTER, VISIT)
        (first.folder / "workshop.toml").write_text('name = "Lindqvale Camera Bench"', encoding="utf-8")
    with create_workshop(tmp_path / "deep" / "down") as again:
        assert again.jobs() == (job,)
        assert again.terms() == Terms(name="Lindqvale Camera Bench")
        assert again.verify() == ()


def test_a_workshop_left_half_made_is_completed(tmp_path: Path) -> None:
    create_workshop(tmp_path / "whole").close()
    for left in ("", "profiles", "workshop.toml"):
        half = tmp_path / f"half {left}"
        half.mkdir()
        (half / DATABASE).touch()
        (half / "part-0123").touch()
        if left:
            (tmp_path / "whole" / left).rename(half / left)
        with create_workshop(half) as made:
            assert made.verify() == ()


def test_two_processes_making_one_workshop_both_get_it(tmp_path: Path) -> None:
    program = (
        "import sys, pathlib; from camerawright.store.workshop import *; create_workshop(pathlib.Path(sys.argv[1]))"
    )
    makers = [subprocess.Popen([sys.executable, "-c", program, str(tmp_path / "w")]) for _ in range(3)]
    assert [maker.wait() for maker in makers] == [0, 0, 0]
    with open_workshop(tmp_path / "w") as made:
        assert made.verify() == ()


def test_commits_wait_for_the_disk(workshop: Workshop) -> None:
    with workshop._database.writing() as connection:
        settings = {
            name: value(connection, f"PRAGMA {name}") for name in ("journal_mode", "synchronous", "foreign_keys")
        }
    # https://sqlite.org/pragma.html#pragma_synchronous: 2 is FULL
    assert settings == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_a_folder_that_is_missing_or_none_is_refused(tmp_path: Path) -> None:
    (tmp_path / "a file").write_bytes(b"")
    with refusal("there is no workshop", "make one"):
        open_workshop(tmp_path / "nowhere")
    with refusal("there is no workshop", "make one"):
        open_workshop(tmp_path)  # it holds something, but no database
    for action in (open_workshop, create_workshop):
        with refusal("it is not a folder", "name an empty"):
            action(tmp_path / "a file")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a file"]


def test_a_folder_with_something_else_in_it_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "holiday.jpg").write_bytes(b"sea")
    with refusal("holiday.jpg", "name an empty"):
        create_workshop(tmp_path)
    assert [path.name for path in tmp_path.iterdir()] == ["holiday.jpg"]


@pytest.mark.parametrize("content", ["sqlite", "text"])
def test_a_foreign_database_is_refused_and_left_alone(tmp_path: Path, content: str) -> None:
    database = tmp_path / DATABASE
    if content == "sqlite":
        with closing(sqlite3.connect(database)) as connection:
            connection.execute("CREATE TABLE recipe (name)")
    else:
        database.write_text("not a database at all", encoding="utf-8")
    before = database.read_bytes()
    for action in (open_workshop, create_workshop):
        with refusal("it is not a workshop's database", "name an empty"):
            action(tmp_path)
    assert database.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == [DATABASE]


def test_a_workshop_of_a_newer_program_is_refused(workshop: Workshop) -> None:
    with closing(sqlite3.connect(workshop.folder / DATABASE)) as connection, connection:
        connection.execute("UPDATE alembic_version SET version_num = '0417'")
    for action in (open_workshop, create_workshop):
        with refusal("a newer camerawright wrote it", "0417", "install the newer"):
            action(workshop.folder)


def test_a_damaged_database_is_refused_or_found_by_verify(workshop: Workshop, job: str) -> None:
    workshop.append_all(job, [note(n, "long " * 200) for n in range(100)])
    workshop.close()  # the log is written back
    database = workshop.folder / DATABASE
    whole = database.read_bytes()
    database.write_bytes(whole[: len(whole) // 2])
    with refusal("damaged", "restore a backup"), open_workshop(workshop.folder) as opened:
        assert opened.verify() != ()
        opened.journal(job)
    database.write_bytes(whole[:100] + b"\xff" * (len(whole) - 100))
    with refusal("damaged", "restore a backup"):
        open_workshop(workshop.folder)


@contextmanager
def without_leave(folder: Path) -> Iterator[None]:
    """Nobody may write in the folder: root too, who first becomes somebody else."""
    paths = [folder, *folder.rglob("*")]
    for path in folder.parents:  # pytest's own folders let only their owner through
        if path.is_relative_to(Path(gettempdir())) and path != Path(gettempdir()):
            path.chmod(0o755)
    for path in paths:
        path.chmod(0o555 if path.is_dir() else 0o444)
    is_root = os.geteuid() == 0
    if is_root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if is_root:
            os.seteuid(0)
        for path in paths:
            path.chmod(0o755 if path.is_dir() else 0o644)


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_a_folder_that_may_not_be_written_is_opened_to_be_read(workshop: Workshop, job: str) -> None:
    first = note(1)
    workshop.append(job, first)
    photo = workshop.keep(b"light", suffix=".jpg")
    workshop.close()
    with without_leave(workshop.folder):
        with open_workshop(workshop.folder) as opened:
            assert opened.journal(job) == (first,)
            assert opened.media(photo).read_bytes() == b"light"
            assert opened.terms() == Terms()
            assert opened.verify() == ()
            with refusal("it may not be written", "copy the workshop to a disk"):
                opened.append(job, note(2))
            with refusal("it may not be written", "copy the workshop to a disk"):
                opened.take_in(INES, FALTER, VISIT)
            with refusal("may not be", "leave"):
                opened.keep(b"more light", suffix=".jpg")
        with refusal("may not be", "leave"):
            create_workshop(workshop.folder / "media" / "another")
    with open_workshop(workshop.folder) as opened:
        assert opened.append(job, note(1))


@pytest.mark.skipif(sys.platform == "win32", reason="POSIX permissions")
def test_files_that_may_not_be_written_any_more_refuse_and_change_nothing(workshop: Workshop, job: str) -> None:
    first = note(1)
    workshop.append(job, first)
    workshop.close()
    with without_leave(workshop.folder):
        with refusal("may not be", "leave"):
            workshop.append(job, note(2))
        with refusal("may not be", "leave"):
            workshop.keep(b"light", suffix=".wav")
    assert workshop.journal(job) == (first,)
    assert list(media.files(workshop.folder / "media")) == []


def test_the_default_folder_is_the_users_own() -> None:
    assert default_folder().is_absolute()
    assert "camerawright" in default_folder().parts


def test_profiles_come_with_the_workshop_and_are_the_users_to_edit(workshop: Workshop) -> None:
    assert "user" in workshop.profile_names()
    edited = workshop.profile_path("user")
    edited.write_text("mine = true", encoding="utf-8")
    (workshop.folder / "profiles" / "night.toml").write_text("", encoding="utf-8")
    with create_workshop(workshop.folder) as again:
        assert again.profile_path("user").read_text(encoding="utf-8") == "mine = true"
        assert "night" in again.profile_names()
        for name in ("lenient", "../workshop", ""):
            with refusal(f"the tolerance profile {name}:", "take one of", "night"):
                again.profile_path(name)


def test_terms_are_read_from_the_file_that_a_person_edits(workshop: Workshop) -> None:
    assert workshop.terms() == Terms()
    text = 'name = "Lindqvale Camera Bench"\naddress = """Quay 4\nLindqvale"""\ncurrency = "SEK"\n'
    (workshop.folder / "workshop.toml").write_text(
        text + 'hourly_rate_minor = 65000\ntax_percent = "7.5"\n', encoding="utf-8"
    )
    assert workshop.terms() == Terms(
        name="Lindqvale Camera Bench",
        address="Quay 4\nLindqvale",
        currency="SEK",
        hourly_rate_minor=65000,
        tax_percent="7.5",
    )


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name = Lindqvale", "line 1"),
        ("name = 7", "name must be a text in quotes"),
        ("rate = 1\ntax_percent = 19", "rate is unknown"),
        ("rate = 1\ntax_percent = 19", "tax_percent must be a text"),
        ('hourly_rate_minor = "65"', "hourly_rate_minor must be a whole number"),
        ("hourly_rate_minor = -1", "hourly_rate_minor must be a whole number"),
        ("hourly_rate_minor = true", "hourly_rate_minor must be a whole number"),
        ('tax_percent = "a fifth"', "tax_percent must be a decimal"),
        ('tax_percent = "NaN"', "tax_percent must be a decimal"),
        ('tax_percent = "101"', "tax_percent must be a decimal"),
    ],
)
def test_terms_that_cannot_be_understood_are_refused_by_name(workshop: Workshop, text: str, said: str) -> None:
    (workshop.folder / "workshop.toml").write_text(text, encoding="utf-8")
    with refusal("workshop.toml", said, "edit workshop.toml"):
        workshop.terms()


def test_terms_that_are_no_text_or_not_there_are_refused(workshop: Workshop) -> None:
    (workshop.folder / "workshop.toml").write_bytes(b"\xff\xfe")
    with refusal("workshop.toml", "edit workshop.toml"):
        workshop.terms()
    (workshop.folder / "workshop.toml").unlink()
    with refusal("workshop.toml", "make the workshop again"):
        workshop.terms()


class _Usage(NamedTuple):
    total: int
    used: int
    free: int


def test_a_workshop_on_a_full_disk_is_read_and_says_that_the_disk_is_full(
    workshop: Workshop, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without room for the index of its log, SQLite says that the disk fails (SQLITE_IOERR_SHMSIZE)."""
    workshop.append(job, note(1))
    folder = workshop.folder
    workshop.close()
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    monkeypatch.setattr(shutil, "disk_usage", lambda _folder: _Usage(10**6, 10**6, 0))
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, before[1]))  # no file grows beyond it
    try:
        with open_workshop(folder) as full:
            assert len(full.journal(job)) == 1
            assert full.verify() == ()
            with refusal("the disk is full, nothing was written", "free some space"):
                full.append(job, note(2))
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    with open_workshop(folder) as again:
        assert again.append(job, note(2))
