"""Whatever a stranger, a failing disk or another program does to a workshop, verify names it, with place and mend."""

import hashlib
import os
import random
import shutil
import signal
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from camerawright.handbook.tolerances import read_profile
from camerawright.journal.entries import Found
from camerawright.store import check, media
from camerawright.store.backup import back_up, restore
from camerawright.store.tables import GUARDS
from camerawright.store.workshop import create_workshop, open_workshop
from camerawright.trouble import Refused, Troubled
from tests.store.invented import FALTER, INES, MARK, START, TOBIAS, VISIT, note, refusal

DATABASE = "camerawright.sqlite"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A workshop with two jobs and something of everything; each attack gets a copy."""
    folder = tmp_path_factory.mktemp("whole") / "workshop"
    with create_workshop(folder) as workshop:
        for owner, camera in ((INES, FALTER), (TOBIAS, MARK)):
            job = workshop.take_in(owner, camera, VISIT).id
            photo = workshop.keep(f"a photo of {job}".encode(), suffix=".jpg")
            notes = [note(n + 100 * int(job[1:])) for n in range(5)]
            workshop.append_all(job, [*notes, Found(at=START, part="bellows", defect="a pinhole", photo=photo)])
            workshop.append(job, note(50, f"the last of {job}"))
        assert workshop.checked() == check.Checked()
    return folder


def _copy(whole: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "workshop"
    shutil.copytree(whole, folder)
    return folder


def _as_a_stranger(folder: Path, *statements: str) -> None:
    """Change a database past its guards, and put those back."""
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, stranger:
        stranger.create_function("sha256", 1, lambda text: hashlib.sha256(text.encode()).hexdigest())
        for guard in GUARDS:
            stranger.execute(f"DROP TRIGGER {guard}")
        for sql in statements:
            assert stranger.execute(sql).rowcount, sql
        for sql in GUARDS.values():
            stranger.execute(sql)


# what is done, and the beginnings of the lines that name it
ATTACKS: list[tuple[tuple[str, ...], tuple[str, ...]]] = [
    (("DELETE FROM entry WHERE n = 3",), ("entry {4} of J1: it, or one before it", "the journal of J1: it had 7")),
    (("DELETE FROM entry WHERE n = 7",), ("the journal of J1: it had 7 entries, and has 6",)),
    (("DELETE FROM entry WHERE n = 7",  # and the seal of its journal put back
      "UPDATE seal SET n_entries = 6, sha256 = (SELECT chain FROM entry WHERE n = 6)"
      " WHERE kind = 'journal' AND name = '1'"),
     ("the journals: the last entry has number 14, and there are 13",)),
    (("DELETE FROM entry WHERE job = 1",), ("the journal of J1: it had 7 entries, and has 0",)),
    (("DELETE FROM entry WHERE job = 1", "DELETE FROM seal WHERE kind = 'journal' AND name = '1'",
      "DELETE FROM job WHERE n = 1"), ("job J1: it is missing",)),
    (("UPDATE entry SET body = replace(body, 'note 102', 'note 7') WHERE n = 3",),
     ("entry {3} of J1: its content was altered",)),
    (("UPDATE entry SET body = replace(body, 'note 102', 'note 7') WHERE n = 3",
      "UPDATE entry SET sha256 = sha256(body) WHERE n = 3"), ("entry {3} of J1: it, or one before it",)),
    (("UPDATE entry SET n = -3 WHERE n = 3", "UPDATE entry SET n = 3 WHERE n = 4",
      "UPDATE entry SET n = 4 WHERE n = -3"),
     ("entry {3} of J1: it, or one before it",)),
    (("UPDATE entry SET job = 2 WHERE n = 3",),
     ("entry {3} of J2: it, or one before it", "the journal of J1: it had 7")),
    (("UPDATE entry SET at = '2026-03-02 09:00:00.000000' WHERE n = 3",), ("entry {3} of J1: its row says",)),
    (("UPDATE entry SET at = 'noon' WHERE n = 3",), ("entry {3} of J1: its row says",)),
    (("UPDATE entry SET kind = 'found' WHERE n = 3",), ("entry {3} of J1: its row says",)),
    (("UPDATE entry SET body = x'ff00fe', sha256 = sha256('x') WHERE n = 3",), ("entry {3} of J1: its content was",)),
    (("UPDATE entry SET body = '{}', sha256 = sha256('{}') WHERE n = 3",),
     ("entry {3} of J1: it cannot be understood",)),
    (("INSERT INTO entry SELECT 99, job, 'dead' || substr(id, 5), at, kind, body, sha256, chain FROM entry"
      " WHERE n = 3",),
     ("entry dead", "the journal of J1: it had 7")),
    (("UPDATE entry SET chain = '' WHERE n = 3",), ("entry {3} of J1: it, or one before it",)),
    (("UPDATE seal SET n_entries = 6 WHERE kind = 'journal' AND name = '1'",), ("the journal of J1: it had 6",)),
    (("UPDATE owner SET contact = 'elsewhere' WHERE n = 1",), ("owner 1: another program changed it",)),
    (("UPDATE owner SET name = x'ff' WHERE n = 1",), ("owner 1: another program changed it",)),
    (("UPDATE camera SET serial = '1' WHERE n = 2",), ("camera 2: another program changed it",)),
    (("UPDATE camera SET f_numbers = 'no JSON' WHERE n = 2",), ("camera 2: another program changed it",)),
    (("UPDATE job SET taken_in = 'noon' WHERE n = 2",), ("job J2: another program changed it",)),
    (("UPDATE job SET owner = 1 WHERE n = 2",), ("job J2: another program changed it",)),
    (("UPDATE job SET owner = 9 WHERE n = 2",), ("row 2 of job: it refers to a row of owner", "job J2: another")),
    (("DELETE FROM medium WHERE suffix = '.jpg'",), ("what is known of the file",)),
    (("UPDATE medium SET suffix = '.wav'",), ("what is known of the file",)),
    (("INSERT INTO owner VALUES (77, 'a', 'b')",), ("owner 77: another program put it in",)),
    (("UPDATE seal SET n_entries = 5 WHERE kind = 'camera' AND name = '1'",),
     ("camera 1: another program changed its seal",)),
    (("DELETE FROM seal WHERE kind = 'owner'",), ("owner 1: another program put it in",)),
]  # fmt: skip


@pytest.mark.parametrize(("statements", "named"), ATTACKS, ids=lambda each: each[0][:70])
def test_what_a_stranger_does_to_the_database_is_named(
    whole: Path, tmp_path: Path, statements: tuple[str, ...], named: tuple[str, ...]
) -> None:
    folder = _copy(whole, tmp_path)
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        ids = [None, *(row[0] for row in connection.execute("SELECT id FROM entry ORDER BY n"))]
    _as_a_stranger(folder, *statements)
    with open_workshop(folder) as opened:
        found = opened.verify()
    for words in named:
        assert any(str(each).startswith(words.format(*ids)) for each in found), (words, [str(each) for each in found])
    assert all(each.mend for each in found)
    with open_workshop(folder) as opened, refusal("nothing was copied", "--damaged"):
        back_up(opened, tmp_path / "backup", lambda _n, _of: None)
    assert not (tmp_path / "backup").exists()


GUARD_ATTACKS = [
    (f"DROP TRIGGER {name}", f"the guard {name}: it is missing") for name in GUARDS
] + [
    ("CREATE TRIGGER thief AFTER INSERT ON entry BEGIN SELECT 1; END", "the trigger thief: another program put it"),
    ("DROP TABLE medium", "the table medium is missing"),
    ("ALTER TABLE entry DROP COLUMN sha256", "the column sha256 of the table entry is missing"),
    ("DROP TABLE seal", "the table seal is missing"),
    ("DROP INDEX uq_job_form", "the index uq_job_form: it is missing"),
    ("DROP INDEX ix_entry_job", "the index ix_entry_job: it is missing"),
    ("DROP INDEX ix_glance_altered", "the index ix_glance_altered: it is missing"),
]  # fmt: skip


@pytest.mark.parametrize(("sql", "named"), GUARD_ATTACKS)
def test_missing_guards_tables_and_strange_triggers_are_named(
    whole: Path, tmp_path: Path, sql: str, named: str
) -> None:
    folder = _copy(whole, tmp_path)
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, stranger:
        stranger.execute(sql)
    with open_workshop(folder) as opened:
        assert any(named in str(each) for each in opened.verify())


MARK_ATTACKS = [
    ("DELETE FROM alembic_version", "is missing; another program changed it: restore a backup"),
    ("DROP TABLE alembic_version", "is missing; another program changed it: restore a backup"),
    ("UPDATE alembic_version SET version_num = '0004'", "its tables are not those of their mark, 0004"),
    ("UPDATE alembic_version SET version_num = '0001'", "its tables are not those of their mark, 0001"),
    ("UPDATE alembic_version SET version_num = '0002'", "its tables are not those of their mark, 0002"),
    ("UPDATE alembic_version SET version_num = 'junk'", "and is “junk”; another program changed it"),
    ("UPDATE alembic_version SET version_num = x'ff00'", "another program changed it: restore a backup"),
    ("UPDATE alembic_version SET version_num = ''", "another program changed it: restore a backup"),
    ("INSERT INTO alembic_version VALUES ('0001')", "“0001”; another program changed it: restore a backup"),
    ("UPDATE alembic_version SET version_num = '0099'", "install the newer camerawright"),
]  # fmt: skip


@pytest.mark.parametrize(("sql", "named"), MARK_ATTACKS)
def test_another_mark_of_the_tables_is_named_and_changes_nothing(
    whole: Path, tmp_path: Path, sql: str, named: str
) -> None:
    folder = _copy(whole, tmp_path)
    running = open_workshop(folder)
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, stranger:
        stranger.execute(sql)
        said = list(stranger.iterdump())
    if "not those" not in named:
        assert any(named in str(each) for each in running.verify())
    running.close()
    for to_read in (False, True):
        with refusal(f"{folder / DATABASE}: ", named):
            open_workshop(folder, to_read=to_read)
    with closing(sqlite3.connect(folder / DATABASE)) as stranger:
        assert list(stranger.iterdump()) == said


def test_indexes_are_put_back_where_that_is_asked_for(whole: Path, tmp_path: Path) -> None:
    folder = _copy(whole, tmp_path)
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, stranger:
        stranger.execute("DROP INDEX uq_job_form")
        stranger.execute("DROP INDEX ix_entry_job")
    with open_workshop(folder) as opened:
        assert len(opened.accept()) == 2
        assert opened.checked() == check.Checked()
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, stranger:
        stranger.execute("DROP INDEX uq_job_form")
        stranger.execute("UPDATE job SET form = 'the same'")
    with open_workshop(folder) as opened, refusal("the index uq_job_form: it cannot be put back: rows are there twice"):
        opened.accept()


def test_what_does_not_belong_there_is_told_and_bars_no_backup(whole: Path, tmp_path: Path) -> None:
    folder = _copy(whole, tmp_path)
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, stranger:
        stranger.execute("CREATE TABLE mine (a)")
        stranger.execute("CREATE VIEW seen AS SELECT 1")
    (folder / "media" / "holiday.jpg").write_bytes(b"sea")
    [first, _] = media.files(folder / "media")
    first.rename(tmp_path / "elsewhere")
    first.symlink_to(tmp_path / "elsewhere")
    with open_workshop(folder) as opened:
        found = opened.checked()
        assert found.damage == ()
        assert [each.where for each in found.remarks] == [
            "the table or view mine",
            "the table or view seen",
            str(folder / "media" / "holiday.jpg"),
            str(first),
        ]
        back_up(opened, tmp_path / "backup", lambda _n, _of: None)


@pytest.mark.parametrize("at", [18, 19])
def test_a_database_that_only_a_newer_sqlite_may_write_is_named(whole: Path, tmp_path: Path, at: int) -> None:
    folder = _copy(whole, tmp_path)
    said = bytearray((folder / DATABASE).read_bytes())
    said[at] ^= 0x40
    (folder / DATABASE).write_bytes(said)
    try:
        with open_workshop(folder, to_read=True) as opened:
            found = opened.verify()
    except Refused as refused:
        found = refused.troubles
    assert found
    assert all(each.where == str(folder / DATABASE) for each in found)


def test_what_was_changed_by_hand_is_accepted_but_never_a_journal(whole: Path, tmp_path: Path) -> None:
    folder = _copy(whole, tmp_path)
    _as_a_stranger(folder, "UPDATE owner SET contact = 'elsewhere' WHERE n = 1", "DELETE FROM entry WHERE n = 3")
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, stranger:
        stranger.execute("DROP TRIGGER entry_stays")
        stranger.execute("CREATE TRIGGER thief AFTER INSERT ON entry BEGIN SELECT 1; END")
    shutil.copy(folder / "profiles" / "user.toml", folder / "profiles" / "night.toml")
    (folder / "workshop.toml").write_text('name = "Lindqvale Camera Bench"', encoding="utf-8")
    (folder / "profiles" / "user.toml").unlink()
    with open_workshop(folder) as opened:
        assert len(opened.verify()) == 6
        assert [(each.where, each.what) for each in opened.checked().unusable] == [
            ("profiles/user.toml", "it is missing")
        ]
        assert {(each.where, each.what) for each in opened.checked().edited} == {
            ("profiles/night.toml", "it is new"),
            ("workshop.toml", "it was changed since it was accepted"),
        }
        assert len(opened.accept()) == 6
        found = opened.checked()
        assert found.edited == found.unusable == ()
        assert {each.where.split(" ")[0] for each in found.damage} == {"entry", "the"}
        assert len(found.damage) == 3
        assert opened.append("J1", note(999))
    with closing(sqlite3.connect(folder / DATABASE)) as stranger, pytest.raises(sqlite3.IntegrityError):
        stranger.execute("DELETE FROM entry")


def test_no_byte_of_the_database_or_a_file_changes_unseen(whole: Path, tmp_path: Path) -> None:
    """What a changed byte says may be the same by chance only where SQLite itself keeps nothing, as in a free page."""
    chosen = random.Random(5)
    folder = _copy(whole, tmp_path)
    database, said = folder / DATABASE, (folder / DATABASE).read_bytes()
    with open_workshop(folder, to_read=True) as opened:
        before = [opened.journal(job.id) for job in opened.jobs()], [job.visit for job in opened.jobs()]
    filled = [at for at in range(100, len(said)) if said[at]]  # most of a small database is room for more
    n_found = 0
    for _ in range(150):
        at = chosen.choice(filled)
        database.write_bytes(said[:at] + bytes([said[at] ^ (1 << chosen.randrange(8))]) + said[at + 1 :])
        try:
            with open_workshop(folder, to_read=True) as opened:
                if opened.verify():
                    n_found += 1
                    continue
                after = [opened.journal(job.id) for job in opened.jobs()], [job.visit for job in opened.jobs()]
        except Refused:
            n_found += 1
            continue
        assert after == before
    assert n_found > 120
    database.write_bytes(said)
    for path in media.files(folder / "media"):
        kept = path.read_bytes()
        path.write_bytes(kept[:-1] + bytes([kept[-1] ^ 1]))
        with open_workshop(folder, to_read=True) as opened:
            assert [each.where for each in opened.verify()] == [str(path)]
        path.write_bytes(kept)


@pytest.mark.parametrize("part", [0.0, 0.02, 0.3, 0.6, 0.95])
def test_a_database_that_was_cut_off_is_named_and_so_are_the_files(whole: Path, tmp_path: Path, part: float) -> None:
    folder = _copy(whole, tmp_path)
    said = (folder / DATABASE).read_bytes()
    (folder / DATABASE).write_bytes(said[: int(part * len(said))])
    [first, _] = media.files(folder / "media")
    first.write_bytes(b"altered")
    try:
        with open_workshop(folder, to_read=True) as opened:
            found = opened.verify()
    except Refused as refused:
        found = (*refused.troubles, *check.of_folder(folder / "media"))
    assert any(DATABASE in each.where or DATABASE in each.what for each in found)
    assert any(each.where == str(first) for each in found)


def test_an_older_database_put_in_the_place_of_a_newer_is_remarked(whole: Path, tmp_path: Path) -> None:
    folder = _copy(whole, tmp_path)
    older = (folder / DATABASE).read_bytes()
    with open_workshop(folder) as opened:
        opened.keep(b"a later photo", suffix=".jpg")
    (folder / DATABASE).write_bytes(older)
    (folder / "camerawright (conflicted copy).sqlite").write_bytes(older)
    with open_workshop(folder) as opened:
        found = opened.checked()
    assert found.damage == ()
    assert [each.what.split(",")[0] for each in found.remarks] == [
        "1 file that the database does not know",
        "there is a second database",
    ]


def test_two_branches_merged_are_whole(whole: Path, tmp_path: Path) -> None:
    here, there = _copy(whole, tmp_path), tmp_path / "there"
    shutil.copytree(here, there)
    with open_workshop(here) as ours, open_workshop(there) as theirs:
        ours.append("J1", note(800))
        theirs.append_all("J1", [note(700), note(900)])
        merged = ours.journal("J1"), theirs.journal("J1")
        ours.append_all("J1", merged[1])
        theirs.append_all("J1", merged[0])
        assert ours.journal("J1") == theirs.journal("J1")
        assert ours.verify() == theirs.verify() == ()


def test_a_backup_with_damage_is_made_only_where_that_is_asked_for(whole: Path, tmp_path: Path) -> None:
    folder = _copy(whole, tmp_path)
    [first, _] = media.files(folder / "media")
    first.write_bytes(b"altered")
    backup = tmp_path / "backup"
    with open_workshop(folder) as opened:
        with refusal(f"{first.name}: the file was altered", "--damaged"):
            back_up(opened, backup, lambda _n, _of: None)
        assert sorted(path.name for path in tmp_path.iterdir()) == ["workshop"]
        wrong = back_up(opened, backup, lambda _n, _of: None, takes_damage=True)
    assert [each.where for each in wrong] == [str(media.path_of(backup / "media", first.name))]
    with refusal("cannot be restored"):
        restore(backup, tmp_path / "restored")


def test_a_journal_that_refers_to_a_file_that_never_came_is_copied_where_that_is_asked_for(
    whole: Path, tmp_path: Path
) -> None:
    folder, sha256 = _copy(whole, tmp_path), hashlib.sha256(b"elsewhere").hexdigest()
    entry = Found(at=START, part="bellows", defect="a pinhole", photo=sha256)
    with open_workshop(folder) as opened:
        opened.append("J1", entry)
        with refusal(entry.id, f"the file {sha256} that it refers to was never kept here", "--damaged"):
            back_up(opened, tmp_path / "backup", lambda _n, _of: None)
        [missing] = back_up(opened, tmp_path / "backup", lambda _n, _of: None, takes_damage=True)
        assert sha256 in missing.what
        path = media.path_of(folder / "media", sha256)
        assert str(path) in opened.verify()[0].mend
        path.parent.mkdir(exist_ok=True)
        path.write_bytes(b"elsewhere")
        assert opened.verify() == ()


def test_a_backup_sweeps_what_one_that_was_cut_off_left_and_nothing_else(whole: Path, tmp_path: Path) -> None:
    folder = _copy(whole, tmp_path)
    remains, mine, near = (tmp_path / name for name in (f"part-{'a' * 32}", "part-two", f"part-{'b' * 31}"))
    for each in (remains, mine, near):
        each.mkdir()
        (each / DATABASE).write_bytes(b"half")
    with open_workshop(folder) as opened:

        def look(n_done: int, n_files: int) -> None:
            if n_done == 1:  # another backup to the same place meanwhile leaves this one alone
                with open_workshop(folder) as other:
                    back_up(other, tmp_path / "other", lambda _n, _of: None)

        back_up(opened, tmp_path / "backup", look)
    assert {path.name for path in tmp_path.iterdir()} == {"workshop", "backup", "other", mine.name, near.name}
    for name in ("backup", "other"):
        with open_workshop(tmp_path / name) as opened:
            assert opened.verify() == ()


def test_nobody_else_may_read_what_the_workshop_keeps(whole: Path, tmp_path: Path) -> None:
    old_mask = os.umask(0)
    try:
        with create_workshop(tmp_path / "w") as made:
            made.append(made.take_in(INES, FALTER, VISIT).id, note(1))
            made.keep(b"a photo", suffix=".jpg")
            back_up(made, tmp_path / "backup", lambda _n, _of: None)
            restore(tmp_path / "backup", tmp_path / "restored")
            folders = tmp_path / "w", tmp_path / "backup", tmp_path / "restored"
            for path in (each for folder in folders for each in (folder, *folder.rglob("*"))):
                assert path.stat().st_mode & 0o777 == (0o700 if path.is_dir() else 0o600), path
    finally:
        os.umask(old_mask)


# -- what is no plain file ---------------------------------------------------------------------------------------------


@pytest.fixture
def _in_time() -> Iterator[None]:
    """Ends a test that waits for a pipe."""

    def too_late(_signal: int, _frame: object) -> None:
        raise TimeoutError("it waits for ever")

    before = signal.signal(signal.SIGALRM, too_late)
    signal.alarm(20)
    yield
    signal.alarm(0)
    signal.signal(signal.SIGALRM, before)


def _no_file(path: Path, what: str) -> None:
    """Put something that is no plain file in a file's place."""
    path.unlink(missing_ok=True)
    match what:
        case "pipe":
            os.mkfifo(path)
        case "link to a device":
            path.symlink_to("/dev/zero")
        case "link to a pipe":
            os.mkfifo(path.with_name("pipe"))
            path.symlink_to(path.with_name("pipe"))
        case "folder":
            path.mkdir()


