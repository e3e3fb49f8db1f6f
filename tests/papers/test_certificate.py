"""The owner's page of the certificate and the owner's card, from journals written entry by entry."""

import math
from io import BytesIO
from typing import Any

import pytest
from pypdf import PdfReader

from camerawright.bench.record import Figure
from camerawright.papers.catalogue import render_paper
from camerawright.papers.certificate import BLADES_TAKE_TIME, Certificate, certificate
from camerawright.papers.owners_card import OwnersCard, about, off_words, owners_card
from camerawright.papers.speeds import MOST_APERTURES, by_aperture, surest
from camerawright.readings.validity import in_force
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.workshop.rows import Job
from tests.papers.readings_examples import LOST_S, reading, speed, take_in, write

LENS_STOPS = (3.5, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0)


def filled(workshop: Workshop, job: Job, *entries: dict[str, Any]) -> Certificate:
    """The certificate after these entries."""
    return certificate(workshop, write(workshop, job, *entries))[0]


def card(workshop: Workshop, job: Job, *entries: dict[str, Any]) -> OwnersCard:
    """The owner's card after these entries."""
    return owners_card(workshop, write(workshop, job, *entries))


# Speeds and limits


def test_each_speed_stands_once_as_found_and_as_left_with_its_limits_and_verdicts(workshop: Workshop, job: Job) -> None:
    found = filled(
        workshop,
        job,
        reading("as found", speed(0.9, "1/25", verdict="outside")),
        reading("as left", speed(-0.04, "1/25")),
        reading("as left", speed(0.47, "1/250", verdict="undecided", limit=0.5)),
    )
    slow, fast = found.speeds
    assert slow.as_found is not None
    assert slow.as_left is not None
    assert (slow.marked, slow.allowed) == ("1/25", "± 0.33")
    assert (slow.as_found.error, slow.as_found.verdict) == ("+0.90", "outside")
    assert (slow.as_left.gives, slow.as_left.error, slow.as_left.verdict) == ("1/26 s", "−0.04", "within")
    assert fast.as_found is None
    assert fast.as_left is not None
    assert (fast.marked, fast.allowed, fast.as_left.verdict) == ("1/250", "± 0.50", "undecided")


def test_without_limits_nothing_is_allowed_or_judged(workshop: Workshop, job: Job) -> None:
    found = filled(workshop, job, reading("as left", speed(0.1, "1/25", verdict=None, limit=None)))
    assert (found.speeds[0].allowed, found.speeds[0].as_left and found.speeds[0].as_left.verdict) == ("", None)
    assert found.by_aperture is not None
    assert {cell.verdict for row in found.by_aperture.rows for cell in row.cells} == {None}


@pytest.mark.usefixtures("second_test")
def test_of_two_tests_of_a_speed_the_surest_reading_of_each_phase_counts(workshop: Workshop, job: Job) -> None:
    entries = (
        reading("as found", speed(0.9, "1/25", 0.1)),
        reading("as left", speed(0.5, "1/25", 0.2)),
        reading("as found", speed(0.8, "1/25", 0.2), test="other"),
        reading("as left", speed(0.3, "1/25", 0.1), test="other"),
        reading("as left", speed(0.2, "1/100", 0.3), test="other"),
    )
    here = write(workshop, job, *entries)
    rows = surest(in_force(here.state))
    assert [(row.marked, *(read.against.mean.value for read in row.read)) for row in rows] == [
        ("1/25", 0.9, 0.3),
        ("1/100", 0.2),
    ]
    assert [one.off[0] for one in owners_card(workshop, here).speeds] == ["+0.3", "+0.2"]


def test_figures_that_are_no_speeds_stand_beneath_by_test(workshop: Workshop, job: Job) -> None:
    contact = (Figure(name="class X", value=-2e-3, unit="s", u=5e-5, k95=2.0, n=6, verdict="outside"),)
    found = filled(workshop, job, reading("as left", figures=contact))
    (other,) = found.others
    assert (other.title, other.rows[0].what) == ("Leaf shutter by light", "class X")
    assert found.speeds == ()
    assert found.by_aperture is None
    assert "±" in found.trust


