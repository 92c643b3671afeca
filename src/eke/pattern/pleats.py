"""Tucks and pleats in an outline: the edge across their mouths as it must be when folded, and the piece with them shut."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from shapely.geometry import Point, Polygon

from eke.errors import BadInput, ChangeConflict
from eke.geometry import Move, Path, Pt, deviation_mm, intersections
from eke.geometry.segments import unit
from eke.geometry.tolerance import JOIN_MM
from eke.pattern.corners import called, index_of, neighbour, pleat_shut_move, run_on, sound
from eke.pattern.model import Edge, EdgeId, Pattern, Piece, Pleat
from eke.pattern.pivot import holds_grain

RUN_ON_MM: Final = 450.0
"""The edge is run on straight by so much to find where the fold meets it: more than half of any pleat."""
HINGED_MM: Final = 3.0
"""A pleat that opens to nothing is hinged on the outline: no farther from it than a bend smoothed over 25 mm moves it."""


def pleat_of(pattern: Pattern, pleat_id: str) -> tuple[Piece, Pleat]:
    """Return a tuck or pleat and its piece. Raises :class:`ChangeConflict` when it is not there."""
    for piece in pattern.pieces.values():
        for pleat in piece.pleats:
            if pleat.id == pleat_id:
                return piece, pleat
    raise ChangeConflict(f"There is no tuck or pleat “{pleat_id}”.", pleat=pleat_id)


def mouth_paths(
    before: Path, after: Path, opens: Move, on_crease: Pt, crease: Pt, *, under_before: bool
) -> tuple[Path, Path]:
    """Return the two lines across an open pleat, to the fold and back, so that folded they lie on the edge beside it.

    Folded, the innermost layer lies on the edge beside the pleat as that lay before, and the layer between is its mirror
    image in the fold.

    Parameters
    ----------
    before, after
        The edges beside the mouth, up to it and on from it.
    opens
        The move from where the side of ``before`` lies to where that of ``after`` does.
    on_crease, crease
        A point of the line on which the cloth is folded, and its direction.
    under_before
        Whether the fold lies on the side of ``before``.

    Raises
    ------
    BadInput
        When the edge bends away so much that it does not meet the fold.
    """
    a, b = on_crease, (on_crease[0] + crease[0], on_crease[1] + crease[1])
    far = 10.0 * RUN_ON_MM
    fold = Path.line(
        (a[0] - far * crease[0], a[1] - far * crease[1]), (a[0] + far * crease[0], a[1] + far * crease[1])
    )
    # the edge on whose side the fold lies, run on straight at its far end
    long = run_on(before, "start", RUN_ON_MM) if under_before else run_on(after, "end", RUN_ON_MM)
    laid = long.moved(opens if under_before else opens.inverse())
    met = [m.at_a_mm for m in intersections(laid, fold)]
    if not met:
        raise BadInput(
            "The edge bends away too much beside the pleat to be folded onto itself. Choose another place, or a narrower pleat."
        )
    flip = Move.mirror(a, b)
    if under_before:
        back = laid.slice(max(met), laid.length_mm)
        back = back.with_ends(back.start, after.start)
        return back.moved(flip).reversed().with_ends(before.end, back.start), back
    under = laid.slice(0.0, min(met))
    under = under.with_ends(before.end, under.end)
    return under, under.moved(flip).reversed().with_ends(under.end, after.start)


def trued_mouths(piece: Piece, pleat: Pleat) -> dict[EdgeId, Path]:
    """Return the edges across each mouth of a pleat as they must be for it to lie flush when it is folded.

    Raises
    ------
    ChangeConflict
        When the lines of the pleat were taken out, so that nothing says where it is folded.
    BadInput
        When an edge beside it does not meet the fold.
    """
    lines = {m.id: m.points for m in piece.marks}
    one, two = lines.get(pleat.first, ()), lines.get(pleat.second, ())
    if len(one) < 2 or len(two) < 2:
        raise ChangeConflict(
            f"The lines of the pleat on “{piece.name}” were taken out, so nothing says where it is folded.",
            pleat=pleat.id,
        )
    start, end = (
        ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)
        for p, q in zip((one[0], one[-1]), (two[0], two[-1]), strict=True)
    )
    crease = unit(start, end)
    shut = pleat_shut_move(piece, pleat)
    made: dict[EdgeId, Path] = {}
    for number, (under, back) in enumerate(pleat.mouths):
        first_before = number == 0
        paths = mouth_paths(
            neighbour(piece, under, "start").path,
            neighbour(piece, back, "end").path,
            shut.inverse() if first_before else shut,
            start,
            crease,
            under_before=(pleat.pressed == "first") == first_before,
        )
        made[under], made[back] = paths
    return made


def mouth_off_mm(piece: Piece, pleat: Pleat) -> float:
    """Return how far the edge across a pleat lies from where it must, at most; 0 where nothing says where that is."""
    try:
        wanted = trued_mouths(piece, pleat)
    except (BadInput, ChangeConflict):
        return 0.0
    return max(deviation_mm(path, piece.edge(edge_id).path.flatten()) for edge_id, path in wanted.items())


def true_pleat(pattern: Pattern, pleat_id: str) -> Pattern:
    """Return the pattern with the edge across a tuck or pleat drawn anew, as it must be when that is folded."""
    piece, pleat = pleat_of(pattern, pleat_id)
    new = trued_mouths(piece, pleat)
    edges = tuple(replace(e, path=new[e.id]) if e.id in new else e for e in piece.edges)
    return pattern.with_piece(sound(replace(piece, edges=edges), piece))


def shut_pleat(piece: Piece, pleat: Pleat) -> Piece:
    """Return the piece with a tuck or pleat folded shut, as it lies when it is sewn: what is laid on it is cut so.

    The side that holds the fold, or the grain line, stays.

    Raises
    ------
    BadInput
        When nothing says where the piece is hinged.
    """
    shut = pleat_shut_move(piece, pleat)
    gone = {e for mouth in pleat.mouths for e in mouth}
    at = index_of(piece, pleat.mouths[0][1])
    ring = [*piece.edges[at + 1 :], *piece.edges[: at + 1]]
    hinge: EdgeId | None = None
    if len(pleat.mouths) > 1:
        cut = next(k for k, e in enumerate(ring) if e.id == pleat.mouths[1][0])
    else:
        ring, cut, hinge = _hinged(piece, ring, shut)
    ahead = tuple(e for e in ring[:cut] if e.id not in gone)
    behind = tuple(e for e in ring[cut:] if e.id not in gone)
    corner = piece.edge(pleat.mouths[0][0]).path.start
    stays = holds_grain(piece, corner, ahead)
    moves = (Move(), shut.inverse()) if stays else (shut, Move())
    edges = [
        replace(e, path=e.path.moved(move))
        for part, move in zip((ahead, behind), moves, strict=True)
        for e in part
    ]
    for k in range(len(edges)):
        edges[k] = replace(edges[k], path=edges[k].path.starting_at(edges[k - 1].path.end))
    if hinge is not None:
        edges = _joined(edges, hinge)
    turned = Polygon([tuple(p) for e in (behind if stays else ahead) for p in e.path.flatten()]).buffer(0.1)
    move = moves[1] if stays else moves[0]
    marks = tuple(
        replace(m, points=tuple(move.apply(p) if turned.covers(Point(p)) else p for p in m.points))
        for m in piece.marks
        if m.id not in (pleat.first, pleat.second)
    )
    made = replace(
        piece, edges=tuple(edges), marks=marks, pleats=tuple(p for p in piece.pleats if p.id != pleat.id)
    )
    return sound(made, piece)


# ---------------------------------------------------------------- within


def _hinged(piece: Piece, ring: list[Edge], shut: Move) -> tuple[list[Edge], int, EdgeId | None]:
    """The ring cut where the turn that shuts a pleat leaves the outline as it is, and the edge that was parted there."""
    # the fixed point of the turn: (I - R) q = t
    det = (1.0 - shut.a) * (1.0 - shut.d) - shut.b * shut.c
    if abs(det) < 1e-12:
        raise BadInput(
            f"The pleat on “{piece.name}” ends inside, and nothing says where. Take it back and open it anew."
        )
    pivot = (
        ((1.0 - shut.d) * shut.tx + shut.b * shut.ty) / det,
        (shut.c * shut.tx + (1.0 - shut.a) * shut.ty) / det,
    )
    found = [(e.path.nearest(pivot), k) for k, e in enumerate(ring)]
    near, k = min(found, key=lambda f: (f[0].distance_mm, f[1]))
    edge = ring[k]
    if near.distance_mm > HINGED_MM:
        raise BadInput(
            f"“{called(piece, edge)}” was changed where the pleat on “{piece.name}” runs out, so it cannot be folded shut flat."
        )
    if near.at_mm <= JOIN_MM:
        return ring, k, None
    if near.at_mm >= edge.path.length_mm - JOIN_MM:
        return ring, k + 1, None
    head, tail = edge.path.split(near.at_mm)
    return (
        [*ring[:k], replace(edge, path=head), replace(edge, path=tail), *ring[k + 1 :]],
        k + 1,
        edge.id,
    )


def _joined(edges: list[Edge], edge_id: EdgeId) -> list[Edge]:
    """The two parts of an edge, which follow one another, as one again."""
    k = next(k for k, e in enumerate(edges) if e.id == edge_id)
    if edges[(k + 1) % len(edges)].id != edge_id:
        k = len(edges) - 1
    nxt = (k + 1) % len(edges)
    whole = replace(edges[k], path=edges[k].path.joined(edges[nxt].path.starting_at(edges[k].path.end)))
    return [whole if i == k else e for i, e in enumerate(edges) if i != nxt]
