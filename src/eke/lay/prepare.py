"""From a problem in millimetres to the flat tables of the kernels.

Every part is grown by half its gap, every sheet shrunk by what its gap leaves over; outlines of very many
points are simplified, and then only outwards for parts and inwards for sheets, so that a lay that the
kernels accept is one that the exact check accepts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from eke.errors import BadInput
from eke.lay.collide.tables import (
    F32,
    F64,
    PF_TH,
    PF_X,
    PF_Y,
    PI_GROUP,
    PI_MIRROR,
    PI_ON,
    PI_P,
    PI_SHAPE,
    PI_SHEET,
    PI_TURN,
    PI_V,
    SI_A,
    SI_NP,
    SI_NV,
    SI_P,
    Field,
    State,
)
from eke.lay.problem import FULL_QUALITY, Part, Placement, Problem, Sheet

SCALED_SIZE: Final = 1000.0
"""Square root of the parts' area inside the kernels, so that tolerances suit every size."""
FREE_STEPS: Final = 24
"""A part that may be turned freely starts from so many evenly spaced angles (then turns a little)."""
MANY_POINTS: Final = 72
"""Outlines of more points than this are simplified."""
SIMPLIFY: Final = 0.12
"""First tolerance of that simplification (scaled mm); doubled until few enough points are left."""
ARC_STEPS: Final = 6
"""Segments to a quarter circle where a grown corner is rounded."""
FIELD_CELLS: Final = 120_000
"""Nodes of all distance fields of one class of shapes together."""
HAIR: Final = 2e-4
"""How much a shape with no gap asked is grown (scaled mm): rounding must not make two parts overlap."""

CUT_BACK: Final = (1.0, 0.98, 0.95, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5, 0.35, 0.2)
"""Shares of a growth that are tried in turn until it is safe."""
SLIVER: Final = 2e-3
"""Area (scaled mm²) that such a growth may get wrong; well under what the exact check lets pass."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """How one kind of part looks to the kernels."""

    part: Part
    centre: tuple[float, float]
    turns_deg: tuple[float, ...]
    area_mm2: float


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The prepared problem: tables that never change, and what is needed to translate back."""

    problem: Problem
    scale: float
    field: Field
    shapes: tuple[Shape, ...]
    piece_shape: tuple[int, ...]
    groups: tuple[int, ...]
    sheet_ids: tuple[str | None, ...]
    limits: F64
    free_areas: tuple[tuple[float, ...], ...]
    """Free area (scaled mm²) by class of shapes and sheet."""


def _grown(poly: Polygon, by: float) -> Polygon:
    """Grow an outline with round corners, never by less than asked."""
    true = by / math.cos(math.pi / (4.0 * ARC_STEPS))
    got = poly.buffer(true, quad_segs=ARC_STEPS)
    return _outer(got)


def _outer(geom: BaseGeometry) -> Polygon:
    if isinstance(geom, MultiPolygon):
        geom = max(geom.geoms, key=lambda g: g.area)
    assert isinstance(geom, Polygon)
    return Polygon(geom.exterior)


def _simpler_outwards(poly: Polygon) -> Polygon:
    """Return an outline of fewer points that contains ``poly``."""
    tolerance = SIMPLIFY
    out = poly
    while len(out.exterior.coords) > MANY_POINTS + 1 and tolerance < 40.0:
        rough = _outer(poly.simplify(tolerance))
        out = _outer(rough.buffer(tolerance * 1.01, join_style="mitre", mitre_limit=2.0))
        tolerance *= 2.0
    return out if out is poly or out.buffer(1e-9).covers(poly) else _outer(poly.convex_hull)


def _simpler_inwards(free: BaseGeometry) -> BaseGeometry:
    tolerance = SIMPLIFY
    out = free
    while shapely.get_num_coordinates(out) > 600 and tolerance < 20.0:
        out = free.simplify(tolerance).buffer(-1.01 * tolerance, join_style="mitre", mitre_limit=2.0)
        tolerance *= 2.0
    return out if out is free else out.intersection(free)


