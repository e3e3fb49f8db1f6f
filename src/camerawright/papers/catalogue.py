"""Every paper by its name, and how it is printed."""

from collections.abc import Callable

from camerawright.job.now import JobNow, job_now
from camerawright.papers.bill import bill
from camerawright.papers.certificate import certificate
from camerawright.papers.hazard_card import hazard_card
from camerawright.papers.lubrication_chart import lubrication_chart
from camerawright.papers.owners_card import owners_card
from camerawright.papers.paper import Paper
from camerawright.papers.refit_sheet import photos_of, refit_sheet, refit_strip
from camerawright.papers.render import render
from camerawright.papers.resume_card import resume_card
from camerawright.papers.screw_card import screw_card
from camerawright.papers.shim_card import shim_card
from camerawright.papers.tray_card import tray_card
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused


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


def _certificate(workshop: Workshop, here: JobNow) -> bytes:
    """The certificate with its pictures."""
    shown, images = certificate(workshop, here)
    return render("certificate", shown, images=images)


def _refit_sheet(workshop: Workshop, here: JobNow) -> bytes:
    """The refit sheet with its photos."""
    sheet, images = photos_of(workshop, refit_sheet(workshop, here))
    return render("refit", sheet, images=images)


def _printed(template: str, filled: Callable[[Workshop, JobNow], Paper]) -> Callable[[Workshop, JobNow], bytes]:
    """A paper without pictures, filled and printed."""
    return lambda workshop, here: render(template, filled(workshop, here))


PAPERS: dict[str, Callable[[Workshop, JobNow], bytes]] = {
    "certificate": _certificate,
    "refit": _refit_sheet,
    "bill": _printed("bill", bill),
    "strip": _printed("strip", refit_strip),
    "tray": _printed("tray", tray_card),
    "screws": _printed("screws", screw_card),
    "shims": _printed("shims", shim_card),
    "hazards": _printed("hazards", hazard_card),
    "lubrication": _printed("lubrication", lubrication_chart),
    "resume": _printed("resume", resume_card),
    "owner-card": _printed("owner", owners_card),
}
"""What can be printed of a job, by name."""
