"""The start page: every job, where it stands, and what it owes."""

from dataclasses import dataclass
from typing import Final

from starlette.requests import Request
from starlette.responses import Response

from camerawright.job.listed import brought_up_to_date
from camerawright.store.workshop import Workshop
from camerawright.web.page_numbers import Numbered, numbered
from camerawright.web.render import page, workshop_of
from camerawright.workshop.rows import Glance, Job

_MOST: Final = 50  # jobs that one page lists of each kind


@dataclass(frozen=True, kw_only=True)
class Listed:
    """Some of the jobs on the bench, or of those that are done."""

    lines: tuple[tuple[Job, Glance], ...]
    shown: Numbered


def show(request: Request) -> Response:
    """All jobs, those on the bench first, the last one worked on on top.

    With words, those whose camera or owner has them in the name.
    """
    workshop = workshop_of(request)
    words = request.query_params.get("find", "").strip()
    not_kept = brought_up_to_date(workshop)
    return page(
        request,
        "jobs.html",
        find=words,
        on_the_bench=_listed(workshop, words, not_kept, is_done=False, asked=request.query_params.get("bench", "")),
        done=_listed(workshop, words, not_kept, is_done=True, asked=request.query_params.get("closed", "")),
    )


def _listed(
    workshop: Workshop, words: str, not_kept: tuple[tuple[Job, Glance], ...], *, is_done: bool, asked: str
) -> Listed:
    """One page of them; what could not be kept stands on top of the first."""
    shown = numbered(asked, n_all=workshop.n_jobs(is_done=is_done, words=words), most=_MOST)
    on_top = tuple(line for line in not_kept if line[1].is_done == is_done and shown.n_page == 1)
    lines = workshop.listed(is_done=is_done, first=shown.first, most=_MOST, words=words)
    return Listed(lines=on_top + lines, shown=shown)
