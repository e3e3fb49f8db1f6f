"""What earlier jobs taught, for one job: computed once, kept, and brought up to date by what is new.

Kept are two things. The lesson of each journal holds until something is entered there. What a job learned from all the
others holds until something is entered in one of them; then it is added up from the lessons again.
"""

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Final, TypeVar

from pydantic import TypeAdapter, ValidationError

from camerawright.job.remembered import Remembered
from camerawright.journal.state import fold
from camerawright.refit.learning import Lore, added_up, carried_over
from camerawright.refit.lesson import Lesson, lesson
from camerawright.store.computed import Kept
from camerawright.store.workshop import Workshop
from camerawright.trouble import Damaged, Refused
from camerawright.workshop.rows import Job, Kin

Result = TypeVar("Result")

LESSON: Final = "lesson"
LORE: Final = "lore"
MOST_LORES: Final = 200
"""Jobs whose lore is kept: more than are on the bench at once. A lore of 200 jobs takes some 100 kB."""

_LORES: Remembered[Lore] = Remembered(n_most=256)
_LESSONS: Remembered[Lesson] = Remembered(n_most=2048)


def lore_of(workshop: Workshop, job: Job) -> Lore:
    """What the other jobs of this variant taught, and what those of its sister variants carry over."""
    kin = [each for each in workshop.kin(job.camera) if each.job != job.id]
    name = job.id or job.camera.variant_key
    rests_on = _rests_on(job.camera.variant_key, kin)
    return _LORES.get((workshop.folder, name, rests_on), (), lambda: _lore(workshop, job, kin, name, rests_on))


def _rests_on(variant_key: str, kin: Iterable[Kin]) -> str:
    """All that a lore depends on, as one hash."""
    said = repr((code(), variant_key, [(each.job, each.variant_key, each.variant, each.last_entry) for each in kin]))
    return sha256(said.encode()).hexdigest()


def _lore(workshop: Workshop, job: Job, kin: Sequence[Kin], name: str, rests_on: str) -> Lore:
    """The lore as it was kept, or added up from lessons."""
    kept = workshop.recalled(LORE, [name]).get(name)
    lore = read_back(_lores(), kept, rests_on)
    if lore is None:
        lessons = lessons_of(workshop, kin)
        lore = _added_up(job.camera.variant_key, kin, lessons)
        if len(lessons) == len(kin):  # a journal that cannot be read may be restored
            body = _lores().dump_json(lore, exclude_defaults=True).decode()
            _keep(workshop, LORE, {name: Kept(rests_on=rests_on, body=body)}, most=MOST_LORES)
    return lore


def _added_up(variant_key: str, kin: Iterable[Kin], lessons: Mapping[str, Lesson]) -> Lore:
    own: list[Lesson] = []
    sisters: dict[str, list[Lesson]] = {}
    for each in kin:
        if each.job in lessons:
            of_variant = own if each.variant_key == variant_key else sisters.setdefault(each.variant, [])
            of_variant.append(lessons[each.job])
    lore = added_up(own)
    for sister, theirs in sisters.items():
        lore = carried_over(lore, added_up(theirs), sister)
    return lore


def lessons_of(workshop: Workshop, kin: Sequence[Kin]) -> dict[str, Lesson]:
    """What each journal teaches, by job. One that cannot be read is left out: the page of its own job says so."""
    found = {each.job: _LESSONS.kept((workshop.folder, each.job, each.last_entry)) for each in kin}
    missing = [each for each in kin if found[each.job] is None]
    kept = workshop.recalled(LESSON, [each.job for each in missing]) if missing else {}
    new = {}
    for each in missing:
        rests_on = f"{code()} {each.last_entry}"
        taught = read_back(_lessons(), kept.get(each.job), rests_on)
        if taught is None:
            with suppress(Damaged):
                taught = lesson(each.job, fold(workshop.journal(each.job)))
                new[each.job] = Kept(
                    rests_on=rests_on, body=_lessons().dump_json(taught, exclude_defaults=True).decode()
                )
        if taught is not None:
            _LESSONS.keep((workshop.folder, each.job, each.last_entry), (), taught)
        found[each.job] = taught
    if new:
        _keep(workshop, LESSON, new)
    return {job: taught for job, taught in found.items() if taught is not None}


def read_back(of: TypeAdapter[Result], kept: Kept | None, rests_on: str) -> Result | None:
    """A result as it was kept; None where it rests on something else, or cannot be read."""
    if kept is None or kept.rests_on != rests_on:
        return None
    try:
        return of.validate_json(kept.body)
    except ValidationError:
        return None


def _keep(workshop: Workshop, kind: str, results: Mapping[str, Kept], *, most: int | None = None) -> None:
    """Keep what was computed; where nothing can be written, it is computed again the next time."""
    with suppress(Refused):
        workshop.keep_computed(kind, results, most=most)


@cache
def code() -> str:
    """Which code makes lessons and lore: when and how long its files are."""
    rooms = [Path(__file__).parents[1] / room for room in ("journal", "refit", "wording")]
    files = sorted(file for room in rooms for file in room.rglob("*.py"))
    said = repr([(file.name, file.stat().st_size, file.stat().st_mtime_ns) for file in files])
    return sha256(said.encode()).hexdigest()[:16]


@cache
def _lessons() -> TypeAdapter[Lesson]:
    return TypeAdapter(Lesson)


@cache
def _lores() -> TypeAdapter[Lore]:
    return TypeAdapter(Lore)
