"""Shapes for the packing tests, and a check of lays that shares nothing with the engine's own."""

from __future__ import annotations

import cmath
import math

import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon

from eke.lay import Part, Placement, Problem, Sheet


def box_points(w: float, h: float, x: float = 0.0, y: float = 0.0) -> np.ndarray:
    return np.array([[x, y], [x + w, y], [x + w, y + h], [x, y + h]])


def star(rng: np.random.Generator, size: float, points: int) -> np.ndarray:
    """A random outline that does not cross itself: points around a centre at random distances."""
    angles = np.sort(rng.uniform(0, 2 * math.pi, points)) + np.arange(points) * 1e-6
    gaps = np.diff(np.append(angles, angles[0] + 2 * math.pi))
    if gaps.max() > 2.8:  # the centre must lie inside, or the outline could fold over
        angles = np.linspace(0, 2 * math.pi, points, endpoint=False) + rng.uniform(0, 0.2, points)
    radii = rng.uniform(0.35, 1.0, points) * size
    return np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])


def laid(problem: Problem, place: Placement) -> Polygon:
    part = next(p for p in problem.parts if p.id == place.part)
    a = math.radians(place.turn_deg)
    pts = np.asarray(part.outline, float) * ([-1.0, 1.0] if place.mirrored else [1.0, 1.0])
    turned = pts @ np.array([[math.cos(a), math.sin(a)], [-math.sin(a), math.cos(a)]])
    return Polygon(turned + np.array([place.x_mm, place.y_mm]))


def broken_rules(problem: Problem, placements: tuple[Placement, ...]) -> list[str]:
    """Everything wrong with a lay, worked out anew: buffers for gaps where the engine measures distances."""
    wrong = []
    shapes = [(p, laid(problem, p)) for p in placements]
    parts = {p.id: p for p in problem.parts}
    for k, (p, a) in enumerate(shapes):
        for q, b in shapes[k + 1 :]:
            if p.sheet != q.sheet:
                continue
            gap = max(problem.gap_parts_mm, parts[p.part].gap_mm or 0, parts[q.part].gap_mm or 0)
            grown = a.buffer(max(0.0, gap - 0.01)) if gap else a
            if grown.intersection(b).area > 0.01:
                wrong.append(f"{p.part} and {q.part}")
    for p, a in shapes:
        part = parts[p.part]
        if p.mirrored and not part.mirror_allowed:
            wrong.append(f"{p.part} mirrored")
        if part.turns is not None:
            off = min(abs((p.turn_deg - t + 180) % 360 - 180) for t in part.turns)
            if off > part.tilt_deg + 1e-3:
                wrong.append(f"{p.part} turned")
        if problem.strip is not None:
            if a.bounds[1] < -0.01 or a.bounds[3] > problem.strip.height_mm + 0.01:
                wrong.append(f"{p.part} off the strip")
            continue
        sheet = next(s for s in problem.sheets if s.id == p.sheet)
        edge = problem.gap_edge_mm if part.gap_edge_mm is None else part.gap_edge_mm
        hole_gap = problem.gap_hole_mm if part.gap_hole_mm is None else part.gap_hole_mm
        free = Polygon(sheet.outline)
        if edge:
            free = free.difference(raw_border(part, sheet).buffer(edge - 0.01))
        for hole in sheet.holes:
            free = free.difference(Polygon(hole).buffer(max(0.0, hole_gap - 0.01)))
        for zone in sheet.zones:
            if part.min_quality is not None and zone.quality < part.min_quality:
                free = free.difference(Polygon(zone.polygon))
        if a.difference(free.buffer(1e-4)).area > 0.02:
            wrong.append(f"{p.part} off {p.sheet}")
        if (
            part.on_fold is not None
            and off_line(part, p, part.on_fold, [LineString(sheet.fold or [])]) > 0.03
        ):
            wrong.append(f"{p.part} off the fold")
        for rule in part.on_edge:
            lines = [LineString(e.line) for e in sheet.edges if rule.kind in ("", e.kind)]
            if rule.must and off_line(part, p, rule.stretch, lines) > 0.51:
                wrong.append(f"{p.part} off its edge")
    return wrong + broken_tilts(problem, placements) + broken_phases(problem, placements)


