"""Primitive: slide the ends of an edge along its neighbours, the edge following smoothly.

Neck and armhole are lowered, raised and widened so: the corner stays on the line of its neighbour (the fold, the
shoulder, the side), which is cut or run on straight; the edge keeps its direction at both ends, so that it still
meets the fold squarely and still runs on smoothly over the seam.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from eke.errors import BadInput
from eke.fit.falloff import with_ends_shifted
from eke.geometry import Line, Path, Pt
from eke.pattern.corners import End, called, index_of, notches_on, place_at, sound
from eke.pattern.model import Edge, Piece

LEAST_MM: Final = 5.0
"""So much of a neighbour is left."""


def slid(piece: Piece, edge_id: str, start_mm: float = 0.0, end_mm: float = 0.0) -> Piece:
    """Return the piece with the ends of an edge slid along its neighbours.

    Parameters
    ----------
    start_mm, end_mm
        How far the start and the end go along the neighbour there; above 0 the neighbour gets shorter, below 0 it
        is run on straight.

    Raises
    ------
    BadInput
        When a neighbour would be used up; the message says how far the end can go.
    BadShape
        When the outline would cross itself.
    """
    at = index_of(piece, edge_id)
    count = len(piece.edges)
    if count < 3:
        raise BadInput(f"“{piece.name}” has too few corners for that.")
    edges = list(piece.edges)
    edge = edges[at]
    before, after = (at - 1) % count, (at + 1) % count
    edges[before] = trimmed(piece, edges[before], "end", start_mm)
    edges[after] = trimmed(piece, edges[after], "start", end_mm)
    corner_a, corner_b = edges[before].path.end, edges[after].path.start
    moved = with_ends_shifted(edge, _from_to(edge.path.start, corner_a), _from_to(edge.path.end, corner_b))
    edges[at] = replace(moved, path=_between(moved.path, corner_a, corner_b))
    return sound(with_edges_kept(piece, edges), piece)


def with_edges_kept(piece: Piece, edges: list[Edge]) -> Piece:
    """Return the piece with other edges of the same ids, notches of trimmed edges at their place on the cloth."""
    made = replace(piece, edges=tuple(edges))
    notches = {n.id: n for n in piece.notches}
    for old, new in zip(piece.edges, edges, strict=True):
        if old.path == new.path:
            continue
        for notch in notches_on(piece, old.id):
            point = old.path.point_at(old.mm_of(notch.at))
            found = new.path.nearest(point)
            if found.distance_mm < 0.05:  # it lies on the part that stayed
                notches[notch.id] = replace(notch, at=place_at(new, found.at_mm, notch.at))
    return replace(made, notches=tuple(notches[n.id] for n in piece.notches))


def trimmed(piece: Piece, edge: Edge, end: End, by_mm: float) -> Edge:
    """Return an edge shorter by ``by_mm`` at one end (below 0: run on straight). Raises :class:`BadInput`."""
    path = edge.path
    if abs(by_mm) <= 1e-9:
        return edge
    if by_mm > path.length_mm - LEAST_MM:
        most = path.length_mm - LEAST_MM
        raise BadInput(
            f"“{called(piece, edge)}” of “{piece.name}” is {path.length_mm:.0f} mm long; the corner can go "
            f"{most:.0f} mm along it at most.",
            most_mm=most,
        )
    if by_mm > 0.0:
        cut = path.slice(by_mm, path.length_mm) if end == "start" else path.slice(0.0, path.length_mm - by_mm)
        return replace(edge, path=cut)
    if end == "start":
        (x, y), (u, v) = path.start, path.tangent_at(0.0)
        tip = (x + by_mm * u, y + by_mm * v)
        return replace(edge, path=_one_line(Path((Line(tip, (x, y)), *path.segments))))
    (x, y), (u, v) = path.end, path.tangent_at(path.length_mm, side="before")
    tip = (x - by_mm * u, y - by_mm * v)
    return replace(edge, path=_one_line(Path((*path.segments, Line((x, y), tip)))))


def _one_line(path: Path) -> Path:
    """A straight line that was run on is one line."""
    if all(isinstance(s, Line) for s in path.segments) and len(path.segments) == 2:
        return Path.line(path.start, path.end)
    return path


def _between(path: Path, start: Pt, end: Pt) -> Path:
    segments = list(path.segments)
    segments[0] = segments[0].with_ends(start, segments[0].end)
    segments[-1] = segments[-1].with_ends(segments[-1].start, end)
    return Path(tuple(segments))


def _from_to(p: Pt, q: Pt) -> Pt:
    return (q[0] - p[0], q[1] - p[1])
