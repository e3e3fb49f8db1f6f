"""What must come off to reach a part."""

from typing import TYPE_CHECKING

import typer

from camerawright.cli.shell import JobId, Json, Part, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_part_lore

if TYPE_CHECKING:
    from pydantic import JsonValue

    from camerawright.job.now import JobNow
    from camerawright.refit.reach import Reach, ToComeOff

commands = typer.Typer()


@commands.command()
def reach(ctx: typer.Context, job: JobId, part: Part, as_json: Json = False) -> None:
    """Show what must come off to reach a part, in its order.

    It is the smallest set, from earlier strip-downs of the variant and the order that this job states, without what is
    off already. A part is marked assumed if it was off each time that the other part came off, and nobody gave a
    reason. The time is the sum of the recorded times, with its standard uncertainty (k = 1).

    \b
    Example:
      camerawright reach J3 shutter
    """
    from camerawright.job.now import job_now
    from camerawright.trouble import Refused

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
    found = here.reach(part)
    if found is None:
        known = ", ".join(lore.name for lore in here.lore.parts.values())
        raise Refused(
            f"no earlier strip-down of this variant had it off; known: {known or 'nothing yet'}",
            f"see `camerawright variant {here.job.id}`",
            f"part {part}",
        )
    is_off = here.state.part(part).status == "off"
    if as_json:
        tell_json(_json(here, found, is_off=is_off))
    elif is_off:
        tell(f"{found.target} is off already")
    else:
        _say(here, found)


def _say(here: "JobNow", found: "Reach") -> None:
    n_before = len(found.parts) - 1
    tell(f"{here.job.id}: {n_before or 'nothing'} to come off before {found.target}; from {', '.join(here.lore.jobs)}")
    for n, item in enumerate(found.parts, start=1):
        sure = "" if item.certain else ", assumed"
        tell_item(f"{n:>2}", item.part.name, indent=0, label_width=4)
        tell_item("because", f"{item.reason}{sure}", indent=4)
        if item.part.carried_from:
            tell_item("seen on", f"{item.part.carried_from}, not on this variant", indent=4)
        tell_part_lore(here, item.part, indent=4)
    tell()
    tell_item("time", _time(found), indent=0)
    if found.untimed:
        tell_item("not in it", f"{', '.join(found.untimed)}: no recorded time", indent=0)


def _time(found: "Reach") -> str:
    """Minutes and hours, to the digits that the uncertainty leaves."""
    if found.minutes is None:
        return "not known: nobody timed it yet"
    if found.u_minutes is None:
        return f"{found.minutes:.0f} min ({found.minutes / 60:.1f} h); timed once only, so the spread is not known"
    decimals = 0 if found.u_minutes >= 10 else 1
    spread = f"{found.minutes:.{decimals}f} min, standard uncertainty {found.u_minutes:.{decimals}f} min"
    return f"{spread} ({found.minutes / 60:.1f} h)"


def _json(here: "JobNow", found: "Reach", *, is_off: bool) -> "dict[str, JsonValue]":
    return {
        "job": here.job.id,
        "target": found.target,
        "is_off": is_off,
        "learned_from": list(here.lore.jobs),
        "parts": [] if is_off else [_part_json(here, n, item) for n, item in enumerate(found.parts, start=1)],
        "minutes": None if is_off else found.minutes,
        "u_minutes": None if is_off else found.u_minutes,
        "untimed": [] if is_off else list(found.untimed),
    }


def _part_json(here: "JobNow", n: int, item: "ToComeOff") -> "dict[str, JsonValue]":
    part = here.state.part(item.part.name)
    return {
        "n": n,
        "part": item.part.name,
        "reason": item.reason,
        "certain": item.certain,
        "carried_from": item.part.carried_from,
        "cautions": list(here.hazards(item.part.name)),
        "escapes": here.escapes(item.part.name),
        "marks": [] if part.marks else list(item.part.marks),
        "shims": list(item.part.shims),
        "needs": [
            {"settings": dict(need.settings), "reason": need.reason}
            for need in part.needs
            if need.moves in {"removal", "both"}
        ],
        "irreplaceable": part.irreplaceable or item.part.irreplaceable,
        "minutes": list(item.part.minutes),
    }
