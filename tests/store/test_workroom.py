from __future__ import annotations

import hashlib
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest

from eke.errors import BadInput, ChangeConflict, NotFound, StoreTrouble
from eke.store import ChangedMeanwhile, InUse, Store, read_owner

from .helpers import contents, files_of, fill, record


@pytest.fixture
def store(tmp_path: Path):
    with Store.create(tmp_path / "room") as opened:
        yield opened


def test_everything_is_there_after_closing_and_opening(tmp_path):
    with Store.create(tmp_path / "room") as store:
        fill(store)
        before = contents(store)
    with Store.open(tmp_path / "room") as store:
        assert contents(store) == before
        store.check()
        with store.read() as reader:
            log = reader.log("g1")
            assert (log.log.head, log.log.tip, log.revision) == ("c", "d", 6)
            assert [tail.tip for tail in log.log.tails()] == ["b"]
            assert reader.log("workroom").log.head is None
            assert reader.setting("unit") == "cm"
            assert reader.setting("absent", 7) == 7
            assert [one.key for one in reader.documents(subject="g1")] == ["k1"]
            assert [one.key for one in reader.documents("ticks")] == ["k2"]


def test_promised_pragmas_are_in_force(store):
    with store.write() as tx:
        ask = tx._connection.execute
        assert ask("PRAGMA journal_mode").fetchone()[0] == "wal"
        assert ask("PRAGMA synchronous").fetchone()[0] == 2  # FULL: sqlite.org/pragma.html#pragma_synchronous
        assert ask("PRAGMA foreign_keys").fetchone()[0] == 1


def test_a_block_that_raises_leaves_nothing_behind(store):
    fill(store)
    before = contents(store)

    def change_then_break(tx) -> None:
        tx.create_log("g2")
        tx.append("g2", record("x", None), expected_revision=0)
        tx.set_setting("unit", "inch")
        tx.drop_document("ticks", "k2")
        raise KeyError("oops")

    with pytest.raises(KeyError), store.write() as tx:
        change_then_break(tx)
    assert contents(store) == before
    with store.write() as tx:  # and the next one works
        tx.create_log("g2")


def test_two_windows_cannot_overwrite_each_other(store):
    with store.write() as tx:
        tx.create_log("g")
        tx.append("g", record("a", None), expected_revision=0)
    with store.read() as reader:
        mine, theirs = reader.head("g"), reader.head("g")
    with store.write() as tx:
        tx.append("g", record("b", mine.head), expected_revision=mine.revision)
    with pytest.raises(ChangedMeanwhile, match="Another window") as caught, store.write() as tx:
        tx.append("g", record("c", theirs.head), expected_revision=theirs.revision)
    assert (caught.value.data["expected"], caught.value.data["found"]) == (1, 2)
    assert isinstance(caught.value, ChangeConflict)
    with pytest.raises(ChangedMeanwhile), store.write() as tx:
        tx.move_head("g", None, "b", expected_revision=1)
    with store.read() as reader:
        assert [one.id for one in reader.log("g").log.current] == ["a", "b"]


def test_what_does_not_belong_on_a_history_is_refused(store):
    with store.write() as tx:
        tx.create_log("g")
        tx.append("g", record("a", None), expected_revision=0)
        tx.append("g", record("b", "a"), expected_revision=1)
    cases = [
        (ChangedMeanwhile, lambda tx: tx.append("g", record("c", "a"), expected_revision=2)),
        (BadInput, lambda tx: tx.append("g", record("a", "b"), expected_revision=2)),
        (NotFound, lambda tx: tx.append("zz", record("c", "b"), expected_revision=2)),
        (NotFound, lambda tx: tx.move_head("g", "zz", "b", expected_revision=2)),
        (NotFound, lambda tx: tx.move_head("g", "a", "zz", expected_revision=2)),
        (BadInput, lambda tx: tx.move_head("g", "b", "a", expected_revision=2)),
        (BadInput, lambda tx: tx.create_log("g")),
        (BadInput, lambda tx: tx.create_log("")),
        (BadInput, lambda tx: tx.put_document("lay", "", {})),
        (BadInput, lambda tx: tx.put_document("lay", "k", {"x": float("nan")})),
        (BadInput, lambda tx: tx.add_photo(b"", name="x", media_type="image/png")),
        (NotFound, lambda tx: tx.photo("0" * 64)),
        (BadInput, lambda tx: tx.photo("../../etc/passwd")),
    ]
    before = contents(store)
    for error, act in cases:
        with pytest.raises(error), store.write() as tx:
            act(tx)
    assert contents(store) == before


def test_the_database_itself_refuses_to_lose_a_record(store):
    fill(store)
    for sql in ("DELETE FROM records", "UPDATE records SET params = '{}'", "DELETE FROM logs"):
        with pytest.raises(sqlite3.IntegrityError), store.write() as tx:
            tx._connection.execute(sql)
    with pytest.raises(StoreTrouble, match="may not be written"), store.read() as reader:
        reader._connection.execute("INSERT INTO settings VALUES ('a', '1')")


def test_readers_see_one_state_while_a_writer_works(store):
    fill(store)
    with store.read() as reader:
        before = reader.head("g1")
        with store.write() as tx:
            tx.move_head("g1", "d", "d", expected_revision=before.revision)
        assert reader.head("g1") == before
    with store.read() as reader:
        assert reader.head("g1").head == "d"


def test_a_transaction_reads_its_own_writes_and_others_do_not(store):
    with store.write() as tx:
        tx.create_log("new")
        assert tx.head("new").revision == 0
        with store.read() as reader, pytest.raises(NotFound):
            reader.head("new")


def test_a_write_inside_a_write_is_a_mistake_and_does_not_hang(store):
    with pytest.raises(RuntimeError, match="inside a write"), store.write(), store.write():
        pass
    with store.write() as tx:
        tx.set_setting("x", 1)