# At each aperture


def test_a_speed_is_told_and_judged_at_each_aperture_of_the_lens(workshop: Workshop) -> None:
    """t = open + 1 ms (1 - r), r = N0/N: straight with r, so it is exact between and beyond the predictions."""
    job = take_in(workshop, f_numbers=LENS_STOPS)
    found = filled(workshop, job, reading("as left", speed(0.28, "1/250", 0.02, limit=0.33)))
    assert found.by_aperture is not None
    assert found.by_aperture.apertures == ("f/3.5", "f/4", "f/5.6", "f/8", "f/11", "f/16", "f/22")
    (row,) = found.by_aperture.rows
    target_s, open_s = 1 / 256, 1 / 256 * 2**0.28
    for cell, f_number in zip(row.cells, (3.5, 4, 32**0.5, 8, 128**0.5, 16, 512**0.5), strict=True):
        stops = math.log2((open_s + LOST_S * (1 - 3.5 / f_number)) / target_s)
        assert abs(float(cell.error.replace("−", "-")) - stops) < 0.006
        assert cell.verdict == ("within" if stops < 0.3 else "outside" if stops > 0.35 else cell.verdict)
    assert (row.cells[0].verdict, row.cells[-1].verdict) == ("within", "outside")


def test_where_it_was_measured_a_speed_is_told_as_read(workshop: Workshop, job: Job) -> None:
    """Of its error against the mark, not of its time alone: the mean of several firings has another interval."""
    here = write(workshop, job, reading("as left", speed(0.33, "1/25", 0.2, verdict="undecided")))
    shown = by_aperture(here.job.camera, [row.read[0] for row in surest(here.state.measured)])
    first = shown.cells[0][0]
    assert first is not None
    assert (first.error.value, first.verdict) == (0.33, "undecided")
    assert first.error.expanded_u == pytest.approx(0.2)


def test_what_is_computed_for_an_aperture_has_the_uncertainty_of_its_time_in_stops(
    workshop: Workshop, job: Job
) -> None:
    """d(stops) = dt / (t ln 2); `speed`: u = 10 µs at every aperture."""
    here = write(workshop, job, reading("as left", speed(0.1, "1/500")))
    shown = by_aperture(here.job.camera, [row.read[0] for row in surest(here.state.measured)])
    for aperture, cell in list(zip(shown.apertures, shown.cells[0], strict=True))[1:]:
        assert cell is not None
        time_s = 2**0.1 / 512 + LOST_S * (1 - 2 ** (-aperture.stops_down / 2))
        assert cell.error.u == pytest.approx(1e-5 / (time_s * math.log(2)), rel=1e-6)


def test_a_reading_at_a_smaller_aperture_tells_nothing_of_wider_ones(workshop: Workshop) -> None:
    job = take_in(workshop, f_numbers=LENS_STOPS)
    at_8 = reading("as left", speed(0.1, "1/250"), words="lens at f/8")
    found = filled(workshop, job, at_8, reading("as left", speed(0.1, "1/25"), words="lens wide open"))
    assert found.by_aperture is not None
    slow, fast = found.by_aperture.rows
    assert [cell.error for cell in fast.cells[:4]] == ["", "", "", "+0.10"]
    assert fast.cells[4].error > "+0.10"
    assert slow.cells[0].error == "+0.10"


def test_the_table_shows_as_left_or_as_found_where_a_speed_was_not_measured_as_left(
    workshop: Workshop, job: Job
) -> None:
    found = filled(
        workshop,
        job,
        reading("as found", speed(0.9, "1/25")),
        reading("as left", speed(0.1, "1/25")),
        reading("as found", speed(0.7, "1/100")),
    )
    assert found.by_aperture is not None
    assert [(row.marked, row.phase, row.cells[0].error) for row in found.by_aperture.rows] == [
        ("1/25", "as left", "+0.10"),
        ("1/100", "as found", "+0.70"),
    ]


