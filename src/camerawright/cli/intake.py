"""Take a camera in."""

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.look import job_json, tell_earlier
from camerawright.cli.shell import Json, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_next_off

if TYPE_CHECKING:
    from datetime import date

commands = typer.Typer()


@commands.command("take-in")
def take_in(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    owner: Annotated[str, typer.Option(metavar="TEXT", help="Whoever brought it in.", show_default=False)],
    maker: Annotated[str, typer.Option(metavar="TEXT", help="The camera's maker.", show_default=False)],
    model: Annotated[str, typer.Option(metavar="TEXT", help="Its model.", show_default=False)],
    serial: Annotated[str, typer.Option(metavar="TEXT", help="Its serial number, as engraved.", show_default=False)],
    film: Annotated[bool, typer.Option("--film/--no-film", help="Is there film inside? Ask.", show_default=False)],
    contact: Annotated[str, typer.Option(metavar="TEXT", help="How to reach the owner.")] = "",
    variant: Annotated[str, typer.Option(metavar="TEXT", help="Which construction, told by its features.")] = "",
    says: Annotated[str, typer.Option("--says", metavar="WORDS", help="The owner's words.")] = "",
    accessory: Annotated[
        list[str] | None, typer.Option(metavar="TEXT", help="What came with it; once for each.")
    ] = None,
    condition: Annotated[str, typer.Option(metavar="TEXT", help="How it looks.")] = "",
    wanted: Annotated[str, typer.Option(metavar="TEXT", help="The outcome the owner wants.")] = "",
    profile: Annotated[str, typer.Option(metavar="NAME", help="Tolerance profile: see `profiles`.")] = "user",
    on: Annotated[
        datetime | None, typer.Option(metavar="YYYY-MM-DD", formats=["%Y-%m-%d"], help="The day, if not today.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Take a camera in: begin a job.

    A camera seen before, by maker, model and serial, is found again and its earlier visits are shown. The first
    camera begins the workshop folder.

    \b
    Example:
      camerawright take-in --owner "Ines Marrow" --maker Orlmann --model "Falter 6x6" \\
        --serial 48213 --no-film --says "slow speeds stick"
    """
    from camerawright.job.now import job_now
    from camerawright.workshop.rows import Camera, Owner, Visit

    day = _day(on)
    with workshop_of(ctx, create=True) as workshop:
        workshop.profile_path(profile)
        job = workshop.take_in(
            Owner(name=owner, contact=contact),
            Camera(maker=maker, model=model, serial=serial, variant=variant),
            Visit(
                taken_in=day,
                owners_words=says,
                film_inside=film,
                accessories=tuple(accessory or ()),
                condition=condition,
                wanted=wanted,
                profile=profile,
            ),
        )
        here = job_now(workshop, job.id)
        if as_json:
            tell_json(job_json(workshop, here))
            return
        tell(f"{job.id} {job.camera.title}, no. {job.camera.serial}, of {job.owner.name}")
        if film:
            tell_item("CAUTION", "film inside: do not open the back before it is rewound or out in the dark", indent=0)
        tell_earlier(workshop, job)
        tell_next_off(here)


def _day(on: datetime | None) -> "date":
    """The day given, or today; a day to come is a slip."""
    from camerawright.trouble import Refused

    today = datetime.now().astimezone().date()
    day = on.date() if on else today
    if day > today:
        raise Refused(f"{day} is in the future", "give the day on which the camera came in", "--on")
    return day
