"""Make the invented workshop: four jobs, one of them told stage by stage."""

import shutil
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime
from pathlib import Path

from camerawright.bench.catalogue import find_test
from camerawright.demo import falter, mark35
from camerawright.demo.examples import write_examples
from camerawright.demo.photos import ring_photo
from camerawright.demo.recordings import AS_FOUND, AS_LEFT, record
from camerawright.demo.scene import Scene
from camerawright.job.entering import NotAllowed
from camerawright.job.now import job_now
from camerawright.job.refit import refit_steps
from camerawright.journal.entries import Phase
from camerawright.papers.catalogue import render_paper
from camerawright.readings.measuring import measured
from camerawright.readings.recorded import comparisons
from camerawright.store.workshop import Workshop, create_workshop, open_workshop
from camerawright.trouble import Refused
from camerawright.wording import numbers
from camerawright.workshop.rows import Owner, Visit

Say = Callable[[str], None]
Progress = Callable[[int, int], None]

TERMS = """\
name = "Lindqvale Camera Bench"
address = "4 Weir Lane\\nLindqvale"
currency = "EUR"
hourly_rate_minor = 5800     # for one hour, in the minor unit: 6500 is 65.00
tax_percent = "20"           # a decimal in quotes; without this line no tax is printed
"""
BENCH = "the bench"
PHASES: tuple[tuple[Phase, Mapping[str, float]], ...] = (("as found", AS_FOUND), ("as left", AS_LEFT))


def run(folder: Path, say: Say, progress: Progress) -> None:
    """Make the demo workshop in a folder; where it is already, only say what is in it.

    It is made beside the folder and moved there when it is whole.

    Raises
    ------
    Refused
        Something else is in the folder.
    """
    if (folder / "papers").is_dir():
        say(f"The demo is in {folder} already; delete the folder to make it anew.")
        with open_workshop(folder) as workshop:
            _list_jobs(workshop, say)
        return
    if folder.exists() and any(folder.iterdir()):
        raise Refused("something else is in it", "name a new folder with --workshop", str(folder))
    making = folder.with_name(folder.name + ".making")
    shutil.rmtree(making, ignore_errors=True)
    with create_workshop(making) as workshop:
        (making / "workshop.toml").write_text(TERMS, encoding="utf-8")
        workshop.accept()
        _recordings(making / "recordings", progress)
        _earlier_falter(workshop)
        _half_stripped(workshop)
        _waiting(workshop)
        _whole_job(workshop, say)
        say("")
        _list_jobs(workshop, say)
    if folder.exists():
        folder.rmdir()
    making.rename(folder)
    say(f"Papers are in {folder / 'papers'}, recordings in {folder / 'recordings'}.")


def _recordings(folder: Path, progress: Progress) -> None:
    """Every recording of the demo, under a name that says what it is."""
    folder.mkdir()
    wanted = [(phase, marked, error) for phase, errors in PHASES for marked, error in errors.items()]
    for n_done, (phase, marked, error) in enumerate(wanted):
        progress(n_done, len(wanted))
        record(_recording(folder, phase, marked), marked, error_stops=error, seed=7 * n_done + 1)
    write_examples(folder)
    progress(len(wanted), len(wanted))


def _recording(folder: Path, phase: Phase, marked: str) -> Path:
    return folder / f"{phase.replace(' ', '-')}-{marked.replace('/', '-')}.wav"


def _test(scene: Scene, phase: Phase, marks: Mapping[str, float]) -> None:
    """Measure some marked speeds and enter the readings."""
    for marked in marks:
        words = (
            "camera back open, lens f/3.5 wide open, LED torch on batteries behind a diffuser, photodiode at the gate"
        )
        measured(
            scene.workshop,
            scene.job.id,
            find_test("shutter"),
            _recording(scene.workshop.folder / "recordings", phase, marked),
            marked=marked,
            phase=phase,
            more={"at": scene.now, "by": BENCH, "words": words},
        )
        scene.after(minutes=2)


def _earlier_falter(workshop: Workshop) -> None:
    """J1: closed and handed back weeks ago. What it taught serves the others."""
    visit = Visit(
        taken_in=date(2026, 2, 3),
        owners_words="Shutter sticks open in the cold.",
        wanted="to use it",
        accessories=("case",),
    )
    owner = Owner(name="Tobias Fenn", contact="tobias.fenn@example.org")
    job = workshop.take_in(owner, falter.falter("41877"), visit)
    scene = Scene(workshop, job, datetime(2026, 2, 4, 9, 10, tzinfo=UTC), by=BENCH)
    _test(scene, "as found", {"1/25": 0, "1/100": 0})
    falter.open_the_front(scene, ring_stop="1 3/4 turns from fully in", turns="2 1/8")
    falter.open_the_shutter(scene)
    falter.clean_everything(scene)
    falter.close_the_shutter(scene.after(days=1))
    falter.close_the_front(scene)
    _test(scene, "as left", {"1/25": 0, "1/100": 0})
    scene.say("worked", minutes=210, task="strip, clean and set the shutter")
    scene.say("closed")
    scene.say("handed back", to="Tobias Fenn")


def _half_stripped(workshop: Workshop) -> None:
    """J2: a 35 mm body, left half way down when the telephone rang."""
    visit = Visit(
        taken_in=date(2026, 3, 9),
        owners_words="The second curtain drags; a dark stripe at one side.",
        film_inside=True,
        accessories=("lens cap", "strap"),
        condition="brassed edges, one foreign screw in the top plate",
        wanted="working, patina kept",
    )
    job = workshop.take_in(Owner(name="Oda Kellerhals", contact="+00 555 0142"), mark35.mark35("B 20418"), visit)
    scene = Scene(workshop, job, datetime(2026, 3, 10, 13, 30, tzinfo=UTC), by=BENCH)
    mark35.strip_halfway(scene)


