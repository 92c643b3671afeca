"""A log as JSON, ``eke-log-1``: records in the order in which they were appended, the head and the tip."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

from eke.changes.log import Log
from eke.changes.record import Record, plain
from eke.errors import BadInput

LOG_FORMAT: Final = "eke-log-1"


def record_to_json(record: Record) -> dict[str, Any]:
    """Return one record as a plain JSON table, its params copied."""
    return {
        "id": record.id,
        "parent": record.parent,
        "kind": record.kind,
        "version": record.version,
        "params": plain(record.params),
        "note": record.note,
        "at": record.at,
        "app_version": record.app_version,
    }


def record_from_json(data: object) -> Record:
    """Return the record that :func:`record_to_json` wrote. Raises BadInput naming what is missing."""
    if not isinstance(data, Mapping):
        raise BadInput("A change in the history is no JSON table.")
    missing = [name for name in ("id", "kind", "version", "params") if name not in data]
    if missing:
        raise BadInput(f"A change in the history lacks {', '.join(missing)}.")
    return Record(
        data["id"], data.get("parent"), data["kind"], data["version"], data["params"],
        data.get("note", ""), data.get("at", ""), data.get("app_version", ""),
    )  # fmt: skip


def log_to_json(log: Log) -> dict[str, Any]:
    """Return the whole log, tails included, as ``eke-log-1``."""
    return {
        "format": LOG_FORMAT,
        "head": log.head,
        "tip": log.tip,
        "records": [record_to_json(record) for record in log.records.values()],
    }


def log_from_json(data: object) -> Log:
    """Return the log of an ``eke-log-1`` table.

    Raises
    ------
    BadInput
        When it is another format, a newer version of it, or does not hang together.
    """
    found = data.get("format") if isinstance(data, Mapping) else None
    if not isinstance(data, Mapping) or found != LOG_FORMAT:
        raise BadInput(
            f"This is no history that this Eke can read: it says “{found}”, and “{LOG_FORMAT}” is needed."
        )
    records = data.get("records")
    if not isinstance(records, list):
        raise BadInput("The history holds no list of changes.")
    return Log.from_records((record_from_json(one) for one in records), data.get("head"), data.get("tip"))
