"""What each card says of a job, from a journal written entry by entry."""

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from camerawright.job.now import JobNow, job_now
from camerawright.journal.entries import ENTRY
from camerawright.papers.catalogue import PAPERS, render_paper
from camerawright.papers.hazard_card import hazard_card
from camerawright.papers.lubrication_chart import lubrication_chart
from camerawright.papers.refit_sheet import photos_of, refit_sheet, refit_strip
from camerawright.papers.refit_steps import Step
from camerawright.papers.resume_card import resume_card
from camerawright.papers.screw_card import screw_card
from camerawright.papers.shim_card import shim_card
from camerawright.papers.tray_card import tray_card
from camerawright.store.workshop import Workshop, create_workshop
from camerawright.trouble import Refused
from camerawright.workshop.rows import Camera, Job, Owner, Visit
from tests.papers.paper_examples import photo_png

CARDS = ("strip", "tray", "screws", "shims", "hazards", "lubrication", "resume")
MORNING = datetime(2026, 3, 3, 9, 0, tzinfo=UTC)


def take_in(workshop: Workshop, serial: str) -> Job:
    """A camera of one variant."""
    camera = Camera(maker="Orlmann", model="Falter 6x6", variant="second pattern", serial=serial)
    return workshop.take_in(Owner(name="Ines Marrow"), camera, Visit(taken_in=date(2026, 3, 2)))


def write(workshop: Workshop, job: Job, *entries: dict[str, Any]) -> None:
    """Entries a minute apart, past the rules: a card must print whatever a journal holds."""
    n = len(workshop.journal(job.id))
    workshop.append_all(
        job.id,
        [ENTRY.validate_python({"at": MORNING + timedelta(minutes=n + i), **entry}) for i, entry in enumerate(entries)],
    )


def removed(part: str, **more: Any) -> dict[str, Any]:
    """A removal."""
    return {"kind": "removed", "part": part, **more}


STRIPPED: tuple[dict[str, Any], ...] = (
    {"kind": "set", "settings": {"shutter": "released", "focus": "infinity"}},
    {"kind": "marked", "part": "focus ring", "mark": "infinity against the dot"},
    removed(
        "focus ring",
        cell="a1",
        fasteners=[{"count": 3, "size": "M1.4", "length_mm": 1.6, "head": "grub"}],
        material="brass",
        finish="black paint",
    ),
    {"kind": "irreplaceable", "part": "focus ring", "reason": "engraved for this lens"},
    {
        "kind": "cautioned",
        "part": "rim plate",
        "hazard": "lifts two balls with it",
        "escapes": True,
        "frees": ["detent ball"],
    },
    removed(
        "rim plate",
        cell="B2",
        fasteners=[
            {"count": 2, "size": "10BA", "length_mm": 4.7625, "hand": "left", "hole": "NE corner"},
            {"count": 2, "size": "0-80", "length_mm": 3},
            {"count": 1, "size": "taper pin", "hole": "post"},
            {"count": 1, "size": "M1.7"},
        ],
        shims=[{"place": "NE corner", "count": 3, "thickness_mm": 0.1}, {"place": "post", "count": 1}],
        loose=[{"what": "detent ball", "count": 2, "place": "rim"}],
    ),
    removed("hairspring and moving coil", cell="B2", material="hairspring"),
    removed("name plate"),
    {
        "kind": "needs state",
        "part": "rim plate",
        "settings": {"shutter": "released"},
        "moves": "both",
        "reason": "the lug jumps its pins",
    },
    {"kind": "reminded", "part": "rim plate", "todo": "hook the return spring first"},
    {"kind": "aid fitted", "aid": "tape", "place": "over the blades"},
    {"kind": "lubricated", "part": "rim plate", "point": "edge", "amount": "film", "lubricant": "moly grease"},
    {"kind": "cautioned", "part": "shoe spring", "hazard": "bent on purpose"},
)


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    """An empty workshop with a name."""
    with create_workshop(tmp_path / "workshop") as opened:
        (tmp_path / "workshop" / "workshop.toml").write_text(
            'name = "Lindqvale Camera Bench"\ncurrency = "EUR"\n', encoding="utf-8"
        )
        yield opened


@pytest.fixture
def job(workshop: Workshop) -> Job:
    """A camera in parts."""
    begun = take_in(workshop, "48213")
    write(workshop, begun, *STRIPPED)
    return begun


