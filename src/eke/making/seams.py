"""What a seam is in the making: between which layers, how often it is sewn, how long, how curved."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

import numpy as np

from eke.derive.derived import Derived
from eke.errors import NotFound
from eke.pattern.model import Edge, EdgeId, Pattern, Piece, PieceId, RunPart, Seam, SeamId

Layer = Literal["outer", "facing", "lining", "other"]

CURVED_RADIUS_MM: Final = 400.0
"""An edge that bends more gently than this needs no clipping."""
SAMPLE_MM: Final = 4.0
"""Steps in which a curve is looked at."""
SAME_CORNER_MM: Final = 0.5
"""Two edges that end this near to each other share a corner."""
CLIP_MM: Final = (6.35, 12.7)
"""Clips and notches stand every ¼ to ½ in (*Apparel: Design, Textiles & Construction*, 2012, p. 451)."""
CLIP_LEAST_MM: Final = 25.0
"""A curve shorter than this lies flat without."""


@dataclass(frozen=True, slots=True)
class Making:
    """A pattern with all that was derived from it: every piece, every seam, and each piece's layer."""

    pattern: Pattern
    pieces: Mapping[PieceId, Piece]
    seams: Mapping[SeamId, Seam]
    layers: Mapping[PieceId, Layer] = field(default_factory=dict)
    recipes: Mapping[PieceId, str] = field(default_factory=dict)

    def piece(self, piece_id: str) -> Piece:
        """The piece of that id, aliases followed. Raises :class:`NotFound`."""
        found = self.pieces.get(PieceId(self.pattern.resolve(piece_id))) or self.pieces.get(PieceId(piece_id))
        if found is None:
            raise NotFound(f"There is no piece “{piece_id}” in this pattern.", piece=piece_id)
        return found

    def edge(self, part: RunPart) -> Edge:
        """The edge of a part of a run. Raises :class:`NotFound`."""
        piece = self.piece(part.piece)
        wanted = {part.edge, self.pattern.resolve(part.edge)}
        for edge in piece.edges:
            if edge.id in wanted:
                return edge
        raise NotFound(f"“{piece.name}” has no edge “{part.edge}”.", piece=piece.id, edge=part.edge)

    def layer(self, piece_id: str) -> Layer:
        """The layer of a piece."""
        return self.layers.get(self.piece(piece_id).id, "outer")

    def layers_of(self, seam: Seam) -> frozenset[Layer]:
        """The layers that a seam joins."""
        return frozenset(self.layer(part.piece) for part in seam.parts())

    def name(self, seam: Seam) -> str:
        """The seam's name, or the pieces that it joins."""
        if seam.name:
            return seam.name
        sides = [
            " and ".join(dict.fromkeys(self.piece(p.piece).name for p in run)) for run in (seam.a, seam.b)
        ]
        return f"{sides[0]} to {sides[1]}" if sides[0] != sides[1] else f"{sides[0]} to itself"

    def length_mm(self, seam: Seam) -> float:
        """Length of a seam: that of its shorter side."""
        return min(sum(self.edge(part).path.length_mm for part in run) for run in (seam.a, seam.b))

    def times(self, seam: Seam) -> int:
        """How often it is sewn: once for each side of the body, as often as the rarer of its edges is there.

        A collar that goes round on the fold is sewn once, though the fronts that it joins are two.
        """
        copies = min((self.copies(part) for part in seam.parts()), default=1)
        if seam.b_mirrored and copies > 1:
            return copies // 2
        return copies

    def copies(self, part: RunPart) -> int:
        """How many edges like this one the cut pieces have, in the piece's own role."""
        piece = self.piece(part.piece)
        cut = piece.cuts[0] if piece.cuts else None
        number = 1 if cut is None else cut.count * (2 if cut.pairs else 1)
        # an edge that reaches the fold goes on across it as one edge
        return number * (2 if piece.fold is not None and not self.meets_fold(piece, part.edge) else 1)

    def meets_fold(self, piece: Piece, edge_id: str) -> bool:
        """Whether an edge of a half piece ends at its fold."""
        ids = [edge.id for edge in piece.edges]
        if piece.fold not in ids:
            return False
        at = ids.index(EdgeId(piece.fold))
        neighbours = {ids[at - 1], ids[(at + 1) % len(ids)]}
        return edge_id in neighbours or self.pattern.resolve(edge_id) in neighbours

    def title(self, piece_id: str) -> str:
        """What a piece is called among others: a derived one by the name of its recipe."""
        piece = self.piece(piece_id)
        recipe = self.pattern.recipes.get(self.recipes.get(piece.id, ""))
        return recipe.name if recipe is not None else piece.name

    def corners(self, seam: Seam) -> Iterator[tuple[PieceId, tuple[float, float]]]:
        """The ends of each edge of a seam, as (piece, place)."""
        for part in seam.parts():
            piece, edge = self.piece(part.piece), self.edge(part)
            yield piece.id, edge.path.start
            yield piece.id, edge.path.end


