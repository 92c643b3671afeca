"""Filling a workroom and taking all of it out again, to compare two of them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from eke.changes import Record, log_to_json
from eke.store import Store


def record(record_id: str, parent: str | None, **params: Any) -> Record:
    return Record(record_id, parent, "stick.add", 1, params, "a note", "2026-03-01T10:00:00Z", "0.1.0")


def fill(store: Store) -> None:
    """One garment with a tail and something undone, an empty workroom history, documents, photos, settings."""
    with store.write() as tx:
        tx.create_log("workroom", "workroom")
        tx.create_log("g1", "garment")
        revision = tx.append("g1", record("a", None, length_mm=100.5), expected_revision=0)
        revision = tx.append("g1", record("b", "a", text="ärmel ✂ “x”"), expected_revision=revision)
        revision = tx.move_head("g1", "a", "b", expected_revision=revision)
        revision = tx.append(
            "g1", record("c", "a", nested={"list": [1, 2.0, None, True]}), expected_revision=revision
        )
        tx.append("g1", record("d", "c"), expected_revision=revision)
    with store.write() as tx:
        tx.move_head("g1", "c", "d", expected_revision=tx.head("g1").revision)
        tx.put_document("lay", "k1", {"format": "x-1", "at": [[0.0, 1.5]]}, subject="g1", at="2026-03-02")
        tx.put_document("ticks", "k2", [True, False])
        tx.set_setting("unit", "cm")
        tx.set_setting("paper", {"size": "A4", "edges_mm": 5.0})
        tx.add_photo(b"\xff\xd8 no real picture", name="../../front.jpg", media_type="image/jpeg",
                     width_px=4000, height_px=3000, meta={"turned_deg": 90}, at="2026-03-01")  # fmt: skip
        tx.add_photo(bytes(range(256)) * 40, name="cloth.png", media_type="image/png")


def contents(store: Store) -> dict[str, Any]:
    """Everything that a workroom holds, through its own reading, photographs by their bytes."""
    with store.read() as reader:
        logs = {}
        for head in reader.heads():
            stored = reader.log(head.id)
            logs[head.id] = (stored.about, stored.revision, log_to_json(stored.log))
        return {
            "logs": logs,
            "documents": reader.documents(),
            "settings": reader.settings(),
            "photos": {photo: reader.photo_bytes(photo.sha256) for photo in reader.photos()},
        }


def files_of(folder: Path) -> dict[str, bytes]:
    """Every file below a folder with its content, to see that nothing was touched."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
