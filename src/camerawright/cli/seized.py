"""A fastener that does not move: what to try next."""

from typing import TYPE_CHECKING, Annotated, Literal

import typer

from camerawright.cli.shell import JobId, Json, Part, tell_item, tell_json, workshop_of
from camerawright.wording.moments import moment

if TYPE_CHECKING:
    from pydantic import JsonValue

    from camerawright.handbook.tables import Reason
    from camerawright.refit.ladder import Advice

commands = typer.Typer()

Screw = Annotated[str, typer.Option(metavar="TEXT", help="Which fastener, in words.", show_default=False)]
Materials = Annotated[
    list[str] | None,
    typer.Option("--material", metavar="TEXT", help="First of the screw, then of what it sits in; once for each."),
]


@commands.command()
def ladder(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    job: JobId,
    part: Part,
    screw: Screw,
    material: Materials = None,
    beside: Annotated[
        list[str] | None,
        typer.Option(metavar="TEXT", help="What a drop, warm air or a blow could reach; once for each thing."),
    ] = None,
    hand: Annotated[
        Literal["right", "left"] | None, typer.Option(help="Hand of its thread, once you made sure of it.")
    ] = None,
    diameter: Annotated[
        float | None, typer.Option(min=0.1, max=20, metavar="MM", help="Diameter of its thread.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Show what to try next on a fastener that does not move.

    It is the gentlest step that these materials allow, and that has tries left. Or it says to wait, to find something
    out first, or to stop. `tried` enters what came of it.

    \b
    Example:
      camerawright ladder J3 "top cover" --screw "NE screw" --material steel --material brass
    """
    from camerawright.job.now import job_now
    from camerawright.journal.dangers import about
    from camerawright.journal.entries import part_key
    from camerawright.refit.ladder import next_rung

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
    tried = [entry for entry in here.state.part(part).tried_now if part_key(entry.fastener) == part_key(screw)]
    advice = next_rung(
        tried,
        material or (),
        now=here.now,
        beside=beside or (),
        hand=hand,
        diameter_mm=diameter,
        about=about(here.state),
    )
    if as_json:
        tell_json({"job": here.job.id, "part": part, "screw": screw, **_json(advice)})
    else:
        _say(screw, advice)


def _say(screw: str, advice: "Advice") -> None:
    said = {
        "try": f"{advice.rung} (try {advice.n_try} of {advice.n_tries})",
        "wait": f"until {moment(advice.until)}" if advice.until else "",
        "ask": "find this out first",
        "stop": "no further",
        "free": "it moves",
    }
    tell_item(advice.verdict.upper(), f"{screw}: {said[advice.verdict]}", indent=0)
    for label, texts in (
        ("CAUTION", tuple(map(str, advice.cautions))),
        ("because", tuple(map(str, advice.why))),
        ("how", tuple(map(str, advice.how))),
        ("find out", advice.ask),
        ("wait", (f"{advice.wait_minutes:g} min, then turn",) if advice.wait_minutes else ()),
        ("stop", (advice.stop,)),
        ("not", tuple(f"{out.rung}: {'; '.join(map(str, out.reasons))}" for out in advice.left_out)),
    ):
        for text in texts:
            tell_item(label, text)


def _json(advice: "Advice") -> "dict[str, JsonValue]":
    return {
        "verdict": advice.verdict,
        "rung": advice.rung,
        "try": advice.n_try,
        "tries": advice.n_tries,
        "why": _reasons(advice.why),
        "how": _reasons(advice.how),
        "cautions": _reasons(advice.cautions),
        "ask": list(advice.ask),
        "wait_minutes": advice.wait_minutes,
        "until": advice.until.isoformat() if advice.until else None,
        "stop": advice.stop,
        "left_out": [{"rung": out.rung, "reasons": _reasons(out.reasons)} for out in advice.left_out],
    }


def _reasons(reasons: "tuple[Reason, ...]") -> "list[JsonValue]":
    return [{"text": reason.text, "source": reason.source} for reason in reasons]
