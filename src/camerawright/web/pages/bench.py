"""The bench page: one step, large. Strip-down and refit are two faces of it."""

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from camerawright.bench.catalogue import CATALOGUE
from camerawright.job.entering import NotAllowed, to_undo
from camerawright.job.now import JobNow
from camerawright.job.refit import RefitStep, failure_words, needs_words, refit_steps
from camerawright.job.resume import resume
from camerawright.journal.entries import KINDS, Entry, HoldPoint, Removed, Tension, part_key
from camerawright.journal.known import Known
from camerawright.journal.sentences import sentence
from camerawright.journal.state import Part, Promise, State
from camerawright.refit.ladder import stuck
from camerawright.refit.learning import PartLore
from camerawright.refit.lesson import PAUSE
from camerawright.refit.way_back import Check
from camerawright.web.forms import Refusal, form_maker
from camerawright.web.pages.undoing import together_words
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here

TRAY_CELLS: Final = tuple(f"{row}{column}" for row, column in product("ABCDEFGHJKLMNPQRSTUVWXYZ", range(1, 7)))
"""The cells of the trays, in the order in which they fill: six a row (common practice), I and O left out."""
N_THEN: Final = 3
"""How many of the coming steps are named."""
FREQUENT: Final = ("marked", "sits", "found", "cautioned", "reminded", "aid fitted", "set", "noted")
"""The kinds of entry whose forms stand beside every step."""
_ELSEWHERE: Final = {"removed", "refitted", "answered", "arrived", "aid taken out", "awaited", "accounted for"}
_ON_OTHER_PAGES: Final = {"cleaned", "worked", "supplied", "closed", "handed back", "reopened", "corrected"}
RARE: Final = tuple(
    name for name, kind in KINDS.items() if kind.form and name not in {*FREQUENT, *_ELSEWHERE, *_ON_OTHER_PAGES}
)
"""Those of the others that have no place of their own: they stand behind "More"."""
FILLED: Final = {
    "tension": {"act": "let down"},
    "tried": {"outcome": "no change"},
    "lubricated": {"amount": "film"},
    "turned": {"act": "loosened"},
}
"""What is filled in already, beside the part of the step."""

_HAS_A_FLASH: Final = re.compile(r"\b(?:flash|strobe)\b(?!\W*(?:sync|contact))", re.I)
"""The name of a camera that has one built in."""


@dataclass(frozen=True, kw_only=True)
class NextHazard:
    """The nearest hazard that lies ahead, and how many steps ahead it lies, where the order is known."""

    n_steps: int | None
    part: str
    hazards: tuple[str, ...]
    escapes: bool


@dataclass(frozen=True, kw_only=True)
class StripStep:
    """What comes off next: by what was learned, or by what the repairer picked."""

    name: str
    lore: PartLore | None
    part: Part
    hazards: tuple[str, ...]
    escapes: bool
    mark_wanted: str | None  # to be noted first
    shim_seen: str | None  # what lay beneath it in another camera
    needs: tuple[str, ...]  # the states without which it does not move
    frees: tuple[str, ...]  # what nothing holds once it moves
    irreplaceable: str


def next_hazard(bench: JobNow, names: Sequence[str], others: Iterable[str] = ()) -> NextHazard | None:
    """The first of the coming parts that has a hazard.

    Parameters
    ----------
    names
        The coming parts in order; the first is one step ahead.
    others
        Parts of which only that they are still to come is known.
    """
    coming = [*enumerate(names, start=1), *((None, name) for name in others)]
    for n_steps, name in coming:
        hazards = bench.hazards(name)
        if hazards:
            return NextHazard(n_steps=n_steps, part=name, hazards=hazards, escapes=bench.escapes(name))
    return None


def free_cell(state: State) -> str:
    """The next cell of the tray: after the last one used where that is free, else the first free one.

    None where parts came off and none went into a cell: this bench uses no tray.
    """
    taken = {part_key(part.removed.cell) for part in state.off if part.removed and part.removed.cell}
    all_removals = [entry for entry in state.entries if isinstance(entry, Removed)]
    removals = [entry for entry in all_removals if entry.cell]
    if all_removals and not removals:
        return ""
    last = removals[-1].cell.upper() if removals and removals[-1].cell else ""
    start = TRAY_CELLS.index(last) + 1 if last in TRAY_CELLS else 0
    in_turn = (*TRAY_CELLS[start:], *TRAY_CELLS[:start])
    return next((cell for cell in in_turn if part_key(cell) not in taken), "")


