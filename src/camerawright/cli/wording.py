"""A job, an entry and what comes next, in the words of the terminal."""

from collections import Counter
from datetime import datetime
from typing import TYPE_CHECKING

from camerawright.cli.shell import tell, tell_item

if TYPE_CHECKING:
    from camerawright.job.now import JobNow
    from camerawright.job.refit import RefitStep
    from camerawright.journal.entries import Entry, Measured
    from camerawright.journal.state import Part
    from camerawright.refit.learning import PartLore

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
    if entry.kind == "measured" and (told := _told(entry)):
        fields.append(told)
    if entry.kind == "corrected" and entry.becomes is None:
        fields.append("struck out")
    if entry.overruled:
        fields.append(f"overruled: {entry.overruled}")
    return f"{entry.kind} {' · '.join(fields)}".strip()


def _told(entry: "Measured") -> str:
    """What was told about the set-up of a reading."""
    from camerawright.readings.set_up import told_of

    return told_of(entry).in_words(entry.test)


def _field(value: object) -> str:
    """A field's value in words."""
    from pydantic import BaseModel

    match value:
        case datetime():
            return moment(value)
        case float():
            return f"{value:g}"
        case tuple():
            return "; ".join(_field(item) for item in value)
        case dict():
            return ", ".join(f"{name} {setting}" for name, setting in value.items())
        case BaseModel():
            return _record(value)
        case _:
            return "yes" if value is True else str(value)


def _record(value: object) -> str:
    """Hardware as the bench writes it, or the entry that a correction puts in place."""
    from camerawright.journal.entries import Fastener, Loose, Shim
    from camerawright.journal.notation import written_fastener, written_loose, written_shim

    match value:
        case Fastener():
            return written_fastener(value)
        case Shim():
            return written_shim(value)
        case Loose():
            return written_loose(value)
        case _:
            return entry_line(value)  # type: ignore[arg-type]


def moment(at: datetime) -> str:
    """A moment by the clock on the wall."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"


def tell_state(here: "JobNow") -> None:
    """Where the job stands: parts off, what is out, aids in, what is owed, settings; and every conflict, always."""
    out: Counter[str] = Counter()
    for part in here.state.parts.values():
        for (kind, _), count in part.out.items():
            out[kind] += count
    counted = [
        f"parts off {len(here.state.off)}",
        f"screws out {out['screw']}",
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
    entry = here.state.journal[-1]
    tell_item(entry.id[:8], entry_line(entry), indent=0)
    tell_state(here)


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
    """The checks that stand before a part goes back, or after the last one, and what a failure costs."""
    for check in here.way.checks:
        if not check.is_waiting and (check.before.key if check.before else None) == (before.key if before else None):
            tell()
            tell_item("check", f"{check.hold.check} [{check.hold.id[:8]}]", indent=0)
            at_the_end = f"; left to the end {check.n_off_last}" if check.n_off_last != check.n_off_now else ""
            parts = "one part comes" if check.n_off_now == 1 else f"{check.n_off_now or 'no'} parts come"
            tell_item("if it fails", f"{parts} off again{at_the_end}", label_width=13)


def tell_step(here: "JobNow", step: "RefitStep", *, indent: int = 2) -> None:
    """Everything to know when one part goes back."""
    from camerawright.journal.notation import written_fastener, written_loose, written_shim

    tell_cautions(here, step.part.name, indent=indent)
    tell_needs(step.part, "refit", indent=indent)
    for label, texts in (
        ("do first", step.reminders),
        ("mark", step.marks),
        ("shims", tuple(written_shim(shim) for shim in step.shims)),
        ("loose", tuple(written_loose(item) for item in step.loose)),
        ("screws", tuple(written_fastener(fastener) for fastener in step.fasteners)),
        ("tool", (step.part.removed.tool,) if step.part.removed and step.part.removed.tool else ()),
    ):
        for text in texts:
            tell_item(label, text, indent=indent)
