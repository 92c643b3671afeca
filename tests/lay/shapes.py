"""Shapes for the packing tests, and a check of lays that shares nothing with the engine's own."""

from __future__ import annotations

import math

import numpy as np
from shapely import affinity
from shapely.geometry import Polygon

from eke.lay import Placement, Problem


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
            free = free.buffer(-(edge - 0.01))
        for hole in sheet.holes:
            free = free.difference(Polygon(hole).buffer(max(0.0, hole_gap - 0.01)))
        for zone in sheet.zones:
            if part.min_quality is not None and zone.quality < part.min_quality:
                free = free.difference(Polygon(zone.polygon))
        if part.on_fold is None and a.difference(free.buffer(1e-4)).area > 0.02:
            wrong.append(f"{p.part} off {p.sheet}")
    return wrong


def moved(points: np.ndarray, turn_deg: float, x: float, y: float) -> np.ndarray:
    poly = affinity.translate(affinity.rotate(Polygon(points), turn_deg, origin=(0, 0)), x, y)
    return np.asarray(poly.exterior.coords)[:-1]
