"""What the certificate and the owner's card say of the readings, from journals written entry by entry."""

import math
import re
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from camerawright.bench import catalogue
from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.bench.contract import Told
from camerawright.demo.recordings import record
from camerawright.job.now import JobNow, job_now
from camerawright.journal.entries import ENTRY, Phase
from camerawright.papers import certificate as filling
from camerawright.papers.catalogue import render_paper
from camerawright.papers.certificate import Shown, readings_shown
from camerawright.papers.owner_card import about, off_words, owner_card, stopped_down
from camerawright.readings.measuring import measured
from camerawright.readings.rows import rows, void
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.trouble import Refused
from camerawright.workshop.rows import Camera, Job, Owner, Visit

MORNING = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)
LENS = "coupled rangefinder, f/4"


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop."""
    with create_workshop(tmp_path / "workshop") as opened:
        yield opened


@pytest.fixture
def job(workshop: Workshop) -> Job:
    """A camera that was just taken in."""
    return take_in(workshop, LENS)


def take_in(workshop: Workshop, variant: str) -> Job:
    """A camera of a variant."""
    camera = Camera(maker="Orlmann", model="Falter 6x6", variant=variant, serial="48213")
    return workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 2)))


def against(stops: float, marked: str, expanded_u: float = 0.04) -> dict[str, Any]:
    """A comparison as a record holds it."""
    target_s = 1 / float(marked.removeprefix("1/"))
    return {
        "marked": marked,
        "target_s": target_s,
        "mean_s": target_s * 2**stops,
        "mean_stops": stops,
        "u_mean_stops": expanded_u / 2,
        "U95_mean_stops": expanded_u,
        "dof": None,
        "firings": [{}] * 6,
        "verdict": "within",
        "lower_ev": -0.33,
        "upper_ev": 0.33,
        "source": "common practice",
        "profile": "user",
        "points": [],
    }


def reading(phase: str, *compared: dict[str, Any], test: str = "shutter", **record: Any) -> dict[str, Any]:
    """A reading of one speed, or of several in one recording."""
    speeds = [
        {
            "effective_s": one["mean_s"],
            "u_effective_s": 1e-5,
            "k95_effective": 2.0,
            "stopped_down": stopped(one["mean_s"]),
            "compared": one,
        }
        for one in compared
    ]
    result = {"compared": compared[0] if len(compared) == 1 else None, "speeds": speeds, "firings": [], **record}
    return {
        "kind": "measured",
        "test": test,
        "phase": phase,
        "method": find_test(test).method,
        "setup": {"marked": ", ".join(one["marked"] for one in compared) or None},
        "result": result,
        "recording": "0" * 64,
    }


def stopped(open_s: float) -> list[dict[str, float]]:
    """A round opening of which 1 ms is lost wide open: t = open + 1 ms (1 - r), r = 2^(-stops/2)."""
    return [
        {
            "stops_down": n,
            "effective_s": open_s + 1e-3 * (1 - 2 ** (-n / 2)),
            "u_effective_s": 1e-5,
            "k95_effective": 2.0,
        }
        for n in (1.0, 2.0, 3.0, 4.0)
    ]


def write(workshop: Workshop, job: Job, *entries: dict[str, Any]) -> JobNow:
    """Entries a minute apart; where the job stands then."""
    n = len(workshop.journal(job.id))
    workshop.append_all(
        job.id,
        [ENTRY.validate_python({"at": MORNING + timedelta(minutes=n + i), **entry}) for i, entry in enumerate(entries)],
    )
    return job_now(workshop, job.id)


def shown(workshop: Workshop, job: Job, *entries: dict[str, Any]) -> Shown:
    """What the certificate shows after these entries."""
    return readings_shown(workshop, write(workshop, job, *entries))


def test_of_several_readings_of_a_phase_the_newest_is_printed(workshop: Workshop, job: Job) -> None:
    (test,) = shown(
        workshop,
        job,
        reading("as found", against(0.9, "1/25")),
        reading("as found", against(0.8, "1/25")),
        reading("as left", against(0.2, "1/25")),
        reading("as left", against(0.1, "1/25")),
    ).readings
    (row,) = test.rows
    assert row.as_found is not None
    assert row.as_left is not None
    assert (row.as_found.error, row.as_left.error) == ("+0.80", "+0.10")


def test_every_speed_of_a_recording_that_holds_several_gets_its_row(workshop: Workshop, job: Job) -> None:
    (test,) = shown(workshop, job, reading("as left", against(0.1, "1/25"), against(0.2, "1/100"))).readings
    assert [(row.marked, row.as_left and row.as_left.error) for row in test.rows] == [
        ("1/25", "+0.10"),
        ("1/100", "+0.20"),
    ]


def test_each_test_of_the_catalogue_that_was_used_gets_its_section(workshop: Workshop, job: Job) -> None:
    found = shown(
        workshop,
        job,
        reading("as left", against(0.1, "1/25")),
        reading("as left", against(0.2, "1/25"), test="curtains"),
    )
    assert [test.title for test in found.readings] == [
        test.title for test in CATALOGUE if test.name in {"shutter", "curtains"}
    ]


def test_figures_without_a_mark_get_a_table_of_their_own(
    workshop: Workshop, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A test that only tells; its word for a phase is the newest."""

    def tells(record: dict[str, Any]) -> tuple[Told, ...]:
        return (Told("class X, from full open", record["read"], 6, "within"), Told("bounces", "2"))

    telling = replace(CATALOGUE[0], name="contact", title="Contact", tells=tells, plots=lambda recording, outcome: {})
    monkeypatch.setattr(filling, "CATALOGUE", (telling,))
    monkeypatch.setattr(catalogue, "CATALOGUE", (telling,))
    none_compared: dict[str, Any] = {"test": "contact", "compared": None, "speeds": [], "flags": []}
    found = shown(
        workshop,
        job,
        reading("as found", **none_compared, read="−2.3 ± 0.1 ms"),
        reading("as left", **none_compared, read="+0.5 ± 0.1 ms"),
        reading("as left", **none_compared, read="+0.4 ± 0.1 ms"),
    )
    (test,) = found.readings
    assert (test.rows, test.profile, test.coverage_factor) == ((), "", "")
    delay, bounces = test.told
    assert delay.as_found is not None
    assert delay.as_left is not None
    assert (delay.as_found.read, delay.as_left.read, delay.as_left.verdict) == (
        "−2.3 ± 0.1 ms",
        "+0.4 ± 0.1 ms",
        "within",
    )
    assert bounces.what == "bounces"
    assert test.decision_rule


