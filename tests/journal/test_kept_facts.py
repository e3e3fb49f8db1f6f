"""Facts of the strip-down that come back at the refit: how things sit, springs, leads, lacquer, screws not tight."""

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from camerawright.job.entering import NotAllowed, enter
from camerawright.job.ledger import ledger
from camerawright.job.now import JobNow, job_now
from camerawright.job.refit import step_of
from camerawright.journal.balance import closing
from camerawright.journal.entries import (
    AccountedFor,
    Added,
    Entry,
    Fastener,
    Found,
    Lead,
    Refitted,
    Removed,
    Shim,
    Sits,
    Tension,
    Turned,
)
from camerawright.journal.known import Known
from camerawright.journal.lead_text import leads, written_lead
from camerawright.journal.rules import troubles
from camerawright.journal.sentences import sentence
from camerawright.journal.state import State, fold
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.trouble import NotUnderstood
from camerawright.wording.names import shows
from camerawright.workshop.rows import Camera, Owner, Visit
from tests.journal.makers import NOW, Clock

NAMES = st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=30).map(str.strip).filter(shows)


def _owed(state: State) -> list[str]:
    return [trouble.what for trouble in closing(state)]


# -- leads -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("red from battery tag to meter", (Lead(colour="red", start="battery tag", end="meter"),)),
        ("red lead from battery tag to meter", (Lead(colour="red", start="battery tag", end="meter"),)),
        ("a red lead to the meter", (Lead(colour="red", end="the meter"),)),
        ("2 x black from the socket", (Lead(colour="black", count=2, start="the socket"),)),
        ("two black leads", (Lead(colour="black", count=2),)),
        ("red to A, one black to B", (Lead(colour="red", end="A"), Lead(colour="black", end="B"))),
        ('red from "A to B" to C', (Lead(colour="red", start="A to B", end="C"),)),
    ],
)
def test_leads_are_read_as_they_are_said(text: str, expected: tuple[Lead, ...]) -> None:
    assert leads(text) == expected


@given(st.builds(Lead, colour=NAMES, count=st.integers(1, 99), start=st.none() | NAMES, end=st.none() | NAMES))
def test_every_lead_reads_as_it_was_written(lead: Lead) -> None:
    assert leads(written_lead(lead)) == (lead,)


@pytest.mark.parametrize("text", ["", "0 x red", "100 x red"])
def test_an_unclear_lead_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(NotUnderstood, match="red from battery tag to meter"):
        leads(text)


def test_a_lead_is_counted_out_and_back() -> None:
    clock = Clock()
    red = Lead(colour="red", start="battery tag", end="meter")
    off = Removed(at=clock(), part="bottom cover", leads=(red,))
    assert fold([off]).n_out_of["lead"] == 1
    forgotten: list[Entry] = [off, Refitted(at=clock(), part="bottom cover")]
    assert _owed(fold(forgotten)) == ["bottom cover: 1 × lead red from battery tag to meter not back"]
    assert _owed(fold([off, Refitted(at=clock(), part="bottom cover", leads=(red,))])) == []


# -- screws that are in their place ------------------------------------------------------------------------------------

GRUBS = (Fastener(count=3, size="M1.4", head="grub"),)


def test_a_screw_that_was_loosened_and_left_in_is_owed_until_it_is_tightened() -> None:
    clock = Clock()
    journal: list[Entry] = [Turned(at=clock(), part="focus ring", act="loosened", fasteners=GRUBS)]
    assert _owed(fold(journal)) == ["focus ring: 3 × screw M1.4 grub not tight"]
    two = (GRUBS[0].model_copy(update={"count": 2}),)
    journal.append(Turned(at=clock(), part="Focus-Ring", act="tightened", fasteners=two))
    assert _owed(fold(journal)) == ["focus ring: 1 × screw M1.4 grub not tight"]
    journal.append(Turned(at=clock(), part="focus ring", act="tightened", locked_with="lock lacquer"))
    assert _owed(fold(journal)) == []
    assert sentence(journal[-1]) == "screws of focus ring tightened; with lock lacquer"


