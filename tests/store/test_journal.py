"""Entries go in once, stay as they are, and come back as they were."""

import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from threading import Barrier
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from camerawright.journal.entries import Corrected, Entry, Measured, Removed, in_order, new_id, written
from camerawright.store.workshop import Workshop, create_workshop, open_workshop
from camerawright.trouble import Stale
from tests.store.invented import FALTER, INES, KINDS, MARK, START, VISIT, entries, models, note, refusal

FEW = settings(max_examples=12, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Workshop]:
    """One workshop for all examples: each takes a camera in of its own."""
    with create_workshop(tmp_path_factory.mktemp("shared") / "workshop") as made:
        yield made


def test_a_name_that_was_taken_in_before_and_no_longer_would_be_still_reads(workshop: Workshop) -> None:
    """A name of U+200B alone, as an earlier program took it, and a note beside it."""
    job = workshop.take_in(INES, FALTER, VISIT).id
    blank = Removed.model_construct(id=new_id(), at=START, by="Ines", part="\u200b")
    assert workshop.append(job, blank)
    assert workshop.append(job, note(1))
    assert [entry.kind for entry in workshop.journal(job)] == ["removed", "noted"]
    assert workshop.verify() == ()


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.__name__)
def test_every_kind_of_entry_comes_back_as_it_was(shared: Workshop, kind: type[BaseModel]) -> None:
    job = shared.take_in(INES, FALTER, VISIT).id

    @FEW
    @given(models(kind))
    def comes_back(told: Any) -> None:
        entry = told.model_copy(update={"id": new_id()})
        shared.append(job, entry)
        with open_workshop(shared.folder) as elsewhere:  # nothing remembered
            assert [read for read in elsewhere.journal(job) if read.id == entry.id] == [entry]

    comes_back()


@FEW
@given(st.lists(entries(), max_size=6), st.data())
def test_a_journal_reads_the_same_whichever_way_it_came_together(
    shared: Workshop, drawn: list[Entry], data: st.DataObject
) -> None:
    told = [entry.model_copy(update={"id": new_id()}) for entry in drawn]
    job = shared.take_in(INES, FALTER, VISIT).id
    shuffled = data.draw(st.permutations(told))
    n_first = data.draw(st.integers(0, len(told)))
    assert shared.append_all(job, shuffled[:n_first]) == n_first
    shared.journal(job)  # remembered, and to be completed
    assert shared.append_all(job, [*shuffled, *shuffled]) == len(told) - n_first
    assert shared.append_all(job, told) == 0
    assert shared.journal(job) == tuple(in_order(told))


def test_the_same_entry_twice_is_there_once(workshop: Workshop, job: str) -> None:
    entry = note(1)
    assert workshop.append(job, entry) is True
    assert workshop.append(job, entry) is False
    assert workshop.append(job, entry, expected=0) is False  # a repeated request is no conflict
    assert workshop.journal(job) == (entry,)


def test_another_content_under_the_same_id_is_refused(workshop: Workshop, job: str) -> None:
    entry = note(1)
    workshop.append(job, entry)
    other = entry.model_copy(update={"note": "something else"})
    with refusal(entry.id, "other content", "correction"):
        workshop.append(job, other)
    with refusal(entry.id, "other content"):
        workshop.append_all(job, [note(2), other])
    third = note(3)
    with refusal(third.id, "other content"):
        workshop.append_all(job, [third, third.model_copy(update={"at": START})])
    assert workshop.journal(job) == (entry,)


def test_an_entry_belongs_to_one_job(workshop: Workshop, job: str) -> None:
    entry = note(1)
    workshop.append(job, entry)
    other = workshop.take_in(INES, MARK, VISIT).id
    with refusal(entry.id, "in the journal of J1 already"):
        workshop.append(other, entry)
    assert workshop.journal(other) == ()


def test_an_entry_for_a_job_that_does_not_exist_is_refused(workshop: Workshop, job: str) -> None:
    with refusal("job J7", f"such as {job}"):
        workshop.append("J7", note(1))
    with refusal("job J7"):
        workshop.journal("J7")


def test_a_decision_on_an_old_state_is_refused(workshop: Workshop, job: str) -> None:
    workshop.append(job, note(1), expected=0)
    with pytest.raises(Stale, match="has 1 entries by now, not 0"):
        workshop.append(job, note(2), expected=0)
    assert len(workshop.journal(job)) == 1


def test_of_two_decisions_on_the_same_state_one_goes_through(workshop: Workshop, job: str) -> None:
    def decide(n: int) -> bool:
        try:
            return workshop.append(job, note(n), expected=0)
        except Stale:
            return False

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(decide, range(16))) == 1
    assert len(workshop.journal(job)) == 1


def test_threads_that_write_and_read_lose_nothing(workshop: Workshop, job: str) -> None:
    notes = [note(n) for n in range(120)]

    def write(n: int) -> int:
        workshop.append(job, notes[n])
        return len(workshop.journal(job))

    with ThreadPoolExecutor(12) as pool:
        seen = list(pool.map(write, range(len(notes))))
    assert max(seen) == len(notes)
    assert workshop.journal(job) == tuple(notes)


