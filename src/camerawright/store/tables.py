"""The tables as `migrations/` leaves them, to compare a database with. A test holds the two together."""

from collections.abc import Mapping
from typing import Final

REVISIONS: Final = ("0001", "0002", "0003", "0004", "0005", "0006", "0007")
"""Every migration this program knows, oldest first; the last is what it works with."""

COLUMNS: Final[Mapping[str, tuple[str, ...]]] = {
    "owner": ("n", "name", "contact"),
    # What is compared are the keys: `name_key` of each, as no two databases fold alike. `f_numbers` are engraved on the
    # lens, the widest first.
    "camera": (
        "n", "maker", "model", "serial", "variant", "maker_key", "model_key", "serial_key", "variant_key", "f_numbers",
    ),
    # "J" and `n` is what a job is called; `form` is the id of the form that it was taken in by, if a page had one.
    "job": (
        "n", "owner", "camera", "taken_in", "owners_words", "film_inside", "accessories", "condition", "wanted",
        "profile", "form",
    ),
    # `body` is the line of JSON as `written` gave it, `sha256` that of its UTF-8, and `chain` comes of `seals.link`.
    "entry": ("n", "job", "id", "at", "kind", "body", "sha256", "chain"),
    "medium": ("sha256", "suffix", "n_bytes"),  # suffix: of the file it came from, as ".wav", or nothing
    "seal": ("kind", "name", "sha256", "n_entries"),  # kind: "journal", "file", or the name of a table
    "glance": ("job", "stage", "is_done", "n_off", "n_owed", "next_step", "good_until", "said"),
    "computed": ("n", "kind", "name", "rests_on", "body", "sha256"),
}  # fmt: skip
"""The columns of each table. `seals`, `glances` and `computed` say what theirs are."""

UNIQUE: Final[Mapping[str, tuple[str, ...]]] = {
    "owner": ("name", "contact"),
    "camera": ("maker_key", "model_key", "serial_key"),
    "entry": ("id",),
    "computed": ("kind", "name"),
}
"""What no two rows of a table may share."""

GLANCE_SAID: Final = (
    "CAST(job AS TEXT) || '|' || stage || '|' || CAST(is_done AS TEXT) || '|' || CAST(n_off AS TEXT) || '|'"
    " || CAST(n_owed AS TEXT) || '|' || next_step || '|' || COALESCE(CAST(good_until AS TEXT), '')"
)
"""All that a row of `glance` says, in one text."""
GLANCE_ALTERED: Final = f"said <> {GLANCE_SAID}"

INDEXES: Final[Mapping[str, Mapping[str, str]]] = {
    "camera": {"ix_camera_variant_key": "CREATE INDEX ix_camera_variant_key ON camera (variant_key)"},
    "job": {
        "ix_job_camera": "CREATE INDEX ix_job_camera ON job (camera)",
        "uq_job_form": "CREATE UNIQUE INDEX uq_job_form ON job (form)",
    },
    "entry": {
        "ix_entry_job": "CREATE INDEX ix_entry_job ON entry (job)",
        "ix_entry_kind": "CREATE INDEX ix_entry_kind ON entry (kind)",
    },
    "glance": {
        "ix_glance_altered": f"CREATE INDEX ix_glance_altered ON glance (job) WHERE {GLANCE_ALTERED}",
        "ix_glance_good_until": "CREATE INDEX ix_glance_good_until ON glance (good_until)",
        "ix_glance_is_done": "CREATE INDEX ix_glance_is_done ON glance (is_done)",
    },
}
"""The indexes of each table, by name."""

CACHES: Final = {
    "glance": "CREATE TABLE glance (job INTEGER NOT NULL CONSTRAINT pk_glance PRIMARY KEY"
    " CONSTRAINT fk_glance_job REFERENCES job (n), stage VARCHAR NOT NULL, is_done BOOLEAN NOT NULL,"
    " n_off INTEGER NOT NULL, n_owed INTEGER NOT NULL, next_step TEXT NOT NULL, good_until DATETIME,"
    " said TEXT NOT NULL DEFAULT '')",
    "computed": "CREATE TABLE computed (n INTEGER NOT NULL CONSTRAINT pk_computed PRIMARY KEY, kind VARCHAR NOT NULL,"
    " name VARCHAR NOT NULL, rests_on VARCHAR NOT NULL, body TEXT NOT NULL, sha256 VARCHAR(64) NOT NULL,"
    " CONSTRAINT uq_computed_kind UNIQUE (kind, name))",
}
"""The tables that can be thrown away: what they hold is computed again."""

GUARDS: Final = {
    "entry_keeps_its_content": "CREATE TRIGGER entry_keeps_its_content BEFORE UPDATE ON entry"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never changed'); END",
    "entry_stays": "CREATE TRIGGER entry_stays BEFORE DELETE ON entry"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never deleted'); END",
    "entry_is_not_replaced": "CREATE TRIGGER entry_is_not_replaced BEFORE INSERT ON entry"
    " WHEN EXISTS (SELECT 1 FROM entry WHERE id = NEW.id OR n = NEW.n)"
    " BEGIN SELECT RAISE(ABORT, 'a journal entry is never replaced'); END",
}
"""The triggers, by name: the only ones that belong there."""
