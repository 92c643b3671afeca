"""One write transaction: everything in it is kept, or nothing."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from eke.changes import Record, canonical, digest, plain
from eke.errors import BadInput
from eke.store.files import check_hash, keep_photo
from eke.store.rows import LogHead, Photo, Reader
from eke.store.trouble import ChangedMeanwhile, explained

MAX_INTEGER: Final = 2**63 - 1
"""The largest integer that SQLite holds: sqlite.org/datatype3.html."""


@dataclass(frozen=True, slots=True)
class Committed:
    """What a transaction changed, told to those who look on once it is on disk."""

    revisions: Mapping[str, int]
    """Of every history that was begun, appended to, or moved: the revision it has now."""
    documents: frozenset[tuple[str, str | None]]
    """Kind and subject of every document that was put or dropped."""


class Transaction(Reader):
    """What ``Store.write()`` hands out. It reads its own writes; nothing is kept until its block ends well."""

    def __init__(self, connection: sqlite3.Connection, folder: Path) -> None:
        super().__init__(connection, folder)
        self._revisions: dict[str, int] = {}
        self._documents: set[tuple[str, str | None]] = set()

    def committed(self) -> Committed | None:
        """Return what it has changed so far; None when nobody can see a difference."""
        if not self._revisions and not self._documents:
            return None
        return Committed(dict(self._revisions), frozenset(self._documents))

    # ---- histories -------------------------------------------------------------------------------------

    def create_log(self, log_id: str, about: str = "") -> LogHead:
        """Begin a history. ``about`` says what of ("garment", "workroom"). Raises BadInput when it exists."""
        if not log_id:
            raise BadInput("A history needs an id.")
        try:
            self._connection.execute("INSERT INTO logs (id, about) VALUES (?, ?)", (log_id, about))
        except sqlite3.IntegrityError:
            raise BadInput(f"The workroom already has a history {log_id}.", id=log_id) from None
        head = self.head(log_id)
        self._revisions[log_id] = head.revision
        return head

    def append(self, log_id: str, record: Record, *, expected_revision: int) -> int:
        """Put ``record`` on top of the head and return the new revision. The head and tip move to it.

        Parameters
        ----------
        log_id
            Which history.
        record
            Its parent has to be the head.
        expected_revision
            The revision that the caller read.

        Raises
        ------
        ChangedMeanwhile
            When the history has another revision or head: another window was quicker.
        NotFound
            When there is no such history.
        BadInput
            When the id of the record is taken.
        """
        head = self._expect(log_id, expected_revision)
        if record.parent != head.head:
            raise _meanwhile(head, expected_revision)
        if not 0 < record.version <= MAX_INTEGER:
            raise BadInput(f"The change {record.id} has version {record.version}, which is beyond all sense.")
        values = (
            log_id, record.id, record.parent, record.kind, record.version, canonical(record.params),
            record.note, record.at, record.app_version,
        )  # fmt: skip
        try:
            self._connection.execute(
                "INSERT INTO records (log_id, id, parent, kind, version, params, note, at, app_version) "
                "VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?)",
                values,
            )
        except sqlite3.IntegrityError:
            raise BadInput(f"The history already has a change {record.id}.", id=record.id) from None
        return self._set(log_id, record.id, record.id)

    def move_head(self, log_id: str, head: str | None, tip: str | None, *, expected_revision: int) -> int:
        """Store where undo, redo or a jump put the head and tip; return the new revision.

        Raises
        ------
        ChangedMeanwhile
            When the history has another revision.
        NotFound
            When there is no such history, or one of the two is no record of it.
        BadInput
            When the head is not on the line of the tip.
        """
        self._expect(log_id, expected_revision)
        stored = self.log(log_id).log
        for mark in (head, tip):
            if mark is not None:
                stored[mark]  # raises NotFound
        if head is not None and head not in {record.id for record in stored.line(tip)}:
            raise BadInput(f"The change {head} does not lie on the way to {tip}.", head=head, tip=tip)
        return self._set(log_id, head, tip)

    def _expect(self, log_id: str, revision: int) -> LogHead:
        head = self.head(log_id)
        if head.revision != revision:
            raise _meanwhile(head, revision)
        return head

    def _set(self, log_id: str, head: str | None, tip: str | None) -> int:
        self._connection.execute(
            "UPDATE logs SET head = ?, tip = ?, revision = revision + 1 WHERE id = ?", (head, tip, log_id)
        )
        revision = self.head(log_id).revision
        self._revisions[log_id] = revision
        return revision

    # ---- documents and settings ------------------------------------------------------------------------

    def put_document(
        self, kind: str, key: str, content: Any, *, subject: str | None = None, at: str = ""
    ) -> str:
        """Keep ``content`` (plain JSON) under a kind and key, in place of what was there; return its hash."""
        if not kind or not key:
            raise BadInput("A document needs a kind and a key.")
        content = plain(content, f"the document {kind}/{key}")
        sha256 = digest(content)
        self._connection.execute(
            "INSERT INTO documents (kind, key, subject, content, sha256, at) VALUES (?, ?, ?, ?, ?, ?) "
            "ON CONFLICT (kind, key) DO UPDATE SET subject = excluded.subject, content = excluded.content, "
            "sha256 = excluded.sha256, at = excluded.at",
            (kind, key, subject, canonical(content), sha256, at),
        )
        self._documents.add((kind, subject))
        return sha256

    def drop_document(self, kind: str, key: str) -> bool:
        """Forget a document; return whether there was one. Only for what can be derived or chosen again."""
        dropped = self._connection.execute(
            "DELETE FROM documents WHERE kind = ? AND key = ? RETURNING subject", (kind, key)
        ).fetchall()
        self._documents.update((kind, subject) for (subject,) in dropped)
        return bool(dropped)

    def set_setting(self, name: str, value: Any) -> None:
        """Keep a setting of the workroom, plain JSON."""
        self._connection.execute(
            "INSERT INTO settings (name, value) VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = excluded.value",
            (name, canonical(plain(value, f"the setting {name}"))),
        )

    # ---- photographs -----------------------------------------------------------------------------------

    def add_photo(
        self,
        data: bytes,
        *,
        name: str,
        media_type: str,
        width_px: int | None = None,
        height_px: int | None = None,
        meta: Any = None,
        at: str = "",
    ) -> str:
        """Keep a photograph and return its SHA-256. Its file is on disk before its row is written.

        The same content is kept once, with the facts of the first time. ``name`` is only shown, never used as
        a path.
        """
        if not data:
            raise BadInput(f"The photograph “{name}” is empty.")
        with explained(self._folder):
            sha256 = keep_photo(self._folder, data)
        self._connection.execute(
            "INSERT INTO photos (sha256, name, media_type, bytes, width_px, height_px, meta, at) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT (sha256) DO NOTHING",
            (sha256, name, media_type, len(data), width_px, height_px, canonical(plain(meta, "meta")), at),
        )
        return sha256

    def forget_photo(self, sha256: str) -> Photo:
        """Take a photograph off the list, for good; its file goes with the next collection of orphans.

        The caller answers for no history needing it any more. Raises NotFound.
        """
        photo = self.photo(check_hash(sha256))
        self._connection.execute("DELETE FROM photos WHERE sha256 = ?", (sha256,))
        return photo


def _meanwhile(head: LogHead, expected: int) -> ChangedMeanwhile:
    return ChangedMeanwhile(
        "Another window changed this meanwhile, so this step was not added. Nothing was lost: look at the "
        "present state and do it again.",
        log=head.id,
        expected=expected,
        found=head.revision,
        head=head.head,
    )
