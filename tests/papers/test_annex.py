"""The annex of the certificate: what it shows of the readings, from journals written entry by entry."""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from camerawright.bench import codec
from camerawright.bench.catalogue import CATALOGUE, find_test
from camerawright.bench.record import Figure
from camerawright.bench.sync import record as sync
from camerawright.bench.sync.record import Light, Usable
from camerawright.demo.recordings import record
from camerawright.handbook.sync import Contact
from camerawright.job.now import JobNow, job_now
from camerawright.journal.entries import Measured, Phase
from camerawright.papers.annex import Annex, annex, uncertainty_words, what_limits
from camerawright.papers.annex_pictures import most_telling
from camerawright.papers.certificate import certificate
from camerawright.quantity import BudgetLine, Quantity
from camerawright.readings import measuring, recorded
from camerawright.readings.pictures import svg
from camerawright.readings.rows import rows
from camerawright.readings.validity import void
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job
from tests.papers.readings_examples import firing, reading, speed, take_in, write


def shown(workshop: Workshop, job: Job, *entries: dict[str, Any]) -> Annex:
    """The annex after these entries."""
    return annex(workshop, write(workshop, job, *entries))[0]


def fact(found: Annex, label: str, i_test: int = 0) -> str:
    """One of the facts of a test, "" where it is not told."""
    return next((line.words for line in found.tests[i_test].facts if line.label == label), "")


# Which readings


def test_of_several_readings_of_a_phase_the_newest_is_printed(workshop: Workshop, job: Job) -> None:
    (test,) = shown(
        workshop,
        job,
        reading("as found", speed(0.9, "1/25"), recording="a"),
        reading("as found", speed(0.8, "1/25"), recording="b"),
        reading("as left", speed(0.2, "1/25"), recording="c"),
        reading("as left", speed(0.1, "1/25"), recording="d"),
    ).tests
    (row,) = test.rows
    assert row.as_found is not None
    assert row.as_left is not None
    assert (row.as_found.error, row.as_left.error) == ("+0.80", "+0.10")


def test_every_speed_of_a_recording_that_holds_several_gets_its_row(workshop: Workshop, job: Job) -> None:
    (test,) = shown(workshop, job, reading("as left", speed(0.1, "1/25"), speed(0.2, "1/100"))).tests
    assert [(row.marked, row.as_left and row.as_left.error) for row in test.rows] == [
        ("1/25", "+0.10"),
        ("1/100", "+0.20"),
    ]


@pytest.mark.usefixtures("second_test")
def test_each_test_of_the_catalogue_that_was_used_gets_its_section(workshop: Workshop, job: Job) -> None:
    found = shown(
        workshop,
        job,
        reading("as left", speed(0.2, "1/25"), test="other", method="other 7"),
        reading("as left", speed(0.1, "1/25")),
    )
    assert [test.title for test in found.tests] == ["Leaf shutter by light", "Other test"]
    assert [fact(found, "Method", i) for i in (0, 1)] == [find_test("shutter").method, "other 7"]
    assert [row.as_left.error for test in found.tests for row in test.rows if row.as_left] == ["+0.10", "+0.20"]


def test_figures_without_a_mark_get_a_table_of_their_own(workshop: Workshop, job: Job) -> None:
    """A test that only tells; its word for a phase is the newest."""

    def told(value_s: float) -> tuple[Figure, ...]:
        delay = Figure(name="class X", value=value_s, unit="s", u=5e-5, k95=2.0, n=6, verdict="within")
        return delay, Figure(name="bounces", value=None, unit="", says="2")

    (test,) = shown(
        workshop,
        job,
        reading("as found", figures=told(-2.3e-3), recording="a"),
        reading("as left", figures=told(0.5e-3), recording="b"),
        reading("as left", figures=told(0.4e-3), recording="c"),
    ).tests
    assert (test.rows, test.budget) == ((), None)
    delay, bounces = test.told
    assert delay.as_found is not None
    assert delay.as_left is not None
    assert (delay.as_found.read, delay.as_left.read, delay.as_left.verdict) == (
        "−2.30 ± 0.10 ms",
        "0.40 ± 0.10 ms",
        "within",
    )
    assert (bounces.what, bounces.as_left and bounces.as_left.read) == ("bounces", "2")


