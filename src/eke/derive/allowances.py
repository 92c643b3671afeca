"""Allowances: from the net outline to the cut outline, edge by edge, with corners that can be sewn.

Each edge is moved outwards by its own allowance; then neighbours are joined at the corner between them:

mitre
    both offset lines run on until they meet. At a sharp corner the spike is cut off square.
folded
    where a hem is turned up, or one seam is sewn and pressed before the other crosses it, the allowance of
    the first one is shaped as the mirror image of the other's cut line in the fold, so that the folded
    allowance lies flush (common practice; the geometry of a fold is a reflection).

All lengths are mm. An allowance of 0 (a fold, an edge to be bound) leaves the net line.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

from eke.errors import BadInput, BadShape
from eke.findings import Finding
from eke.geometry.offset import offset_edge
from eke.geometry.path import Path, Pt
from eke.pattern.darts import cap_point
from eke.pattern.model import Edge, EdgeKind, Pattern, Piece

PointsMm = NDArray[np.float64]

FLATTEN_MM: Final = 0.05
"""Chords of the cut line stay this near to the curve: finer than any pair of scissors."""
SPIKE_LIMIT: Final = 2.2
"""A corner of the cut line may stand off the net corner by this many allowances; a right angle needs 1.41."""
SMOOTH_DEG: Final = 15.0
"""Below this turn a corner is cut as a smooth run: there is no spike and nothing to fold."""
RUN_ON: Final = 60.0
"""Offset lines are run on by this many allowances to find where they meet: enough for a corner of 2°."""
HAIR_MM: Final = 0.5
"""A tip of the cut line shorter than this is a hair, not a corner."""
HAIR_TURN_DEG: Final = 100.0
"""A hair turns back on itself by at least so much."""
MIN_CORNER_MM: Final = 0.2
"""Corner points nearer than this to each other are one point."""


@dataclass(frozen=True, slots=True)
class AllowancePreset:
    """Widths in mm by kind of edge, used where the maker said nothing of an edge."""

    name: str
    seam_mm: float
    hem_mm: float
    opening_mm: float

    def of(self, kind: EdgeKind) -> float:
        """Width for an edge of that kind; nothing on a fold."""
        return {"seam": self.seam_mm, "hem": self.hem_mm, "opening": self.opening_mm, "fold": 0.0}[kind]


PRESETS: Final[Mapping[str, AllowancePreset]] = {
    # 15 mm (5/8 in) throughout is the habit of home patterns; a dress hem of 40 mm lies in the table of the
    # American Sewing Guild (1½ to 2 in)
    "home": AllowancePreset("home", 15.0, 40.0, 15.0),
    # 3/8 in general, 1/4 in on necklines and outside edges: a production pattern maker's column
    "trade": AllowancePreset("trade", 10.0, 20.0, 6.0),
    # 1 in on lengthwise seams of a trial garment: University of Minnesota Extension Folder 244
    "mock-up": AllowancePreset("mock-up", 25.4, 40.0, 15.0),
    # interlining for warmth is cut without allowances: The Dressmaker, Butterick 1911
    "none": AllowancePreset("none", 0.0, 0.0, 0.0),
}


@dataclass(frozen=True, slots=True, eq=False)
class CutOutline:
    """What is cut: ``ring`` is closed, counter-clockwise, ``(n, 2)`` mm, first point not repeated."""

    ring: PointsMm
    allowances_mm: Mapping[str, float]
    findings: tuple[Finding, ...] = ()

    @property
    def area_mm2(self) -> float:
        """Area inside the cut line."""
        x, y = self.ring[:, 0], self.ring[:, 1]
        return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) / 2.0)


def allowance_of(edge: Edge, preset: AllowancePreset) -> float:
    """Return the allowance of ``edge`` in mm: the maker's word, or else the preset of its kind."""
    if edge.kind == "fold":
        return 0.0
    return preset.of(edge.kind) if edge.allowance_mm is None else edge.allowance_mm


def preset_named(name: str) -> AllowancePreset:
    """Return the preset of that name. Raises :class:`BadInput` with the names that there are."""
    if name not in PRESETS:
        raise BadInput(f"There is no set of allowances named “{name}”. There are: {', '.join(PRESETS)}.")
    return PRESETS[name]


