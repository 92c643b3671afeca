"""One clear sentence for everything that a disk, a database or another process can do to a workroom."""

from __future__ import annotations

import errno
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Final

from eke.errors import ChangeConflict, StoreTrouble

_FULL: Final = frozenset({errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC), errno.EFBIG})
_READ_ONLY: Final = frozenset({errno.EROFS, errno.EACCES, errno.EPERM})
_KEPT: Final = "The last step was not saved; everything before it is kept."
_PRIMARY: Final = 0xFF  # the low byte of an SQLite result code is its primary code: sqlite.org/rescode.html


class ChangedMeanwhile(ChangeConflict):
    """Another window changed the same history since it was read; ``data`` has both revision numbers."""


class Damaged(StoreTrouble):
    """The database or a photograph is not what was written; ``data["copies"]`` names the copies there are."""


class InUse(StoreTrouble):
    """Another process owns the workroom; ``data["owner"]`` says which, when it is known."""


def explain(error: sqlite3.Error | OSError, folder: Path, copies: str = "") -> StoreTrouble:
    """Return what ``error`` means to a maker whose workroom is ``folder``.

    ``copies`` is a sentence that says where the newest copies of the database are.
    """
    if isinstance(error, OSError):
        return _explain_file(error, folder)
    code = getattr(error, "sqlite_errorcode", 0) & _PRIMARY
    facts: dict[str, Any] = {"folder": str(folder), "cause": f"{type(error).__name__}: {error}"}
    if code == sqlite3.SQLITE_FULL:
        return StoreTrouble(
            f"The disk with the workroom {folder} is full. {_KEPT} Free some space and do it again.", **facts
        )
    if code in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
        return damaged(folder, str(error), copies)
    if code in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return StoreTrouble(
            f"Another program is holding the database of the workroom {folder}. {_KEPT} "
            "Close the other program and do it again.",
            **facts,
        )
    if code in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH):
        return _read_only(folder, facts)
    if code == sqlite3.SQLITE_CANTOPEN:
        return StoreTrouble(
            f"The database of the workroom {folder} cannot be opened. Nothing was changed. Look whether the "
            "folder is still there and may be read and written.",
            **facts,
        )
    return StoreTrouble(
        f"The disk with the workroom {folder} could not be read or written ({error}). {_KEPT} "
        "Look at the disk, then open the workroom again.",
        **facts,
    )


def _explain_file(error: OSError, folder: Path) -> StoreTrouble:
    facts: dict[str, Any] = {"folder": str(folder), "cause": f"{type(error).__name__}: {error}"}
    if error.errno in _FULL:
        return StoreTrouble(
            f"The disk with the workroom {folder} is full. {_KEPT} Free some space and do it again.", **facts
        )
    if error.errno in _READ_ONLY:
        return _read_only(folder, facts)
    return StoreTrouble(
        f"A file of the workroom {folder} could not be read or written ({error.strerror or error}). {_KEPT} "
        "Look at the disk, then do it again.",
        **facts,
    )


def _read_only(folder: Path, facts: dict[str, Any]) -> StoreTrouble:
    return StoreTrouble(
        f"The workroom {folder} may not be written to. {_KEPT} Allow writing in that folder, or copy it to "
        "a place where you may write.",
        **facts,
    )


def damaged(folder: Path, cause: str, copies: str, **facts: Any) -> Damaged:
    """Return the error for a database that is not what was written."""
    return Damaged(
        f"The database of the workroom {folder} is damaged ({cause}). Nothing was changed, and the photographs "
        f"beside it are untouched. {copies}",
        folder=str(folder),
        cause=cause,
        copies=copies,
        **facts,
    )


@contextmanager
def explained(
    folder: Path, copies: Callable[[Path], str] | None = None, *, files: bool = True
) -> Iterator[None]:
    """Turn errors of SQLite, and of the file system when ``files``, inside the block into StoreTrouble.

    ``copies`` makes the sentence about copies when it is needed. Mistakes of the program (a broken constraint,
    wrong SQL) come through as they are.
    """
    try:
        yield
    except (sqlite3.IntegrityError, sqlite3.ProgrammingError, sqlite3.InterfaceError):
        raise
    except (sqlite3.Error, OSError) as error:
        if isinstance(error, OSError) and not files:
            raise
        if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_ERROR:
            raise  # wrong SQL
        raise explain(error, folder, copies(folder) if copies else "") from error
