"""The books: the ledger of what is out and in, and the balance that has to be zero before a job closes."""

from typing import Annotated

import typer

from camerawright.cli.shell import REFUSED, JobId, Json, tell, tell_item, tell_json, tell_table, workshop_of
from camerawright.cli.wording import tell_state

commands = typer.Typer()


@commands.command()
def ledger(
    ctx: typer.Context,
    job: JobId,
    only_open: Annotated[bool, typer.Option("--open", help="Show only what does not balance.")] = False,
    as_json: Json = False,
) -> None:
    """Show the ledger: what is out, back and open, by part.

    It counts screws, shims and loose parts, and the turns that you owe to springs. Open is out less back less gone,
    which means accounted for. Added is what went in beyond what had come out.

    \b
    Example:
      camerawright ledger J3 --open
    """
    from dataclasses import replace

    from camerawright.job import ledger as books
    from camerawright.job.now import job_now

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
    book = books.ledger(here.state)
    if only_open:
        book = replace(book, lines=books.open_lines(book.lines))
    if as_json:
        tell_json({"job": here.job.id, **books.ledger_json(book)})
        return
    tell_state(here)
    if book.lines:
        heading = ("open", "out", "back", "gone", "added", "cell", "part", "what")
        counts = [
            (
                *map(str, (line.n_open, line.n_out, line.n_back, line.n_accounted, line.n_added)),
                line.cell or "-",
                line.part,
                line.words,
            )
            for line in book.lines
        ]
        tell()
        tell_table([heading, *counts])
    for line in book.not_taken:
        tell_item("to gauge", f"{line.part}: {line.n_open} × {line.words}", indent=0)
    for spring in book.springs:
        tell_item("spring", f"{spring.spring}: {spring.words}", indent=0)
    if not book.lines and not book.springs:
        tell("everything is back" if only_open else "nothing has been out")


@commands.command()
def balance(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Show what stands against closing the job.

    The exit code is 1 if anything does.

    \b
    Example:
      camerawright balance J3
    """
    from camerawright.job.now import job_now

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
    against = here.against_closing
    if as_json:
        tell_json(
            {
                "job": here.job.id,
                "is_zero": not against,
                "against": [{"what": p.what, "mend": p.mend, "can_overrule": p.can_overrule} for p in against],
            }
        )
    else:
        tell_state(here)
        for problem in against:
            tell_item("-", str(problem), label_width=2)
        tell("The balance is not zero." if against else "The balance is zero.")
    if against:
        raise typer.Exit(REFUSED)
