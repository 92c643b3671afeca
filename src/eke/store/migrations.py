"""The schema, as numbered steps from nothing to now. A step that was released is never edited; add another.

Each runs in one transaction together with the number it leads to. Before the first one touches a database
that already holds something, a copy of it is put into ``copies/``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True, slots=True)
class Migration:
    """One step of the schema: ``number`` counts from 1 without gaps; each statement is run by itself."""

    number: int
    about: str
    statements: tuple[str, ...]


MIGRATIONS: Final[tuple[Migration, ...]] = (
    Migration(
        1,
        "histories, documents, photographs and settings",
        (
            "CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
            # revision counts every write to a history, so that a window can tell whether it is up to date
            """CREATE TABLE logs (
                id TEXT PRIMARY KEY,
                about TEXT NOT NULL,
                head TEXT,
                tip TEXT,
                revision INTEGER NOT NULL DEFAULT 0,
                FOREIGN KEY (id, head) REFERENCES records (log_id, id) DEFERRABLE INITIALLY DEFERRED,
                FOREIGN KEY (id, tip) REFERENCES records (log_id, id) DEFERRABLE INITIALLY DEFERRED
            )""",
            # number is the order in which records were appended; nothing refers to it
            """CREATE TABLE records (
                number INTEGER PRIMARY KEY AUTOINCREMENT,
                log_id TEXT NOT NULL REFERENCES logs (id),
                id TEXT NOT NULL,
                parent TEXT,
                kind TEXT NOT NULL,
                version INTEGER NOT NULL CHECK (version >= 1),
                params TEXT NOT NULL,
                note TEXT NOT NULL,
                at TEXT NOT NULL,
                app_version TEXT NOT NULL,
                UNIQUE (log_id, id),
                FOREIGN KEY (log_id, parent) REFERENCES records (log_id, id)
            )""",
            """CREATE TRIGGER records_stay BEFORE DELETE ON records
                BEGIN SELECT RAISE(ABORT, 'a record of a history is never removed'); END""",
            """CREATE TRIGGER records_are_not_edited BEFORE UPDATE ON records
                BEGIN SELECT RAISE(ABORT, 'a record of a history is never edited'); END""",
            """CREATE TABLE documents (
                kind TEXT NOT NULL,
                key TEXT NOT NULL,
                subject TEXT,
                content TEXT NOT NULL,
                sha256 TEXT NOT NULL,
                at TEXT NOT NULL,
                PRIMARY KEY (kind, key)
            ) WITHOUT ROWID""",
            "CREATE INDEX documents_by_subject ON documents (subject, kind)",
            """CREATE TABLE photos (
                sha256 TEXT PRIMARY KEY CHECK (length(sha256) = 64),
                name TEXT NOT NULL,
                media_type TEXT NOT NULL,
                bytes INTEGER NOT NULL,
                width_px INTEGER,
                height_px INTEGER,
                meta TEXT NOT NULL,
                at TEXT NOT NULL
            ) WITHOUT ROWID""",
            "CREATE TABLE settings (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID",
        ),
    ),
)


def check_numbers(migrations: Sequence[Migration]) -> None:
    """Raise ValueError unless the numbers count from 1 without gaps."""
    numbers = [one.number for one in migrations]
    if numbers != list(range(1, len(numbers) + 1)):
        raise ValueError(f"migrations must be numbered from 1 without gaps, not {numbers}")