def _polygons(geom: BaseGeometry) -> list[Polygon]:
    if isinstance(geom, Polygon):
        return [] if geom.is_empty else [geom]
    return [g for g in getattr(geom, "geoms", ()) if isinstance(g, Polygon) and not g.is_empty]


def _keeps_off(part: Part, quality: float) -> bool:
    return part.min_quality is not None and quality < part.min_quality


@dataclass(frozen=True, slots=True)
class _Class:
    """Shapes that see the same free regions: same growth, same gaps, same zones, same way to a fold."""

    half: float
    edge: float
    hole: float
    quality: float
    fold: bool
    gap: float


def _class_of(part: Part, p: Problem, k: float) -> _Class:
    gap = p.gap_parts_mm if part.gap_mm is None else max(p.gap_parts_mm, part.gap_mm)
    half = max((gap - 0.5 * p.gap_parts_mm) * k, HAIR)
    edge = (p.gap_edge_mm if part.gap_edge_mm is None else part.gap_edge_mm) * k
    hole = (p.gap_hole_mm if part.gap_hole_mm is None else part.gap_hole_mm) * k
    has_zones = any(s.zones for s in p.sheets)
    least = -FULL_QUALITY if part.min_quality is None or not has_zones else part.min_quality
    return _Class(half, edge, hole, least, part.on_fold is not None, gap * k)


def placed_polygon(part: Part, place: Placement) -> Polygon:
    """Return the exact outline of a placement in mm, in its sheet's own coordinates."""
    poly = Polygon(part.outline)
    if place.mirrored:
        poly = affinity.scale(poly, -1.0, 1.0, origin=(0, 0))
    return affinity.translate(affinity.rotate(poly, place.turn_deg, origin=(0, 0)), place.x_mm, place.y_mm)


def _grow_safely(outline: BaseGeometry, by: float, half: float) -> BaseGeometry:
    """Grow a sheet by up to ``by`` to make up for parts that are grown by ``half``.

    At inner corners and narrow cuts, growing and shrinking do not cancel: a grown part could reach over
    the corner. So the growth is cut back until shrinking it again gives nothing beyond the true outline.
    """
    if by <= 2 * HAIR:
        return outline.buffer(by, join_style="mitre", mitre_limit=2.0)
    for share in CUT_BACK:
        grown = outline.buffer(by * share, join_style="mitre", mitre_limit=2.0)
        if grown.buffer(-half, quad_segs=32).difference(outline).area < SLIVER:
            return grown
    return outline


def _shrink_safely(hole: Polygon, by: float, half: float) -> BaseGeometry:
    """Shrink a hole by up to ``by``, as :func:`_grow_safely` grows a sheet."""
    if by <= 2 * HAIR:
        small = hole.buffer(-by)
        return small if not small.is_empty else hole
    for share in CUT_BACK:
        small = hole.buffer(-by * share)
        if not small.is_empty and hole.difference(small.buffer(half, quad_segs=32)).area < SLIVER:
            return small
    return hole


