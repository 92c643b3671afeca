"""Write the dump and the contents of the newest schema version. Run from the top of the checkout."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
sys.path.insert(0, str(HERE.parents[1]))

from eke.changes import log_to_json  # noqa: E402
from eke.store import MIGRATIONS, Store  # noqa: E402
from eke.store.database import APPLICATION_ID  # noqa: E402
from store.helpers import fill  # noqa: E402


def main() -> None:
    version = len(MIGRATIONS)
    sql, held_file = HERE / f"v{version}.sql", HERE / f"v{version}.json"
    if sql.exists():
        raise SystemExit(f"{sql.name} is there already; the dump of a released version is never edited")
    with tempfile.TemporaryDirectory() as folder:
        with Store.create(Path(folder) / "room") as store:
            fill(store)
            with store.read() as reader:
                held = {
                    "logs": {one.id: [one.about, reader.log(one.id).revision, log_to_json(reader.log(one.id).log)]
                             for one in reader.heads()},
                    "documents": [[d.kind, d.key, d.subject, d.content, d.at] for d in reader.documents()],
                    "settings": reader.settings(),
                    "photos": [[p.sha256, p.name, p.media_type, p.bytes, p.width_px, p.height_px, p.meta, p.at]
                               for p in reader.photos()],
                }  # fmt: skip
        with contextlib.closing(sqlite3.connect(Path(folder) / "room" / "workroom.db")) as connection:
            # a dump leaves the numbers in the header out
            lines = ["PRAGMA foreign_keys=OFF;", f"PRAGMA application_id={APPLICATION_ID};",
                     f"PRAGMA user_version={version};", *connection.iterdump()]  # fmt: skip
    sql.write_text("\n".join(lines) + "\n", "utf-8")
    held_file.write_text(json.dumps(held, indent=1, ensure_ascii=False) + "\n", "utf-8")


if __name__ == "__main__":
    main()
