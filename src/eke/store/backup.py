"""One file that holds a whole workroom, and back: ``eke-backup-1``, a zip with a manifest of hashes."""

from __future__ import annotations

import contextlib
import errno
import hashlib
import json
import lzma
import os
import shutil
import sqlite3
import struct
import uuid
import zipfile
import zlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from eke.errors import BadInput, EkeError, StoreTrouble
from eke.store import database
from eke.store.files import CHUNK, check_hash, file_sha256, photo_path, sync_folder
from eke.store.migrations import MIGRATIONS, Migration
from eke.store.trouble import explained
from eke.store.workroom import Store

BACKUP_FORMAT: Final = "eke-backup-1"
MANIFEST: Final = "manifest.json"
MAX_MANIFEST_BYTES: Final = 64 << 20
"""A manifest line is about 200 bytes, so this is room for 300 000 photographs; more is no backup of ours."""


@dataclass(frozen=True, slots=True)
class Backup:
    """What went into a backup, or came out of it. ``missing`` are photographs that were not on disk."""

    file: Path
    photos: int
    bytes: int
    missing: tuple[str, ...]
    at: str


def backup(store: Store, file: Path | str, *, at: str | None = None, app_version: str = "") -> Backup:
    """Write the whole workroom into one new file and return what is in it.

    Writing in the workroom may go on meanwhile: the backup holds the state of one moment. Photographs that are
    missing or damaged on disk are left out and named, since a backup of the rest is worth having.

    Raises
    ------
    BadInput
        When ``file`` exists already; nothing is overwritten.
    StoreTrouble
        When it cannot be written, as on a full disk; nothing is left behind.
    """
    file = Path(file).absolute()
    at = at or datetime.now(UTC).isoformat(timespec="seconds")
    _refuse_existing(file)
    work = file.with_name(f".{file.name}.{uuid.uuid4().hex}")
    copy = work.with_suffix(".db")
    try:
        with store.read() as reader:
            database.copy_database(reader._connection, copy)
        made = _pack(store.folder, copy, work, at, app_version)
        with work.open("r+b") as stream:
            os.fsync(stream.fileno())
        _refuse_existing(file)
        os.replace(work, file)
        sync_folder(file.parent)
    except OSError as error:
        raise StoreTrouble(
            f"The backup {file} could not be written ({error.strerror or error}). The workroom is untouched. "
            "Choose another place, with room for it.",
            file=str(file),
        ) from error
    finally:
        for path in (work, copy):
            with contextlib.suppress(OSError):
                path.unlink()
    with contextlib.suppress(StoreTrouble):  # the backup is whole, noted or not
        store.note_backup(file, at)
    return Backup(file, made.photos, file.stat().st_size, made.missing, at)


def _refuse_existing(file: Path) -> None:
    if file.exists():
        raise BadInput(
            f"There is already a file {file}; it was left as it is. Choose another name for the backup."
        )


def _pack(folder: Path, copy: Path, work: Path, at: str, app_version: str) -> Backup:
    with contextlib.closing(sqlite3.connect(copy)) as connection:
        version = database.schema_version(connection)
        hashes = [row[0] for row in connection.execute("SELECT sha256 FROM photos ORDER BY sha256")]
    sha256, size = file_sha256(copy)
    files: list[dict[str, Any]] = [{"name": database.DATABASE, "bytes": size, "sha256": sha256}]
    missing: list[str] = []
    with zipfile.ZipFile(work, "x", zipfile.ZIP_DEFLATED) as archive:
        archive.write(copy, database.DATABASE)
        for one in hashes:
            path = photo_path(folder, one)
            if not path.is_file() or file_sha256(path)[0] != one:
                missing.append(one)
                continue
            # photographs are compressed already
            archive.write(path, _photo_name(one), compress_type=zipfile.ZIP_STORED)
            files.append({"name": _photo_name(one), "bytes": path.stat().st_size, "sha256": one})
        manifest = {
            "format": BACKUP_FORMAT,
            "at": at,
            "app_version": app_version,
            "database_version": version,
            "files": files,
            "missing": missing,
        }
        archive.writestr(MANIFEST, json.dumps(manifest, indent=1))
    return Backup(work, len(files) - 1, 0, tuple(missing), at)


def _photo_name(sha256: str) -> str:
    return f"photos/{sha256[:2]}/{sha256[2:]}"