def test_a_part_is_tightened_in_two_stages() -> None:
    clock = Clock()
    journal: list[Entry] = [
        Removed(at=clock(), part="cover", fasteners=GRUBS),
        Refitted(at=clock(), part="cover", fasteners=GRUBS, nipped=True),
    ]
    assert _owed(fold(journal)) == ["cover: 3 × screw M1.4 grub not tight"]
    assert _owed(fold([*journal, Turned(at=clock(), part="cover", act="tightened")])) == []
    assert _owed(fold([*journal, Removed(at=clock(), part="cover", fasteners=GRUBS)])) == ["cover is still off"]


def test_a_screw_through_two_parts_goes_in_once_both_are_there() -> None:
    clock = Clock()
    long_screw = (Fastener(count=1, head="long", through="the shoe"),)
    journal: list[Entry] = [
        Removed(at=clock(), part="cover", fasteners=long_screw),
        Removed(at=clock(), part="shoe"),
    ]
    back = Refitted(at=clock(), part="cover", fasteners=long_screw)
    found = troubles(fold(journal), back, now=NOW, known=Known())
    assert [trouble.what for trouble in found] == ["a screw of cover goes through shoe, too, which is off"]
    journal.append(Refitted(at=clock(), part="shoe"))
    assert troubles(fold(journal), back, now=NOW, known=Known()) == ()


# -- what was added ----------------------------------------------------------------------------------------------------


def test_a_part_that_was_not_there_is_on_the_camera_and_in_the_ledger() -> None:
    clock = Clock()
    shim = (Shim(count=1, thickness_mm=0.1, place="under the mount"),)
    added = Added(at=clock(), part="register shim", reason="0.1 mm short", shims=shim)
    state = fold([added])
    assert state.part("register shim").status == "on"
    assert _owed(state) == []
    assert [(line.n_out, line.n_added) for line in ledger(state).lines] == [(0, 1)]
    off = Removed(at=clock(), part="register shim", shims=shim)
    assert _owed(fold([added, off])) == ["register shim is still off"]
    assert fold([added, off, AccountedFor(at=clock(), part="register shim", reason="x")]).conflicts == ()


# -- the refit of a job ------------------------------------------------------------------------------------------------


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return create_workshop(tmp_path / "workshop")


def _do(workshop: Workshop, *entries: Entry) -> JobNow:
    for entry in entries:
        enter(workshop, "J1", entry, now=entry.at)
    return job_now(workshop, "J1")


def test_all_that_was_noted_comes_back_at_the_step_that_needs_it(workshop: Workshop) -> None:

    camera = Camera(maker="Orlmann", model="Falter 6x6", serial="1")
    workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 2)))
    clock = Clock()
    ring = "cocking ring"
    here = _do(
        workshop,
        Sits(at=clock(), part=ring, what="return spring", aspect="hooked in", how="second hole from the post"),
        Sits(at=clock(), part=ring, what="blade 3", aspect="which way round", how="dull face down"),
        Sits(at=clock(), part=ring, what="Blade 3", aspect="which way round", how="dull face up"),
        Tension(
            at=clock(), spring="return spring", act="let down", turns=0.75, direction="anticlockwise", goes_with=ring
        ),
        Removed(at=clock(), part=ring, fasteners=(Fastener(count=2),), locked_with="shellac"),
        Found(at=clock(), part=ring, defect="slot chewed", fastener="NE screw"),
        Sits(at=clock(), part=ring, aspect="trial fit", how="third start"),
    )
    step = step_of(here, ring)
    assert step is not None
    assert step.sits == (
        "return spring: second hole from the post (hooked in)",
        "Blade 3: dull face up (which way round)",
        "third start (trial fit)",
    )
    assert step.springs == ("return spring: 0.75 turns clockwise",)
    assert step.locked_with == "shellac"
    assert step.on_its_screws == ("NE screw, slot chewed",)
    with pytest.raises(NotAllowed, match="came off this camera"):
        _do(workshop, Added(at=clock(), part=ring, reason="x"))
