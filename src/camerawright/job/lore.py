"""What earlier jobs taught, for one job: computed once, kept, and brought up to date by what is new.

Kept are two things. The lesson of each journal holds until something is entered there. What a job learned from all the
others holds until something is entered in one of them; then it is added up from the lessons again.
"""

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cache
from hashlib import sha256
from operator import is_
from pathlib import Path
from typing import Final, TypeVar

from pydantic import TypeAdapter, ValidationError

from camerawright.job.remembered import Remembered
from camerawright.job.states import state_of
from camerawright.refit.learning import Lore, added_up, carried_over
from camerawright.refit.lesson import Lesson, lesson, with_known
from camerawright.store.computed import Kept
from camerawright.store.workshop import Workshop
from camerawright.trouble import Damaged, Refused
from camerawright.workshop.rows import Job, Kin

Result = TypeVar("Result")

LESSON: Final = "lesson"
LORE: Final = "lore"
MOST_LORES: Final = 200
"""Jobs whose lore is kept: more than are on the bench at once. A lore of 200 jobs takes some 100 kB."""


@dataclass(frozen=True, kw_only=True)
class _Taught:
    """A lesson, and the number of the entry up to which it was drawn."""

    last_entry: int
    lesson: Lesson


@dataclass(frozen=True, kw_only=True)
class _Learned:
    """A lore, what it rests on, and the lessons that it was added up from; none where it was kept on the disk."""

    rests_on: str
    lore: Lore
    lessons: tuple[Lesson, ...] = ()


_LESSONS: Remembered[_Taught] = Remembered(n_most=4096)
_LORES: Remembered[_Learned] = Remembered(n_most=256)


def lore_of(workshop: Workshop, job: Job) -> Lore:
    """What the other jobs of this variant taught, and what those of its sister variants carry over.

    Notes
    -----
    Kept on the disk is what this process did not know before. What changes while it runs it keeps to itself: where
    many write at once, nobody waits for the disk because of that.
    """
    kin = [each for each in workshop.kin(job.camera) if each.job != job.id]
    if not kin:
        return added_up(())
    name = (workshop.folder, job.id or job.camera.variant_key)
    rests_on = _rests_on(job.camera.variant_key, kin)
    known = _LORES.kept(name)
    if known is None or known.rests_on != rests_on:
        known = _learned(workshop, job, kin, rests_on, known)
        _LORES.keep(name, (), known)
    return known.lore


def _rests_on(variant_key: str, kin: Iterable[Kin]) -> str:
    """All that a lore depends on, as one hash."""
    said = repr((code(), variant_key, [(each.job, each.variant_key, each.variant, each.last_entry) for each in kin]))
    return sha256(said.encode()).hexdigest()


def _learned(workshop: Workshop, job: Job, kin: Sequence[Kin], rests_on: str, known: _Learned | None) -> _Learned:
    """The lore as it was kept, or added up again if a lesson is another one now."""
    name = job.id or job.camera.variant_key
    kept = None if known else read_back(_lores(), workshop.recalled(LORE, [name]).get(name), rests_on)
    if kept is not None:
        return _Learned(rests_on=rests_on, lore=kept)
    lessons = lessons_of(workshop, kin)
    every = tuple(lessons.values())
    if known and every and len(every) == len(known.lessons) and all(map(is_, every, known.lessons)):
        return replace(known, rests_on=rests_on)
    lore = _added_up(job.camera.variant_key, kin, lessons)
    if known is None and len(lessons) == len(kin):  # a journal that cannot be read may be restored
        body = _lores().dump_json(lore, exclude_defaults=True).decode()
        _keep(workshop, LORE, {name: Kept(rests_on=rests_on, body=body)}, most=MOST_LORES)
    return _Learned(rests_on=rests_on, lore=lore, lessons=every)


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
    """What each journal teaches, by job. One that cannot be read is left out: the page of its own job says so.

    A lesson that something entered since did not change is the same object.
    """
    known = {each.job: _LESSONS.kept((workshop.folder, each.job)) for each in kin}
    new = [each for each in kin if known[each.job] is None]
    kept = workshop.recalled(LESSON, [each.job for each in new]) if new else {}
    found, to_keep = {}, {}
    for each in kin:
        before = known[each.job]
        if before and before.last_entry == each.last_entry:
            found[each.job] = before.lesson
            continue
        rests_on = f"{code()} {each.last_entry}"
        taught = read_back(_lessons(), kept.get(each.job), rests_on)
        if taught is None:
            try:
                taught = lesson(each.job, state_of(workshop, each.job))
            except Damaged:
                continue
            if before is None:
                body = _lessons().dump_json(taught, exclude_defaults=True).decode()
                to_keep[each.job] = Kept(rests_on=rests_on, body=body)
        found[each.job] = with_known(taught, before.lesson) if before else taught
        taught_now = _Taught(last_entry=each.last_entry, lesson=found[each.job])
        _LESSONS.keep((workshop.folder, each.job), (), taught_now)
    if to_keep:
        _keep(workshop, LESSON, to_keep)
    return found


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
