"""Our own draft of a child's pinafore and of a small apron: what the demo's tracings are drawn from.

The pinafore is for a nine-year-old: chest 680 mm, back neck to waist 290 mm, worn over a blouse. Chest of
the garment 760 mm, waist 712 mm: wide enough to step in over the hips, so it needs no other opening than
the buttoned straps. It ends 620 mm below the shoulder. Half of the garment lies spread out from left to
right as *front* (fold at centre front), *side front*, *side back*, *back* (fold at centre back), each with its
right side up. The seam between two panels runs from the armhole down to the hem; the skirt flares from the
waist. The straps are sewn to the back and buttoned to the front.

The apron is for whoever makes the pinafore: body and bib in one (half, on the fold), a pocket, and strips for
ties and neck loop.

Each edge says what it is sewn to; :data:`SEAMS` is the same as a table. Outlines are net (without allowances),
counter-clockwise, in mm, grain along +y. :func:`as_traced` gives the pieces as a tired hand drew them on paper:
one edge is too long, and one piece carries the allowance of the piece it was traced from.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Literal

import numpy as np

from demo.drafting import (
    Array,
    Chain,
    along,
    chain,
    flatten,
    length_mm,
    mirror,
    move,
    solve,
    split,
    tangent,
)

__all__ = [
    "MISTRACED",
    "MISTRACED_MM",
    "SEAMS",
    "DraftEdge",
    "DraftPiece",
    "DraftSeam",
    "apron",
    "as_traced",
    "notch_points",
    "outline_chain",
    "outline_points",
    "piece",
    "pieces",
    "pinafore",
]

EdgeKind = Literal["seam", "hem", "fold", "opening"]
TracedLine = Literal["net", "finished", "cut"]

WAIST_Y_MM = 330.0
UNDERARM_Y_MM = 475.0
CHEST_MM = 760.0
WAIST_MM = 712.0
LENGTH_MM = 620.0
"""From the shoulder to the hem: the strap lies over a shoulder about 620 mm above the hem."""

MISTRACED = "side_front.panel"
MISTRACED_MM = 3.5
"""The tracing of this edge is this much too long at the hem: trueing has to find it."""


@dataclass(frozen=True, slots=True, eq=False)
class DraftEdge:
    """A stretch of an outline between two corners.

    Parameters
    ----------
    id
        Unique within its piece.
    kind
        What becomes of it.
    path
        Its lines and curves, in the direction of the counter-clockwise outline.
    sewn_to
        ``piece.edge`` names of the edges that it is sewn to; empty for hems, folds and openings.
    notches_mm
        Distances of notches from the edge's beginning, with the number of strokes of each.
    """

    id: str
    kind: EdgeKind
    path: Chain
    sewn_to: tuple[str, ...] = ()
    notches_mm: tuple[tuple[float, int], ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class DraftPiece:
    """One pattern piece of the draft.

    Parameters
    ----------
    id, name
        A short key, and the word written on the paper.
    edges
        The closed outline, counter-clockwise, beginning at the hem.
    grain
        ``(2, 2)``, from below upwards.
    on_fold
        Id of the edge that lies on a fold, or None.
    cut
        How many are cut of the outer cloth, a piece on the fold counting once.
    lines, points
        Marks inside: the waist line, buttonholes; the places of buttons.
    traced
        What the line on the paper stands for, for the whole piece.
    traced_allowance_mm
        With ``cut``, how far the traced line lies outside the net line.
    """

    id: str
    name: str
    edges: tuple[DraftEdge, ...]
    grain: Array
    on_fold: str | None = None
    cut: int = 1
    lines: tuple[Array, ...] = ()
    points: tuple[Array, ...] = ()
    traced: TracedLine = "net"
    traced_allowance_mm: float = 0.0

    def edge(self, edge_id: str) -> DraftEdge:
        """Return the edge called ``edge_id``."""
        return next(e for e in self.edges if e.id == edge_id)

    @property
    def corners(self) -> Array:
        """``(c, 2)``: where each edge begins."""
        return np.array([e.path[0][0] for e in self.edges])


@dataclass(frozen=True, slots=True)
class DraftSeam:
    """Two runs of edges that are sewn together, each in the order in which it is walked.

    ``a`` and ``b`` begin at the same end of the seam; an edge with ``-`` before it is walked against the
    direction of its outline.
    """

    name: str
    a: tuple[str, ...]
    b: tuple[str, ...]


SEAMS: tuple[DraftSeam, ...] = (
    DraftSeam("front panel", ("front.panel",), ("-side_front.panel",)),
    DraftSeam("side", ("side_front.side",), ("-side_back.side",)),
    DraftSeam("back panel", ("side_back.panel",), ("-back.panel",)),
    DraftSeam("strap to back", ("strap.end",), ("-back.strap",)),
)
"""The expected seam map of the pinafore: what the demo sews to what, from the hem upwards.

