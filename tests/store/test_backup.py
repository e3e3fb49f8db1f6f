"""A copy that is whole, and the way back from it."""

import errno
import os
import threading
from pathlib import Path

import pytest

from camerawright.journal.entries import Found
from camerawright.store import media
from camerawright.store.backup import back_up, restore
from camerawright.store.workshop import Workshop, open_workshop
from tests.store.invented import INES, MARK, START, VISIT, note, refusal


def _silent(_n_done: int, _n_files: int) -> None:
    """Show nothing."""


def _filled(workshop: Workshop, job: str) -> None:
    """Put something of everything into a workshop."""
    photo = workshop.keep(b"a photo", suffix=".jpg")
    workshop.append_all(job, [note(1), Found(at=START, part="bellows", defect="a pinhole", photo=photo)])
    workshop.take_in(INES, MARK, VISIT)
    (workshop.folder / "workshop.toml").write_text('name = "Lindqvale Camera Bench"', encoding="utf-8")
    with workshop.profile_path("user").open("a", encoding="utf-8") as profile:
        profile.write("# mine\n")


def _content(workshop: Workshop) -> dict[str, object]:
    """All that a workshop answers, and its files."""
    return {
        "jobs": workshop.jobs(),
        "visits": [job.visit for job in workshop.jobs()],
        "journals": [workshop.journal(job.id) for job in workshop.jobs()],
        "terms": workshop.terms(),
        "files": {
            path.relative_to(workshop.folder): path.read_bytes()
            for path in workshop.folder.rglob("*")
            if path.is_file() and not path.name.startswith("camerawright.sqlite")
        },
    }


def test_a_workshop_restored_from_its_backup_is_the_same(workshop: Workshop, job: str, tmp_path: Path) -> None:
    _filled(workshop, job)
    steps: list[tuple[int, int]] = []
    back_up(workshop, tmp_path / "backup", lambda n_done, n_files: steps.append((n_done, n_files)))
    assert [n_done for n_done, _ in steps] == list(range(1, steps[-1][1] + 1))
    before = _content(workshop)
    workshop.append(job, note(2))  # after the backup
    (tmp_path / "empty").mkdir()
    for target in ("new", "empty"):
        restore(tmp_path / "backup", tmp_path / target)
        with open_workshop(tmp_path / target) as restored:
            assert _content(restored) == before
            assert restored.media_suffix(restored.keep(b"a photo", suffix="")) == ".jpg"
            assert restored.verify() == ()
            assert restored.append(job, note(3))
    assert not [path for path in tmp_path.iterdir() if path.name.startswith("part-")]


def test_a_backup_is_one_database_file_that_opens_as_a_workshop(workshop: Workshop, job: str, tmp_path: Path) -> None:
    _filled(workshop, job)
    back_up(workshop, tmp_path / "backup", _silent)
    names = {path.name for path in (tmp_path / "backup").iterdir()}
    assert names == {"camerawright.sqlite", "media", "profiles", "workshop.toml"}
    with open_workshop(tmp_path / "backup") as opened:
        assert _content(opened) == _content(workshop)


def test_a_backup_while_others_write_is_whole_and_has_what_was_there_before(
    workshop: Workshop, job: str, tmp_path: Path
) -> None:
    stop, n_written = threading.Event(), [0]

    def write() -> None:
        while not stop.is_set():
            photo = workshop.keep(f"photo {n_written[0]}".encode(), suffix=".jpg")
            workshop.append(job, Found(at=START, part="bellows", defect="a pinhole", photo=photo))
            n_written[0] += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        for n in range(4):
            n_before = n_written[0]
            back_up(workshop, tmp_path / f"backup {n}", _silent)
            n_after = n_written[0]
            restore(tmp_path / f"backup {n}", tmp_path / f"restored {n}")  # verified, photos and all
            with open_workshop(tmp_path / f"restored {n}") as restored:
                assert n_before <= len(restored.journal(job)) <= n_after + 1
    finally:
        stop.set()
        writer.join()
    assert n_written[0] > 4


def test_nothing_is_ever_written_over(workshop: Workshop, job: str, tmp_path: Path) -> None:
    back_up(workshop, tmp_path / "backup", _silent)
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "holiday.jpg").write_bytes(b"sea")
    for taken in ("backup", "file", "full"):
        with refusal(taken, "there is something of that name", "name a new folder"):
            back_up(workshop, tmp_path / taken, _silent)
        with refusal(taken, "it is not an empty folder", "name an empty"):
            restore(tmp_path / "backup", tmp_path / taken)
    with refusal("inside the workshop itself", "elsewhere"):
        back_up(workshop, workshop.folder / "backup", _silent)
    assert [path.name for path in (tmp_path / "full").iterdir()] == ["holiday.jpg"]
    with refusal("there is no backup in it", "name the folder"):
        restore(tmp_path / "full", tmp_path / "new")
    assert not (tmp_path / "new").exists()


@pytest.mark.parametrize("inner", ["inner", "media/inner", "through"])
def test_nothing_is_restored_into_the_backup_itself(workshop: Workshop, job: str, tmp_path: Path, inner: str) -> None:
    backup = tmp_path / "backup"
    back_up(workshop, backup, _silent)
    (tmp_path / "link").symlink_to(backup)
    before = sorted(path for path in backup.rglob("*"))
    target = tmp_path / "link" / "x" if inner == "through" else backup / inner
    with refusal("inside the backup itself", "elsewhere"):
        restore(backup, target)
    assert sorted(path for path in backup.rglob("*")) == before


@pytest.mark.parametrize("damage", ["photo altered", "photo missing", "database cut", "database foreign"])
def test_a_damaged_backup_is_refused_and_nothing_made_of_it(
    workshop: Workshop, job: str, tmp_path: Path, damage: str
) -> None:
    _filled(workshop, job)
    backup = tmp_path / "backup"
    back_up(workshop, backup, _silent)
    database = backup / "camerawright.sqlite"
    [photo] = media.files(backup / "media")
    match damage:
        case "photo altered":
            photo.write_bytes(b"a phony")
        case "photo missing":
            photo.unlink()
        case "database cut":
            database.write_bytes(database.read_bytes()[:-8192])
        case "database foreign":
            database.write_bytes(b"SQLite format 3\0" + bytes(200))
    before = sorted(tmp_path.iterdir())
    with refusal(f"{backup}: it cannot be restored", "restore another backup"):
        restore(backup, tmp_path / "new")
    assert sorted(tmp_path.iterdir()) == before


def test_a_disk_that_fills_up_during_a_backup_leaves_nothing(
    workshop: Workshop, job: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    _filled(workshop, job)

    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(media, "flush", full)
    before = sorted(tmp_path.iterdir())
    with refusal("the disk is full", "free some space"):
        back_up(workshop, tmp_path / "backup", _silent)
    assert sorted(tmp_path.iterdir()) == before
