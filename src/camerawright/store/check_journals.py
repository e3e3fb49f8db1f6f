"""Every entry read once, and every job's chain followed. Nothing is trusted: every column is read as its bytes."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from sqlite3 import Connection

from camerawright.journal.entries import Entry, media_of
from camerawright.store import columns, seals
from camerawright.store.check_database import RESTORE
from camerawright.store.journal import body_sha256, parsed
from camerawright.store.tables import COLUMNS
from camerawright.trouble import Trouble
from camerawright.wording.numbers import counted


@dataclass
class _Chain:
    """How far a job's chain was followed."""

    link: str = ""
    n_entries: int = 0


@dataclass
class Journals:
    """Follows every job's chain, entry by entry; `wanted` are the files that entries refer to, and which entry does."""

    connection: Connection
    chains: dict[int, _Chain] = field(default_factory=lambda: defaultdict(_Chain))
    wanted: dict[str, str] = field(default_factory=dict)

    def troubles(self) -> Iterator[Trouble]:
        """What is wrong with the entries, in the order in which they came in."""
        found = f"SELECT {seals.as_bytes(*COLUMNS['entry'])} FROM entry ORDER BY entry.n"
        for row in self.connection.execute(found):
            yield from self._of_row({name: seals.as_text(row[name]) for name in COLUMNS["entry"]})
        yield from self._ends()
        yield from self._gaps()

    def _gaps(self) -> Iterator[Trouble]:
        """Entries of all journals are numbered as they came in, and none ever goes: a gap is where one was."""
        found = "SELECT count(*), max(n) FROM entry WHERE typeof(n) = 'integer'"
        n_there, last = self.connection.execute(found).fetchone()
        if n_there and n_there != last:
            what = f"the last entry has number {last}, and there are {n_there}: another program took some out"
            yield Trouble(where="the journals", what=what, mend=RESTORE)

    def _of_row(self, row: Mapping[str, str]) -> Iterator[Trouble]:
        where = f"entry {row['id']} of J{row['job']}"
        if not row["job"].isdecimal():
            yield Trouble(where=where, what="it is of no job", mend=RESTORE)
            return
        n_job = int(row["job"])
        entry = _understood(row["body"])
        if body_sha256(row["body"]) != row["sha256"]:
            yield Trouble(where=where, what="its content was altered", mend=RESTORE)
        elif entry is None:
            yield Trouble(where=where, what="it cannot be understood", mend=RESTORE)
        elif not _is_of(entry, row):
            yield Trouble(where=where, what="its row says something else than its content", mend=RESTORE)
        else:
            self.wanted.update((medium, where) for medium in media_of(entry))
        chain = self.chains[n_job]
        if seals.link(chain.link, n_job, row["sha256"]) != row["chain"]:
            what = "it, or one before it, was put in, taken out, moved or changed by another program"
            yield Trouble(where=where, what=what, mend=RESTORE)
        self.chains[n_job] = _Chain(row["chain"], chain.n_entries + 1)

    def _ends(self) -> Iterator[Trouble]:
        """Journals that do not end as they were sealed."""
        sealed = seals.of_kind(self.connection, seals.JOURNAL)
        for name in sorted(sealed.keys() | {str(n_job) for n_job in self.chains}):
            seal, chain = (
                sealed.get(name, seals.Seal()),
                self.chains.get(int(name) if name.isdecimal() else -1, _Chain()),
            )
            where = f"the journal of J{name}"
            if seal.n_entries != chain.n_entries:
                what = f"it had {counted(seal.n_entries, 'entry', 'entries')}, and has {chain.n_entries}"
                yield Trouble(where=where, what=what, mend=RESTORE)
            elif seal.sha256 != chain.link:
                yield Trouble(where=where, what="it does not end as it was sealed", mend=RESTORE)


def _is_of(entry: Entry, row: Mapping[str, str]) -> bool:
    """Whether the other columns of a row say what its content says."""
    try:
        at = columns.instant(row["at"])
    except ValueError:
        return False
    return (entry.id, entry.kind, entry.at) == (row["id"], row["kind"], at)


def _understood(body: str) -> Entry | None:
    """The entry in a row's body, if it is one."""
    try:
        return parsed(body)
    except ValueError:  # pydantic's own errors are some
        return None
