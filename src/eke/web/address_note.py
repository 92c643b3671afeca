"""Where a running server is, for a second start by the same person on the same machine.

The address holds the key of this start, so the note lies in the maker's own state folder, readable by nobody
else, and not beside the workroom, which may be shared, synchronised or backed up. Whether anybody has the
workroom is decided by its lock alone; a note that a killed server left behind is never believed without it.
"""

from __future__ import annotations

import contextlib
import hashlib
import http.client
import json
import os
import platform
import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

from eke.store import read_owner

ANSWER_S: Final = 5.0
"""A server that is still loading answers after a second or two; one that says nothing for so long is stuck."""


def note_file(folder: Path) -> Path:
    """Return where the note for a workroom lies."""
    import platformdirs

    word = hashlib.sha256(os.path.normcase(folder.resolve()).encode("utf-8", "surrogatepass")).hexdigest()[
        :32
    ]
    return platformdirs.user_state_path("eke", appauthor=False) / "open" / f"{word}.json"


def write_note(folder: Path, address: str) -> None:
    """Note the address; without a place for it a second start can only say that the workroom is open."""
    file = note_file(folder)
    part = file.with_name(f"{file.name}.{secrets.token_hex(4)}")
    content = {"address": address, "pid": os.getpid(), "host": platform.node(), "folder": str(folder)}
    with contextlib.suppress(OSError):
        file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        # made anew and closed to others from its first moment, not afterwards
        handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        try:
            with os.fdopen(handle, "w", encoding="utf-8") as out:
                json.dump(content, out)
            os.replace(part, file)
        except BaseException:
            part.unlink(missing_ok=True)
            raise


def drop_note(folder: Path) -> None:
    """Forget this process's own note."""
    found = _read(note_file(folder))
    if found is not None and found.get("pid") == os.getpid():
        with contextlib.suppress(OSError):
            note_file(folder).unlink()


def address_of_running(folder: Path) -> str | None:
    """Return the first address of the server that has a workroom open, if it is ours and answers."""
    owner, note = read_owner(folder), _read(note_file(folder))
    if owner is None or note is None:
        return None
    if (note.get("pid"), note.get("host")) != (owner.get("pid"), platform.node()):
        return None
    if owner.get("host") != platform.node():
        return None
    address = note.get("address")
    return address if isinstance(address, str) and _answers(address) else None


def _read(file: Path) -> Mapping[str, Any] | None:
    try:
        found = json.loads(file.read_text("utf-8"))
    except (OSError, ValueError):
        return None
    return found if isinstance(found, dict) else None


def _answers(address: str) -> bool:
    """Ask the address as a browser would: only our server, with this very key, leads on to its table."""
    parts = urlsplit(address)
    if parts.scheme != "http" or parts.hostname != "127.0.0.1":
        return False
    connection = http.client.HTTPConnection("127.0.0.1", parts.port or 80, timeout=ANSWER_S)
    try:
        connection.request("GET", f"{parts.path}?{parts.query}")
        answer = connection.getresponse()
        return answer.status == 303 and answer.getheader("location") == "/"
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()