def test_what_the_x_contact_fires_is_not_told_of_the_m_contact(workshop: Workshop, job: Job) -> None:
    """A shutter may have both; electronic flash goes on X, and never on M (common practice)."""

    def of(contact: Contact, usable: Usable) -> dict[str, Any]:
        flash = Light(
            light="electronic flash of 1 ms", is_bulb=False, usable=usable, verdict="within", probability=1.0, says="",
            source="common practice",
        )  # fmt: skip
        at = sync.Speed(
            marked="1/30", likely=None, target_s=1 / 32, open_s=0.033, i_firings=(), shutter="leaf", sensor_at=None,
            contact=contact, classes=(), lights=(flash,),
        )  # fmt: skip
        found = sync.SyncRecord(test="sync", method="of long ago", at_speeds=(at,))
        return reading("as left", test="sync", recording={"X": "a", "M": "b"}[contact], result=codec.written(found))

    (test,) = shown(workshop, job, of("X", "yes"), of("M", "no")).tests
    told = {(row.marked, row.what): row.as_left.read for row in test.told if row.as_left}
    assert told == {
        ("1/30", "electronic flash of 1 ms by the X contact"): "usable",
        ("1/30", "electronic flash of 1 ms by the M contact"): "not usable",
    }


# Void and late


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
    found = shown(workshop, job, reading("as found", speed(0.9, "1/25")), reading("as left", speed(0.1, "1/25")), later)
    (row,) = found.tests[0].rows
    assert row.as_found is not None
    assert row.as_left is None
    assert f"1/25, as left: not shown, because {why}" in found.remarks
    again = shown(workshop, job, reading("as left", speed(0.05, "1/25"), recording="b"))
    assert again.tests[0].rows[0].as_left is not None


def test_a_reading_as_left_of_a_camera_in_pieces_says_so_and_one_of_a_whole_camera_does_not(
    workshop: Workshop, job: Job
) -> None:
    off = {"kind": "removed", "part": "speed ring"}
    found = shown(workshop, job, off, reading("as left", speed(0.1, "1/25")))
    assert any("as left after speed ring came off" in remark for remark in found.remarks)
    later = reading("as left", speed(0.1, "1/25"), recording="b")
    whole = shown(workshop, job, {"kind": "refitted", "part": "speed ring"}, later)
    assert sum("came off" in remark for remark in whole.remarks) == sum("came off" in one for one in found.remarks)


def test_a_reading_as_found_that_was_entered_after_the_work_says_so_for_ever(workshop: Workshop, job: Job) -> None:
    """Also once everything is back, when the mistake is likeliest; one from before the work says nothing."""
    before = reading("as found", speed(0.9, "1/25"), recording="a")
    off_and_back = [{"kind": kind, "part": "speed ring"} for kind in ("removed", "refitted")]
    write(workshop, job, before, *off_and_back)
    assert certificate(workshop, job_now(workshop, job.id))[0].entered_late == ""
    after = reading("as found", speed(0.8, "1/50"), recording="b")
    again = reading("as found", speed(0.7, "1/25"), recording="a")  # of that day still
    here = write(workshop, job, after, again)
    said, _ = certificate(workshop, here)
    (title,) = [test.title for test in said.annex.tests]
    assert said.entered_late == f"{title} 1/50"
    assert [remark for remark in said.annex.remarks if "after the work" in remark] == [
        "1/50, as found: entered as found after the work had begun (speed ring came off)"
    ]


def test_a_recording_measured_again_stands_once(workshop: Workshop, job: Job) -> None:
    """With more told of its set-up, or at the right mark after a wrong one, it is the same firings."""
    again = [reading("as found", speed(stops, "1/25"), recording="a") for stops in (0.9, 0.8)]
    found = shown(workshop, job, *again)
    assert [row.marked for row in found.tests[0].rows] == ["1/25"]
    assert sum("measured again, with another set-up" in remark for remark in found.remarks) == 1
    found = shown(workshop, job, reading("as found", speed(0.1, "1/50"), recording="a"))
    assert [row.marked for row in found.tests[0].rows] == ["1/50"]
    assert any("measured again, with another mark" in remark for remark in found.remarks)


def test_what_was_turned_for_another_test_or_came_off_before_voids_nothing(workshop: Workshop, job: Job) -> None:
    here = write(
        workshop,
        job,
        {"kind": "removed", "part": "speed ring"},
        reading("as left", speed(0.1, "1/25")),
        {"kind": "adjusted", "adjuster": "arm", "after": "in", "test": "rangefinder"},
        {"kind": "adjusted", "adjuster": "screw", "after": "in"},
        {"kind": "refitted", "part": "speed ring"},
    )
    assert void(here.state) == {}


