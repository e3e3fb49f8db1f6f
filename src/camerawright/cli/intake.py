"""Take a camera in."""

from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import typer

from camerawright.cli.look import job_json, tell_earlier
from camerawright.cli.shell import JobId, Json, tell, tell_item, tell_json, workshop_of
from camerawright.cli.wording import tell_next_off

if TYPE_CHECKING:
    from datetime import date

    from camerawright.workshop.rows import Camera

commands = typer.Typer()


@commands.command("take-in")
def take_in(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    owner: Annotated[str, typer.Option(metavar="TEXT", help="Who brought it in.", show_default=False)],
    maker: Annotated[str, typer.Option(metavar="TEXT", help="The camera's maker.", show_default=False)],
    model: Annotated[str, typer.Option(metavar="TEXT", help="Its model.", show_default=False)],
    serial: Annotated[str, typer.Option(metavar="TEXT", help="Its serial number, as engraved.", show_default=False)],
    film: Annotated[
        bool | None, typer.Option("--film/--no-film", help="Is there film inside? Ask the owner.", show_default=False)
    ] = None,
    film_not_known: Annotated[
        bool, typer.Option("--film-not-known", help="Nobody knows whether there is: it counts as inside.")
    ] = False,
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
    is_new: Annotated[
        bool, typer.Option("--new", help="It is another camera, although one that was here is called much like it.")
    ] = False,
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
    from camerawright.job.taking_in import note_film_not_known, note_open, still_open
    from camerawright.trouble import Refused
    from camerawright.workshop.apertures import apertures_read
    from camerawright.workshop.rows import Camera, Owner, Visit

    if (film is None) != film_not_known:
        raise typer.BadParameter("say one of --film, --no-film and --film-not-known", param_hint="--film")
    day, f_numbers = _day(on), apertures_read(stops)
    with workshop_of(ctx, create=True) as workshop:
        workshop.profile_path(profile)
        camera = Camera(maker=maker, model=model, serial=serial, variant=variant, f_numbers=f_numbers)
        if not is_new:
            _ask_which(workshop.alike(camera))
        seen = workshop.visits(camera)
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
                film_inside=film is not False,  # what is not known counts as inside
                accessories=tuple(accessory or ()),
                condition=condition,
                wanted=wanted,
                profile=profile,
            ),
            seen=seen,
        )
        if others:
            note_open(workshop, job, others, overrule or "")
        if film_not_known:
            note_film_not_known(workshop, job)
        here = job_now(workshop, job.id)
        if as_json:
            tell_json(job_json(workshop, here))
            return
        tell(f"{job.id} {job.camera.title}, no. {job.camera.serial}, of {job.owner.name}")
        _tell_apertures(job.camera.f_numbers, were_given=bool(stops))
        if film is not False:
            inside = "may be inside" if film_not_known else "inside"
            shut = "do not open the back before you rewind it, or take it out in the dark"
            tell_item("CAUTION", f"film {inside}: {shut}", indent=0)
            tell_item("CAUTION", str(old_film()), indent=0)
        tell_earlier(workshop, job)
        tell_next_off(here)


def _ask_which(alike: "tuple[Camera, ...]") -> None:
    """Refuse a camera that may be a known one, called otherwise by a slip."""
    from camerawright.trouble import Refused

    if alike:
        named = " or ".join(f"{camera.title}, no. {camera.serial}" for camera in alike)
        raise Refused(f"did you mean {named}, or is it new?", "take it in by that name, or add --new", "take-in")


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


@commands.command("intake")
def put_intake_right(  # noqa: PLR0917 options are parameters
    ctx: typer.Context,
    job: JobId,
    owner: Annotated[str | None, typer.Option(metavar="TEXT", help="The owner's name.")] = None,
    contact: Annotated[str | None, typer.Option(metavar="TEXT", help="How to reach the owner.")] = None,
    maker: Annotated[str | None, typer.Option(metavar="TEXT", help="The camera's maker.")] = None,
    model: Annotated[str | None, typer.Option(metavar="TEXT", help="Its model.")] = None,
    serial: Annotated[str | None, typer.Option(metavar="TEXT", help="Its serial number.")] = None,
    variant: Annotated[str | None, typer.Option(metavar="TEXT", help="Which construction it is.")] = None,
    film: Annotated[
        str, typer.Option(metavar="yes|no|not known", help="Is there film inside? Not known counts as inside.")
    ] = "",
    because: Annotated[str, typer.Option(metavar="WHY", help="Why it was wrong.")] = "",
) -> None:
    """Put right what was told when a camera was taken in.

    Only this job changes; what stood before stays in its journal. For the apertures, see `apertures`.

    \b
    Examples:
      camerawright intake J3 --serial 48231 --because "misread"
      camerawright intake J3 --film "not known"
    """
    from camerawright.job.now import job_now
    from camerawright.job.taking_in import FILMS, put_right

    given = {
        "owner": owner,
        "contact": contact,
        "maker": maker,
        "model": model,
        "serial": serial,
        "variant": variant,
    }
    said = film.strip().casefold().replace("-", " ")
    if said and said not in FILMS:
        raise typer.BadParameter(f"give one of {', '.join(FILMS)}", param_hint="--film")
    with workshop_of(ctx) as workshop:
        told = {name: text for name, text in given.items() if text is not None}
        now = put_right(workshop, job, told, film=said, why=because.strip())
        tell(f"{now.id} {now.camera.title}, no. {now.camera.serial}, of {now.owner.name}")
        tell_item("film inside", job_now(workshop, now.id).film_said, indent=0, label_width=13)


@commands.command("take-back")
def take_back(ctx: typer.Context, job: JobId) -> None:
    """Forget a job that was taken in by mistake.

    You can take a job back only while nothing is entered for it. The next camera may get the same number.

    \b
    Example:
      camerawright take-back J4
    """
    with workshop_of(ctx) as workshop:
        gone = workshop.job(job)
        workshop.take_back(job)
        tell(f"{gone.id} taken back: {gone.camera.title}, no. {gone.camera.serial}, is forgotten")


def _day(on: datetime | None) -> "date":
    """The day given, or today; a day to come is a slip."""
    from camerawright.trouble import Refused

    today = datetime.now().astimezone().date()
    day = on.date() if on else today
    if day > today:
        raise Refused(f"{day} is in the future", "give the day on which the camera came in", "--on")
    return day
