"""One process owns a workroom: a lock that the system drops when its holder ends, and a note who it is."""

from __future__ import annotations

import contextlib
import json
import os
import platform
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final

from filelock import FileLock, Timeout

from eke.store.files import write_whole
from eke.store.trouble import InUse

LOCK_FILE: Final = "workroom.lock"
OWNER_FILE: Final = "workroom.owner.json"
"""Beside the lock, since on some systems a locked file cannot be read by others."""


class Ownership:
    """The lock on one workroom folder, held from :meth:`take` to :meth:`release`."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        # not bound to a thread: a web server opens and closes in different ones
        self._lock = FileLock(folder / LOCK_FILE, thread_local=False)

    def take(self) -> None:
        """Take the lock at once. Raises InUse, naming the holder, when another process has it."""
        try:
            self._lock.acquire(timeout=0)
        except Timeout:
            raise _in_use(self.folder, read_owner(self.folder)) from None
        me = {
            "pid": os.getpid(),
            "host": platform.node(),
            "since": datetime.now(UTC).isoformat(timespec="seconds"),
        }
        try:
            write_whole(self.folder / OWNER_FILE, json.dumps(me).encode())
        except OSError:
            self._lock.release()
            raise

    def release(self) -> None:
        """Give the workroom free; harmless when it is not held."""
        if self._lock.is_locked:
            with contextlib.suppress(OSError):
                (self.folder / OWNER_FILE).unlink()
            self._lock.release()


def read_owner(folder: Path) -> Mapping[str, Any] | None:
    """Return what the owner of a workroom wrote about itself, or None."""
    try:
        found = json.loads((folder / OWNER_FILE).read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) else None


def _in_use(folder: Path, owner: Mapping[str, Any] | None) -> InUse:
    if owner is None:
        who = "another process"
    elif owner.get("pid") == os.getpid() and owner.get("host") == platform.node():
        who = "this same process"
    else:
        who = f"process {owner.get('pid')} on {owner.get('host')}, since {owner.get('since')}"
    return InUse(
        f"The workroom {folder} is already open in {who}. Nothing was changed. Close it there first.",
        folder=str(folder),
        owner=dict(owner) if owner is not None else None,
    )