def _free_region(sheet: Sheet, cls: _Class, locked: list[tuple[Polygon, float]], k: float) -> BaseGeometry:
    """Return where shapes of a class may lie on a sheet (scaled), all hazards taken off."""
    outline: BaseGeometry = Polygon(np.asarray(sheet.outline) * k)
    shrink = cls.edge - cls.half
    if cls.fold and sheet.fold is not None:
        # nothing is cut along the fold: the grown outline may reach beyond it
        line = LineString([(x * k, y * k) for x, y in sheet.fold])
        depth = 2.0 * (abs(shrink) + cls.half) + 1.0
        outline = outline.union(line.buffer(depth, cap_style="flat"))
    free: BaseGeometry = (
        outline.buffer(-shrink, quad_segs=16) if shrink > 0 else _grow_safely(outline, -shrink, cls.half)
    )
    for hole in sheet.holes:
        h = Polygon(np.asarray(hole) * k)
        grow = cls.hole - cls.half
        if grow > 0:
            free = free.difference(h.buffer(grow / math.cos(math.pi / 64.0), quad_segs=16))
        else:
            free = free.difference(_shrink_safely(h, -grow, cls.half))
    for zone in sheet.zones:
        if zone.quality < cls.quality:
            z = Polygon(np.asarray(zone.polygon) * k)
            free = free.difference(_shrink_safely(z, cls.half, cls.half))
    for poly, gap in locked:
        reach = max(gap, cls.gap) - cls.half
        free = free.difference(poly.buffer(reach / math.cos(math.pi / 64.0) + HAIR, quad_segs=16))
    return _simpler_inwards(free)


