from __future__ import annotations

import hashlib
import json
import zipfile
from pathlib import Path

import pytest

from eke.errors import BadInput, StoreTrouble
from eke.store import Store, backup, restore
from eke.store.workroom import known_copies

from .helpers import contents, files_of, fill


@pytest.fixture
def store(tmp_path: Path):
    with Store.create(tmp_path / "room") as opened:
        fill(opened)
        yield opened


def test_a_backup_restores_to_an_equal_workroom(store, tmp_path):
    made = backup(store, tmp_path / "b.zip", at="2026-03-01", app_version="0.1.0")
    assert (made.photos, made.missing, made.bytes) == (2, (), (tmp_path / "b.zip").stat().st_size)
    back = restore(tmp_path / "b.zip", tmp_path / "new" / "room")
    assert (back.photos, back.at) == (2, "2026-03-01")
    with Store.open(tmp_path / "new" / "room") as again:
        assert contents(again) == contents(store)
        again.check()
        fill_again = again.folder
        assert str(tmp_path / "b.zip") not in known_copies(fill_again)  # that note is of the other workroom
    assert str(tmp_path / "b.zip") in known_copies(store.folder)
    # nothing half-done beside either of them
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.zip", "new", "room"]
    assert sorted(path.name for path in (tmp_path / "new").iterdir()) == ["room"]


def test_the_manifest_agrees_with_plain_zip_and_sha256(store, tmp_path):
    backup(store, tmp_path / "b.zip")
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        assert archive.testzip() is None
        manifest = json.loads(archive.read("manifest.json"))
        assert manifest["format"] == "eke-backup-1"
        assert {one["name"] for one in manifest["files"]} | {"manifest.json"} == set(archive.namelist())
        for one in manifest["files"]:
            data = archive.read(one["name"])
            assert (hashlib.sha256(data).hexdigest(), len(data)) == (one["sha256"], one["bytes"])


def test_nothing_is_overwritten(store, tmp_path):
    target = tmp_path / "b.zip"
    target.write_bytes(b"dear")
    with pytest.raises(BadInput, match="already a file"):
        backup(store, target)
    assert target.read_bytes() == b"dear"
    backup(store, tmp_path / "c.zip")
    with pytest.raises(BadInput, match="not empty"):
        restore(tmp_path / "c.zip", store.folder)
    (tmp_path / "empty").mkdir()
    restore(tmp_path / "c.zip", tmp_path / "empty")
    with pytest.raises(BadInput, match="no file"):
        restore(tmp_path / "absent.zip", tmp_path / "x")


def test_the_backup_holds_one_moment_while_writing_goes_on(store, tmp_path):
    with store.read() as reader:
        before = reader.heads()
        backup(store, tmp_path / "b.zip")
        assert reader.heads() == before
    with store.write() as tx:
        tx.create_log("later")
    restore(tmp_path / "b.zip", tmp_path / "new")
    with Store.open(tmp_path / "new") as again, again.read() as reader:
        assert reader.heads() == before


def test_a_missing_photo_does_not_keep_the_rest_from_being_saved(store, tmp_path):
    with store.read() as reader:
        gone, kept = (photo.sha256 for photo in reader.photos())
        reader.photo_path(gone).unlink()
    assert backup(store, tmp_path / "b.zip").missing == (gone,)
    assert restore(tmp_path / "b.zip", tmp_path / "new").missing == (gone,)
    with Store.open(tmp_path / "new") as again, again.read() as reader:
        assert reader.photo_bytes(kept)
        with pytest.raises(StoreTrouble, match="missing"):
            reader.photo_bytes(gone)


def rewrite(source: Path, target: Path, change) -> None:
    """Copy a backup, letting ``change(parts, manifest)`` alter the members and the manifest."""
    with zipfile.ZipFile(source) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(parts.pop("manifest.json"))
    change(parts, manifest)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
        if manifest is not None:
            archive.writestr("manifest.json", json.dumps(manifest))


def flip(parts, manifest):
    name = next(one for one in parts if one.startswith("photos/"))
    parts[name] = parts[name][:-1] + b"!"


def climb(parts, manifest):
    evil = b"evil"
    parts["../evil"] = evil
    manifest["files"].append({"name": "../evil", "bytes": 4, "sha256": hashlib.sha256(evil).hexdigest()})


def bomb(parts, manifest):
    name = next(one for one in parts if one.startswith("photos/"))
    parts[name] += bytes(1 << 24)


def lose(parts, manifest):
    del parts[next(one for one in parts if one.startswith("photos/"))]


def newer(parts, manifest):
    manifest["format"] = "eke-backup-2"


def no_database(parts, manifest):
    manifest["files"] = manifest["files"][1:]


def bad_database(parts, manifest):
    data = parts["workroom.db"] = parts["workroom.db"][:4096] + bytes(len(parts["workroom.db"]) - 4096)
    manifest["files"][0]["sha256"] = hashlib.sha256(data).hexdigest()


def no_hash(parts, manifest):
    manifest["files"][0]["sha256"] = "../../x"


@pytest.mark.parametrize(
    ("change", "word"),
    [(flip, "damaged"), (climb, "no part of a workroom"), (bomb, "damaged"), (lose, "missing"), (newer, "eke-backup-2"),
     (no_database, "no database"), (bad_database, "damaged"), (no_hash, "cannot be read")],
)  # fmt: skip
def test_a_backup_that_was_tampered_with_restores_nothing(store, tmp_path, change, word):
    backup(store, tmp_path / "b.zip")
    rewrite(tmp_path / "b.zip", tmp_path / "t.zip", change)
    with pytest.raises(BadInput, match=word):
        restore(tmp_path / "t.zip", tmp_path / "new")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["b.zip", "room", "t.zip"]


@pytest.mark.parametrize("keep", [0.0, 0.3, 0.9])
def test_a_backup_cut_off_or_no_backup_at_all(store, tmp_path, keep):
    backup(store, tmp_path / "b.zip")
    data = (tmp_path / "b.zip").read_bytes()
    (tmp_path / "t.zip").write_bytes(data[: int(len(data) * keep)])
    with pytest.raises(BadInput, match="cannot be restored"):
        restore(tmp_path / "t.zip", tmp_path / "new")
    assert not (tmp_path / "new").exists()


def test_every_spoilt_byte_of_a_backup_is_noticed_or_harmless(store, tmp_path):
    backup(store, tmp_path / "b.zip")
    data = (tmp_path / "b.zip").read_bytes()
    before = contents(store)
    for at in range(0, len(data), max(1, len(data) // 60)):
        spoilt = bytearray(data)
        spoilt[at] ^= 0x5A
        (tmp_path / "t.zip").write_bytes(spoilt)
        target = tmp_path / f"n{at}"
        try:
            restore(tmp_path / "t.zip", target)
        except BadInput:
            assert not target.exists()
        else:  # a byte of no weight, such as a date of the zip: then the workroom is equal
            with Store.open(target) as again:
                assert contents(again) == before


def test_a_full_disk_leaves_no_half_backup(store, tmp_path, monkeypatch):
    def full(*args, **kwargs):
        raise OSError(28, "No space left on device")

    before = files_of(store.folder)
    monkeypatch.setattr(zipfile.ZipFile, "write", full)
    with pytest.raises(StoreTrouble, match="could not be written") as caught:
        backup(store, tmp_path / "b.zip")
    assert "The workroom is untouched" in caught.value.message
    assert sorted(path.name for path in tmp_path.iterdir()) == ["room"]
    assert files_of(store.folder).keys() == before.keys()
