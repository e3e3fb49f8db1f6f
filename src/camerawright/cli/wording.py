"""A job, an entry and what comes next, in the words of the terminal."""

from typing import TYPE_CHECKING

from camerawright.cli.shell import tell_item

if TYPE_CHECKING:
    from camerawright.journal.entries import Entry
    from camerawright.refit.learning import PartLore
    from camerawright.stages.bench import Bench
    from camerawright.stages.refit import RefitStep

SAID_ELSEWHERE = frozenset(
    {"id", "at", "kind", "by", "words", "overruled", "photo", "recording", "result", "setup", "method"}
)


def entry_line(entry: "Entry") -> str:
    """An entry in one line: what happened, then its fields as they were given."""
    fields = []
    for name in type(entry).model_fields:
        value = getattr(entry, name)
        if name in SAID_ELSEWHERE or value in (None, (), {}, False, "right"):
            continue
        text = _field(value)[:8] if name == "entry" else _field(value)
        fields.append(text if name in ("part", "entry", "aid", "first") else f"{name.replace('_', ' ')}: {text}")
    if entry.kind == "measured" and entry.setup.get("marked"):
        fields.append(f"marked: {entry.setup['marked']}")
    if entry.kind == "corrected" and entry.becomes is None:
        fields.append("struck out")
    if entry.overruled:
        fields.append(f"overruled: {entry.overruled}")
    return f"{entry.kind} {' · '.join(fields)}".strip()


def _field(value: object) -> str:
    """A field's value in words."""
    from camerawright.journal.entries import Fastener, Shim
    from camerawright.journal.notation import written_fastener, written_shim

    match value:
        case Fastener():
            text = written_fastener(value)
        case Shim():
            text = written_shim(value)
        case tuple():
            text = "; ".join(_field(item) for item in value)
        case dict():
            text = ", ".join(f"{name} {setting}" for name, setting in value.items())
        case _ if hasattr(value, "kind"):
            text = entry_line(value)  # type: ignore[arg-type]  # what a correction puts in place
        case _:
            text = "yes" if value is True else str(value)
    return text


def tell_state(here: "Bench") -> None:
    """Where the job stands: parts off, screws and shims out, aids in, what is owed, settings."""
    out = {"screw": 0, "shim": 0}
    for part in here.state.parts.values():
        for (kind, _), count in part.out.items():
            out[kind] += count
    counted = [
        f"parts off {len(here.state.off)}",
        f"screws out {out['screw']}",
        f"shims out {out['shim']}",
        f"aids in {len(here.state.aids)}",
        f"owed {len(here.owed)}",
    ]
    settings = [f"{name} {setting}" for name, setting in here.state.settings.items()]
    tell_item(here.job.id, " · ".join([here.stage, *counted, *settings]), indent=0, label_width=len(here.job.id) + 2)


def tell_entered(here: "Bench") -> None:
    """What was just entered, and where the job stands now."""
    entry = here.state.journal[-1]
    tell_item(entry.id[:8], entry_line(entry), indent=0)
    tell_state(here)
    for conflict in here.state.conflicts:
        tell_item("CONFLICT", conflict, indent=0)


def tell_next_off(here: "Bench") -> None:
    """What is expected to come off next, by earlier strip-downs, one step early."""
    lore = here.lore.expected_next(here.state)
    if lore is not None:
        tell_item("next", f"{lore.name}, as in {_jobs(lore)}", indent=0)
        tell_part_lore(here, lore)


def tell_part_lore(here: "Bench", lore: "PartLore") -> None:
    """What is known of a part before it moves."""
    for hazard in here.hazards(lore.name):
        tell_item("CAUTION", hazard)
    if not here.state.part(lore.name).marks:
        for mark in lore.marks:
            tell_item("note first", mark)
    for shims in lore.shims:
        tell_item("beneath", f"a like joint had shims: {shims}")


def _jobs(lore: "PartLore") -> str:
    return "one earlier job" if lore.n_jobs == 1 else f"{lore.n_jobs} earlier jobs"


def tell_next_back(here: "Bench") -> None:
    """What goes back next, with its hazards, one step early."""
    from camerawright.stages.refit import refit_steps

    steps = refit_steps(here)
    if steps:
        tell_item("next", f"{steps[0].part.name} goes back", indent=0)
        tell_step(steps[0])


def tell_step(step: "RefitStep", *, indent: int = 2) -> None:
    """Everything to know when one part goes back."""
    from camerawright.journal.notation import written_fastener, written_shim

    for label, texts in (
        ("CAUTION", step.hazards),
        ("do first", step.reminders),
        ("check", step.hold_points),
        ("mark", step.marks),
        ("shims", tuple(written_shim(shim) for shim in step.shims)),
        ("screws", tuple(written_fastener(fastener) for fastener in step.fasteners)),
    ):
        for text in texts:
            tell_item(label, text, indent=indent)