@pytest.fixture
def here(workshop: Workshop, job: Job) -> JobNow:
    """The same on the bench, half an hour later."""
    return job_now(workshop, job.id, now=MORNING + timedelta(minutes=30))


@pytest.mark.parametrize("which", CARDS)
def test_each_card_is_printed_of_a_camera_in_parts(workshop: Workshop, job: Job, which: str) -> None:
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(render_paper(workshop, job.id, which))).pages)
    assert "48213" in text
    assert "Lindqvale Camera Bench" in text
    assert "rim plate" in text


@pytest.mark.parametrize("which", CARDS)
def test_a_card_without_anything_to_say_is_refused_with_the_mend(workshop: Workshop, which: str) -> None:
    untouched = take_in(workshop, "1")
    with pytest.raises(Refused, match=untouched.id) as refused:
        render_paper(workshop, untouched.id, which)
    assert refused.value.mend


def test_a_paper_that_there_is_not_is_refused_with_those_there_are(workshop: Workshop, job: Job) -> None:
    with pytest.raises(Refused, match="tray"):
        render_paper(workshop, job.id, "poster")
    assert set(CARDS) < set(PAPERS)


# Tray


def test_the_tray_holds_each_part_with_what_is_out_of_it(workshop: Workshop, here: JobNow) -> None:
    cells = {cell.label: cell.parts for row in tray_card(workshop, here).rows for cell in row}
    assert list(cells) == ["A1", "B2", "no cell noted"]
    rim_plate, hairspring = cells["B2"]
    assert (rim_plate.screws, rim_plate.shims, rim_plate.loose) == (6, 4, ("2 × detent ball, rim",))
    assert cells["A1"][0].irreplaceable
    assert [part.part for part in cells["no cell noted"]] == ["name plate"]
    assert hairspring.wet
    assert "never wet" not in cells["A1"][0].wet


def test_a_hairspring_is_never_wet_and_what_nobody_knows_is_not_known_yet(workshop: Workshop, job: Job) -> None:
    """Common practice; the table of the handbook says so of its own subjects."""
    write(workshop, job, removed("hairspring", cell="C1", material="steel", finish="none"))
    cells = {cell.label: cell.parts for row in tray_card(workshop, job_now(workshop, job.id)).rows for cell in row}
    assert cells["C1"][0].wet == "never wet"
    assert cells["no cell noted"][0].wet == ""
    assert cells["no cell noted"][0].route == "not known yet"


def test_the_tray_and_screw_cards_carry_the_cautions_of_cleaning(workshop: Workshop, job: Job) -> None:
    """Flash point: [niosh-npg-0492]; capacitors and screws kept together: common practice."""
    screws = [{"count": 2, "size": "M1.4", "length_mm": 2}]
    helicoid = removed("helicoid", cell="D1", material="brass, aluminium", finish="none", soil=["dried grease"])
    write(workshop, job, {**helicoid, "fasteners": screws})
    write(workshop, job, {**removed("flash capacitor", cell="D2"), "fasteners": screws})
    here = job_now(workshop, job.id)
    card = tray_card(workshop, here)
    cells = {cell.label: cell.parts for row in card.rows for cell in row}
    said = [card.cautions[n - 1] for n in cells["D1"][0].notes]
    assert any("naphtha flashes at -40 °C" in text for text in said)
    assert any("can kill" in card.cautions[n - 1] for n in cells["D2"][0].notes)
    assert len(set(card.cautions)) == len(card.cautions)
    screwed = screw_card(workshop, here)
    assert any("screws of each part together" in text for text in screwed.cautions)
    (capacitor,) = (part for part in screwed.parts if part.part == "flash capacitor")
    assert any("can kill" in text for text in capacitor.hazards)
    assert capacitor.route == "not known yet"


def test_screws_that_were_described_have_a_route_on_their_card(workshop: Workshop, job: Job) -> None:
    described = {"material": "steel", "finish": "blued", "soil": ["old oil"]}
    write(workshop, job, {"kind": "described", "parts": ["focus ring screws"], **described})
    shown = {part.part: part for part in screw_card(workshop, job_now(workshop, job.id)).parts}
    assert shown["focus ring"].route == "swab, naphtha"


