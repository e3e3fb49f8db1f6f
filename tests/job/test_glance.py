"""What lists show of jobs is what their journals say, whatever was kept meanwhile."""

import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from camerawright.job.glance import glance
from camerawright.job.listed import all_listed, brought_up_to_date
from camerawright.job.now import at_a_glance
from camerawright.journal.entries import Awaited, Noted, Removed
from camerawright.store.tables import GLANCE_ALTERED
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.trouble import Refused
from camerawright.workshop.rows import Glance, Job
from tests.store.invented import FALTER, INES, MARK, TOBIAS, VISIT

NOON = datetime(2031, 5, 4, 12, tzinfo=UTC)


@pytest.fixture
def jobs(tmp_path: Path) -> tuple[Workshop, Job, Job]:
    """Two cameras that were taken in."""
    made = create_workshop(tmp_path / "workshop")
    return made, made.take_in(INES, FALTER, VISIT), made.take_in(TOBIAS, MARK, VISIT)


def shown(workshop: Workshop) -> dict[str, Glance]:
    """What a list shows, by job."""
    return {job.id: kept for job, kept in all_listed(workshop)}


def test_a_list_says_what_the_journals_say_after_each_entry(jobs: tuple[Workshop, Job, Job]) -> None:
    workshop, first, second = jobs
    for n, part in enumerate(("hood", "back", "lens board")):
        workshop.append(first.id, Removed(at=NOON + timedelta(minutes=n), part=part))
        for job in (first, second):
            assert shown(workshop)[job.id] == glance(at_a_glance(workshop, job))
    assert shown(workshop)[first.id].n_off == 3
    assert shown(workshop)[first.id].next_step == "last off: lens board"


def test_what_was_computed_before_another_entry_came_is_not_kept(jobs: tuple[Workshop, Job, Job]) -> None:
    workshop, first, _ = jobs
    before = at_a_glance(workshop, first)
    workshop.append(first.id, Removed(at=NOON, part="hood"))
    workshop.keep_glances([(first.id, len(before.state.journal), glance(before))])
    assert shown(workshop)[first.id].n_off == 1


def test_a_glance_holds_until_the_wait_ends(jobs: tuple[Workshop, Job, Job]) -> None:
    workshop, first, _ = jobs
    workshop.append(first.id, Removed(at=NOON, part="hood"))
    until = NOON + timedelta(hours=24)
    workshop.append(
        first.id, Awaited(at=NOON + timedelta(seconds=1), part="hood", awaiting="the glue cures", until=until)
    )
    brought_up_to_date(workshop, now=NOON)
    stage = {job.id: kept.stage for job, kept in workshop.listed(is_done=False)}
    assert stage[first.id] == "waiting"
    assert first not in workshop.without_a_glance(until - timedelta(seconds=1), most=None)
    assert first in workshop.without_a_glance(until, most=None)
    brought_up_to_date(workshop, now=until)
    assert {job.id: kept.stage for job, kept in workshop.listed(is_done=False)}[first.id] == "in parts"


def test_where_nothing_can_be_written_a_list_shows_it_all_the_same(
    jobs: tuple[Workshop, Job, Job], monkeypatch: pytest.MonkeyPatch
) -> None:
    workshop, first, second = jobs
    shown(workshop)
    workshop.append(first.id, Noted(at=NOON, note="a word"))

    def full(found: object) -> None:
        raise Refused("the disk is full", "make room", "the workshop")

    monkeypatch.setattr(workshop, "keep_glances", full)
    assert [job.id for job, _ in all_listed(workshop)] == [second.id, first.id]


@pytest.mark.parametrize(
    ("words", "found"),
    [("", ["J2", "J1"]), ("falter 40117", []), ("falter 40", ["J1"]), ("FENN", ["J2"]), ("%", []), ("ørlmann", [])],
)
def test_jobs_are_found_by_camera_number_and_owner(
    jobs: tuple[Workshop, Job, Job], words: str, found: list[str]
) -> None:
    workshop, *_ = jobs
    brought_up_to_date(workshop)
    assert [job.id for job, _ in workshop.listed(is_done=False, words=words)] == found
    assert workshop.n_jobs(is_done=False, words=words) == len(found)


@pytest.mark.parametrize(
    "altered",
    [
        "stage = 'together', n_off = 0, n_owed = 0, is_done = 1",
        "is_done = 1",
        "n_owed = 7",
        "n_off = 'none'",
        "n_off = x'00'",
        "next_step = next_step || ' '",
        "good_until = '2199-01-01 00:00:00.000000'",
        "said = ''",
    ],
)
def test_a_list_never_shows_what_another_program_put_there(jobs: tuple[Workshop, Job, Job], altered: str) -> None:
    workshop, first, second = jobs
    workshop.append(first.id, Removed(at=NOON, part="hood"))
    said = shown(workshop)
    assert workshop.checked().remarks == ()
    with closing(sqlite3.connect(workshop.folder / "camerawright.sqlite")) as stranger, stranger:
        stranger.execute(f"UPDATE glance SET {altered} WHERE job = 1")
    (remark,) = workshop.checked().remarks
    assert remark.where == "what lists show of J1"
    kept = [*workshop.listed(is_done=False), *workshop.listed(is_done=True)]
    assert [job.id for job, _ in kept] == [second.id]
    assert shown(workshop) == said
    assert workshop.checked().remarks == ()


def test_what_was_altered_is_found_without_reading_the_rest(jobs: tuple[Workshop, Job, Job]) -> None:
    workshop, _, _ = jobs
    with closing(sqlite3.connect(workshop.folder / "camerawright.sqlite")) as reader:
        plan = reader.execute(f"EXPLAIN QUERY PLAN SELECT job FROM glance WHERE {GLANCE_ALTERED}").fetchall()
    assert [row[3] for row in plan] == ["SCAN glance USING INDEX ix_glance_altered"]
