"""Cloth folded double: what is cut through both layers lies on the open cloth twice, as mirror images in the fold.

So a lay on folded cloth is a symmetric lay on the open one, and everything that knows open cloth (the check, the
plan, the drawing) knows this too. Only the packing sees the folded cloth: one layer, of which both the piece and its
mirror image must be sound, with half pieces sliding along the fold.

The cloth is folded right sides together; the layer on the left of the fold (looking from its first point to its
second, right side up) is the one in whose place the packing works.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Polygon

from eke.cloth import Cloth, Flaw, polygons, ring_of, washed
from eke.cutting.door import Gaps, Laid, Points, laid_at, part_of, sheets_of, turn_of, turned
from eke.cutting.listing import BESIDE_FOLD_MM, grain_deg, outlined
from eke.cutting.piece import PAIR_MARK, CutPiece
from eke.errors import BadInput
from eke.lay.problem import Placement, Problem

SAME_SHAPE_MM: Final = 0.05
"""A shape and its mirror image are one when no corner is off by more."""
REACH: Final = 10.0
"""How far beyond the cloth, in its own sizes, the half-planes beside the fold reach."""


@dataclass(frozen=True, slots=True)
class Fold:
    """The line along which a cloth is folded, from one point to another in the cloth's own frame, mm."""

    start: tuple[float, float]
    end: tuple[float, float]

    def __post_init__(self) -> None:
        if not all(map(math.isfinite, (*self.start, *self.end))) or math.dist(self.start, self.end) < 1.0:
            raise BadInput("A fold is a line between two different points.")

    @property
    def angle_deg(self) -> float:
        """Its direction, counter-clockwise from +x."""
        return math.degrees(math.atan2(self.end[1] - self.start[1], self.end[0] - self.start[0]))

    def mirror(self) -> tuple[float, ...]:
        """Reflection in it, in shapely's order (a, b, d, e, x, y)."""
        a = 2.0 * math.radians(self.angle_deg)
        c, s = math.cos(a), math.sin(a)
        x, y = self.start
        return (c, s, s, -c, x - c * x - s * y, y - s * x + c * y)


@dataclass(frozen=True, slots=True)
class Twice:
    """A piece of the folded lay: the shape that is laid, and the two that come out of the layers.

    ``whole`` is the piece of a half on the fold; else ``drawn`` comes from the layer that the shape is laid on and
    ``other`` from the one beneath, which is its mirror image.
    """

    drawn: CutPiece
    other: CutPiece | None = None
    whole: CutPiece | None = None
    shift_mm: float | None = None
    """For a shape that is its own mirror image: the x of the line that it is symmetric in, twice."""


def doubled(cloth: Cloth, fold: Fold) -> Cloth:
    """Return the folded cloth: what both layers have, with the flaws and holes of either.

    Raises
    ------
    BadInput
        When the fold does not cross the cloth so that anything lies double.
    """
    cloth = washed(cloth)
    left = _half_plane(cloth, fold)
    mirror = fold.mirror()
    under = affinity.affine_transform(cloth.polygon.difference(left), mirror)
    both = polygons(cloth.polygon.intersection(left).intersection(under))
    along = LineString([fold.start, fold.end])
    reach = _stretched(along, cloth)
    beside = [part for part in both if part.exterior.intersection(reach.buffer(BESIDE_FOLD_MM)).length > 1.0]
    if not beside:
        raise BadInput(
            f"Folded there, nothing of “{cloth.name}” lies double along the fold. Fold it elsewhere."
        )
    part = beside[0]
    flaws = []
    for number, flaw in enumerate(cloth.flaws, start=1):
        shape = Polygon(flaw.polygon)
        for layer, seen in enumerate((shape, affinity.affine_transform(shape, mirror)), start=1):
            for n, poor in enumerate(polygons(seen.intersection(part)), start=1):
                ring = ring_of(poor.exterior.coords)
                flaws.append(Flaw(f"{flaw.id}/{number}.{layer}.{n}", ring, flaw.kind, flaw.quality))
    return replace(
        cloth,
        outline=ring_of(part.exterior.coords),
        holes=tuple(ring_of(ring.coords) for ring in part.interiors),
        flaws=tuple(flaws),
    )


def _half_plane(cloth: Cloth, fold: Fold) -> Polygon:
    (x0, y0), a = fold.start, math.radians(fold.angle_deg)
    far = REACH * max(math.hypot(*cloth.size_mm), math.dist(fold.start, fold.end), 1.0)
    d, n = np.array([math.cos(a), math.sin(a)]), np.array([-math.sin(a), math.cos(a)])
    p = np.array([x0, y0])
    return Polygon([p - far * d, p + far * d, p + far * (d + n), p + far * (n - d)])


def _stretched(line: LineString, cloth: Cloth) -> LineString:
    factor = 1.0 + REACH * math.hypot(*cloth.size_mm) / line.length
    return affinity.scale(line, factor, factor)


