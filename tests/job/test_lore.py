"""What was kept of earlier jobs and brought up to date is what their journals teach now."""

from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from camerawright.job import lore as lores
from camerawright.job.lore import LESSON, lore_of
from camerawright.journal.entries import (
    Adjusted,
    Cautioned,
    Contains,
    Corrected,
    Described,
    Entry,
    Fastener,
    Gauged,
    GoesLast,
    Independent,
    Irreplaceable,
    Lubricated,
    Marked,
    Noted,
    Ordered,
    Refitted,
    Reminded,
    Removed,
    Shim,
)
from camerawright.journal.groups import joined_groups
from camerawright.journal.order import OrderFacts, joined, order_facts
from camerawright.journal.state import fold
from camerawright.refit.learning import Lore, carried_over, learned
from camerawright.store.workshop import Workshop, create_workshop, open_workshop
from camerawright.workshop.rows import Camera, Job
from tests.store.invented import INES, VISIT

NOON = datetime(2031, 5, 4, 12, tzinfo=UTC)
PARTS = ("cap", "dial", "plate", "post")
VARIANTS = ("first pattern", "second pattern", "first pattern", "First  pattern")
SCREWS = (Fastener(count=2, size="M1.4", length_mm=3), Fastener(count=3))

name = st.sampled_from(PARTS)


def _said(at: datetime) -> st.SearchStrategy[Entry]:
    """Something of all that teaches, and some that does not."""
    return st.one_of(
        *[st.builds(Removed, at=st.just(at), part=name, fasteners=st.sampled_from([(), SCREWS]),
                    shims=st.sampled_from([(), (Shim(place="beneath", count=2),)]),
                    under=st.lists(name, max_size=1), assembly=st.sampled_from([None, "front"]))] * 4,
        st.builds(Refitted, at=st.just(at), part=name),
        st.builds(Marked, at=st.just(at), part=name, mark=st.sampled_from(["dot", "a line"])),
        st.builds(Cautioned, at=st.just(at), part=name, hazard=st.sampled_from(["jumps", "x"]), escapes=st.booleans()),
        st.builds(Reminded, at=st.just(at), part=name, todo=st.just("hook it")),
        st.builds(Ordered, at=st.just(at), first=name, then=st.just("cell"), reason=st.just("pins it")),
        st.builds(Independent, at=st.just(at), part=name, other=st.just("cell"), reason=st.just("apart")),
        st.builds(Contains, at=st.just(at), part=st.just("body"), parts=st.just(("cap", "dial"))),
        st.builds(GoesLast, at=st.just(at), part=name, reason=st.just("it covers")),
        st.builds(Lubricated, at=st.just(at), part=name, point=st.just("pivot"), amount=st.just("touch"),
                  lubricant=st.sampled_from(["oil", "grease"])),
        st.builds(Irreplaceable, at=st.just(at), part=name, reason=st.sampled_from(["no spare", "unique"])),
        st.builds(Described, at=st.just(at), parts=st.just(("dial",)), material=st.sampled_from(["brass", "steel"])),
        st.builds(Gauged, at=st.just(at), part=name, fasteners=st.just((Fastener(count=3, size="M2"),))),
        st.builds(Adjusted, at=st.just(at), adjuster=st.just("lever"), after=st.just("one mark on")),
        st.builds(Noted, at=st.just(at), note=st.just("a word")),
    )  # fmt: skip


def afresh(workshop: Workshop, job: Job) -> Lore:
    """What all journals but this one teach, added up from nothing."""
    others = [other for other in reversed(workshop.jobs()) if other.id != job.id]
    states = {other.id: fold(workshop.journal(other.id)) for other in others}
    of_own = [(other.id, states[other.id]) for other in others if other.camera.variant_key == job.camera.variant_key]
    lore = learned(of_own)
    sisters: dict[str, list[Any]] = {}
    for other in others:
        if other.camera.variant_key != job.camera.variant_key:
            sisters.setdefault(other.camera.variant, []).append((other.id, states[other.id]))
    for variant, theirs in sisters.items():
        lore = carried_over(lore, learned(theirs), variant)
    return lore


def same(one: Lore, other: Lore) -> bool:
    """Whether two say the same, word for word."""
    plain = all(
        getattr(one, each.name) == getattr(other, each.name) for each in fields(Lore) if each.name != "sequences"
    )
    return plain and all(
        getattr(one.sequences, name) == getattr(other.sequences, name) for name in ("keys", "orders", "on_again")
    )


def forget() -> None:
    """What this process remembers; what is kept on the disk stays."""
    lores._LORES._kept.clear()
    lores._LESSONS._kept.clear()


@settings(max_examples=6, deadline=None)
@given(st.data())
def test_what_is_kept_and_brought_up_to_date_is_what_the_journals_teach(data: st.DataObject) -> None:
    """Entries, corrections, undos, undos of undos and imports of the past, in four jobs of two variants."""
    with TemporaryDirectory() as folder, create_workshop(Path(folder) / "w") as workshop:
        jobs = [
            workshop.take_in(INES, Camera(maker="Orlmann", model="Falter", variant=variant, serial=f"{n}"), VISIT)
            for n, variant in enumerate(VARIANTS)
        ]
        for n in range(10):
            job = data.draw(st.sampled_from(jobs))
            at = NOON + timedelta(minutes=n if data.draw(st.booleans()) else -n)
            journal = workshop.journal(job.id)
            entry = data.draw(_said(at))
            if journal and data.draw(st.integers(0, 2)) == 0:
                becomes = data.draw(st.sampled_from([None, entry]))
                old = data.draw(st.sampled_from(journal))
                is_fit = becomes is not None and not isinstance(old, Corrected)
                entry = Corrected(at=NOON + timedelta(hours=n), entry=old.id, becomes=becomes if is_fit else None)
            workshop.append(job.id, entry)
            if data.draw(st.booleans()):
                forget()
            reader = data.draw(st.sampled_from(jobs))
            assert same(lore_of(workshop, reader), afresh(workshop, reader))
        forget()
        for reader in jobs:
            assert same(lore_of(workshop, reader), afresh(workshop, reader))


