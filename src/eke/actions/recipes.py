"""Derived pieces: facings, linings, layers and strips that follow the pattern."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from eke.actions.patterns import find_edges, find_piece
from eke.actions.room import Done, Room, new_id
from eke.errors import BadInput, NotFound


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
    done = _change(room, garment, recipe, "recipe.add", said)
    return Done(recipe, done.sentence, done.revision, done.unsettled)


def set_recipe(room: Room, garment: str, name: str, params: Mapping[str, Any]) -> Done:
    """Change parameters of a derived piece; those not named stay."""
    found = [r for r in room.garment(garment).pattern.recipes.values() if name in (r.id, r.name)]
    if len(found) != 1:
        raise NotFound(f"There is no single derived piece “{name}”.")
    said = {"recipe_id": found[0].id, "name": found[0].name, "params": dict(params)}
    return _change(room, garment, found[0].id, "recipe.set", said)


def _change(room: Room, garment: str, recipe: str, kind: str, said: Mapping[str, Any]) -> Done:
    """Say or change a recipe, if it yields something at once.

    A recipe whose pieces change later is kept with a finding; one that cannot be made when it is said is a
    mistake, such as a facing of -4 mm.
    """
    before = {f.sentence for f in room.garment(garment).derivation.findings}
    with room.store.write() as tx:
        done = room.change_garment_in(tx, garment, kind, said)
        for finding in room.garment(garment, tx).derivation.findings:
            if recipe in finding.where and finding.code == "target-gone" and finding.sentence not in before:
                raise BadInput(f"{finding.sentence} Nothing was changed.", recipe=recipe)
    return done