def test_every_recording_is_named_with_its_hash_a_void_one_too(workshop: Workshop, job: Job) -> None:
    found = shown(
        workshop,
        job,
        reading("as found", speed(0.9, "1/25"), recording="a1"),
        reading("as left", speed(0.1, "1/25"), recording="b2"),
        {"kind": "removed", "part": "speed ring"},
    )
    assert [(line.label, line.words) for line in found.recordings] == [
        ("shutter 1/25 as found", "a1" + 14 * "0"),
        ("shutter 1/25 as left", "b2" + 14 * "0"),
    ]


# How it was measured


def test_the_decision_rule_is_told_only_where_something_is_judged(workshop: Workshop, job: Job) -> None:
    found = shown(workshop, job, reading("as left", speed(0.1, "1/25", verdict=None, limit=None, source="")))
    assert fact(found, "Verdict") == ""
    assert fact(found, "Limits") == "Camera in everyday use"
    judged = shown(workshop, job, reading("as left", speed(0.1, "1/25"), recording="b"))
    assert "95 % probability" in fact(judged, "Verdict")
    assert fact(judged, "Limits") == "Camera in everyday use (common practice)"


@pytest.mark.parametrize(("verdict", "is_told"), [("within", True), ("undecided", True), (None, False)])
def test_a_figure_that_is_judged_brings_the_rule_and_no_limits_of_speeds(
    workshop: Workshop, job: Job, verdict: Any, is_told: bool
) -> None:
    figure = Figure(name="register", value=28.8, unit="mm", u=0.01, verdict=verdict)
    found = shown(workshop, job, reading("as left", figures=(figure,)))
    assert bool(fact(found, "Verdict")) == is_told
    assert fact(found, "Limits") == ""


def test_the_set_up_is_told_once_in_the_words_that_were_given(workshop: Workshop, job: Job) -> None:
    found = shown(
        workshop,
        job,
        reading("as found", speed(0.9, "1/25"), words="lens wide open, LED torch"),
        reading("as left", speed(0.1, "1/25"), words="lens wide open, LED torch"),
    )
    assert fact(found, "Set-up") == "lens wide open, LED torch"
    bare = shown(workshop, take_in(workshop), reading("as left", speed(0.1, "1/25")))
    assert fact(bare, "Set-up") == ""


def mean(dof: float, u: float = 0.01) -> Quantity:
    return Quantity(0.1, "stop", (BudgetLine("repeatability", u, dof, "A"),))


@pytest.mark.parametrize(
    ("dofs", "k"),
    [
        ((4.0, float("inf"), 9.0), "k = 2.0 to 2.8"),
        ((float("inf"), 4.0), "k = 2.0 to 2.8"),
        ((5.0, 5.0), "k = 2.6,"),
        ((), "± is the expanded uncertainty, for"),
    ],
)
def test_the_coverage_factor_runs_from_the_least_to_the_greatest(dofs: tuple[float, ...], k: str) -> None:
    """JCGM 100:2008, table G.2, 95 %: 1.96 for infinite, 2.26 for 9, 2.57 for 5, 2.78 for 4 degrees of freedom."""
    assert k in uncertainty_words([mean(dof) for dof in dofs])


def test_the_coverage_factors_of_all_readings_shown_count_those_as_found_too(workshop: Workshop, job: Job) -> None:
    found = shown(
        workshop,
        job,
        reading("as found", speed(0.9, "1/25", dof=4)),
        reading("as left", speed(0.1, "1/25")),
        reading("as left", speed(0.1, "1/100", dof=9)),
    )
    assert "k = 2.0 to 2.8" in fact(found, "Uncertainty")


def test_the_budget_has_every_line_of_each_marks_newest_reading_and_what_they_come_to(
    workshop: Workshop, job: Job
) -> None:
    """Lines of 0.03 and 0.04 stop make 0.05 (JCGM 100:2008, 5.1.2)."""
    both = replace(mean(float("inf"), 0.03), budget=(BudgetLine("repeatability", 0.03), BudgetLine("timing", 0.04)))
    slow, fast = speed(0.1, "1/25"), speed(0.2, "1/100", 0.0196)
    assert slow.compared is not None
    slow = replace(slow, compared=replace(slow.compared, mean=both))
    (test,) = shown(
        workshop, job, reading("as found", speed(0.9, "1/25", 0.8)), reading("as left", slow), reading("as left", fast)
    ).tests
    assert test.budget is not None
    assert test.budget.heads == ("1/25", "1/100")
    assert test.budget.rows == (
        ("timing", "0.040", "–"),
        ("repeatability", "0.030", "0.010"),
        ("combined", "0.050", "0.010"),
    )


