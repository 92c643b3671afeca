"""The exact check that every lay must pass before it leaves: double precision, true outlines.

It shares nothing with the kernels: no table, no simplified shape, no tolerance. Written against the
problem's own words with shapely alone, so that a mistake in the search cannot hide here.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from shapely import STRtree, affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from eke.lay.problem import Part, Placement, Problem

COMMON_MM2: Final = 0.002
"""Area that two parts may have in common: what rounding leaves, far below the width of a thread."""
OFF_MM2: Final = 0.01
"""Area that a part may have off its sheet or on a hole or zone."""
GAP_MM: Final = 0.004
"""By how much a gap may be missed."""
TURN_DEG: Final = 2e-4
FOLD_MM: Final = 0.02


@dataclass(frozen=True, slots=True)
class Fault:
    """One rule that a placement breaks; ``amount`` in mm², mm or degrees as ``sentence`` says."""

    sentence: str
    parts: tuple[str, ...]
    amount: float


def _pose(part: Part, place: Placement) -> Polygon:
    outline = Polygon(np.asarray(part.outline, float))
    if place.mirrored:
        outline = affinity.scale(outline, -1.0, 1.0, origin=(0.0, 0.0))
    return affinity.translate(
        affinity.rotate(outline, place.turn_deg, origin=(0.0, 0.0)), place.x_mm, place.y_mm
    )


def _angle_between(a: float, b: float) -> float:
    d = abs(a - b) % 360.0
    return min(d, 360.0 - d)


def _turn_fault(part: Part, place: Placement) -> Fault | None:
    if place.mirrored and not part.mirror_allowed:
        return Fault(f"“{part.id}” lies mirrored, which it may not.", (part.id,), 0.0)
    if part.turns is None:
        return None
    off = min(_angle_between(place.turn_deg, t) for t in part.turns)
    if off > part.tilt_deg + TURN_DEG:
        return Fault(f"“{part.id}” is turned by {place.turn_deg:.3f}°, which it may not.", (part.id,), off)
    return None


def _gap_between(problem: Problem, a: Part, b: Part) -> float:
    return max(problem.gap_parts_mm, a.gap_mm or 0.0, b.gap_mm or 0.0)


def faults(problem: Problem, placements: Sequence[Placement]) -> list[Fault]:
    """Return every rule of ``problem`` that ``placements`` break; an empty list when all is well.

    Parts that are missing are no fault: see :func:`missing`. For a strip the used length is not checked;
    it follows from the placements, see :func:`used_length`.
    """
    parts = {p.id: p for p in problem.parts}
    # tolerances are meant for cloth; where a strip comes in its source's own unit they go with its height
    unit = problem.strip.height_mm / 1000.0 if problem.strip is not None else 1.0
    found: list[Fault] = []
    sheets = {s.id: s for s in problem.sheets}
    groups: dict[str | None, list[tuple[Part, Polygon]]] = {}
    turns: dict[str, list[tuple[Part, Placement]]] = {}
    counts: dict[str, int] = {}
    for place in placements:
        part = parts.get(place.part)
        if part is None:
            found.append(Fault(f"“{place.part}” is not among the parts.", (place.part,), 0.0))
            continue
        counts[part.id] = counts.get(part.id, 0) + 1
        if not all(map(math.isfinite, (place.turn_deg, place.x_mm, place.y_mm))):
            found.append(Fault(f"“{part.id}” lies nowhere.", (part.id,), 0.0))
            continue
        if (turn := _turn_fault(part, place)) is not None:
            found.append(turn)
        if part.same_turn is not None:
            turns.setdefault(part.same_turn, []).append((part, place))
        shape = _pose(part, place)
        groups.setdefault(place.sheet, []).append((part, shape))
        if problem.strip is not None:
            edge = problem.gap_edge_mm if part.gap_edge_mm is None else part.gap_edge_mm
            _, y0, _, y1 = shape.bounds
            out = max(edge - y0, y1 - (problem.strip.height_mm - edge))
            if out > GAP_MM * unit:
                found.append(
                    Fault(f"“{part.id}” reaches {out:.4g} mm over the edge of the strip.", (part.id,), out)
                )
            continue
        sheet = sheets.get(place.sheet or "")
        if sheet is None:
            found.append(Fault(f"“{part.id}” lies on “{place.sheet}”, which is not there.", (part.id,), 0.0))
            continue
        found.extend(_sheet_faults(problem, part, shape, sheet.id))
        if part.on_fold is not None:
            found.extend(_fold_faults(part, place, sheet.fold))
    for part in problem.parts:
        if counts.get(part.id, 0) > part.count:
            extra = counts[part.id] - part.count
            found.append(Fault(f"“{part.id}” lies {extra} times too often.", (part.id,), float(extra)))
    for name, members in turns.items():
        for part, place in members[1:]:
            first = members[0][1]
            off = _angle_between(place.turn_deg, first.turn_deg)
            if off > TURN_DEG + 2.0 * part.tilt_deg or place.mirrored != first.mirrored:
                found.append(Fault(f"“{part.id}” lies otherwise than the rest of “{name}”.", (part.id,), off))
    for items in groups.values():
        tree = STRtree([g for _, g in items])
        widest = max((_gap_between(problem, a, a) for a, _ in items), default=0.0)
        for i, (a, g) in enumerate(items):
            near = tree.query(g.buffer(widest) if widest else g)
            for j in sorted(int(n) for n in near if n > i):
                b, h = items[j]
                common = g.intersection(h).area
                if common > COMMON_MM2 * unit * unit:
                    text = f"“{a.id}” and “{b.id}” have {common:.4g} mm² in common."
                    found.append(Fault(text, (a.id, b.id), common))
                    continue
                gap = _gap_between(problem, a, b)
                if gap and (apart := g.distance(h)) < gap - GAP_MM * unit:
                    text = f"“{a.id}” and “{b.id}” are {apart:.4g} mm apart, {gap:g} mm are asked."
                    found.append(Fault(text, (a.id, b.id), gap - apart))
    return found


def _sheet_faults(problem: Problem, part: Part, shape: Polygon, sheet_id: str) -> list[Fault]:
    sheet = next(s for s in problem.sheets if s.id == sheet_id)
    outer = Polygon(np.asarray(sheet.outline, float))
    found: list[Fault] = []
    off = shape.difference(outer).area
    if off > OFF_MM2:
        found.append(Fault(f"“{part.id}” lies with {off:.4g} mm² off “{sheet.id}”.", (part.id,), off))
    edge = problem.gap_edge_mm if part.gap_edge_mm is None else part.gap_edge_mm
    border: BaseGeometry = outer.exterior
    if sheet.fold is not None and part.on_fold is not None:
        # nothing is cut along the fold; the ends of the border beside it are as near as the fold is
        border = border.difference(LineString(sheet.fold).buffer(max(edge, FOLD_MM), cap_style="flat"))
    if edge and (apart := border.distance(shape)) < edge - GAP_MM:
        text = f"“{part.id}” is {apart:.4g} mm from the edge of “{sheet.id}”, {edge:g} mm are asked."
        found.append(Fault(text, (part.id,), edge - apart))
    gap = problem.gap_hole_mm if part.gap_hole_mm is None else part.gap_hole_mm
    for ring in sheet.holes:
        hole = Polygon(np.asarray(ring, float))
        common = hole.intersection(shape).area
        if common > OFF_MM2:
            found.append(Fault(f"“{part.id}” lies with {common:.4g} mm² on a hole.", (part.id,), common))
        elif gap and (apart := hole.distance(shape)) < gap - GAP_MM:
            text = f"“{part.id}” is {apart:.4g} mm from a hole of “{sheet.id}”, {gap:g} mm are asked."
            found.append(Fault(text, (part.id,), gap - apart))
    for zone in sheet.zones:
        if part.min_quality is not None and zone.quality < part.min_quality:
            common = Polygon(np.asarray(zone.polygon, float)).intersection(shape).area
            if common > OFF_MM2:
                text = f"“{part.id}” lies with {common:.4g} mm² on a zone of quality {zone.quality:g}."
                found.append(Fault(text, (part.id,), common))
    return found


def _fold_faults(
    part: Part, place: Placement, fold: tuple[tuple[float, float], tuple[float, float]] | None
) -> list[Fault]:
    assert part.on_fold is not None
    if fold is None:
        return [Fault(f"“{part.id}” must lie on a fold, and “{place.sheet}” has none.", (part.id,), 0.0)]
    ring = np.asarray(_pose_points(part, place))
    a, b = ring[part.on_fold], ring[(part.on_fold + 1) % len(ring)]
    line = LineString(fold)
    off = max(line.distance(Point(a)), line.distance(Point(b)))
    if off > FOLD_MM:
        return [Fault(f"“{part.id}” lies {off:.4g} mm off the fold.", (part.id,), off)]
    return []


def _pose_points(part: Part, place: Placement) -> list[tuple[float, float]]:
    rad = math.radians(place.turn_deg)
    c, s = math.cos(rad), math.sin(rad)
    sign = -1.0 if place.mirrored else 1.0
    return [
        (c * sign * x - s * y + place.x_mm, s * sign * x + c * y + place.y_mm)
        for x, y in np.asarray(part.outline, float)
    ]


def missing(problem: Problem, placements: Sequence[Placement]) -> dict[str, int]:
    """Return the copies that are not on, by part."""
    out: dict[str, int] = {}
    for part in problem.parts:
        short = part.count - sum(1 for p in placements if p.part == part.id)
        if short > 0:
            out[part.id] = short
    return out


def used_length(problem: Problem, placements: Sequence[Placement]) -> float:
    """Return the length of a strip from the first to the last point of the parts on it, in mm."""
    parts = {p.id: p for p in problem.parts}
    bounds = [_pose(parts[p.part], p).bounds for p in placements]
    if not bounds:
        return 0.0
    return max(b[2] for b in bounds) - min(b[0] for b in bounds)
