"""Our own small patterns for tests: a bodice of front and back halves with a sleeve, in mm.

Drafted by plain geometry so that all numbers are known: shoulders and side seams match, the neck and armhole
run on smoothly (their corners add to 180° at the shoulder), necks and hems meet the folds at 90°.
"""

from __future__ import annotations

import math

from eke.changes import Log, Record, Registry, ReplayCache, attempt
from eke.geometry import Cubic, Line, Path, Pt, path_area_mm2, trouble_of
from eke.pattern.checking import check
from eke.pattern.corners import neighbour
from eke.pattern.kinds import pattern_kinds
from eke.pattern.model import (
    Edge,
    EdgeId,
    EdgeKind,
    EdgePlace,
    Notch,
    Pattern,
    Piece,
    PieceId,
    RunPart,
    Seam,
    SeamId,
)


def edge(edge_id: str, path: Path, kind: EdgeKind = "seam", **facts) -> Edge:
    return Edge(EdgeId(edge_id), path, kind, facts.pop("name", edge_id), **facts)


def curve(p: Pt, leave: float, q: Pt, arrive: float, pull: float = 0.38) -> Path:
    """One cubic from ``p`` leaving at ``leave``° to ``q`` arriving at ``arrive``°."""
    arm = pull * math.dist(p, q)
    a, b = math.radians(leave), math.radians(arrive)
    return Path(
        (
            Cubic(
                p,
                (p[0] + arm * math.cos(a), p[1] + arm * math.sin(a)),
                (q[0] - arm * math.cos(b), q[1] - arm * math.sin(b)),
                q,
            ),
        )
    )


SHOULDER_DEG = -20.0
"""The shoulder slopes down so from the neck to the tip."""


def half_bodice(name: str, neck_drop: float, *, at: Pt = (0.0, 0.0)) -> Piece:
    """A half bodice, its fold at the left (x = 0), hem at the bottom; the shoulder is 120 mm long."""
    x, y = at
    hem_l, hem_r = (x, y), (x + 240.0, y)
    underarm = (x + 240.0, y + 220.0)
    neck_side = (x + 70.0, y + 430.0)
    s = math.radians(SHOULDER_DEG)
    tip = (neck_side[0] + 120.0 * math.cos(s), neck_side[1] + 120.0 * math.sin(s))
    neck_mid = (x, y + 430.0 - neck_drop)
    # counter-clockwise: hem, side, armhole, shoulder, neck, fold
    along = SHOULDER_DEG + 180.0  # walking the shoulder from tip to neck
    armhole = curve(underarm, 180.0, tip, along - 90.0)
    neck = curve(neck_side, along + 90.0, neck_mid, 180.0)
    k = name
    edges = (
        edge(f"{k}-hem", Path.line(hem_l, hem_r), "hem"),
        edge(f"{k}-side", Path.line(hem_r, underarm)),
        edge(f"{k}-armhole", armhole),
        edge(f"{k}-shoulder", Path.line(tip, neck_side)),
        edge(f"{k}-neck", neck),
        edge(f"{k}-fold", Path.line(neck_mid, hem_l), "fold"),
    )
    notch = Notch(
        f"{k}-armhole-notch", EdgePlace(EdgeId(f"{k}-armhole"), mm=90.0), 1 if name == "front" else 2
    )
    side = Notch(f"{k}-side-notch", EdgePlace(EdgeId(f"{k}-side"), mm=80.0))
    return Piece(
        PieceId(name),
        name,
        edges,
        (notch, side),
        grain=((x + 100, y + 50), (x + 100, y + 250)),
        fold=EdgeId(f"{k}-fold"),
    )


def bodice() -> Pattern:
    """Front and back halves, sewn at side and shoulder; nothing is wrong with it but the unsewn armhole and neck."""
    front, back = half_bodice("front", 110.0), half_bodice("back", 45.0, at=(400.0, 0.0))
    pattern = Pattern("bodice").with_piece(front).with_piece(back)
    # both halves lie with the fold at the left: both sides are walked from the hem
    pattern = pattern.with_seam(
        seam("side", [("front", "front-side", False)], [("back", "back-side", False)])
    )
    return pattern.with_seam(
        seam("shoulder", [("front", "front-shoulder", False)], [("back", "back-shoulder", False)])
    )


def seam(seam_id: str, a, b, **facts) -> Seam:
    def run(rows):
        return tuple(RunPart(PieceId(p), EdgeId(e), r) for p, e, r in rows)

    return Seam(SeamId(seam_id), run(a), run(b), seam_id, **facts)


def rectangle(name: str, width: float, height: float, *, at: Pt = (0.0, 0.0)) -> Piece:
    """A plain rectangle: hem, right side, top, left side."""
    x, y = at
    a, b, c, d = (x, y), (x + width, y), (x + width, y + height), (x, y + height)
    return Piece(
        PieceId(name),
        name,
        (
            edge(f"{name}-hem", Path.line(a, b), "hem"),
            edge(f"{name}-right", Path.line(b, c)),
            edge(f"{name}-top", Path.line(c, d)),
            edge(f"{name}-left", Path.line(d, a)),
        ),
        grain=((x + width / 2, y), (x + width / 2, y + height)),
    )


def darted(intake: float = 30.0, leg: float = 200.0) -> Piece:
    """A skirt panel with one dart of that intake and leg in its straight top edge, point straight below."""
    drop = math.sqrt(leg**2 - (intake / 2) ** 2)
    pts = [
        (0, 0),
        (300, 0),
        (300, 500),
        (150 + intake / 2, 500),
        (150, 500 - drop),
        (150 - intake / 2, 500),
        (0, 500),
    ]
    names = ["hem", "right", "top-1", "leg-1", "leg-2", "top-2", "left"]
    edges = tuple(
        Edge(EdgeId(n), Path((Line(p, q),)), "hem" if n == "hem" else "seam", n, shape="straight")
        for n, p, q in zip(names, pts, [*pts[1:], pts[0]], strict=True)
    )
    return Piece(PieceId("skirt"), "skirt", edges, grain=((50, 50), (50, 450)))


class Story:
    """A garment's history under test: do changes by kind, read the state."""

    def __init__(self, initial: Pattern | None = None) -> None:
        self.registry: Registry[Pattern] = Registry(pattern_kinds())
        self.initial = initial or Pattern()
        self.cache: ReplayCache[Pattern] = ReplayCache()
        self.log = Log()
        self.state = self.initial
        self.count = 0

    def do(self, kind: str, /, **params) -> Pattern:
        self.count += 1
        record = Record(f"r{self.count}", self.log.head, kind, 1, params)
        tried = attempt(self.log, record, self.registry, self.initial, self.cache)
        self.log, self.state = tried.log, tried.replayed.state
        return self.state


def joined_up(pattern: Pattern) -> None:
    """Every outline is closed, simple and counter-clockwise."""
    for piece in pattern.pieces.values():
        for one in piece.edges:
            assert math.dist(one.path.end, neighbour(piece, one.id, "end").path.start) < 1e-6
        assert trouble_of(piece.outline) is None
        assert path_area_mm2(piece.outline) > 0.0


def mm(pattern: Pattern, edge_id: str) -> float:
    """How long an edge is."""
    return pattern.edge(edge_id)[1].path.length_mm


def codes(pattern: Pattern) -> set[str]:
    """What is found wrong in a pattern, by its codes."""
    return {f.code for f in check(pattern)}