# Each firing, and what is doubtful


def test_each_firing_stands_under_its_recording_up_to_two_dozen(workshop: Workshop, job: Job) -> None:
    few = tuple(firing(float(n)) for n in range(3))
    many = tuple(firing(float(n)) for n in range(30))
    (test,) = shown(
        workshop,
        job,
        reading("as found", speed(0.9, "1/25"), firings=few),
        reading("as left", speed(0.1, "1/25"), firings=many),
    ).tests
    rows_of = {of.label: of for firings in test.firings for of in firings.recordings}
    assert [row[0] for row in rows_of["1/25, as found"].rows] == ["0.00", "1.00", "2.00"]
    assert rows_of["1/25, as found"].notes == ()
    assert len(rows_of["1/25, as left"].rows) == 24
    assert rows_of["1/25, as left"].notes == ("and 6 more, in the workshop's record",)
    assert all(
        len(row) == len(firings.heads) for firings in test.firings for of in firings.recordings for row in of.rows
    )


def test_the_flags_of_a_recording_and_of_its_firings_are_remarks(workshop: Workshop, job: Job) -> None:
    bounce, lossy = "The blades bounce after opening.", "The file is lossy."
    firings = (firing(0, bounce), firing(1), firing(2, bounce, "It opens again."))
    found = shown(workshop, job, reading("as left", speed(0.1, "1/25"), flags=(lossy,), firings=firings))
    assert f"1/25, as left: {lossy}" in found.remarks
    assert f"1/25, as left, firings 1, 3: {bounce}" in found.remarks
    assert "1/25, as left, firing 3: It opens again." in found.remarks


def test_only_the_newest_reading_of_a_speed_and_phase_is_remarked_on(workshop: Workshop, job: Job) -> None:
    found = shown(
        workshop,
        job,
        reading("as left", speed(0.1, "1/25"), flags=("Older.",), recording="a"),
        reading("as left", speed(0.1, "1/25"), flags=("Newer.",), recording="b"),
        reading("as found", speed(0.1, "1/25"), flags=("Found.",), recording="c"),
    )
    assert [remark for remark in found.remarks if "er." in remark or "Found." in remark] == [
        "1/25, as left: Newer.",
        "1/25, as found: Found.",
    ]


@pytest.mark.parametrize(
    ("flag", "limits"),
    [
        ("The firings compared with 1/25 are +0.9 stops from it: is the mark right?", ""),
        ("the edges are sharper than a sensor sees them: check “Diameter of the sensors” and the places.", ""),
        ("Check the zero of the gauge.", ""),
        ("No shim makes up for 1.2 mm. Check that the nominal is that of this mount.", "No shim makes up for 1.2 mm."),
        *[
            (fact, fact)
            for fact in (
                "Fewer than three firings: the repeatability is not known well; six are recommended.",
                "The file is lossy: the times are widened for it.",
            )
        ],
    ],
)
def test_a_doubt_that_is_meant_for_the_bench_stays_there(workshop: Workshop, job: Job, flag: str, limits: str) -> None:
    assert what_limits(flag) == limits
    found = shown(workshop, job, reading("as left", speed(0.1, "1/25"), flags=(flag,), firings=(firing(0, flag),)))
    about_it = [remark for remark in found.remarks if remark.endswith(limits or flag)]
    assert len(about_it) == (2 if limits else 0)
    assert not any("Check" in remark for remark in found.remarks)


@pytest.mark.usefixtures("second_test")
def test_what_a_test_flags_that_the_annex_does_not_show_is_no_remark(workshop: Workshop, job: Job) -> None:
    hidden = reading("as left", test="other", flags=("By sound, and relative.",))
    found = shown(workshop, job, reading("as left", speed(0.1, "1/25"), flags=("Few firings.",)), hidden)
    assert any("Few firings." in remark for remark in found.remarks)
    assert not any("By sound" in remark for remark in found.remarks)


# Pictures


