"""What disks and other programs do. Each time: one clear sentence, and nothing that was saved is lost."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from pathlib import Path

import pytest

from eke.errors import StoreTrouble
from eke.store import Damaged, Store, backup, restore
from eke.store import files as files_module
from eke.store.trouble import explain

from .helpers import contents, files_of, fill, record


@pytest.fixture
def store(tmp_path: Path):
    with Store.create(tmp_path / "room") as opened:
        fill(opened)
        yield opened


def one_sentence_each(message: str) -> None:
    assert "Traceback" not in message
    assert "sqlite" not in message.lower()
    assert message.strip().endswith(".")
    assert message.count("\n") == 0


def test_full_disk_for_the_database(store):
    before = contents(store)
    with store.write() as tx:
        pages = tx._connection.execute("PRAGMA page_count").fetchone()[0]
        tx._connection.execute(f"PRAGMA max_page_count = {pages + 1}")
    with pytest.raises(StoreTrouble, match="is full") as caught, store.write() as tx:
        tx.append("g1", record("big", "c", text="x" * 100_000), expected_revision=6)
    one_sentence_each(caught.value.message)
    assert "everything before it is kept" in caught.value.message
    assert contents(store) == before
    with store.write() as tx:
        tx._connection.execute("PRAGMA max_page_count = 1000000")
        tx.append("g1", record("big", "c", text="x" * 100_000), expected_revision=6)
    store.check()


def change_a_lot(tx) -> None:
    tx.set_setting("unit", "inch")
    tx.add_photo(b"large", name="x.jpg", media_type="image/jpeg")


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_full_disk_for_a_photo(store, monkeypatch, call):
    before = contents(store)

    def full(*args, **kwargs):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(files_module.os, call, full)
        with pytest.raises(StoreTrouble, match="is full") as caught, store.write() as tx:
            change_a_lot(tx)
    one_sentence_each(caught.value.message)
    assert contents(store) == before
    assert list((store.folder / "photos" / "incoming").iterdir()) == []


def test_the_callers_own_file_errors_are_not_blamed_on_the_workroom(store, tmp_path):
    with pytest.raises(FileNotFoundError), store.write():
        (tmp_path / "absent.jpg").read_bytes()


def test_locked_by_another_program(store, monkeypatch):
    other = sqlite3.connect(store.folder / "workroom.db", isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    store._writer.execute("PRAGMA busy_timeout = 10")
    with pytest.raises(StoreTrouble, match="Another program is holding") as caught, store.write():
        pass
    one_sentence_each(caught.value.message)
    other.execute("ROLLBACK")
    other.close()
    with store.write() as tx:
        tx.set_setting("unit", "inch")


def test_read_only_database(store):
    store._writer.execute("PRAGMA query_only = ON")
    with pytest.raises(StoreTrouble, match="may not be written") as caught, store.write() as tx:
        tx.set_setting("unit", "inch")
    one_sentence_each(caught.value.message)


@pytest.mark.parametrize(
    ("number", "word"),
    [
        (errno.EROFS, "may not be written"),
        (errno.EACCES, "may not be written"),
        (errno.EIO, "could not be read or written"),
    ],
)
def test_file_errors(number, word, tmp_path):
    error = explain(OSError(number, os.strerror(number)), tmp_path)
    assert word in error.message
    one_sentence_each(error.message)


def test_read_only_folder(store, monkeypatch):
    # as the system would say it; a folder made read-only does not bind an administrator
    def denied(*args, **kwargs):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    store.close()
    monkeypatch.setattr(files_module.Path, "open", denied)
    with pytest.raises(StoreTrouble, match="may not be written") as caught:
        Store.open(store.folder)
    one_sentence_each(caught.value.message)
    monkeypatch.undo()
    with Store.open(store.folder):  # the lock was given back
        pass


def spoil_middle(path: Path) -> None:
    size = path.stat().st_size
    with path.open("r+b") as stream:
        for at in range(4096, size, 4096):
            stream.seek(at)
            stream.write(os.urandom(2048))


def spoil_header(path: Path) -> None:
    with path.open("r+b") as stream:
        stream.write(b"not a database at all, sorry")


def truncate(path: Path) -> None:
    with path.open("r+b") as stream:
        stream.truncate(path.stat().st_size // 2 // 4096 * 4096)


@pytest.mark.parametrize("spoil", [spoil_middle, spoil_header, truncate])
@pytest.mark.parametrize("with_backup", [True, False])
def test_a_corrupt_database_says_where_the_last_backup_is(store, tmp_path, spoil, with_backup):
    before = contents(store)
    if with_backup:
        backup(store, tmp_path / "sunday.zip", at="2026-03-01")
    store.close()
    spoil(store.folder / "workroom.db")
    spoilt = files_of(store.folder)
    with pytest.raises(Damaged, match="is damaged") as caught:
        Store.open(store.folder)
    one_sentence_each(caught.value.message)
    # nothing was tidied away: the damaged file may still be of use to somebody who can mend it
    after = files_of(store.folder)
    assert {name: after[name] for name in spoilt} == spoilt
    if with_backup:
        assert f"{tmp_path / 'sunday.zip'} (2026-03-01)" in caught.value.message
        restore(tmp_path / "sunday.zip", tmp_path / "new")
        with Store.open(tmp_path / "new") as again:
            assert contents(again) == before
    else:
        assert "No backup" in caught.value.message


def test_damage_that_shows_only_while_open(store):
    # the pages of a running database are spoilt under it: reading says so in one sentence
    with store.write() as tx:
        for number in range(40):
            tx.put_document("lay", f"x{number}", {"text": "y" * 3000})
    store._writer.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    store._idle.clear()
    spoil_middle(store.folder / "workroom.db")
    with pytest.raises(Damaged, match="is damaged"), store.read() as reader:
        reader.documents()


def test_a_row_that_is_no_json_is_damage_too(store):
    with store.write() as tx:
        tx._connection.execute("UPDATE settings SET value = '{' WHERE name = 'unit'")
    with pytest.raises(Damaged), store.read() as reader:
        reader.setting("unit")


def test_a_stale_owner_note_does_not_lock_anyone_out(store):
    store.close()
    (store.folder / "workroom.owner.json").write_text('{"pid": 1, "host": "gone", "since": "long ago"}')
    (store.folder / "workroom.lock").touch()
    with Store.open(store.folder) as again:
        again.check()


def test_leftovers_of_a_killed_upload_are_cleared(store):
    store.close()
    left = store.folder / "photos" / "incoming" / "half"
    left.write_bytes(b"half a pict")
    with Store.open(store.folder):
        assert not left.exists()


def test_a_workroom_can_be_moved(store, tmp_path):
    before = contents(store)
    store.close()
    shutil.move(store.folder, tmp_path / "elsewhere äö")
    with Store.open(tmp_path / "elsewhere äö") as again:
        assert contents(again) == before
