"""What paper needs to know of a piece: neutral shapes and words, nothing of how a pattern is kept.

Whoever owns patterns turns its pieces into :class:`DrawnPiece`. All points are in mm, y up, grain along +y.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import product
from typing import Final, Literal

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from eke.errors import BadShape
from eke.paper.flow import wrap
from eke.paper.page import (
    LEAST_SIZE_MM,
    Area,
    Item,
    PointsMm,
    Role,
    Stroke,
    TextMetrics,
    Words,
    disc,
    moved,
    segment,
)
from eke.paper.placing import place, reading_turns, room_for, shape, turned_box
from eke.paper.styles import (
    BALANCE,
    CREASE,
    CUT,
    DART,
    FOLD,
    GRAIN,
    INK,
    INSIDE,
    MARK,
    NOTCH,
    QUIET,
    SEAM,
    ClothRole,
    LineStyle,
)

EdgeKind = Literal["seam", "hem", "fold", "opening"]
PointKind = Literal["drill", "apex", "button", "buttonhole", "point"]
LineKind = Literal["balance", "dart", "inside", "fold", "crease", "mark"]

LINE_STYLES: Final[dict[str, LineStyle]] = {
    "balance": BALANCE,
    "dart": DART,
    "inside": INSIDE,
    "fold": FOLD,
    "crease": CREASE,
    "mark": MARK,
}
NOTCH_INSIDE_MM: Final = 3.0
"""How far a notch reaches inside the seam line, so that it crosses it and is still hidden by the seam's width."""
NOTCH_APART_MM: Final = 4.0
"""Between the strokes of a double or triple notch."""
BREAKS_MM: Final = (1000.0, 60.0, 40.0, 26.0)
"""Widths to which words on a piece are broken, tried in this order."""
WAVE_MM: Final = 3.0
"""Words beside a wavy line lie so much farther off."""
FINE: Final = LineStyle("mark", 0.18)
LEADER: Final = LineStyle("leader", 0.18)
ON_LINE_MM: Final = 0.05
"""A cut line that lies this near to a fold is the fold; well under the width of a drawn line."""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnEdge:
    """A stretch of the net outline, and the allowance outside it."""

    points: PointsMm
    kind: EdgeKind = "seam"
    allowance_mm: float = 0.0


@dataclass(frozen=True, slots=True)
class DrawnNotch:
    """A notch at (x, y) on the seam line; ``outward_deg`` points to the cut line, ``reach_mm`` away."""

    x_mm: float
    y_mm: float
    outward_deg: float
    count: int = 1
    reach_mm: float = 10.0


@dataclass(frozen=True, slots=True)
class DrawnPoint:
    """A mark at a place: drill hole, apex, button, …"""

    x_mm: float
    y_mm: float
    kind: PointKind = "drill"
    label: str = ""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnLine:
    """A line drawn inside a piece."""

    points: PointsMm
    kind: LineKind = "inside"
    label: str = ""


