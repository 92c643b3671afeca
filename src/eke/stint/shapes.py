"""The shapes behind the stints: moving an edge inwards, joining a piece from two, opening a fold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon, box
from shapely.ops import unary_union

from eke.cloth import polygons, ring_of
from eke.cutting import CutPiece, mirrored, outlined
from eke.derive.derived import part_along, piece_from
from eke.errors import BadInput
from eke.geometry.offset import offset_edge
from eke.geometry.path import Line, Path
from eke.pattern.model import Edge, Piece

RUN_ON_MM: Final = 500.0
"""A moved edge is run on straight by this much to reach its neighbours wherever they are."""
LEAST_PART_MM2: Final = 1_000.0
"""Parts smaller than 10 cm² are not worth a seam."""


def edge_moved_in(piece: Piece, edge_id: str, by_mm: float) -> Piece:
    """Return the piece with one edge moved inwards by ``by_mm``, parallel; neighbours are cut where it meets them.

    The edge keeps its kind, name and allowance.

    Raises
    ------
    BadInput
        When the moved edge does not cross the piece from side to side.
    """
    edge = piece.edge(edge_id)
    line = offset_edge(edge.path, by_mm)  # to the left: inwards on a counter-clockwise outline
    start, end = np.array(line.start), np.array(line.end)
    back = start - RUN_ON_MM * np.array(line.tangent_at(0.0))
    on = end + RUN_ON_MM * np.array(line.tangent_at(line.length_mm, side="before"))
    long = Path(
        (
            Line((float(back[0]), float(back[1])), line.start),
            *line.segments,
            Line(line.end, (float(on[0]), float(on[1]))),
        )
    )
    outside = np.array(edge.path.point_at(edge.path.length_mm / 2))
    parts = part_along(piece, long)
    keep = max(parts, key=lambda part: _away_from(part.edges, edge.id, outside))
    made = piece_from(
        keep,
        piece,
        recipe="stint",
        name=piece.name,
        new_name=edge.name,
        new_kind=edge.kind,
        new_allowance_mm=edge.allowance_mm,
    ).piece
    return replace(made, id=piece.id, cuts=piece.cuts, grain=made.grain or piece.grain)


def _away_from(edges: tuple[tuple[str, Path], ...], edge_id: str, outside: NDArray[np.float64]) -> float:
    """Large for the side of a parted piece that does not hold the old edge."""
    if any(
        id_ == edge_id and path.nearest((float(outside[0]), float(outside[1]))).distance_mm < 0.5
        for id_, path in edges
    ):
        return 0.0
    return 1.0


def with_allowances(cut: CutPiece, widths_mm: Mapping[str, float]) -> CutPiece:
    """Return the cut piece with other allowances on the edges named. Raises :class:`BadInput`."""
    if cut.source is None:
        raise BadInput(f"“{cut.name}” did not come from a pattern; its allowances are not known.")
    edges = tuple(
        replace(edge, allowance_mm=widths_mm[edge.id]) if edge.id in widths_mm else edge
        for edge in cut.source.piece.edges
    )
    return outlined(replace(cut, source=replace(cut.source, piece=replace(cut.source.piece, edges=edges))))


def narrowed(cut: CutPiece, kinds: tuple[str, ...], least_mm: float) -> CutPiece:
    """Return the cut piece with the allowances of edges of these kinds taken down to ``least_mm``."""
    if cut.source is None:
        raise BadInput(f"“{cut.name}” did not come from a pattern; its allowances are not known.")
    widths = {str(e.id): least_mm for e in cut.source.piece.edges if e.kind in kinds and _wide(e) > least_mm}
    return with_allowances(cut, widths) if widths else cut


def _wide(edge: Edge) -> float:
    return edge.allowance_mm or 0.0


def with_edge_in(cut: CutPiece, edge_id: str, by_mm: float) -> CutPiece:
    """Return the cut piece with one edge of its source moved inwards. Raises :class:`BadInput`."""
    if cut.source is None:
        raise BadInput(f"“{cut.name}” did not come from a pattern; its edges are not known.")
    source = replace(cut.source, piece=edge_moved_in(cut.source.piece, edge_id, by_mm))
    return outlined(replace(cut, source=source))


def opened(cut: CutPiece, allowance_mm: float) -> tuple[CutPiece, CutPiece]:
    """Return a piece that was cut whole on the fold as a pair with a seam at the centre.

    Costs twice the allowance along the fold. Raises :class:`BadInput` when there is no fold.
    """
    if cut.source is None or cut.source.piece.fold is None or not cut.source.whole:
        raise BadInput(f"“{cut.name}” does not lie on a fold.")
    piece = cut.source.piece
    edges = tuple(
        replace(edge, kind="seam", allowance_mm=allowance_mm) if edge.id == piece.fold else edge
        for edge in piece.edges
    )
    half = replace(piece, fold=None, edges=edges)
    base = outlined(replace(cut, source=replace(cut.source, piece=half, whole=False)))
    one = replace(base, id=f"{cut.id}/opened", name=f"{cut.name}, as drawn")
    return one, mirrored(one, f"{cut.name}, mirrored")


def pieced(cut: CutPiece, at_mm: float, *, across: bool, allowance_mm: float) -> tuple[CutPiece, ...]:
    """Return a piece parted in two by a straight joining seam, with an allowance on both edges, same grain.

    Parameters
    ----------
    at_mm
        Where the seam runs in the frame of the cut piece: y of a seam across the grain, x of one along it.
    across
        Whether the seam runs across the grain.

    Raises
    ------
    BadInput
        When the seam does not part the piece into two parts worth having.

    Notes
    -----
    The parts together are larger than the whole by exactly 2 · allowance · length of the seam.
    """
    whole = cut.polygon
    x0, y0, x1, y1 = whole.bounds
    far = max(x1 - x0, y1 - y0) + 1000.0
    if across:
        low, high = box(x0 - far, y0 - far, x1 + far, at_mm), box(x0 - far, at_mm, x1 + far, y1 + far)
    else:
        low, high = box(x0 - far, y0 - far, at_mm, y1 + far), box(at_mm, y0 - far, x1 + far, y1 + far)
    parts = [polygons(whole.intersection(side), LEAST_PART_MM2) for side in (low, high)]
    if len(parts[0]) != 1 or len(parts[1]) != 1:
        raise BadInput(f"A seam there does not part “{cut.name}” into two. Choose another place.")
    chord = parts[0][0].intersection(parts[1][0])
    a, b, c, d = chord.bounds
    strips = (
        (box(a, at_mm, c, at_mm + allowance_mm), box(a, at_mm - allowance_mm, c, at_mm))
        if across
        else (box(at_mm, b, at_mm + allowance_mm, d), box(at_mm - allowance_mm, b, at_mm, d))
    )
    made = []
    for number, (part, strip) in enumerate(zip(parts, strips, strict=True), start=1):
        shape = unary_union([part[0], strip])
        if not isinstance(shape, Polygon):
            raise BadInput(f"A seam there does not part “{cut.name}” cleanly. Choose another place.")
        net = polygons(Polygon(cut.net).intersection((low, high)[number - 1])) if cut.net else ()
        made.append(
            replace(
                cut,
                id=f"{cut.id}/part{number}",
                name=f"{cut.name}, part {number} of 2",
                outline=ring_of(shape.exterior.coords),
                net=ring_of(net[0].exterior.coords) if net else (),
                source=None,
                pieced=(*cut.pieced, f"{'across' if across else 'along'} at {at_mm:.0f} mm"),
            )
        )
    return tuple(made)


def seam_length_mm(cut: CutPiece, at_mm: float, *, across: bool) -> float:
    """Length of a joining seam at that place."""
    x0, y0, x1, y1 = cut.polygon.bounds
    ends = [(x0 - 1, at_mm), (x1 + 1, at_mm)] if across else [(at_mm, y0 - 1), (at_mm, y1 + 1)]
    return float(cut.polygon.intersection(LineString(ends)).length)