def last_entry(state: State) -> Entry | None:
    """What an undo takes back, if anything."""
    try:
        return to_undo(state, None)
    except NotAllowed:
        return None


def _mark_wanted(part: Part, known: Known) -> str | None:
    """The mark that has to be noted before the part moves, if it is not noted yet."""
    wanted = {part_key(wish.mark): wish.mark for wish in part.marks_wanted}
    noted = {part_key(mark.mark) for mark in part.marks_now}
    if len(noted) >= max(1, len(wanted)):
        return None
    return "; ".join(wanted.values()) or ("" if part.marks else known.marks_wanted.get(part.key))


def _to_come_off(bench: JobNow) -> tuple[str, ...]:
    """The parts that earlier strip-downs of this variant took off and this one has not yet, in order."""
    touched = {part.key for part in bench.state.parts.values() if part.removed is not None}
    return tuple(bench.lore.parts[key].name for key in bench.lore.order if key not in touched)


def _still_on(bench: JobNow) -> Iterator[Part]:
    """The parts that were spoken of and did not come off yet."""
    return (part for part in bench.state.parts.values() if part.removed is None)


def _in_sight(bench: JobNow) -> Iterator[str]:
    """What is still in the camera as far as anybody said: parts, where leads go, and a flash that its name tells of."""
    yield from (part.name for part in _still_on(bench))
    removed = [entry for entry in bench.state.entries if isinstance(entry, Removed)]
    for lead in (lead for entry in removed for lead in entry.leads):
        yield from (end for end in (lead.start, lead.end) if end and bench.state.part(end).status == "on")
    if _HAS_A_FLASH.search(bench.job.camera.title) and not any(bench.dangers(entry.part) for entry in removed):
        yield "electronic flash"


def check_words(check: Check) -> str:
    """Where a check stands now, and what a failure there costs."""
    if check.is_waiting:
        return f"Not before {check.hold.due}." if check.hold.due else "Not yet: a part that it needs still waits."
    where = f"Check it before {check.before.name} goes back" if check.before else "It comes at the end"
    return f"{where}. If it fails, {failure_words(check)}." if check.n_off_last else f"{where}."


def strip_step(bench: JobNow, name: str) -> StripStep:
    """All there is to know before a part comes off."""
    part = bench.state.part(name)
    return StripStep(
        name=part.name,
        lore=bench.lore.parts.get(part.key),
        part=part,
        hazards=bench.hazards(name),
        escapes=bench.escapes(name),
        mark_wanted=_mark_wanted(part, bench.known),
        shim_seen=bench.known.shims_seen.get(part.key),
        needs=needs_words(part, "removal"),
        frees=bench.frees(name),
        irreplaceable=bench.irreplaceable(part.name),
    )


def show_strip(request: Request, refusal: Refusal | None = None) -> Response:
    """The strip-down."""
    bench = here(request)
    coming = _to_come_off(bench)
    asked = request.query_params.get("part") or (refusal.typed.get("part") if refusal else None)
    name = (asked or "").strip() or (coming[0] if coming else "")
    then = [each for each in coming if part_key(each) != part_key(name)]
    step = strip_step(bench, name) if name else None
    return page(
        request,
        "bench_strip.html",
        status=REFUSED if refusal else 200,
        step=step,
        shows_loose=_wants_loose(step, refusal),
        is_expected=bool(coming) and part_key(name) == part_key(coming[0]),
        then=then[:N_THEN],
        hazard=next_hazard(bench, then, [each for each in _in_sight(bench) if part_key(each) != part_key(name)]),
        cell=free_cell(bench.state),
        now_loose=_now_loose(bench, step.name) if step and step.part.status == "on" else "",
        under=bench.state.off[-1].name if bench.state.off else "",
        **_common(bench, refusal, "strip"),
    )


def _now_loose(bench: JobNow, name: str) -> str:
    """What gets loose on this very step, in words; nothing where nothing does."""
    if not bench.escapes(name):
        return ""
    return "; ".join((f"{name} — {'; '.join(bench.hazards(name))}", *(f"catch {freed}" for freed in bench.frees(name))))


def _wants_loose(step: StripStep | None, refusal: Refusal | None) -> bool:
    """Whether springs and balls are asked for beside the screws: where some get free, got free, or were typed."""
    if refusal and refusal.form == "removed" and (refusal.typed.get("loose") or "loose" in refusal.errors):
        return True
    last = step.lore.last if step and step.lore else None
    return bool(step and (step.frees or step.escapes or (last and last.loose)))