def test_what_the_x_contact_fires_is_not_told_of_the_m_contact(workshop: Workshop, job: Job) -> None:
    """A shutter may have both; electronic flash goes on X, and never on M (common practice)."""

    def of(contact: str, usable: str) -> dict[str, Any]:
        at = {
            "marked": "1/30",
            "open_s": 0.033,
            "contact": contact,
            "i_firings": [0],
            "classes": [],
            "lights": [{"light": "electronic flash of 1 ms", "usable": usable}],
        }
        one = reading("as left", test="sync", at_speeds=[at], compared=None, method="of long ago")
        return one | {"recording": {"X": "a", "M": "b"}[contact] * 64}

    found = shown(workshop, job, of("X", "yes"), of("M", "no"))
    told = {(row.marked, row.what): row.as_left.read for row in found.readings[0].told if row.as_left}
    assert told == {
        ("1/30", "electronic flash of 1 ms by the X contact"): "usable",
        ("1/30", "electronic flash of 1 ms by the M contact"): "not usable",
    }


@pytest.mark.parametrize(
    ("later", "why"),
    [
        ({"kind": "removed", "part": "speed ring"}, "speed ring came off after it was read"),
        (
            {"kind": "adjusted", "adjuster": "retard lever", "after": "in", "test": "Shutter"},
            "retard lever was turned after it was read",
        ),
    ],
    ids=["a part came off", "an adjuster was turned"],
)
def test_a_reading_as_left_that_is_void_is_a_remark_and_no_reading(
    workshop: Workshop, job: Job, later: dict[str, Any], why: str
) -> None:
    found = shown(
        workshop, job, reading("as found", against(0.9, "1/25")), reading("as left", against(0.1, "1/25")), later
    )
    (row,) = found.readings[0].rows
    assert row.as_found is not None
    assert row.as_left is None
    assert f"1/25, as left: not shown, because {why}" in found.remarks
    again = shown(workshop, job, reading("as left", against(0.05, "1/25")))
    assert again.readings[0].rows[0].as_left is not None


