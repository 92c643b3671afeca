"""Derived pieces: facings, linings, layers and strips that follow the pattern."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from eke.actions.patterns import change, find_edges, find_piece
from eke.actions.room import Done, Room, new_id
from eke.errors import NotFound


def add_recipe(
    room: Room,
    garment: str,
    kind: str,
    name: str,
    *,
    edges: Sequence[str] = (),
    pieces: Sequence[str] = (),
    params: Mapping[str, Any] | None = None,
) -> Done:
    """Add a derived piece to a garment; edges and pieces by name ("front.neck", "front") or id.

    A source may also be another derived piece, by its name: an interfacing made from a facing.
    """
    state = room.garment(garment)
    pattern = state.pattern
    own = dict(params or {})
    if edges:
        own["edges"] = [found.id for e in edges for found in find_edges(pattern, e)]
    by_name = {r.name: r.id for r in pattern.recipes.values()}
    sources = [by_name[p] if p in by_name else find_piece(pattern, p).id for p in pieces]
    if not sources:
        sources = list(dict.fromkeys(pattern.edge(e)[0].id for e in own.get("edges", ())))
    recipe = new_id()
    said = {"id": recipe, "recipe": kind, "name": name, "sources": sources, "params": own}
    return change(room, garment, "recipe.add", said)


def set_recipe(room: Room, garment: str, name: str, params: Mapping[str, Any]) -> Done:
    """Change parameters of a derived piece; those not named stay."""
    found = [r for r in room.garment(garment).pattern.recipes.values() if name in (r.id, r.name)]
    if len(found) != 1:
        raise NotFound(f"There is no single derived piece “{name}”.")
    said = {"recipe_id": found[0].id, "name": found[0].name, "params": dict(params)}
    done = change(room, garment, "recipe.set", said)
    return Done(found[0].id, done.sentence, done.revision, done.unsettled)
