"""The adjustment log: what a turn does, and how far to turn next."""

from typing import TYPE_CHECKING

import typer

from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, workshop_of

if TYPE_CHECKING:
    from camerawright.readings.adjusting import Sensitivity

commands = typer.Typer()


def aim(test: str | None, marked: str | None) -> tuple[str | None, str | None]:
    """The test and the mark that an adjustment is meant for, as an entry keeps them.

    Raises
    ------
    camerawright.trouble.Refused
        There is no such test.
    camerawright.trouble.NotUnderstood
        The mark cannot be read.
    """
    from camerawright.bench.catalogue import CATALOGUE
    from camerawright.handbook.exposure import marked_speed
    from camerawright.trouble import Refused

    names = [each.name for each in CATALOGUE]
    if test is not None and (test := test.casefold()) not in names:
        raise Refused("there is none of that name", f"use {', '.join(names)}", f"bench test {test}")
    return test, marked and marked_speed(marked).text


@commands.command()
def adjusting(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Say what each adjuster does, and how far to turn next.

    From every turn that was entered with its amount and has a reading of the same mark before and after it and nothing
    else in between, in this job and others of its variant. Turns are clockwise positive; ± is the 95 % interval.

    \b
    Example:
      camerawright adjusting J3
    """
    from camerawright.readings import adjusting as turning
    from camerawright.readings.adjusting_words import adjusting_json

    with workshop_of(ctx) as workshop:
        job_id = workshop.job(job).id
        known = turning.adjusting(workshop, job_id)
    if as_json:
        tell_json({"job": job_id, **adjusting_json(known)})
        return
    for one in known.sensitivities:
        _tell(one)
    for why in known.useless:
        tell_item("nothing", why, indent=0)
    if not known.sensitivities and not known.useless:
        tell("no adjuster was turned yet")


def _tell(one: "Sensitivity") -> None:
    """One adjuster and mark."""
    from camerawright.readings import adjusting_words as words

    tell_item("adjuster", f"{one.adjuster}, {one.test} {one.marked}", indent=0)
    tell_item("a turn", words.sensitivity_words(one))
    for turn in one.turns:
        tell_item("turned", words.turn_words(turn))
    for flag in one.flags:
        tell_item("doubtful", flag)
    tell_item("next", words.suggestion_words(one.suggestion))
    tell()