def test_many_threads_lose_nothing(store):
    with store.write() as tx:
        tx.create_log("g")
    refused = []

    def work(name: str) -> None:
        for number in range(15):
            while True:
                with store.read() as reader:
                    head = reader.head("g")
                try:
                    with store.write() as tx:
                        tx.append("g", record(f"{name}{number}", head.head), expected_revision=head.revision)
                    break
                except ChangedMeanwhile:
                    refused.append(name)

    threads = [threading.Thread(target=work, args=(name,)) for name in "abcd"]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with store.read() as reader:
        stored = reader.log("g")
    assert stored.revision == 60
    assert {one.id for one in stored.log.current} == {
        f"{name}{number}" for name in "abcd" for number in range(15)
    }


# ---- photographs ----------------------------------------------------------------------------------------


def test_photos_lie_under_their_hash_whatever_their_name(store):
    data = b"picture"
    sha256 = hashlib.sha256(data).hexdigest()
    for name in ("../../../evil.jpg", "/etc/passwd", "C:\\con", "a\0b", "", "\N{ZERO WIDTH SPACE}"):
        with store.write() as tx:
            assert tx.add_photo(data, name=name, media_type="image/jpeg") == sha256
    assert sorted(path.name for path in store.folder.parent.iterdir()) == ["room"]
    with store.read() as reader:
        assert reader.photo_path(sha256) == store.folder / "photos" / sha256[:2] / sha256[2:]
        assert reader.photo_bytes(sha256) == data
        assert len(reader.photos()) == 1
        assert reader.photo(sha256).name == "../../../evil.jpg"  # the facts of the first time


def test_a_photo_is_on_disk_before_its_row_and_an_undone_row_leaves_an_orphan(store):
    sha256 = hashlib.sha256(b"orphan").hexdigest()

    def add_then_break(tx) -> None:
        assert tx.add_photo(b"orphan", name="o", media_type="image/png") == sha256
        assert (store.folder / "photos" / sha256[:2] / sha256[2:]).read_bytes() == b"orphan"
        raise KeyError

    with pytest.raises(KeyError), store.write() as tx:
        add_then_break(tx)
    with store.write() as tx:
        kept = tx.add_photo(b"kept", name="k", media_type="image/png")
    assert store.collect_orphans() == ()  # too young: an old database may have been put back by mistake
    assert store.collect_orphans(older_than_days=0) == (sha256,)
    store.check()
    with store.write() as tx:
        tx.forget_photo(kept)
    assert store.collect_orphans(older_than_days=0) == (kept,)


def test_a_missing_or_damaged_photo_is_named_and_mended_by_adding_it_again(store):
    with store.write() as tx:
        sha256 = tx.add_photo(b"picture", name="front.jpg", media_type="image/jpeg")
    path = store.folder / "photos" / sha256[:2] / sha256[2:]
    for spoil in (path.unlink, lambda: path.write_bytes(b"pictur!")):
        spoil()
        with store.read() as reader, pytest.raises(StoreTrouble, match=r"front\.jpg"):
            reader.photo_bytes(sha256)
        with pytest.raises(StoreTrouble, match=r"front\.jpg") as caught:
            store.check()
        assert len(caught.value.data["problems"]) == 1
        with store.write() as tx:
            tx.add_photo(b"picture", name="again.jpg", media_type="image/jpeg")
        store.check()


# ---- opening and owning ---------------------------------------------------------------------------------


def test_create_and_open_refuse_what_is_not_theirs(tmp_path):
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "letter.txt").write_text("dear")
    (tmp_path / "file").write_text("x")
    for call, folder, word in [
        (Store.create, "full", "not empty"), (Store.create, "file", "is a file"),
        (Store.open, "full", "no workroom"), (Store.open, "nowhere", "no workroom"),
    ]:  # fmt: skip
        with pytest.raises(StoreTrouble, match=word):
            call(tmp_path / folder)
    assert files_of(tmp_path / "full") == {"letter.txt": b"dear"}
    assert not (tmp_path / "nowhere").exists()
    Store.create(tmp_path / "room").close()
    with pytest.raises(StoreTrouble, match="already a workroom"):
        Store.create(tmp_path / "room")


def test_a_creation_that_was_cut_short_is_finished_by_opening(tmp_path):
    folder = tmp_path / "room"
    folder.mkdir()
    connection = sqlite3.connect(folder / "workroom.db", isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    connection.close()
    with Store.open(folder) as store:
        fill(store)
        store.check()


def test_another_programs_database_is_left_alone(tmp_path):
    connection = sqlite3.connect(tmp_path / "workroom.db")
    connection.execute("CREATE TABLE other (x)")
    connection.commit()
    connection.close()
    with pytest.raises(StoreTrouble, match="not the database of a workroom"):
        Store.open(tmp_path)


def test_one_process_owns_a_workroom_and_the_message_says_who(store):
    with pytest.raises(InUse, match="already open in this same process"):
        Store.open(store.folder)
    code = (
        "import sys\nfrom eke.store import Store\nfrom eke.errors import StoreTrouble\n"
        "try:\n    Store.open(sys.argv[1])\nexcept StoreTrouble as error:\n    print(error.message)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(store.folder)],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    owner = read_owner(store.folder)
    assert f"process {owner['pid']} on {owner['host']}, since {owner['since']}" in run.stdout
    assert run.stdout.count("\n") == 1
    store.close()
    store.close()
    with pytest.raises(StoreTrouble, match="has been closed"), store.read():
        pass
    with pytest.raises(StoreTrouble, match="has been closed"), store.write():
        pass
    with Store.open(store.folder):  # the lock is free, also for this process
        pass
