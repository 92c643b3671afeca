"""What a maker does with a history: take back, do again, try a change; each with what it says to them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Generic, TypeVar

from eke.changes.kinds import Registry
from eke.changes.log import Log
from eke.changes.record import Record
from eke.changes.replay import ReplayCache, Replayed, StepResult, replay, sentence_of
from eke.changes.steps import Step, steps_of
from eke.errors import ChangeConflict

S = TypeVar("S")


@dataclass(frozen=True, slots=True)
class Moved:
    """The log after undo or redo, the record concerned and the sentence for the maker."""

    log: Log
    record: Record
    sentence: str


def undo(log: Log, registry: Registry[S]) -> Moved:
    """Return the log with its last record taken back. Raises ChangeConflict when there is none."""
    after = log.undo()
    record = log[str(log.head)]
    return Moved(after, record, f"Taken back: {sentence_of(log, registry, record)}.")


def redo(log: Log, registry: Registry[S]) -> Moved:
    """Return the log with the next undone record done again. Raises ChangeConflict when there is none."""
    after = log.redo()
    record = after[str(after.head)]
    return Moved(after, record, f"Done again: {sentence_of(log, registry, record)}.")


@dataclass(frozen=True, slots=True)
class Attempt(Generic[S]):
    """A change that could be applied: the new log, its state, and what it left without a place.

    ``newly_set_aside`` are later steps that were applied before and no longer are; ``restored`` those that
    were set aside before and are applied again.
    """

    log: Log
    replayed: Replayed[S]
    newly_set_aside: tuple[StepResult, ...]
    restored: tuple[StepResult, ...]


def attempt(
    log: Log,
    record: Record,
    registry: Registry[S],
    initial: S,
    cache: ReplayCache[S] | None = None,
    *,
    initial_key: str = "",
) -> Attempt[S]:
    """Append ``record`` and replay; refuse it when it would be set aside itself.

    Raises
    ------
    EkeError
        What the change itself raised (ChangeConflict, BadInput …), or ChangeConflict with the reason. The
        log that was passed in is untouched.
    """
    was = {step.id: step for step in replay(log, registry, initial, cache, initial_key=initial_key).steps}
    after = log.append(record)
    replayed = replay(after, registry, initial, cache, initial_key=initial_key)
    # an amendment or a switch is no step itself: what it speaks of has to work
    own = replayed.step(record.id) or replayed.step(str(record.params.get("target")))
    if own is not None and own.set_aside is not None:
        if own.error is not None:
            raise own.error
        raise ChangeConflict(own.set_aside, **own.data)
    lost = [
        s for s in replayed.steps if s.set_aside is not None and s.id in was and was[s.id].set_aside is None
    ]
    back = [s for s in replayed.steps if s.applied and s.id in was and was[s.id].set_aside is not None]
    return Attempt(after, replayed, tuple(lost), tuple(back))


@dataclass(frozen=True, slots=True)
class Altered:
    """One step that is in force at both heads, but not alike."""

    left: Step
    right: Step


@dataclass(frozen=True, slots=True)
class Between:
    """How two heads of a log differ.

    ``common`` is the last record that both share; ``only_left`` and ``only_right`` are the records after it.
    The last three compare what is in force: steps that only one has, and steps that both have with other
    params or switched differently.
    """

    common: str | None
    only_left: tuple[Record, ...]
    only_right: tuple[Record, ...]
    removed: tuple[Step, ...]
    added: tuple[Step, ...]
    altered: tuple[Altered, ...]

    @property
    def same(self) -> bool:
        """Whether the same steps are in force at both, in whatever way they got there."""
        return not (self.removed or self.added or self.altered)


def between(log: Log, left: str | None, right: str | None) -> Between:
    """Return how the state at ``right`` differs from the one at ``left``, as steps. Raises NotFound."""
    line_left, line_right = log.line(left), log.line(right)
    shared = 0
    while shared < min(len(line_left), len(line_right)) and line_left[shared].id == line_right[shared].id:
        shared += 1
    steps_left = {step.id: step for step in steps_of(line_left)}
    steps_right = {step.id: step for step in steps_of(line_right)}
    altered = [
        Altered(steps_left[one], step)
        for one, step in steps_right.items()
        if one in steps_left
        and (steps_left[one].on, steps_left[one].fingerprint) != (step.on, step.fingerprint)
    ]
    return Between(
        common=line_left[shared - 1].id if shared else None,
        only_left=line_left[shared:],
        only_right=line_right[shared:],
        removed=tuple(step for one, step in steps_left.items() if one not in steps_right),
        added=tuple(step for one, step in steps_right.items() if one not in steps_left),
        altered=tuple(altered),
    )
