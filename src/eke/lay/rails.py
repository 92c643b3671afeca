"""Rails: the lines along which a part may lie, where one of its edges belongs on an edge of a sheet.

A fold and a named edge of a sheet are the same thing here: a *run* of the outline that is straight, with the
sheet on its left. A straight stretch of a part fits on a run at one turn only, and what is left to choose is
how far along it lies: a rail. Two edges that must both lie somewhere leave the point where their rails meet.

All in the problem's own words: mm, degrees, and no table of the kernels.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from shapely.geometry import LineString

from eke.lay.problem import EdgeRule, Part, PointsMm, Sheet

ON_LINE_MM: Final = 0.02
"""A named line may run this far beside the outline that it is a stretch of."""
SHORTEST_MM: Final = 0.1
"""Runs shorter than this are slips at corners."""
EDGE_STRAIGHT_MM: Final = 0.4
"""A named edge that wavers by no more than this counts as straight (a selvedge traced from a photograph does);
the part then lies along its innermost points. Less than what the exact check lets pass."""
FOLD_STRAIGHT_MM: Final = 0.01
"""The same for a fold, which is straight by nature."""
SEATED_MM: Final = 0.01
"""Other points of a part may reach this far beyond the line through a stretch that is to lie on an edge."""
HAIR_MM: Final = 1e-5
"""Rails lie this far in from the edge, so that rounding puts nothing beyond it."""
ANGLE_DEG: Final = 1e-4
"""A turn may be off by this much to bring an edge onto a rail: half of what the exact check lets pass."""
SAME_PLACE_MM: Final = 1e-3
"""Two rails that must both be kept may miss each other by this much."""


@dataclass(frozen=True, slots=True)
class Run:
    """A straight run of a sheet's outline: start, direction (a unit vector, the sheet on its left), length."""

    start: tuple[float, float]
    along: tuple[float, float]
    length: float


@dataclass(frozen=True, slots=True)
class Rail:
    """Placements of a part that keep an edge on a run: moved to ``start + s · along``, 0 ≤ s ≤ ``length``.

    ``turn`` is the index of the allowed turn that ``turn_deg`` is within the tilt of.
    """

    sheet: int
    turn: int
    turn_deg: float
    mirrored: bool
    start: tuple[float, float]
    along: tuple[float, float]
    length: float


def named_lines(sheet: Sheet, kinds: Sequence[str], *, fold: bool) -> list[LineString]:
    """Return the lines of a sheet that bear one of ``kinds`` (``""``: any), and its fold if asked for."""
    lines = [LineString(np.asarray(e.line, float)) for e in sheet.edges if "" in kinds or e.kind in kinds]
    if fold and sheet.fold is not None:
        lines.append(LineString(sheet.fold))
    return lines


def stretches(outline: PointsMm, line: LineString) -> list[PointsMm]:
    """Return the stretches of an outline that run along ``line``, each with the inside on its left."""
    ring = np.asarray(outline, float)
    if _area(ring) < 0:
        ring = ring[::-1]
    beside = line.buffer(ON_LINE_MM, cap_style="flat", join_style="mitre")
    found: list[list[tuple[float, float]]] = []
    for a, b in zip(ring, np.roll(ring, -1, axis=0), strict=True):
        if (a == b).all():
            continue
        common = LineString([a, b]).intersection(beside)
        for part in getattr(common, "geoms", (common,)):
            if not isinstance(part, LineString) or part.length < min(SHORTEST_MM, 0.9 * math.dist(a, b)):
                continue
            (px, py), (qx, qy) = part.coords[0][:2], part.coords[-1][:2]
            p, q = (px, py), (qx, qy)
            if (q[0] - p[0]) * (b[0] - a[0]) + (q[1] - p[1]) * (b[1] - a[1]) < 0:
                p, q = q, p
            if found and math.dist(found[-1][-1], p) < SAME_PLACE_MM:
                found[-1].append(q)
            else:
                found.append([p, q])
    # the outline may begin in the middle of a stretch
    if len(found) > 1 and math.dist(found[-1][-1], found[0][0]) < SAME_PLACE_MM:
        found[0] = found.pop() + found[0][1:]
    return [np.asarray(points, float) for points in found]