def show_refit(request: Request, refusal: Refusal | None = None) -> Response:
    """The refit."""
    bench = here(request)
    steps = refit_steps(bench)
    asked = part_key(request.query_params.get("part") or (refusal.typed.get("part", "") if refusal else ""))
    step = next((each for each in steps if each.part.key == asked), steps[0] if steps else None)
    then = [each for each in steps if each is not step]
    promises, due = _to_answer(bench, step) if step else ((), ())
    return page(
        request,
        "bench_refit.html",
        status=REFUSED if refusal else 200,
        step=step,
        needs=needs_words(step.part, "refit") if step else (),
        irreplaceable=bench.irreplaceable(step.part.name) if step else "",
        promises=promises,
        due=due,
        picture=_photo(step) if step else None,
        now_loose=_now_loose(bench, step.part.name) if step else "",
        then=then[:N_THEN],
        ready=[each for each in then if not each.after],
        hazard=next_hazard(bench, [each.part.name for each in then], [each.part.name for each in bench.way.waiting]),
        **_common(bench, refusal, "refit", asked=[promise.id for promise in (*promises, *due)]),
    )


def _to_answer(bench: JobNow, step: RefitStep) -> tuple[tuple[Promise, ...], tuple[Promise, ...]]:
    """What bars a part until it is answered, and the checks that stand here without barring it."""
    barring = {promise.id: promise for promise in bench.state.promises_of(step.part.name)}
    barring |= {hold.id: hold for hold in bench.known.checks_first.get(step.part.key, ())}
    here_now: list[HoldPoint] = [
        check.hold
        for check in bench.way.checks
        if check.before is not None and check.before.key == step.part.key and not check.is_waiting
    ]
    return tuple(barring.values()), tuple(hold for hold in here_now if hold.id not in barring)


def _photo(step: RefitStep) -> str | None:
    """How it looked: the photo of the removal, else that of a mark."""
    photos: Iterator[str | None] = iter(
        [step.part.removed.photo if step.part.removed else None, *(mark.photo for mark in step.part.marks)]
    )
    return next(filter(None, photos), None)


def _common(bench: JobNow, refusal: Refusal | None, mode: str, asked: Sequence[str] = ()) -> dict[str, object]:
    """What both faces show."""
    last = last_entry(bench.state)
    names = _names(bench)
    return {
        "here": bench,
        "tab": "bench",
        "mode": mode,
        "last": last,
        "last_words": sentence(bench.state.as_it_counts(last), bench.state.by_id) if last else "",
        "frequent": FREQUENT,
        "rare": RARE,
        "filled": FILLED,
        "names": names,
        "asked": asked,  # what the step itself asks an answer to
        "checks": {check.hold.id: check_words(check) for check in bench.way.checks},
        "stuck": stuck(bench.state),
        "timers_over": [timer for timer in resume(bench).timers if timer.is_over],
        "refusal": refusal,
        "together": together_words(bench, refusal),
        "form": form_maker(refusal, names),
    }


def _names(bench: JobNow) -> dict[str, list[str]]:
    """What is suggested while one types: names that were used here or on another camera of the kind."""
    parts = [part.name for part in bench.state.parts.values()] + [lore.name for lore in bench.lore.parts.values()]
    removed = [part.removed for part in bench.state.parts.values()] + [lore.last for lore in bench.lore.parts.values()]
    return {
        "parts": sorted(set(parts), key=str.casefold),
        "assemblies": sorted({each.assembly for each in removed if each and each.assembly}, key=str.casefold),
        "springs": sorted({entry.spring for entry in bench.state.entries if isinstance(entry, Tension)}),
        "tests": [test.name for test in CATALOGUE],
    }


def face(state: State) -> str:
    """The strip-down, or the refit if that is what went on last."""
    return "refit" if state.is_refitting else "strip"


def which_face(request: Request) -> Response:
    """To what went on last; after a break to where it was left, first."""
    bench = here(request)
    last = bench.state.journal[-1].at if bench.state.journal else bench.now
    where = "resume" if bench.now - last > PAUSE and bench.state.parts else f"bench/{face(bench.state)}"
    return RedirectResponse(f"/jobs/{bench.job.id}/{where}", 303)