def prepare(problem: Problem) -> Ground:
    """Return the tables for a problem that has passed :func:`eke.lay.validate.validate`."""
    from eke.lay.collide.poles import find_poles
    from eke.lay.collide.regions import fill_field

    parts = list(problem.parts)
    polys = [Polygon(p.outline) for p in parts]
    total_mm2 = sum(q.area * p.count for p, q in zip(parts, polys, strict=True))
    k = SCALED_SIZE / math.sqrt(total_mm2)
    classes: list[_Class] = []
    shapes: list[Shape] = []
    shape_i: list[list[int]] = []
    shape_f: list[list[float]] = []
    vxs: list[F64] = []
    vys: list[F64] = []
    poles: list[F64] = []
    turns: list[float] = []
    nv = npole = 0
    for part, poly in zip(parts, polys, strict=True):
        cls = _class_of(part, problem, k)
        if cls not in classes:
            classes.append(cls)
        big = affinity.scale(poly, k, k, origin=(0, 0))
        if cls.half > HAIR:
            big = _grown(big, cls.half)
        else:
            big = _outer(big.buffer(HAIR, join_style="mitre", mitre_limit=2.0))
        big = _simpler_outwards(shapely.geometry.polygon.orient(big))
        big = shapely.geometry.polygon.orient(_outer(big))
        cx, cy = big.centroid.coords[0]
        pts = np.asarray(big.exterior.coords)[:-1] - (cx, cy)
        found = find_poles(np.ascontiguousarray(pts[:, 0]), np.ascontiguousarray(pts[:, 1]), big.area)
        if not len(found):
            raise BadInput(f"“{part.id}” is too thin to be laid: its outline has hardly any width.")
        angles = (
            tuple(i * 360.0 / FREE_STEPS for i in range(FREE_STEPS))
            if part.turns is None
            else tuple(float(t) for t in part.turns)
        )
        x0, y0, x1, y1 = big.bounds
        tilt = math.tau if part.turns is None else math.radians(part.tilt_deg)
        shape_i.append(
            [nv, len(pts), npole, len(found), len(turns), len(angles), int(part.mirror_allowed),
             classes.index(cls), 0, 0]
        )  # fmt: skip
        shape_f.append(
            [float(np.hypot(pts[:, 0], pts[:, 1]).max()), math.sqrt(big.convex_hull.area), _diameter(pts),
             min(x1 - x0, y1 - y0), tilt, big.area]
        )  # fmt: skip
        vxs.append(pts[:, 0])
        vys.append(pts[:, 1])
        poles.append(found)
        turns.extend(math.radians(a) for a in angles)
        nv += len(pts)
        npole += len(found)
        shapes.append(Shape(part, (cx / k, cy / k), angles, poly.area))
    by_id = {p.id: p for p in parts}
    sheets: list[Sheet | None] = list(problem.sheets) if problem.strip is None else [None]
    locked: dict[str | None, list[tuple[Polygon, float]]] = {}
    fixed_count: dict[str, int] = {}
    for place in problem.locked:
        part = by_id[place.part]
        fixed_count[part.id] = fixed_count.get(part.id, 0) + 1
        gap = problem.gap_parts_mm if part.gap_mm is None else max(problem.gap_parts_mm, part.gap_mm)
        shape = affinity.scale(placed_polygon(part, place), k, k, origin=(0, 0))
        locked.setdefault(place.sheet, []).append((shape, gap * k))
    limits = np.zeros((len(sheets), 4))
    region_i: list[list[int]] = []
    region_f: list[list[float]] = []
    edge_rows: list[F64] = []
    ring_rows: list[list[float]] = []
    grids: list[F32] = []
    n_edges = n_nodes = 0
    free_areas: list[list[float]] = []
    all_cloth = sum(Polygon(s.outline).area * k * k for s in sheets if s is not None)
    for cls in classes:
        areas = []
        for s, sheet in enumerate(sheets):
            if sheet is None:
                assert problem.strip is not None
                shrink = cls.edge - cls.half
                limits[s] = (-1e12, -1e12, 1e12, 1e12)
                box = (shrink, shrink, 1e9, problem.strip.height_mm * k - shrink)
                areas.append(1.0)
                region_i.append([n_edges, 0, len(ring_rows), 0, n_nodes, 0, 0])
                region_f.append([*box, 0.0, 0.0, 1.0, 0.0])
                continue
            limits[s] = (-1e12, -1e12, 1e12, 1e12)
            free = _free_region(sheet, cls, locked.get(sheet.id, []), k)
            parts_free = _polygons(free)
            areas.append(sum(q.area for q in parts_free))
            bounds = free.bounds if parts_free else (0.0, 0.0, 1.0, 1.0)
            start, ring0 = n_edges, len(ring_rows)
            for q in map(shapely.geometry.polygon.orient, parts_free):
                for ring in (q.exterior, *q.interiors):
                    c = np.asarray(ring.coords)
                    edge_rows.append(np.hstack([c[:-1], c[1:]]))
                    ring_rows.append([*ring.bounds, float(c[0, 0]), float(c[0, 1])])
                    n_edges += len(c) - 1
            if not parts_free:  # nothing is free here: one far-off speck keeps the tables whole
                speck = np.array([[0, 0, 1e-6, 0], [1e-6, 0, 0, 1e-6], [0, 1e-6, 0, 0]], float)
                edge_rows.append(speck)
                ring_rows.append([0.0, 0.0, 1e-6, 1e-6, 0.0, 0.0])
                n_edges += 3
            w, h = bounds[2] - bounds[0], bounds[3] - bounds[1]
            share = FIELD_CELLS * max(0.02, Polygon(sheet.outline).area * k * k / all_cloth)
            cell = max(math.sqrt(w * h / share), 0.5)
            gx, gy = bounds[0] - 1.5 * cell, bounds[1] - 1.5 * cell
            nx, ny = int(w / cell) + 5, int(h / cell) + 5
            region_i.append([start, n_edges - start, ring0, len(ring_rows) - ring0, n_nodes, nx, ny])
            region_f.append([*bounds, gx, gy, cell, 0.0])
            edges = np.ascontiguousarray(np.vstack(edge_rows)[start:])
            out = np.empty(nx * ny, np.float32)
            fill_field(edges, 0, len(edges), gx, gy, cell, nx, ny, np.empty(nx * ny, np.int64), out)
            grids.append(out)
            n_nodes += nx * ny
        free_areas.append(areas)
    for row, areas in enumerate(free_areas):
        whole = sum(areas) or 1.0
        run = 0.0
        for s in range(len(sheets)):
            run += areas[s] / whole
            region_f[row * len(sheets) + s][-1] = run
    rails = _rails(problem, shapes, classes, shape_i, k, vxs, vys, shape_f)
    all_poles = np.vstack(poles)
    fld = Field(
        np.array(shape_i, np.int64),
        np.array(shape_f, np.float64),
        np.concatenate(vxs),
        np.concatenate(vys),
        np.ascontiguousarray(all_poles[:, 0], np.float32),
        np.ascontiguousarray(all_poles[:, 1], np.float32),
        np.ascontiguousarray(all_poles[:, 2], np.float32),
        np.array(turns, np.float64),
        np.array(region_i, np.int64),
        np.array(region_f, np.float64),
        np.ascontiguousarray(np.vstack(edge_rows)) if edge_rows else np.zeros((1, 4)),
        np.array(ring_rows, np.float64) if ring_rows else np.zeros((1, 6)),
        np.concatenate(grids).astype(np.float32) if grids else np.zeros(4, np.float32),
        rails,
    )
    piece_shape: list[int] = []
    groups: list[int] = []
    names: list[str] = []
    for t, part in enumerate(parts):
        for _ in range(part.count - fixed_count.get(part.id, 0)):
            piece_shape.append(t)
            if part.same_turn is None:
                groups.append(-1)
            else:
                if part.same_turn not in names:
                    names.append(part.same_turn)
                groups.append(names.index(part.same_turn))
    return Ground(
        problem,
        k,
        fld,
        tuple(shapes),
        tuple(piece_shape),
        tuple(groups),
        tuple(None if s is None else s.id for s in sheets),
        limits,
        tuple(map(tuple, free_areas)),
    )