def cut_outline(
    piece: Piece,
    preset: AllowancePreset = PRESETS["home"],
    *,
    first_at: Mapping[tuple[str, str], str] | None = None,
) -> CutOutline:
    """Return the cut outline of ``piece`` as it is drawn (a half piece stays a half).

    Parameters
    ----------
    piece
        A piece with a closed, simple, counter-clockwise net outline.
    preset
        Widths where an edge has none of its own.
    first_at
        For a pair of edges that meet (in the order of the outline), the one whose seam is sewn and pressed
        first: see :func:`first_sewn`. Hems are folded without being named here.

    Raises
    ------
    BadShape
        When the outline crosses itself or has no area.
    """
    piece = capped(piece)
    net = Polygon(piece.outline.flatten(FLATTEN_MM))
    if not net.is_valid or net.area <= 0.0:
        raise BadShape(
            f"The outline of “{piece.name}” crosses itself. Take the last change back, or redraw it."
        )
    widths: dict[str, float] = {edge.id: allowance_of(edge, preset) for edge in piece.edges}
    lines = [_outside(edge, widths[edge.id]) for edge in piece.edges]
    findings: list[Finding] = []
    corners: list[_Corner] = []
    count = len(piece.edges)
    for i, edge in enumerate(piece.edges):
        j = (i + 1) % count
        after = piece.edges[j]
        folded = _folded(edge, after, first_at or {})
        corner = _corner(edge, after, lines[i], lines[j], widths[edge.id], widths[after.id], folded)
        if corner.cut_back:
            findings.append(
                Finding(
                    "allowance-corner",
                    "note",
                    f"At the sharp corner between {_said(edge)} and {_said(after)} of “{piece.name}” the allowance "
                    "was cut back square.",
                    where=(piece.id, edge.id, after.id),
                    at_mm=edge.path.end,
                )
            )
        corners.append(corner)
    points: list[Pt] = []
    for i in range(count):
        before, here = corners[i - 1], corners[i]
        points += _between(lines[i], before.resume, here.leave)
        points += here.points
    ring = without_hairs(np.array(points))
    shape = Polygon(ring) if len(ring) >= 3 else Polygon()
    if not shape.is_valid or shape.area <= 0.0 or not shape.buffer(MIN_CORNER_MM).contains(net):
        # an edge shorter than its neighbours' allowances: the union of what each edge asks for
        shape = _union(net, piece, widths)
        ring = without_hairs(np.array(shape.exterior.coords)[:-1])
    if Polygon(ring).exterior.is_ccw is False:
        ring = ring[::-1].copy()
    return CutOutline(ring, widths, tuple(findings))


def capped(piece: Piece) -> Piece:
    """Return ``piece`` as it is cut: across the mouth of each dart its cap, in place of the two legs.

    The cloth of the dart is folded away, not cut out; its cap is shaped so that, folded, it ends with the edge.
    """
    edges = list(piece.edges)
    for dart in piece.darts:
        at = next(i for i, e in enumerate(edges) if e.id == dart.first_leg)
        first, second = edges[at], edges[(at + 1) % len(edges)]
        before = edges[at - 1]
        path = Path.polyline([first.path.start, cap_point(piece, dart), second.path.end])
        cap = replace(before, id=first.id, path=path, name="dart")
        edges = [cap if e.id == first.id else e for e in edges if e.id != second.id]
    return replace(piece, edges=tuple(edges), darts=())


def first_sewn(pattern: Pattern, piece: Piece) -> dict[tuple[str, str], str]:
    """Return, for corners of ``piece`` where two seams meet, which edge's seam is sewn first.

    Only what the maker said (``pattern.sewn_first``) counts; other corners are mitred.
    """
    found: dict[tuple[str, str], str] = {}
    for i, edge in enumerate(piece.edges):
        after = piece.edges[(i + 1) % len(piece.edges)]
        for one in pattern.seams_of(edge.id):
            for two in pattern.seams_of(after.id):
                if (one.id, two.id) in pattern.sewn_first:
                    found[(edge.id, after.id)] = edge.id
                elif (two.id, one.id) in pattern.sewn_first:
                    found[(edge.id, after.id)] = after.id
    return found