@dataclass(frozen=True, slots=True)
class DrawnGrain:
    """The grain arrow from its lower to its upper end; with two heads unless the piece has one way up."""

    x0_mm: float
    y0_mm: float
    x1_mm: float
    y1_mm: float
    one_way: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class DrawnPiece:
    """One piece as it is drawn.

    Attributes
    ----------
    number, name
        What the maker calls it; the number is short.
    cut
        The cutting line: the outline, then holes; closed rings.
    edges
        The net outline, edge by edge. May be empty for a piece cut without allowances.
    labels
        Further lines written on it, such as “cut 2, a pair”.
    """

    number: str
    name: str
    cut: tuple[PointsMm, ...]
    edges: tuple[DrawnEdge, ...] = ()
    notches: tuple[DrawnNotch, ...] = ()
    points: tuple[DrawnPoint, ...] = ()
    lines: tuple[DrawnLine, ...] = ()
    grain: DrawnGrain | None = None
    labels: tuple[str, ...] = field(default=())
    role: ClothRole = "outer"

    def __post_init__(self) -> None:
        if not self.cut or any(len(ring) < 3 for ring in self.cut):
            raise BadShape(
                f"“{self.name}” has no cutting line to draw. Trace it, or add its allowances first."
            )

    def bounds(self) -> tuple[float, float, float, float]:
        """Return left, bottom, right and top of the cutting line."""
        low, high = self.cut[0].min(axis=0), self.cut[0].max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def at(
    piece: DrawnPiece, dx_mm: float, dy_mm: float, turn_deg: float = 0.0, *, mirror: bool = False
) -> DrawnPiece:
    """Return the piece mirrored in the y axis (if asked), turned about the origin, and then moved."""
    flip = np.array([-1.0 if mirror else 1.0, 1.0])

    def go(xy: PointsMm) -> PointsMm:
        return moved(xy * flip, dx_mm, dy_mm, turn_deg)

    def go1(x: float, y: float) -> tuple[float, float]:
        xy = go(np.array([[x, y]]))[0]
        return float(xy[0]), float(xy[1])

    def ring(xy: PointsMm) -> PointsMm:
        return go(xy)[::-1].copy() if mirror else go(xy)

    def notch(n: DrawnNotch) -> DrawnNotch:
        x, y = go1(n.x_mm, n.y_mm)
        out = (180.0 - n.outward_deg if mirror else n.outward_deg) + turn_deg
        return replace(n, x_mm=x, y_mm=y, outward_deg=out)

    def point(p: DrawnPoint) -> DrawnPoint:
        x, y = go1(p.x_mm, p.y_mm)
        return replace(p, x_mm=x, y_mm=y)

    grain = piece.grain
    if grain is not None:
        x0, y0 = go1(grain.x0_mm, grain.y0_mm)
        x1, y1 = go1(grain.x1_mm, grain.y1_mm)
        grain = DrawnGrain(x0, y0, x1, y1, grain.one_way)
    edges = tuple(replace(e, points=ring(e.points)) for e in piece.edges)
    return replace(
        piece,
        cut=tuple(ring(r) for r in piece.cut),
        edges=edges[::-1] if mirror else edges,
        notches=tuple(notch(n) for n in piece.notches),
        points=tuple(point(p) for p in piece.points),
        lines=tuple(replace(line, points=go(line.points)) for line in piece.lines),
        grain=grain,
    )


def piece_items(
    piece: DrawnPiece, metrics: TextMetrics, *, size_mm: float = 6.0, keep_clear: BaseGeometry | None = None
) -> tuple[Item, ...]:
    """Return everything that is printed of a piece at true scale; ``size_mm`` is the size of its name.

    Words keep off ``keep_clear`` where the piece leaves them the choice: joins between pages.
    """
    items: list[Item] = [*outline_items(piece)]
    items += [Stroke((line.points,), LINE_STYLES[line.kind]) for line in piece.lines]
    items += [item for n in piece.notches for item in notch_items(n)]
    items += [item for p in piece.points for item in point_items(p)]
    taken: list[BaseGeometry] = [shapely.LineString(line.points).buffer(1.5) for line in piece.lines]
    taken += [shapely.Point(p.x_mm, p.y_mm).buffer(7.0) for p in piece.points]
    if piece.grain is not None:
        items += grain_items(piece.grain)
        g = piece.grain
        taken.append(shapely.LineString([(g.x0_mm, g.y0_mm), (g.x1_mm, g.y1_mm)]).buffer(4.0))
    inside = shape([net_ring(piece)] if piece.edges else piece.cut)
    free = inside.difference(shapely.union_all(taken))
    better = free if keep_clear is None else free.difference(keep_clear)
    words, block = name_block(piece, free, metrics, size_mm, better)
    items += words
    items += line_labels(piece, better.difference(block), metrics)
    return tuple(items)


def net_ring(piece: DrawnPiece) -> PointsMm:
    """Return the net outline as one ring, first point not repeated."""
    parts = [edge.points[:-1] if len(edge.points) > 1 else edge.points for edge in piece.edges]
    return np.vstack(parts)