def test_a_reading_of_an_earlier_version_of_the_method_is_shown_without_a_picture_and_says_so(
    workshop: Workshop, job: Job
) -> None:
    found = shown(workshop, job, reading("as left", speed(0.1, "1/25"), method="m 0"))
    assert any("earlier version of the method" in remark for remark in found.remarks)
    assert [row.marked for test in found.tests for row in test.rows] == ["1/25"]


def test_a_recording_that_is_lost_is_remarked_on(workshop: Workshop, job: Job) -> None:
    here = write(workshop, job, reading("as left", speed(0.1, "1/25"), speed(0.2, "1/50")))
    found, images = annex(workshop, here)
    assert any("no picture, its recording cannot be read" in remark for remark in found.remarks)
    assert list(images) == ["shutter, all"]


def entry_of(here: JobNow, i: int) -> Measured:
    return here.state.measured[i]


def test_the_fastest_speed_as_left_is_drawn_and_as_found_only_where_none_was_left(workshop: Workshop, job: Job) -> None:
    test = CATALOGUE[0]
    here = write(workshop, job, reading("as found", speed(0.9, "1/25")), reading("as found", speed(0.9, "1/500")))
    assert most_telling(rows(here.state.measured, test), here.state.measured) is entry_of(here, 1)
    here = write(workshop, job, reading("as left", speed(0.1, "1/25")), reading("as left", speed(0.1, "1/100")))
    assert most_telling(rows(here.state.measured, test), here.state.measured) is entry_of(here, 3)
    here = write(workshop, job, reading("as left", speed(0.2, "1/100"), recording="b"))
    assert most_telling(rows(here.state.measured, test), here.state.measured) is entry_of(here, 4)


def test_without_marks_the_newest_reading_as_left_is_drawn(workshop: Workshop, job: Job) -> None:
    figure = (Figure(name="register", value=28.8, unit="mm"),)
    phases = ("as found", "as left", "as left", "as found")
    here = write(workshop, job, *(reading(phase, figures=figure, recording=f"{n}") for n, phase in enumerate(phases)))
    assert most_telling((), here.state.measured) is entry_of(here, 2)
    found_only = [entry for entry in here.state.measured if entry.phase == "as found"]
    assert most_telling((), found_only) is entry_of(here, 3)


def test_all_marks_and_the_fastest_as_left_are_drawn_from_the_kept_recordings(
    workshop: Workshop, job: Job, tmp_path: Path
) -> None:
    """Its first firing, of all that the recording holds: the picture is that of the test itself, from that record."""
    test = find_test("shutter")
    wanted: tuple[tuple[Phase, str, float, int], ...] = (
        ("as found", "1/100", 0.2, 3),
        ("as left", "1/100", 0.3, 4),
        ("as left", "1/25", 0.1, 5),
        ("as found", "1/25", 0.4, 6),
    )
    for phase, marked, stops, seed in wanted:
        path = tmp_path / f"{seed}.wav"
        record(path, marked, error_stops=stops, seed=seed)
        measuring.measured(workshop, job.id, test, path, marked=marked, phase=phase)
    here = job_now(workshop, job.id)
    found, images = annex(workshop, here)
    assert list(images) == ["shutter, all", "shutter, one"]
    all_marks, one = found.tests[0].pictures
    said = dict(re.findall(r"(1/\d+): (\+0\.\d\d) stops as left", all_marks.words))
    assert {mark: abs(float(stops) - {"1/100": 0.3, "1/25": 0.1}[mark]) < 0.05 for mark, stops in said.items()} == {
        "1/25": True,
        "1/100": True,
    }
    assert re.fullmatch(
        r"waveform: 1/100, as left; firing 1 at \d\.\d\d s, as recorded and with the AC coupling undone", one.caption
    )
    drawn = here.state.measured[1]
    figure = test.plots(measuring.recording_of(workshop, drawn), recorded.record_of(drawn))["waveform"]
    wide_in, high_in = figure.get_size_inches()
    figure.set_size_inches(174 / 25.4, min(95 / 25.4, 174 / 25.4 * high_in / wide_in))
    assert images["shutter, one"] == svg(figure)
    assert one.words.startswith("waveform: 1/100, as left. Firing 1 at ")


def test_one_reading_alone_needs_no_picture_of_all_marks(workshop: Workshop, job: Job) -> None:
    here = write(workshop, job, reading("as left", speed(0.1, "1/25")))
    assert "shutter, all" not in annex(workshop, here)[1]
    two = write(workshop, job, reading("as found", speed(0.9, "1/25")))
    assert "shutter, all" in annex(workshop, two)[1]