def pair_up(pieces: Sequence[CutPiece], *, same_face: bool) -> tuple[Twice, ...]:
    """Return what is laid on folded cloth so that all of ``pieces`` come out of its two layers.

    ``pieces`` is a cutting list with its halves left folded (``cutting_list(…, unfold=False)``).

    Raises
    ------
    BadInput
        When a piece cannot come in twos: it is cut once, or its mirror image is not wanted as often.
    """
    by_id = {piece.id: piece for piece in pieces}
    found = []
    for piece in pieces:
        if piece.id.endswith(PAIR_MARK) and piece.id.removesuffix(PAIR_MARK) in by_id:
            continue
        if piece.source is not None and piece.source.piece.fold is not None and not piece.source.whole:
            whole = outlined(replace(piece, source=replace(piece.source, whole=True)))
            found.append(Twice(_with_straight_fold(piece), whole=whole))
            continue
        partner = by_id.get(piece.id + PAIR_MARK)
        if partner is not None and partner.copies == piece.copies:
            found.append(Twice(piece, other=partner))
            continue
        shift = _own_mirror_image(piece)
        if partner is None and piece.copies % 2 == 0 and (same_face or shift is not None):
            found.append(Twice(replace(piece, copies=piece.copies // 2), shift_mm=shift))
            continue
        raise BadInput(
            f"“{piece.name}” does not come in mirror-image twos, as everything cut from folded cloth does. Cut it from "
            "cloth laid open."
        )
    return tuple(found)


def _own_mirror_image(piece: CutPiece) -> float | None:
    """Return twice the x of the upright line that a shape is symmetric in, or ``None``."""
    ring = piece.points
    shift = float(ring[:, 0].min() + ring[:, 0].max())
    image = Polygon(ring * (-1.0, 1.0) + (shift, 0.0))
    if image.exterior.hausdorff_distance(piece.polygon.exterior) > SAME_SHAPE_MM:
        return None
    return shift


def _fold_line(piece: CutPiece) -> Points:
    """The two ends of a half piece's fold in the frame of its outline."""
    assert piece.source is not None
    drawn = piece.source.piece
    assert drawn.fold is not None
    path = drawn.edge(drawn.fold).path
    ends = turned([path.start, path.end], 90.0 - grain_deg(drawn))
    return ends * (-1.0, 1.0) if piece.mirrored else ends


def _with_straight_fold(piece: CutPiece) -> CutPiece:
    """Return a half piece whose points along the fold are its two ends only."""
    ring = piece.points
    p, q = _fold_line(piece)
    way = (q - p) / np.hypot(*(q - p))
    beside = (ring - p) @ np.array([-way[1], way[0]])
    on = np.abs(beside) <= BESIDE_FOLD_MM
    along = ring @ way
    keep = ~on
    chosen = np.flatnonzero(on)
    keep[chosen[along[chosen].argmin()]] = keep[chosen[along[chosen].argmax()]] = True
    # the two ends exactly on one line, and nothing of the piece beyond it
    ring = ring.copy()
    ring[on] -= np.outer(beside[on], [-way[1], way[0]])
    return replace(piece, outline=ring_of(ring[keep]))


def _fold_stretch(piece: CutPiece) -> int:
    p, q = _fold_line(piece)
    ring = piece.points
    way = (q - p) / np.hypot(*(q - p))
    on = np.flatnonzero(np.abs((ring - p) @ np.array([-way[1], way[0]])) <= BESIDE_FOLD_MM)
    if len(on) != 2:
        raise BadInput(f"“{piece.name}” has no straight edge that could lie on the fold.")
    return int(on[0]) if on[0] + 1 == on[1] else int(on[1])


def to_folded_problem(
    pieces: Sequence[CutPiece], cloth: Cloth, fold: Fold, *, gaps: Gaps | None = None, name: str = ""
) -> Problem:
    """Return the packing problem of laying ``pieces`` on a cloth folded double; a copy is a cut through both layers.

    Pieces beside the fold keep half the gap between pieces from it (and from the other edges), so that they and
    their mirror images keep it whole.

    Raises
    ------
    BadInput
        As :func:`pair_up` and :func:`doubled`, or when the warp of the cloth is not known.
    """
    gaps = gaps or Gaps()
    ready = doubled(cloth, fold)
    one_way = ready.nap == "one-way"
    angle = turn_of(ready)
    line = turned(_ends(ready, fold), angle)
    sheets = []
    for sheet in sheets_of(ready, (), gaps.pieces_mm):
        if Polygon(sheet.outline).exterior.buffer(BESIDE_FOLD_MM).covers(LineString(line)):
            ends = ((float(line[0][0]), float(line[0][1])), (float(line[1][0]), float(line[1][1])))
            sheets.append(replace(sheet, fold=ends))
        else:
            sheets.append(sheet)
    parts = []
    for twice in pair_up(pieces, same_face=ready.same_face):
        part = replace(part_of(twice.drawn, one_way=one_way, same_face=True), mirror_allowed=True)
        if twice.whole is not None:
            part = replace(part, on_fold=_fold_stretch(twice.drawn), tilt_deg=0.0, same_turn=None)
        else:
            part = replace(part, gap_edge_mm=max(gaps.edge_mm, 0.5 * gaps.pieces_mm))
        parts.append(part)
    return Problem(
        parts=parts,
        sheets=sheets,
        gap_parts_mm=gaps.pieces_mm,
        gap_edge_mm=gaps.edge_mm,
        gap_hole_mm=gaps.hole_mm,
        name=name,
    )


def _ends(ready: Cloth, fold: Fold) -> list[tuple[float, float]]:
    """The ends of the longest stretch of a folded cloth's outline that lies on the fold."""
    beside = _stretched(LineString([fold.start, fold.end]), ready).buffer(BESIDE_FOLD_MM)
    found: list[tuple[float, list[tuple[float, float]]]] = []
    for a, b in zip(ready.outline, (*ready.outline[1:], ready.outline[0]), strict=True):
        if beside.covers(LineString([a, b])):
            found.append((math.dist(a, b), [a, b]))
    if not found:
        raise BadInput(f"Nothing of “{ready.name}” lies along the fold. Fold it elsewhere.")
    return max(found)[1]


def from_folded(
    placements: Sequence[Placement], pieces: Sequence[CutPiece], cloth: Cloth, fold: Fold
) -> tuple[tuple[Laid, ...], tuple[CutPiece, ...]]:
    """Return what lies where on the open cloth, and the cutting list that it is of (halves made whole).

    ``pieces``, ``cloth`` and ``fold`` are those that the problem was made from. What comes out passes
    :func:`eke.cutting.check.check_lay` like any other lay on open cloth.

    Raises
    ------
    BadInput
        When a placement names a piece that is not on the list.
    """
    ready = doubled(cloth, fold)
    twos = {twice.drawn.id: twice for twice in pair_up(pieces, same_face=ready.same_face)}
    back = -turn_of(ready)
    laid: list[Laid] = []
    copies: Counter[str] = Counter()

    def put(piece: CutPiece, x: float, y: float, turn_deg: float, *, mirrored: bool = False) -> None:
        copies[piece.id] += 1
        laid.append(laid_at(piece, cloth.id, x, y, turn_deg, mirrored=mirrored, copy=copies[piece.id]))

    for place in placements:
        twice = twos.get(place.part)
        if twice is None:
            raise BadInput(f"The lay names “{place.part}”, which is not on the cutting list. Lay again.")
        x, y = (float(v) for v in turned([(place.x_mm, place.y_mm)], back)[0])
        turn = place.turn_deg + back
        # the layer beneath: the reflection of a shape turned by t is its mirror image (x → −x) turned by 2a + 180 − t
        under = 2.0 * fold.angle_deg + 180.0 - turn
        c = fold.mirror()
        ux, uy = c[0] * x + c[1] * y + c[4], c[2] * x + c[3] * y + c[5]
        if twice.whole is not None:
            put(twice.whole, *_whole_at(twice.drawn, x, y, turn, mirrored=place.mirrored))
        elif twice.other is not None:
            above, beneath = (twice.other, twice.drawn) if place.mirrored else (twice.drawn, twice.other)
            put(above, x, y, turn)
            put(beneath, ux, uy, under)
        elif twice.shift_mm is not None:
            # its own mirror image: laid as drawn in both layers
            for px, py, angle, flipped in ((x, y, turn, place.mirrored), (ux, uy, under, not place.mirrored)):
                dx, dy = turned([(-twice.shift_mm if flipped else 0.0, 0.0)], angle)[0]
                put(twice.drawn, px + float(dx), py + float(dy), angle)
        else:
            put(twice.drawn, x, y, turn, mirrored=place.mirrored)
            put(twice.drawn, ux, uy, under, mirrored=not place.mirrored)
    listed: list[CutPiece] = []
    for piece in pieces:
        folded = twos.get(piece.id)
        listed.append(piece if folded is None or folded.whole is None else folded.whole)
    return tuple(laid), tuple(listed)


def _whole_at(
    half: CutPiece, x: float, y: float, turn_deg: float, *, mirrored: bool
) -> tuple[float, float, float]:
    """Where the whole of a half lies: as the half does, or, for a half laid mirrored, turned to match.

    The whole is its own mirror image in its fold, so mirroring it is a turn and a move.
    """
    if not mirrored:
        return x, y, turn_deg
    p, q = _fold_line(half)
    own = math.degrees(math.atan2(q[1] - p[1], q[0] - p[0]))
    turn = -2.0 * own - 180.0
    moved = np.array([-p[0], p[1]]) - turned([p], turn)[0]
    dx, dy = turned([moved], turn_deg)[0]
    return x + float(dx), y + float(dy), turn_deg + turn