def test_a_cell_whose_part_is_back_is_empty_or_holds_what_was_left(workshop: Workshop, job: Job) -> None:
    write(
        workshop,
        job,
        {"kind": "refitted", "part": "rim plate", "fasteners": [{"count": 2, "size": "0-80", "length_mm": 3}]},
        {
            "kind": "refitted",
            "part": "focus ring",
            "fasteners": [{"count": 3, "size": "M1.4", "length_mm": 1.6, "head": "grub"}],
        },
    )
    cells = {cell.label: cell.parts for row in tray_card(workshop, job_now(workshop, job.id)).rows for cell in row}
    assert cells["A1"] == ()
    left = next(part for part in cells["B2"] if part.part == "rim plate")
    assert left.is_back
    assert (left.screws, left.shims) == (4, 4)


def test_tray_rows_follow_the_letters_and_the_numbers(workshop: Workshop) -> None:
    job = take_in(workshop, "2")
    names = ("B10", "a2", "B9", "tin lid", "A1", "B 1", "C1")
    write(workshop, job, *(removed(f"part {name}", cell=name) for name in names))
    rows = tray_card(workshop, job_now(workshop, job.id)).rows
    assert [[cell.label for cell in row] for row in rows] == [["A1", "A2"], ["B1", "B9", "B10"], ["C1", "tin lid"]]


# Screws and shims


def test_each_screw_gets_a_hole_under_its_name_or_number(workshop: Workshop, here: JobNow) -> None:
    rim_plate = next(part for part in screw_card(workshop, here).parts if part.part == "rim plate")
    assert [kind.holes for kind in rim_plate.screws] == [("NE corner 1", "NE corner 2"), ("1", "2"), ("post",), ("3",)]
    assert [kind.warning for kind in rim_plate.screws] == ["LEFT-HAND", "", "", ""]
    assert rim_plate.screws[0].words == "2 × 10BA × 4.763"


def test_a_ring_has_the_nominal_diameter_and_its_source_or_says_that_it_is_not_known(
    workshop: Workshop, here: JobNow
) -> None:
    """BS 93: 10BA 1.70 mm; ASME B1.1: #0 0.0600 in; ISO 261: M1.4."""
    kinds = {kind.words: kind for part in screw_card(workshop, here).parts for kind in part.screws}
    assert kinds["2 × 10BA × 4.763"].diameter_mm == 1.7
    assert kinds["2 × 0-80 × 3"].diameter_mm == pytest.approx(1.524)
    assert kinds["3 × M1.4 × 1.6 grub"].ring == "ring 1.4 mm [iso-261]"
    pin = kinds["1 × taper pin"]
    assert (pin.diameter_mm, pin.is_known, pin.length_mm) == (3.0, False, None)
    assert "not known" in pin.ring


def test_a_part_without_screws_is_not_on_the_screw_card(workshop: Workshop, here: JobNow) -> None:
    assert [part.part for part in screw_card(workshop, here).parts] == ["focus ring", "rim plate"]


def test_a_stack_says_what_it_adds_up_to_and_how_it_is_magnified(workshop: Workshop, here: JobNow) -> None:
    (part,) = shim_card(workshop, here).parts
    known, unknown = part.stacks
    assert known.words == "3 × 0.10 mm = 0.30 mm"
    assert known.scale == "drawn 50 : 1"
    assert known.layer_mm == pytest.approx(50 * 0.1)
    assert unknown.words == "1 × thickness not taken"
    assert not unknown.is_known


@pytest.mark.parametrize(("count", "thickness_mm"), [(1, 0.005), (3, 0.1), (11, 0.1), (99, 0.5), (1, 20.0), (99, 20.0)])
def test_a_stack_is_drawn_at_the_scale_it_names_or_says_that_it_is_not(
    workshop: Workshop, count: int, thickness_mm: float
) -> None:
    job = take_in(workshop, "3")
    write(workshop, job, removed("plate", shims=[{"place": "x", "count": count, "thickness_mm": thickness_mm}]))
    (stack,) = shim_card(workshop, job_now(workshop, job.id)).parts[0].stacks
    assert stack.n_drawn * stack.layer_mm <= 36 + 1e-9
    if stack.scale == "not drawn to scale":
        assert stack.n_drawn * thickness_mm > 36
    else:
        assert stack.layer_mm == pytest.approx(float(stack.scale.split()[1]) * thickness_mm)