NO_FILES = ["pipe", "link to a device", "link to a pipe", "folder"]


@pytest.mark.usefixtures("_in_time")
@pytest.mark.parametrize("what", NO_FILES)
def test_what_is_no_plain_file_in_a_mediums_place_is_never_opened(whole: Path, tmp_path: Path, what: str) -> None:
    folder = _copy(whole, tmp_path)
    [first, _] = media.files(folder / "media")
    _no_file(first, what)
    with open_workshop(folder) as opened:
        assert {each.where: each.what for each in opened.verify()}[str(first)] == media.NO_PLAIN_FILE
        with refusal("it is not kept here"):
            opened.media(first.name)
        with refusal("nothing was copied", "missing"):
            back_up(opened, tmp_path / "backup", lambda _n, _of: None)


@pytest.mark.usefixtures("_in_time")
@pytest.mark.parametrize("what", NO_FILES)
@pytest.mark.parametrize("name", ["workshop.toml", "profiles/user.toml"])
def test_what_is_no_plain_file_in_the_place_of_one_to_edit_is_named(
    whole: Path, tmp_path: Path, name: str, what: str
) -> None:
    folder = _copy(whole, tmp_path)
    _no_file(folder / name, what)
    with open_workshop(folder) as opened:
        assert [each.where for each in opened.checked().unusable] == [name]
        with pytest.raises(Troubled):
            opened.terms() if name == "workshop.toml" else read_profile(folder / name)
        with refusal("nothing was copied"):
            back_up(opened, tmp_path / "backup", lambda _n, _of: None)