@dataclass(frozen=True, slots=True)
class _Corner:
    """How two offset lines are joined: where the first is left, points between, where the second resumes."""

    leave: Pt
    points: tuple[Pt, ...]
    resume: Pt
    cut_back: bool = False


def _said(edge: Edge) -> str:
    return f"“{edge.name}”" if edge.name else f"an edge ({edge.kind})"


def _outside(edge: Edge, width: float) -> PointsMm:
    """The edge moved outwards (to the right of a counter-clockwise outline), as points."""
    if width == 0.0:
        return edge.path.flatten(FLATTEN_MM)
    return offset_edge(edge.path, -width).flatten(FLATTEN_MM)


def _folded(edge: Edge, after: Edge, first_at: Mapping[tuple[str, str], str]) -> str | None:
    if edge.kind == "hem" and after.kind not in ("hem", "fold"):
        return edge.id
    if after.kind == "hem" and edge.kind not in ("hem", "fold"):
        return after.id
    return first_at.get((edge.id, after.id))


def _corner(
    edge: Edge,
    after: Edge,
    line: PointsMm,
    line_after: PointsMm,
    width: float,
    width_after: float,
    folded: str | None,
) -> _Corner:
    corner = edge.path.end
    into = np.array(edge.path.tangent_at(edge.path.length_mm, side="before"))
    out = np.array(after.path.tangent_at(0.0))
    turn = math.degrees(math.atan2(into[0] * out[1] - into[1] * out[0], float(into @ out)))
    reach = RUN_ON * (width + width_after) + 10.0
    first = _run_on(line, reach, at_end=True)
    second = _run_on(line_after, reach, at_end=False)
    if folded is not None and abs(turn) > SMOOTH_DEG and width > 0.0 and width_after > 0.0:
        made = _fold_corner(corner, into, out, first, second, folded == edge.id)
        if made is not None:
            return made
    meeting = _meeting(first, second, corner)
    if meeting is None or ("fold" not in (edge.kind, after.kind) and _robs(turn, width, width_after)):
        # a mitre would take allowance off the wider edge: a step square to the edges instead
        return _Corner(_tuple(line[-1]), (_tuple(line[-1]), _tuple(line_after[0])), _tuple(line_after[0]))
    limit = SPIKE_LIMIT * max(width, width_after, MIN_CORNER_MM)
    if turn > 0.0 and math.dist(meeting, corner) > limit:
        towards = (np.array(meeting) - corner) / math.dist(meeting, corner)
        square = np.array([-towards[1], towards[0]])
        middle = np.array(corner) + limit * towards
        bar = np.array([middle - 4.0 * limit * square, middle + 4.0 * limit * square])
        a, b = _meeting(first, bar, _tuple(middle)), _meeting(second, bar, _tuple(middle))
        if a is not None and b is not None:
            return _Corner(a, (a, b), b, cut_back=True)
    return _Corner(meeting, (meeting,), meeting)


def _robs(turn_deg: float, width: float, width_after: float) -> bool:
    """Whether the mitre of two widths at an outward corner lies back along one of the edges."""
    narrow, wide = sorted((width, width_after))
    return turn_deg > 0.0 and wide * math.cos(math.radians(turn_deg)) > narrow + MIN_CORNER_MM


def _fold_corner(
    corner: Pt, into: PointsMm, out: PointsMm, first: PointsMm, second: PointsMm, fold_first: bool
) -> _Corner | None:
    """Join where one edge is folded: the other's cut line goes on as its mirror image beyond the fold line."""
    direction = into if fold_first else out
    crossing, folded_line = (second, first) if fold_first else (first, second)
    fold = np.array([np.array(corner) - 1000.0 * direction, np.array(corner) + 1000.0 * direction])
    at_fold = _meeting(crossing, fold, corner)
    if at_fold is None:
        return None
    relative = crossing - np.array(corner)
    mirrored = np.array(corner) + 2.0 * np.outer(relative @ direction, direction) - relative
    tip = _meeting(mirrored, folded_line, at_fold)
    if tip is None:
        return None
    between = [_tuple(p) for p in _stretch(mirrored, at_fold, tip)]
    if fold_first:
        # walking: along the folded edge's line to the tip, back along the mirror image to the fold
        return _Corner(tip, (tip, *reversed(between), at_fold), at_fold)
    return _Corner(at_fold, (at_fold, *between, tip), tip)