# Strip, hazards, lubrication, resume


def test_the_strip_gives_back_marks_needs_and_reminders_at_their_step(workshop: Workshop, here: JobNow) -> None:
    strip = refit_strip(workshop, here)
    steps = {step.part: step for step in strip.steps}
    assert set(steps) == {part.name for part in here.state.off}
    rim_plate = steps["rim plate"]
    assert of(rim_plate, "only when") == ["shutter released: the lug jumps its pins"]
    assert of(rim_plate, "loose") == ["2 × detent ball at rim"]
    assert of(rim_plate, "remember") == ["hook the return spring first"]
    assert [line.to_tick for line in rim_plate.lines if line.label == "remember"] == [True]
    assert of(steps["focus ring"], "mark") == ["infinity against the dot"]
    assert "Irreplaceable: engraved for this lens" in steps["focus ring"].cautions
    assert strip.aids == ("tape, over the blades",)
    assert "shutter released" in strip.state


def of(step: Step, label: str) -> list[str]:
    """What a step says under a label."""
    return [line.words for line in step.lines if line.label == label]


def test_the_refit_sheet_shows_states_and_loose_parts_too(workshop: Workshop, job: Job) -> None:
    pages = PdfReader(BytesIO(render_paper(workshop, job.id, "refit"))).pages
    text = " ".join(" ".join(page.extract_text().replace("\u200b", "").split()) for page in pages)
    assert "only when shutter released: the lug jumps its pins" in text
    assert "loose 2 × detent ball at rim" in text
    assert "Irreplaceable: engraved for this lens" in text


def test_the_refit_sheet_gives_order_reasons_and_the_strip_does_not(workshop: Workshop, job: Job) -> None:
    order = {"kind": "ordered", "first": "name plate", "then": "rim plate", "reason": "hides a screw", "certain": True}
    write(workshop, job, order)
    here = job_now(workshop, job.id)
    steps = {step.part: step for step in refit_sheet(workshop, here).steps}
    assert "rim plate: hides a screw" in of(steps["name plate"], "after")
    assumed = [words for step in steps.values() for words in of(step, "after") if "assumed" in words]
    assert assumed
    assert all(words.endswith(" (assumed from the order of removal)") for words in assumed)
    assert not any("came off before" in words for words in assumed)
    assert not any(of(step, "after") for step in refit_strip(workshop, here).steps)


def test_what_no_step_asks_for_is_owed_at_the_end_of_the_sheet(workshop: Workshop, job: Job) -> None:
    spring = {"kind": "tension", "spring": "main spring", "act": "let down", "turns": 2.5, "direction": "anticlockwise"}
    closing = {"kind": "reminded", "part": "closing", "todo": "test roll"}
    later = {"kind": "reminded", "part": "shoe spring", "todo": "look at it"}
    write(workshop, job, spring, closing, later)
    sheet = refit_sheet(workshop, job_now(workshop, job.id))
    assert sheet.owed == ("test roll", "shoe spring: look at it", "main spring: 2.5 turns clockwise to put back")
    assert of(next(step for step in sheet.steps if step.part == "rim plate"), "remember")


def test_a_sheet_of_a_camera_that_nothing_came_off_is_refused(workshop: Workshop) -> None:
    untouched = take_in(workshop, "5")
    with pytest.raises(Refused, match="nothing of J1 came off"):
        refit_sheet(workshop, job_now(workshop, untouched.id))
    write(workshop, untouched, {"kind": "reminded", "part": "closing", "todo": "test roll"})
    assert refit_sheet(workshop, job_now(workshop, untouched.id)).owed == ("test roll",)