def _waiting(workshop: Workshop) -> None:
    """J3: another folder of the kind, down to its slow train; a spring is on order."""
    visit = Visit(taken_in=date(2026, 3, 11), owners_words="Stops at one second.", wanted="working again")
    owner = Owner(name="Tobias Fenn", contact="tobias.fenn@example.org")
    job = workshop.take_in(owner, falter.falter("41960"), visit)
    scene = Scene(workshop, job, datetime(2026, 3, 12, 10, 0, tzinfo=UTC), by=BENCH)
    falter.open_the_front(scene, ring_stop="1 5/8 turns from fully in", turns="2 1/4")
    falter.open_the_shutter(scene)
    scene.say("found", part="slow train", defect="return spring broken at its hook", todo="fit the new spring")
    scene.say("awaited", part="slow train", awaiting="return spring on order since 12 March")
    scene.say("aid fitted", aid="wedge", place="under the wind lever")


def _whole_job(workshop: Workshop, say: Say) -> None:
    """J4: one camera through the whole job, each stage told."""
    visit = Visit(
        taken_in=date(2026, 3, 16),
        owners_words="It was my grandmother's. The slow speeds hang, and it was dropped once.",
        accessories=("leather case", "yellow filter"),
        condition="bellows tight, one dent in the top edge",
        wanted="to use it on a journey in May",
    )
    say("1  Take in")
    job = workshop.take_in(Owner(name="Ines Marrow", contact="ines.marrow@example.org"), falter.falter("43015"), visit)
    scene = Scene(workshop, job, datetime(2026, 3, 17, 8, 40, tzinfo=UTC), by=BENCH)
    say(f"   {job.id}: {job.camera.title}, no. {job.camera.serial}, for {job.owner.name}: “{visit.owners_words}”")
    lore = scene.job_now.lore
    say(f"   known of its kind from {', '.join(lore.jobs)}: {len(lore.parts)} parts, in order")
    say("2  As found")
    _test(scene, "as found", AS_FOUND)
    _tell_readings(scene, "as found", say)
    say("3  Strip-down")
    _strip(scene, say)
    say("4  Clean")
    falter.clean_everything(scene)
    for part in scene.job_now.state.off:
        say(f"   {part.name}: {part.cleaned[-1].route}")
    say("5  Refit")
    for step in refit_steps(scene.job_now):
        say(
            f"   {step.n:2} {step.part.name}"
            + "".join(f"; owed: {todo}" for todo in (*step.reminders, *step.hold_points))
        )
    _print_papers(workshop, job.id, "refit")
    falter.close_the_shutter(scene.after(days=1))
    scene.answer("pull the dent", "pulled over a rubber block, paint kept")
    falter.close_the_front(scene)
    say("6  As left")
    _test(scene, "as left", AS_LEFT)
    _tell_readings(scene, "as left", say)
    say("7  Hand back")
    scene.say("worked", minutes=195, task="strip, clean and set the shutter")
    scene.say("worked", minutes=25, task="pull the dent")
    scene.say("supplied", item="oil, solvent and swabs", price_minor=450)
    scene.answer("first shot after 48 hours", "1/25 first shot within 0.1 stop of the rest")
    scene.after(days=2).say("closed")
    scene.say("handed back", to="Ines Marrow")
    for which in ("certificate", "bill", "owner-card"):
        _print_papers(workshop, job.id, which)
    say("   balance zero; certificate, refit sheet, bill and owner's card printed")
    say("8  Remember")
    say(f"   the next {job.camera.title} opens with what {job.id} and {', '.join(scene.job_now.lore.jobs)} taught")


def _strip(scene: Scene, say: Say) -> None:
    """The strip-down, with one refusal that the rules make on the way."""

    try:
        scene.remove("focus ring", screws=("3 x M1.4 x 1.6 grub",))
    except NotAllowed as refusal:
        say(f"   refused: {refusal.troubles[0].what}")
    falter.open_the_front(scene, ring_stop="1 3/4 turns from fully in", turns="2 1/8")
    falter.open_the_shutter(scene)
    photo = scene.workshop.keep(ring_photo(diameter_mm=34, mark_oclock=10, teeth=60), suffix=".png")
    scene.say("marked", part="front cell", mark="dot of paint across cell and mount", photo=photo)
    scene.say("found", part="speed ring", defect="dent in the rim at 7 o'clock", todo="pull the dent")
    scene.say("reminded", part="closing", todo="first shot after 48 hours of rest")
    state = scene.job_now.state
    say(f"   {len(state.off)} parts off, {state.n_out} screws and shims out, {len(scene.job_now.owed)} things owed")


def _tell_readings(scene: Scene, phase: Phase, say: Say) -> None:
    """Each marked speed in a line."""
    for entry in scene.job_now.state.measured:
        if entry.phase == phase:
            for one in comparisons(entry):
                error = numbers.stops(one.mean.value, one.mean.expanded_u)
                say(f"   {one.marked:>6}: {error} stops, {one.verdict}")


def _print_papers(workshop: Workshop, job_id: str, which: str) -> None:
    folder = workshop.folder / "papers"
    folder.mkdir(exist_ok=True)
    (folder / f"{job_id}-{which}.pdf").write_bytes(render_paper(workshop, job_id, which))


def _list_jobs(workshop: Workshop, say: Say) -> None:

    for job in workshop.jobs():
        here = job_now(workshop, job.id)
        say(f"{job.id}  {here.stage:12} {job.camera.title}, no. {job.camera.serial} ({job.owner.name})")
