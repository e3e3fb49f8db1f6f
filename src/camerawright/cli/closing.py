"""The closing: the balance, handing back, and what goes on the bill."""

import re
from decimal import Decimal
from typing import Annotated

import typer

from camerawright.cli.entering import Overrule, Say, enter
from camerawright.cli.shell import REFUSED, JobId, Json, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_state

commands = typer.Typer()


@commands.command()
def balance(ctx: typer.Context, job: JobId, as_json: Json = False) -> None:
    """Strike the balance: all that stands against closing.

    Exit code 1 if anything does.

    \b
    Example:
      camerawright balance J3
    """
    from camerawright.job.now import job_now
    from camerawright.journal.rules import closing

    with workshop_of(ctx) as workshop:
        here = job_now(workshop, job)
    against = closing(here.state)
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


@commands.command()
def close(ctx: typer.Context, job: JobId, overrule: Overrule = None, say: Say = None) -> None:
    """Close a job; refused until the balance is zero.

    \b
    Example:
      camerawright close J3
    """
    enter(ctx, job, "closed", overrule=overrule, say=say)


@commands.command("hand-back")
def hand_back(
    ctx: typer.Context,
    job: JobId,
    to: Annotated[str, typer.Option(metavar="NAME", help="Who took it.", show_default=False)],
    overrule: Overrule = None,
    say: Say = None,
) -> None:
    """Enter that the camera went back to its owner.

    \b
    Example:
      camerawright hand-back J3 --to "Ines Marrow"
    """
    enter(ctx, job, "handed back", to=to, overrule=overrule, say=say)


@commands.command()
def worked(
    ctx: typer.Context,
    job: JobId,
    minutes: Annotated[int, typer.Argument(metavar="MINUTES", help="Hands-on time.", show_default=False)],
    task: Annotated[str, typer.Argument(metavar="TASK", help="What for.", show_default=False)],
    say: Say = None,
) -> None:
    """Put hands-on time on the bill.

    \b
    Example:
      camerawright worked J3 95 "shutter stripped, cleaned and set"
    """
    enter(ctx, job, "worked", minutes=minutes, task=task, say=say)


@commands.command()
def supply(
    ctx: typer.Context,
    job: JobId,
    item: Annotated[str, typer.Argument(metavar="ITEM", help="Part or material.", show_default=False)],
    price: Annotated[str, typer.Argument(metavar="PRICE", help="Of one, like 4.50.", show_default=False)],
    count: Annotated[int, typer.Option(metavar="N", help="How many.")] = 1,
    say: Say = None,
) -> None:
    """Put a part or material on the bill.

    The price is in the workshop's currency.

    \b
    Example:
      camerawright supply J3 "light seal foam" 4.50 --count 2
    """
    price_minor = _minor(price)
    enter(ctx, job, "supplied", item=item, price_minor=price_minor, count=count, say=say)


def _minor(price: str) -> int:
    """A price in the minor unit; a decimal comma is read too."""
    from camerawright.workshop.rows import CURRENCY_MINOR_DIGITS

    if not re.fullmatch(rf"[0-9]{{1,8}}(?:[.,][0-9]{{1,{CURRENCY_MINOR_DIGITS}}})?", price.strip()):
        raise typer.BadParameter(f"“{price}” is not a price; write it like 4.50", param_hint="PRICE")
    return int(Decimal(price.strip().replace(",", ".")).scaleb(CURRENCY_MINOR_DIGITS))
