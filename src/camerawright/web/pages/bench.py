"""The bench page: one step, large. Strip-down and refit are two faces of it."""

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Final

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from camerawright.journal.entries import Corrected, Entry, Refitted, Removed, part_key
from camerawright.journal.rules import Known
from camerawright.journal.state import Part, State
from camerawright.refit.learning import PartLore
from camerawright.stages.bench import Bench
from camerawright.stages.refit import RefitStep, refit_steps
from camerawright.web.forms import Refusal, form_maker
from camerawright.web.render import REFUSED, page
from camerawright.web.taking import here
from camerawright.web.words import about, count_of

TRAY_CELLS: Final = tuple(f"{row}{column}" for row, column in product("ABCDEFGHJKLMNPQRSTUVWXYZ", range(1, 7)))
"""The cells of the trays, in the order in which they fill: six a row (common practice), I and O left out."""
N_THEN: Final = 3
"""How many of the coming steps are named."""


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


@dataclass(frozen=True, kw_only=True)
class Counts:
    """What is out, off and in, as the state line has it."""

    screws: int
    shims: int
    parts: int
    aids: int

    @property
    def in_words(self) -> tuple[str, ...]:
        """Each with its noun."""
        return (
            f"{count_of(self.screws, 'screw')} out",
            f"{count_of(self.shims, 'shim')} out",
            f"{count_of(self.parts, 'part')} off",
            f"{count_of(self.aids, 'aid')} in",
        )


def counted(state: State) -> Counts:
    """Add up what is out, off and in."""
    out: Counter[str] = Counter()
    for part in state.parts.values():
        for (kind, _), count in part.out.items():
            out[kind] += count
    return Counts(screws=out["screw"], shims=out["shim"], parts=len(state.off), aids=len(state.aids))


def next_hazard(bench: Bench, names: Sequence[str], others: Iterable[str] = ()) -> NextHazard | None:
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
    """The next cell of the tray: after the last one used where that is free, else the first free one."""
    taken = {part_key(part.removed.cell) for part in state.off if part.removed and part.removed.cell}
    removals = [entry for entry in state.entries if isinstance(entry, Removed) and entry.cell]
    last = removals[-1].cell.upper() if removals and removals[-1].cell else ""
    start = TRAY_CELLS.index(last) + 1 if last in TRAY_CELLS else 0
    in_turn = (*TRAY_CELLS[start:], *TRAY_CELLS[:start])
    return next((cell for cell in in_turn if part_key(cell) not in taken), "")


def last_entry(state: State) -> Entry | None:
    """What an undo takes back: the newest entry that still counts and is no undo itself."""
    for entry in reversed(state.journal):
        is_undo = isinstance(entry, Corrected) and entry.becomes is None
        if not is_undo and entry.id not in state.struck:
            return entry
    return None


def _mark_wanted(part: Part, known: Known) -> str | None:
    """The mark that has to be noted before the part moves, if it is not noted yet."""
    if part.marks:
        return None
    wanted = "; ".join(wish.mark for wish in part.marks_wanted)
    return wanted or known.marks_wanted.get(part.key)


def _to_come_off(bench: Bench) -> tuple[str, ...]:
    """The parts that earlier strip-downs of this variant took off and this one has not yet, in order."""
    touched = {part.key for part in bench.state.parts.values() if part.removed is not None}
    return tuple(bench.lore.parts[key].name for key in bench.lore.order if key not in touched)


def _still_on(bench: Bench) -> Iterator[Part]:
    """The parts that were spoken of and did not come off yet."""
    return (part for part in bench.state.parts.values() if part.removed is None)


def strip_step(bench: Bench, name: str) -> StripStep:
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
    )


def show_strip(request: Request, refusal: Refusal | None = None) -> Response:
    """The strip-down."""
    bench = here(request)
    coming = _to_come_off(bench)
    asked = request.query_params.get("part") or (refusal.typed.get("part") if refusal else None)
    name = (asked or "").strip() or (coming[0] if coming else "")
    then = [each for each in coming if part_key(each) != part_key(name)]
    return page(
        request,
        "bench_strip.html",
        status=REFUSED if refusal else 200,
        step=strip_step(bench, name) if name else None,
        is_expected=bool(coming) and part_key(name) == part_key(coming[0]),
        then=then[:N_THEN],
        hazard=next_hazard(bench, then, [part.name for part in _still_on(bench) if part.key != part_key(name)]),
        cell=free_cell(bench.state),
        under=bench.state.off[-1].name if bench.state.off else "",
        **_common(bench, refusal, "strip"),
    )


def show_refit(request: Request, refusal: Refusal | None = None) -> Response:
    """The refit."""
    bench = here(request)
    steps = refit_steps(bench)
    asked = part_key(request.query_params.get("part") or (refusal.typed.get("part", "") if refusal else ""))
    step = next((each for each in steps if each.part.key == asked), steps[0] if steps else None)
    then = [each for each in steps if each is not step]
    return page(
        request,
        "bench_refit.html",
        status=REFUSED if refusal else 200,
        step=step,
        promises=bench.state.promises_of(step.part.name) if step else (),
        picture=_photo(step) if step else None,
        then=then[:N_THEN],
        ready=[each for each in then if not each.after],
        hazard=next_hazard(bench, [each.part.name for each in then], [each.part.name for each in bench.way.waiting]),
        **_common(bench, refusal, "refit"),
    )


def _photo(step: RefitStep) -> str | None:
    """How it looked: the photo of the removal, else that of a mark."""
    photos: Iterator[str | None] = iter(
        [step.part.removed.photo if step.part.removed else None, *(mark.photo for mark in step.part.marks)]
    )
    return next(filter(None, photos), None)


def _common(bench: Bench, refusal: Refusal | None, mode: str) -> dict[str, object]:
    """What both faces show."""
    by_id = {entry.id: entry for entry in bench.state.journal}
    last = last_entry(bench.state)
    names = [part.name for part in bench.state.parts.values()] + [part.name for part in bench.lore.parts.values()]
    return {
        "here": bench,
        "tab": "bench",
        "mode": mode,
        "counts": counted(bench.state),
        "last": last,
        "last_words": about(last, by_id) if last else "",
        "part_names": sorted(set(names), key=str.casefold),
        "refusal": refusal,
        "form": form_maker(refusal),
    }


def which_face(request: Request) -> Response:
    """To the strip-down, or to the refit if that is what went on last."""
    bench = here(request)
    moves = [entry for entry in bench.state.entries if isinstance(entry, Removed | Refitted)]
    mode = "refit" if moves and isinstance(moves[-1], Refitted) else "strip"
    return RedirectResponse(f"/jobs/{bench.job.id}/bench/{mode}", 303)