def making_of(
    pattern: Pattern, derived: Sequence[Derived] = (), seams: Mapping[SeamId, Seam] | None = None
) -> Making:
    """Return the pattern with its derived pieces and the seams that came with them."""
    pieces: dict[PieceId, Piece] = dict(pattern.pieces)
    layers: dict[PieceId, Layer] = {}
    recipes: dict[PieceId, str] = {}
    for made in derived:
        pieces[made.piece.id] = made.piece
        recipes[made.piece.id] = made.recipe
        recipe = pattern.recipes.get(made.recipe)
        kind = recipe.kind if recipe is not None else ""
        roles = {cut.role for cut in made.piece.cuts}
        if kind == "facing":
            layers[made.piece.id] = "facing"
        elif kind == "lining" or roles == {"lining"}:
            layers[made.piece.id] = "lining"
        elif roles and roles <= {"interlining", "interfacing", "mock-up"}:
            layers[made.piece.id] = "other"
    for piece in pattern.pieces.values():
        roles = {cut.role for cut in piece.cuts}
        if roles == {"lining"}:
            layers[piece.id] = "lining"
        elif roles and roles <= {"interlining", "interfacing", "mock-up"}:
            layers[piece.id] = "other"
    return Making(pattern, pieces, {**pattern.seams, **(seams or {})}, layers, recipes)


@dataclass(frozen=True, slots=True)
class Curves:
    """How much of an outline's edge bends inwards (concave) and outwards (convex), in mm of its length."""

    inward_mm: float
    outward_mm: float


def curves_of(edge: Edge) -> Curves:
    """How much of an edge is curved; it runs counter-clockwise, so a left bend bulges outwards."""
    length = edge.path.length_mm
    count = max(2, math.ceil(length / SAMPLE_MM))
    at = [(i + 0.5) * length / count for i in range(count)]
    bend = np.asarray(edge.path.curvatures_at(at))
    share = length / count
    return Curves(
        float(np.sum(bend < -1.0 / CURVED_RADIUS_MM) * share),
        float(np.sum(bend > 1.0 / CURVED_RADIUS_MM) * share),
    )


def clip_count(curve_mm: float) -> tuple[int, int]:
    """Fewest and most clips along so much curve; none where it is too short to need any."""
    if curve_mm < CLIP_LEAST_MM:
        return 0, 0
    near, far = CLIP_MM
    return math.floor(curve_mm / far), math.ceil(curve_mm / near)


def clipping(making: Making, seam: Seam) -> Curves:
    """The curved lengths along a seam, from the side that bends most (the other is its mate)."""
    sides = []
    for run in (seam.a, seam.b):
        parts = [curves_of(making.edge(part)) for part in run]
        sides.append(Curves(sum(c.inward_mm for c in parts), sum(c.outward_mm for c in parts)))
    return max(sides, key=lambda c: c.inward_mm + c.outward_mm)