def raw_border(part: Part, sheet: Sheet) -> LineString:
    """The border of a sheet that a part has to keep its gap from: all but a fold and edges that it asks for."""
    kinds = {r.kind for r in part.on_edge}
    border = Polygon(sheet.outline).exterior
    lines = [LineString(e.line) for e in sheet.edges if "" in kinds or e.kind in kinds]
    if part.on_fold is not None and sheet.fold is not None:
        lines.append(LineString(sheet.fold))
    for line in lines:
        border = border.difference(line.buffer(0.01, cap_style="flat"))
    return border


def put(place: Placement, point: tuple[float, float]) -> tuple[float, float]:
    """Where a point of a part lies."""
    z = complex(-point[0] if place.mirrored else point[0], point[1])
    z = z * complex(math.cos(math.radians(place.turn_deg)), math.sin(math.radians(place.turn_deg)))
    return z.real + place.x_mm, z.imag + place.y_mm


def off_line(part: Part, place: Placement, stretch: int, lines: list[LineString]) -> float:
    """The farthest of eleven points of a stretch from the nearest line (each point from its own nearest)."""
    a, b = (np.asarray(put(place, part.outline[(stretch + k) % len(part.outline)])) for k in (0, 1))
    points = [Point(a + (b - a) * k / 10) for k in range(11)]
    return max(min((line.distance(q) for line in lines if not line.is_empty), default=1e9) for q in points)


def broken_tilts(problem: Problem, placements: tuple[Placement, ...]) -> list[str]:
    parts = {p.id: p for p in problem.parts}
    amounts: dict[str, list[float]] = {}
    for p in placements:
        part = parts[p.part]
        if part.tilt_pair is None or part.turns is None:
            continue
        tilt = min(((p.turn_deg - t + 180) % 360 - 180 for t in part.turns), key=abs)
        flips = int(part.tilt_pair.mirrored) + int(p.mirrored)
        amounts.setdefault(part.tilt_pair.name, []).append(tilt * (-1) ** flips)
    return [f"{name} tilted unlike" for name, all_ in amounts.items() if max(all_) - min(all_) > 1e-3]


def broken_phases(problem: Problem, placements: tuple[Placement, ...]) -> list[str]:
    """Phases as points on a circle: how far each is turned from where it ought to be."""
    parts = {p.id: p for p in problem.parts}
    sheets = {s.id: s for s in problem.sheets}
    wrong = []
    seen: dict[str, list[tuple[complex, float, float]]] = {}
    for p in placements:
        for rule in parts[p.part].phases:
            for repeat in sheets[p.sheet].repeats:
                if repeat.name != rule.repeat:
                    continue
                a = math.radians(repeat.direction_deg)
                x, y = put(p, rule.at)
                along = (x - repeat.origin[0]) * math.cos(a) + (y - repeat.origin[1]) * math.sin(a)
                hand = cmath.exp(2j * math.pi * along / repeat.period_mm)
                one_mm = 2 * math.pi / repeat.period_mm
                if rule.phase is not None:
                    want = cmath.exp(2j * math.pi * rule.phase)
                    if abs(cmath.phase(hand / want)) > (rule.tolerance_mm + 0.02) * one_mm:
                        wrong.append(f"{p.part} out of phase")
                if rule.match is not None:
                    for other, its_mm, tolerance in seen.get(rule.match, []):
                        off = abs(cmath.phase(hand / other))
                        if off > (min(tolerance, rule.tolerance_mm) + 0.02) * max(one_mm, its_mm):
                            wrong.append(f"{p.part} does not match at {rule.match}")
                    seen.setdefault(rule.match, []).append((hand, one_mm, rule.tolerance_mm))
    return wrong


def moved(points: np.ndarray, turn_deg: float, x: float, y: float) -> np.ndarray:
    poly = affinity.translate(affinity.rotate(Polygon(points), turn_deg, origin=(0, 0)), x, y)
    return np.asarray(poly.exterior.coords)[:-1]