@given(st.lists(st.lists(st.integers(0, 999), max_size=6), max_size=4), st.data())
@settings(max_examples=10, deadline=None)
def test_facts_joined_in_one_go_are_those_joined_one_after_another(
    lengths: list[list[int]], data: st.DataObject
) -> None:
    facts = [
        order_facts(fold([data.draw(_said(NOON + timedelta(seconds=k))) for k, _ in enumerate(each)]))
        for each in lengths
    ]
    one_by_one = OrderFacts()
    for each in facts:
        one_by_one |= each
    assert joined(facts) == one_by_one
    assert joined_groups(each.groups for each in facts) == one_by_one.groups


@pytest.fixture
def two(tmp_path: Path) -> Iterator[tuple[Workshop, Job, Job]]:
    """Two cameras of a variant; the first was stripped."""
    with create_workshop(tmp_path / "w") as workshop:
        first, second = (
            workshop.take_in(INES, Camera(maker="Orlmann", model="Falter", variant="a", serial=f"{n}"), VISIT)
            for n in range(2)
        )
        workshop.append_all(
            first.id, [Removed(at=NOON + timedelta(minutes=n), part=part) for n, part in enumerate(PARTS)]
        )
        yield workshop, first, second


def test_no_journal_of_another_job_is_read_twice(
    two: tuple[Workshop, Job, Job], monkeypatch: pytest.MonkeyPatch
) -> None:
    workshop, first, second = two
    lore_of(workshop, second)
    forget()
    with open_workshop(workshop.folder) as again:
        monkeypatch.setattr(type(again), "journal", None)
        assert lore_of(again, second).order == PARTS
    monkeypatch.undo()
    workshop.append(first.id, Removed(at=NOON + timedelta(hours=1), part="shutter"))
    assert lore_of(workshop, second).order == (*PARTS, "shutter")


def test_an_entry_that_teaches_nothing_leaves_the_lore_as_it_is(two: tuple[Workshop, Job, Job]) -> None:
    workshop, first, second = two
    before = lore_of(workshop, second)
    workshop.append(first.id, Noted(at=NOON + timedelta(hours=1), note="tea"))
    after = lore_of(workshop, second)
    workshop.append(first.id, Noted(at=NOON + timedelta(hours=2), note="more tea"))
    assert lore_of(workshop, second) is after
    assert same(before, after)


@pytest.mark.parametrize(
    "altered",
    [
        "body = '{}'",
        "body = 'no JSON'",
        "body = x'ff'",
        "rests_on = '0'",
        "sha256 = ''",
        "body = replace(body, 'dial', 'disc')",
    ],
)
def test_what_another_program_changed_is_computed_again(two: tuple[Workshop, Job, Job], altered: str) -> None:
    workshop, _, second = two
    lore_of(workshop, second)
    assert not workshop.checked().remarks
    forget()
    with workshop._database.writing() as connection:
        connection.execute(f"UPDATE computed SET {altered}")
    checked = workshop.checked()
    assert not checked.damage
    assert [trouble.mend.startswith("nothing to do") for trouble in checked.remarks] == [True]
    assert same(lore_of(workshop, second), afresh(workshop, second))
    assert not workshop.checked().remarks, "it was kept anew"


def test_a_row_that_says_what_no_lesson_says_is_computed_again(two: tuple[Workshop, Job, Job]) -> None:
    """As another version of the program would write it, with its hash in order."""
    workshop, first, second = two
    lore_of(workshop, second)
    kept = workshop.recalled(LESSON, [first.id])[first.id]
    workshop.keep_computed(LESSON, {first.id: replace(kept, body='{"job": 7}')})
    with workshop._database.writing() as connection:
        connection.execute("DELETE FROM computed WHERE kind = 'lore'")
    forget()
    assert same(lore_of(workshop, second), afresh(workshop, second))


def test_the_table_may_be_thrown_away(two: tuple[Workshop, Job, Job]) -> None:
    workshop, _, second = two
    lore_of(workshop, second)
    with workshop._database.writing() as connection:
        connection.execute("DROP TABLE computed")
        connection.execute("DROP TABLE glance")
    assert {trouble.mend.split(";")[0] for trouble in workshop.verify()} == {
        "nothing is lost, what it held is computed again"
    }
    workshop.accept()
    assert not workshop.verify()
    forget()
    assert same(lore_of(workshop, second), afresh(workshop, second))


def test_so_many_lores_are_kept_and_no_more(two: tuple[Workshop, Job, Job], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(lores, "MOST_LORES", 1)
    workshop, first, second = two
    for job in (first, second):
        lore_of(workshop, job)
    with workshop._database.reading() as connection:
        kept = connection.execute("SELECT name FROM computed WHERE kind = 'lore'").fetchall()
        assert [row["name"] for row in kept] == [second.id]