def straight_runs(points: PointsMm, waver_mm: float) -> list[Run]:
    """Cut a stretch of outline into straight runs; where it wavers a run keeps to its innermost points."""
    runs: list[Run] = []
    i, n = 0, len(points)
    while i < n - 1:
        j = i + 1
        while j + 1 < n and _waver(points[i : j + 2]) <= waver_mm:
            j += 1
        a, b = points[i], points[j]
        length = math.dist(a, b)
        if length > 0:
            dx, dy = (b - a) / length
            left = float(max(0.0, ((points[i : j + 1] - a) @ np.array([-dy, dx])).max()))
            runs.append(Run((a[0] - dy * left, a[1] + dx * left), (float(dx), float(dy)), length))
        i = j
    return runs


def _waver(points: PointsMm) -> float:
    """Return the width of the straight band, along the chord, that holds some points; never turning back."""
    chord = points[-1] - points[0]
    length = float(np.hypot(*chord))
    if length == 0:
        return math.inf
    along = points @ (chord / length)
    if (np.diff(along) < 0).any():
        return math.inf
    across = points @ np.array([-chord[1], chord[0]]) / length
    return float(across.max() - across.min())


def _area(ring: PointsMm) -> float:
    x, y = ring[:, 0], ring[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def runs_of(sheet: Sheet, kind: str | None) -> list[Run]:
    """Return the straight runs of a sheet's edges of a kind; ``None`` for its fold."""
    waver = FOLD_STRAIGHT_MM if kind is None else EDGE_STRAIGHT_MM
    lines = named_lines(sheet, () if kind is None else (kind,), fold=kind is None)
    return [run for line in lines for p in stretches(sheet.outline, line) for run in straight_runs(p, waver)]


def protrusion_mm(outline: PointsMm, stretch: int) -> float:
    """Return how far an outline reaches beyond the line through one of its stretches."""
    ring = np.asarray(outline, float)
    a, b = ring[stretch], ring[(stretch + 1) % len(ring)]
    if _area(ring) < 0:
        a, b = b, a
    d = (b - a) / np.hypot(*(b - a))
    return float(max(0.0, ((ring - a) @ np.array([d[1], -d[0]])).max()))


def rails_of(
    part: Part, sheets: Sequence[Sheet], turns_deg: Sequence[float]
) -> tuple[tuple[Rail, ...], bool]:
    """Return the rails of a part, and whether it must lie on one of them.

    ``turns_deg`` are the turns that the search starts from; a part that may be turned freely fits at others too.
    """
    asked: list[tuple[int, str | None]] = [] if part.on_fold is None else [(part.on_fold, None)]
    asked += [(r.stretch, r.kind) for r in part.on_edge if r.must]
    if asked:
        kept = _along(part, *asked[0], sheets, turns_deg)
        for rule in asked[1:]:
            kept = _both(kept, _along(part, *rule, sheets, turns_deg))
        return tuple(kept), True
    offered: list[Rail] = []
    for r in part.on_edge:
        offered += _along(part, r.stretch, r.kind, sheets, turns_deg)
    return tuple(offered), False


def _along(
    part: Part, stretch: int, kind: str | None, sheets: Sequence[Sheet], turns_deg: Sequence[float]
) -> list[Rail]:
    ring = np.asarray(part.outline, float)
    a, b = ring[stretch], ring[(stretch + 1) % len(ring)]
    if _area(ring) < 0:
        a, b = b, a
    span = float(np.hypot(*(b - a)))
    inset = protrusion_mm(ring, stretch) + HAIR_MM
    found = []
    for s, sheet in enumerate(sheets):
        for run in runs_of(sheet, kind):
            for mirrored in (False, True) if part.mirror_allowed else (False,):
                first, last = (b * (-1.0, 1.0), a * (-1.0, 1.0)) if mirrored else (a, b)
                way = last - first
                deg = math.degrees(math.atan2(run.along[1], run.along[0]) - math.atan2(way[1], way[0]))
                turn = _turn(part, deg, turns_deg)
                room = run.length - span
                if turn is None or room < -SAME_PLACE_MM:
                    continue
                rad = math.radians(deg)
                c, sn = math.cos(rad), math.sin(rad)
                x = run.start[0] - inset * run.along[1] - (c * first[0] - sn * first[1])
                y = run.start[1] + inset * run.along[0] - (sn * first[0] + c * first[1])
                found.append(Rail(s, turn, deg % 360.0, mirrored, (x, y), run.along, max(0.0, room)))
    return found


def _turn(part: Part, deg: float, turns_deg: Sequence[float]) -> int | None:
    """Return which allowed turn ``deg`` belongs to, or ``None`` when it may not be turned so."""
    off = [abs(math.remainder(deg - t, 360.0)) for t in turns_deg]
    nearest = min(range(len(off)), key=off.__getitem__)
    if part.turns is not None and off[nearest] > part.tilt_deg + ANGLE_DEG:
        return None
    return nearest


def _both(one: Sequence[Rail], other: Sequence[Rail]) -> list[Rail]:
    """Return where a part is on a rail of both lists at once: points, or what two equal lines share."""
    found = []
    for p in one:
        for q in other:
            if (p.sheet, p.mirrored) != (q.sheet, q.mirrored):
                continue
            if abs(math.remainder(p.turn_deg - q.turn_deg, 360.0)) > ANGLE_DEG:
                continue
            gap = (q.start[0] - p.start[0], q.start[1] - p.start[1])
            cross = p.along[0] * q.along[1] - p.along[1] * q.along[0]
            if abs(cross) > 1e-6:
                s = (gap[0] * q.along[1] - gap[1] * q.along[0]) / cross
                t = (gap[0] * p.along[1] - gap[1] * p.along[0]) / cross
                if not (
                    -SAME_PLACE_MM <= s <= p.length + SAME_PLACE_MM
                    and -SAME_PLACE_MM <= t <= q.length + SAME_PLACE_MM
                ):
                    continue
                low, length = s, 0.0
            else:
                if abs(gap[0] * p.along[1] - gap[1] * p.along[0]) > SAME_PLACE_MM:
                    continue
                from_q = gap[0] * p.along[0] + gap[1] * p.along[1]
                way = math.copysign(1.0, p.along[0] * q.along[0] + p.along[1] * q.along[1])
                ends = sorted((from_q, from_q + way * q.length))
                low, high = max(0.0, ends[0]), min(p.length, ends[1])
                if high < low - SAME_PLACE_MM:
                    continue
                length = max(0.0, high - low)
            at = (p.start[0] + low * p.along[0], p.start[1] + low * p.along[1])
            found.append(Rail(p.sheet, p.turn, p.turn_deg, p.mirrored, at, p.along, length))
    return found


def why_nowhere(part: Part, sheets: Sequence[Sheet]) -> str:
    """Return a sentence for a part that must lie on an edge and finds no place on any."""
    kinds = [] if part.on_fold is None else ["a fold"]
    kinds += [_named(r) for r in part.on_edge if r.must]
    which = kinds[0] if len(kinds) == 1 else " and ".join(kinds) + " at once"
    return (
        f"“{part.id}” must lie on {which}, and no cloth has one that is straight and long enough at a turn that it "
        "may have."
    )


def _named(rule: EdgeRule) -> str:
    return f"an edge called “{rule.kind}”" if rule.kind else "a named edge"


def opened(sheet: Sheet, kinds: Sequence[str], *, fold: bool) -> list[LineString]:
    """Return the stretches of the outline along which a part need not keep the gap to the edge."""
    return [
        LineString(points)
        for line in named_lines(sheet, kinds, fold=fold)
        for points in stretches(sheet.outline, line)
    ]