PHOTO = "a" * 64
FINISHED: tuple[dict[str, Any], ...] = (
    {"kind": "set", "settings": {"shutter": "released"}},
    {"kind": "marked", "part": "focus ring", "mark": "infinity against the dot", "photo": "b" * 64},
    removed("focus ring", fasteners=[{"count": 3, "size": "M1.4", "length_mm": 1.6, "head": "grub", "hole": "rim"}],
            cell="A1", photo=PHOTO, tool="0.8 mm driver", torque="tight"),
    {"kind": "tension", "spring": "main spring", "act": "let down", "turns": 2, "direction": "anticlockwise",
     "from_state": "released"},
    {"kind": "needs state", "part": "rim plate", "settings": {"shutter": "released"}, "moves": "removal",
     "reason": "the lug jumps"},
    {"kind": "cautioned", "part": "rim plate", "hazard": "lifts two balls with it"},
    {"kind": "tried", "part": "rim plate", "fastener": "rim screw", "rung": "heat", "outcome": "moved"},
    removed("rim plate", under=["focus ring"], shims=[{"place": "NE corner", "count": 2, "thickness_mm": 0.1}],
            torque="normal"),
    {"kind": "found", "part": "rim plate", "defect": "bent", "todo": "straighten"},
    {"kind": "reminded", "part": "rim plate", "todo": "hook the spring"},
    {"kind": "hold point", "part": "focus ring", "check": "blades snap"},
    {"kind": "reminded", "part": "closing", "todo": "first shot after a rest"},
    {"kind": "lubricated", "part": "rim plate", "point": "edge", "amount": "film", "lubricant": "moly grease"},
    {"kind": "lubricated", "part": "rim plate", "point": "teeth", "amount": "dry"},
    {"kind": "aid fitted", "aid": "tape", "place": "over the blades"},
    removed("old seal"),
    {"kind": "accounted for", "part": "old seal", "reason": "perished, in the bag"},
)  # fmt: skip


@pytest.fixture
def finished(workshop: Workshop) -> JobNow:
    """A camera that came apart and is whole again."""
    job = take_in(workshop, "48214")
    write(workshop, job, *FINISHED)
    entries = workshop.journal(job.id)

    def answered(words: str, answer: str) -> dict[str, Any]:
        entry = next(e for e in entries if words in (getattr(e, "todo", None) or getattr(e, "check", None) or ""))
        return {"kind": "answered", "entry": entry.id, "answer": answer}

    write(
        workshop,
        job,
        {"kind": "tension", "spring": "main spring", "act": "tensioned", "turns": 2, "direction": "clockwise"},
        answered("straighten", "flat within 0.05 mm"),
        answered("hook", "hooked"),
        {"kind": "refitted", "part": "rim plate", "replacement": "donor J4",
         "shims": [{"place": "NE corner", "count": 2, "thickness_mm": 0.12}]},
        answered("blades snap", "ten of ten"),
        {"kind": "aid taken out", "aid": "tape"},
        {"kind": "refitted", "part": "focus ring",
         "fasteners": [{"count": 3, "size": "M1.4", "length_mm": 1.6, "head": "grub", "hole": "rim"}]},
        {"kind": "adjusted", "adjuster": "retard lever", "before": "2", "after": "3", "turns": 0.25},
        answered("first shot", "within 0.1 stop"),
    )  # fmt: skip
    return job_now(workshop, job.id)


def test_a_finished_job_tells_how_it_came_apart(workshop: Workshop, finished: JobNow) -> None:
    sheet = refit_sheet(workshop, finished)
    ring, plate, seal = sheet.came_off
    assert [(step.n, step.part) for step in sheet.came_off] == [(1, "focus ring"), (2, "rim plate"), (3, "old seal")]
    assert of(ring, "first") == ["machine set: shutter released"]
    assert of(ring, "mark") == ["infinity against the dot"]
    assert of(ring, "fasteners") == ["3 × M1.4 × 1.6 grub at rim"]
    assert (of(ring, "tool"), of(ring, "felt")) == (["0.8 mm driver"], ["tight"])
    assert [photo.name for photo in ring.photos] == [PHOTO, "b" * 64]
    assert of(plate, "first") == ["main spring let down 2 turns anticlockwise; from released"]
    assert of(plate, "after") == ["focus ring: focus ring covers rim plate"]
    assert of(plate, "only when") == ["shutter released: the lug jumps"]
    assert of(plate, "shims") == ["2 × 0.10 mm, NE corner"]
    assert plate.cautions == ("lifts two balls with it",)
    assert of(plate, "freed") == ["rim screw of rim plate: heat, moved"]
    assert (of(plate, "found"), of(plate, "felt")) == (["bent"], [])
    assert of(seal, "first") == ["tape went in as an aid; over the blades"]
    assert not any(line.to_tick for step in sheet.came_off for line in step.lines)


