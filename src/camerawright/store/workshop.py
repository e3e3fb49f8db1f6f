"""The workshop folder: where it is, how it comes about, and all that is done with it."""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Self

from camerawright.recordings.disk import make_folder
from camerawright.store import computed, directory, glances, intake, media, seals, terms
from camerawright.store import journal as journals
from camerawright.store.columns import value
from camerawright.store.database import FILE_NAME as DATABASE
from camerawright.store.database import Database, DiskFull, is_read_only
from camerawright.store.folder import MEDIA, PROFILES, check_folder, keep_private, lay_out
from camerawright.store.tables import REVISIONS
from camerawright.trouble import Damaged, Refused, Trouble
from camerawright.workshop.rows import Camera, Glance, Job, Kin, Names, Owner, Terms, Variant, Visit

if TYPE_CHECKING:  # loaded where they are used: most commands read no entry or check nothing
    from camerawright.journal.entries import Entry
    from camerawright.store.check import Checked


def default_folder() -> Path:
    """Where the workshop is unless another folder is named: the platform's place for a user's data."""
    from platformdirs import user_data_path  # noqa: PLC0415  (needed only where no folder is named)

    return user_data_path("camerawright", appauthor=False)


def create_workshop(folder: Path) -> "Workshop":
    """Make a workshop in a new or empty folder; where there is one already, complete and open it.

    Raises
    ------
    Refused
        The folder holds something else, may not be written, or was written by a newer program.
    """
    try:
        lay_out(folder)
    except OSError as error:
        raise media.told(error, folder) from error
    return open_workshop(folder)


def open_workshop(folder: Path, *, to_read: bool = False) -> "Workshop":
    """Open a workshop that exists, and bring an older one up to date.

    One that lies where nothing can be written, as a backup on a disc or on a disk that is full, is opened to be read.

    Parameters
    ----------
    to_read
        Whether to leave everything in the folder as it is.

    Raises
    ------
    Refused
        There is none, it is not ours, it may not be read or written, or a newer program wrote it.
    """
    database = folder / DATABASE
    try:
        if folder.exists():
            check_folder(folder)
        if not database.exists():
            raise Refused("there is no workshop", "make one there first, or name another folder", str(folder))
        if not database.stat().st_size:
            raise Refused("it is empty", "restore a backup", str(database))
        if to_read or is_read_only(database):
            return _opened_to_read(folder)
        make_folder(folder / MEDIA)
        media.sweep(folder / MEDIA)
    except OSError as error:
        raise media.told(error, folder) from error
    opened = Workshop(folder, Database(database))
    try:
        opened.bring_up_to_date()
    except DiskFull:
        opened.close()
        return _opened_to_read(folder, is_full=True)
    except BaseException:
        opened.close()
        raise
    return opened


def _opened_to_read(folder: Path, *, is_full: bool = False) -> "Workshop":
    """A workshop of which nothing is written; an older one is brought up to date in a copy."""
    database = Database(folder / DATABASE, is_read_only=True, is_full=is_full)
    try:
        is_of_today = database.revision() == REVISIONS[-1]
    except BaseException:
        database.close()
        raise
    if is_of_today:
        return Workshop(folder, database)
    from tempfile import TemporaryDirectory  # noqa: PLC0415  (seldom needed)

    aside = TemporaryDirectory(prefix="camerawright-", ignore_cleanup_errors=True)
    copy = Path(aside.name) / DATABASE
    try:
        database.copy_to(copy)
        with closing(Database(copy, copy_of=folder / DATABASE)) as older:
            older.upgrade()
    except BaseException:
        aside.cleanup()
        raise
    finally:
        database.close()
    read_only = Database(copy, is_read_only=True, is_full=is_full, copy_of=folder / DATABASE)
    return Workshop(folder, read_only, aside.cleanup)


