"""Recordings and photos: whole or not there."""

import errno
import hashlib
import os
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from camerawright.journal.entries import Corrected, Removed
from camerawright.store import media
from camerawright.store.workshop import Workshop, open_workshop
from tests.store.invented import START, note, refusal

# FIPS 180-4, the example message "abc" of SHA-256
ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def _parts(workshop: Workshop) -> list[Path]:
    """What half-written files there are."""
    return [path for path in workshop.folder.rglob("*") if path.name.startswith("part-")]


def test_bytes_are_kept_under_their_sha_256(workshop: Workshop) -> None:
    assert workshop.keep(b"abc", suffix=".WAV") == ABC
    assert workshop.media(ABC) == workshop.folder / "media" / "ba" / ABC
    assert workshop.media(ABC).read_bytes() == b"abc"
    assert workshop.media_suffix(ABC) == ".wav"
    assert _parts(workshop) == []


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=3000))
def test_any_bytes_come_back(workshop: Workshop, data: bytes) -> None:
    sha256 = workshop.keep(data, suffix="")
    assert sha256 == hashlib.sha256(data).hexdigest()
    assert workshop.media(sha256).read_bytes() == data


def test_a_file_is_copied_and_the_original_left(workshop: Workshop, tmp_path: Path) -> None:
    original = tmp_path / "light.flac"
    content = bytes(range(256)) * 10_000  # more than one piece
    original.write_bytes(content)
    sha256 = workshop.keep(original, suffix=original.suffix)
    assert workshop.media(sha256).read_bytes() == content == original.read_bytes()


def test_the_same_bytes_twice_are_kept_once(workshop: Workshop) -> None:
    assert workshop.keep(b"abc", suffix=".wav") == workshop.keep(b"abc", suffix=".jpg")
    assert list(media.files(workshop.folder / "media")) == [workshop.media(ABC)]
    assert workshop.media_suffix(ABC) == ".wav"


def test_the_same_bytes_at_the_same_moment_are_kept_once(workshop: Workshop) -> None:
    with ThreadPoolExecutor(8) as pool:
        assert set(pool.map(lambda _: workshop.keep(b"abc", suffix=".wav"), range(24))) == {ABC}
    assert list(media.files(workshop.folder / "media")) == [workshop.media(ABC)]
    assert _parts(workshop) == []


def test_bytes_put_again_mend_a_file_that_was_altered(workshop: Workshop) -> None:
    workshop.keep(b"abc", suffix=".wav")
    workshop.media(ABC).write_bytes(b"abd")
    workshop.keep(b"abc", suffix=".wav")
    assert workshop.media(ABC).read_bytes() == b"abc"


def test_what_is_not_there_is_refused(workshop: Workshop, tmp_path: Path) -> None:
    for strange in (ABC, "", "..", "../../etc/passwd", ABC.upper()):
        with refusal(f"the file {strange}:", "restore it from a backup"):
            workshop.media(strange)
    with refusal("missing.wav", "see that it is there"):
        workshop.keep(tmp_path / "missing.wav", suffix=".wav")
    assert workshop.media_suffix(ABC) == ""
    assert _parts(workshop) == []


@pytest.mark.parametrize("suffix", ["wav", ".", ".a b", "./x", ".tar.gz", ".toolongasuffix"])
def test_a_suffix_that_is_none_is_refused(workshop: Workshop, suffix: str) -> None:
    with refusal("suffix", "rename it"):
        workshop.keep(b"abc", suffix=suffix)
    assert list(media.files(workshop.folder / "media")) == []


