"""What all commands share that make an entry."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.shell import file_bytes, tell_item, workshop_of
from camerawright.cli.wording import tell_entered, tell_next

if TYPE_CHECKING:
    from camerawright.job.now import JobNow
    from camerawright.store.workshop import Workshop

Say = Annotated[str | None, typer.Option("--say", metavar="WORDS", help="Your words, to the letter.")]
Overrule = Annotated[
    str | None, typer.Option("--overrule", metavar="WHY", help="Your reason to enter it despite a refusal.")
]

Typed = Mapping[str, str | Sequence[str]]
"""The text of each field by its name, or the texts of a field that may hold several."""


def enter(ctx: typer.Context, job: str, kind: str, typed: Typed, photo: Path | None = None) -> None:
    """Make one entry; say what was entered, where the job stands, and what comes next."""
    with workshop_of(ctx) as workshop:
        here = entered(workshop, job, kind, typed, photo)
        tell_entered(here)
        for caution in here.at_hand[1]:
            tell_item("CAUTION", f"{here.at_hand[0]}: {caution}", indent=0)
        tell_next(here)


def entered(workshop: "Workshop", job: str, kind: str, typed: Typed, photo: Path | None = None) -> "JobNow":
    """Make an entry of what was typed, and put it into the journal.

    Raises
    ------
    camerawright.journal.typed.NotAnEntry
        With every field that cannot be read, by what the command calls it.
    camerawright.job.entering.NotAllowed
        The rules stand against it.
    """
    from camerawright.job.entering import enter, moment_after
    from camerawright.job.now import job_now
    from camerawright.journal.typed import entry_typed

    here = job_now(workshop, job)
    entry = entry_typed(kind, typed, at=moment_after(here), clock=here.now)
    if photo is not None:
        entry = entry.model_copy(update={"photo": kept_photo(workshop, photo)})
    return enter(workshop, job, entry, before=here)


def kept_photo(workshop: "Workshop", path: Path) -> str:
    """Keep a photo that is one; its SHA-256.

    Raises
    ------
    camerawright.trouble.Unreadable
        The file is missing, or no photo.
    """
    from camerawright.recordings.stills import read_still

    data = file_bytes(path)
    return workshop.keep(data, suffix=read_still(data, name=str(path)).suffix)
