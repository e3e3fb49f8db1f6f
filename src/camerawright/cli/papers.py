"""The papers: certificate, refit sheet and bill as PDF."""

from pathlib import Path
from typing import Annotated, Literal

import typer

from camerawright.cli.shell import JobId, tell, workshop_of, written_whole

commands = typer.Typer()


@commands.command()
def papers(
    ctx: typer.Context,
    job: JobId,
    which: Annotated[Literal["certificate", "refit", "bill"], typer.Argument(help="Which paper.", show_default=False)],
    output: Annotated[
        Path | None,
        typer.Option(
            "--output", "-o", metavar="FILE", help="Where to; `-` is standard output. Else JOB-PAPER.pdf here."
        ),
    ] = None,
) -> None:
    """Write the certificate, the refit sheet or the bill as PDF.

    \b
    Example:
      camerawright papers J3 certificate -o J3-certificate.pdf
    """
    from camerawright.stages.papers import render_paper

    with workshop_of(ctx) as workshop:
        job_id = workshop.job(job).id
        pdf = render_paper(workshop, job_id, which)
    if output is not None and str(output) == "-":
        typer.get_binary_stream("stdout").write(pdf)
        return
    target = output or Path(f"{job_id}-{which}.pdf")
    written_whole(target, pdf)
    tell(str(target))
