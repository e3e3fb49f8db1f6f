"""The page of a job: the camera, the visit, what is known, what was measured, what is to be paid, and the way out."""

from starlette.requests import Request
from starlette.responses import Response

from camerawright.handbook.part_words import old_film
from camerawright.job.taking_in import TOLD, as_told
from camerawright.papers.catalogue import PAPERS
from camerawright.readings.side_by_side import tables
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused
from camerawright.web.forms import Refusal, form_maker
from camerawright.web.render import REFUSED, page, workshop_of
from camerawright.web.taking import here
from camerawright.web.words import PAPER_WORDS
from camerawright.workshop.apertures import EXAMPLE, apertures_written
from camerawright.workshop.bill import WHERE_SET, bill_sum, not_set
from camerawright.workshop.rows import Terms


def show(request: Request, refusal: Refusal | None = None) -> Response:
    """Everything about one job that is not a step at the bench."""
    bench = here(request)
    workshop = workshop_of(request)
    terms, terms_wrong = _terms(workshop)
    return page(
        request,
        "job.html",
        status=REFUSED if refusal else 200,
        here=bench,
        tab="job",
        earlier=[job for job in workshop.visits(bench.job.camera) if job.id != bench.job.id],
        papers=[(name, PAPER_WORDS.get(name, name.capitalize())) for name in PAPERS],
        readings=tables(bench.state),
        against=bench.against_closing,
        bill=bill_sum(bench.state.entries, terms),
        apertures=apertures_written(bench.job.camera.f_numbers),
        apertures_example=EXAMPLE,
        not_set=not_set(bench.state.entries, terms),
        where_set=WHERE_SET,
        told=as_told(bench.job),
        told_labels=TOLD,
        terms=terms,
        terms_wrong=terms_wrong,
        refusal=refusal,
        form=form_maker(refusal),
        old_film=old_film(),
    )


def _terms(workshop: Workshop) -> tuple[Terms, str]:
    """The terms, or blank ones and what is wrong with the file: the page must not hang on it."""
    try:
        return workshop.terms(), ""
    except Refused as refused:
        return Terms(), str(refused)
