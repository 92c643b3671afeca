"""Killed at random moments, fifty times: everything that was answered is there."""

from __future__ import annotations

import random
import subprocess
import sys
import threading
import time
from pathlib import Path

from eke.store import Store

CHILD = Path(__file__).with_name("kill_child.py")
LIVES = 50
LONGEST_S = 0.25
"""Of saving, counted from the first answer of a life; a save takes a few milliseconds."""


def live_and_die(folder: Path, life: int, manner: str, after_s: float) -> list[tuple[str, str]]:
    """Run the child, kill it ``after_s`` after it has opened the workroom; return what it was answered."""
    child = subprocess.Popen(
        [sys.executable, str(CHILD), str(folder), str(life), manner], stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    opened = child.stdout.readline()
    assert opened.startswith("open"), "the child could not open the workroom after the last kill"
    lines: list[str] = []
    reader = threading.Thread(target=lambda: lines.extend(child.stdout))
    reader.start()
    time.sleep(after_s)
    child.kill()
    child.wait()
    reader.join()
    child.stdout.close()
    # a line cut off by the kill was not an answer
    return [tuple(line.split()[1:3]) for line in lines if line.startswith("saved") and line.endswith("\n")]


def lost(folder: Path, answered: list[tuple[str, str]]) -> list[str]:
    """Return which answered records or photographs are not there."""
    with Store.open(folder) as store, store.read() as reader:
        records = reader.log("g").log.records
        photos = {photo.sha256 for photo in reader.photos()}
        return [
            one
            for pair in answered
            for one, there in zip(pair, (records, photos), strict=True)
            if one not in there
        ]


def test_nothing_that_was_answered_is_lost_by_kills(tmp_path):
    folder = tmp_path / "room"
    with Store.create(folder) as store, store.write() as tx:
        tx.create_log("g")
    chance = random.Random(20260301)
    answered: list[tuple[str, str]] = []
    lives_with_answers = 0
    for life in range(LIVES):
        now = live_and_die(folder, life, "honest", chance.uniform(0, LONGEST_S))
        answered += now
        lives_with_answers += bool(now)
        assert lost(folder, now) == []
    assert lives_with_answers > LIVES / 2  # the kills really came in the middle of work
    assert lost(folder, answered) == []
    with Store.open(folder) as store:
        store.check()  # integrity_check, foreign keys, and every photograph against its hash
        with store.read() as reader:
            stored = reader.log("g")
            # at most the one save of each life whose answer did not get out
            assert len(answered) <= stored.revision <= len(answered) + LIVES
            assert len(reader.photos()) == stored.revision
            last = reader.document("last", "only")
            assert last is not None
            assert last.content["record"] == stored.log.head
        orphans = store.collect_orphans(older_than_days=0)
        assert len(orphans) <= LIVES  # each kill can leave one photograph without its row
        store.check()


def test_this_test_notices_a_child_that_answers_too_early(tmp_path):
    with Store.create(tmp_path / "room") as store, store.write() as tx:
        tx.create_log("g")
    answered = live_and_die(tmp_path / "room", 1, "boasting", 0.3)
    assert answered == [("1-0", "none")]
    assert lost(tmp_path / "room", answered) == ["1-0", "none"]