def test_a_finished_job_tells_how_it_went_back(workshop: Workshop, finished: JobNow) -> None:
    sheet = refit_sheet(workshop, finished)
    plate, ring = sheet.went_back
    assert [(step.n, step.part) for step in sheet.went_back] == [(1, "rim plate"), (2, "focus ring")]
    assert of(plate, "first") == ["main spring tensioned 2 turns clockwise"]
    assert of(plate, "only when") == []
    assert of(plate, "shims") == ["2 × 0.12 mm, NE corner"]
    assert of(plate, "another one") == ["donor J4"]
    assert of(plate, "lubricant") == ["edge of rim plate: film; moly grease", "teeth of rim plate: dry"]
    assert of(plate, "done") == ["bent: straighten; flat within 0.05 mm", "hook the spring: hooked"]
    assert plate.cautions == ("lifts two balls with it",)
    assert of(ring, "first") == ["tape came out again"]
    assert of(ring, "after") == ["rim plate: focus ring covers rim plate"]
    assert of(ring, "mark") == ["infinity against the dot"]
    assert of(ring, "done") == ["blades snap: ten of ten"]
    assert sheet.at_the_end == (
        "retard lever moved: 3; before: 2; 0.25 turns clockwise",
        "first shot after a rest: within 0.1 stop",
    )
    assert [(line.label, line.words) for line in sheet.left_out] == [("old seal", "perished, in the bag")]
    assert (sheet.steps, sheet.waiting, sheet.aids) == ((), (), ())
    assert sheet.owed == ("rim plate: 2 × shim 0.10 mm, NE corner not back",)


def test_of_a_part_that_came_off_twice_the_last_time_is_told(workshop: Workshop, finished: JobNow) -> None:
    write(
        workshop,
        finished.job,
        {"kind": "marked", "part": "focus ring", "mark": "two o'clock"},
        removed("focus ring", tool="pin wrench"),
        {"kind": "refitted", "part": "focus ring"},
    )
    sheet = refit_sheet(workshop, job_now(workshop, finished.job.id))
    assert [step.part for step in sheet.came_off] == ["rim plate", "old seal", "focus ring"]
    assert of(sheet.came_off[-1], "tool") == ["pin wrench"]
    assert [step.part for step in sheet.went_back] == ["rim plate", "focus ring"]
    assert of(sheet.went_back[-1], "mark") == ["infinity against the dot", "two o'clock"]


def test_a_job_with_a_part_still_off_shows_the_way_back_and_not_what_was_done(
    workshop: Workshop, finished: JobNow
) -> None:
    write(workshop, finished.job, removed("focus ring"))
    sheet = refit_sheet(workshop, job_now(workshop, finished.job.id))
    assert [step.part for step in sheet.steps] == ["focus ring"]
    assert (sheet.came_off, sheet.went_back, sheet.left_out, sheet.at_the_end) == ((), (), (), ())


def test_the_way_back_stands_under_headings_of_its_sub_assemblies(workshop: Workshop) -> None:
    """By hand: the shutter is built on the bench, then it joins the front; the covering goes on last."""
    job = take_in(workshop, "40 118")
    write(
        workshop,
        job,
        removed("covering", assembly="body"),
        removed("front plate", assembly="front"),
        removed("shutter", assembly="front"),
        removed("blade ring", assembly="shutter"),
        removed("blades", assembly="shutter"),
        {"kind": "contains", "part": "shutter", "parts": ["blade ring", "blades"]},
        {"kind": "goes last", "part": "covering", "reason": "it hides the adjusters"},
    )
    sheet = refit_sheet(workshop, job_now(workshop, job.id))
    assert [(step.heading, step.part) for step in sheet.steps] == [
        ("Shutter, on the bench", "blades"),
        ("", "blade ring"),
        ("Front", "shutter"),
        ("", "front plate"),
        ("On last", "covering"),
    ]
    assert of(sheet.steps[2], "built") == ["on the bench, steps 1 to 2"]
    assert not any(step.heading for step in sheet.went_back)
    assert render_paper(workshop, job.id, "refit")


