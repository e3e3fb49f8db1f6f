"""A camera is taken in: who brought it, which one it is, and what is to be done."""

import re
from dataclasses import replace
from datetime import date
from typing import Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from camerawright.handbook.part_words import old_film
from camerawright.job.taking_in import note_film_not_known, note_open, still_open
from camerawright.journal.fields import parted
from camerawright.journal.film import NOT_KNOWN
from camerawright.readings.measuring import profile_named
from camerawright.store.workshop import Workshop
from camerawright.trouble import NotUnderstood, Refused, Stale, Unreadable
from camerawright.web.forms import Form, Refusal, Typed
from camerawright.web.pages.job import show as show_job
from camerawright.web.render import REFUSED, page, workshop_of
from camerawright.web.uploads import FIELD_MAX_BYTES, posted, texts
from camerawright.web.words import today
from camerawright.workshop.apertures import EXAMPLE, apertures_read, apertures_written
from camerawright.workshop.rows import Camera, Job, Owner, Visit

FORM: Final = "take-in"
APERTURES: Final = "apertures"
WANTED: Final = {"owner": "the owner's name", "maker": "the maker", "model": "the model", "serial": "the serial number"}
LONGEST: Final = 4000
_ID: Final = re.compile(r"[0-9a-f]{32}")


async def endpoint(request: Request) -> Response:
    """The form, and what comes of it."""
    if request.method != "POST":
        return await run_in_threadpool(_show, request)
    async with posted(request, max_bytes=FIELD_MAX_BYTES) as form:
        typed = texts(form)
    return await run_in_threadpool(_take, request, typed)


def _show(
    request: Request,
    refusal: Refusal | None = None,
    seen: tuple[Job, ...] = (),
    alike: tuple[Camera, ...] = (),
) -> Response:
    workshop = workshop_of(request)
    known = workshop.names()
    return page(
        request,
        "take_in.html",
        status=REFUSED if refusal else 200,
        form=Form(name=FORM, given={"taken_in": today().isoformat(), "profile": _default(workshop)}, refusal=refusal),
        refusal=refusal,
        seen=seen,
        alike=alike,
        still_open=still_open(workshop, seen[0].camera) if seen else (),
        profile_options=_profiles(workshop),
        owners=known.owners,
        makers=known.makers,
        models=known.models,
        variants=known.variants,
        apertures=sorted(map(apertures_written, known.f_numbers)),
        apertures_example=EXAMPLE,
        old_film=old_film(),
    )


def _profiles(workshop: Workshop) -> list[tuple[str, str]]:
    """The tolerance profiles by name and title; one that cannot be read is still there to be chosen, and mended."""
    found = []
    for name in workshop.profile_names():
        try:
            found.append((name, f"{name}: {profile_named(workshop, name).title}"))
        except Unreadable:
            found.append((name, f"{name} (cannot be read)"))
    return found


def _default(workshop: Workshop) -> str:
    """The tolerance profile to begin with."""
    there = workshop.profile_names()
    return Visit.profile if Visit.profile in there or not there else there[0]


def _take(request: Request, typed: Typed) -> Response:
    workshop = workshop_of(request)
    errors = mistakes(typed, profiles=workshop.profile_names(), on=today())
    if errors:
        return _show(request, Refusal(form=FORM, typed=typed, errors=errors))
    told_of = {name: _tidy(typed, name) for name in ("maker", "model", "serial", "variant")}
    camera = Camera(**told_of, f_numbers=apertures_read(typed.get("f_numbers", "")))
    form_id = _form_id(typed)
    alike = () if typed.get("is_new") == "yes" or workshop.of_form(form_id) else workshop.alike(camera)
    if alike and (meant := _meant(alike, typed)) is None:
        return _show(request, Refusal(form=FORM, typed=typed), alike=alike)
    if alike and meant:
        camera = replace(camera, maker=meant.maker, model=meant.model, serial=meant.serial)
        typed = {**typed, "maker": meant.maker, "model": meant.model, "serial": meant.serial}
    seen = () if workshop.of_form(form_id) else workshop.visits(camera)
    if seen and typed.get("known") != ", ".join(job.id for job in seen):
        return _show(request, Refusal(form=FORM, typed=typed), seen)
    return _put_in(request, typed, camera, seen)


