"""A process that saves for as long as it lives, and says after each commit what it was answered.

Arguments: the folder, a number for this life, and ``honest``, or ``boasting`` to answer before committing (the
test has to notice that).
"""

from __future__ import annotations

import random
import sys
import time

from eke.changes import Record
from eke.store import Store


def say(*words: str) -> None:
    sys.stdout.write(" ".join(words) + "\n")
    sys.stdout.flush()


def main(folder: str, life: str, manner: str) -> None:
    chance = random.Random(int(life))
    with Store.open(folder) as store:
        with store.read() as reader:
            head = reader.head("g")
        say("open", str(head.revision))
        parent, revision = head.head, head.revision
        for number in range(10_000):
            record = Record(
                f"{life}-{number}", parent, "stick.add", 1, {"text": "x" * chance.randrange(3000)}
            )
            data = f"{life}-{number}-".encode() + chance.randbytes(chance.randrange(40_000))
            if manner == "boasting":
                say("saved", record.id, "none")
                time.sleep(60)
            with store.write() as tx:
                sha256 = tx.add_photo(data, name=record.id, media_type="image/png")
                revision = tx.append("g", record, expected_revision=revision)
                tx.put_document("last", "only", {"record": record.id, "photo": sha256})
            say("saved", record.id, sha256)
            parent = record.id


if __name__ == "__main__":
    main(*sys.argv[1:])
