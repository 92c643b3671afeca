"""Linings and other layers that follow a piece: whole, to a balance line, or a little shorter."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from eke.derive.derived import Derived, derived_id, part_along, piece_from, with_marks_of, with_shaping_of
from eke.errors import BadInput, NotFound
from eke.geometry.path import Path
from eke.pattern.model import CutOf, EdgeId, Pattern, Piece, PieceId, Recipe, Role

LINING_SHORTER_MM: Final = 13.0
"""A child's coat lining finishes ½ in shorter than the coat (two texts of the trade)."""
BEYOND_MM: Final = 1000.0
"""A line across a piece is drawn this far beyond it."""


def lining(pattern: Pattern, recipe: Recipe) -> tuple[Derived, ...]:
    """Return a lining for each source piece.

    Parameters of the recipe: ``to`` (name of a balance line where the lining ends, such as "waist"; without
    it the lining is whole), ``below_mm`` (how far below that line it ends), ``shorter_mm`` (how much shorter
    it is than a hem).

    Raises
    ------
    NotFound
        When a source piece or the balance line is not there.
    """
    shorter = float(recipe.params.get("shorter_mm", LINING_SHORTER_MM))
    made = []
    for source in recipe.sources:
        piece = pattern.piece(source)
        name = f"{recipe.name}, {piece.name}" if len(recipe.sources) > 1 else recipe.name
        to = recipe.params.get("to")
        if to:
            y = _balance_height(piece, str(to)) - float(recipe.params.get("below_mm", 0.0))
            made.append(_down_to(piece, y, recipe.id, name, str(to)))
        elif any(e.kind == "hem" for e in piece.edges) and shorter > 0.0:
            y = (
                max(p[1] for e in piece.edges if e.kind == "hem" for p in (e.path.start, e.path.end))
                + shorter
            )
            made.append(_down_to(piece, y, recipe.id, name, "hem"))
        else:
            made.append(_layer(piece, recipe.id, name, "lining"))
    return tuple(replace(d, piece=_in_role(d.piece, pattern.piece(d.source), "lining")) for d in made)


def layer(pattern: Pattern, recipe: Recipe) -> tuple[Derived, ...]:
    """Return a layer of the same shape as each source piece, in the role that the recipe names.

    Parameters of the recipe: ``role`` (``interlining``, ``interfacing`` or ``lining``). Sources are pieces.
    """
    role = recipe.params.get("role", "interfacing")
    if role not in ("lining", "interlining", "interfacing"):
        raise BadInput(f"A layer is a lining, an interlining or an interfacing, not “{role}”.")
    made = []
    for source in recipe.sources:
        piece = pattern.piece(source)
        name = f"{recipe.name}, {piece.name}" if len(recipe.sources) > 1 else recipe.name
        layered = _layer(piece, recipe.id, name, role)
        made.append(replace(layered, piece=_in_role(layered.piece, piece, role)))
    return tuple(made)


def _balance_height(piece: Piece, name: str) -> float:
    for mark in piece.marks:
        if mark.kind == "balance" and mark.name == name:
            return sum(p[1] for p in mark.points) / len(mark.points)
    raise NotFound(f"“{piece.name}” has no balance line “{name}”. Draw it first, or line the whole piece.")


def _down_to(piece: Piece, y_mm: float, recipe: str, name: str, to: str) -> Derived:
    """The part of the piece above a level line."""
    x0, _, x1, _ = piece.outline.bounds
    line = Path.line((x0 - BEYOND_MM, y_mm), (x1 + BEYOND_MM, y_mm))
    sides = part_along(piece, line)
    upper = max(sides, key=lambda part: max(path.bounds[3] for _, path in part.edges))
    return piece_from(
        upper, piece, recipe=recipe, name=name, new_name=to, new_kind="hem", new_allowance_mm=15.0
    )


def _layer(piece: Piece, recipe: str, name: str, role: Role) -> Derived:
    """The whole piece again, with edges of its own."""
    origin = {EdgeId(derived_id(recipe, e.id)): e.id for e in piece.edges}
    edges = tuple(replace(e, id=EdgeId(derived_id(recipe, e.id))) for e in piece.edges)
    if role == "interlining":
        # for warmth it is cut without seam and hem allowances (The Dressmaker, Butterick 1911)
        edges = tuple(replace(e, allowance_mm=0.0) for e in edges)
    fold = None if piece.fold is None else EdgeId(derived_id(recipe, piece.fold))
    made = Piece(PieceId(derived_id(recipe, piece.id)), name, edges, fold=fold, tracing=piece.tracing)
    made = with_shaping_of(made, piece, recipe, origin)
    return Derived(with_marks_of(made, piece, recipe), recipe, piece.id, origin)


def _in_role(piece: Piece, source: Piece, role: Role) -> Piece:
    outer = [c for c in source.cuts if c.role == "outer"] or [CutOf()]
    return replace(piece, cuts=(CutOf(role, outer[0].count, outer[0].pairs),))
