"""Cleaning: what goes into which bath together, and what is in one."""

from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.entering import Overrule
from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_entered, tell_state, timer_end

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from camerawright.handbook.tables import Reason
    from camerawright.job.cleaning import Load, Plan, Question, Task
    from camerawright.job.now import JobNow

commands = typer.Typer()

Batch = Annotated[
    int, typer.Argument(min=1, metavar="BATCH", help="Its number in the plan that `clean` shows.", show_default=False)
]


@commands.command()
def clean(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Plan the cleaning: batches, timers, what stays dry.

    Each part gets the gentlest cleaning that removes its dirt. Parts that stay together all get the gentlest of
    theirs. You see the reasons and the cautions. The product's safety data sheet, local rules and licensed
    practice come first.

    \b
    Example:
      camerawright clean J3
    """
    from camerawright.job import cleaning
    from camerawright.job.ledger import not_taken_words
    from camerawright.job.now import job_now

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
    plan = cleaning.plan(here)
    if as_json:
        tell_json({"job": here.job.id, **cleaning.plan_json(plan)})
        return
    tell_state(here)
    if not plan.tasks:
        tell("Nothing is off, so there is nothing to clean.")
        return
    for load in plan.loads:
        _say_load(load, plan)
    _say_rest(plan, here.job.id)
    if to_gauge := not_taken_words(here.state):
        tell("\nTo gauge while it is out")
    for words in to_gauge:
        tell_item("", words, indent=4, label_width=0)


def _say_load(load: "Load", plan: "Plan") -> None:
    batch = load.batch
    limits = [f"{batch.temperature_c:g} °C" if batch.temperature_c is not None else None]
    limits.append(f"{batch.minutes:g} min" if batch.minutes is not None else None)
    tell()
    likely = "likely, not known yet: " if batch.is_likely else ""
    tell_item(f"{load.n:>2}", likely + ", ".join([batch.name, *filter(None, limits)]), indent=0, label_width=4)
    tasks = [task for task in plan.tasks if task.part.name in batch.parts]
    for task in tasks:
        tell_item("part", _part(task), indent=4)
    for label, texts in (
        ("in it", tuple(f"{timer.part}, {timer_end(timer)}" for timer in load.timers)),
        ("fresh", (str(load.fresh),) if load.fresh else ()),
        ("not with", (", ".join(batch.not_with),) if batch.not_with else ()),
        ("rinse", (batch.rinse,) if batch.rinse not in ("", "none") else ()),
        ("dry", tuple(way for way in batch.drying if way != "none")),
        ("find out", batch.ask),
        ("CAUTION", tuple(map(str, batch.cautions))),
        ("because", (*map(str, batch.reasons), *_reasons(tasks, batch.turn))),
    ):
        for text in texts:
            tell_item(label, text, indent=4)


def _part(task: "Task") -> str:
    """A part, where it lies, what goes along in it, and what will still be on it."""
    cell = f", cell {task.part.removed.cell}" if task.part.removed and task.part.removed.cell else ""
    only_one = f"; cannot be had again: {task.part.irreplaceable}" if task.part.irreplaceable else ""
    inside = f"; with {', '.join(task.inside)} in it" if task.inside else ""
    stays = f"; stays on: {', '.join(task.route.left_on)}" if task.route.left_on else ""
    return f"{task.part.name}{cell}{inside}{only_one}{stays}"


def _reasons(tasks: "Sequence[Task]", n_turn: int) -> "list[str]":
    """The reasons of the routes, each once; with the parts where it is not that of all."""
    whose: dict[Reason, list[str]] = {}
    for task in tasks:
        for turn in task.turns[n_turn - 1 : n_turn]:
            for reason in turn.reasons:
                whose.setdefault(reason, []).append(task.part.name)
    return [f"{reason}{'' if len(parts) == len(tasks) else ': ' + ', '.join(parts)}" for reason, parts in whose.items()]


def _asked(question: "Question", job: str) -> str:
    """What to find out of parts that are probably alike, and the command that says it."""
    spec = question.spec
    known = [("material", spec.material), ("finish", spec.finish), *(("soil", each) for each in spec.soil or ("",))]
    options = " ".join(f'--{name} "{how or "..."}"' for name, how in known)
    parts = " ".join(f'"{part}"' for part in question.parts)
    where = f"{question.assembly}: " if question.assembly else ""
    likely = (f"Likely, {question.origin}",) if question.origin else ()
    origin = ". ".join((*question.strange, *likely)) or "Nobody has any idea yet"
    return f"{where}{', '.join(question.parts)}. {origin}. Look, then: camerawright describe {job} {parts} {options}"


def _say_rest(plan: "Plan", job: str) -> None:
    """What waits, what is done, what no liquid may touch; timers; and what nobody should use."""
    groups: tuple[tuple[str, Iterable[str]], ...] = (
        ("Not known yet", (_asked(question, job) for question in plan.questions)),
        ("Never wet", (task.part.name for task in plan.never_wet)),
        ("Cannot be cleaned now", (f"{task.part.name}: {task.held}" for task in plan.held)),
        ("Timers", (f"{timer.part}: {timer.what}, {timer_end(timer)}" for timer in plan.timers)),
        ("Cleaned", (f"{task.part.name}: {', '.join(task.cleaned)}" for task in plan.done)),
        ("Never use", (f"{name}: {reason}" for name, reason in plan.never.items())),
    )
    for heading, texts in groups:
        lines = list(texts)
        if lines:
            tell(f"\n{heading}")
        for text in lines:
            tell_item("", text, indent=4, label_width=0)
    if plan.minutes:
        guessed = f", {plan.likely_minutes:g} min of that for guessed parts" if plan.likely_minutes else ""
        tell(
            f"\n{plan.minutes:g} min in all{guessed}, one batch after another. Hand work without a time is not counted."
        )


@commands.command("batch-in")
def batch_in(ctx: typer.Context, job: JobId, n: Batch) -> None:
    """Enter that a batch went into its bath: its timer runs.

    That is every part of it that is off and not in the bath yet.

    \b
    Example:
      camerawright batch-in J3 1
    """
    _batch(ctx, job, n, comes_out=False)


@commands.command("batch-out")
def batch_out(ctx: typer.Context, job: JobId, n: Batch, overrule: Overrule = None) -> None:
    """Enter that a batch came out: its parts are cleaned.

    If it comes out well before its time, you are asked why. The certificate tells how long it really was in.

    \b
    Example:
      camerawright batch-out J3 1
    """
    _batch(ctx, job, n, comes_out=True, overrule=overrule)


def _batch(ctx: typer.Context, job: str, n: int, *, comes_out: bool, overrule: str | None = None) -> None:
    from camerawright.job import cleaning
    from camerawright.job.entering import enter, moment_after
    from camerawright.job.now import job_now

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
        load = _load(here, n)
        at = moment_after(here)
        entries = cleaning.ended(load, at=at, overruled=overrule) if comes_out else cleaning.begun(load, at=at)
        if not entries:
            raise _nothing_to_enter(here, load, comes_out=comes_out)
        for caution in () if comes_out else load.batch.cautions:
            tell_item("CAUTION", str(caution), indent=0)
        for entry in entries:
            here = enter(workshop, here.job.id, entry)
            tell_entered(here)


def _load(here: "JobNow", n: int) -> "Load":
    """The batch of that number."""
    from camerawright.job.cleaning import plan
    from camerawright.trouble import Refused

    loads = plan(here).loads
    if n > len(loads):
        what = f"the plan has {len(loads)}" if loads else "nothing is to be cleaned"
        raise Refused(what, f"see `camerawright clean {here.job.id}`", f"batch {n}")
    return loads[n - 1]


def _nothing_to_enter(here: "JobNow", load: "Load", *, comes_out: bool) -> Exception:
    from camerawright.trouble import Refused

    job = here.job.id
    if comes_out:
        mend = f"`camerawright batch-in {job} {load.n}` puts it in, and `cleaned` enters a part by itself"
        return Refused(f"nothing is in “{load.batch.name}”", mend, f"batch {load.n}")
    if load.batch.is_likely:
        mend = f"say what its parts are: `camerawright clean {job}` shows how"
        return Refused(f"“{load.batch.name}” rests on a guess", mend, f"batch {load.n}")
    if load.batch.minutes is None:
        mend = f"enter each part once it is done: `camerawright cleaned {job} PART “{load.batch.name}”`"
        return Refused(f"“{load.batch.name}” has no time of its own", mend, f"batch {load.n}")
    return Refused("all of it is in", f"`camerawright batch-out {job} {load.n}` ends it", f"batch {load.n}")
