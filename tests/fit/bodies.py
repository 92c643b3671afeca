"""Our own small patterns for the fit changes, and what every change must keep."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
from shapely.geometry import Polygon

from eke.changes import Context, Registry
from eke.fit import fit_kinds
from eke.geometry import Cubic, Move, Path, Pt, path_area_mm2, trouble_of
from eke.pattern.model import (
    Edge,
    EdgeId,
    EdgePlace,
    Mark,
    Notch,
    Pattern,
    Piece,
    PieceId,
    RunPart,
    Seam,
    SeamId,
)

REGISTRY: Registry[Pattern] = Registry(fit_kinds())


def do(pattern: Pattern, kind: str, /, change: str = "c1", **params: Any) -> Pattern:
    """Apply one kind as a history would, and check what must hold after every change."""
    found = REGISTRY.kind(kind, 1)
    made = found.apply(pattern, params, Context(change))
    assert found.sentence(params)[0].isupper()
    assert not found.sentence(params).endswith(".")
    assert all(isinstance(t, str) for t in found.touches(params))
    sound(made)
    return made


def sound(pattern: Pattern) -> None:
    """Closed, counter-clockwise, not crossing itself; ids once only; notches, darts and seams lie on edges that are there."""
    ids = [e.id for p in pattern.pieces.values() for e in p.edges]
    assert len(ids) == len(set(ids))
    for piece in pattern.pieces.values():
        outline = piece.outline
        assert outline.is_closed
        assert trouble_of(outline) is None
        assert path_area_mm2(outline) > 0.0
        for a, b in zip(piece.edges, (*piece.edges[1:], piece.edges[0]), strict=True):
            assert math.dist(a.path.end, b.path.start) < 1e-9
        for notch in piece.notches:
            edge = piece.edge(notch.at.edge)
            assert 0.0 <= edge.mm_of(notch.at) <= edge.path.length_mm
        for dart in piece.darts:
            one, two = piece.edge(dart.first_leg).path, piece.edge(dart.second_leg).path
            assert one.end == two.start
    for seam in pattern.seams.values():
        for part in seam.parts():
            pattern.edge(part.edge)


def area(piece: Piece) -> float:
    return float(Polygon(piece.outline.flatten(0.01)).area)


def length(pattern: Pattern, edge_id: str) -> float:
    return pattern.edge(edge_id)[1].path.length_mm


def apart(one: Path, other: Path) -> float:
    """The greatest distance of one line from the other, in mm."""
    return max(other.nearest((float(x), float(y))).distance_mm for x, y in one.flatten(0.2))


def curve(p: Pt, leave_deg: float, q: Pt, arrive_deg: float, pull: float = 0.38) -> Path:
    """One cubic from ``p``, leaving at one angle, to ``q``, arriving at another."""
    arm = pull * math.dist(p, q)
    a, b = math.radians(leave_deg), math.radians(arrive_deg)
    one = (p[0] + arm * math.cos(a), p[1] + arm * math.sin(a))
    two = (q[0] - arm * math.cos(b), q[1] - arm * math.sin(b))
    return Path((Cubic(p, one, two, q),))


def block(width: float = 240.0, height: float = 600.0, name: str = "block", **facts: Any) -> Piece:
    """A plain rectangle, its lower left corner at 0, 0: hem, side, top, centre."""
    a, b, c, d = (0.0, 0.0), (width, 0.0), (width, height), (0.0, height)
    rows = [("hem", a, b), ("side", b, c), ("top", c, d), ("centre", d, a)]
    edges = tuple(
        Edge(EdgeId(f"{name}-{n}"), Path.line(p, q), "hem" if n == "hem" else "seam", n) for n, p, q in rows
    )
    return Piece(PieceId(name), name, edges, grain=((40.0, height * 0.2), (40.0, height * 0.8)), **facts)


def pattern_of(*pieces: Piece) -> Pattern:
    made = Pattern("test")
    for piece in pieces:
        made = made.with_piece(piece)
    return made


def seam(
    pattern: Pattern, name: str, a: list[tuple[str, bool]], b: list[tuple[str, bool]], **facts: Any
) -> Pattern:
    """Say a seam by edge ids, with whether each is walked backwards."""

    def run(rows: list[tuple[str, bool]]) -> tuple[RunPart, ...]:
        return tuple(RunPart(pattern.edge(e)[0].id, EdgeId(e), r) for e, r in rows)

    return pattern.with_seam(Seam(SeamId(name), run(a), run(b), name, **facts))


def half(name: str, neck_drop: float, *, chest: float = 240.0) -> Piece:
    """A half bodice on the fold at x = 0: hem, side, armhole, shoulder, neck, fold; shoulder 120 mm at 20°."""
    underarm, neck_side = (chest, 220.0), (70.0, 430.0)
    s = math.radians(-20.0)
    tip = (neck_side[0] + 120.0 * math.cos(s), neck_side[1] + 120.0 * math.sin(s))
    middle = (0.0, 430.0 - neck_drop)
    rows = [
        ("hem", Path.line((0.0, 0.0), (chest, 0.0))),
        ("side", Path.line((chest, 0.0), underarm)),
        ("armhole", curve(underarm, 180.0, tip, 70.0)),
        ("shoulder", Path.line(tip, neck_side)),
        ("neck", curve(neck_side, 250.0, middle, 180.0)),
        ("fold", Path.line(middle, (0.0, 0.0))),
    ]
    kinds = {"hem": "hem", "fold": "fold"}
    edges = tuple(Edge(EdgeId(f"{name}-{n}"), p, kinds.get(n, "seam"), n) for n, p in rows)  # type: ignore[arg-type]
    return Piece(
        PieceId(name),
        name,
        edges,
        (
            Notch(f"{name}-n", EdgePlace(EdgeId(f"{name}-armhole"), mm=90.0), 1 if name == "front" else 2),
            Notch(f"{name}-s", EdgePlace(EdgeId(f"{name}-side"), mm=80.0)),
        ),
        (Mark(f"{name}-chest", "balance", ((5.0, 200.0), (230.0, 200.0)), "chest"),),
        grain=((100.0, 50.0), (100.0, 250.0)),
        fold=EdgeId(f"{name}-fold"),
    )


def sleeve() -> Piece:
    """A sleeve: wrist, front underarm, cap from front to back, back underarm; drawn whole."""
    left, right, top = (0.0, 400.0), (320.0, 400.0), (160.0, 520.0)
    rows = [
        ("wrist", Path.line((60.0, 0.0), (260.0, 0.0))),
        ("under-a", Path.line((260.0, 0.0), right)),
        ("cap-a", curve(right, 180.0, top, 180.0)),
        ("cap-b", curve(top, 180.0, left, 180.0)),
        ("under-b", Path.line(left, (60.0, 0.0))),
    ]
    edges = tuple(Edge(EdgeId(f"sleeve-{n}"), p, "hem" if n == "wrist" else "seam", n) for n, p in rows)
    return Piece(PieceId("sleeve"), "sleeve", edges, grain=((160.0, 100.0), (160.0, 350.0)))


def bodice() -> Pattern:
    """Front and back halves with a sleeve: side, shoulder, armholes and underarm are sewn."""
    made = pattern_of(half("front", 110.0), half("back", 45.0), sleeve())
    made = seam(made, "side", [("front-side", False)], [("back-side", False)])
    made = seam(made, "shoulder", [("front-shoulder", False)], [("back-shoulder", False)])
    made = seam(made, "underarm", [("sleeve-under-a", False)], [("sleeve-under-b", True)])
    return seam(
        made,
        "armhole",
        [("sleeve-cap-a", False), ("sleeve-cap-b", False)],
        [("front-armhole", False), ("back-armhole", True)],
    )


def moved(pattern: Pattern, move: Move) -> Pattern:
    """The same pattern shifted, turned or mirrored; a mirrored outline is walked the other way round."""
    return replace(pattern, pieces={k: _moved(p, move) for k, p in pattern.pieces.items()})


def _moved(piece: Piece, move: Move) -> Piece:
    edges = [replace(e, path=e.path.moved(move)) for e in piece.edges]
    notches, darts = piece.notches, piece.darts
    if move.flips:
        edges = [replace(e, path=e.path.reversed()) for e in reversed(edges)]
        notches = tuple(
            replace(
                n,
                at=EdgePlace(
                    n.at.edge, mm=piece.edge(n.at.edge).path.length_mm - piece.edge(n.at.edge).mm_of(n.at)
                ),
            )
            for n in notches
        )
        darts = tuple(replace(d, first_leg=d.second_leg, second_leg=d.first_leg) for d in darts)
    return replace(
        piece,
        edges=tuple(edges),
        notches=notches,
        darts=darts,
        marks=tuple(replace(m, points=tuple(move.apply(p) for p in m.points)) for m in piece.marks),
        grain=None if piece.grain is None else (move.apply(piece.grain[0]), move.apply(piece.grain[1])),
    )


def same_shape(one: Piece, other: Piece, within_mm: float = 0.02) -> None:
    """Both outlines are the same but for a shift."""
    centres = [np.array(Polygon(p.outline.flatten(0.01)).centroid.coords[0]) for p in (one, other)]
    shift = Move.translation(*(centres[1] - centres[0]))
    assert apart(one.outline.moved(shift), other.outline) <= within_mm
    assert abs(area(one) - area(other)) <= within_mm * one.outline.length_mm