def test_writers_of_one_process_take_turns_and_are_not_put_off(
    workshop: Workshop, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """SQLite itself has no patience here: whoever asked it for a lock that another has would be refused at once."""
    monkeypatch.setattr("camerawright.store.database.BUSY_S", 0)
    n_writers, n_each = 16, 8
    ready = Barrier(n_writers)

    def write(n_writer: int) -> None:
        ready.wait()
        for n in range(n_each):
            hasty.append(job, note(n_each * n_writer + n))

    with open_workshop(workshop.folder) as hasty, ThreadPoolExecutor(n_writers) as pool:
        list(pool.map(write, range(n_writers)))
        assert len(hasty.journal(job)) == n_writers * n_each
        assert hasty.verify() == ()


def test_what_another_process_wrote_is_read(workshop: Workshop, job: str) -> None:
    workshop.append(job, note(5))
    assert len(workshop.journal(job)) == 1
    with open_workshop(workshop.folder) as other:
        other.append(job, note(1, "from the other bench"))
    assert [entry.at for entry in workshop.journal(job)] == [note(1).at, note(5).at]


def test_many_journals_are_read_right_though_few_are_remembered(
    workshop: Workshop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("camerawright.store.journal._CACHED_ENTRIES", 20)
    jobs = [workshop.take_in(INES, FALTER, VISIT).id for _ in range(70)]
    told = {job: note(n) for n, job in enumerate(jobs)}
    for job, entry in told.items():
        workshop.append(job, entry)
    for _ in range(2):
        assert {job: workshop.journal(job) for job in jobs} == {job: (entry,) for job, entry in told.items()}
    assert len(workshop._journals._read) <= 20


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE entry SET body = '{}'",
        "UPDATE entry SET n = n + 1",
        "DELETE FROM entry",
        "INSERT OR REPLACE INTO entry SELECT n, job, id, at, kind, '{}', sha256, '' FROM entry",
        "INSERT OR REPLACE INTO entry SELECT n + 9, job, id, at, kind, '{}', sha256, '' FROM entry",
        "INSERT OR REPLACE INTO entry SELECT n, job, 'other', at, kind, '{}', sha256, '' FROM entry",
    ],
)
def test_the_database_itself_refuses_to_change_a_journal(workshop: Workshop, job: str, sql: str) -> None:
    workshop.append(job, note(1))
    with closing(sqlite3.connect(workshop.folder / "camerawright.sqlite")) as stranger:
        before = stranger.execute("SELECT * FROM entry").fetchall()
        with pytest.raises(sqlite3.IntegrityError, match="a journal entry is never"):
            stranger.execute(sql)
        stranger.commit()
        assert stranger.execute("SELECT * FROM entry").fetchall() == before


def test_moments_are_kept_in_utc_and_entries_as_they_were_told(workshop: Workshop, job: str) -> None:
    told = note(1).model_copy(update={"at": datetime(2026, 3, 2, 1, 30, tzinfo=timezone(timedelta(hours=2)))})
    workshop.append(job, told)
    with closing(sqlite3.connect(workshop.folder / "camerawright.sqlite")) as stranger:
        [(at, kind, body)] = stranger.execute("SELECT at, kind, body FROM entry").fetchall()
    assert (at, kind, body) == ("2026-03-01 23:30:00.000000", "noted", written(told))


def test_the_hour_that_summer_time_repeats_is_kept(workshop: Workshop, job: str) -> None:
    zone = ZoneInfo("Europe/Berlin")
    hours = [datetime(2025, 10, 26, 2, 30, tzinfo=zone, fold=fold) for fold in (0, 1)]  # EU directive 2000/84/EC
    for at in hours:
        workshop.append(job, note(1).model_copy(update={"at": at}))
    with open_workshop(workshop.folder) as later:
        found = [entry.at.astimezone(UTC) for entry in later.journal(job)]
    assert found == [datetime(2025, 10, 26, hour, 30, tzinfo=UTC) for hour in (0, 1)]


def test_what_json_cannot_hold_is_refused(workshop: Workshop, job: str) -> None:
    def measured(value: Any) -> Measured:
        return Measured(
            at=START,
            test="shutter",
            phase="as found",
            method="1",
            setup={},
            result={"effective_s": value},
            recording="0" * 64,
        )

    for value in (float("nan"), float("inf"), "\ud800"):
        wrong = measured(value)
        for entry in (wrong, Corrected(at=START, entry="0" * 32, becomes=wrong)):
            with refusal(entry.id, "JSON cannot hold it", "finite numbers"):
                workshop.append(job, entry)
    too_early = note(1).model_copy(update={"at": datetime(1, 1, 1, tzinfo=timezone(timedelta(hours=14)))})
    with refusal(too_early.id, "JSON cannot hold it", "within the calendar"):
        workshop.append_all(job, [note(2), too_early])
    assert workshop.journal(job) == ()


def test_a_full_disk_refuses_an_entry_and_leaves_the_journal_as_it_was(workshop: Workshop, job: str) -> None:
    entry = note(1)
    workshop.append(job, entry)
    with workshop._database.reading() as connection:  # the one connection in the pool: SQLite's own full disk
        [n_pages] = connection.execute("PRAGMA page_count").fetchone()
        connection.execute(f"PRAGMA max_page_count = {n_pages}")
    with refusal("the disk is full", "free some space"):
        workshop.append_all(job, [note(n, "x" * 4000) for n in range(2, 20)])
    assert workshop.journal(job) == (entry,)
    with open_workshop(workshop.folder) as later:
        assert later.journal(job) == (entry,)
        assert later.verify() == ()


def test_a_database_that_stays_locked_is_refused(
    workshop: Workshop, job: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr("camerawright.store.database.BUSY_S", 0.05)
    with (
        open_workshop(workshop.folder) as hasty,
        closing(sqlite3.connect(workshop.folder / "camerawright.sqlite", isolation_level=None)) as other,
    ):
        other.execute("BEGIN IMMEDIATE")
        with refusal("another program kept it locked", "do it again"):
            hasty.append(job, note(1))
        assert hasty.journal(job) == ()  # reading goes on
        other.execute("ROLLBACK")
        assert hasty.append(job, note(1))
