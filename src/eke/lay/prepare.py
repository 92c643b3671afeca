"""From a problem in millimetres to the flat tables of the kernels.

How a part is grown is in :mod:`eke.lay.grow`, what a sheet leaves free in :mod:`eke.lay.free`, where an edge of a
part belongs on an edge of a sheet in :mod:`eke.lay.rails`, what pieces have in common in :mod:`eke.lay.ties`; here
all of it is written into tables.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
import shapely
from shapely import affinity
from shapely.geometry import Polygon

from eke.errors import BadInput
from eke.lay.collide.tables import (
    F32,
    F64,
    RF_SHARE,
    SI_MUST,
    SI_NPHASE,
    SI_NRAIL,
    SI_PHASE,
    SI_RAIL,
    Field,
)
from eke.lay.free import Class, class_of, free_region, own_gap_mm, polygons
from eke.lay.grow import diameter, grown_shape, placed_polygon
from eke.lay.problem import Part, PhaseRule, Problem, Sheet
from eke.lay.rails import Rail, rails_of
from eke.lay.ties import Ties, find_ties, tilt_limit_deg, turn_names

SCALED_SIZE: Final = 1000.0
"""Square root of the parts' area inside the kernels, so that tolerances suit every size."""
FREE_STEPS: Final = 24
"""A part that may be turned freely starts from so many evenly spaced angles (then turns a little)."""
FIELD_CELLS: Final = 120_000
"""Nodes of all distance fields of one class of shapes together."""
ENDLESS: Final = 1e12
"""Limits of a sheet that its region limits already."""
PHASE_SHARE: Final = 0.95
"""Share of a tolerance that the search makes use of; two points that match have half of it each."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """How one kind of part looks to the kernels."""

    part: Part
    centre: tuple[float, float]
    turns_deg: tuple[float, ...]
    area_mm2: float


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """The prepared problem: tables that never change, and what is needed to translate back.

    Copies of parts that must lie on an edge and fit on none are not among the pieces: they are missing from every
    lay.
    """

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
    ties: Ties


@dataclass(slots=True)
class _Outlines:
    """Rows of the tables about shapes, as they grow."""

    shape_i: list[list[int]] = field(default_factory=list)
    shape_f: list[list[float]] = field(default_factory=list)
    xs: list[F64] = field(default_factory=list)
    ys: list[F64] = field(default_factory=list)
    poles: list[F64] = field(default_factory=list)
    turns: list[float] = field(default_factory=list)
    rails: list[list[float]] = field(default_factory=list)
    phases: list[list[float]] = field(default_factory=list)
    points: int = 0
    n_poles: int = 0


@dataclass(slots=True)
class _Regions:
    """Rows of the tables about regions, one region for each class and sheet."""

    region_i: list[list[int]] = field(default_factory=list)
    region_f: list[list[float]] = field(default_factory=list)
    edges: list[F64] = field(default_factory=list)
    rings: list[list[float]] = field(default_factory=list)
    grids: list[F32] = field(default_factory=list)
    n_edges: int = 0
    n_nodes: int = 0


def starting_turns(part: Part) -> tuple[float, ...]:
    """Return the turns in degrees that the search starts from."""
    if part.turns is None:
        return tuple(i * 360.0 / FREE_STEPS for i in range(FREE_STEPS))
    return tuple(float(t) for t in part.turns)


def prepare(problem: Problem) -> Ground:
    """Return the tables for a problem that has passed :func:`eke.lay.validate.validate`."""
    parts = list(problem.parts)
    total_mm2 = sum(Polygon(p.outline).area * p.count for p in parts)
    k = SCALED_SIZE / math.sqrt(total_mm2)
    sheets: list[Sheet | None] = list(problem.sheets) if problem.strip is None else [None]
    classes: list[Class] = []
    shapes: list[Shape] = []
    rows = _Outlines()
    lost: set[str] = set()
    tightest: dict[str, float] = {}
    for rule in (r for part in parts for r in part.phases if r.match is not None):
        tightest[rule.match or ""] = min(tightest.get(rule.match or "", math.inf), rule.tolerance_mm)
    for part in parts:
        cls = class_of(part, problem, k)
        if cls not in classes:
            classes.append(cls)
        shape = _add_shape(rows, part, cls, classes.index(cls), k)
        shapes.append(shape)
        rails, must = rails_of(part, problem.sheets, shape.turns_deg)
        _add_rails(rows, shape, rails, must, k)
        _add_phases(rows, shape, sheets, tightest, k)
        if must and not rails:
            lost.add(part.id)
    locked, fixed_count = _locked(problem, k)
    regions, free_areas = _regions(problem, sheets, classes, locked, k)
    poles = np.vstack(rows.poles)
    tables = Field(
        np.array(rows.shape_i, np.int64),
        np.array(rows.shape_f, np.float64),
        np.concatenate(rows.xs),
        np.concatenate(rows.ys),
        np.ascontiguousarray(poles[:, 0], np.float32),
        np.ascontiguousarray(poles[:, 1], np.float32),
        np.ascontiguousarray(poles[:, 2], np.float32),
        np.array(rows.turns, np.float64),
        np.array(regions.region_i, np.int64),
        np.array(regions.region_f, np.float64),
        np.ascontiguousarray(np.vstack(regions.edges)) if regions.edges else np.zeros((1, 4)),
        np.array(regions.rings, np.float64) if regions.rings else np.zeros((1, 6)),
        np.concatenate(regions.grids).astype(np.float32) if regions.grids else np.zeros(4, np.float32),
        np.array(rows.rails, np.float64) if rows.rails else np.zeros((1, 9)),
        np.array(rows.phases, np.float64) if rows.phases else np.zeros((1, 8)),
    )
    limits = np.tile([-ENDLESS, -ENDLESS, ENDLESS, ENDLESS], (len(sheets), 1))
    piece_shape: list[int] = []
    groups: list[int] = []
    names: list[str] = []
    tied = turn_names(problem)
    for t, part in enumerate(parts):
        for _ in range(part.count - fixed_count.get(part.id, 0) if part.id not in lost else 0):
            piece_shape.append(t)
            name = tied.get(part.id)
            if name is not None and name not in names:
                names.append(name)
            groups.append(-1 if name is None else names.index(name))
    ties = find_ties(problem, [parts[t] for t in piece_shape], groups, problem.locked)
    return Ground(
        problem,
        k,
        tables,
        tuple(shapes),
        tuple(piece_shape),
        tuple(groups),
        tuple(None if s is None else s.id for s in sheets),
        limits,
        free_areas,
        ties,
    )


def _add_shape(rows: _Outlines, part: Part, cls: Class, row: int, k: float) -> Shape:
    """Write the rows of one part's outline, poles and turns."""
    from eke.lay.collide.poles import find_poles

    big = grown_shape(part, cls.half, k)
    cx, cy = big.centroid.coords[0]
    pts = np.asarray(big.exterior.coords)[:-1] - (cx, cy)
    found = find_poles(np.ascontiguousarray(pts[:, 0]), np.ascontiguousarray(pts[:, 1]), big.area)
    if not len(found):
        raise BadInput(f"“{part.id}” is too thin to be laid: its outline has hardly any width.")
    angles = starting_turns(part)
    x0, y0, x1, y1 = big.bounds
    tilt = math.tau if part.turns is None else math.radians(tilt_limit_deg(part))
    rows.shape_i.append(
        [rows.points, len(pts), rows.n_poles, len(found), len(rows.turns), len(angles), int(part.mirror_allowed),
         row, 0, 0, 0, 0, 0]
    )  # fmt: skip
    rows.shape_f.append(
        [float(np.hypot(pts[:, 0], pts[:, 1]).max()), math.sqrt(big.convex_hull.area), diameter(pts),
         min(x1 - x0, y1 - y0), tilt, big.area]
    )  # fmt: skip
    rows.xs.append(pts[:, 0])
    rows.ys.append(pts[:, 1])
    rows.poles.append(found)
    rows.turns.extend(math.radians(a) for a in angles)
    rows.points += len(pts)
    rows.n_poles += len(found)
    return Shape(part, (cx / k, cy / k), angles, Polygon(part.outline).area)


