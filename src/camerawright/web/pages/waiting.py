"""The recordings of a job that wait: their marks proposed, asked about, confirmed; and how far measuring has come."""

from dataclasses import dataclass
from typing import Any, Final

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response

from camerawright.bench import record
from camerawright.bench.catalogue import BY_NAME, CATALOGUE, find_test
from camerawright.job.entering import NotAllowed
from camerawright.job.now import JobNow
from camerawright.readings.rows import dial_time
from camerawright.readings.set_up import Label
from camerawright.readings.waiting import Waiting, far_words, proposed
from camerawright.trouble import NotUnderstood, Refused, Trouble
from camerawright.web.desk import desk_of, phase_called
from camerawright.web.forms import Form, Refusal, Typed
from camerawright.web.set_up import MARKED, WORDS, field_errors, field_of, typed_set_up
from camerawright.web.taking import here
from camerawright.web.uploads import MB, posted, texts
from camerawright.wording import numbers

SETTLE_S: Final = 1.5
"""A short recording is measured before the page answers."""


@dataclass(frozen=True, kw_only=True)
class Row:
    """A waiting recording as the page shows it."""

    waiting: Waiting
    title: str
    form: Form
    fired: str  # what was found in it, in words
    proposal: str
    questions: tuple[str, ...]
    troubles: tuple[Trouble, ...]
    tests: tuple[tuple[str, str], ...]  # by which it could be measured
    asks_mark: bool
    has_waveform: bool
    can_overrule: bool  # whether a stated reason would let it in


def rows_of(request: Request, at: JobNow) -> tuple[Row, ...]:
    """Every recording of a job that waits."""
    desk = desk_of(request)
    desk.recover()
    dial = tuple(dict.fromkeys(each.marked for each in at.state.measured))
    return tuple(_row(each, dial) for each in desk.inbox.of(at.job.id))


def _row(waiting: Waiting, dial: tuple[str, ...]) -> Row:
    label, result, test = waiting.label, waiting.result, find_test(waiting.label.test)
    proposal = proposed(result.to_be_marked, dial) if result and result.speeds else ""
    errors, troubles = _troubles(waiting)
    typed = {
        "test": label.test,
        "phase": label.phase,
        MARKED: (proposal if waiting.status == "asked" else label.marked) or proposal or label.marked or "",
        WORDS: label.words or "",
        **{field_of(label.test, name): text for name, text in label.options.items()},
    }
    name = f"waiting-{waiting.path.stem}"
    return Row(
        waiting=waiting,
        title=test.title,
        form=Form(name=name, refusal=Refusal(form=name, typed=typed, errors=errors)),
        fired=_fired(waiting),
        proposal=proposal,
        questions=tuple(_questions(waiting)),
        troubles=troubles,
        tests=tuple((each.name, each.title) for each in CATALOGUE),
        asks_mark=test.marked is not None and (waiting.status != "refused" or MARKED in errors),
        has_waveform=test.medium.kind == "sound",
        can_overrule=bool(result and isinstance(result.why_not, NotAllowed) and result.why_not.can_overrule),
    )


def _troubles(waiting: Waiting) -> tuple[dict[str, str], tuple[Trouble, ...]]:
    """Why it became no reading: at the field it was typed in, or as a whole."""
    result = waiting.result
    if result is None:
        return {}, ()
    if isinstance(result.why_not, NotUnderstood):
        return field_errors(waiting.label.test, result.why_not, waiting.label.marked), ()
    if result.why_not is not None:
        return {}, result.why_not.troubles
    if result.record is not None and result.record.refused is not None:
        return {}, (trouble_of_refusal(result.record.refused),)
    return {}, ()


def _fired(waiting: Waiting) -> str:
    """How many firings of how many speeds were found, and about which."""
    speeds = [one for one in (waiting.result.speeds if waiting.result else ()) if one.effective]
    n = sum(len(one.i_firings) for one in speeds)
    if not n:
        return ""
    times = " and ".join(dial_time(one.effective.value) for one in speeds if one.effective)
    several = f" of {len(speeds)} speeds" if len(speeds) > 1 else ""
    return f"{numbers.counted(n, 'firing')}{several}, about {times}."


def _questions(waiting: Waiting) -> list[str]:
    """What is asked before a mark is entered that the firings are far from."""
    result = waiting.result
    if result is None or waiting.status != "asked":
        return []
    return [f"{far_words(one)}. Is the mark right?" for one in result.far_off]


def trouble_of_refusal(refused: record.Refusal, more: str = "") -> Trouble:
    """Why a test could not measure a recording, with its advice, and what became of the recording."""
    mend = refused.advice.rstrip(". ")
    return Trouble(what=refused.reason.rstrip(". "), mend=f"{mend}; {more}" if more else mend)


def state(request: Request) -> Response:
    """How far each recording has come, and how many readings there are, for the page that waits."""
    at, inbox = here(request), desk_of(request).inbox
    told: dict[str, Any] = {
        "n_readings": len(at.state.measured),
        "waiting": [{"file": each.path.name, "status": each.status, "part": each.part} for each in inbox.of(at.job.id)],
    }
    return JSONResponse(told, headers={"Cache-Control": "no-store"})


async def take(request: Request) -> Response:
    """Enter a recording with the mark that was confirmed, measure it again, or throw it away."""
    async with posted(request, max_bytes=MB) as form:
        return await run_in_threadpool(_take, request, texts(form))


def _take(request: Request, typed: Typed) -> Response:
    job_id, inbox = here(request).job.id, desk_of(request).inbox
    name, act = typed.get("file", ""), typed.get("act", "")
    to = f"/jobs/{job_id}/measure"
    try:
        if act == "throw away":
            inbox.throw_away(job_id, name)
        else:
            path, label = inbox.called(job_id, name)
            inbox.relabel(path, _told_again(label, typed, act))
    except Refused:  # another press of the button was faster
        return RedirectResponse(f"{to}#readings", 303)
    inbox.settle(job_id, SETTLE_S)
    entry = inbox.entry_of(name)
    return RedirectResponse(f"{to}#{f'r-{entry}' if entry else 'waiting' if inbox.of(job_id) else 'readings'}", 303)


def _told_again(label: Label, typed: Typed, act: str) -> Label:
    """A label as its form tells it by now. A mark is sure only if it is the one that was asked about."""
    test = BY_NAME.get(typed.get("test", ""), find_test(label.test))
    told = typed_set_up(typed, test)
    marked = typed.get(MARKED, "").strip() or None
    return Label(
        job=label.job,
        test=test.name,
        phase=phase_called(typed.get("phase", "")) or label.phase,
        marked=marked,
        options=dict(told.options),
        input=told.input or label.input,
        words=told.words,
        file=label.file,
        is_confirmed=act in {"enter", "sure"},
        is_sure=act == "sure" and marked == label.marked,
        overruled=typed.get("overruled", "").strip() or None,
    )
