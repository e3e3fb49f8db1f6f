"""What each paper says of a job, and the paper itself."""

from collections.abc import Callable
from dataclasses import replace
from io import BytesIO
from pathlib import Path

from camerawright.job.now import JobNow, job_now
from camerawright.job.refit import RefitStep, refit_steps
from camerawright.journal.entries import Found, Supplied, Worked
from camerawright.papers import card_content, content
from camerawright.papers.cards import hazard_card, lubrication_chart, refit_strip, resume_card, step_shown
from camerawright.papers.certificate import readings_shown, recordings_shown
from camerawright.papers.hardware_cards import screw_card, shim_card, tray_card
from camerawright.papers.letterhead import dated, letterhead, state_words
from camerawright.papers.owner_card import owner_card
from camerawright.papers.render import render
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.workshop.bill import bill_sum

PHOTO_PX = 1200
"""Longer side of a photo on paper: 200 dots per inch over 150 mm."""


def render_paper(workshop: Workshop, job_id: str, which: str) -> bytes:
    """Print one of `PAPERS` as PDF.

    Raises
    ------
    Refused
        No such job or paper, or nothing is there yet that the paper could say.
    """
    if which not in PAPERS:
        raise Refused(f"there is none called {which}", f"use one of: {', '.join(PAPERS)}", "paper")
    return PAPERS[which](workshop, job_now(workshop, job_id))


def certificate(workshop: Workshop, here: JobNow) -> bytes:
    """The readings as found and as left, what was found and done."""
    if not here.state.measured:
        raise Refused(
            f"nothing has been measured for {here.job.id}", "measure it first, as left at least", "certificate"
        )
    shown_readings = readings_shown(workshop, here)
    answers = here.state.answers
    shown = content.Certificate(
        workshop=letterhead(workshop),
        number=f"{here.job.id}-C",
        date=dated(here),
        camera=here.job.camera,
        owner=here.job.owner.name,
        owners_words=here.job.visit.owners_words,
        wanted=here.job.visit.wanted,
        readings=shown_readings.readings,
        findings=tuple(
            content.FindingShown(
                part=entry.part, defect=entry.defect, done=answers[entry.id].answer if entry.id in answers else ""
            )
            for entry in here.state.entries
            if isinstance(entry, Found)
        ),
        replaced=tuple(
            content.ReplacedPart(part=part.name, origin=part.refitted.replacement)
            for part in here.state.parts.values()
            if part.refitted and part.refitted.replacement
        ),
        remarks=shown_readings.remarks,
        recordings=recordings_shown(here),
    )
    return render("certificate", shown, images=shown_readings.images)


def refit_sheet(workshop: Workshop, here: JobNow) -> bytes:
    """The way back, to be ticked with a pencil."""
    steps = refit_steps(here)
    images = {
        step.part.key: _photo(workshop.media(step.part.removed.photo))
        for step in steps
        if step.part.removed and step.part.removed.photo
    }
    sheet = content.RefitSheet(
        workshop=letterhead(workshop),
        job=here.job.id,
        date=dated(here),
        camera=here.job.camera,
        state=state_words(here),
        steps=tuple(_with_reasons(step, photo=step.part.key if step.part.key in images else None) for step in steps),
        waiting=tuple(content.WaitingShown(part=item.part.name, reason=item.reason) for item in here.way.waiting),
        owed=tuple(f"{owed.part}: {owed.what}" for owed in here.owed if owed.kind != "aid"),
        aids=tuple(f"{aid.aid}, {aid.place}" if aid.place else aid.aid for aid in here.state.aids),
    )
    return render("refit", sheet, images=images)


def bill(workshop: Workshop, here: JobNow) -> bytes:
    """Hours and parts, and what they come to."""
    terms = workshop.terms()
    hours = bill_sum((entry for entry in here.state.entries if isinstance(entry, Worked)), terms)
    parts = bill_sum((entry for entry in here.state.entries if isinstance(entry, Supplied)), terms)
    whole = bill_sum(here.state.entries, terms)
    if not whole.lines:
        raise Refused(f"no hours or parts are entered for {here.job.id}", "enter what was worked and supplied", "bill")
    owner = here.job.owner
    shown = content.Bill(
        workshop=letterhead(workshop),
        number=f"{here.job.id}-B",
        date=dated(here),
        customer=f"{owner.name}\n{owner.contact}".strip(),
        currency=terms.currency,
        net_minor=whole.net_minor,
        total_minor=whole.total_minor,
        subject=f"{here.job.camera.title}, no. {here.job.camera.serial}; job {here.job.id}",
        hours=hours.lines,
        lines=parts.lines,
        tax=None
        if terms.tax_percent is None
        else content.Tax(label=f"Tax {terms.tax_percent} %", amount_minor=whole.tax_minor),
    )
    return render("bill", shown)


def _card(template: str, of: Callable[[Workshop, JobNow], card_content.Card]) -> Callable[[Workshop, JobNow], bytes]:
    """A card, filled and printed."""
    return lambda workshop, here: render(template, of(workshop, here))


PAPERS: dict[str, Callable[[Workshop, JobNow], bytes]] = {
    "certificate": certificate,
    "refit": refit_sheet,
    "bill": bill,
    "strip": _card("strip", refit_strip),
    "tray": _card("tray", tray_card),
    "screws": _card("screws", screw_card),
    "shims": _card("shims", shim_card),
    "hazards": _card("hazards", hazard_card),
    "lubrication": _card("lubrication", lubrication_chart),
    "resume": _card("resume", resume_card),
    "owner-card": _card("owner", owner_card),
}
"""What can be printed of a job, by name."""


def _with_reasons(step: RefitStep, photo: str | None) -> content.StepShown:
    """A step as the refit sheet shows it."""
    after = tuple(content.After(part=bond.then, reason=bond.reason, certain=bond.certain) for bond in step.after)
    return replace(step_shown(step), after=after, photo=photo)


def _photo(path: Path) -> bytes:
    """A photo upright, in RGB, and small enough for paper."""
    from PIL import Image, ImageOps  # noqa: PLC0415 only where a sheet has photos

    with Image.open(path) as opened:
        upright = ImageOps.exif_transpose(opened).convert("RGB")
    upright.thumbnail((PHOTO_PX, PHOTO_PX))
    out = BytesIO()
    upright.save(out, "JPEG", quality=85)
    return out.getvalue()
