"""Take a camera in."""

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.look import job_json, tell_earlier
from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_next_off

if TYPE_CHECKING:
    from datetime import date

commands = typer.Typer()


@commands.command("take-in")
def take_in(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    owner: Annotated[str, typer.Option(metavar="TEXT", help="Who brought it in.", show_default=False)],
    maker: Annotated[str, typer.Option(metavar="TEXT", help="The camera's maker.", show_default=False)],
    model: Annotated[str, typer.Option(metavar="TEXT", help="Its model.", show_default=False)],
    serial: Annotated[str, typer.Option(metavar="TEXT", help="Its serial number, as engraved.", show_default=False)],
    film: Annotated[
        bool, typer.Option("--film/--no-film", help="Is there film inside? Ask the owner.", show_default=False)
    ],
    contact: Annotated[str, typer.Option(metavar="TEXT", help="How to reach the owner.")] = "",
    variant: Annotated[str, typer.Option(metavar="TEXT", help="Which construction it is.")] = "",
    stops: Annotated[
        str,
        typer.Option(metavar="F-NUMBERS", help="The apertures engraved on its lens, the widest first; commas between."),
    ] = "",
    says: Annotated[str, typer.Option("--says", metavar="WORDS", help="The owner's words.")] = "",
    accessory: Annotated[
        list[str] | None, typer.Option(metavar="TEXT", help="What came with it; once for each thing.")
    ] = None,
    condition: Annotated[str, typer.Option(metavar="TEXT", help="How it looks.")] = "",
    wanted: Annotated[str, typer.Option(metavar="TEXT", help="What the owner wants.")] = "",
    profile: Annotated[str, typer.Option(metavar="NAME", help="Tolerance profile: see `profiles`.")] = "user",
    on: Annotated[
        datetime | None, typer.Option(metavar="YYYY-MM-DD", formats=["%Y-%m-%d"], help="The day, if not today.")
    ] = None,
    overrule: Annotated[
        str | None,
        typer.Option(metavar="WHY", help="Your reason to take it in although a job of this camera is open."),
    ] = None,
    as_json: Json = False,
) -> None:
    """Take a camera in: begin a job.

    A camera that was here before is found by its maker, model and serial number, and you see its earlier visits. If one
    of its jobs is still open, you are asked why. Give
    the apertures of its lens with --stops: the certificate and the owner's card then show each speed at these. Without
    them the camera has those of the last one of its variant. The first camera begins the workshop folder.

    \b
    Example:
      camerawright take-in --owner "Ines Marrow" --maker Orlmann --model "Falter 6x6" \\
        --serial 48213 --no-film --stops "3.5, 4, 5.6, 8, 11, 16, 22" \\
        --says "slow speeds stick"
    """
    from camerawright.handbook.part_words import old_film
    from camerawright.job.now import job_now
    from camerawright.job.taking_in import note_open, still_open
    from camerawright.trouble import Refused
    from camerawright.workshop.apertures import apertures_read
    from camerawright.workshop.rows import Camera, Owner, Visit

    day, f_numbers = _day(on), apertures_read(stops)
    with workshop_of(ctx, create=True) as workshop:
        workshop.profile_path(profile)
        camera = Camera(maker=maker, model=model, serial=serial, variant=variant, f_numbers=f_numbers)
        others = still_open(workshop, camera)
        if others and not overrule:
            named = ", ".join(other.id for other in others)
            raise Refused(
                f"{named} of this very camera is not handed back",
                f"go on with {others[0].id}, or look at the serial number again; to take it in all the same, say why "
                "with --overrule",
                "take-in",
            )
        job = workshop.take_in(
            Owner(name=owner, contact=contact),
            camera,
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
        if others:
            note_open(workshop, job, others, overrule or "")
        here = job_now(workshop, job.id)
        if as_json:
            tell_json(job_json(workshop, here))
            return
        tell(f"{job.id} {job.camera.title}, no. {job.camera.serial}, of {job.owner.name}")
        _tell_apertures(job.camera.f_numbers, were_given=bool(stops))
        if film:
            tell_item(
                "CAUTION",
                "film inside: do not open the back before you rewind it, or take it out in the dark",
                indent=0,
            )
            tell_item("CAUTION", str(old_film()), indent=0)
        tell_earlier(workshop, job)
        tell_next_off(here)


def _tell_apertures(f_numbers: tuple[float, ...], *, were_given: bool) -> None:
    """The apertures that are known; where they were not given just now, whose they are."""
    from camerawright.workshop.apertures import apertures_written

    if f_numbers:
        of_variant = " (as known of this camera, or of the last one of its variant)" if not were_given else ""
        tell_item("apertures", f"f/{apertures_written(f_numbers)}{of_variant}")


@commands.command()
def apertures(
    ctx: typer.Context,
    job: JobId,
    stops: Annotated[
        str | None, typer.Argument(metavar="[F-NUMBERS]", help="As engraved, the widest first; commas between.")
    ] = None,
) -> None:
    """Show or change the apertures of a camera's lens.

    \b
    Examples:
      camerawright apertures J3
      camerawright apertures J3 "3.5, 4, 5.6, 8, 11, 16, 22"
    """
    from camerawright.workshop.apertures import EXAMPLE, apertures_read, apertures_written

    with workshop_of(ctx) as workshop:
        if stops is not None:
            workshop.set_apertures(job, apertures_read(stops))
        known = workshop.job(job).camera.f_numbers
        tell(f"f/{apertures_written(known)}" if known else f'none entered; give them, like "{EXAMPLE}"')


def _day(on: datetime | None) -> "date":
    """The day given, or today; a day to come is a slip."""
    from camerawright.trouble import Refused

    today = datetime.now().astimezone().date()
    day = on.date() if on else today
    if day > today:
        raise Refused(f"{day} is in the future", "give the day on which the camera came in", "--on")
    return day
