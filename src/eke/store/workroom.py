"""A workroom on disk: the folder, its one database, its photographs, and who may write when."""

from __future__ import annotations

import contextlib
import json
import logging
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Final

from eke.errors import StoreTrouble
from eke.store import database
from eke.store.files import clear_incoming, photo_files, write_whole
from eke.store.migrations import MIGRATIONS, Migration, check_numbers
from eke.store.owner import LOCK_FILE, OWNER_FILE, Ownership
from eke.store.rows import Reader
from eke.store.trouble import damaged, explained
from eke.store.writing import Committed, Transaction

_log = logging.getLogger(__name__)
LAST_BACKUP: Final = "last-backup.json"
"""Beside the database, so that it can be read when the database cannot."""
ORPHAN_DAYS: Final = 30
"""How long a photograph that no row names is kept: time to notice that an old database was put back."""
_DAY_S: Final = 86400.0


class Store:
    """An open workroom. Make one with :meth:`create` or :meth:`open`, close it when done.

    Reading and writing go separate ways::

        with store.write() as tx:                      # one transaction; nothing else ever commits
            revision = tx.append(log_id, record, expected_revision=revision)
        with store.read() as reader:                   # one consistent state
            stored = reader.log(log_id)

    Both may be used from any thread. One write at a time runs in a process, and one process owns a workroom.
    """

    def __init__(self, folder: Path, owner: Ownership, connection: sqlite3.Connection) -> None:
        self.folder = folder
        self.migrated_from: Path | None = None
        self._owner = owner
        self._writer = connection
        self._write_lock = threading.Lock()
        self._writing_thread: int | None = None
        self._idle: list[sqlite3.Connection] = []
        self._pool_lock = threading.Lock()
        self._closed = False
        self._listeners: tuple[Callable[[Committed], None], ...] = ()

    # ---- opening and closing ---------------------------------------------------------------------------

    @classmethod
    def create(cls, folder: Path | str, *, migrations: Sequence[Migration] = MIGRATIONS) -> Store:
        """Make a workroom in a new or empty folder and open it.

        Raises
        ------
        StoreTrouble
            When the folder holds something already, or cannot be written.
        """
        folder = Path(folder).absolute()
        with explained(folder):
            if folder.exists() and not folder.is_dir():
                raise StoreTrouble(
                    f"{folder} is a file, so no workroom can be made there. Choose another folder."
                )
            folder.mkdir(parents=True, exist_ok=True)
            there = {path.name for path in folder.iterdir()} - {LOCK_FILE, OWNER_FILE}
            if (folder / database.DATABASE).exists():
                # left by a creation that was cut short? then go on with it
                if (folder / database.DATABASE).stat().st_size > 0:
                    raise StoreTrouble(
                        f"There is already a workroom in {folder}. Open it, or choose another folder."
                    )
            elif there:
                raise StoreTrouble(
                    f"The folder {folder} is not empty, so no workroom was made in it. Choose a new or empty folder."
                )
        return cls._start(folder, migrations)

    @classmethod
    def open(cls, folder: Path | str, *, migrations: Sequence[Migration] = MIGRATIONS) -> Store:
        """Open a workroom, take the lock on it and bring its database up to date.

        Raises
        ------
        InUse
            When another process has it open; the message says which.
        Damaged
            When the database is not sound; the message says where the newest copies are.
        StoreTrouble
            When there is no workroom, it is newer than this program, or the disk does not let it be opened.
        """
        folder = Path(folder).absolute()
        if not (folder / database.DATABASE).is_file():
            raise StoreTrouble(
                f"There is no workroom in {folder}. Look for the folder with the file {database.DATABASE}, or "
                "make a new workroom.",
                folder=str(folder),
            )
        return cls._start(folder, migrations)

    @classmethod
    def _start(cls, folder: Path, migrations: Sequence[Migration]) -> Store:
        check_numbers(migrations)
        owner = Ownership(folder)
        with explained(folder):
            owner.take()
        try:
            with explained(folder, known_copies), contextlib.ExitStack() as stack:
                connection = database.connect(folder / database.DATABASE)
                stack.callback(connection.close)
                version = database.check_identity(connection, folder, len(migrations))
                if version:
                    database.check_sound(connection, folder, known_copies)
                copy = database.migrate(connection, folder, migrations)
                clear_incoming(folder)
                stack.pop_all()
        except BaseException:
            owner.release()
            raise
        store = cls(folder, owner, connection)
        store.migrated_from = copy
        return store

    def close(self) -> None:
        """Close the workroom and give the lock back. Closing twice does no harm."""
        with self._write_lock, self._pool_lock:
            if self._closed:
                return
            self._closed = True
            for connection in [*self._idle, self._writer]:
                with contextlib.suppress(sqlite3.Error):
                    connection.close()
            self._idle.clear()
            self._owner.release()

    def __enter__(self) -> Store:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _check_open(self) -> None:
        if self._closed:
            raise StoreTrouble(
                f"The workroom {self.folder} has been closed. Open it again.", folder=str(self.folder)
            )

    # ---- reading and writing ---------------------------------------------------------------------------

    @contextlib.contextmanager
    def write(self) -> Iterator[Transaction]:
        """Open the one write transaction: committed and on disk when the block ends, undone when it raises.

        Raises
        ------
        StoreTrouble
            When the disk is full, the database locked, damaged or read-only: in one sentence.
        RuntimeError
            When the thread is already in a write: a mistake of the program.
        """
        if self._writing_thread == threading.get_ident():
            raise RuntimeError("a write was opened inside a write")
        with self._write_lock:
            self._check_open()
            self._writing_thread = threading.get_ident()
            try:
                with explained(self.folder, known_copies, files=False):
                    self._writer.execute("BEGIN IMMEDIATE")
                    try:
                        transaction = Transaction(self._writer, self.folder)
                        yield transaction
                        self._writer.execute("COMMIT")
                    except BaseException:
                        # after some errors (a full disk) SQLite has rolled back already
                        if self._writer.in_transaction:
                            self._writer.execute("ROLLBACK")
                        raise
                self._tell(transaction)
            finally:
                self._writing_thread = None

    def on_commit(self, listener: Callable[[Committed], None]) -> None:
        """Let ``listener`` hear of every transaction that changed a history or a document, once it is on disk.

        It is called in the thread that wrote, in the order of the commits and before the next write begins: it
        may read, but not write, and has to be short. What it raises goes to the log, since the write has been
        done.
        """
        self._listeners = (*self._listeners, listener)

    def _tell(self, transaction: Transaction) -> None:
        committed = transaction.committed() if self._listeners else None
        if committed is None:
            return
        for listener in self._listeners:
            try:
                listener(committed)
            except Exception:
                _log.exception("a listener to commits broke")

    @contextlib.contextmanager
    def read(self) -> Iterator[Reader]:
        """Look at one consistent state, on a connection of its own that cannot write."""
        self._check_open()
        with explained(self.folder, known_copies, files=False):
            connection = self._borrow()
            try:
                connection.execute("BEGIN")
                yield Reader(connection, self.folder)
            finally:
                self._give_back(connection)

    def _borrow(self) -> sqlite3.Connection:
        with self._pool_lock:
            if self._idle:
                return self._idle.pop()
        connection = database.connect(self.folder / database.DATABASE)
        connection.execute("PRAGMA query_only = ON")
        return connection

    def _give_back(self, connection: sqlite3.Connection) -> None:
        with self._pool_lock:
            try:
                if connection.in_transaction:
                    connection.execute("ROLLBACK")
            except sqlite3.Error:
                connection.close()
                return
            if self._closed:
                connection.close()
            else:
                self._idle.append(connection)

    # ---- care ------------------------------------------------------------------------------------------

    def check(self) -> None:
        """Compare everything: the database page by page and index by index, each photograph with its hash.

        Raises
        ------
        Damaged
            With all that is wrong in ``data["problems"]``.
        """
        problems: list[str] = []
        with self.read() as reader:
            problems += [
                row[0] for row in reader._connection.execute("PRAGMA integrity_check") if row[0] != "ok"
            ]
            problems += [
                f"loose end in {row[0]}" for row in reader._connection.execute("PRAGMA foreign_key_check")
            ]
            for photo in reader.photos():
                try:
                    reader.photo_bytes(photo.sha256)
                except StoreTrouble as error:
                    problems.append(error.message)
        if problems:
            raise damaged(self.folder, problems[0], known_copies(self.folder), problems=tuple(problems))

    def collect_orphans(self, older_than_days: float = ORPHAN_DAYS) -> tuple[str, ...]:
        """Remove photograph files that no row names and that have lain there for a while; return their hashes."""
        removed: list[str] = []
        with self.write() as tx, explained(self.folder):  # a write, so that no photograph is being added
            known = {photo.sha256 for photo in tx.photos()}
            before = time.time() - older_than_days * _DAY_S
            for sha256, path in photo_files(self.folder):
                if sha256 not in known and path.stat().st_mtime <= before:
                    path.unlink()
                    removed.append(sha256)
        return tuple(removed)

    def note_backup(self, file: Path, at: str) -> None:
        """Remember where the last backup went, in a place that survives damage to the database."""
        with explained(self.folder):
            write_whole(self.folder / LAST_BACKUP, json.dumps({"file": str(file), "at": at}).encode("utf-8"))


def known_copies(folder: Path) -> str:
    """Return the sentence that says which copies of a workroom's database there are."""
    last = None
    with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
        noted = json.loads((folder / LAST_BACKUP).read_text("utf-8"))
        last = f"{noted['file']} ({noted['at']})"
    try:
        return database.newest_copies(folder, last)
    except OSError:
        return database.newest_copies(Path(), last)