def test_apertures_at_which_nothing_is_told_are_left_out(workshop: Workshop) -> None:
    """f/128 of a lens of f/3.5 lies ten stops down; a test that predicts nothing tells the one it was read at."""
    job = take_in(workshop, f_numbers=(3.5, 8.0, 128.0))
    found = filled(workshop, job, reading("as left", speed(0.1, "1/25")))
    assert found.by_aperture is not None
    assert found.by_aperture.apertures == ("f/3.5", "f/8")
    plain = filled(workshop, take_in(workshop), reading("as left", speed(0.1, "1/50", predicts=False)))
    assert plain.by_aperture is None or plain.by_aperture.rows


def test_of_very_many_apertures_the_usual_ones_are_shown(workshop: Workshop) -> None:
    many = (1.4, 1.6, 1.8, 2.0, 2.2, 2.5, 2.8, 3.2, 3.5, 4.0, 4.5, 5.0, 5.6, 8.0, 11.0, 16.0)
    job = take_in(workshop, f_numbers=many)
    found = filled(workshop, job, reading("as left", speed(0.1, "1/25")))
    assert found.by_aperture is not None
    assert found.by_aperture.apertures == ("f/1.4", "f/2", "f/2.8", "f/4", "f/5.6", "f/8", "f/11")
    assert len(found.by_aperture.apertures) <= MOST_APERTURES


def test_certificate_and_owners_card_show_the_same_apertures(workshop: Workshop) -> None:
    job = take_in(workshop, f_numbers=LENS_STOPS)
    here = write(workshop, job, reading("as left", speed(0.1, "1/25")), reading("as left", speed(0.47, "1/250")))
    page, small = certificate(workshop, here)[0], owners_card(workshop, here)
    assert page.by_aperture is not None
    assert small.apertures == page.by_aperture.apertures
    for row, shown in zip(page.by_aperture.rows, small.speeds, strict=True):
        assert shown.marked == row.marked
        for cell, off in zip(row.cells, shown.off, strict=True):
            assert abs(float(cell.error.replace("−", "-")) - float(off.replace("−", "-"))) <= 0.056


# What explains it


def test_a_speed_that_is_slower_at_small_stops_is_explained_with_the_verdicts_that_change(workshop: Workshop) -> None:
    job = take_in(workshop, f_numbers=LENS_STOPS)
    found = filled(
        workshop,
        job,
        reading("as left", speed(0.1, "1/25")),
        reading("as left", speed(0.28, "1/250", 0.02)),
    )
    assert found.explained == (
        f"{BLADES_TAKE_TIME}: 1/250 is within the limits at f/3.5 and outside the limits at f/22."
    )


def test_without_a_change_of_verdict_it_is_explained_without_an_example(workshop: Workshop) -> None:
    found = filled(workshop, take_in(workshop, f_numbers=LENS_STOPS), reading("as left", speed(0.0, "1/250", 0.02)))
    assert found.explained == f"{BLADES_TAKE_TIME}."


def test_what_a_tenth_of_a_stop_does_not_show_is_not_explained(workshop: Workshop) -> None:
    """1 ms lost of 40 ms is 0.03 stop."""
    found = filled(workshop, take_in(workshop, f_numbers=LENS_STOPS), reading("as left", speed(0.0, "1/25")))
    assert found.explained == ""


def test_how_far_to_trust_it_is_told_by_the_least_certain_reading(workshop: Workshop, job: Job) -> None:
    found = filled(
        workshop, job, reading("as found", speed(0.9, "1/25", 0.081)), reading("as left", speed(0.1, "1/25", 0.02))
    )
    assert "within ± 0.09 stop of the one above" in found.trust
    assert "smaller stops" not in found.trust