def outline_items(piece: DrawnPiece) -> tuple[Item, ...]:
    """Return the cut line solid, seam lines dashed, folds in their own line instead of a cut."""
    folds = [edge.points for edge in piece.edges if edge.kind == "fold"]
    items: list[Item] = []
    seams = tuple(
        edge.points for edge in piece.edges if edge.kind != "fold" and edge.allowance_mm > ON_LINE_MM
    )
    if seams:
        items.append(Stroke(seams, SEAM))
    if folds:
        zone = shapely.union_all([shapely.LineString(f).buffer(ON_LINE_MM, cap_style="flat") for f in folds])
        rings = [shapely.LineString(np.vstack([ring, ring[:1]])) for ring in piece.cut]
        rest = shapely.line_merge(shapely.union_all([ring.difference(zone) for ring in rings]))
        lines = tuple(np.asarray(part.coords) for part in getattr(rest, "geoms", [rest]))
        items.append(Stroke(lines, CUT))
        items.append(Stroke(tuple(folds), FOLD))
    else:
        items.append(Stroke(piece.cut, CUT, closed=True))
    return tuple(items)


def notch_items(notch: DrawnNotch) -> tuple[Item, ...]:
    """Return one, two or three strokes across the seam line."""
    out = np.array([np.cos(np.radians(notch.outward_deg)), np.sin(np.radians(notch.outward_deg))])
    along = np.array([-out[1], out[0]])
    centre = np.array([notch.x_mm, notch.y_mm])
    lines = []
    for k in range(notch.count):
        foot = centre + along * (k - (notch.count - 1) / 2) * NOTCH_APART_MM
        lines.append(np.vstack([foot - out * NOTCH_INSIDE_MM, foot + out * max(notch.reach_mm, 0.0)]))
    return (Stroke(tuple(lines), NOTCH),)


def point_items(point: DrawnPoint) -> tuple[Item, ...]:
    """Return the sign of a mark: each kind has a shape of its own."""
    x, y = point.x_mm, point.y_mm
    cross = (segment(x - 4, y, x + 4, y), segment(x, y - 4, x, y + 4))
    match point.kind:
        case "drill":
            return (
                Stroke((disc(x, y, 2.0),), MARK, closed=True),
                Stroke(cross, FINE),
            )
        case "apex":
            return (Stroke(cross, MARK), Stroke((disc(x, y, 5.0),), MARK, closed=True))
        case "button":
            dots = [disc(x + 1.6 * dx, y + 1.6 * dy, 0.7, sides=16) for dx, dy in ((1, 0), (-1, 0))]
            return (Stroke((disc(x, y, 5.0),), MARK, closed=True), Area(tuple(dots)))
        case "buttonhole":
            bar = (
                segment(x - 8, y, x + 8, y),
                segment(x - 8, y - 2, x - 8, y + 2),
                segment(x + 8, y - 2, x + 8, y + 2),
            )
            return (Stroke(bar, MARK),)
        case _:
            return (Stroke(cross, MARK),)


def grain_items(grain: DrawnGrain, *, head_mm: float = 6.0, style: LineStyle = GRAIN) -> tuple[Item, ...]:
    """Return the grain arrow: a head at both ends, or at the upper end only when there is one way up."""
    a, b = np.array([grain.x0_mm, grain.y0_mm]), np.array([grain.x1_mm, grain.y1_mm])
    length = float(np.hypot(*(b - a)))
    if length < 1e-6:
        return ()
    u = (b - a) / length
    n = np.array([-u[1], u[0]])
    head = min(head_mm, length / 3)
    heads = [np.vstack([b, b - u * head + n * head * 0.28, b - u * head - n * head * 0.28])]
    ends = [a, b - u * head]
    if not grain.one_way:
        heads.append(np.vstack([a, a + u * head - n * head * 0.28, a + u * head + n * head * 0.28]))
        ends[0] = a + u * head
    return (Stroke((np.vstack(ends),), style), *(Area((h,), style.colour) for h in heads))


