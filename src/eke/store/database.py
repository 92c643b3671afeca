"""The database file: opening it safely, bringing its schema up to date, copying it."""

from __future__ import annotations

import contextlib
import os
import sqlite3
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from eke.errors import StoreTrouble
from eke.store.files import sync_file, sync_folder
from eke.store.migrations import Migration
from eke.store.trouble import damaged

DATABASE: Final = "workroom.db"
COPIES: Final = "copies"
APPLICATION_ID: Final = 0x454B4531
"""“EKE1” in the header of the file, so that another program's database is told apart."""
BUSY_MS: Final = 5000
"""How long to wait for a backup tool or virus scanner that holds the file for a moment."""


def connect(path: Path) -> sqlite3.Connection:
    """Return a connection that commits only when told to, and then for good."""
    connection = sqlite3.connect(path, isolation_level=None, check_same_thread=False, timeout=BUSY_MS / 1000)
    try:
        # write-ahead log: readers see one state while a writer works. Where the file system cannot do it,
        # SQLite stays with its rollback journal, which is as safe
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA fullfsync = ON")  # macOS: through the cache of the drive as well
        connection.execute("PRAGMA checkpoint_fullfsync = ON")
        connection.execute("PRAGMA foreign_keys = ON")
        connection.execute("PRAGMA trusted_schema = OFF")
    except BaseException:
        connection.close()
        raise
    return connection


def schema_version(connection: sqlite3.Connection) -> int:
    """Return the number of the last migration that ran; 0 for an empty file."""
    return int(connection.execute("PRAGMA user_version").fetchone()[0])


def check_identity(connection: sqlite3.Connection, folder: Path, newest: int) -> int:
    """Return the schema version of a database that is ours and not newer than this program.

    Raises
    ------
    StoreTrouble
        When it is another program's database, or was written by a newer Eke.
    """
    version = schema_version(connection)
    application = int(connection.execute("PRAGMA application_id").fetchone()[0])
    empty = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    if application != APPLICATION_ID and not (empty and version == 0):
        raise StoreTrouble(
            f"The file {folder / DATABASE} is not the database of a workroom of Eke. Nothing was changed. "
            "Choose another folder.",
            folder=str(folder),
        )
    if version > newest:
        raise StoreTrouble(
            f"The workroom {folder} was last used by a newer Eke (its database is version {version}; this Eke "
            f"knows {newest}). Nothing was changed. Install the newer Eke to open it.",
            folder=str(folder),
            version=version,
            newest=newest,
        )
    return version


def check_sound(connection: sqlite3.Connection, folder: Path, copies: Callable[[Path], str]) -> None:
    """Raise Damaged when the database is not sound. SQLite's quick check: every page, not every index."""
    found = [row[0] for row in connection.execute("PRAGMA quick_check(1)")]
    if found != ["ok"]:
        raise damaged(folder, found[0].splitlines()[-1], copies(folder))


def copy_database(source: sqlite3.Connection, target: Path) -> None:
    """Write a consistent copy of the database to a new file and put it on disk."""
    with contextlib.closing(sqlite3.connect(target, isolation_level=None)) as copy:
        source.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, with nothing beside it
    sync_file(target)
    sync_folder(target.parent)


def migrate(
    connection: sqlite3.Connection, folder: Path, migrations: Sequence[Migration], now: datetime | None = None
) -> Path | None:
    """Run the migrations that the database has not seen; return the copy that was made before, if any.

    Each runs in one transaction with the version number it leads to: after a crash the database is as before
    or as after. The connection must be in no transaction.
    """
    version = schema_version(connection)
    waiting = [one for one in migrations if one.number > version]
    if not waiting:
        return None
    copy = None
    if version > 0:
        moment = (now or datetime.now(UTC)).strftime("%Y%m%d-%H%M%S-%f")
        copies = folder / COPIES
        copies.mkdir(exist_ok=True)
        copy = copies / f"before-version-{waiting[-1].number}-{moment}.db"
        part = copy.with_suffix(".part")
        copy_database(connection, part)
        os.replace(part, copy)
        sync_folder(copies)
    # a table may have to be made anew, which foreign keys would forbid; they are checked before the commit
    connection.execute("PRAGMA foreign_keys = OFF")
    try:
        for migration in waiting:
            connection.execute("BEGIN IMMEDIATE")
            try:
                for statement in migration.statements:
                    connection.execute(statement)
                connection.execute(f"PRAGMA user_version = {migration.number:d}")
                connection.execute(f"PRAGMA application_id = {APPLICATION_ID:d}")
                broken = connection.execute("PRAGMA foreign_key_check").fetchall()
                if broken:
                    raise sqlite3.IntegrityError(
                        f"migration {migration.number} leaves loose ends: {broken[:3]}"
                    )
                connection.execute("COMMIT")
            except BaseException as error:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
                if isinstance(error, sqlite3.Error) and _is_mistake(error):
                    raise StoreTrouble(
                        f"The workroom {folder} could not be brought up to version {migration.number} of its "
                        f"database; it was left at version {migration.number - 1}, with all that it holds. Please "
                        "report this, and go on with the Eke that you used before.",
                        folder=str(folder),
                        cause=str(error),
                    ) from error
                raise
    finally:
        connection.execute("PRAGMA foreign_keys = ON")
    return copy


def _is_mistake(error: sqlite3.Error) -> bool:
    """Whether a statement was wrong, rather than the disk."""
    mistakes = (
        sqlite3.SQLITE_ERROR,
        sqlite3.SQLITE_CONSTRAINT,
        sqlite3.SQLITE_MISMATCH,
        sqlite3.SQLITE_SCHEMA,
    )
    return (getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF) in mistakes


def newest_copies(folder: Path, last_backup: str | None) -> str:
    """Return the sentence that says which copies of the database there are."""
    found = []
    if last_backup:
        found.append(f"the last backup is {last_backup}")
    copies = sorted((folder / COPIES).glob("*.db"), key=lambda path: path.stat().st_mtime)
    if copies:
        found.append(f"a copy from before the last change of version is {copies[-1]}")
    if not found:
        return "No backup of it is known here; look for one that you kept elsewhere, and restore it into a new folder."
    text = " and ".join(found)
    return f"{text[0].upper()}{text[1:]}; restore it into a new folder."
