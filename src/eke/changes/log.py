"""The append-only log of changes, as a value: records, the head, and the tip that redo goes towards.

Words
-----
head
    The record that the present state ends with; None before the first.
tip
    The record that redo leads to; the head lies on the way to it.
line
    The records from the first one to a given one, parent by parent.
tail
    Records that are not on the line of the tip: what was undone before something else was done. Kept, and
    reachable by :meth:`Log.set_head`.

Undo and redo move the head only. Nothing is ever removed from a log, and every call returns a new value.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from eke.changes.record import Record
from eke.errors import BadInput, ChangeConflict, NotFound


@dataclass(frozen=True, slots=True)
class Tail:
    """A side branch: it leaves the current line after ``fork`` (None: at the very start) and ends at ``tip``."""

    fork: str | None
    tip: str
    records: tuple[Record, ...]


def _no_records() -> Mapping[str, Record]:
    return MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Log:
    """An append-only log. Make an empty one with ``Log()``; read a stored one with :meth:`from_records`."""

    records: Mapping[str, Record] = field(default_factory=_no_records)
    head: str | None = None
    tip: str | None = None

    @classmethod
    def from_records(cls, records: Iterable[Record], head: str | None, tip: str | None) -> Log:
        """Return the log that holds ``records`` (in the order in which they were appended).

        Raises
        ------
        BadInput
            When an id appears twice, a parent does not come before its child, or the head is not on the line
            of the tip.
        """
        held: dict[str, Record] = {}
        for record in records:
            if record.id in held:
                raise BadInput(f"The history is damaged: it holds two changes with the id {record.id}.")
            if record.parent is not None and record.parent not in held:
                raise BadInput(
                    f"The history is damaged: the change {record.id} follows {record.parent}, which is not there.",
                    id=record.id,
                    parent=record.parent,
                )
            held[record.id] = record
        for name, mark in (("head", head), ("tip", tip)):
            if mark is not None and mark not in held:
                raise BadInput(f"The history is damaged: its {name} is {mark}, which is not there.")
        log = cls(MappingProxyType(held), head, tip)
        if head is not None and head not in log._ids_to(tip):
            raise BadInput(
                f"The history is damaged: its head {head} does not lie on the way to its tip {tip}."
            )
        return log

    def __len__(self) -> int:
        return len(self.records)

    def __contains__(self, record_id: object) -> bool:
        return record_id in self.records

    def __getitem__(self, record_id: str) -> Record:
        try:
            return self.records[record_id]
        except KeyError:
            raise NotFound(f"There is no change {record_id} in this history.", id=record_id) from None

    # ---- looking ---------------------------------------------------------------------------------------

    def _ids_to(self, record_id: str | None) -> dict[str, None]:
        """Return the ids from ``record_id`` back to the first (an ordered set)."""
        ids: dict[str, None] = {}
        while record_id is not None:
            ids[record_id] = None
            record_id = self[record_id].parent
        return ids

    def line(self, record_id: str | None) -> tuple[Record, ...]:
        """Return the records from the first one to ``record_id``; none for None."""
        return tuple(self.records[one] for one in reversed(self._ids_to(record_id)))

    @property
    def current(self) -> tuple[Record, ...]:
        """The line of the head: what has been done and not taken back."""
        return self.line(self.head)

    @property
    def undone(self) -> tuple[Record, ...]:
        """What redo would do, next first."""
        below = self._ids_to(self.head)
        return tuple(record for record in self.line(self.tip) if record.id not in below)

    def tails(self) -> tuple[Tail, ...]:
        """Return every branch beside the current line, in the order in which they were left.

        Records shared by two branches appear with each of them, so that every tail can be read by itself.
        """
        on_line = self._ids_to(self.tip)
        parents = {record.parent for record in self.records.values()}
        tails = []
        for record in self.records.values():
            if record.id in on_line or record.id in parents:
                continue
            beside = [one for one in self.line(record.id) if one.id not in on_line]
            tails.append(Tail(beside[0].parent, record.id, tuple(beside)))
        return tuple(tails)

    # ---- moving ----------------------------------------------------------------------------------------

    def append(self, record: Record) -> Log:
        """Return the log with ``record`` on top of the head; the head and tip move to it.

        What had been undone becomes a tail.

        Raises
        ------
        BadInput
            When the id is taken.
        ChangeConflict
            When ``record.parent`` is not the head: it was made on top of another state.
        """
        if record.id in self.records:
            raise BadInput(f"There is already a change with the id {record.id}.", id=record.id)
        if record.parent != self.head:
            raise ChangeConflict(
                "This change was made on top of an older state of the history, so it was not added. "
                "Look at the present state and do it again.",
                id=record.id,
                parent=record.parent,
                head=self.head,
            )
        return Log(MappingProxyType({**self.records, record.id: record}), record.id, record.id)

    def undo(self) -> Log:
        """Return the log with the head moved to its parent. Raises ChangeConflict when nothing is left."""
        if self.head is None:
            raise ChangeConflict("There is nothing to take back: this is the beginning.")
        return Log(self.records, self.records[self.head].parent, self.tip)

    def redo(self) -> Log:
        """Return the log with the head moved one towards the tip. Raises ChangeConflict when it is there."""
        undone = self.undone
        if not undone:
            raise ChangeConflict("There is nothing to do again: nothing has been taken back.")
        return Log(self.records, undone[0].id, self.tip)

    def set_head(self, record_id: str | None) -> Log:
        """Return the log with the head at any record, or at the beginning (None).

        On the current line the tip stays. On a tail the tip becomes the newest end that can be reached from
        there, so that redo goes on along that tail. Raises NotFound for an id that is not there.
        """
        if record_id is None:
            return Log(self.records, None, self.tip)
        if self[record_id].id in self._ids_to(self.tip):
            return Log(self.records, record_id, self.tip)
        reachable = {record_id}
        tip = record_id
        for record in self.records.values():  # parents come before their children
            if record.parent in reachable:
                reachable.add(record.id)
                tip = record.id
        return Log(self.records, record_id, tip)