def _diameter(pts: F64) -> float:
    hull = shapely.get_coordinates(shapely.convex_hull(shapely.MultiPoint(pts)))
    d = hull[:, None, :] - hull[None, :, :]
    return float(np.sqrt((d**2).sum(-1).max()))


def _rails(
    problem: Problem,
    shapes: list[Shape],
    classes: list[_Class],
    shape_i: list[list[int]],
    k: float,
    vxs: list[F64],
    vys: list[F64],
    shape_f: list[list[float]],
) -> F64:
    """Return the lines along which parts on a fold may slide, and note them in the shapes' rows."""
    from eke.lay.collide.tables import SI_NRAIL, SI_RAIL

    rows: list[list[float]] = []
    for t, shape in enumerate(shapes):
        part = shape.part
        shape_i[t][SI_RAIL] = len(rows)
        if part.on_fold is None:
            continue
        pts = np.asarray(part.outline, float)
        a, b = pts[part.on_fold], pts[(part.on_fold + 1) % len(pts)]
        for s, sheet in enumerate(problem.sheets):
            if sheet.fold is None:
                continue
            f0, f1 = np.asarray(sheet.fold[0], float), np.asarray(sheet.fold[1], float)
            along = (f1 - f0) / np.hypot(*(f1 - f0))
            inner = Polygon(sheet.outline).representative_point().coords[0]
            left = along[0] * (inner[1] - f0[1]) - along[1] * (inner[0] - f0[0]) > 0
            for n, turn in enumerate(shape.turns_deg):
                for mirror in (0, 1) if part.mirror_allowed else (0,):
                    c, sn = math.cos(math.radians(turn)), math.sin(math.radians(turn))
                    m = np.array([[c, -sn], [sn, c]]) @ np.diag([-1.0 if mirror else 1.0, 1.0])
                    qa, qb = m @ a, m @ b
                    ctr = m @ np.asarray(shape.centre)
                    d = (qb - qa) / np.hypot(*(qb - qa))
                    if abs(d[0] * along[1] - d[1] * along[0]) > 1e-6:
                        continue
                    lies_left = along[0] * (ctr - qa)[1] - along[1] * (ctr - qa)[0] > 0
                    if lies_left != left:
                        continue
                    low, high = sorted((float(along @ (qa - f0)), float(along @ (qb - f0))))
                    length = float(np.hypot(*(f1 - f0))) - (high - low)
                    if length < 0:
                        continue
                    # the reference point when the edge begins where the fold begins
                    shift = -low
                    across = np.array([-along[1], along[0]])
                    off = float(across @ (f0 - qa))
                    start = ctr + shift * along + off * across
                    rows.append([s, n, mirror, start[0] * k, start[1] * k, along[0], along[1], length * k])
        shape_i[t][SI_NRAIL] = len(rows) - shape_i[t][SI_RAIL]
    return np.array(rows, np.float64) if rows else np.zeros((1, 8))


