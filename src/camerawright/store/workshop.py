"""The workshop folder: where it is, how it comes about, and all that is done with it."""

from collections.abc import Iterator, Sequence
from importlib.resources import files as package_files
from pathlib import Path
from types import TracebackType
from typing import Final, Self

from sqlalchemy import insert, select

from camerawright.journal.entries import Entry
from camerawright.recordings.disk import flush_folder
from camerawright.store import check, directory, media, terms
from camerawright.store import journal as journals
from camerawright.store.database import FILE_NAME as DATABASE
from camerawright.store.database import Database, is_ours, lay_down
from camerawright.store.tables import CAMERA, JOB, MEDIUM
from camerawright.trouble import Refused
from camerawright.workshop.rows import Camera, Job, Owner, Terms, Visit

MEDIA: Final = "media"
PROFILES: Final = "profiles"
OURS: Final = frozenset({DATABASE, f"{DATABASE}-wal", f"{DATABASE}-shm", MEDIA, PROFILES, terms.FILE_NAME})


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
    database = folder / DATABASE
    try:
        if folder.exists():
            _check_folder(folder)
            _check_free(folder)
        for made in (folder, folder / MEDIA, folder / PROFILES):
            media.make_folder(made)
        _write_once(folder / terms.FILE_NAME, terms.BLANK.encode())
        for name, text in _given_profiles():
            _write_once(folder / PROFILES / name, text)
        if not database.exists() or database.stat().st_size == 0:
            lay_down(database)
    except OSError as error:
        raise media.told(error, folder) from error
    return open_workshop(folder)


def open_workshop(folder: Path) -> "Workshop":
    """Open a workshop that exists, and bring an older one up to date.

    Raises
    ------
    Refused
        There is none, it is not ours, it may not be read or written, or a newer program wrote it.
    """
    database = folder / DATABASE
    try:
        if folder.exists():
            _check_folder(folder)
        if not database.exists():
            raise Refused("there is no workshop", "make one there first, or name another folder", str(folder))
        media.make_folder(folder / MEDIA)
        media.sweep(folder / MEDIA)
    except OSError as error:
        raise media.told(error, folder) from error
    opened = Database(database)
    try:
        opened.upgrade()
    except BaseException:
        opened.close()
        raise
    return Workshop(folder, opened)


class Workshop:
    """An open workshop folder; any number of threads may use it, and other processes beside it.

    Every method raises `Refused` where the disk is full, the folder may not be written, or another program keeps it
    locked; then nothing was written. What a method returned is on the disk.
    """

    def __init__(self, folder: Path, database: Database) -> None:
        self.folder = folder
        self._database = database
        self._journals = journals.Journals()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, traceback: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the files."""
        self._database.close()

    def take_in(self, owner: Owner, camera: Camera, visit: Visit) -> Job:
        """A new job: "J1", "J2" and so on. A known camera is found again by maker, model and serial.

        Case and spacing do not matter. A variant or apertures given now correct those known; none given leaves them.
        A camera without any has the apertures of the last camera of its variant.

        Raises
        ------
        Refused
            The owner's name, or the camera's maker, model or serial is blank.
        """
        with self._database.writing() as connection:
            return directory.take_in(connection, owner, camera, visit)

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
            return directory.jobs(connection, JOB.c.n == directory.number(connection, job_id))[0]

    def jobs(self) -> tuple[Job, ...]:
        """All jobs, the newest first."""
        with self._database.reading() as connection:
            return directory.jobs(connection)[::-1]

    def visits(self, camera: Camera) -> tuple[Job, ...]:
        """The jobs of one camera, the oldest first."""
        with self._database.reading() as connection:
            return directory.jobs(connection, *directory.is_camera(camera))

    def jobs_of_variant(self, variant_key: str) -> tuple[Job, ...]:
        """The jobs of all cameras of one variant (`Camera.variant_key`), the oldest first."""
        with self._database.reading() as connection:
            return directory.jobs(connection, CAMERA.c.variant_key == variant_key)

    def append(self, job_id: str, entry: Entry, *, expected: int | None = None) -> bool:
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

    def append_all(self, job_id: str, entries: Sequence[Entry]) -> int:
        """Put entries into a journal, all or none; return how many were new. Raises as `append`."""
        with self._database.writing() as connection:
            return journals.append(connection, directory.number(connection, job_id), entries)

    def journal(self, job_id: str) -> tuple[Entry, ...]:
        """The entries of a job, in the order in which a journal is read (`in_order`)."""
        with self._database.reading() as connection:
            return self._journals.read(connection, directory.number(connection, job_id))

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
            if connection.scalar(select(MEDIUM.c.sha256).where(MEDIUM.c.sha256 == sha256)) is None:
                connection.execute(insert(MEDIUM).values(sha256=sha256, suffix=suffix, n_bytes=n_bytes))
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

    def media_suffix(self, sha256: str) -> str:
        """The suffix under which a file was first kept; "" where none was given or nothing is known of it."""
        with self._database.reading() as connection:
            return connection.scalar(select(MEDIUM.c.suffix).where(MEDIUM.c.sha256 == sha256)) or ""

    def verify(self) -> tuple[str, ...]:
        """Read everything once and say in words what is wrong: database, entries, files."""
        return tuple(check.problems(self._database, self.folder / MEDIA))

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


def _check_folder(folder: Path) -> None:
    """Refuse what is no folder, and a database in it that is not ours."""
    mend = "name an empty or a new folder"
    if not folder.is_dir():
        raise Refused("it is not a folder", mend, str(folder))
    database = folder / DATABASE
    if database.exists() and database.stat().st_size > 0 and not is_ours(database):
        raise Refused("it is not a workshop's database", mend, str(database))


def _check_free(folder: Path) -> None:
    """Refuse a folder that holds something else and no workshop."""
    if (folder / DATABASE).exists():
        return
    strange = sorted(path.name for path in folder.iterdir() if path.name not in OURS and not _is_part(path))
    if strange:
        more = f" and {len(strange) - 3} more" if len(strange) > 3 else ""
        found = f"it holds something else ({', '.join(strange[:3])}{more})"
        raise Refused(found, "name an empty or a new folder", str(folder))


def _is_part(path: Path) -> bool:
    """Whether a killed writer left that behind."""
    return path.name.startswith(media.PART)


def _given_profiles() -> Iterator[tuple[str, bytes]]:
    """The tolerance profiles that come with the program: file names and contents."""
    given = package_files("camerawright.handbook") / PROFILES
    if given.is_dir():
        for profile in given.iterdir():
            if profile.name.endswith(".toml"):
                yield profile.name, profile.read_bytes()


def _write_once(path: Path, text: bytes) -> None:
    """Write a file that is not there yet; what somebody edited stays."""
    if path.exists():
        return
    part = media.fresh_part(path.parent)
    try:
        media.write(part, (text,))
        part.replace(path)
        flush_folder(path.parent)
    finally:
        media.discard(part)