def test_what_is_computed_and_less_certain_is_told_apart(workshop: Workshop) -> None:
    """u = 10 µs, k = 1.96 of a time of 2 ms and more: within 0.012 stop; what was read here is surer."""
    job = take_in(workshop, f_numbers=LENS_STOPS)
    found = filled(workshop, job, reading("as left", speed(0.0, "1/500", 0.005)))
    assert "within ± 0.01 stop of the one above; what is computed for smaller stops, within ± " in found.trust
    computed = float(found.trust.split("± ")[2].split()[0])
    assert computed >= 1.96 * 1e-5 / (1 / 512 + LOST_S) / math.log(2)


# The page


def test_a_certificate_is_a_draft_until_the_job_is_closed(workshop: Workshop, job: Job) -> None:
    assert filled(workshop, job, reading("as left", speed(0.1, "1/25"))).is_draft
    assert not filled(workshop, job, {"kind": "closed"}).is_draft


def test_the_owners_page_says_whose_camera_it_is_and_what_was_wanted(workshop: Workshop, job: Job) -> None:
    found = filled(workshop, job, reading("as left", speed(0.1, "1/25")))
    assert (found.number, found.owner, found.owners_words, found.wanted, found.camera) == (
        f"{job.id}-C",
        "Ines Marrow",
        "Slow speeds stick.",
        "to be used",
        job.camera,
    )


def test_nothing_measured_is_no_certificate(workshop: Workshop, job: Job) -> None:
    with pytest.raises(Refused, match="nothing has been measured"):
        certificate(workshop, write(workshop, job, {"kind": "noted", "note": "rust"}))


def test_what_the_page_has_no_room_for_stands_in_the_annex_and_the_page_says_so(workshop: Workshop, job: Job) -> None:
    findings = [{"kind": "found", "part": f"part {n}", "defect": "worn"} for n in range(9)]
    cleaned = [{"kind": "cleaned", "part": f"part {n}", "route": f"route {n}"} for n in range(7)]
    found = filled(workshop, job, *findings, *cleaned, reading("as left", speed(0.1, "1/25")))
    assert [finding.part for finding in found.findings] == [*(f"part {n}" for n in range(5)), "and 4 more"]
    assert [line.words for line in found.work] == [
        *(f"part {n}: route {n}" for n in range(3)),
        "and 4 more, see the annex",
    ]
    assert len(found.annex.findings) == 9
    assert len(found.annex.work) == 7


def test_what_the_page_has_room_for_is_not_told_twice(workshop: Workshop, job: Job) -> None:
    findings = [{"kind": "found", "part": f"part {n}", "defect": "worn"} for n in range(6)]
    cleaned = [{"kind": "cleaned", "part": f"part {n}", "route": f"route {n}"} for n in range(4)]
    found = filled(workshop, job, *findings, *cleaned, reading("as left", speed(0.1, "1/25")))
    assert len(found.findings) == 6
    assert len(found.work) == 4
    assert (found.annex.findings, found.annex.work) == ((), ())


def test_a_certificate_whose_recording_is_lost_is_printed(workshop: Workshop, job: Job) -> None:
    write(workshop, job, reading("as left", speed(0.1, "1/25"), speed(0.2, "1/50")))
    first, *others = PdfReader(BytesIO(render_paper(workshop, job.id, "certificate"))).pages
    assert "1/25" in first.extract_text()
    assert "no picture" not in first.extract_text()
    assert "no picture, its recording cannot be read" in " ".join(
        " ".join(page.extract_text() for page in others).split()
    )


# Owner's card


def test_the_owners_card_says_each_speed_as_left_in_plain_words(workshop: Workshop, job: Job) -> None:
    found = card(
        workshop,
        job,
        reading("as found", speed(0.9, "1/25")),
        reading("as left", speed(0.02, "1/25")),
        reading("as left", speed(0.69, "1/500", 0.055)),
    )
    slow, fast = found.speeds
    assert found.apertures == ("f/4", "f/5.6", "f/8", "f/11", "f/16")
    assert (slow.marked, slow.gives, slow.off[0]) == ("1/25", "1/25", "0")
    assert (fast.marked, fast.gives, fast.off[0]) == ("1/500", "1/320", "+0.7")
    stops = math.log2((2**0.69 / 512 + LOST_S / 2) * 512)  # f/4 to f/8: r = 1/2
    assert fast.off[2] == f"+{stops:.1f}"
    assert found.expanded_u == "0.06"
    assert found.sentence == "1/500 gives about 1/320: 0.7 stop more light than the dial says."


