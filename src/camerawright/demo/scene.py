"""One camera at a time through the job: short words for what a repairer enters, each through the rules."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from camerawright.job.entering import NotAllowed, enter, promise_called
from camerawright.job.now import JobNow, job_now
from camerawright.journal import entries as e
from camerawright.journal.fastener_text import fastener
from camerawright.journal.kinds.strip_down import Torque
from camerawright.journal.shim_text import shim
from camerawright.store.workshop import Workshop
from camerawright.workshop.rows import Job


class Scene:
    """A job, and a clock that moves on with every entry."""

    def __init__(self, workshop: Workshop, job: Job, start: datetime, *, by: str) -> None:
        self.workshop = workshop
        self.job = job
        self.now = start
        self.by = by

    @property
    def job_now(self) -> JobNow:
        """The job as it lies on the bench."""
        return job_now(self.workshop, self.job.id)

    def after(self, *, minutes: float = 0, days: int = 0) -> "Scene":
        """Let time pass."""
        self.now += timedelta(minutes=minutes, days=days)
        return self

    def enter(self, entry: e.Entry, *, minutes: float = 2.5) -> JobNow:
        """Enter it now, then move the clock on; a part that nobody has named before counts as new."""
        try:
            here = enter(self.workshop, self.job.id, entry, now=self.now)
        except NotAllowed as asked:
            if not any(trouble.unknown for trouble in asked.troubles):
                raise
            here = enter(self.workshop, self.job.id, entry.model_copy(update={"is_new": True}), now=self.now)
        self.after(minutes=minutes)
        return here

    def remove(  # noqa: PLR0913 a removal has as many sides
        self,
        part: str,
        *,
        screws: tuple[str, ...] = (),
        shims: tuple[str, ...] = (),
        under: tuple[str, ...] = (),
        cell: str | None = None,
        made_of: tuple[str | None, str | None] = (None, None),
        soil: tuple[str, ...] = (),
        place: str | None = None,
        torque: Torque | None = None,
        loose: tuple[str, ...] = (),
        minutes: float = 2.5,
        **more: bool | str,
    ) -> JobNow:
        """A part comes off. `made_of` is material and finish."""
        entry = e.Removed.model_validate(
            {
                "at": self.now,
                "by": self.by,
                "part": part,
                "fasteners": tuple(fastener(text) for text in screws),
                "shims": tuple(shim(text) for text in shims),
                "loose": tuple({"what": what} for what in loose),
                "under": under,
                "cell": cell,
                "material": made_of[0],
                "finish": made_of[1],
                "soil": soil,
                "place": place,
                "torque": torque,
                **more,
            }
        )
        return self.enter(entry, minutes=minutes)

    def refit(self, part: str, **more: str) -> JobNow:
        """A part goes back with everything that came out of it."""
        removed = self.job_now.state.part(part).removed
        if removed is None:
            raise ValueError(f"the scene refits {part}, which never came off")
        entry = e.Refitted.model_validate(
            {
                "at": self.now,
                "by": self.by,
                "part": part,
                "fasteners": removed.fasteners,
                "shims": removed.shims,
                "loose": removed.loose,
                **more,
            }
        )
        return self.enter(entry, minutes=3)

    def say(self, kind: str, **fields: object) -> JobNow:
        """Any other entry, by its kind."""
        entry = e.ENTRY.validate_python({"kind": kind, "at": self.now, "by": self.by, **fields})
        return self.enter(entry, minutes=1)

    def answer(self, which: str, answer: str, *, outcome: str | None = None) -> JobNow:
        """Answer the one thing owed whose words hold `which`."""
        return self.say("answered", entry=promise_called(self.job_now, which), answer=answer, outcome=outcome)

    def set(self, settings: Mapping[str, str]) -> JobNow:
        """The machine's state as far as it changed."""
        return self.say("set", settings=dict(settings))
