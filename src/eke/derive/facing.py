"""Fitted facings: the same edge, grain and seams as what they face, a given width deep.

A facing is cut from the piece itself, so that it follows every later change of it. Usual widths are 50 to
64 mm (three texts of the trade agree).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from eke.derive.derived import Derived, part_along, piece_from
from eke.errors import BadInput
from eke.geometry.offset import offset_edge
from eke.geometry.path import Line, Path
from eke.pattern.model import EdgePlace, Pattern, Piece, Recipe
from eke.pattern.parted import recipe_edges
from eke.pattern.pivot import transfer_dart
from eke.pattern.pleats import shut_pleat

USUAL_WIDTH_MM: Final = 60.0
RUN_ON_MM: Final = 400.0
"""The inner edge is run on straight by this much, to reach the neighbouring edges wherever they are."""


def facing(pattern: Pattern, recipe: Recipe) -> tuple[Derived, ...]:
    """Return a facing for each piece whose edges the recipe names.

    Parameters of the recipe: ``edges`` (ids of the edges to face, neighbours on each piece), ``width_mm``.

    Raises
    ------
    BadInput
        When no edge is named, or the piece is too narrow for the width.
    NotFound
        When an edge is gone.
    """
    width = float(recipe.params.get("width_mm", USUAL_WIDTH_MM))
    if not width > 0.0:
        raise BadInput(f"A facing of {width:g} mm cannot be cut. Use 50 to 65 mm.")
    wanted = recipe_edges(pattern, recipe)
    if not wanted:
        raise BadInput(f"“{recipe.name}” names no edge to face.")
    by_piece: dict[str, list[str]] = {}
    for edge_id in wanted:
        piece, edge = pattern.edge(edge_id)
        by_piece.setdefault(piece.id, []).append(edge.id)
    many = len(by_piece) > 1
    return tuple(
        _face(
            _pleats_shut(_darts_closed(pattern, piece_id, edges)),
            edges,
            width,
            recipe.id,
            f"{recipe.name}, {pattern.piece(piece_id).name}" if many else recipe.name,
        )
        for piece_id, edges in by_piece.items()
    )


def _darts_closed(pattern: Pattern, piece_id: str, faced: Sequence[str]) -> Piece:
    """The piece with its darts closed, as a facing is cut: each opens at the far side instead, off the facing."""
    for dart in pattern.piece(piece_id).darts:
        piece = pattern.piece(piece_id)
        middle = piece.edge(faced[len(faced) // 2]).path
        x, y = middle.point_at(middle.length_mm / 2.0)
        legs = {leg for d in piece.darts for leg in (d.first_leg, d.second_leg)}
        free = [e for e in piece.edges if e.id not in faced and e.id not in legs and e.id != piece.fold]
        far = max(free, key=lambda e: math.dist(e.path.point_at(e.path.length_mm / 2.0), (x, y)))
        pattern = transfer_dart(pattern, dart.id, far.id, EdgePlace(far.id, fraction=0.5), dart.id)
    return pattern.piece(piece_id)


def _pleats_shut(piece: Piece) -> Piece:
    """The piece with its tucks and pleats folded, as a facing is cut."""
    for pleat in piece.pleats:
        piece = shut_pleat(piece, pleat)
    return piece


def _face(piece: Piece, wanted: Sequence[str], width: float, recipe: str, name: str) -> Derived:
    run = _neighbours(piece, wanted)
    faced = Path(tuple(s for edge_id in run for s in piece.edge(edge_id).path.segments))
    inner = _run_on(offset_edge(faced, width))
    try:
        sides = part_along(piece, inner)
    except BadInput as error:
        raise BadInput(
            f"A facing {width:g} mm wide does not fit into “{piece.name}”. Use a narrower one, or face fewer edges."
        ) from error
    side = max(sides, key=lambda part: part.length_of(run))
    if side.length_of(run) < faced.length_mm - 0.1:
        raise BadInput(
            f"A facing {width:g} mm wide cuts into the edge it faces on “{piece.name}”. Use a narrower one."
        )
    made = piece_from(side, piece, recipe=recipe, name=name, new_name="inner edge", new_allowance_mm=0.0)
    # on a half piece, a facing away from the fold is needed left and right
    beside = piece.fold is not None and made.piece.fold is None
    cuts = tuple(replace(c, role="outer", pairs=c.pairs or beside) for c in piece.cuts)
    return replace(made, piece=replace(made.piece, cuts=cuts))


def _neighbours(piece: Piece, wanted: Sequence[str]) -> list[str]:
    """The wanted edges in the order of the outline; they must follow one another."""
    ids = [e.id for e in piece.edges]
    places = sorted(ids.index(piece.edge(i).id) for i in wanted)
    count = len(ids)
    for start in places:
        chain = [(start + k) % count for k in range(len(places))]
        if sorted(chain) == places:
            return [ids[k] for k in chain]
    raise BadInput(f"The edges to face on “{piece.name}” do not follow one another. Make a facing for each.")


def _run_on(path: Path) -> Path:
    """The path with a straight run-on at both ends."""
    (x0, y0), (tx0, ty0) = path.start, path.tangent_at(0.0)
    (x1, y1), (tx1, ty1) = path.end, path.tangent_at(path.length_mm, side="before")
    before = Line((x0 - RUN_ON_MM * tx0, y0 - RUN_ON_MM * ty0), (x0, y0))
    after = Line((x1, y1), (x1 + RUN_ON_MM * tx1, y1 + RUN_ON_MM * ty1))
    return Path((before, *path.segments, after))