def _block_lines(
    piece: DrawnPiece, size_mm: float, depth: int, break_mm: float, metrics: TextMetrics
) -> list[tuple[str, float, Role]]:
    """Return (text, size, role) of the words on a piece, broken to ``break_mm``.

    ``depth`` 0 is all, 1 number, name and the last label (how often to cut), 2 number and name, 3 the number.
    """
    small = max(LEAST_SIZE_MM, size_mm * 0.72)
    if depth == 3:
        return [(piece.number, max(size_mm, LEAST_SIZE_MM), "strong")]
    lines: list[tuple[str, float, Role]] = [(piece.number, size_mm * 1.5, "strong")]
    lines += [(line, size_mm, "title") for line in wrap(piece.name, "title", size_mm, break_mm, metrics)]
    labels = [label for label in piece.labels if label]
    for label in labels if depth == 0 else labels[-1:] if depth == 1 else []:
        lines += [(line, small, "measure") for line in wrap(label, "measure", small, break_mm, metrics)]
    return lines


def name_block(
    piece: DrawnPiece,
    free: BaseGeometry,
    metrics: TextMetrics,
    size_mm: float,
    better: BaseGeometry | None = None,
) -> tuple[list[Item], BaseGeometry]:
    """Return number, name and labels where there is room, and the region they take.

    Tried in turn: all lines, then with the last label, the name, the number alone; in the ``better`` region, then in the whole
    of what is ``free``; in long lines, then broken into shorter ones; full size, then smaller; upright, then along
    the piece. A piece too small for its number has it beside the outline with a short leader.
    """
    least = LEAST_SIZE_MM
    sizes = [s for s in (size_mm, size_mm * 0.85) if s > least] + [least]
    turns = reading_turns(shape(piece.cut[:1]))
    regions = [free] if better is None or better is free else [better, free]
    for depth, region, break_mm, size in product((0, 1, 2, 3), regions, BREAKS_MM, sizes):
        lines = _block_lines(piece, size, depth, break_mm, metrics)
        wide = max(metrics.width_mm(text, role, s) for text, s, role in lines) + 3.0
        high = sum(s * 1.3 for _, s, _ in lines) + 2.0
        found = place(region, wide, high, turns)
        if found is not None:
            x, y, turn = found
            block = turned_box(x, y, wide, high, turn)
            rest, more = _labels_apart(piece, depth, region.difference(block), turns, metrics)
            return _set_block(lines, (x, y), high, turn) + rest, block.union(more)
    _, y0, x1, y1 = piece.bounds()
    mid = (y0 + y1) / 2
    items: list[Item] = [
        Stroke((segment(x1 - 1.0, mid, x1 + 5.0, mid),), LEADER),
        Words(f"{piece.number} {piece.name}", x1 + 6.5, mid - 1.5, least, "strong"),
    ]
    return items, shapely.Polygon()


def _labels_apart(
    piece: DrawnPiece, depth: int, free: BaseGeometry, turns: Sequence[float], metrics: TextMetrics
) -> tuple[list[Item], BaseGeometry]:
    """Return the labels that found no room below the name, each where it has room by itself; and their region."""
    labels = [label for label in piece.labels if label]
    left_out = {0: [], 1: labels[:-1]}.get(depth, labels[::-1])
    items: list[Item] = []
    taken: BaseGeometry = shapely.Polygon()
    size = LEAST_SIZE_MM
    for label in left_out:
        wide = metrics.width_mm(label, "measure", size) + 2.0
        found = place(free.difference(taken), wide, size * 1.4, turns)
        if found is not None:
            x, y, turn = found
            items += _set_block([(label, size, "measure")], (x, y), size * 1.3, turn)
            taken = taken.union(turned_box(x, y, wide, size * 1.4, turn))
    return items, taken


