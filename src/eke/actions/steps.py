"""One step of a garment's history before and after, and small pictures of all of them.

The history is replayed once; every step finds the pattern before and after it on that trail, as the history
stands now: with what was amended since, without what was switched off.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from eke.actions.history import Line, line_of
from eke.actions.previews import Changed, Standing, changes_between
from eke.actions.room import Room, Trail, find_garment
from eke.actions.sketches import Sketch, before_after
from eke.changes import StepResult
from eke.cloth import Garment
from eke.errors import NotFound
from eke.pattern.model import Pattern

WITH_RULER: Final = frozenset({"fit.take_in", "fit.add_dart"})
"""Kinds of change that can be drawn with a ruler on the paper pattern."""
WITHOUT_PICTURE: Final = ("fact.", "measure.", "finding.", "pattern.rename", "mockup.", "piece.cuts")
"""Kinds of change that move no line."""


@dataclass(frozen=True, slots=True)
class ShownStep:
    """A step with the pattern around it; ``ruler``: it can be drawn with a ruler on paper."""

    line: Line
    before: Standing
    after: Standing
    changes: tuple[Changed, ...]
    ruler: bool


def shown_step(room: Room, garment: str, change_id: str) -> ShownStep:
    """Return one step of a garment's history, in force or taken back, before and after.

    Raises
    ------
    NotFound
        When there is no such step.
    """
    _, here = find_garment(room.shelf(), garment)
    trail, ahead = _trails(room, here.id)
    undone = {step.id for step, _ in ahead} - {step.id for step, _ in trail}
    for one in (trail, ahead):
        for before, (step, after) in _pairs(one, Pattern(here.name)):
            if step.id == change_id:
                earlier = Standing(before, room.derived_of(before))
                later = Standing(after, room.derived_of(after))
                return ShownStep(
                    line_of(step, step.id in undone),
                    earlier,
                    later,
                    changes_between(earlier, later),
                    step.kind in WITH_RULER and step.applied,
                )
    raise NotFound(f"There is no step {change_id} in the history of “{here.name}”.", change=change_id)


def step_pictures(room: Room, garment: str) -> dict[str, Sketch]:
    """Return a small picture of each step that changes a piece: before and after, one over the other."""
    _, here = find_garment(room.shelf(), garment)
    with room.store.read() as reader:
        key = ("pictures", here.name, reader.head(here.id))
    found: dict[str, Sketch] = room.answers.of(key, lambda: _step_pictures(room, here))
    return found


def step_picture(room: Room, garment: str, change_id: str) -> Sketch | None:
    """Return the picture of one step in force, or nothing where it changes no piece."""
    _, here = find_garment(room.shelf(), garment)
    for before, (step, after) in _pairs(room.trail_of(here.id), Pattern(here.name)):
        if step.id == change_id:
            return _picture(room, step, before, after)
    return None


def _step_pictures(room: Room, here: Garment) -> dict[str, Sketch]:
    trail, ahead = _trails(room, here.id)
    made: dict[str, Sketch] = {}
    for one in (trail,) if ahead is trail else (ahead, trail):  # what is in force has the last word
        for before, (step, after) in _pairs(one, Pattern(here.name)):
            sketch = _picture(room, step, before, after)
            if sketch is not None:
                made[step.id] = sketch
    return made


def _picture(room: Room, step: StepResult, before: Pattern, after: Pattern) -> Sketch | None:
    if before is after or step.kind.startswith(WITHOUT_PICTURE):
        return None
    if step.kind.startswith("recipe."):
        earlier = Standing(before, room.derived_of(before))
        later = Standing(after, room.derived_of(after))
        changed = changes_between(earlier, later)
    else:
        # what only the recipes make of it is not drawn: the step is about the pieces
        bare = room.derived_of(Pattern())
        changed = changes_between(Standing(before, bare), Standing(after, bare))
    if not changed:
        return None
    return before_after((one.before, one.after) for one in changed)


def _trails(room: Room, garment: str) -> tuple[Trail, Trail]:
    """The steps in force, and those with what was taken back; the same where nothing was."""
    with room.store.read() as reader:
        stored = room.stored(garment, reader)
        trail = room.trail_of(garment, reader)
        if stored.log.head == stored.log.tip:
            return trail, trail
        return trail, room.trail_of(garment, reader, ahead=True)


def _pairs(trail: Trail, start: Pattern) -> Iterator[tuple[Pattern, tuple[StepResult, Pattern]]]:
    before = start
    for step, after in trail:
        yield before, (step, after)
        before = after