def _add_rails(rows: _Outlines, shape: Shape, rails: Sequence[Rail], must: bool, k: float) -> None:
    """Write the rails of the shape that was added last, for its centre in place of its part's origin."""
    mine = rows.shape_i[-1]
    mine[SI_RAIL], mine[SI_NRAIL], mine[SI_MUST] = len(rows.rails), len(rails), int(must)
    for rail in rails:
        a = math.radians(rail.turn_deg)
        cx, cy = (-shape.centre[0] if rail.mirrored else shape.centre[0]), shape.centre[1]
        x = rail.start[0] + math.cos(a) * cx - math.sin(a) * cy
        y = rail.start[1] + math.sin(a) * cx + math.cos(a) * cy
        base = math.radians(shape.turns_deg[rail.turn])
        th = base + math.remainder(a - base, math.tau)
        rows.rails.append(
            [rail.sheet, rail.turn, int(rail.mirrored), x * k, y * k, *rail.along, rail.length * k, th]
        )


def _add_phases(
    rows: _Outlines, shape: Shape, sheets: Sequence[Sheet | None], tightest: Mapping[str, float], k: float
) -> None:
    """Write the phase rules of the shape that was added last, once for each sheet.

    ``tightest`` is the least tolerance among points that match.
    """
    rules = shape.part.phases
    mine = rows.shape_i[-1]
    mine[SI_PHASE], mine[SI_NPHASE] = len(rows.phases), len(rules)
    for sheet in sheets if rules else ():
        for n, rule in enumerate(rules):
            lead = all(other.repeat != rule.repeat for other in rules[:n])
            tol = PHASE_SHARE * (rule.tolerance_mm if rule.match is None else 0.5 * tightest[rule.match])
            rows.phases.append(_phase_row(rule, sheet, shape.centre, tol, lead, k))


