"""What all commands share that make an entry."""

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from camerawright.cli.shell import file_bytes, workshop_of
from camerawright.cli.wording import tell_entered

if TYPE_CHECKING:
    from camerawright.job.now import JobNow
    from camerawright.store.workshop import Workshop

Say = Annotated[str | None, typer.Option("--say", metavar="WORDS", help="What was said, kept to the letter.")]
Overrule = Annotated[
    str | None, typer.Option("--overrule", metavar="WHY", help="Enter it against a refusal, for this reason.")
]
Photo = Annotated[Path | None, typer.Option("--photo", metavar="FILE", help="A photo, kept with the entry.")]
Because = Annotated[str, typer.Option(metavar="WHY", help="The reason.", show_default=False)]
Screws = Annotated[
    list[str] | None,
    typer.Option("--screw", metavar="TEXT", help='Like fasteners: "3 x M1.7 x 4 cheese LH"; once for each kind.'),
]
Shims = Annotated[
    list[str] | None, typer.Option("--shim", metavar="TEXT", help='"1 x 0.10 NE corner"; once for each place.')
]
LooseParts = Annotated[
    list[str] | None,
    typer.Option("--loose", metavar="TEXT", help='Springs, balls, pawls: "1 x ball 1.5 mm"; once for each kind.'),
]
Settings = Annotated[
    list[str], typer.Argument(metavar="NAME=VALUE...", help="Like shutter=released.", show_default=False)
]
Until = Annotated[
    datetime | None,
    typer.Option(
        metavar="DATE",
        formats=["%Y-%m-%d %H:%M", "%Y-%m-%dT%H:%M", "%Y-%m-%d"],
        help='When it is over: 2031-05-04, or "2031-05-04 09:30".',
    ),
]


def enter(
    ctx: typer.Context,
    job: str,
    kind: str,
    *,
    photo: Path | None = None,
    telling: "Callable[[JobNow], None] | None" = None,
    **fields: Any,
) -> None:
    """Make one entry, say where the job stands, then `telling` what to expect next."""
    with workshop_of(ctx) as workshop:
        workshop.job(job)  # before a photo is kept for it
        here = entered(workshop, job, kind, photo=kept_photo(workshop, photo), **fields)
        tell_entered(here)
        if telling:
            telling(here)


def entered(
    workshop: "Workshop", job: str, kind: str, *, say: str | None = None, overrule: str | None = None, **fields: Any
) -> "JobNow":
    """Make an entry of what was given, and put it into the journal.

    Raises
    ------
    pydantic.ValidationError
        A field is out of bounds.
    camerawright.job.entering.NotAllowed
        The rules stand against it.
    """
    from camerawright.job.entering import enter, moment_after
    from camerawright.job.now import job_now
    from camerawright.journal.entries import ENTRY

    given = {name: value for name, value in fields.items() if value is not None}
    at = moment_after(job_now(workshop, job))
    return enter(
        workshop, job, ENTRY.validate_python({"kind": kind, "at": at, "words": say, "overruled": overrule, **given})
    )


def kept_photo(workshop: "Workshop", path: Path | None) -> str | None:
    """Keep a photo that is one; its SHA-256.

    Raises
    ------
    camerawright.trouble.Unreadable
        The file is missing, or no photo.
    """
    if path is None:
        return None
    from camerawright.recordings.stills import read_still

    data = file_bytes(path)
    return workshop.keep(data, suffix=read_still(data, name=str(path)).suffix)


def hardware_given(screw: list[str] | None, shim: list[str] | None, loose: list[str] | None) -> dict[str, Any]:
    """Fasteners, shims and loose parts, read from their lines.

    Raises
    ------
    camerawright.trouble.NotUnderstood
        The first line that cannot be read.
    """
    from camerawright.journal import notation

    return {
        "fasteners": tuple(notation.fastener(text) for text in screw or ()),
        "shims": tuple(notation.shim(text) for text in shim or ()),
        "loose": tuple(notation.loose(text) for text in loose or ()),
    }


def one_of(text: str | None) -> str | None:
    """A word of a fixed list, however it was typed; whether it is one, the entry says."""
    return " ".join(text.casefold().split()) if text is not None else None


def settings_given(settings: list[str]) -> dict[str, str]:
    """NAME=VALUE pairs.

    Raises
    ------
    typer.BadParameter
        One of them is none.
    """
    pairs = [text.partition("=") for text in settings]
    for text, (name, _, value) in zip(settings, pairs, strict=True):
        if not (name.strip() and value.strip()):
            raise typer.BadParameter(f"“{text}” is not NAME=VALUE; write it like shutter=released")
    return {name: value for name, _, value in pairs}


def end_given(until: datetime | None) -> datetime | None:
    """The end of a wait, by the clock on the wall; one that is past, or a lifetime off, is a slip.

    Raises
    ------
    typer.BadParameter
        It is.
    """
    if until is None:
        return None
    now = datetime.now().astimezone().replace(tzinfo=None)
    if not now < until < now + timedelta(days=100 * 365):
        slip = "past" if until <= now else "a lifetime off"
        raise typer.BadParameter(f"{until:%Y-%m-%d %H:%M} is {slip}; give a day or time to come", param_hint="--until")
    return until.astimezone()