def test_without_a_known_largest_aperture_the_card_says_how_far_it_is_stopped_down(workshop: Workshop) -> None:
    found = card(workshop, take_in(workshop, "second pattern"), reading("as left", speed(0.0, "1/100")))
    assert found.apertures == ("wide open", "1 stop down", "2 stops down", "3 stops down", "4 stops down")
    assert found.sentence == "Wide open each speed above is as marked, to a tenth of a stop."


def test_a_test_that_predicts_nothing_has_one_column_in_words(workshop: Workshop, job: Job) -> None:
    found = card(
        workshop,
        job,
        reading("as left", speed(0.3, "1/25", predicts=False)),
        reading("as left", speed(0.0, "1/50", predicts=False)),
        reading("as left", speed(-0.2, "1/100", predicts=False)),
    )
    assert found.apertures == ()
    assert [one.off for one in found.speeds] == [("0.3 slow",), ("as marked",), ("0.2 fast",)]
    assert found.sentence == "1/25 gives about 1/20: 0.3 stop more light than the dial says."
    flat = card(workshop, take_in(workshop), reading("as left", speed(0.0, "1/25", predicts=False), recording="b"))
    assert flat.sentence == "Each speed above gives what the dial says, to a tenth of a stop."


def test_where_one_speed_predicts_and_another_does_not_the_second_has_no_figure_there(
    workshop: Workshop, job: Job
) -> None:
    found = card(
        workshop, job, reading("as left", speed(0.3, "1/25")), reading("as left", speed(0.1, "1/100", predicts=False))
    )
    assert found.speeds[1].off == ("+0.1", "–", "–", "–", "–")


def test_an_owners_card_without_a_reading_that_still_holds_is_refused(workshop: Workshop, job: Job) -> None:
    with pytest.raises(Refused, match="reading as left that still holds"):
        card(workshop, job, reading("as found", speed(0.5, "1/25")))
    later = {"kind": "removed", "part": "speed ring"}
    with pytest.raises(Refused, match="reading as left that still holds"):
        card(workshop, job, reading("as left", speed(0.5, "1/25")), later)


def test_the_owners_card_states_the_uncertainty_of_what_is_computed_too(workshop: Workshop, job: Job) -> None:
    """`speed`: u = 10 µs; at the shortest time it weighs most."""
    found = card(workshop, job, reading("as left", speed(0.3, "1/500", 0.001)))
    assert float(found.expanded_u) >= 1.96e-5 / (2**0.3 / 512 + LOST_S) / math.log(2)


@pytest.mark.parametrize(
    ("marks", "note"),
    [
        (
            ("1/30", "1/60", "1/125"),
            "Each step of the dial doubles the time: 1/30 is exactly 1/32, 1/60 is exactly 1/64, 1/125 is exactly"
            " 1/128.",
        ),
        (("1/30", "1/125"), "1/30 is exactly 1/32, 1/125 is exactly 1/128."),
        (("1/25", "1/50", "1/100"), ""),
        (("1", "1/5", "1/25", "1/250"), "1/250 is exactly 1/256."),
        (("1", "1/2", "1/4", "1/8"), ""),
        (("1/60",), "1/60 is exactly 1/64."),
    ],
)
def test_doubling_is_said_only_where_every_step_doubles(
    workshop: Workshop, job: Job, marks: tuple[str, ...], note: str
) -> None:
    """The modern series rounds powers of two, the old one does not (ISO 516 series, quoted; common practice)."""
    dial = (speed(0.1, mark if mark != "1" else "1s") for mark in marks)
    assert card(workshop, job, *(reading("as left", one) for one in dial)).note == note


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
