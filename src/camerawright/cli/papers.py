"""The papers of a job as PDF."""

from pathlib import Path
from typing import Annotated

import typer

from camerawright.cli.shell import JobId, tell, workshop_of, written_whole

commands = typer.Typer()


@commands.command()
def papers(
    ctx: typer.Context,
    job: JobId,
    which: Annotated[
        str | None, typer.Argument(metavar="[WHICH]", help="Which paper; left out, they are listed.")
    ] = None,
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", "-o", metavar="FILE", help="Where to; `-` is standard output. Else JOB-PAPER.pdf here."
        ),
    ] = None,
) -> None:
    """Write a paper or a card as PDF.

    Papers: certificate, refit, bill. Cards at 1:1: strip, tray, screws, shims, hazards, lubrication, resume,
    owner-card.

    \b
    Examples:
      camerawright papers J3
      camerawright papers J3 certificate -o J3-certificate.pdf
    """
    from camerawright.papers.catalogue import PAPERS, render_paper

    with workshop_of(ctx) as workshop:
        job_id = workshop.job(job).id
        if which is None:
            tell("\n".join(PAPERS))
            return
        pdf = render_paper(workshop, job_id, which)
    if output is not None and str(output) == "-":
        typer.get_binary_stream("stdout").write(pdf)
        return
    target = output or Path(f"{job_id}-{which}.pdf")
    written_whole(target, pdf)
    tell(str(target))