def _put_in(request: Request, typed: Typed, camera: Camera, seen: tuple[Job, ...]) -> Response:
    """The job is made, unless somebody made another of this camera since it was `seen`."""
    workshop = workshop_of(request)
    others = still_open(workshop, camera) if seen else ()
    try:
        job = workshop.take_in(_owner(typed), camera, _visit(typed), form=_form_id(typed), seen=seen)
    except Stale:
        return _show(request, Refusal(form=FORM, typed=typed), workshop.visits(camera))
    except Refused as refused:
        return _show(request, Refusal(form=FORM, typed=typed, problems=refused.troubles))
    if others:
        note_open(workshop, job, others)
    if typed["film_inside"] == NOT_KNOWN:
        note_film_not_known(workshop, job)
    return RedirectResponse(f"/jobs/{job.id}", 303)


def _meant(alike: tuple[Camera, ...], typed: Typed) -> Camera | None:
    """Which of the cameras that are known it is, if that was said."""
    said = typed.get("meant", "")
    return alike[int(said)] if said.isdigit() and int(said) < len(alike) else None


def _form_id(typed: Typed) -> str:
    """The id that a form came with, by which it is known if it is sent twice, to whichever server."""
    form_id = typed.get("id", "")
    return form_id if _ID.fullmatch(form_id) else ""


def mistakes(typed: Typed, *, profiles: tuple[str, ...], on: date) -> dict[str, str]:
    """What is wrong with each field."""
    errors = {name: f"{what} is needed" for name, what in WANTED.items() if not typed.get(name, "").strip()}
    errors |= {
        name: f"{len(text)} characters; {LONGEST} is the most" for name, text in typed.items() if len(text) > LONGEST
    }
    if typed.get("film_inside") not in {"yes", "no", NOT_KNOWN}:
        errors["film_inside"] = "ask the owner, or look in the dark: a back opened on a loaded film fogs it"
    if profiles and typed.get("profile") not in profiles:
        errors["profile"] = f"choose one of {', '.join(profiles)}"
    if said := apertures_error(typed.get("f_numbers", "")):
        errors["f_numbers"] = said
    try:
        if date.fromisoformat(typed.get("taken_in", "")) > on:
            errors["taken_in"] = "that day is in the future"
    except ValueError:
        errors["taken_in"] = f"write the day like {on.isoformat()}"
    return errors


def apertures_error(text: str) -> str:
    """What is wrong with a line of apertures; "" for nothing."""
    try:
        apertures_read(text)
    except NotUnderstood as error:
        return f"{error.what}; {error.mend}"
    return ""


async def apertures(request: Request) -> Response:
    """The apertures of a job's camera are mended, from the page of the job."""
    async with posted(request, max_bytes=FIELD_MAX_BYTES) as form:
        typed = texts(form)
    return await run_in_threadpool(_mend_apertures, request, typed)


def _mend_apertures(request: Request, typed: Typed) -> Response:
    said = apertures_error(typed.get("f_numbers", ""))
    if said:
        return show_job(request, Refusal(form=APERTURES, typed=typed, errors={"f_numbers": said}))
    job_id = request.path_params["job"]
    workshop_of(request).set_apertures(job_id, apertures_read(typed.get("f_numbers", "")))
    return RedirectResponse(f"/jobs/{job_id}", 303)


def _owner(typed: Typed) -> Owner:
    return Owner(name=_tidy(typed, "owner"), contact=_tidy(typed, "contact"))


def _visit(typed: Typed) -> Visit:
    return Visit(
        taken_in=date.fromisoformat(typed["taken_in"]),
        owners_words=typed.get("owners_words", "").strip(),
        film_inside=typed["film_inside"] != "no",  # what is not known counts as inside
        accessories=tuple(parted(typed.get("accessories", ""))),
        condition=typed.get("condition", "").strip(),
        wanted=typed.get("wanted", "").strip(),
        profile=typed.get("profile") or Visit.profile,
    )


def _tidy(typed: Typed, name: str) -> str:
    return " ".join(typed.get(name, "").split())
