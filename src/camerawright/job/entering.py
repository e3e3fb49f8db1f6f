"""Put an entry into a job's journal, or refuse it with every reason; take one back."""

from datetime import UTC, datetime, timedelta

from camerawright.job.now import JobNow, computed, job_now
from camerawright.journal.clock import CLOCK_SLACK
from camerawright.journal.entries import Corrected, Entry
from camerawright.journal.replay import with_dependants
from camerawright.journal.rules import judged_again, standing, troubles
from camerawright.journal.state import State, fold
from camerawright.store.workshop import Workshop
from camerawright.trouble import Trouble, Troubled


class NotAllowed(Troubled):
    """An entry was refused; `troubles` are all its reasons."""

    def __init__(self, troubles: tuple[Trouble, ...]) -> None:
        super().__init__(troubles[0].what, troubles[0].mend)
        self.troubles = troubles

    @property
    def can_overrule(self) -> bool:
        """Whether a stated reason would let the entry through."""
        return all(trouble.can_overrule for trouble in self.troubles)


def enter(
    workshop: Workshop, job_id: str, entry: Entry, *, now: datetime | None = None, before: JobNow | None = None
) -> JobNow:
    """Put an entry into the journal, if nothing stands against it, and say where the job stands then.

    Parameters
    ----------
    entry
        Durable before this returns. An entry that is there already changes nothing.
    now
        The clock; for records that are made after the fact.
    before
        The job as it was just looked at. If something was entered since, the entry is refused.

    Raises
    ------
    NotAllowed
        With every reason at once. If all can be overruled, the entry goes through when it carries `overruled`.
    """
    before = before or job_now(workshop, job_id, now=now or datetime.now(UTC))
    put = put_in(workshop, before, entry)
    if put is None:
        return before
    state = fold((*before.state.journal, put))
    return computed(before.job, state, before.lore, before.now, before.known.n_waiting)


def put_in(workshop: Workshop, before: JobNow, entry: Entry) -> Entry | None:
    """Put an entry into the journal of a job that was just looked at; None if it is there already.

    Raises
    ------
    NotAllowed
        As `enter`.
    camerawright.trouble.Stale
        Something was entered since.
    """
    if any(entry == old for old in before.state.journal):
        return None
    if entry.clock is None and entry.at > before.now + CLOCK_SLACK:  # a clock ran ahead, and was set right
        entry = entry.model_copy(update={"clock": before.now})
    found = troubles(before.state, entry, now=before.now, known=before.known)
    against = (*workshop.not_kept((entry,)), *standing(found, entry))
    if against:
        raise NotAllowed(against)
    workshop.append(before.job.id, entry, expected=len(before.state.journal))
    return entry


def moment_after(here: JobNow, *, now: datetime | None = None) -> datetime:
    """Now, or just after the last entry if the clock was set back: the order of a journal is its times."""
    clock = now or datetime.now(UTC)
    last = max((entry.at for entry in here.state.journal), default=clock - timedelta(seconds=1))
    return max(clock, last + timedelta(microseconds=1))


def undo(
    workshop: Workshop,
    job_id: str,
    *,
    entry_id: str | None = None,
    reason: str | None = None,
    overruled: str | None = None,
    together: bool = False,
) -> tuple[tuple[Entry, ...], JobNow]:
    """Strike out an entry, the last that still counts if none is named, and say what was struck out.

    An undo is itself an entry: naming it brings back what it struck out.

    Parameters
    ----------
    overruled
        The reason to undo it although something later rests on it.
    together
        Whether to undo all that rests on it too, the newest first.

    Raises
    ------
    NotAllowed
        If there is nothing to undo, or undoing it would take the ground from something later.
    """
    here = job_now(workshop, job_id)
    target = to_undo(here.state, entry_id)
    struck = undone_with(here, target) if together else (target,)
    for entry in struck:
        correction = Corrected(at=moment_after(here), entry=entry.id, reason=reason, overruled=overruled)
        here = enter(workshop, job_id, correction)
    return struck, here


def undone_with(here: JobNow, entry: Entry) -> tuple[Entry, ...]:
    """An entry and all that rests on it, the newest first: what is undone together."""
    return with_dependants(here.state, entry, here.known, judged_again)


def to_undo(state: State, entry_id: str | None) -> Entry:
    """The named entry, or the newest that is neither struck out nor a mere undo."""
    for entry in reversed(state.journal):
        is_undo = isinstance(entry, Corrected) and entry.becomes is None
        if entry.id.startswith(entry_id) if entry_id else not is_undo and entry.id not in state.struck:
            return entry
    what = f"no entry begins with {entry_id}" if entry_id else "there is nothing left to undo"
    raise NotAllowed((Trouble(what=what, mend="list the journal for its entries"),))


def promise_called(here: JobNow, prefix: str) -> str:
    """The id of the one open promise that begins so, or whose words hold the text.

    Raises
    ------
    NotAllowed
        If none or more than one fits.
    """
    fits = [
        owed
        for owed in here.owed
        if owed.entry
        and prefix.strip()
        and (owed.entry.startswith(prefix.casefold()) or prefix.casefold() in owed.what.casefold())
    ]
    if len(fits) == 1 and fits[0].entry:
        return fits[0].entry
    listed = "; ".join(f"{owed.entry[:8]} {owed.part}: {owed.what}" for owed in (fits or here.owed) if owed.entry)
    what = f"{len(fits)} things owed fit “{prefix}”" if fits else f"nothing owed fits “{prefix}”"
    raise NotAllowed((Trouble(what=what, mend=f"owed now: {listed or 'nothing'}"),))
