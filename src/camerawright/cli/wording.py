"""A job, an entry and what comes next, in the words of the terminal."""

from typing import TYPE_CHECKING

from camerawright.cli.shell import tell, tell_item
from camerawright.wording.moments import moment

if TYPE_CHECKING:
    from camerawright.job.now import JobNow
    from camerawright.job.refit import RefitStep
    from camerawright.job.resume import Timer
    from camerawright.journal.entries import Entry
    from camerawright.journal.state import Part, State
    from camerawright.refit.learning import PartLore


def entry_line(entry: "Entry", state: "State") -> str:
    """An entry in one line, and why it was entered despite a refusal."""
    from camerawright.journal.sentences import sentence

    overruled = f"; despite a refusal: {entry.overruled}" if entry.overruled else ""
    return f"{sentence(entry, state.by_id)}{overruled}"


def tell_state(here: "JobNow") -> None:
    """Where the job stands: parts off, what is out, aids in, what is owed, settings; and every conflict, always."""
    out = here.state.n_out_of
    counted = [
        f"parts off {len(here.state.off)}",
        f"screws out {out['screw']}",
        *([f"other fasteners out {out['other fastener']}"] if out["other fastener"] else []),
        f"shims out {out['shim']}",
        *([f"loose parts out {out['loose part']}"] if out["loose part"] else []),
        *([f"springs let down {len(here.state.tension)}"] if here.state.tension else []),
        f"aids in {len(here.state.aids)}",
        f"owed {len(here.owed)}",
    ]
    settings = [f"{name} {setting}" for name, setting in here.state.settings.items()]
    tell_item(here.job.id, " · ".join([here.stage, *counted, *settings]), indent=0, label_width=len(here.job.id) + 2)
    for conflict in here.state.conflicts:
        tell_item("CONFLICT", conflict, indent=0)


def tell_entered(here: "JobNow") -> None:
    """What was just entered, and where the job stands now."""
    entry = here.state.as_it_counts(here.state.journal[-1])
    tell_item(entry.id[:8], entry_line(entry, here.state), indent=0)
    tell_state(here)


def timer_end(timer: "Timer") -> str:
    """When something that takes its time is over."""
    if timer.until is None:
        return "with no known end"
    return f"{'OVER since' if timer.is_over else 'until'} {moment(timer.until)}"


def tell_next(here: "JobNow") -> None:
    """What is expected next, one step early: what goes back during the refit, else what comes off."""
    if here.state.is_closed:
        return
    (tell_next_back if here.state.is_refitting else tell_next_off)(here)


def tell_next_off(here: "JobNow") -> None:
    """What is expected to come off next, by earlier strip-downs, one step early."""
    lore = here.lore.expected_next(here.state)
    if lore is not None:
        tell_item("next", f"{lore.name}, as in {_jobs(lore)}", indent=0)
        tell_part_lore(here, lore)


def tell_part_lore(here: "JobNow", lore: "PartLore", *, indent: int = 2) -> None:
    """What is known of a part before it moves."""
    part = here.state.part(lore.name)
    tell_cautions(here, lore.name, indent=indent)
    tell_needs(part, "removal", indent=indent)
    if not part.marks:
        for mark in lore.marks:
            tell_item("note first", mark, indent=indent, label_width=12)
    for shims in lore.shims:
        tell_item("beneath", f"a like joint had shims: {shims}", indent=indent)


def _jobs(lore: "PartLore") -> str:
    return "one earlier job" if lore.n_jobs == 1 else f"{lore.n_jobs} earlier jobs"


def tell_cautions(here: "JobNow", name: str, *, indent: int = 2) -> None:
    """The hazards of a part that moves, and whether it can be had again."""
    lore = here.lore.parts.get(here.state.part(name).key)
    only_one = here.state.part(name).irreplaceable or (lore.irreplaceable if lore else None)
    for hazard in here.hazards(name):
        tell_item("CAUTION", hazard, indent=indent)
    if only_one:
        tell_item("CAUTION", f"cannot be had again: {only_one}", indent=indent)


def tell_needs(part: "Part", move: str, *, indent: int = 2) -> None:
    """The state in which a part may move."""
    for need in part.needs:
        if need.moves in (move, "both"):
            wanted = ", ".join(f"{what} {how}" for what, how in need.settings.items())
            tell_item("set first", f"{wanted}: {need.reason}", indent=indent)


def tell_next_back(here: "JobNow") -> None:
    """What goes back next, with its hazards, one step early."""
    from camerawright.job.refit import refit_steps

    steps = refit_steps(here)
    if steps:
        tell_checks(here, steps[0].part)
        tell_item("next", f"{steps[0].part.name} goes back", indent=0)
        tell_step(here, steps[0])


def tell_checks(here: "JobNow", before: "Part | None") -> None:
    """The checks that come before a part goes back, or after the last one, and what a failure costs."""
    from camerawright.job.refit import failure_words

    for check in here.way.checks:
        if not check.is_waiting and (check.before.key if check.before else None) == (before.key if before else None):
            tell()
            tell_item("check", f"{check.hold.check} [{check.hold.id[:8]}]", indent=0)
            if check.n_off_last:
                tell_item("if it fails", failure_words(check), label_width=13)


def tell_step(here: "JobNow", step: "RefitStep", *, indent: int = 2) -> None:
    """Everything to know when one part goes back."""
    from camerawright.journal.notation import written_fastener, written_lead, written_loose, written_shim

    tell_cautions(here, step.part.name, indent=indent)
    tell_needs(step.part, "refit", indent=indent)
    for label, texts in (
        ("built", (step.built,) if step.built else ()),
        ("do first", step.reminders),
        ("mark", step.marks),
        ("shims", tuple(written_shim(shim) for shim in step.shims)),
        ("loose", tuple(written_loose(item) for item in step.loose)),
        ("leads", tuple(written_lead(lead) for lead in step.leads)),
        ("sits", step.sits),
        ("wind", step.springs),
        ("screws", tuple(written_fastener(fastener) for fastener in step.fasteners)),
        ("once back", step.loosened),
        ("look at", step.on_its_screws),
        ("lock with", (step.locked_with,) if step.locked_with else ()),
        ("tool", (step.part.removed.tool,) if step.part.removed and step.part.removed.tool else ()),
    ):
        for text in texts:
            tell_item(label, text, indent=indent)