def room_beside_mm(piece: DrawnPiece, metrics: TextMetrics) -> float:
    """Return how much room at its right a piece needs because not even its number fits inside; else 0."""
    words = [item for item in piece_items(piece, metrics) if isinstance(item, Words)]
    text = f"{piece.number} {piece.name}"
    if not any(item.text == text and item.x_mm > piece.bounds()[2] for item in words):
        return 0.0
    return 6.5 + metrics.width_mm(text, "strong", LEAST_SIZE_MM) + 1.0


def _set_block(
    lines: Sequence[tuple[str, float, Role]], centre: tuple[float, float], high: float, turn_deg: float
) -> list[Item]:
    items: list[Item] = []
    down = high / 2 - 1.0
    c, s = np.cos(np.radians(turn_deg)), np.sin(np.radians(turn_deg))
    for text, size, role in lines:
        base = down - size
        x, y = centre[0] - s * base, centre[1] + c * base
        items.append(Words(text, float(x), float(y), size, role, "middle", turn_deg))
        down -= size * 1.3
    return items


def line_labels(piece: DrawnPiece, free: BaseGeometry, metrics: TextMetrics) -> list[Item]:
    """Return words along folds, labelled lines and marks, where there is room for them."""
    items: list[Item] = []
    size = LEAST_SIZE_MM
    wanted: list[tuple[str, PointsMm]] = [
        ("place on the fold", edge.points) for edge in piece.edges if edge.kind == "fold"
    ]
    wanted += [(line.label, line.points) for line in piece.lines if line.label]
    for text, line in wanted:
        found = _beside(line, metrics.width_mm(text, "measure", size), size, free)
        if found is not None:
            (x, y, turn), box = found
            items.append(Words(text, x, y, size, "measure", "middle", turn, QUIET))
            free = free.difference(box)
    for point in piece.points:
        if point.label:
            width = metrics.width_mm(point.label, "measure", size)
            spot = room_for(free, width, size * 1.2, prefer=(point.x_mm, point.y_mm + 7.0))
            if spot is not None:
                items.append(
                    Words(point.label, spot[0], spot[1] - size * 0.35, size, "measure", "middle", 0.0, INK)
                )
                free = free.difference(turned_box(*spot, width, size * 1.2, 0.0))
    return items


def _beside(
    line: PointsMm, width_mm: float, size_mm: float, free: BaseGeometry
) -> tuple[tuple[float, float, float], BaseGeometry] | None:
    """Return a place for words along the straightest long stretch of ``line``, on its free side."""
    path = shapely.LineString(line)
    if path.length < width_mm:
        return None
    for share in (0.5, 0.35, 0.65, 0.2, 0.8):
        middle = path.length * share
        if middle < width_mm / 2 or middle > path.length - width_mm / 2:
            continue
        a = np.array(path.interpolate(middle - width_mm / 2).coords[0])
        b = np.array(path.interpolate(middle + width_mm / 2).coords[0])
        turn = float(np.degrees(np.arctan2(b[1] - a[1], b[0] - a[0])))
        if turn <= -89.9 or turn > 90.1:
            turn += 180.0 if turn <= -89.9 else -180.0
        up = np.array([-np.sin(np.radians(turn)), np.cos(np.radians(turn))])
        centre = (a + b) / 2
        near = 2.6 + size_mm * 0.5
        # farther off only where the line itself swings out, as the waves of gathers do
        for off in (near, -near, near + WAVE_MM, -near - WAVE_MM):
            spot = centre + up * off
            box = moved(
                np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * np.array([width_mm / 2, size_mm * 0.6]),
                float(spot[0]),
                float(spot[1]),
                turn,
            )
            poly = shapely.Polygon(box)
            if free.contains(poly):
                foot = spot - up * size_mm * 0.33
                return (float(foot[0]), float(foot[1]), turn), poly
    return None


def bounds_of(pieces: Iterable[DrawnPiece]) -> tuple[float, float, float, float]:
    """Return the box around several pieces."""
    boxes = np.array([piece.bounds() for piece in pieces])
    return (
        float(boxes[:, 0].min()),
        float(boxes[:, 1].min()),
        float(boxes[:, 2].max()),
        float(boxes[:, 3].max()),
    )