@pytest.mark.usefixtures("_in_time")
@pytest.mark.parametrize("what", NO_FILES)
@pytest.mark.parametrize("ending", ["", "-wal", "-shm", "-journal"])
def test_a_database_that_is_no_plain_file_is_refused(whole: Path, tmp_path: Path, ending: str, what: str) -> None:
    folder = _copy(whole, tmp_path)
    _no_file(folder / f"{DATABASE}{ending}", what)
    for opens in (open_workshop, create_workshop):
        with refusal("it is no plain file"):
            opens(folder)


# -- what a person edits -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("profiles/user.toml", None, "profiles/user.toml: it is missing"),
        ("workshop.toml", None, "workshop.toml: it is missing"),
        ("workshop.toml", "name = ", "workshop.toml: it cannot be understood"),
        ("workshop.toml", "hourly_rate_minor = -1", "workshop.toml: it cannot be understood"),
        ("profiles/user.toml", "mine = true", "profiles/user.toml: it cannot be understood"),
    ],
)
def test_no_backup_lacks_what_a_person_edits_without_a_word(
    whole: Path, tmp_path: Path, name: str, text: str | None, said: str
) -> None:
    folder, backup = _copy(whole, tmp_path), tmp_path / "backup"
    (folder / name).unlink() if text is None else (folder / name).write_text(text, encoding="utf-8")
    with open_workshop(folder) as opened:
        assert str(opened.checked().unusable[0]).startswith(said)
        with refusal(said, "--damaged"):
            back_up(opened, backup, lambda _n, _of: None)
        assert not backup.exists()
        [wrong] = back_up(opened, backup, lambda _n, _of: None, takes_damage=True)
    assert str(wrong).startswith(said)


def test_what_a_person_edited_and_can_be_understood_is_copied(whole: Path, tmp_path: Path) -> None:
    folder = _copy(whole, tmp_path)
    (folder / "workshop.toml").write_text('name = "Lindqvale Camera Bench"', encoding="utf-8")
    with open_workshop(folder) as opened:
        assert back_up(opened, tmp_path / "backup", lambda _n, _of: None) == ()