def _phase_row(
    rule: PhaseRule, sheet: Sheet | None, centre: tuple[float, float], tol_mm: float, lead: bool, k: float
) -> list[float]:
    at = ((rule.at[0] - centre[0]) * k, (rule.at[1] - centre[1]) * k)
    repeat = next((r for r in sheet.repeats if r.name == rule.repeat), None) if sheet is not None else None
    if repeat is None:
        return [*at, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    a = math.radians(repeat.direction_deg)
    dx, dy = math.cos(a), math.sin(a)
    zero = (repeat.origin[0] * dx + repeat.origin[1] * dy) * k
    return [*at, dx, dy, repeat.period_mm * k, zero, tol_mm * k, float(lead)]


def _locked(
    problem: Problem, k: float
) -> tuple[dict[str | None, list[tuple[Polygon, float]]], dict[str, int]]:
    """Return the locked outlines (scaled) with their gaps by sheet, and how many copies of each part they are."""
    by_id = {p.id: p for p in problem.parts}
    outlines: dict[str | None, list[tuple[Polygon, float]]] = {}
    count: dict[str, int] = {}
    for place in problem.locked:
        part = by_id[place.part]
        count[part.id] = count.get(part.id, 0) + 1
        shape = affinity.scale(placed_polygon(part, place), k, k, origin=(0, 0))
        outlines.setdefault(place.sheet, []).append((shape, own_gap_mm(part, problem) * k))
    return outlines, count


def _regions(
    problem: Problem,
    sheets: Sequence[Sheet | None],
    classes: Sequence[Class],
    locked: dict[str | None, list[tuple[Polygon, float]]],
    k: float,
) -> tuple[_Regions, tuple[tuple[float, ...], ...]]:
    """Return the tables of all regions, and the free areas by class and sheet."""
    rows = _Regions()
    free_areas: list[tuple[float, ...]] = []
    all_cloth = sum(Polygon(s.outline).area * k * k for s in sheets if s is not None)
    for cls in classes:
        areas = []
        for sheet in sheets:
            if sheet is None:
                areas.append(_add_strip(rows, problem, cls, k))
            else:
                share = Polygon(sheet.outline).area * k * k / all_cloth
                areas.append(_add_region(rows, sheet, cls, locked.get(sheet.id, []), share, k))
        free_areas.append(tuple(areas))
    for row, free in enumerate(free_areas):
        whole = sum(free) or 1.0
        run = 0.0
        for s in range(len(sheets)):
            run += free[s] / whole
            rows.region_f[row * len(sheets) + s][RF_SHARE] = run
    return rows, tuple(free_areas)


def _add_strip(rows: _Regions, problem: Problem, cls: Class, k: float) -> float:
    """Write the region of a strip, which is a box without edges; return its share."""
    assert problem.strip is not None
    shrink = cls.edge - cls.half
    rows.region_i.append([rows.n_edges, 0, len(rows.rings), 0, rows.n_nodes, 0, 0])
    rows.region_f.append([shrink, shrink, 1e9, problem.strip.height_mm * k - shrink, 0.0, 0.0, 1.0, 0.0])
    return 1.0


def _add_region(
    rows: _Regions,
    sheet: Sheet,
    cls: Class,
    locked: Sequence[tuple[Polygon, float]],
    share: float,
    k: float,
) -> float:
    """Write the edges, rings and distance field of what one sheet leaves free; return its area."""
    from eke.lay.collide.regions import fill_field

    free = free_region(sheet, cls, locked, k)
    parts = polygons(free)
    bounds = free.bounds if parts else (0.0, 0.0, 1.0, 1.0)
    own: list[F64] = []
    start, ring0 = rows.n_edges, len(rows.rings)
    for q in map(shapely.geometry.polygon.orient, parts):
        for ring in (q.exterior, *q.interiors):
            c = np.asarray(ring.coords)
            own.append(np.hstack([c[:-1], c[1:]]))
            rows.rings.append([*ring.bounds, float(c[0, 0]), float(c[0, 1])])
    if not parts:  # nothing is free here: one far-off speck keeps the tables whole
        own.append(np.array([[0, 0, 1e-6, 0], [1e-6, 0, 0, 1e-6], [0, 1e-6, 0, 0]], float))
        rows.rings.append([0.0, 0.0, 1e-6, 1e-6, 0.0, 0.0])
    edges = np.ascontiguousarray(np.vstack(own))
    w, h = bounds[2] - bounds[0], bounds[3] - bounds[1]
    cell = max(math.sqrt(w * h / (FIELD_CELLS * max(0.02, share))), 0.5)
    gx, gy = bounds[0] - 1.5 * cell, bounds[1] - 1.5 * cell
    nx, ny = int(w / cell) + 5, int(h / cell) + 5
    rows.region_i.append([start, len(edges), ring0, len(rows.rings) - ring0, rows.n_nodes, nx, ny])
    rows.region_f.append([*bounds, gx, gy, cell, 0.0])
    out = np.empty(nx * ny, np.float32)
    fill_field(edges, 0, len(edges), gx, gy, cell, nx, ny, np.empty(nx * ny, np.int64), out)
    rows.edges.append(edges)
    rows.grids.append(out)
    rows.n_edges += len(edges)
    rows.n_nodes += nx * ny
    return float(sum(q.area for q in parts))