def _stretch(line: PointsMm, start: Pt, end: Pt) -> PointsMm:
    """The points of ``line`` strictly between two places on it, in the order from start to end."""
    string = LineString(line)
    a, b = string.project(_shape(start)), string.project(_shape(end))
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    low, high = min(a, b), max(a, b)
    inner = line[(at > low + 1e-9) & (at < high - 1e-9)]
    return inner if a <= b else inner[::-1]


def _run_on(line: PointsMm, reach: float, *, at_end: bool) -> PointsMm:
    """The line with a straight run-on of ``reach`` mm at one end, along its last direction."""
    if at_end:
        step = line[-1] - line[-2]
        return np.vstack([line, line[-1] + step / np.hypot(*step) * reach])
    step = line[0] - line[1]
    return np.vstack([line[0] + step / np.hypot(*step) * reach, line])


def _meeting(one: PointsMm, two: PointsMm, near: Pt) -> Pt | None:
    """The point where two lines meet that lies nearest to ``near``, or None."""
    common = LineString(one).intersection(LineString(two))
    if common.is_empty:
        return None
    parts = getattr(common, "geoms", [common])
    points = [c for part in parts for c in part.coords]
    x, y = min(points, key=lambda p: math.dist(p, near))
    return (float(x), float(y))


def _between(line: PointsMm, start: Pt, end: Pt) -> list[Pt]:
    """The points of an offset line from where the corner before leaves it to where the next takes it up."""
    string = LineString(line)
    a, b = string.project(_shape(start)), string.project(_shape(end))
    if a >= b:
        return []
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line, axis=0).T))])
    return [_tuple(p) for p in line[(at > a + 1e-9) & (at < b - 1e-9)]]


def _polygons(shape: BaseGeometry) -> list[Polygon]:
    """Return the polygons that a shape is made of."""
    return [part for part in getattr(shape, "geoms", [shape]) if isinstance(part, Polygon)]


def _union(net: Polygon, piece: Piece, widths: Mapping[str, float]) -> Polygon:
    """The net shape and a band outside each edge: always a shape, with plain corners."""
    bands: list[BaseGeometry] = [net]
    for edge in piece.edges:
        width = widths[edge.id]
        if width > 0.0:
            line = LineString(edge.path.flatten(FLATTEN_MM))
            bands.append(line.buffer(-width, single_sided=True, join_style="mitre"))
            bands.append(line.buffer(width, cap_style="round"))
    for edge in piece.edges:
        if widths[edge.id] == 0.0:
            # nothing may stand over an edge without allowance
            line = LineString(edge.path.flatten(FLATTEN_MM))
            over = line.buffer(-200.0, single_sided=True, cap_style="flat").difference(net)
            bands = [band.difference(over) for band in bands]
    whole = _polygons(unary_union(bands).buffer(0.0))
    return Polygon(max(whole, key=lambda g: g.area).exterior)


def without_hairs(points: PointsMm) -> PointsMm:
    """Return a ring without repeated points and without hairs: tips that run out and back within half a millimetre.

    Where two cut lines meet almost in line, rounding leaves such tips; no scissors follow them, and they make a
    ring that touches itself.
    """
    ring = points[np.hypot(*(points - np.roll(points, 1, axis=0)).T) > 1e-6]
    while len(ring) > 3:
        into, out = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
        cross, dot = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0], (into * out).sum(axis=1)
        turn_deg = np.degrees(np.abs(np.arctan2(cross, dot)))
        short = np.minimum(np.hypot(*into.T), np.hypot(*out.T)) < HAIR_MM
        hairs = np.flatnonzero((turn_deg > HAIR_TURN_DEG) & short)
        if len(hairs) == 0:
            break
        ring = np.delete(ring, hairs[np.argmax(turn_deg[hairs])], axis=0)
    return np.asarray(ring, dtype=np.float64)


def _shape(point: Pt) -> Point:
    return Point(point)


def _tuple(point: PointsMm) -> Pt:
    return (float(point[0]), float(point[1]))