def test_a_disk_that_fills_up_at_the_flush_leaves_nothing(workshop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_descriptor: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(media, "flush", full)
    with refusal("the disk is full, nothing was written", "free some space"):
        workshop.keep(b"abc", suffix=".wav")
    assert list(media.files(workshop.folder / "media")) == []
    assert _parts(workshop) == []
    monkeypatch.undo()
    assert workshop.keep(b"abc", suffix=".wav") == ABC


@pytest.mark.skipif(sys.platform == "win32", reason="no limit on a file's size there")
def test_a_file_that_the_system_cuts_off_leaves_nothing(workshop: Workshop) -> None:
    program = (
        "import resource, signal, sys, pathlib\n"
        "from camerawright.store.workshop import open_workshop\n"
        "from camerawright.trouble import Refused\n"
        "with open_workshop(pathlib.Path(sys.argv[1])) as workshop:\n"
        "    resource.setrlimit(resource.RLIMIT_FSIZE, (300_000, 300_000))\n"
        "    try:\n"
        "        workshop.keep(bytes(2_000_000), suffix='.wav')\n"
        "    except Refused as refused:\n"
        "        print(refused)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(workshop.folder)], capture_output=True, text=True, check=True
    )
    assert "the disk is full, nothing was written; free some space" in done.stdout
    assert list(media.files(workshop.folder / "media")) == []
    assert _parts(workshop) == []


def test_what_a_killed_writer_left_is_swept_once_it_is_a_day_old(workshop: Workshop) -> None:
    old, young = (workshop.folder / "media" / f"part-{name}" for name in ("old", "young"))
    for part in (old, young):
        part.write_bytes(b"half a phot")
    day_ago = time.time() - 25 * 3600
    os.utime(old, (day_ago, day_ago))
    with open_workshop(workshop.folder) as opened:
        assert [part.name for part in _parts(opened)] == ["part-young"]
        assert opened.verify() == ()


def test_verify_finds_altered_missing_and_strange_files(workshop: Workshop, job: str) -> None:
    altered, missing = (workshop.keep(data, suffix=".wav") for data in (b"one", b"two"))
    workshop.keep(b"three", suffix=".jpg")
    assert workshop.verify() == ()
    with workshop.media(altered).open("r+b") as file:
        file.write(b"O")
    workshop.media(missing).unlink()
    strange = workshop.folder / "media" / "ba" / "holiday.jpg"
    strange.parent.mkdir(exist_ok=True)
    strange.write_bytes(b"sea")
    found = workshop.verify()
    assert len(found) == 3
    for words in (f"{altered}: the file was altered", f"{missing}: the file is missing", "holiday.jpg: the file does"):
        assert any(words in str(problem) for problem in found)


def test_verify_finds_entries_whose_files_were_never_kept(workshop: Workshop, job: str) -> None:
    off = Removed(at=START, part="front plate", photo=ABC)
    again = Corrected(at=START, entry=off.id, becomes=off.model_copy(update={"photo": "f" * 64}))
    workshop.append_all(job, [note(1), off, again])
    assert [problem.where for problem in workshop.verify()] == [f"entry {e.id} of J1" for e in (off, again)]
    workshop.keep(b"abc", suffix=".jpg")
    assert [problem.where for problem in workshop.verify()] == [f"entry {again.id} of J1"]


def test_verify_finds_entries_that_somebody_tampered_with(workshop: Workshop, job: str) -> None:
    notes = [note(n) for n in range(3)]
    workshop.append_all(job, notes)
    with workshop._database.writing() as connection:
        connection.execute("DROP TRIGGER entry_keeps_its_content")
        connection.execute("UPDATE entry SET body = replace(body, 'note 0', 'note 9') WHERE n = 1")
        broken = '{"kind": "noted"}'
        connection.execute(
            "UPDATE entry SET body = ?, sha256 = ? WHERE n = 3", (broken, hashlib.sha256(broken.encode()).hexdigest())
        )
    assert [f"{each.where}: {each.what}" for each in workshop.verify()] == [
        "the guard entry_keeps_its_content: it is missing, so entries could be changed or taken out",
        f"entry {notes[0].id} of J1: its content was altered",
        f"entry {notes[2].id} of J1: it cannot be understood",
        f"entry {notes[2].id} of J1: it, or one before it, was put in, taken out, moved or changed by another program",
    ]