class Workshop:
    """An open workshop folder; any number of threads may use it, and other processes beside it.

    Every method raises `Refused` where the disk is full, the folder may not be written, or another program keeps it
    locked; then nothing was written. What a method returned is on the disk.
    """

    def __init__(self, folder: Path, database: Database, when_closed: Callable[[], None] = lambda: None) -> None:
        self.folder = folder
        self._database = database
        self._when_closed = when_closed
        self._journals = journals.Journals()
        self._lately: tuple[int, dict[str, int]] | None = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the files."""
        self._database.close()
        self._when_closed()

    def bring_up_to_date(self) -> None:
        """Bring the tables of an older program up to date, and seal the files of a workshop that has no seals yet."""
        if self._database.upgrade():
            from camerawright.store import check  # noqa: PLC0415  (seldom needed)

            keep_private(self.folder)
            with self._database.writing() as connection:
                check.seal_files(connection, self.folder, self._editable())

    def take_in(
        self, owner: Owner, camera: Camera, visit: Visit, *, form: str | None = None, seen: Sequence[Job] | None = None
    ) -> Job:
        """A new job: "J1", "J2" and so on. A known camera is found again by maker, model and serial.

        Case and spacing do not matter. A variant or apertures given now correct those known; none given leaves them.
        A camera without any has the apertures of the last camera of its variant.

        Parameters
        ----------
        form
            The id of the form that told it: sent twice, whichever programs take it, it makes one job.
        seen
            The jobs of this camera that the caller knows of, where it asked about them.

        Raises
        ------
        Refused
            The owner's name, or the camera's maker, model or serial is blank; or the form told something else before.
        Stale
            The camera has other jobs by now than those that were `seen`.
        """
        with self._database.writing() as connection:
            return directory.take_in(connection, owner, camera, visit, form, seen)

    def correct_intake(self, job_id: str, owner: Owner, camera: Camera) -> Job:
        """Give a job another owner or camera than was told when it was taken in; other jobs keep theirs."""
        with self._database.writing() as connection:
            return intake.corrected(connection, directory.number(connection, job_id), owner, camera)

    def take_back(self, job_id: str) -> None:
        """Forget a job that was taken in by mistake, if nothing was entered for it.

        Raises
        ------
        Refused
            Something was entered.
        """
        with self._database.writing() as connection:
            intake.take_back(connection, directory.number(connection, job_id))

    def alike(self, camera: Camera, *, most: int = 3) -> tuple[Camera, ...]:
        """Cameras that this one may be, by a slip in maker, model or serial number; none if it is known as it is."""
        with self._database.reading() as connection:
            return tuple(intake.alike(connection, camera, most=most))

    def of_form(self, form: str) -> Job | None:
        """The job that came of a form; None where it was not sent yet."""
        with self._database.reading() as connection:
            return directory.of_form(connection, form) if form else None

    def set_apertures(self, job_id: str, f_numbers: Sequence[float]) -> None:
        """Enter the apertures engraved on the lens of a job's camera, the widest first; none takes them away."""
        with self._database.writing() as connection:
            directory.set_apertures(connection, directory.number(connection, job_id), f_numbers)

    def job(self, job_id: str) -> Job:
        """The job of that id; "J3", "j3" and "3" are the same.

        Raises
        ------
        Refused
            There is none; those near it are named.
        """
        with self._database.reading() as connection:
            return directory.jobs_numbered(connection, [directory.number(connection, job_id)])[0]

    def jobs(self) -> tuple[Job, ...]:
        """All jobs, the newest first."""
        with self._database.reading() as connection:
            return directory.jobs(connection)[::-1]

    def without_a_glance(self, now: datetime, *, most: int | None) -> tuple[Job, ...]:
        """Jobs of which no list knows where they stand now, the newest first."""
        with self._database.reading() as connection:
            return glances.missing(connection, now, most=most)

    def keep_glances(self, found: Iterable[tuple[str, int, Glance]]) -> None:
        """Keep where jobs stand: each job's id, how many entries it was computed from, and the glance.

        Where more was entered meanwhile, nothing is kept.
        """
        with self._database.writing() as connection:
            glances.put(connection, found)

    def n_jobs(self, *, is_done: bool, words: str = "") -> int:
        """How many jobs are on the bench, or done; of those whose camera or owner has all those words in its name."""
        with self._database.reading() as connection:
            return glances.count(connection, is_done=is_done, words=words)

    def listed(
        self, *, is_done: bool, first: int = 0, most: int | None = None, words: str = ""
    ) -> tuple[tuple[Job, Glance], ...]:
        """Some of these jobs with where they stand: on the bench what was worked on last first, else the newest."""
        with self._database.reading() as connection:
            return glances.page(connection, is_done=is_done, first=first, most=most, words=words)

    def lately_read(self) -> dict[str, int]:
        """The jobs of the newest readings of the workshop, the newest first, each with its last entry's number."""
        with self._database.reading() as connection:
            newest = value(connection, "SELECT max(n) FROM entry") or 0
            if self._lately is None or self._lately[0] != newest:  # a page asks more than once
                self._lately = (newest, directory.lately_read(connection))
            return self._lately[1]

    def names(self) -> Names:
        """The names of owners and cameras that were given before."""
        with self._database.reading() as connection:
            return directory.names(connection)

    def visits(self, camera: Camera) -> tuple[Job, ...]:
        """The jobs of one camera, the oldest first."""
        with self._database.reading() as connection:
            return directory.jobs(connection, directory.IS_CAMERA, directory.keys(camera))

    def jobs_of_variant(self, variant_key: str) -> tuple[Job, ...]:
        """The jobs of all cameras of one variant (`Camera.variant_key`), the oldest first."""
        with self._database.reading() as connection:
            return directory.jobs(connection, "variant_key = :variant", {"variant": variant_key})

    def n_variants(self) -> int:
        """How many variants have been here."""
        with self._database.reading() as connection:
            return directory.n_variants(connection)

    def variants(self, *, first: int, most: int) -> tuple[Variant, ...]:
        """Some of the variants that have been here, by name."""
        with self._database.reading() as connection:
            return directory.variants(connection, first=first, most=most)

    def kin(self, camera: Camera) -> tuple[Kin, ...]:
        """The jobs of all cameras of the same maker and model, whatever their variant, the oldest first."""
        with self._database.reading() as connection:
            return directory.kin(connection, camera)

    def recalled(self, kind: str, names: Sequence[str]) -> dict[str, computed.Kept]:
        """What was computed before and kept, of a kind, by name. Whether it still holds is for the caller to see."""
        with self._database.reading() as connection:
            return computed.recalled(connection, kind, names)

    def keep_computed(self, kind: str, results: Mapping[str, computed.Kept], *, most: int | None = None) -> None:
        """Keep what was computed, by name: of a kind so many at most, the newest."""
        with self._database.writing() as connection:
            computed.put(connection, kind, results, most=most)

    def append(self, job_id: str, entry: "Entry", *, expected: int | None = None) -> bool:
        """Put an entry into a journal; it is on the disk when this returns.

        Parameters
        ----------
        job_id
            The job.
        entry
            Kept as it is, `at` included.
        expected
            How many entries the journal had when the caller decided on this one.

        Returns
        -------
        bool
            False where that very entry was there already.

        Raises
        ------
        Stale
            The journal has another number of entries than `expected`: look and decide again.
        Refused
            No such job; or the id is there already with other content, or in another job.
        """
        with self._database.writing() as connection:
            n_job = directory.number(connection, job_id)
            return journals.append(connection, n_job, (entry,), expected=expected) == 1

    def append_all(self, job_id: str, entries: Sequence["Entry"]) -> int:
        """Put entries into a journal, all or none; return how many were new. Raises as `append`."""
        with self._database.writing() as connection:
            return journals.append(connection, directory.number(connection, job_id), entries)

    def journal(self, job_id: str) -> tuple["Entry", ...]:
        """The entries of a job, in the order in which a journal is read (`in_order`)."""
        with self._database.reading() as connection:
            return self._journals.read(connection, directory.number(connection, job_id))

    def journals(self, job_ids: Sequence[str]) -> dict[str, "tuple[Entry, ...] | Damaged"]:
        """The entries of several jobs that exist, by job; for one that cannot be read, why."""
        found: dict[str, tuple[Entry, ...] | Damaged] = {}
        with self._database.reading() as connection:
            for job_id, last in directory.last_entries(connection, job_ids).items():
                try:
                    found[job_id] = self._journals.read(connection, int(job_id[1:]), last)
                except Damaged as damaged:
                    found[job_id] = damaged
        return found

    def said(self, job_ids: Sequence[str], kinds: Sequence[str]) -> dict[str, tuple["Entry", ...]]:
        """The entries of these kinds in the journals of some jobs, with the corrections and what those correct.

        A journal of which one of these cannot be read is left out.
        """
        with self._database.reading() as connection:
            return journals.said(connection, job_ids, kinds)

    def keep(self, data: bytes | Path, *, suffix: str) -> str:
        """Keep a recording or photo, or a copy of the file; return its SHA-256. The same bytes are kept once.

        Parameters
        ----------
        data
            The bytes, or the file that holds them.
        suffix
            Of the file's name, as ".wav"; the first one given stays.
        """
        suffix = media.clean_suffix(suffix)
        sha256, n_bytes = media.put(self.folder / MEDIA, data)
        with self._database.writing() as connection:
            new = connection.execute(
                "INSERT INTO medium (sha256, suffix, n_bytes) VALUES (:sha256, :suffix, :n_bytes)"
                " ON CONFLICT (sha256) DO NOTHING",
                {"sha256": sha256, "suffix": suffix, "n_bytes": n_bytes},
            )
            if new.rowcount:
                seals.seal_row(connection, "medium", sha256)
        return sha256

    def media(self, sha256: str) -> Path:
        """The file of that hash; whether its bytes still match is for `verify` to say.

        Raises
        ------
        Refused
            There is none.
        """
        path = media.path_of(self.folder / MEDIA, sha256)
        if not media.is_sha256(sha256) or not path.is_file():
            raise Refused("it is not kept here", "restore it from a backup", f"the file {sha256}")
        return path

    def not_kept(self, entries: Iterable["Entry"]) -> Iterator[Trouble]:
        """What is wrong with entries whose recording or photo nobody put here: the journal would never be whole."""
        from camerawright.journal.entries import media_of  # noqa: PLC0415  (lists need no entry)

        for entry in entries:
            for sha256 in media_of(entry):
                path = media.path_of(self.folder / MEDIA, sha256)
                if not path.is_file():
                    what = f"its recording or photo {sha256} is not kept here"
                    mend = f"copy it to {path} from where the entry was made, then do it again"
                    yield Trouble(where=f"the entry {entry.id} ({entry.kind})", what=what, mend=mend)

    def media_suffix(self, sha256: str) -> str:
        """The suffix under which a file was first kept; "" where none was given or nothing is known of it."""
        with self._database.reading() as connection:
            return value(connection, "SELECT suffix FROM medium WHERE sha256 = :sha256", sha256=sha256) or ""

    def verify(self) -> tuple[Trouble, ...]:
        """Read everything once and say what is damaged: database, directory, entries, media files."""
        return self.checked().damage

    def checked(self) -> "Checked":
        """The same, with the files that were edited since they were accepted, and what else should be known."""
        from camerawright.store import check  # noqa: PLC0415  (no other command checks anything)

        return check.checked(self._database, self.folder / MEDIA, self._editable())

    def accept(self) -> tuple[str, ...]:
        """Take the directory and the files that a person may edit as they are now; what differed, in words.

        Guards that are missing are put back. Of the journals nothing is accepted.
        """
        from camerawright.store import check  # noqa: PLC0415  (no other command checks anything)

        with self._database.writing() as connection:
            return tuple(check.accept(connection, self.folder, self._editable()))

    def _editable(self) -> tuple[str, ...]:
        """The files that a person may edit, as seen from the folder."""
        return (terms.FILE_NAME, *(f"{PROFILES}/{name}.toml" for name in self.profile_names()))

    def copy_database(self, path: Path) -> None:
        """Copy the database, as it is at one moment, to a new file; for backups, which need the other files too."""
        self._database.copy_to(path)

    def terms(self) -> Terms:
        """What the workshop puts on its papers.

        Raises
        ------
        Refused
            `workshop.toml` cannot be understood.
        """
        return terms.read_terms(self.folder / terms.FILE_NAME)

    def profile_names(self) -> tuple[str, ...]:
        """The tolerance profiles that are there, by name."""
        return tuple(sorted(path.stem for path in (self.folder / PROFILES).glob("*.toml")))

    def profile_path(self, name: str) -> Path:
        """The file of a tolerance profile.

        Raises
        ------
        Refused
            There is none of that name.
        """
        there = self.profile_names()
        if name not in there:
            mend = f"take one of {', '.join(there)}" if there else f"put one there, named {name}.toml"
            raise Refused("this workshop has none of that name", mend, f"the tolerance profile {name}")
        return self.folder / PROFILES / f"{name}.toml"