def test_a_reading_as_left_of_a_camera_in_pieces_says_so_and_one_of_a_whole_camera_does_not(
    workshop: Workshop, job: Job
) -> None:
    off = {"kind": "removed", "part": "speed ring"}
    found = shown(workshop, job, off, reading("as left", against(0.1, "1/25")))
    assert any("as left after speed ring came off" in remark for remark in found.remarks)
    later = reading("as left", against(0.1, "1/25")) | {"recording": "b" * 64}
    whole = shown(workshop, job, {"kind": "refitted", "part": "speed ring"}, later)
    assert sum("came off" in remark for remark in whole.remarks) == sum("came off" in one for one in found.remarks)


def test_a_recording_measured_again_with_more_told_stands_once(workshop: Workshop, job: Job) -> None:
    """At another mark it is another reading: curtains compare one speed of a recording at a time."""
    again = [reading("as found", against(stops, "1/25")) | {"recording": "a" * 64} for stops in (0.9, 0.8)]
    other = reading("as found", against(0.1, "1/50")) | {"recording": "a" * 64, "setup": {"marked": "1/50"}}
    found = shown(workshop, job, *again, other)
    assert [row.marked for row in found.readings[0].rows] == ["1/25", "1/50"]
    assert sum("measured again" in remark for remark in found.remarks) == 1


def test_what_was_turned_for_another_test_or_came_off_before_voids_nothing(workshop: Workshop, job: Job) -> None:
    here = write(
        workshop,
        job,
        {"kind": "removed", "part": "speed ring"},
        reading("as left", against(0.1, "1/25")),
        {"kind": "adjusted", "adjuster": "arm", "after": "in", "test": "rangefinder"},
        {"kind": "adjusted", "adjuster": "screw", "after": "in"},
        {"kind": "refitted", "part": "speed ring"},
    )
    assert void(here.state) == {}


def test_a_reading_of_an_earlier_version_of_the_method_is_shown_without_a_picture_and_says_so(
    workshop: Workshop, job: Job
) -> None:
    found = shown(workshop, job, reading("as left", against(0.1, "1/25")) | {"method": "m 0"})
    assert any("earlier version of the method" in remark for remark in found.remarks)
    assert [row.marked for test in found.readings for row in test.rows] == ["1/25"]


def test_a_certificate_whose_recording_is_lost_is_printed_and_says_so(workshop: Workshop, job: Job) -> None:
    found = shown(workshop, job, reading("as left", against(0.1, "1/25"), against(0.2, "1/50")))
    assert any("no picture, its recording cannot be read" in remark for remark in found.remarks)
    assert list(found.images) == ["shutter, all"]
    pages = PdfReader(BytesIO(render_paper(workshop, job.id, "certificate"))).pages
    assert "1/25" in " ".join(page.extract_text() for page in pages)


