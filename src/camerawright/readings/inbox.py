"""Recordings in, sent or recorded: measured in the background, and entered once nothing about them is in question."""

import logging
import re
import shutil
import threading
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any, BinaryIO, Final
from uuid import uuid4

from camerawright.bench import codec
from camerawright.bench.record import Record
from camerawright.job.now import job_now
from camerawright.readings.measuring import entered, refuse_again, sha256_of, tried
from camerawright.readings.set_up import Label
from camerawright.readings.waiting import Followed, Result, Waiting, label_of
from camerawright.recordings.disk import make_folder, private
from camerawright.recordings.kept import PART, WAITING, remove, setup_of, waiting, write_setup
from camerawright.store.workshop import Workshop
from camerawright.trouble import Refused, Stale, Troubled

_KEPT: Final = ("rate_hz", "channels", "bits", "duration_s", "flags", "is_recovered")
"""What of a live recording's set-up is kept with its reading."""
_SUFFIX: Final = re.compile(r"\.(?!json$)[a-z0-9]{1,8}")
"""What is told about a recording stands beside it as JSON."""
_TRIES: Final = 5
_GONE: Final = OSError, KeyError, TypeError, ValueError
"""What reading about a recording raises that was entered or thrown away this moment."""
_LOG: Final = logging.getLogger(__name__)


class Inbox:
    """The recordings of a workshop that wait; a thread of its own measures them. Any thread may call it."""

    def __init__(self, workshop: Workshop) -> None:
        self.folder = workshop.folder / WAITING
        self._workshop = workshop
        self._changed = threading.Condition()
        self._queue: list[Path] = []
        self._at: Path | None = None
        self._followed: Followed | None = None
        self._results: dict[Path, Result] = {}
        self._entered: dict[str, str] = {}
        self._thread: threading.Thread | None = None

    def put(self, data: BinaryIO, suffix: str, label: Label) -> None:
        """Take a recording in and measure it; one that waits in its job already is not taken twice.

        Raises
        ------
        Refused
            It cannot be written.
        """
        make_folder(self.folder)
        kept = suffix if _SUFFIX.fullmatch(suffix) else ""
        part = self.folder / f"{PART}{uuid4().hex}{kept}"
        path = self.folder / f"sent-{uuid4().hex[:12]}{kept}"
        try:
            with open(part, "xb", opener=private) as out:
                shutil.copyfileobj(data, out)
            if self._is_here(part, label.job):
                return
            write_setup(path, codec.written(label))
            part.replace(path)
        except OSError as error:
            raise Refused(error.strerror or str(error), "free some space, and send it again", label.file) from None
        finally:
            part.unlink(missing_ok=True)
        self._measure(path)

    def relabel(self, path: Path, label: Label) -> None:
        """Measure a recording of the folder by what is told about it now."""
        write_setup(path, {**setup_of(path), **codec.written(label)})
        self._measure(path)

    def of(self, job_id: str) -> tuple[Waiting, ...]:
        """The recordings of a job that wait, the oldest first. What was not measured yet is, from now on."""
        found = []
        for path in self._paths(job_id):
            with self._changed:
                is_busy = path in self._queue or path == self._at
                result = None if is_busy else self._results.get(path)
                part = self._followed.part if self._followed and path == self._at else None
            try:
                label, at_s = label_of(path), path.stat().st_mtime
            except _GONE:
                continue
            if result is None and not is_busy:
                self._measure(path)
            at = datetime.fromtimestamp(at_s).astimezone()
            found.append(Waiting(path=path, label=label, at=at, result=result, part=part))
        return tuple(sorted(found, key=lambda each: (each.at, each.path)))

    def called(self, job_id: str, name: str) -> tuple[Path, Label]:
        """One of them by its file name, and what is told about it.

        Raises
        ------
        Refused
            There is none of that name.
        """
        for path in self._paths(job_id):
            if path.name == name:
                with suppress(*_GONE):
                    return path, label_of(path)
        raise Refused("it does not wait to be measured", "look at the readings of the job", f"the recording {name}")

    def throw_away(self, job_id: str, name: str) -> None:
        """Remove a recording whose reading was not entered. Raises as `called`."""
        path, _ = self.called(job_id, name)
        with self._changed:
            self._results.pop(path, None)
            self._queue = [each for each in self._queue if each != path]
        remove(path)

    def settle(self, job_id: str, at_most_s: float) -> bool:
        """Wait until the recordings of a job are measured, but not for long; whether they are."""
        paths = set(self._paths(job_id))
        with self._changed:
            return self._changed.wait_for(lambda: not paths & {*self._queue, self._at}, at_most_s)

    def entry_of(self, name: str) -> str | None:
        """The reading that a recording became, by its file name."""
        return self._entered.get(name)

    def _paths(self, job_id: str) -> list[Path]:
        """Those of a job."""
        return waiting(self.folder, job_id)

    def _is_here(self, sent: Path, job_id: str) -> bool:
        """Whether the very same recording waits in a job."""
        like = [path for path in self._paths(job_id) if path.stat().st_size == sent.stat().st_size]
        return bool(like) and sha256_of(sent) in {sha256_of(path) for path in like}

    def _measure(self, path: Path) -> None:
        with self._changed:
            if path not in self._queue:
                self._queue.append(path)
            if self._thread is None:
                self._thread = threading.Thread(target=self._work, name="inbox", daemon=True)
                self._thread.start()
            self._changed.notify_all()

    def _work(self) -> None:
        """The thread that measures."""
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._queue)
                path = self._at = self._queue.pop(0)
                known = self._results.pop(path, None)
            result = self._result(path, known)
            with self._changed:
                self._at = self._followed = None
                if result is not None and path.exists():
                    self._results[path] = result
                self._changed.notify_all()

    def _result(self, path: Path, known: Result | None) -> Result | None:
        """What measuring gave; None where the reading was entered, or the recording was thrown away meanwhile."""
        try:
            return self._measured(path, label_of(path), known)
        except Exception as why:
            if not path.exists():
                return None
            if not isinstance(why, Troubled):
                _LOG.exception("a recording could not be measured")
                why = Refused("the program made a mistake here", "tell more about it, and measure it again")
            return Result(label=label_of(path), why_not=why)

    def _measured(self, path: Path, label: Label, known: Result | None) -> Result | None:
        refuse_again(job_now(self._workshop, label.job), path, label)
        record = known.record if known and known.label.measures_as(label) else None
        if record is None:
            record = tried(self._workshop, path, label, follow=self._follow)
        result = Result(label=label, record=record)
        if record.refused is not None or not result.may_be_entered:
            return result
        self._entered[path.name] = self._enter(path, label, record)
        remove(path)
        return None

    def _enter(self, path: Path, label: Label, record: Record) -> str:
        """Enter a reading in the journal as it is by now: measuring may have taken long; the entry's id."""
        recorded = setup_of(path)
        live = {key: recorded[key] for key in _KEPT if key in recorded}
        more = {"recorded": live} if live else {}
        for n_left in reversed(range(_TRIES)):
            here = job_now(self._workshop, label.job)
            refuse_again(here, path, label)
            try:
                here = entered(self._workshop, here, path, record, label, more=more)
            except Stale:  # another entry was faster
                if not n_left:
                    raise
            else:
                break
        return here.state.measured[-1].id

    def _follow(self, recording: Any) -> Any:
        """The same recording; a sound tells how far it is read."""
        if not hasattr(recording, "stretch"):
            return recording
        self._followed = Followed(recording)
        return self._followed
