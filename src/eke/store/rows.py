"""What comes out of the database, as values, and the reading of it."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from eke.changes import Log, Record
from eke.errors import NotFound
from eke.store.files import check_hash, photo_path
from eke.store.trouble import Damaged, explained


@dataclass(frozen=True, slots=True)
class StoredLog:
    """A history as read: ``revision`` is what the next write to it has to expect."""

    id: str
    about: str
    log: Log
    revision: int


@dataclass(frozen=True, slots=True)
class LogHead:
    """A history without its records: for lists and for asking whether a window is up to date."""

    id: str
    about: str
    head: str | None
    tip: str | None
    revision: int


@dataclass(frozen=True, slots=True)
class Document:
    """Something derived or chosen that is worth keeping: a lay, page choices, ticks on a list."""

    kind: str
    key: str
    subject: str | None
    content: Any = field(hash=False)
    sha256: str
    at: str


@dataclass(frozen=True, slots=True)
class Photo:
    """What is known of a photograph; its bytes lie in the folder under ``sha256``."""

    sha256: str
    name: str
    media_type: str
    bytes: int
    width_px: int | None
    height_px: int | None
    meta: Any = field(hash=False)
    at: str


class Reader:
    """Looks at one consistent state of a workroom. Get one from ``Store.read()``; a transaction is one too."""

    def __init__(self, connection: sqlite3.Connection, folder: Path) -> None:
        self._connection = connection
        self._folder = folder

    # ---- histories -------------------------------------------------------------------------------------

    def heads(self) -> tuple[LogHead, ...]:
        """Return every history without its records, in order of id."""
        rows = self._connection.execute("SELECT id, about, head, tip, revision FROM logs ORDER BY id")
        return tuple(LogHead(*row) for row in rows)

    def head(self, log_id: str) -> LogHead:
        """Return one history without its records. Raises NotFound."""
        row = self._connection.execute(
            "SELECT id, about, head, tip, revision FROM logs WHERE id = ?", (log_id,)
        ).fetchone()
        if row is None:
            raise NotFound(f"The workroom has no history {log_id}.", id=log_id)
        return LogHead(*row)

    def log(self, log_id: str) -> StoredLog:
        """Return one history with all its records. Raises NotFound."""
        head = self.head(log_id)
        rows = self._connection.execute(
            "SELECT id, parent, kind, version, params, note, at, app_version FROM records "
            "WHERE log_id = ? ORDER BY number",
            (log_id,),
        )
        records = [
            Record(id_, parent, kind, version, _value(params), note, at, app_version)
            for id_, parent, kind, version, params, note, at, app_version in rows
        ]
        return StoredLog(head.id, head.about, Log.from_records(records, head.head, head.tip), head.revision)

    # ---- documents and settings ------------------------------------------------------------------------

    def document(self, kind: str, key: str) -> Document | None:
        """Return a document, or None when there is none of that kind and key."""
        row = self._connection.execute(
            "SELECT kind, key, subject, content, sha256, at FROM documents WHERE kind = ? AND key = ?",
            (kind, key),
        ).fetchone()
        return None if row is None else _document(row)

    def documents(self, kind: str | None = None, subject: str | None = None) -> tuple[Document, ...]:
        """Return the documents of a kind, of a subject, of both, or all; in order of kind and key."""
        rows = self._connection.execute(
            "SELECT kind, key, subject, content, sha256, at FROM documents "
            "WHERE (:kind IS NULL OR kind = :kind) AND (:subject IS NULL OR subject = :subject) ORDER BY kind, key",
            {"kind": kind, "subject": subject},
        )
        return tuple(_document(row) for row in rows)

    def setting(self, name: str, default: Any = None) -> Any:
        """Return a setting, or ``default`` when it was never set."""
        row = self._connection.execute("SELECT value FROM settings WHERE name = ?", (name,)).fetchone()
        return default if row is None else _value(row[0])

    def settings(self) -> dict[str, Any]:
        """Return all settings that were set."""
        rows = self._connection.execute("SELECT name, value FROM settings ORDER BY name")
        return {name: _value(value) for name, value in rows}

    # ---- photographs -----------------------------------------------------------------------------------

    def photo(self, sha256: str) -> Photo:
        """Return what is known of one photograph. Raises NotFound."""
        row = self._connection.execute(
            "SELECT sha256, name, media_type, bytes, width_px, height_px, meta, at FROM photos WHERE sha256 = ?",
            (check_hash(sha256),),
        ).fetchone()
        if row is None:
            raise NotFound(f"The workroom has no photograph {sha256[:12]}….", sha256=sha256)
        return _photo(row)

    def photos(self) -> tuple[Photo, ...]:
        """Return what is known of every photograph, the oldest first."""
        rows = self._connection.execute(
            "SELECT sha256, name, media_type, bytes, width_px, height_px, meta, at FROM photos ORDER BY at, sha256"
        )
        return tuple(_photo(row) for row in rows)

    def photo_path(self, sha256: str) -> Path:
        """Return the file of a photograph that the workroom knows. Raises NotFound or Damaged."""
        photo = self.photo(sha256)
        path = photo_path(self._folder, sha256)
        if not path.is_file():
            raise Damaged(
                f"The photograph “{photo.name}” is missing from the workroom {self._folder}. Everything else is "
                "kept. Add the same photograph again, or fetch it from a backup.",
                sha256=sha256,
            )
        return path

    def photo_bytes(self, sha256: str) -> bytes:
        """Return the content of a photograph, compared with its hash. Raises NotFound or Damaged."""
        path = self.photo_path(sha256)
        with explained(self._folder):
            data = path.read_bytes()
        if hashlib.sha256(data).hexdigest() != sha256:
            raise Damaged(
                f"The file of the photograph “{self.photo(sha256).name}” in the workroom {self._folder} is "
                "damaged. Everything else is kept. Add the same photograph again, or fetch it from a backup.",
                sha256=sha256,
            )
        return data


def _value(text: str) -> Any:
    try:
        return json.loads(text)
    except ValueError as error:
        raise Damaged(
            f"A row in the database of the workroom is damaged ({error}). Nothing was changed. Fetch the workroom "
            "from a backup.",
        ) from error


def _document(row: tuple[Any, ...]) -> Document:
    return Document(row[0], row[1], row[2], _value(row[3]), row[4], row[5])


def _photo(row: tuple[Any, ...]) -> Photo:
    return Photo(row[0], row[1], row[2], row[3], row[4], row[5], _value(row[6]), row[7])
