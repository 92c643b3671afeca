"""The workroom on disk, and the only SQL: one database, photographs by content, backup, migrations.

::

    with Store.create(folder) as store:
        with store.write() as tx:
            tx.create_log(garment_id, "garment")
            revision = tx.append(garment_id, record, expected_revision=0)
            sha256 = tx.add_photo(data, name="front.jpg", media_type="image/jpeg")
        with store.read() as reader:
            log = reader.log(garment_id).log
        backup(store, file)
"""

from eke.store.backup import BACKUP_FORMAT, Backup, backup, restore
from eke.store.migrations import MIGRATIONS, Migration
from eke.store.owner import read_owner
from eke.store.rows import Document, LogHead, Photo, Reader, StoredLog
from eke.store.trouble import ChangedMeanwhile, Damaged, InUse
from eke.store.workroom import Store
from eke.store.writing import Committed, Transaction

__all__ = [
    "BACKUP_FORMAT",
    "MIGRATIONS",
    "Backup",
    "ChangedMeanwhile",
    "Committed",
    "Damaged",
    "Document",
    "InUse",
    "LogHead",
    "Migration",
    "Photo",
    "Reader",
    "Store",
    "StoredLog",
    "Transaction",
    "backup",
    "read_owner",
    "restore",
]
