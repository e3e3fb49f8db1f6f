"""The journal itself: undoing, out to a file and in again."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.entering import Overrule
from camerawright.cli.shell import JobId, file_bytes, tell, tell_item, tell_json, workshop_of, written_whole
from camerawright.cli.wording import entry_line, tell_state

if TYPE_CHECKING:
    from camerawright.job.now import JobNow
    from camerawright.journal.entries import Entry

commands = typer.Typer()
files = typer.Typer(no_args_is_help=True)
commands.add_typer(files, name="journal", help="List a journal, write it to a file, read one in.")

EntryPrefix = Annotated[
    str, typer.Argument(metavar="ENTRY", help="The beginning of its id; see `journal list`.", show_default=False)
]


@commands.command()
def undo(
    ctx: typer.Context,
    job: JobId,
    entry: Annotated[
        str | None, typer.Argument(metavar="[ENTRY]", help="The beginning of its id; the last one if left out.")
    ] = None,
    because: Annotated[str | None, typer.Option(metavar="WHY", help="The reason.")] = None,
    overrule: Overrule = None,
    together: Annotated[
        bool, typer.Option("--together", help="Undo all that rests on it too, the newest first.")
    ] = False,
) -> None:
    """Strike out an entry: the last, or the one named.

    It is refused if something that came later rests on it: undo both with --together, or say why the later entry
    stands. Undoing an undo brings back what it struck out.

    \b
    Examples:
      camerawright undo J3
      camerawright undo J3 4f0c2a --because "wrong camera"
      camerawright undo J3 4f0c2a --together
    """
    from camerawright.job import entering
    from camerawright.job.now import job_now

    with workshop_of(ctx) as workshop:
        target = entry_called(job_now(workshop, job), entry).id if entry is not None else None
        struck, here = entering.undo(
            workshop, job, entry_id=target, reason=because, overruled=overrule, together=together
        )
        for undone in struck:
            tell_item("undone", entry_line(undone, here.state), indent=0)
        tell_state(here)


def entry_called(here: "JobNow", prefix: str) -> "Entry":
    """The one entry whose id begins so."""
    from camerawright.trouble import Refused

    if not prefix.strip():
        raise Refused("say which entry", f"see `camerawright journal list {here.job.id}`", "entry")
    fits = [entry for entry in here.state.journal if entry.id.startswith(prefix.casefold())]
    if len(fits) != 1:
        what = f"{len(fits)} entries of {here.job.id} begin so" if fits else f"no entry of {here.job.id} begins so"
        raise Refused(what, f"see `camerawright journal list {here.job.id}`", f"entry {prefix}")
    return fits[0]


def text_of(path: Path) -> str:
    """A file as UTF-8 text."""
    from camerawright.trouble import Refused

    data = file_bytes(path)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        n_line = data.count(b"\n", 0, error.start) + 1
        raise Refused(f"line {n_line} is not UTF-8", "save it as UTF-8", str(path)) from None


@files.command("list")
def list_entries(ctx: typer.Context, job: JobId) -> None:
    """List the entries of a job in order.

    Each with the beginning of its id. What was struck out says so. Where the clock was wrong, `correct` says when it
    was: --when "2031-05-04 09:30".

    \b
    Example:
      camerawright journal list J3
    """
    from camerawright.job.now import job_now
    from camerawright.journal.clock import doubtful
    from camerawright.wording.moments import moment

    with workshop_of(ctx) as workshop:
        state = job_now(workshop, job).state
    doubted = doubtful(state, datetime.now(UTC))
    for entry in state.journal:
        struck = "STRUCK OUT " if entry.id in state.struck else ""
        struck += "CLOCK WRONG " if entry.id in doubted else ""
        tell_item(f"{entry.id[:8]} {moment(entry.moment)}  ", struck + entry_line(entry, state), indent=0)
        if entry.words:
            tell_item("", f"“{entry.words}”", indent=0, label_width=27)


@files.command("export")
def export_journal(
    ctx: typer.Context,
    job: JobId,
    output: Annotated[
        Path | None, typer.Option("--output", "-o", metavar="FILE", help="Without it, standard output.")
    ] = None,
) -> None:
    """Write a journal as JSON Lines: one entry a line, UTF-8.

    \b
    Example:
      camerawright journal export J3 -o J3.jsonl
    """
    from camerawright.job.exchange import exported

    with workshop_of(ctx) as workshop:
        data = "".join(f"{line}\n" for line in exported(workshop, job)).encode()
    if output is None:
        typer.get_binary_stream("stdout").write(data)
    else:
        written_whole(output, data)


@files.command("import")
def import_journal(
    ctx: typer.Context,
    job: JobId,
    path: Annotated[Path, typer.Argument(metavar="FILE", help="JSON Lines; `-` reads standard input.")],
) -> None:
    """Read entries into a journal: all of the file or nothing.

    Entries that are there already change nothing. What could not have been entered so at this bench is listed, and
    owed at the closing: answer how that was. A job that is closed or handed back stays as it is, but for the entries.

    \b
    Example:
      camerawright journal import J3 J3.jsonl
    """
    from camerawright.job.exchange import imported, lines_of
    from camerawright.job.now import job_now

    text = text_of(path)
    with workshop_of(ctx) as workshop:
        took = imported(workshop, job, lines_of(text))
        here = job_now(workshop, job)
    tell(f"{took.n_new} new, {took.n_known} there already")
    for what in took.odd:
        tell_item("owed" if took.is_owed else "odd", f"say how that was: {what}" if took.is_owed else what, indent=0)
    tell_state(here)


@files.command()
def schema() -> None:
    """Print the JSON Schema of one line of a journal file.

    Draft 2020-12.

    \b
    Example:
      camerawright journal schema > journal.schema.json
    """
    from camerawright.journal.entries import json_schema

    tell_json(json_schema())
