"""The append-only log of changes: replay, switch off, amend, insert, set aside, cache.

Generic and pure. It knows nothing of what a change does: kinds of change come in a :class:`Registry` that
the caller builds. A day in the life::

    log = Log()
    record = Record(new_id, log.head, "fit.take_in", 1, {"seam": "side", "by_mm": 8.0}, at=now)
    tried = attempt(log, record, registry, initial, cache)       # raises when it does not fit
    log, state = tried.log, tried.replayed.state
    log = attempt(log, amend(log, other_id, record.id, {"seam": "side", "by_mm": 6.0}, 1), …).log
    moved = undo(log, registry)                                  # moved.sentence: "Taken back: …"
"""

from eke.changes.kinds import ChangeKind, Context, Registry, reading
from eke.changes.log import Log, Tail
from eke.changes.moves import Altered, Attempt, Between, Moved, attempt, between, redo, undo
from eke.changes.record import Record, canonical, child_id, digest, plain
from eke.changes.replay import ReplayCache, Replayed, StepResult, replay, sentence_of, trail
from eke.changes.serial import LOG_FORMAT, log_from_json, log_to_json, record_from_json, record_to_json
from eke.changes.steps import Step, amend, insert, steps_of, switch

__all__ = [
    "LOG_FORMAT",
    "Altered",
    "Attempt",
    "Between",
    "ChangeKind",
    "Context",
    "Log",
    "Moved",
    "Record",
    "Registry",
    "ReplayCache",
    "Replayed",
    "Step",
    "StepResult",
    "Tail",
    "amend",
    "attempt",
    "between",
    "canonical",
    "child_id",
    "digest",
    "insert",
    "log_from_json",
    "log_to_json",
    "plain",
    "reading",
    "record_from_json",
    "record_to_json",
    "redo",
    "replay",
    "sentence_of",
    "steps_of",
    "switch",
    "trail",
    "undo",
]
