"""What is kept in a column comes back as it was; what another program put there is told."""

import sqlite3
from contextlib import closing
from datetime import UTC, date, datetime, timedelta, timezone

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.store.columns import day, instant, instant_text, list_text, values
from camerawright.store.workshop import Workshop, open_workshop
from camerawright.trouble import Refused
from tests.store.invented import INES, MARK, VISIT, note, refusal

ZONES = st.integers(-12 * 60, 14 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes)))
INSTANTS = st.datetimes(min_value=datetime(1900, 1, 1), max_value=datetime(2200, 1, 1), timezones=ZONES)  # noqa: DTZ001


def test_instants_and_lists_are_kept_as_in_older_workshops() -> None:
    """Another library wrote those rows, and their seals hash them byte for byte."""
    at = datetime(2031, 5, 4, 11, 30, tzinfo=timezone(timedelta(hours=2)))
    assert instant_text(at) == "2031-05-04 09:30:00.000000"
    assert list_text(("Étui", 'a "b"')) == r"""["\u00c9tui", "a \"b\""]"""
    assert list_text((4.5, 8, 11.0)) == "[4.5, 8, 11.0]"


@given(INSTANTS, INSTANTS)
def test_instants_come_back_and_their_texts_sort_as_they_do(one: datetime, other: datetime) -> None:
    assert instant(instant_text(one)) == one
    assert (instant_text(one) < instant_text(other)) == (one < other)


def test_an_instant_without_its_offset_is_a_bug() -> None:
    with pytest.raises(ValueError, match="offset"):
        instant_text(datetime(2031, 5, 4))  # noqa: DTZ001


def test_days_and_lists_come_back() -> None:
    assert day("2031-05-04") == date(2031, 5, 4)
    assert values(list_text(("case", "日本"))) == ("case", "日本")
    assert instant("2031-05-04 09:30:00.000000") == datetime(2031, 5, 4, 9, 30, tzinfo=UTC)


@pytest.mark.parametrize(
    "altered",
    ["taken_in = 7", "taken_in = x'ff'", "taken_in = 'noon'", "accessories = 7", "accessories = '{}'",
     "accessories = x'ff'", "accessories = 'none'"],
)  # fmt: skip
def test_what_no_column_should_hold_is_told(workshop: Workshop, job: str, altered: str) -> None:
    with closing(sqlite3.connect(workshop.folder / "camerawright.sqlite")) as stranger, stranger:
        stranger.execute(f"UPDATE job SET {altered}")
    with refusal("something in it cannot be read", "camerawright verify"):
        workshop.job(job)


def test_a_row_that_cannot_be_read_leaves_no_half_read_statement_behind(workshop: Workshop, job: str) -> None:
    """While one is open, its connection sees the database as it was, and may not write."""
    workshop.take_in(INES, MARK, VISIT)
    with closing(sqlite3.connect(workshop.folder / "camerawright.sqlite")) as stranger, stranger:
        stranger.execute("UPDATE job SET taken_in = 'noon' WHERE n = 1")
    with pytest.raises(Refused) as kept:  # and all that its traceback holds
        workshop.jobs()
    entry = note(1)
    with open_workshop(workshop.folder) as other:
        other.append(job, entry)
    assert workshop.journal(job) == (entry,)
    assert workshop.append(job, note(2))
    assert "cannot be read" in str(kept.value)
