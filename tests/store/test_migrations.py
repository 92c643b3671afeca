"""From every released version to now, and what happens when a step goes wrong on the way."""

from __future__ import annotations

import contextlib
import json
import sqlite3
from pathlib import Path

import pytest

from eke.changes import log_to_json
from eke.errors import StoreTrouble
from eke.store import MIGRATIONS, Damaged, Migration, Store
from eke.store.migrations import check_numbers

from .helpers import contents, fill

VERSIONS = sorted(Path(__file__).with_name("versions").glob("v*.sql"))
NEXT = len(MIGRATIONS) + 1
LATER = (
    *MIGRATIONS,
    Migration(
        NEXT,
        "a wish list",
        ("CREATE TABLE wishes (id TEXT PRIMARY KEY)", "INSERT INTO wishes VALUES ('silk')"),
    ),
)
BROKEN = (*LATER, Migration(NEXT + 1, "a slip", ("DROP TABLE wishes", "CREATE TABLE wishes (nonsense")))


def build(dump: Path, folder: Path) -> None:
    """Make the database of an old release from its dump."""
    folder.mkdir()
    with contextlib.closing(sqlite3.connect(folder / "workroom.db")) as connection:
        connection.executescript(dump.read_text("utf-8"))


def test_there_is_a_dump_of_every_released_version():
    assert [path.stem for path in VERSIONS] == [f"v{one.number}" for one in MIGRATIONS]


@pytest.mark.parametrize("dump", VERSIONS, ids=lambda path: path.stem)
def test_a_workroom_of_every_release_opens_with_all_that_it_holds(dump, tmp_path):
    build(dump, tmp_path / "room")
    with Store.open(tmp_path / "room") as store:
        store_now = store
        with store.read() as reader:
            held = {
                "logs": {one.id: [one.about, reader.log(one.id).revision, log_to_json(reader.log(one.id).log)]
                         for one in reader.heads()},
                "documents": [[d.kind, d.key, d.subject, d.content, d.at] for d in reader.documents()],
                "settings": reader.settings(),
                "photos": [[p.sha256, p.name, p.media_type, p.bytes, p.width_px, p.height_px, p.meta, p.at]
                           for p in reader.photos()],
            }  # fmt: skip
        assert held == json.loads(dump.with_suffix(".json").read_text("utf-8"))
        # and goes on living
        with store_now.write() as tx:
            tx.move_head("g1", None, "d", expected_revision=tx.head("g1").revision)
    copies = list((tmp_path / "room").glob("copies/*.db"))
    assert len(copies) == (0 if dump.stem == f"v{len(MIGRATIONS)}" else 1)


def test_the_newest_dump_is_what_creating_makes_now(tmp_path):
    build(VERSIONS[-1], tmp_path / "old")
    Store.create(tmp_path / "new").close()
    schemas = []
    for name in ("old", "new"):
        with contextlib.closing(sqlite3.connect(tmp_path / name / "workroom.db")) as connection:
            rows = connection.execute(
                "SELECT type, name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite_%'"
            )
            schemas.append({(kind, called): " ".join((sql or "").split()) for kind, called, sql in rows})
    assert schemas[0] == schemas[1]


def test_a_copy_is_made_before_the_first_step(tmp_path):
    with Store.create(tmp_path / "room") as store:
        fill(store)
        before = contents(store)
    with Store.open(tmp_path / "room", migrations=LATER) as store:
        assert contents(store) == before
        copy = store.migrated_from
        assert copy is not None
        assert copy.parent == tmp_path / "room" / "copies"
    with contextlib.closing(sqlite3.connect(copy)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone()[0] == len(MIGRATIONS)
        assert connection.execute("SELECT count(*) FROM records").fetchone()[0] == 4
        assert connection.execute("PRAGMA integrity_check").fetchone()[0] == "ok"
    with Store.open(tmp_path / "room", migrations=LATER) as store:
        assert store.migrated_from is None
    # and it is named when the database is damaged later
    with (tmp_path / "room" / "workroom.db").open("r+b") as stream:
        stream.write(b"spoilt header")
    with pytest.raises(Damaged) as caught:
        Store.open(tmp_path / "room", migrations=LATER)
    assert str(copy) in caught.value.message


def test_a_step_that_breaks_leaves_the_version_before_it(tmp_path):
    with Store.create(tmp_path / "room") as store:
        fill(store)
        before = contents(store)
    with pytest.raises(StoreTrouble, match=f"left at version {NEXT}, with all that it holds"):
        Store.open(tmp_path / "room", migrations=BROKEN)
    with Store.open(tmp_path / "room", migrations=LATER) as store:
        assert contents(store) == before
        with store.read() as reader:
            assert reader._connection.execute("SELECT id FROM wishes").fetchall() == [("silk",)]


def test_a_step_that_leaves_loose_ends_is_undone(tmp_path):
    with Store.create(tmp_path / "room") as store:
        fill(store)
        before = contents(store)
    loose = (
        *MIGRATIONS,
        Migration(NEXT, "cut", ("DROP TRIGGER records_stay", "DELETE FROM records WHERE id = 'a'")),
    )
    with pytest.raises(StoreTrouble, match=f"left at version {len(MIGRATIONS)}"):
        Store.open(tmp_path / "room", migrations=loose)
    with Store.open(tmp_path / "room") as store:
        assert contents(store) == before
        with pytest.raises(sqlite3.IntegrityError), store.write() as tx:  # the trigger is back
            tx._connection.execute("DELETE FROM records")


def test_a_newer_database_is_refused_and_left_alone(tmp_path):
    with Store.create(tmp_path / "room", migrations=LATER) as store:
        fill(store)
    before = (tmp_path / "room" / "workroom.db").read_bytes()
    with pytest.raises(StoreTrouble, match=f"newer Eke .*version {NEXT}.* knows {len(MIGRATIONS)}"):
        Store.open(tmp_path / "room")
    assert (tmp_path / "room" / "workroom.db").read_bytes() == before


def test_numbers_have_no_gaps():
    check_numbers(MIGRATIONS)
    with pytest.raises(ValueError, match="without gaps"):
        check_numbers([Migration(2, "", ())])