def new_state(ground: Ground, seed: int) -> State:
    """Return a state with every piece in the middle of its sheet at its first turn, weights at 1."""
    f = ground.field
    n = len(ground.piece_shape)
    piece_i = np.zeros((n, 9), np.int64)
    piece_f = np.zeros((n, 7), np.float64)
    v = p = 0
    most = 1
    mostp = 1
    qr: list[F32] = []
    for i, t in enumerate(ground.piece_shape):
        piece_i[i, PI_SHAPE] = t
        piece_i[i, PI_ON] = 1
        piece_i[i, PI_V] = v
        piece_i[i, PI_P] = p
        piece_i[i, PI_GROUP] = ground.groups[i]
        piece_f[i, PF_TH] = f.turns[f.shape_i[t, SI_A]]
        v += int(f.shape_i[t, SI_NV])
        p += int(f.shape_i[t, SI_NP])
        most = max(most, int(f.shape_i[t, SI_NV]))
        mostp = max(mostp, int(f.shape_i[t, SI_NP]))
        qr.append(f.pr[f.shape_i[t, SI_P] : f.shape_i[t, SI_P] + f.shape_i[t, SI_NP]])
    mix = (seed * 0x9E3779B97F4A7C15 + 0xD1B54A32D192ED03) % (1 << 64)
    mix ^= mix >> 31
    mix = mix * 0xBF58476D1CE4E5B9 % (1 << 64)
    return State(
        piece_i,
        piece_f,
        np.zeros(max(v, 1)),
        np.zeros(max(v, 1)),
        np.zeros(max(p, 1), np.float32),
        np.zeros(max(p, 1), np.float32),
        np.concatenate(qr).astype(np.float32) if qr else np.zeros(1, np.float32),
        np.zeros((n, n + 1)),
        np.ones((n, n + 1)),
        ground.limits.copy(),
        np.zeros(max(n, 1), np.int64),
        np.zeros(8, np.int64),
        np.array([mix or 1], np.uint64),
        np.zeros(most),
        np.zeros(most),
        np.zeros(mostp, np.float32),
        np.zeros(mostp, np.float32),
        np.zeros(4),
        np.zeros(most),
        np.zeros(most, np.int64),
        np.zeros(most, np.int64),
        np.zeros((4, 8)),
    )


def placements_of(ground: Ground, state: State) -> tuple[Placement, ...]:
    """Translate a state back to placements in mm and degrees, the locked ones first."""
    out = list(ground.problem.locked)
    for i, t in enumerate(ground.piece_shape):
        if not state.piece_i[i, PI_ON]:
            continue
        shape = ground.shapes[t]
        base = shape.turns_deg[int(state.piece_i[i, PI_TURN])]
        base_rad = float(
            ground.field.turns[int(ground.field.shape_i[t, SI_A]) + int(state.piece_i[i, PI_TURN])]
        )
        turn = base + math.degrees(float(state.piece_f[i, PF_TH]) - base_rad)
        rad = math.radians(turn)
        mirrored = bool(state.piece_i[i, PI_MIRROR])
        cx, cy = shape.centre
        if mirrored:
            cx = -cx
        x = float(state.piece_f[i, PF_X]) / ground.scale - (math.cos(rad) * cx - math.sin(rad) * cy)
        y = float(state.piece_f[i, PF_Y]) / ground.scale - (math.sin(rad) * cx + math.cos(rad) * cy)
        sheet = ground.sheet_ids[int(state.piece_i[i, PI_SHEET])]
        out.append(Placement(shape.part.id, sheet, turn % 360.0, x, y, mirrored))
    return tuple(out)
