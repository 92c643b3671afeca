"""Is a problem fit to be laid? Each reason why not has its own sentence."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
import shapely
from shapely.geometry import Polygon
from shapely.geometry.base import BaseGeometry
from shapely.validation import explain_validity

from eke.errors import BadInput, BadShape
from eke.lay import verify
from eke.lay.problem import Part, Placement, PointsMm, Problem, Sheet
from eke.lay.rails import ON_LINE_MM, SEATED_MM, protrusion_mm, rails_of, stretches, why_nowhere

LEAST_AREA_MM2: Final = 1e-9
"""Below this an outline has no area (strip cases come in units of their own, so it is small)."""
MOST_COPIES: Final = 5000
"""More copies than this are surely a slip of the keyboard."""
FAR_MM: Final = 1e7
"""Ten kilometres: a place beyond is a slip."""
MOST_TILT_DEG: Final = 45.0
MOST_REPEATS: Final = 2
"""Stripes one way, or checks both ways."""
LEAST_ANGLE_DEG: Final = 5.0
"""Two directions of stripes nearer than this are one."""


def check_ring(points: PointsMm, what: str) -> Polygon:
    """Return a ring as a polygon; ``what`` begins the sentence when it is no shape.

    Raises
    ------
    BadShape
        When a coordinate is not a number, there are fewer than three different points, the ring crosses
        itself or has no area.
    """
    pts = np.asarray(points, dtype=np.float64)
    if pts.ndim != 2 or pts.shape[1] != 2:
        raise BadShape(f"{what} is not a list of points with x and y.")
    if not np.isfinite(pts).all():
        raise BadShape(f"{what} has a point whose place is not a number. Draw that point again.")
    if len(np.unique(pts, axis=0)) < 3:
        raise BadShape(f"{what} has fewer than three different points, so it encloses nothing.")
    poly = Polygon(pts)
    if not poly.is_valid:
        why = explain_validity(poly)
        where = why[why.find("[") + 1 : why.find("]")] if "[" in why else ""
        if poly.convex_hull.area <= LEAST_AREA_MM2:
            raise BadShape(f"{what} has no area: its points lie on one line.")
        at = ""
        if where:
            x, y = (float(v) for v in where.split())
            at = f" at ({x:.1f}, {y:.1f}) mm"
        raise BadShape(f"{what} crosses or touches itself{at}. Move the points there apart.")
    if poly.area <= LEAST_AREA_MM2:
        raise BadShape(f"{what} has no area: its points lie on one line.")
    return poly


def _number(value: float | None, what: str, least: float = 0.0) -> None:
    if value is None:
        return
    if not math.isfinite(value):
        raise BadInput(f"{what} is not a number.")
    if value < least:
        raise BadInput(f"{what} is {value:g}; it cannot be below {least:g}.")


def validate(problem: Problem) -> None:
    """Raise when ``problem`` cannot be laid as it stands.

    Raises
    ------
    BadInput, BadShape
        One clear sentence each; a problem that is sound but has no solution is no error.
    """
    if not problem.parts or sum(p.count for p in problem.parts) == 0:
        raise BadInput("There is nothing to lay: the list of pieces is empty.")
    if problem.strip is None and not problem.sheets:
        raise BadInput("There is nothing to lay the pieces on: the list of cloths is empty.")
    if problem.strip is not None and problem.sheets:
        raise BadInput("A lay is either on a strip or on sheets, not on both.")
    for value, what in (
        (problem.gap_parts_mm, "The gap between pieces"),
        (problem.gap_edge_mm, "The gap to the edge"),
        (problem.gap_hole_mm, "The gap to holes"),
    ):
        _number(value, what)
    _check_parts(problem)
    _check_sheets(problem)
    ids = {p.id: p.count for p in problem.parts}
    sheets = {s.id for s in problem.sheets}
    _check_ties(problem)
    for place in problem.locked:
        if place.part not in ids:
            raise BadInput(f"“{place.part}” is locked in place, but it is not among the pieces.")
        ids[place.part] -= 1
        if ids[place.part] < 0:
            raise BadInput(f"More copies of “{place.part}” are locked in place than are asked for.")
        if problem.strip is not None or place.sheet not in sheets:
            raise BadInput(f"“{place.part}” is locked on “{place.sheet}”, which is not among the cloths.")
        if not all(map(math.isfinite, (place.turn_deg, place.x_mm, place.y_mm))):
            raise BadInput(f"“{place.part}” is locked at a place that is not a number.")
    check_start(problem, problem.start)
    wrong = verify.faults(problem, problem.locked)
    if wrong:
        raise BadInput(
            f"What is locked cannot stay where it lies: {wrong[0].sentence} Unlock it, or move it to where it fits."
        )


def check_start(problem: Problem, start: Sequence[Placement]) -> None:
    """Raise when a lay to start from cannot be one; whether it is sound or complete does not matter.

    Raises
    ------
    BadInput
        When it names a part or sheet that is not there, or a place that is not a number.
    """
    parts = {p.id for p in problem.parts}
    sheets = {s.id for s in problem.sheets}
    for place in start:
        if place.part not in parts:
            raise BadInput(f"“{place.part}” is to start from where it lies, but it is not among the pieces.")
        if problem.strip is None and place.sheet not in sheets:
            raise BadInput(f"“{place.part}” is to start on “{place.sheet}”, which is not among the cloths.")
        if not all(math.isfinite(v) and abs(v) < FAR_MM for v in (place.turn_deg, place.x_mm, place.y_mm)):
            raise BadInput(
                f"“{place.part}” is to start at a place that is not a number, or far from any cloth."
            )


def _check_parts(problem: Problem) -> None:
    seen: set[str] = set()
    copies = 0
    for part in problem.parts:
        if part.id in seen:
            raise BadInput(f"Two pieces are called “{part.id}”. Give each its own name.")
        seen.add(part.id)
        if part.count < 0:
            raise BadInput(f"“{part.id}” is asked for {part.count} times.")
        copies += part.count
        check_ring(part.outline, f"The outline of “{part.id}”")
        if part.turns is not None:
            if not len(part.turns):
                raise BadInput(f"“{part.id}” has no turn at which it may lie. Name at least one angle.")
            if not all(math.isfinite(t) for t in part.turns):
                raise BadInput(f"A turn of “{part.id}” is not a number.")
        _number(part.tilt_deg, f"The tilt of “{part.id}”")
        if part.tilt_deg > MOST_TILT_DEG:
            raise BadInput(
                f"A tilt of {part.tilt_deg:g}° for “{part.id}” is no small tilt; list turns instead."
            )
        _number(part.gap_mm, f"The gap of “{part.id}”")
        _number(part.gap_edge_mm, f"The gap of “{part.id}” to the edge")
        _number(part.gap_hole_mm, f"The gap of “{part.id}” to holes")
        if part.min_quality is not None and math.isnan(part.min_quality):
            raise BadInput(f"The quality that “{part.id}” needs is not a number.")
        if part.on_fold is not None:
            if not any(s.fold is not None for s in problem.sheets):
                raise BadInput(f"“{part.id}” must lie on a fold, and no cloth is folded.")
            _check_stretch(part, part.on_fold, "the fold")
        for edge in part.on_edge:
            _check_stretch(part, edge.stretch, "an edge of the cloth")
            if not any(edge.kind in ("", e.kind) for s in problem.sheets for e in s.edges):
                what = f"an edge called “{edge.kind}”" if edge.kind else "a named edge"
                raise BadInput(f"“{part.id}” asks for {what}, and no cloth has one.")
        _check_phases(part, problem)
    if copies > MOST_COPIES:
        raise BadInput(f"{copies} pieces are too many for one lay; {MOST_COPIES} is the most.")


def _check_stretch(part: Part, stretch: int, where: str) -> None:
    n = len(part.outline)
    if not 0 <= stretch < n:
        raise BadInput(f"“{part.id}” has no edge number {stretch} to lie on {where}; it has 0 to {n - 1}.")
    a, b = np.asarray(part.outline, float)[[stretch, (stretch + 1) % n]]
    if (a == b).all():
        raise BadInput(f"Edge {stretch} of “{part.id}” has no length, so it cannot lie on {where}.")
    beyond = protrusion_mm(part.outline, stretch)
    if beyond > SEATED_MM:
        raise BadInput(
            f"Edge {stretch} of “{part.id}” cannot lie on {where}: the piece reaches {beyond:.1f} mm beyond it."
        )


def _check_phases(part: Part, problem: Problem) -> None:
    repeats = {r.name for s in problem.sheets for r in s.repeats}
    for rule in part.phases:
        if not all(map(math.isfinite, rule.at)):
            raise BadInput(f"A matching point of “{part.id}” is not a number.")
        _number(rule.tolerance_mm, f"The tolerance of a matching point of “{part.id}”")
        if rule.phase is None and rule.match is None:
            raise BadInput(f"A matching point of “{part.id}” has neither a phase nor a word to match by.")
        if rule.phase is not None and not 0.0 <= rule.phase <= 1.0:
            raise BadInput(f"A phase of “{part.id}” is {rule.phase:g}; it runs from 0 to 1 of the repeat.")
        if rule.repeat not in repeats:
            raise BadInput(f"“{part.id}” is to match the repeat “{rule.repeat}”, which no cloth has.")


def _check_ties(problem: Problem) -> None:
    turns: dict[str, tuple[tuple[float, ...] | None, bool]] = {}
    tilts: dict[str, float] = {}
    repeats: dict[str, str] = {}
    for part in problem.parts:
        mine = None if part.turns is None else tuple(float(t) for t in part.turns)
        seated = part.on_fold is not None or any(r.must for r in part.on_edge)
        if part.same_turn is not None:
            if turns.setdefault(part.same_turn, (mine, part.mirror_allowed))[0] != mine:
                raise BadInput(
                    f"The pieces of “{part.same_turn}” lie alike, so they need the same list of turns."
                )
            if seated and (mine is None or len(mine) > 1 or part.mirror_allowed):
                raise BadInput(
                    f"“{part.id}” must lie on an edge or fold, which settles its turn; to tie it to the turn of "
                    "others, give all of them that one turn."
                )
        if part.tilt_pair is not None:
            if mine is None:
                raise BadInput(f"“{part.id}” may be turned freely; there is no tilt to share with others.")
            if tilts.setdefault(part.tilt_pair.name, part.tilt_deg) != part.tilt_deg:
                raise BadInput(
                    f"The pieces of “{part.tilt_pair.name}” share one tilt, so they need the same limit."
                )
            if seated and part.tilt_deg > 0:
                raise BadInput(
                    f"“{part.id}” must lie on an edge or fold, which settles its tilt; it cannot share one with others."
                )
        for rule in part.phases:
            if rule.match is not None and repeats.setdefault(rule.match, rule.repeat) != rule.repeat:
                raise BadInput(f"Points that match at “{rule.match}” need the same repeat.")


def _check_lines(sheet: Sheet) -> None:
    for edge in sheet.edges:
        its = f"The edge “{edge.kind}” of “{sheet.id}”"
        line = np.asarray(edge.line, float)
        if line.ndim != 2 or line.shape[1] != 2 or len(line) < 2 or not np.isfinite(line).all():
            raise BadInput(f"{its} is no line of at least two points.")
        on = shapely.LineString(line)
        found = sum(shapely.LineString(p).length for p in stretches(sheet.outline, on))
        if on.length <= 0 or found < 0.9 * on.length:
            raise BadShape(
                f"{its} does not run along the outline: it may lie beside it by {ON_LINE_MM:g} mm at most."
            )
    names = [r.name for r in sheet.repeats]
    if len(set(names)) < len(names):
        raise BadInput(f"Two repeats of “{sheet.id}” have the same name.")
    if len(names) > MOST_REPEATS:
        raise BadInput(f"“{sheet.id}” has {len(names)} repeats; stripes have one, checks have two.")
    for repeat in sheet.repeats:
        its = f"the repeat “{repeat.name}” of “{sheet.id}”"
        if not all(map(math.isfinite, (repeat.period_mm, repeat.direction_deg, *repeat.origin))):
            raise BadInput(f"A number of {its} is none.")
        if repeat.period_mm <= 0:
            raise BadInput(f"The period of {its} is {repeat.period_mm:g} mm; it must be above 0.")
    if len(names) == MOST_REPEATS:
        one, other = sheet.repeats
        if abs(math.remainder(one.direction_deg - other.direction_deg, 180.0)) < LEAST_ANGLE_DEG:
            raise BadInput(f"The two repeats of “{sheet.id}” run the same way; checks cross.")


def _check_sheets(problem: Problem) -> None:
    if problem.strip is not None:
        _number(problem.strip.height_mm, "The height of the strip")
        if problem.strip.height_mm <= 0:
            raise BadInput("The strip has no height.")
        return
    seen: set[str] = set()
    for sheet in problem.sheets:
        if sheet.id in seen:
            raise BadInput(f"Two cloths are called “{sheet.id}”. Give each its own name.")
        seen.add(sheet.id)
        try:
            outer = check_ring(sheet.outline, f"The outline of “{sheet.id}”")
        except BadShape as trouble:
            if "crosses" in trouble.message and _falls_apart(sheet.outline):
                raise BadShape(
                    f"“{sheet.id}” falls into two parts that touch in a point only. Enter each part as a cloth of its own."
                ) from None
            raise
        holes = []
        for hole in sheet.holes:
            ring = check_ring(hole, f"A hole of “{sheet.id}”")
            if not outer.intersects(ring) or outer.intersection(ring).area <= LEAST_AREA_MM2:
                x, y = ring.representative_point().coords[0]
                raise BadShape(f"A hole of “{sheet.id}” at ({x:.0f}, {y:.0f}) mm lies outside its outline.")
            holes.append(ring)
        free = outer.difference(shapely.union_all(holes)) if holes else outer
        if free.area <= LEAST_AREA_MM2:
            raise BadShape(f"The holes of “{sheet.id}” leave nothing of it.")
        for zone in sheet.zones:
            check_ring(zone.polygon, f"A zone of “{sheet.id}”")
            if math.isnan(zone.quality):
                raise BadInput(f"The quality of a zone of “{sheet.id}” is not a number.")
        _number(sheet.cost, f"The cost of “{sheet.id}”")
        _check_lines(sheet)
        if sheet.fold is not None:
            if not np.isfinite(np.asarray(sheet.fold, float)).all():
                raise BadShape(f"The fold of “{sheet.id}” has a point whose place is not a number.")
            line = shapely.LineString(sheet.fold)
            if line.length <= 0 or not outer.exterior.buffer(0.02).covers(line):
                raise BadShape(f"The fold of “{sheet.id}” does not lie on a straight stretch of its outline.")


def _falls_apart(points: PointsMm) -> bool:
    """Return whether a ring that touches itself is two clean parts joined at a point."""
    fixed = shapely.make_valid(Polygon(np.asarray(points, float)))
    return (
        fixed.geom_type == "MultiPolygon" and abs(fixed.area - abs(Polygon(points).area)) < 1e-6 * fixed.area
    )


def proof_of_no(problem: Problem) -> str | None:
    """Return a sentence that proves that not everything fits, or ``None``.

    Proofs are: the parts have more area than the sheets leave; a part is larger than every sheet; an edge that must
    lie on an edge of a sheet fits on none.
    """
    if problem.strip is not None:
        return _strip_proof(problem)
    parts_mm2 = sum(Polygon(p.outline).area * p.count for p in problem.parts)
    free = 0.0
    regions = []
    for sheet in problem.sheets:
        region: BaseGeometry = Polygon(sheet.outline)
        for hole in sheet.holes:
            region = region.difference(Polygon(hole))
        free += region.area
        regions.append(region)
    if parts_mm2 > free:
        return (
            f"The pieces cover {parts_mm2 / 100:.0f} cm² and the cloth has {free / 100:.0f} cm²: "
            f"short by {(parts_mm2 - free) / 100:.0f} cm² before a single gap."
        )
    for part in problem.parts:
        if part.count and all(_cannot_hold(region, part) for region in regions):
            return f"“{part.id}” is larger than every cloth."
    for part in problem.parts:
        rails, must = rails_of(part, problem.sheets, part.turns or (0.0,))
        if part.count and must and not rails:
            return why_nowhere(part, problem.sheets)
    return None


def _strip_proof(problem: Problem) -> str | None:
    assert problem.strip is not None
    for part in problem.parts:
        poly = Polygon(part.outline)
        edge = problem.gap_edge_mm if part.gap_edge_mm is None else part.gap_edge_mm
        room = problem.strip.height_mm - 2 * edge
        if part.turns is None or part.tilt_deg > 0:
            need = _narrowest(_hull_points(poly))
        else:
            need = min(_height_at(poly, t) for t in part.turns)
        if part.count and need > room + 1e-6 * problem.strip.height_mm:
            return f"“{part.id}” is {need:.1f} mm high at the least, and the strip has {room:.1f} mm."
    return None


def _height_at(poly: Polygon, turn_deg: float) -> float:
    pts = np.asarray(poly.exterior.coords)
    a = math.radians(turn_deg)
    y = math.sin(a) * pts[:, 0] + math.cos(a) * pts[:, 1]
    return float(y.max() - y.min())


def _hull_points(geom: BaseGeometry) -> PointsMm:
    hull = shapely.convex_hull(geom)
    return np.asarray(shapely.get_coordinates(hull), dtype=np.float64)[:-1]


def _longest(hull: PointsMm) -> float:
    return float(np.sqrt(((hull[:, None] - hull[None]) ** 2).sum(-1)).max())


def _narrowest(hull: PointsMm) -> float:
    """Return the least width of a convex outline: it is found square to one of the edges."""
    edges = np.roll(hull, -1, axis=0) - hull
    edges = edges[np.hypot(edges[:, 0], edges[:, 1]) > 0]
    normals = np.column_stack([-edges[:, 1], edges[:, 0]]) / np.hypot(edges[:, 0], edges[:, 1])[:, None]
    across = hull @ normals.T
    return float((across.max(axis=0) - across.min(axis=0)).min())


def _cannot_hold(region: BaseGeometry, part: Part) -> bool:
    """Return whether a part is surely too large for a region.

    Area, greatest and least width can only grow from a shape to one that contains it, and so can the box
    at a given turn; a part that passes all four may still not fit.
    """
    poly = Polygon(part.outline)
    if poly.area > region.area * (1.0 + 1e-9):
        return True
    mine, its = _hull_points(poly), _hull_points(region)
    slack = 1e-9 * _longest(its)
    if _longest(mine) > _longest(its) + slack or _narrowest(mine) > _narrowest(its) + slack:
        return True
    if part.turns is None or part.tilt_deg > 0:
        return False
    x0, y0, x1, y1 = region.bounds
    return all(
        _height_at(poly, t) > y1 - y0 + slack or _height_at(poly, t + 90.0) > x1 - x0 + slack
        for t in part.turns
    )
