"""Strips: bindings, ties and bands, cut straight or on the bias, as long as the edges they go round."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from eke.derive.derived import Derived
from eke.errors import BadInput
from eke.geometry.move import Move
from eke.geometry.path import Path
from eke.pattern.model import CutOf, Edge, EdgeId, Pattern, Piece, PieceId, Recipe
from eke.pattern.parted import recipe_edges

DOUBLE_FOLD: Final = 4.0
"""A double-fold binding is cut four times its finished width (two texts of the trade)."""
ENDS_MM: Final = 15.0


def strip(pattern: Pattern, recipe: Recipe) -> tuple[Derived, ...]:
    """Return one straight strip; on the bias its grain lies at 45°.

    Parameters of the recipe: ``edges`` whose lengths it goes round (or ``length_mm``), ``finished_mm`` width,
    ``folds`` (4 for a double-fold binding, 2 for a single), ``bias`` (True or False), ``count``.

    Raises
    ------
    BadInput
        When it has no length or no width.
    """
    finished = float(recipe.params.get("finished_mm", 10.0))
    width = finished * float(recipe.params.get("folds", DOUBLE_FOLD))
    length = float(recipe.params.get("length_mm", 0.0))
    for edge_id in recipe_edges(pattern, recipe):
        piece, edge = pattern.edge(edge_id)
        length += edge.path.length_mm * (2.0 if piece.fold is not None else 1.0)
    if not (length > 0.0 and width > 0.0):
        raise BadInput(
            f"“{recipe.name}” has no length or no width. Name the edges it goes round, or type a length."
        )
    length += 2.0 * ENDS_MM
    corners = [(0.0, 0.0), (width, 0.0), (width, length), (0.0, length), (0.0, 0.0)]
    sides = ("end", "long side", "end", "long side")
    edges = tuple(
        Edge(EdgeId(f"{recipe.id}/{i}"), Path.line(a, b), "opening", side, 0.0, "straight")
        for i, (a, b, side) in enumerate(zip(corners, corners[1:], sides, strict=False))
    )
    # a piece lies with its grain along +y, so it is the strip that lies askew
    turn = Move.rotation(45.0 if recipe.params.get("bias", True) else 0.0, (width / 2.0, length / 2.0))
    edges = tuple(replace(edge, path=edge.path.moved(turn)) for edge in edges)
    x, y, half = width / 2.0, length / 2.0, 0.4 * width
    piece = Piece(
        PieceId(recipe.id),
        recipe.name,
        edges,
        grain=((x, y - half), (x, y + half)),
        cuts=(CutOf("outer", int(recipe.params.get("count", 1))),),
    )
    return (Derived(piece, recipe.id, PieceId(recipe.sources[0] if recipe.sources else recipe.id), {}),)


def continuous_strip_mm(square_mm: float, strip_mm: float, allowance_mm: float) -> float:
    """Return the length of bias strip that a square yields with two construction seams.

    ``(s − 2a)² / w``: the area that is left, divided by the width of the strip (plain geometry).
    """
    if square_mm <= 2.0 * allowance_mm or strip_mm <= 0.0:
        raise BadInput("The square is too small for its seams, or the strip has no width.")
    return (square_mm - 2.0 * allowance_mm) ** 2 / strip_mm
