"""What a line of records amounts to: the steps in force, after switching, amending and inserting.

Three kinds of record speak about other records and are understood here, not by replay:

``log.switch``  ``{"target": id, "on": bool}``
    A step no longer counts, or counts again.
``log.amend``   ``{"target": id, "params": {…}, "version": n}``
    A step goes on with other params, written in version ``n`` of its kind.
``log.insert``  ``{"before": id, "kind": name, "version": n, "params": {…}}``
    A new step takes its place just before another. The id of the step is the id of the inserting record.

Each is itself an appended record, so undoing it is a move of the head like any other.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, Final

from eke.changes.kinds import OWN_PREFIX
from eke.changes.log import Log
from eke.changes.record import Params, Record
from eke.errors import BadInput, ChangeConflict

SWITCH: Final = "log.switch"
AMEND: Final = "log.amend"
INSERT: Final = "log.insert"
OWN_VERSION: Final = 1
"""Version of the three kinds above."""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a replay: a record and what is in force of it.

    ``source`` is the record that the params in force come from: the record itself, or the last amendment.
    ``misfit`` is set when the record cannot even be placed: it speaks of a step that is not there, or of
    something this program does not understand.
    """

    record: Record
    kind: str
    version: int
    params: Params
    on: bool
    source: Record
    misfit: str | None = None

    @property
    def id(self) -> str:
        """Id of the record, and of the step."""
        return self.record.id

    @property
    def fingerprint(self) -> tuple[str, str, int, str]:
        """All that decides what the step does to a given state."""
        return self.id, self.kind, self.version, self.source.payload_digest(self.params)


def steps_of(records: Iterable[Record]) -> tuple[Step, ...]:
    """Return the steps in force after ``records`` (a line of a log), in the order in which they apply."""
    steps: list[Step] = []
    for record in records:
        if not record.kind.startswith(OWN_PREFIX):
            steps.append(Step(record, record.kind, record.version, record.params, True, record))
            continue
        try:
            _place(steps, record)
        except (BadInput, ChangeConflict) as error:
            steps.append(
                Step(record, record.kind, record.version, record.params, True, record, misfit=error.message)
            )
    return tuple(steps)


def _place(steps: list[Step], record: Record) -> None:
    """Let one record of the log's own kinds act on ``steps``."""
    if record.kind not in (SWITCH, AMEND, INSERT) or record.version > OWN_VERSION:
        raise ChangeConflict(
            f"The change “{record.kind}” was made by a newer Eke. It is kept as it is; a newer Eke can apply it."
        )
    params = record.params
    where = _position(steps, params.get("before" if record.kind == INSERT else "target"))
    if record.kind == SWITCH:
        on = params.get("on")
        if not isinstance(on, bool):
            raise BadInput("A switch has to say on or off.")
        steps[where] = replace(steps[where], on=on)
        return
    version, new_params = params.get("version"), params.get("params")
    if (
        not isinstance(version, int)
        or isinstance(version, bool)
        or version < 1
        or not isinstance(new_params, dict)
    ):
        raise BadInput("A changed or inserted step has to carry its params and their version.")
    if record.kind == AMEND:
        steps[where] = replace(steps[where], version=version, params=new_params, source=record)
        return
    kind = params.get("kind")
    if not isinstance(kind, str) or not kind or kind.startswith(OWN_PREFIX):
        raise BadInput("An inserted step has to be a change of the garment, not of its history.")
    steps.insert(where, Step(record, kind, version, new_params, True, record))


def _position(steps: list[Step], target: object) -> int:
    for where, step in enumerate(steps):
        if step.id == target and step.misfit is None:
            return where
    raise ChangeConflict(
        f"It speaks of the step {target}, which is not among the steps before it.",
        target=target,
        candidates=tuple(step.id for step in steps),
    )


def _checked(log: Log, record: Record) -> Record:
    """Return ``record`` when it can act on the present steps; raise what keeps it from that otherwise."""
    _place(list(steps_of(log.current)), record)
    return record


def switch(log: Log, id: str, target: str, on: bool, **facts: str) -> Record:  # noqa: A002 - the record's own word
    """Return the record that switches the step ``target`` on or off, to be appended to ``log``.

    ``facts`` are ``note``, ``at`` and ``app_version`` of the record. Raises ChangeConflict when ``target``
    is no step of the present state, with the ids of those that are.
    """
    return _checked(log, Record(id, log.head, SWITCH, OWN_VERSION, {"target": target, "on": on}, **facts))


def amend(log: Log, id: str, target: str, params: Params, version: int, **facts: str) -> Record:  # noqa: A002
    """Return the record that gives the step ``target`` other ``params``, written in ``version`` of its kind.

    Raises ChangeConflict when ``target`` is no step of the present state.
    """
    told: dict[str, Any] = {"target": target, "params": dict(params), "version": version}
    return _checked(log, Record(id, log.head, AMEND, OWN_VERSION, told, **facts))


def insert(
    log: Log,
    id: str,  # noqa: A002
    before: str,
    kind: str,
    version: int,
    params: Params,
    **facts: str,
) -> Record:
    """Return the record that puts a new step of ``kind`` just before the step ``before``.

    Raises ChangeConflict when ``before`` is no step of the present state, BadInput when ``kind`` is one of the
    log's own.
    """
    told: dict[str, Any] = {"before": before, "kind": kind, "version": version, "params": dict(params)}
    return _checked(log, Record(id, log.head, INSERT, OWN_VERSION, told, **facts))
