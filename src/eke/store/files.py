"""Photographs as files named by their content, and writing files so that a power cut leaves old or new.

A name that a maker gave is never used as a path: the only paths here are made of the 64 hex digits of a
SHA-256, checked before use.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import uuid
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Final

from eke.errors import BadInput

PHOTOS: Final = "photos"
INCOMING: Final = "incoming"
_HASH: Final = re.compile(r"[0-9a-f]{64}\Z")
CHUNK: Final = 1 << 20
"""Bytes read or written at a time: a mebibyte keeps memory small and the disk busy."""


def check_hash(sha256: str) -> str:
    """Return ``sha256`` when it is 64 lower-case hex digits. Raises BadInput otherwise."""
    if not isinstance(sha256, str) or not _HASH.match(sha256):
        raise BadInput(f"“{sha256}” is not the number of a photograph.")
    return sha256


def photo_path(folder: Path, sha256: str) -> Path:
    """Return where the photograph with this content lies: ``photos/ab/cd…``."""
    check_hash(sha256)
    return folder / PHOTOS / sha256[:2] / sha256[2:]


def sha256_of(stream: BinaryIO) -> tuple[str, int]:
    """Return the SHA-256 of the rest of ``stream`` and the number of bytes in it."""
    total, size = hashlib.sha256(), 0
    while chunk := stream.read(CHUNK):
        total.update(chunk)
        size += len(chunk)
    return total.hexdigest(), size


def file_sha256(path: Path) -> tuple[str, int]:
    """Return the SHA-256 of a file and its size in bytes."""
    with path.open("rb") as stream:
        return sha256_of(stream)


def sync_folder(folder: Path) -> None:
    """Ask the system to put the names in ``folder`` on disk; where folders cannot be synced, do nothing."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return  # Windows keeps names safe by itself and cannot open a folder
    with contextlib.suppress(OSError):
        os.fsync(handle)
    os.close(handle)


def sync_file(path: Path) -> None:
    """Put the content of an existing file on disk."""
    with path.open("r+b") as stream:
        os.fsync(stream.fileno())


def keep_photo(folder: Path, data: bytes) -> str:
    """Put ``data`` on disk under its own hash and return the hash. On return it is on disk for good.

    A file that is there already is compared, and replaced when it is damaged.
    """
    sha256 = hashlib.sha256(data).hexdigest()
    target = photo_path(folder, sha256)
    with contextlib.suppress(FileNotFoundError):
        if target.stat().st_size == len(data) and file_sha256(target)[0] == sha256:
            return sha256
    incoming = folder / PHOTOS / INCOMING
    new_folders = [one for one in (folder / PHOTOS, incoming, target.parent) if not one.is_dir()]
    for one in new_folders:
        one.mkdir(parents=True, exist_ok=True)
        sync_folder(one.parent)
    waiting = incoming / uuid.uuid4().hex
    try:
        with waiting.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(waiting, target)
    except OSError:
        with contextlib.suppress(OSError):
            waiting.unlink()
        raise
    sync_folder(target.parent)
    return sha256


def photo_files(folder: Path) -> Iterator[tuple[str, Path]]:
    """Yield the hash and path of every photograph on disk, whether the database knows it or not."""
    photos = folder / PHOTOS
    if not photos.is_dir():
        return
    for shelf in sorted(photos.iterdir()):
        if len(shelf.name) == 2 and shelf.is_dir():
            for path in sorted(shelf.iterdir()):
                sha256 = shelf.name + path.name
                if _HASH.match(sha256):
                    yield sha256, path


def clear_incoming(folder: Path) -> None:
    """Remove what a killed process left half-written."""
    incoming = folder / PHOTOS / INCOMING
    if incoming.is_dir():
        for path in incoming.iterdir():
            with contextlib.suppress(OSError):
                path.unlink()


def write_whole(path: Path, data: bytes) -> None:
    """Replace the file at ``path`` by ``data`` so that after a power cut it holds the old or the new."""
    waiting = path.with_name(f".{path.name}.{uuid.uuid4().hex}")
    try:
        with waiting.open("xb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        os.replace(waiting, path)
    except OSError:
        with contextlib.suppress(OSError):
            waiting.unlink()
        raise
    sync_folder(path.parent)
