"""Taking back, doing again, switching off and amending: the same for a garment and for the workroom."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from eke.actions.room import WORKROOM_LOG, Done, Room, find_garment, new_id, now
from eke.changes import (
    Log,
    Moved,
    Record,
    Registry,
    StepResult,
    amend,
    attempt,
    insert,
    redo,
    replay,
    sentence_of,
    switch,
    undo,
)
from eke.cloth import Shelf
from eke.errors import ChangeConflict
from eke.pattern.model import Pattern
from eke.store import StoredLog, Transaction


@dataclass(frozen=True, slots=True)
class Line:
    """One step of a history as a maker reads it."""

    id: str
    sentence: str
    at: str
    on: bool
    set_aside: str | None
    note: str
    undone: bool = False


def take_back(room: Room, garment: str | None = None) -> Done:
    """Take back the last change of a garment, or of the workroom where no garment is named.

    Raises
    ------
    ChangeConflict
        When there is nothing to take back, or an offcut of a confirmed cut has since been used.
    """
    return _move(room, garment, undo)


def do_again(room: Room, garment: str | None = None) -> Done:
    """Do again what was taken back last."""
    return _move(room, garment, redo)


def switch_change(room: Room, change_id: str, on: bool, garment: str | None = None) -> Done:
    """Switch one step off, or on again; itself a change that can be taken back."""
    return _speak(room, garment, lambda log, **facts: switch(log, new_id(), change_id, on, **facts))


def amend_change(room: Room, change_id: str, params: Mapping[str, Any], garment: str | None = None) -> Done:
    """Give one step other numbers; those not named stay."""

    def make(log: Log, **facts: str) -> Record:
        found = {s.id: s for s in _steps(room, log, garment)}.get(change_id)
        if found is None:
            raise ChangeConflict(f"There is no step {change_id} in this history.", candidates=())
        return amend(log, new_id(), change_id, {**found.params, **params}, found.version, **facts)

    return _speak(room, garment, make)


def insert_change(room: Room, before: str, kind: str, params: Mapping[str, Any], garment: str) -> Done:
    """Put a new step of a garment's history just before another one."""
    version = room.garment_kinds.kind(kind, 1).version
    return _speak(
        room, garment, lambda log, **facts: insert(log, new_id(), before, kind, version, params, **facts)
    )


def history(room: Room, garment: str | None = None) -> tuple[Line, ...]:
    """Return the steps in force, oldest first, then what was taken back and can be done again."""
    with room.store.read() as reader:
        stored = _stored(room, reader, garment)
    registry, initial = _of(room, garment)
    replayed = replay(stored.log, registry, initial)
    lines = [Line(s.id, s.sentence, s.record.at, s.on, s.set_aside, s.record.note) for s in replayed.steps]
    ahead = replay(Log(stored.log.records, stored.log.tip, stored.log.tip), registry, initial)
    known = {line.id for line in lines}
    lines += [
        Line(s.id, s.sentence, s.record.at, s.on, s.set_aside, s.record.note, undone=True)
        for s in ahead.steps
        if s.id not in known
    ]
    return tuple(lines)


def _of(room: Room, garment: str | None) -> tuple[Registry[Any], Any]:
    if garment is None:
        return room.workroom_kinds, Shelf()
    return room.garment_kinds, Pattern(find_garment(room.shelf(), garment)[1].name)


def _stored(room: Room, reader: Any, garment: str | None) -> StoredLog:
    log_id = WORKROOM_LOG if garment is None else find_garment(room.shelf(reader), garment)[1].id
    found: StoredLog = reader.log(log_id)
    return found


def _steps(room: Room, log: Log, garment: str | None) -> tuple[Any, ...]:
    registry, initial = _of(room, garment)
    return replay(log, registry, initial).steps


def _move(room: Room, garment: str | None, step: Callable[[Log, Registry[Any]], Moved]) -> Done:
    registry, initial = _of(room, garment)
    with room.store.write() as tx:
        stored = _stored(room, tx, garment)
        before = replay(stored.log, registry, initial)
        moved = step(stored.log, registry)
        after = replay(moved.log, registry, initial)
        if garment is None:
            _refuse_orphans(room, tx, before.state, after.state)
        revision = tx.move_head(stored.id, moved.log.head, moved.log.tip, expected_revision=stored.revision)
        was_applied = {s.id for s in before.steps if s.applied}
        lost = tuple(f"{s.sentence}: {s.set_aside}" for s in after.set_aside if s.id in was_applied)
        return Done(moved.record.id, moved.sentence, revision, lost)


def _refuse_orphans(room: Room, tx: Transaction, before: Shelf, after: Shelf) -> None:
    """A garment that has a history of its own may not lose its entry in the workroom silently."""
    gone = {g.id: g.name for p in before.projects.values() for g in p.garments}
    left = {g.id for p in after.projects.values() for g in p.garments}
    for garment_id, name in gone.items():
        if garment_id not in left and tx.log(garment_id).log.current:
            raise ChangeConflict(
                f"This would take “{name}” out of the workroom, and its pattern has a history of its own. Nothing was "
                "changed. Take back the steps of the garment first.",
                garment=garment_id,
            )


def _refuse_uncut(lost: Sequence[StepResult]) -> None:
    """Cloth that has been cut stays cut: no other step may take the ground from under a confirmed cut."""
    cuts = [step for step in lost if step.kind == "cut.confirm"]
    if cuts:
        raise ChangeConflict(
            f"This would undo what came after it: {cuts[0].sentence}. That cloth has been cut. Nothing was changed. "
            "Take that cut back first.",
            steps=tuple(step.id for step in cuts),
        )


def _speak(room: Room, garment: str | None, make: Callable[..., Record]) -> Done:
    registry, initial = _of(room, garment)
    with room.store.write() as tx:
        stored = _stored(room, tx, garment)
        record = make(stored.log, at=now())
        tried = attempt(stored.log, record, registry, initial)
        if garment is None:
            before = replay(stored.log, registry, initial).state
            _refuse_orphans(room, tx, before, tried.replayed.state)
            _refuse_uncut(tried.newly_set_aside)
        revision = tx.append(stored.id, record, expected_revision=stored.revision)
        lost = tuple(f"{s.sentence}: {s.set_aside}" for s in tried.newly_set_aside)
        return Done(record.id, f"{sentence_of(tried.log, registry, record)}.", revision, lost)
