"""Taking back, doing again, switching off and amending: the same for a garment and for the workroom."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from eke.actions.room import Done, Room, find_garment, new_id, now
from eke.changes import (
    Log,
    Moved,
    Record,
    Registry,
    StepResult,
    amend,
    insert,
    redo,
    sentence_of,
    steps_of,
    switch,
    undo,
)
from eke.cloth import Shelf
from eke.errors import ChangeConflict
from eke.store import Reader, Transaction


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
    kind: str = ""
    params: Mapping[str, Any] = field(default_factory=dict, compare=False)


@dataclass(frozen=True, slots=True)
class Back:
    """What taking back and doing again would do now, each in a sentence without a full stop; or nothing."""

    undo: str | None
    redo: str | None


def take_back(room: Room, garment: str | None = None, *, expected: int | None = None) -> Done:
    """Take back the last change of a garment, or of the workroom where no garment is named.

    ``expected`` is the revision that the maker was looking at; without it the newest is meant.

    Raises
    ------
    ChangeConflict
        When there is nothing to take back, or an offcut of a confirmed cut has since been used.
    """
    return _move(room, garment, undo, expected)


def do_again(room: Room, garment: str | None = None, *, expected: int | None = None) -> Done:
    """Do again what was taken back last."""
    return _move(room, garment, redo, expected)


def ways_back(room: Room, garment: str | None = None) -> Back:
    """Return what :func:`take_back` and :func:`do_again` would do now."""
    return _ways(room, room.stored(garment).log, garment)


def _ways(room: Room, log: Log, garment: str | None) -> Back:
    kinds = _kinds(room, garment)
    undone = log.undone
    return Back(
        None if log.head is None else sentence_of(log, kinds, log[log.head]),
        sentence_of(log, kinds, undone[0]) if undone else None,
    )


def switch_change(
    room: Room, change_id: str, on: bool, garment: str | None = None, *, expected: int | None = None
) -> Done:
    """Switch one step off, or on again; itself a change that can be taken back."""
    return _speak(room, garment, lambda log, **facts: switch(log, new_id(), change_id, on, **facts), expected)


def amend_change(
    room: Room,
    change_id: str,
    params: Mapping[str, Any],
    garment: str | None = None,
    *,
    expected: int | None = None,
) -> Done:
    """Give one step other numbers; those not named stay."""

    def make(log: Log, **facts: str) -> Record:
        found = next((s for s in steps_of(log.current) if s.id == change_id), None)
        if found is None:
            raise ChangeConflict(f"There is no step {change_id} in this history.", candidates=())
        return amend(log, new_id(), change_id, {**found.params, **params}, found.version, **facts)

    return _speak(room, garment, make, expected)


def insert_change(room: Room, before: str, kind: str, params: Mapping[str, Any], garment: str) -> Done:
    """Put a new step of a garment's history just before another one."""
    version = room.garment_kinds.kind(kind, 1).version
    return _speak(
        room, garment, lambda log, **facts: insert(log, new_id(), before, kind, version, params, **facts)
    )


def history(room: Room, garment: str | None = None) -> tuple[Line, ...]:
    """Return the steps in force, oldest first, then what was taken back and can be done again."""
    return told(room, garment).lines


@dataclass(frozen=True, slots=True)
class Told:
    """A history at one revision: its steps, and the ways back and on from there."""

    revision: int
    lines: tuple[Line, ...]
    back: Back


def told(room: Room, garment: str | None = None) -> Told:
    """Return a whole history as a maker reads it, of a garment or of the workroom where none is named."""
    with room.store.read() as reader:
        stored, name = room.stored(garment, reader), _name(room, garment, reader)
    results = list(room.replayed(stored, name).steps)
    known = {step.id for step in results}
    log = stored.log
    if log.head != log.tip:
        ahead = room.replay_of(Log(log.records, log.tip, log.tip), name)
        results += [step for step in ahead.steps if step.id not in known]
    lines = tuple(line_of(step, step.id not in known) for step in results)
    return Told(stored.revision, lines, _ways(room, log, garment))


def line_of(step: StepResult, undone: bool) -> Line:
    """Return what became of a step as a line of a history."""
    record = step.record
    return Line(
        step.id,
        step.sentence,
        record.at,
        step.on,
        step.set_aside,
        record.note,
        undone,
        step.kind,
        step.params,
    )


def _kinds(room: Room, garment: str | None) -> Registry[Any]:
    return room.workroom_kinds if garment is None else room.garment_kinds


def _name(room: Room, garment: str | None, reader: Reader) -> str | None:
    return None if garment is None else find_garment(room.shelf(reader), garment)[1].name


def _move(
    room: Room, garment: str | None, step: Callable[[Log, Registry[Any]], Moved], expected: int | None
) -> Done:
    with room.store.write() as tx:
        stored, name = room.stored(garment, tx), _name(room, garment, tx)
        room.expect(stored, expected)
        before = room.replayed(stored, name)
        moved = step(stored.log, _kinds(room, garment))
        after = room.replay_of(moved.log, name)
        if garment is None:
            _refuse_orphans(room, tx, before.state, after.state)
        revision = tx.move_head(stored.id, moved.log.head, moved.log.tip, expected_revision=stored.revision)
        room.note_said(stored.id, revision, moved.sentence)
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


def _speak(room: Room, garment: str | None, make: Callable[..., Record], expected: int | None = None) -> Done:
    with room.store.write() as tx:
        stored, name = room.stored(garment, tx), _name(room, garment, tx)
        room.expect(stored, expected)
        record = make(stored.log, at=now())
        kinds: Registry[Any] = _kinds(room, garment)
        tried = room.attempt_of(stored.log, record, name)
        if garment is None:
            _refuse_orphans(room, tx, room.replayed(stored, name).state, tried.replayed.state)
            _refuse_uncut(tried.newly_set_aside)
        revision = tx.append(stored.id, record, expected_revision=stored.revision)
        sentence = f"{sentence_of(tried.log, kinds, record)}."
        room.note_said(stored.id, revision, sentence)
        lost = tuple(f"{s.sentence}: {s.set_aside}" for s in tried.newly_set_aside)
        return Done(record.id, sentence, revision, lost)