def restore(file: Path | str, folder: Path | str, *, migrations: Sequence[Migration] = MIGRATIONS) -> Backup:
    """Unpack a backup into a new folder, where :meth:`Store.open` finds an equal workroom.

    Every file is compared with the manifest and the database is checked before the folder appears under its
    name, so a folder that is there is whole.

    Raises
    ------
    BadInput
        When the file is no backup, is damaged, comes from a newer Eke, or the folder is not empty.
    StoreTrouble
        When the folder cannot be written, as on a full disk; nothing is left behind.
    """
    file, folder = Path(file).absolute(), Path(folder).absolute()
    if not file.is_file():
        raise BadInput(f"There is no file {file}.")
    with explained(folder):
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise BadInput(
                f"The folder {folder} is not empty; nothing was restored into it. Choose a new folder."
            )
        folder.parent.mkdir(parents=True, exist_ok=True)
        work = folder.with_name(f".{folder.name}.{uuid.uuid4().hex}")
        work.mkdir()
        try:
            with _readable(file), zipfile.ZipFile(file) as archive:
                manifest = _read_manifest(archive, file)
                for name, size, sha256 in _listed(manifest, file):
                    target = (
                        work / database.DATABASE if name == database.DATABASE else photo_path(work, sha256)
                    )
                    target.parent.mkdir(parents=True, exist_ok=True)
                    _unpack(archive, name, size, sha256, target, file)
            _check_database(work, file, len(migrations))
            if folder.exists():
                folder.rmdir()
            os.rename(work, folder)
            sync_folder(folder.parent)
        finally:
            shutil.rmtree(work, ignore_errors=True)
    missing = tuple(str(one) for one in manifest.get("missing", ()))
    return Backup(file, len(manifest["files"]) - 1, file.stat().st_size, missing, str(manifest.get("at", "")))


def _no_backup(file: Path, why: str) -> BadInput:
    return BadInput(
        f"The file {file} cannot be restored: {why}. Nothing was changed. Try another backup.", file=str(file)
    )


@contextlib.contextmanager
def _readable(file: Path) -> Iterator[None]:
    """Say that the file is damaged, whatever way of stumbling over its bytes the zip reader finds."""
    try:
        yield
    except EkeError:
        raise
    except OSError as error:
        if error.errno not in (None, errno.EINVAL):  # an offset before the start of the file is EINVAL
            raise
        raise _no_backup(file, f"it is damaged or no backup at all ({error})") from error
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, zlib.error, RuntimeError, ValueError,
            OverflowError, struct.error, lzma.LZMAError) as error:  # fmt: skip
        raise _no_backup(file, f"it is damaged or no backup at all ({error})") from error


def _read_manifest(archive: zipfile.ZipFile, file: Path) -> dict[str, Any]:
    try:
        info = archive.getinfo(MANIFEST)
    except KeyError:
        raise _no_backup(file, "it is no backup of a workroom") from None
    if info.file_size > MAX_MANIFEST_BYTES:
        raise _no_backup(file, "its list of files is far too long")
    try:
        manifest = json.loads(archive.read(info))
    except ValueError:
        raise _no_backup(file, "its list of files cannot be read") from None
    found = manifest.get("format") if isinstance(manifest, dict) else None
    if not isinstance(manifest, dict) or found != BACKUP_FORMAT:
        raise _no_backup(file, f"it says “{found}”, and this Eke reads “{BACKUP_FORMAT}”")
    return manifest


def _listed(manifest: dict[str, Any], file: Path) -> list[tuple[str, int, str]]:
    """Return name, size and hash of each file; only the database and photographs under their own hash."""
    try:
        listed = [
            (str(one["name"]), int(one["bytes"]), check_hash(one["sha256"])) for one in manifest["files"]
        ]
    except (KeyError, TypeError, ValueError):
        raise _no_backup(file, "its list of files cannot be read") from None
    for name, _, sha256 in listed:
        if name not in (database.DATABASE, _photo_name(sha256)):
            raise _no_backup(file, f"it holds “{name}”, which is no part of a workroom")
    if [name for name, _, _ in listed].count(database.DATABASE) != 1:
        raise _no_backup(file, "it holds no database")
    return listed


def _unpack(archive: zipfile.ZipFile, name: str, size: int, sha256: str, target: Path, file: Path) -> None:
    try:
        source = archive.open(name)
    except KeyError:
        raise _no_backup(file, f"“{name}” is missing from it") from None
    total, left = hashlib.sha256(), size
    with source, target.open("xb") as stream:
        # never more than the manifest promises: a small zip can unpack to a full disk
        while left >= 0 and (chunk := source.read(min(CHUNK, left + 1))):
            left -= len(chunk)
            total.update(chunk)
            stream.write(chunk)
        stream.flush()
        os.fsync(stream.fileno())
    if left != 0 or total.hexdigest() != sha256:
        raise _no_backup(file, f"“{name}” in it is damaged")


def _check_database(work: Path, file: Path, newest: int) -> None:
    try:
        with contextlib.closing(database.connect(work / database.DATABASE)) as connection:
            database.check_identity(connection, work, newest)
            found = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
            connection.execute("PRAGMA journal_mode = DELETE")
    except StoreTrouble as error:
        raise _no_backup(file, "it comes from a newer Eke, or from another program") from error
    except sqlite3.DatabaseError as error:
        raise _no_backup(file, f"its database is damaged ({error})") from error
    if found != "ok":
        raise _no_backup(file, f"its database is damaged ({found})")
