"""Put something else in the place of an entry: by the options of the command that made it, or as JSON."""

import json
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camerawright.cli.entering import Overrule, Say
from camerawright.cli.entry_commands import changed, changed_by
from camerawright.cli.journal import EntryPrefix, entry_called, text_of
from camerawright.cli.shell import JobId, workshop_of
from camerawright.cli.wording import tell_entered, tell_next

if TYPE_CHECKING:
    from camerawright.job.now import JobNow
    from camerawright.journal.entries import Entry

commands = typer.Typer()


@commands.command(context_settings={"allow_extra_args": True, "ignore_unknown_options": True})
def correct(
    ctx: typer.Context,
    job: JobId,
    entry: EntryPrefix,
    json_entry: Annotated[
        Path | None,
        typer.Option("--json-entry", metavar="FILE", help="What it becomes, as JSON; `-` reads standard input."),
    ] = None,
    because: Annotated[str | None, typer.Option(metavar="WHY", help="The reason.")] = None,
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Put something else in the place of an earlier entry.

    Give what is to be different by the options that entered it; what you do not give stays. What was an argument is an
    option here: --part, --note. An empty text takes something away: --lock "". The earlier entry stays readable in the
    journal. You may also give the whole entry as JSON, as `journal export` writes it; leave `id` and `at` out there.

    \b
    Examples:
      camerawright correct J3 4f0c2a --screw "3 x M1.7 x 4 cheese" --cell A2
      camerawright correct J3 81be07 --note "the stop is at 3 o'clock" --because "misread"
    """
    from camerawright.job import entering
    from camerawright.job.exchange import wrong_with
    from camerawright.job.now import job_now
    from camerawright.journal.entries import ENTRY, written
    from camerawright.trouble import Refused

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
        target = entry_called(here, entry)
        becomes = _changed(here, target, ctx.args) if json_entry is None else _from_json(json_entry, target, ctx.args)
        given = {"entry": target.id, "becomes": becomes, "reason": because}
        said = {"kind": "corrected", "at": entering.moment_after(here), "words": say, "overruled": overrule}
        correction = ENTRY.validate_python(given | said)
        for what in wrong_with(correction, len(written(correction))):
            raise Refused(what, "mend the entry", str(json_entry or "correct"))
        here = entering.enter(workshop, job, correction)
        tell_entered(here)
        tell_next(here)


def _changed(here: "JobNow", target: "Entry", args: list[str]) -> "Entry":
    """The entry as it stands now, with what the options say."""
    from camerawright.journal.typed import NotAnEntry, entry_typed, typed_again
    from camerawright.trouble import Refused

    stands = next((each for each in here.state.entries if each.id == target.id), None)
    if stands is None:
        raise Refused("this entry does not count: it is struck out, or is itself a correction", _LIST, target.id[:8])
    if stands.form is None:
        raise Refused("a reading is not changed by hand", "undo it, and measure again", target.id[:8])
    typed = {**typed_again(stands), "id": stands.id, **changed(type(stands), args)}
    try:
        becomes = entry_typed(stands.kind, typed, at=stands.at, clock=here.now)
    except NotAnEntry as wrong:
        names = changed_by(type(stands))
        raise NotAnEntry([replace(each, where=names.get(each.where, each.where)) for each in wrong.troubles]) from None
    return becomes.model_copy(update={"by": stands.by, "overruled": stands.overruled, "words": stands.words})


_LIST = "see `camerawright journal list` for the entries that count"


def _from_json(path: Path, target: "Entry", args: list[str]) -> dict[str, Any]:
    """The entry of a JSON file, with the moment of the one it replaces unless it brings its own."""
    from camerawright.trouble import Refused

    if args:
        raise Refused("give the changes by options or as JSON, not both", f"leave out {' '.join(args)}", "correct")
    mend = 'give one entry, like {"kind": "noted", "note": "..."}'
    try:
        given = json.loads(text_of(path))
    except json.JSONDecodeError as error:
        raise Refused(f"line {error.lineno}: {error.msg}", mend, str(path)) from None
    if not isinstance(given, dict):
        raise Refused("it is not a JSON object", mend, str(path))
    return {"at": target.at, **given}
