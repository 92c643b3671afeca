"""The exact check that every lay must pass before it leaves: double precision, true outlines.

It shares nothing with the search: no table, no rail, no simplified shape, no tolerance. Written against the
problem's own words with shapely alone, so that a mistake in the search cannot hide here.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from shapely import STRtree, affinity
from shapely.geometry import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from eke.lay.problem import EdgeRule, Part, PhaseRule, Placement, Problem, Sheet

COMMON_MM2: Final = 0.002
"""Area that two parts may have in common: what rounding leaves, far below the width of a thread."""
OFF_MM2: Final = 0.01
"""Area that a part may have off its sheet or on a hole or zone."""
GAP_MM: Final = 0.004
"""By how much a gap may be missed."""
TURN_DEG: Final = 2e-4
FOLD_MM: Final = 0.02
"""How far off the fold an edge may lie."""
ON_EDGE_MM: Final = 0.5
"""How far off a named edge: one traced from a photograph or by hand is not straight to a hair."""
TILT_DEG: Final = 4e-4
"""How much the tilts of a pair may differ: twice what a turn may be off."""
PHASE_MM: Final = 0.01
"""By how much a tolerance across the stripes may be missed."""


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
        found.extend(_sheet_faults(problem, part, shape, sheet))
        if part.on_fold is not None:
            found.extend(_fold_faults(part, place, sheet.fold))
        for rule in part.on_edge:
            if rule.must:
                found.extend(_edge_faults(part, rule, place, sheet))
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
    found.extend(_tilt_faults(parts, placements))
    found.extend(_phase_faults(parts, sheets, placements))
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


def _sheet_faults(problem: Problem, part: Part, shape: Polygon, sheet: Sheet) -> list[Fault]:
    outer = Polygon(np.asarray(sheet.outline, float))
    found: list[Fault] = []
    off = shape.difference(outer).area
    if off > OFF_MM2:
        found.append(Fault(f"“{part.id}” lies with {off:.4g} mm² off “{sheet.id}”.", (part.id,), off))
    edge = problem.gap_edge_mm if part.gap_edge_mm is None else part.gap_edge_mm
    border: BaseGeometry = outer.exterior
    # nothing is cut along the fold, and an edge that the part asks for needs no gap
    spared = [LineString(sheet.fold)] if sheet.fold is not None and part.on_fold is not None else []
    spared += [line for rule in part.on_edge for line in _named(sheet, rule.kind)]
    for line in spared:
        border = border.difference(line.buffer(FOLD_MM, cap_style="flat", join_style="mitre"))
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
    a, b = _stretch(part, part.on_fold, place)
    line = LineString(fold)
    off = max(line.distance(Point(a)), line.distance(Point(b)))
    if off > FOLD_MM:
        return [Fault(f"“{part.id}” lies {off:.4g} mm off the fold.", (part.id,), off)]
    return []


def _named(sheet: Sheet, kind: str) -> list[LineString]:
    return [LineString(np.asarray(e.line, float)) for e in sheet.edges if kind in ("", e.kind)]


def _edge_faults(part: Part, rule: EdgeRule, place: Placement, sheet: Sheet) -> list[Fault]:
    what = f"an edge called “{rule.kind}”" if rule.kind else "a named edge"
    lines = _named(sheet, rule.kind)
    if not lines:
        return [Fault(f"“{part.id}” must lie on {what}, and “{sheet.id}” has none.", (part.id,), 0.0)]
    stretch = LineString(_stretch(part, rule.stretch, place))
    length = stretch.length
    # the whole stretch, not only its ends, lies beside one of the lines
    free = min(stretch.difference(line.buffer(ON_EDGE_MM, cap_style="square")).length for line in lines)
    if free > FOLD_MM:
        text = f"“{part.id}” lies on {what} for {length - free:.4g} mm of {length:.4g} mm."
        return [Fault(text, (part.id,), free)]
    return []


def _stretch(part: Part, k: int, place: Placement) -> tuple[tuple[float, float], tuple[float, float]]:
    outline = np.asarray(part.outline, float)
    return _pose_point(place, outline[k]), _pose_point(place, outline[(k + 1) % len(outline)])


def _tilt_faults(parts: Mapping[str, Part], placements: Sequence[Placement]) -> list[Fault]:
    """Tilts of a pair: one amount, the other way for what is mirrored."""
    seen: dict[str, tuple[str, float]] = {}
    found = []
    for place in placements:
        part = parts.get(place.part)
        if part is None or part.tilt_pair is None or not part.turns:
            continue
        tilt = min(((place.turn_deg - t + 180.0) % 360.0 - 180.0 for t in part.turns), key=abs)
        if part.tilt_pair.mirrored != place.mirrored:
            tilt = -tilt
        first, asked = seen.setdefault(part.tilt_pair.name, (part.id, tilt))
        if not abs(tilt - asked) <= TILT_DEG:
            text = f"“{part.id}” is tilted otherwise than “{first}”: {tilt:.3f}° and {asked:.3f}° as mirror images."
            found.append(Fault(text, (first, part.id), abs(tilt - asked)))
    return found


def _phase_faults(
    parts: Mapping[str, Part], sheets: Mapping[str, Sheet], placements: Sequence[Placement]
) -> list[Fault]:
    """Points that must lie at a phase of the stripes, and points that must match."""
    found = []
    groups: dict[str, list[tuple[str, PhaseRule, float, float]]] = {}
    for place in placements:
        part, sheet = parts.get(place.part), sheets.get(place.sheet or "")
        if part is None or sheet is None:
            continue
        for rule in part.phases:
            repeat = next((r for r in sheet.repeats if r.name == rule.repeat), None)
            if repeat is None:
                continue
            a = math.radians(repeat.direction_deg)
            x, y = _pose_point(place, rule.at)
            across = (x - repeat.origin[0]) * math.cos(a) + (y - repeat.origin[1]) * math.sin(a)
            phase = across / repeat.period_mm
            if rule.phase is not None:
                off = abs(math.remainder(phase - rule.phase, 1.0)) * repeat.period_mm
                if not off <= rule.tolerance_mm + PHASE_MM:
                    text = f"“{part.id}” lies {off:.4g} mm off its place in the repeat “{rule.repeat}”."
                    found.append(Fault(text, (part.id,), off))
            if rule.match is not None:
                groups.setdefault(rule.match, []).append((part.id, rule, phase, repeat.period_mm))
    for word, members in groups.items():
        for i, (one, rule, phase, period_mm) in enumerate(members):
            for other, its, its_phase, its_period_mm in members[i + 1 :]:
                off = abs(math.remainder(phase - its_phase, 1.0)) * min(period_mm, its_period_mm)
                if not off <= min(rule.tolerance_mm, its.tolerance_mm) + PHASE_MM:
                    text = f"“{one}” and “{other}” miss each other by {off:.4g} mm at “{word}”."
                    found.append(Fault(text, (one, other), off))
    return found


def _pose_point(place: Placement, point: Sequence[float]) -> tuple[float, float]:
    rad = math.radians(place.turn_deg)
    c, s = math.cos(rad), math.sin(rad)
    x, y = (-float(point[0]) if place.mirrored else float(point[0])), float(point[1])
    return c * x - s * y + place.x_mm, s * x + c * y + place.y_mm


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