def test_all_marks_and_the_fastest_as_left_are_drawn_from_the_kept_recording(
    workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    phases: tuple[tuple[Phase, int], ...] = (("as found", 3), ("as left", 4))
    for phase, seed in phases:
        path = tmp_path / f"{phase}.wav"
        record(path, "1/100", error_stops=0.2, seed=seed)
        measured(
            workshop,
            job.id,
            next(t for t in CATALOGUE if t.name == "shutter"),
            path,
            marked="1/100",
            phase=phase,
        )
    found = readings_shown(workshop, job_now(workshop, job.id))
    assert list(found.images) == ["shutter, all", "shutter, one"]
    assert all(b"<svg" in image for image in found.images.values())
    pictures = found.readings[0].pictures
    assert re.match(r"1/100: \+0\.(1[89]|2[0-2]) stops as found; 1/100: ", pictures[0].words)
    assert re.fullmatch(
        r"waveform: 1/100, as left; firing 1 at \d\.\d\d s, as recorded and as undone", pictures[1].caption
    )
    card = owner_card(workshop, job_now(workshop, job.id))
    (speed,) = card.speeds
    assert speed.stopped is not None
    assert card.stopped == "at f/8"
    assert speed.open.off == "0.2 slow"
    assert 1 / float(speed.stopped.about.removeprefix("1/")) >= 1 / float(speed.open.about.removeprefix("1/"))


def test_a_record_of_several_speeds_is_drawn_with_the_shown_one_alone(workshop: Workshop, job: Job) -> None:
    here = write(workshop, job, reading("as left", against(0.1, "1/25"), against(0.2, "1/100")))
    table = rows(here.state.measured, CATALOGUE[0])
    alone = [row.as_left.record for row in table if row.as_left]
    assert [[speed["compared"]["marked"] for speed in record["speeds"]] for record in alone] == [["1/25"], ["1/100"]]


# Owner's card


def test_the_owners_card_says_each_speed_as_left_in_plain_words(workshop: Workshop, job: Job) -> None:
    """f/4 to f/8 is two stops: t + 1 ms (1 - 1/2)."""
    card = owner_card(
        workshop,
        write(
            workshop,
            job,
            reading("as found", against(0.9, "1/25")),
            reading("as left", against(0.02, "1/25")),
            reading("as left", against(0.69, "1/500", 0.055)),
        ),
    )
    slow, fast = card.speeds
    assert (slow.marked, slow.open.about, slow.open.off) == ("1/25", "1/25", "as marked")
    assert (fast.marked, fast.open.about, fast.open.off) == ("1/500", "1/310", "0.7 slow")
    assert fast.stopped is not None
    assert fast.stopped.about == about(2e-3 * 2**0.69 + 0.5e-3)
    assert fast.stopped.off == off_words(math.log2((2e-3 * 2**0.69 + 0.5e-3) / 2e-3))
    assert card.stopped == "at f/8"
    assert card.expanded_u == "0.06"
    assert card.sentence == "1/500 gives about 1/310: 0.7 stop more light than the dial says."


def test_without_a_known_largest_aperture_the_card_says_how_far_it_is_stopped_down(workshop: Workshop) -> None:
    job = take_in(workshop, "second pattern, shutter to 1/500")
    card = owner_card(workshop, write(workshop, job, reading("as left", against(0.0, "1/100"))))
    assert card.stopped == "2 stops down"
    assert card.sentence == "Wide open every speed is as marked, to a tenth of a stop."
    alone = reading("as left", against(0.0, "1/100"), test="footage")
    alone["result"]["speeds"] = []
    other = take_in(workshop, "second pattern, shutter to 1/500")
    assert owner_card(workshop, write(workshop, other, alone)).sentence == (
        "Every speed gives what the dial says, to a tenth of a stop."
    )


def test_the_certificate_has_the_speeds_by_aperture_as_left(workshop: Workshop, job: Job) -> None:
    found = shown(workshop, job, reading("as found", against(0.9, "1/25")), reading("as left", against(0.1, "1/25")))
    (test,) = found.readings
    assert test.stopped is not None
    assert test.stopped.apertures == ("wide open", "f/5.6", "f/8", "f/11", "f/16")
    (row,) = test.stopped.rows
    assert (row.marked, row.phase) == ("1/25", "as left")
    target_s, open_s = 1 / 25, 1 / 25 * 2**0.1
    for n, cell in enumerate(row.cells):
        time_s = open_s + 1e-3 * (1 - 2 ** (-n / 2))
        assert cell.time == f"1/{1 / time_s:.0f} s"
        assert cell.error == f"{math.log2(time_s / target_s):+.2f}"
    text = " ".join(
        page.extract_text() for page in PdfReader(BytesIO(render_paper(workshop, job.id, "certificate"))).pages
    )
    assert "f/5.6" in text


def test_what_a_test_flags_that_the_certificate_does_not_show_is_no_remark(workshop: Workshop, job: Job) -> None:
    train = reading("as left", test="escapement", flags=["By sound, and relative."])
    found = shown(workshop, job, reading("as left", against(0.1, "1/25"), flags=["Few firings."]), train)
    assert any("Few firings." in remark for remark in found.remarks)
    assert not any("By sound" in remark for remark in found.remarks)


def test_a_lens_no_faster_than_f_8_and_a_test_that_predicts_nothing_have_no_second_column(workshop: Workshop) -> None:
    slow_lens = take_in(workshop, "meniscus, f/11")
    assert owner_card(workshop, write(workshop, slow_lens, reading("as left", against(0.0, "1/25")))).stopped == ""
    other = take_in(workshop, LENS)
    plain = reading("as left", against(0.0, "1/25"), speeds=[])
    assert owner_card(workshop, write(workshop, other, plain)).stopped == ""


def test_of_two_tests_of_a_speed_the_surest_is_on_the_card(workshop: Workshop, job: Job) -> None:
    card = owner_card(
        workshop,
        write(
            workshop,
            job,
            reading("as left", against(0.5, "1/25", 0.2)),
            reading("as left", against(0.3, "1/25", 0.1), test="curtains"),
        ),
    )
    assert [speed.open.off for speed in card.speeds] == ["0.3 slow"]


def test_an_owners_card_without_a_reading_that_still_holds_is_refused(workshop: Workshop, job: Job) -> None:
    with pytest.raises(Refused, match="reading as left that still holds"):
        owner_card(workshop, write(workshop, job, reading("as found", against(0.5, "1/25"))))
    later = {"kind": "removed", "part": "speed ring"}
    with pytest.raises(Refused, match="reading as left that still holds"):
        owner_card(workshop, write(workshop, job, reading("as left", against(0.5, "1/25")), later))


def test_between_two_predictions_the_time_follows_the_radius_of_the_aperture() -> None:
    """Exact for the opening of `stopped`, whatever the aperture; beyond the last prediction there is none."""
    wide_open = {"effective_s": 2e-3, "u_effective_s": 5e-6, "k95_effective": 2.0}
    record = {"speeds": [{**wide_open, "stopped_down": stopped(2e-3)}]}
    for stops in (0.5, 1.0, 2.39, 4.0):
        found = stopped_down(record, stops)
        assert found is not None
        assert found.effective_s == pytest.approx(2e-3 + 1e-3 * (1 - 2 ** (-stops / 2)))
        assert 2e-5 / 3e-3 / math.log(2) < found.expanded_stops < 2e-5 / 2e-3 / math.log(2)  # of the times about it
    assert stopped_down(record, 4.1) is None
    assert stopped_down(record, 0.0) is None
    assert stopped_down({}, 2.0) is None


def test_the_owners_card_states_the_uncertainty_of_the_times_stopped_down_too(workshop: Workshop, job: Job) -> None:
    found = against(0.3, "1/25", 0.001)
    card = owner_card(workshop, write(workshop, job, reading("as left", found)))
    # stopped(): u = 10 µs, k = 2; at the fastest of the times it weighs most
    assert float(card.expanded_u) >= 2e-5 / (found["mean_s"] + 1e-3) / math.log(2)


@pytest.mark.parametrize(
    ("time_s", "text"),
    [
        (0.0032, "1/310"),
        (1 / 1010, "1/1000"),
        (0.0161, "1/62"),
        (0.24, "1/4.2"),
        (0.97, "1.0 s"),
        (1.93, "1.9 s"),
        (30.4, "30 s"),
    ],
)
def test_about_is_two_digits_as_on_a_dial(time_s: float, text: str) -> None:
    assert about(time_s) == text


@pytest.mark.parametrize(
    ("stops", "text"), [(0.69, "0.7 slow"), (-0.31, "0.3 fast"), (0.04, "as marked"), (-0.06, "0.1 fast")]
)
def test_slow_and_fast_are_told_to_a_tenth_of_a_stop(stops: float, text: str) -> None:
    assert off_words(stops) == text
