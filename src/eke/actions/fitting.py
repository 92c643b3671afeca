"""Fit changes: taking in and letting out, darts; and the same change as steps with a ruler on paper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from eke.actions.room import Done, GarmentState, Room
from eke.changes import Log, replay
from eke.errors import BadInput, NotFound
from eke.fit import (
    Redrawn,
    RulerStep,
    apex_from,
    dart_steps,
    place_from,
    redrawn,
    take_in_from,
    take_in_steps,
)
from eke.fit.opening_steps import OPENINGS, opening_steps
from eke.pattern.model import EdgePlace, Pattern
from eke.sentences import in_a_row


@dataclass(frozen=True, slots=True)
class RulerSheet:
    """A change as ruler steps: the patterns before and after it, and the edges that it moves.

    ``print_again`` names the pieces that it changes so much that a ruler is no help. ``cut``: the paper is cut and spread,
    instead of being drawn on.
    """

    title: str
    reason: str
    before: Pattern
    after: Pattern
    edges: tuple[str, ...]
    steps: tuple[RulerStep, ...]
    print_again: tuple[str, ...] = ()
    cut: bool = False

    @property
    def sentences(self) -> tuple[str, ...]:
        """The steps in words."""
        again = (
            f"Print “{name}” again: it has changed too much to be measured." for name in self.print_again
        )
        return (*(step.sentence for step in self.steps), *again)


def take_in(
    room: Room,
    garment: str,
    seam: str,
    knots: Sequence[tuple[float, float]],
    *,
    share_a: float = 0.5,
    reason: str = "",
) -> Done:
    """Take in (or let out, below 0) a seam by a profile: (mm along it, mm in all at that place)."""
    state = room.garment(garment)
    found = find_seam(state.pattern, seam)
    params = {
        "seam": found,
        "knots": [list(k) for k in knots],
        "share_a": share_a,
        "name": state.pattern.seam(found).name or "a seam",
    }
    return room.change_garment(garment, "fit.take_in", params, note=reason)


def add_dart(
    room: Room,
    garment: str,
    place: EdgePlace,
    intake_mm: float,
    apex: tuple[float, float],
    *,
    reason: str = "",
) -> Done:
    """Take a dart out of an edge, centred at a place, pointing to ``apex`` in the piece's frame."""
    _, edge = room.garment(garment).pattern.edge(place.edge)
    params = {
        **_place_params(place),
        "intake_mm": intake_mm,
        "apex": list(apex),
        "name": edge.name or "an edge",
    }
    return room.change_garment(garment, "fit.add_dart", params, note=reason)


def move_dart(room: Room, garment: str, dart: str, place: EdgePlace, *, reason: str = "") -> Done:
    """Close a dart and open it at a place on another edge of its piece."""
    _, edge = room.garment(garment).pattern.edge(place.edge)
    return room.change_garment(
        garment,
        "fit.move_dart",
        {"dart": dart, **_place_params(place), "name": edge.name or "another edge"},
        note=reason,
    )


def _place_params(place: EdgePlace) -> dict[str, Any]:
    if place.fraction is not None:
        return {"edge": place.edge, "fraction": place.fraction}
    return {"edge": place.edge, "mm": place.mm, "from_end": place.from_end}


def find_seam(pattern: Pattern, name_or_id: str) -> str:
    """Return the id of the seam of that id, or of that name where only one has it."""
    if name_or_id in pattern.seams:
        return name_or_id
    named = [s.id for s in pattern.seams.values() if s.name.casefold() == name_or_id.casefold()]
    if len(named) == 1:
        return named[0]
    names = ", ".join(f"“{s.name or s.id}”" for s in pattern.seams.values())
    raise NotFound(f"There is no single seam “{name_or_id}”. There are: {names or 'none yet'}.")


def ruler_steps_of(room: Room, garment: str, change_id: str, unit: str = "mm") -> RulerSheet:
    """Return a fit change of a garment's history as ruler steps on the pattern as it was before it.

    Raises
    ------
    NotFound
        When there is no such step.
    BadInput
        When the step is no fit change, or one that is sooner printed than measured.
    """
    state = room.garment(garment)
    step = state.replayed.step(change_id)
    if step is None:
        raise NotFound(f"There is no step {change_id} in the history of “{state.name}”.")
    before, after = _around(room, state, change_id)
    edges: tuple[str, ...]
    again: tuple[str, ...] = ()
    if step.kind == "fit.take_in":
        change = take_in_from(step.params)
        edges = tuple(part.edge for part in before.seam(change.seam).parts())
        steps = take_in_steps(before, change, unit)
    elif step.kind == "fit.add_dart":
        place = place_from(step.params)
        edges = (place.edge,)
        steps = dart_steps(
            before, place.edge, place, float(step.params["intake_mm"]), apex_from(step.params), unit
        )
    elif step.kind in OPENINGS:
        steps, edges = opening_steps(before, step.kind, step.params, unit)
    else:
        new = redrawn(before, after, unit) if step.kind.startswith("fit.") else Redrawn((), ())
        steps, again = new.steps, new.print_again
        if not steps:
            which = in_a_row(f"“{name}”" for name in again) or "the piece"
            raise BadInput(f"“{step.sentence}” is not drawn with a ruler: print {which} again.")
        edges = tuple(
            edge.id
            for piece in before.pieces.values()
            for edge in piece.edges
            if (now := after.pieces.get(piece.id)) is not None
            and any(one.id == edge.id and one.path != edge.path for one in now.edges)
        )
    return RulerSheet(
        step.sentence, step.record.note, before, after, edges, steps, again, cut=step.kind in OPENINGS
    )


def _around(room: Room, state: GarmentState, change_id: str) -> tuple[Pattern, Pattern]:
    """The pattern just before and just after a step, as the history stands now."""
    states: list[Pattern] = []
    start = Pattern(state.name)
    for record in state.stored.log.line(change_id):
        if record.id == change_id:
            parent = record.parent
            log = Log(state.stored.log.records, parent, parent)
            states.append(replay(log, room.garment_kinds, start).state)
    log = Log(state.stored.log.records, change_id, change_id)
    states.append(replay(log, room.garment_kinds, start).state)
    return states[0], states[1]