def test_a_photo_that_cannot_be_read_is_told_and_does_not_keep_the_sheet_back(
    workshop: Workshop, finished: JobNow
) -> None:
    photo = workshop.keep(photo_png(64, 48), suffix=".png")
    spoilt = workshop.keep(b"no photo", suffix=".jpg")
    write(workshop, finished.job, removed("focus ring", photo=photo), removed("name plate", photo=spoilt))
    sheet, images = photos_of(workshop, refit_sheet(workshop, job_now(workshop, finished.job.id)))
    steps = {step.part: step for step in sheet.steps}
    assert list(images) == [photo]
    assert images[photo].startswith(b"\xff\xd8")
    assert [picture.name for picture in steps["focus ring"].photos] == [photo]  # the mark's photo is lost
    assert of(steps["focus ring"], "photo") == ["it cannot be read; restore a backup"]
    assert steps["name plate"].photos == ()
    assert render_paper(workshop, finished.job.id, "refit")


def test_the_hazard_card_names_what_has_still_to_move_and_what_gets_free(workshop: Workshop, here: JobNow) -> None:
    card = hazard_card(workshop, here)
    shown = {part.part: part for part in card.parts}
    assert set(shown) == {"rim plate", "focus ring", "shoe spring"}
    assert shown["rim plate"].escapes == "detent ball"
    assert shown["rim plate"].moves == "goes back"
    assert shown["rim plate"].needs == ("shutter released: the lug jumps its pins",)
    assert shown["shoe spring"].moves == "if it comes off"
    assert shown["focus ring"].irreplaceable == "engraved for this lens"
    assert any("tape" in words for words in card.held)


def test_a_part_that_is_back_is_no_hazard_any_more(workshop: Workshop, job: Job) -> None:
    write(workshop, job, {"kind": "refitted", "part": "rim plate"})
    assert "rim plate" not in {part.part for part in hazard_card(workshop, job_now(workshop, job.id)).parts}


def test_an_earlier_job_warns_of_what_this_one_has_not_touched(workshop: Workshop, job: Job) -> None:
    """The second camera of a variant knows the first one's hazards and oil before a screw is turned."""
    second = take_in(workshop, "48999")
    here = job_now(workshop, second.id)
    shown = {part.part: part for part in hazard_card(workshop, here).parts}
    assert shown["rim plate"].escapes == "detent ball"
    assert shown["rim plate"].moves == "if it comes off"
    assert shown["focus ring"].irreplaceable == "engraved for this lens"
    point = next(point for point in lubrication_chart(workshop, here).untouched if point.point == "edge")
    assert (point.part, point.amount, point.is_done) == ("rim plate", "film", False)
    assert point.known_from == job.id


def test_the_lubrication_chart_ticks_what_this_job_did_and_lists_what_stays_dry(workshop: Workshop, job: Job) -> None:
    write(
        workshop,
        job,
        {"kind": "lubricated", "part": "blades", "point": "both faces", "amount": "dry"},
        {"kind": "lubricated", "part": "Rim Plate", "point": "edge", "amount": "touch", "lubricant": "clock oil"},
    )
    chart = lubrication_chart(workshop, job_now(workshop, job.id))
    edge = next(point for point in chart.points if point.point == "edge")
    assert (edge.amount, edge.lubricant, edge.is_done, edge.known_from) == ("touch", "clock oil", True, "this job")
    assert ("blades", "both faces") in {(point.part, point.point) for point in chart.dry}
    assert not {"dry"} & {point.amount for point in chart.points + chart.untouched}
    assert {point.amount for point in chart.points + chart.untouched} == {amount.label for amount in chart.amounts}


def test_the_resume_card_says_where_the_work_was_left(workshop: Workshop, job: Job) -> None:
    write(
        workshop,
        job,
        {"kind": "awaited", "part": "name plate", "awaiting": "shellac cures", "until": MORNING + timedelta(days=1)},
    )
    card = resume_card(workshop, job_now(workshop, job.id, now=MORNING + timedelta(hours=1)))
    assert card.out == "9 screws, 4 shims, 2 loose parts"
    assert card.last[0].words == "name plate must wait: shellac cures"
    asked = next(entry for entry in workshop.journal(job.id) if entry.kind == "reminded")
    write(workshop, job, {"kind": "answered", "entry": asked.id, "answer": "hooked"})
    answered = resume_card(workshop, job_now(workshop, job.id)).last[0].words
    assert "hook the return spring first" in answered
    assert "hooked" in answered
    assert any("tape" in words for words in card.do_not_move)
    assert card.timers[0].words.startswith("shellac cures, until ")
    later = resume_card(workshop, job_now(workshop, job.id, now=MORNING + timedelta(days=2)))
    assert later.timers == () or later.timers[0].words.startswith("shellac cures, was over ")