The pocket is stitched onto the front skirt and the apron has hems only, so neither appears."""


def pieces() -> tuple[DraftPiece, ...]:
    """Return all pieces of both garments."""
    return (*pinafore(), *apron())


def piece(piece_id: str) -> DraftPiece:
    """Return one piece of either garment."""
    return next(p for p in pieces() if p.id == piece_id)


def outline_chain(p: DraftPiece) -> Chain:
    """Return the whole outline of a piece as one closed chain."""
    return tuple(s for e in p.edges for s in e.path)


def outline_points(p: DraftPiece, step_mm: float = 1.0) -> Array:
    """Return the outline as points, closed, first point not repeated, ``(n, 2)``."""
    return flatten(outline_chain(p), step_mm)[:-1]


def _perpendicular_curve(start: Array, end: Array, before: Array, after: Array) -> Array:
    """A cubic from ``start`` to ``end`` that leaves at right angles to ``before`` and arrives so at ``after``.

    ``before`` points down along the seam at ``start``, ``after`` up along the seam at ``end``.
    """
    reach = np.hypot(*(end - start)) * 0.36
    leave = np.array([-before[1], before[0]])
    arrive = np.array([after[1], -after[0]])
    return np.array([start, start + reach * leave, end - reach * arrive, end])


def _skirt(waist: Array, flare_mm: float, flare_deg: float, hem_y_mm: float) -> Array:
    """The skirt part of a seam, waist to hem: plumb at the waist, ``flare_mm`` further out at the hem."""
    a = np.radians(flare_deg)
    hem = np.array([waist[0] + flare_mm, hem_y_mm])
    down = np.array([np.sin(a), -np.cos(a)])
    return np.array([waist, waist - np.array([0.0, 105.0]), hem - 120.0 * down, hem])


@dataclass(frozen=True, slots=True)
class _Half:
    """The numbers of one half of the body (front or back), from the fold outwards."""

    neck_y: float
    strap_in: tuple[float, float]
    strap_out: tuple[float, float]
    armhole_out: tuple[float, float]
    armhole_reach: float
    panel_at: float
    waist: float
    intake: float
    flare: tuple[float, float]
    strokes: int


_FRONT = _Half(502.0, (62, 560), (100, 557), (97.0, 519.0), 52.0, 0.36, 85.0, 7.0, (35.0, 7.5), 1)
_BACK = _Half(538.0, (60, 577), (98, 575), (95.5, 528.0), 56.0, 0.40, 83.0, 7.0, (37.0, 8.0), 2)
_CHEST_NOTCH_MM = 62.0


def _quarter(h: _Half) -> dict[str, Chain]:
    """Edges of centre and side panel in a frame with the fold at x = 0 and the side to the right."""
    neck_in, strap_in, strap_out = np.array([0, h.neck_y]), np.array(h.strap_in), np.array(h.strap_out)
    underarm = np.array([CHEST_MM / 4, UNDERARM_Y_MM])
    waist_side = np.array([WAIST_MM / 4 + h.intake, WAIST_Y_MM])
    side_body = np.array(
        [waist_side, waist_side + np.array([0, 48]), underarm - np.array([2.2, 46.0]), underarm]
    )
    side_skirt = _skirt(waist_side, 42.0, 9.0, 9.5)
    side = (side_skirt[::-1].copy(), side_body)  # hem to underarm

    up = tangent(side, at_end=True)
    armhole = np.array(
        [strap_out, h.armhole_out, underarm + h.armhole_reach * np.array([-up[1], up[0]]), underarm]
    )
    arm_centre, arm_side = split(armhole, h.panel_at)
    top = arm_centre[3]

    first = np.array([-17.0, -36.0])
    waist_c = np.array([h.waist, WAIST_Y_MM])
    body_c = np.array([top, top + first, waist_c + np.array([0, 80]), waist_c])
    target = length_mm((body_c,))
    waist_s = np.array([h.waist + h.intake, WAIST_Y_MM])

    def body_s(reach: float) -> Array:
        return np.array([top, top + reach * first, waist_s + np.array([0, 80]), waist_s])

    # the side panel leaves the armhole in the same direction; how far it keeps to it makes the lengths equal
    reach = solve(lambda r: length_mm((body_s(r),)) - target, 0.8, 3.0)
    skirt_c = _skirt(waist_c, h.flare[0], h.flare[1], 7.0)
    skirt_s = _skirt(waist_s, -h.flare[0], -h.flare[1], 7.0)
    panel_c = (skirt_c[::-1].copy(), body_c[::-1].copy())  # hem to armhole
    panel_s = (body_s(reach), skirt_s)  # armhole to hem

    hem_c = _perpendicular_curve(
        np.zeros(2), skirt_c[3], np.array([0.0, -1.0]), tangent(panel_c, at_end=False)
    )
    hem_s = _perpendicular_curve(
        skirt_s[3], side_skirt[3], tangent(panel_s, at_end=True), tangent(side, at_end=False)
    )
    neck = np.array([strap_in, strap_in - np.array([7.0, _neck_reach(h)]), [34.0, h.neck_y], neck_in])
    return {
        "hem_c": (hem_c,),
        "panel_c": panel_c,
        "armhole_c": (arm_centre[::-1].copy(),),
        "strap": chain([strap_out, strap_in]),
        "neck": (neck,),
        "fold": chain([neck_in, (0, 0)]),
        "hem_s": (hem_s,),
        "side": side,
        "armhole_s": (arm_side[::-1].copy(),),
        "panel_s": panel_s,
    }


def _neck_reach(h: _Half) -> float:
    """How far the neck edge runs down from the strap before it bends, in mm."""
    return (h.strap_in[1] - h.neck_y) * 0.62


def _panel_notches(panel: Chain, strokes: int) -> tuple[tuple[float, int], ...]:
    """Notches of a panel seam from the hem: one stroke at the waist, one or two at the chest."""
    skirt, whole = length_mm(panel[:1]), length_mm(panel)
    return ((skirt, 1), (whole - _CHEST_NOTCH_MM, strokes))


def _from_other_end(path: Chain, notches: tuple[tuple[float, int], ...]) -> tuple[tuple[float, int], ...]:
    whole = length_mm(path)
    return tuple((whole - d, n) for d, n in reversed(notches))


def _line(*points: tuple[float, float]) -> Array:
    return np.array(points, dtype=float)


@lru_cache(maxsize=1)
def pinafore() -> tuple[DraftPiece, ...]:
    """Return front, side front, side back, back, pocket and strap."""
    f, b = _quarter(_FRONT), _quarter(_BACK)
    nf, nb = _panel_notches(f["panel_c"], 1), _panel_notches(b["panel_c"], 2)
    ns = ((length_mm(f["side"][:1]), 1),)
    waist = WAIST_Y_MM
    front = DraftPiece(
        "front",
        "front",
        (
            DraftEdge("hem", "hem", f["hem_c"]),
            DraftEdge("panel", "seam", f["panel_c"], ("side_front.panel",), nf),
            DraftEdge("armhole", "opening", f["armhole_c"]),
            DraftEdge("strap", "opening", f["strap"]),
            DraftEdge("neck", "opening", f["neck"]),
            DraftEdge("fold", "fold", f["fold"]),
        ),
        _line((45, 90), (45, 420)),
        on_fold="fold",
        lines=(_line((0, waist), (_FRONT.waist, waist)),),
        points=(_line((81, 538)),),
    )
    shift = -(_FRONT.waist + _FRONT.intake)
    side_front = DraftPiece(
        "side_front",
        "side front",
        (
            DraftEdge("hem", "hem", move(f["hem_s"], (shift, 0))),
            DraftEdge("side", "seam", move(f["side"], (shift, 0)), ("side_back.side",), ns),
            DraftEdge("armhole", "opening", move(f["armhole_s"], (shift, 0))),
            DraftEdge(
                "panel",
                "seam",
                move(f["panel_s"], (shift, 0)),
                ("front.panel",),
                _from_other_end(f["panel_s"], nf),
            ),
        ),
        _line((46, 80), (46, 400)),
        cut=2,
        lines=(_line((0, waist), (WAIST_MM / 4 - _FRONT.waist, waist)),),
    )
    shift = _BACK.waist + _BACK.intake
    side_back = DraftPiece(
        "side_back",
        "side back",
        (
            DraftEdge("hem", "hem", move(mirror(b["hem_s"]), (shift, 0))),
            DraftEdge("panel", "seam", move(mirror(b["panel_s"]), (shift, 0)), ("back.panel",), nb),
            DraftEdge("armhole", "opening", move(mirror(b["armhole_s"]), (shift, 0))),
            DraftEdge(
                "side",
                "seam",
                move(mirror(b["side"]), (shift, 0)),
                ("side_front.side",),
                _from_other_end(b["side"], ns),
            ),
        ),
        _line((-46, 80), (-46, 400)),
        cut=2,
        lines=(_line((-(WAIST_MM / 4 - _BACK.waist), waist), (0, waist)),),
    )
    back = DraftPiece(
        "back",
        "back",
        (
            DraftEdge("hem", "hem", mirror(b["hem_c"])),
            DraftEdge("fold", "fold", mirror(b["fold"])),
            DraftEdge("neck", "opening", mirror(b["neck"])),
            DraftEdge("strap", "seam", mirror(b["strap"]), ("strap.end",)),
            DraftEdge("armhole", "opening", mirror(b["armhole_c"])),
            DraftEdge(
                "panel", "seam", mirror(b["panel_c"]), ("side_back.panel",), _from_other_end(b["panel_c"], nb)
            ),
        ),
        _line((-45, 90), (-45, 430)),
        on_fold="fold",
        lines=(_line((-_BACK.waist, waist), (0, waist)),),
    )
    return (front, side_front, side_back, back, _pocket(), _strap(length_mm(b["strap"])))


def _rounded_bottom(width: float, height: float, radius: float) -> Chain:
    """Left side down, bottom with round corners, right side up; cubic quarter circles."""
    k = radius * 0.5522847498
    w, r = width, radius
    return chain(
        [(0, height), (0, r)],
        [(0, r), (0, r - k), (r - k, 0), (r, 0)],
        [(r, 0), (w - r, 0)],
        [(w - r, 0), (w - r + k, 0), (w, r - k), (w, r)],
        [(w, r), (w, height)],
    )


def _pocket() -> DraftPiece:
    w, h = 130.0, 140.0
    return DraftPiece(
        "pocket",
        "pocket",
        (
            DraftEdge("round", "hem", _rounded_bottom(w, h, 34.0)),
            DraftEdge("top", "opening", chain([(w, h), (0, h)])),
        ),
        _line((65, 30), (65, 110)),
        cut=2,
        traced="finished",
    )


def _strap(width: float) -> DraftPiece:
    """A strap as wide as its place on the back; the far end is round. Buttonholes for a button 20 mm wide
    and 4 mm high: 24 mm (width and height added)."""
    w, h = width, 205.0
    r, k = w / 2, w / 2 * 0.5522847498
    path = chain(
        [(w, 0), (w, h - r)],
        [(w, h - r), (w, h - r + k), (r + k, h), (r, h)],
        [(r, h), (r - k, h), (0, h - r + k), (0, h - r)],
        [(0, h - r), (0, 0)],
    )
    holes = tuple(_line((w / 2, y), (w / 2, y + 24.0)) for y in (h - 43.0, h - 78.0))
    return DraftPiece(
        "strap",
        "strap",
        (
            DraftEdge("end", "seam", chain([(0, 0), (w, 0)]), ("back.strap",)),
            DraftEdge("round", "seam", path),
        ),
        _line((w / 2, 25), (w / 2, 110)),
        cut=4,
        lines=holes,
    )


@lru_cache(maxsize=1)
def apron() -> tuple[DraftPiece, ...]:
    """Return the body with its bib, the pocket, and the strip for ties and neck loop."""
    body = DraftPiece(
        "apron_body",
        "apron",
        (
            DraftEdge("hem", "hem", chain([(0, 0), (265, 0)])),
            DraftEdge("side", "hem", chain([(265, 0), (265, 325)])),
            DraftEdge("armhole", "hem", chain([(265, 325), (178, 340), (122, 430), (112, 560)])),
            DraftEdge("bib", "hem", chain([(112, 560), (0, 560)])),
            DraftEdge("fold", "fold", chain([(0, 560), (0, 0)])),
        ),
        _line((60, 120), (60, 420)),
        on_fold="fold",
        traced="finished",
    )
    pocket = DraftPiece(
        "apron_pocket",
        "apron pocket",
        (
            DraftEdge("bottom", "hem", chain([(0, 0), (190, 0)])),
            DraftEdge("right", "hem", chain([(190, 0), (190, 150)])),
            DraftEdge("top", "opening", chain([(190, 150), (0, 150)])),
            DraftEdge("left", "hem", chain([(0, 150), (0, 0)])),
        ),
        _line((95, 35), (95, 115)),
        traced="cut",
        traced_allowance_mm=10.0,
    )
    tie = DraftPiece(
        "apron_tie",
        "tie",
        (
            DraftEdge("end", "seam", chain([(0, 0), (56, 0)])),
            DraftEdge("right", "seam", chain([(56, 0), (56, 540)])),
            DraftEdge("other_end", "seam", chain([(56, 540), (0, 540)])),
            DraftEdge("left", "seam", chain([(0, 540), (0, 0)])),
        ),
        _line((28, 120), (28, 420)),
        cut=3,
    )
    return (body, pocket, tie)


def as_traced(p: DraftPiece) -> DraftPiece:
    """Return a piece as it was drawn on paper.

    The panel seam of the side front was drawn :data:`MISTRACED_MM` too long, at the hem, so the hem slopes
    there. A piece traced by its cut edge is larger all round by the allowance that it carries.
    """
    if p.traced == "cut":
        return _grown(p, p.traced_allowance_mm)
    piece_id, edge_id = MISTRACED.split(".")
    if p.id != piece_id:
        return p
    edge, hem = p.edge(edge_id), p.edge("hem")
    longer = edge.path[-1][-1] + MISTRACED_MM * tangent(edge.path, at_end=True)
    long_edge = replace(edge, path=(*edge.path, np.array([edge.path[-1][-1], longer])))
    h = hem.path[0]
    long_hem = replace(hem, path=(np.vstack([longer, h[1] + (longer - h[0]) * 0.6, h[2:]]),))
    return replace(p, edges=tuple({edge.id: long_edge, hem.id: long_hem}.get(e.id, e) for e in p.edges))


def _grown(p: DraftPiece, by_mm: float) -> DraftPiece:
    """A straight-sided piece with all its edges ``by_mm`` further out."""
    corners = p.corners
    ahead = np.roll(corners, -1, axis=0) - corners
    ahead /= np.hypot(*ahead.T)[:, None]
    out = np.c_[ahead[:, 1], -ahead[:, 0]]
    moved = []
    for i in range(len(corners)):
        n0, n1 = out[i - 1], out[i]
        moved.append(corners[i] + by_mm * (n0 + n1) / (1 + n0 @ n1))
    ends = [*moved, moved[0]]
    edges = tuple(replace(e, path=chain([ends[i], ends[i + 1]])) for i, e in enumerate(p.edges))
    return replace(p, edges=edges)


def notch_points(p: DraftPiece) -> list[tuple[Array, Array, int]]:
    """Return each notch as its point on the outline, the unit direction inwards, and its strokes."""
    out = []
    for e in p.edges:
        for d, n in e.notches_mm:
            at, ahead = along(e.path, d)
            out.append((at, np.array([-ahead[1], ahead[0]]), n))
    return out
