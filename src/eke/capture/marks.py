"""Marks on a piece: notches at its outline, the grain line, lines drawn inside, crosses. Words are left out."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from eke.capture.axis import principal_axis
from eke.capture.found import FoundMark
from eke.capture.lines_graph import StrokeGraph
from eke.capture.marks_runs import Run, runs_off_outlines

__all__ = ["marks_of_pieces"]

Points = NDArray[np.float64]

NOTCH_LONGEST_MM = 16.0  # a longer line that meets the outline is a line of its own
NOTCH_SHORTEST_MM = 1.6  # beyond the edge of the outline's stroke
NOTCH_TOUCH_MM = 1.6  # how far a tick may stop before the outline
NOTCH_SLANT_DEG = 45.0  # from square to the outline
SAME_NOTCH_MM = 2.6  # both halves of a tick, or both strokes of a V
OVERSHOOT_MM = 7.0  # a line drawn past its corner by no more than this is no notch
OVERSHOOT_DEG = 22.0
GRAIN_SHORTEST_MM = 22.0
BARB_MM = (2.0, 16.0)
BARB_DEG = (9.0, 68.0)
BARB_NEAR_MM = 3.5  # and two widths of the stroke: a thick pen fills the point of the arrow
LINE_SHORTEST_MM = 24.0  # the stems of big letters are shorter
LINE_SINUOSITY = 1.15  # a longer way than this from end to end is writing
WORD_LINE_MM = 45.0  # strokes of letters are shorter than this
CROSS_ARM_MM = (1.2, 9.0)


def marks_of_pieces(
    graph: StrokeGraph,
    chains_mm: list[Points],
    outlines_mm: list[Points],
    corners_mm: list[Points],
    width_mm: float,
) -> list[list[FoundMark]]:
    """Marks of each piece, in the order of ``outlines_mm``.

    Parameters
    ----------
    graph
        Strokes and nodes of the drawing.
    chains_mm
        Points of each stroke in mm.
    outlines_mm
        Closed outlines, densely sampled (0.5 mm or closer is enough).
    corners_mm
        Corners of each outline.
    width_mm
        Width of the drawn line.
    """
    dense = [_dense(o) for o in outlines_mm]
    runs = runs_off_outlines(graph, chains_mm, dense, width_mm)
    out = []
    for outline, corners in zip(dense, corners_mm, strict=True):
        tree = cKDTree(outline)
        mine = [r for r in runs if _touches(outline, tree, r)]
        notches, spent = _notches(outline, tree, corners, mine, width_mm)
        rest = [r for k, r in enumerate(mine) if k not in spent and _inside(outline, r.middle)]
        grains, lines = _grain_and_lines(rest, width_mm)
        out.append(notches + grains + lines + _crosses(graph, chains_mm, outline))
    return out


def _dense(outline: Points, step: float = 0.4) -> Points:
    ring = np.vstack([outline, outline[:1]])
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    places = np.arange(0.0, at[-1], step)
    return np.column_stack([np.interp(places, at, ring[:, 0]), np.interp(places, at, ring[:, 1])])


def _inside(outline: Points, point: Points) -> bool:
    return bool(
        cv2.pointPolygonTest(outline.astype(np.float32), (float(point[0]), float(point[1])), False) >= 0
    )


def _touches(outline: Points, tree: cKDTree, run: Run) -> bool:
    if run.length_mm < NOTCH_LONGEST_MM and np.min(tree.query(run.points_mm[[0, -1]])[0]) < 3.0:
        return True
    return _inside(outline, run.middle)


def _notches(
    outline: Points, tree: cKDTree, corners: Points, runs: list[Run], width_mm: float
) -> tuple[list[FoundMark], set[int]]:
    """Ticks across or at the outline; the numbers of the runs that they used."""
    feet: list[tuple[int, Points, Points, int, float]] = []
    spent: set[int] = set()
    step = float(np.hypot(*(outline[1] - outline[0])))
    for number, run in enumerate(runs):
        if run.length_mm > NOTCH_LONGEST_MM or not run.straight:
            continue
        ends = run.points_mm[[0, -1]]
        distance, place = tree.query(ends)
        distance = np.asarray(distance)
        k = int(np.argmin(distance))
        crossing = _crosses_outline(outline, run.points_mm)
        if not crossing and distance[k] > NOTCH_TOUCH_MM + 0.5 * width_mm:
            continue
        far = float(distance[1 - k])
        if far < NOTCH_SHORTEST_MM + 0.5 * width_mm:
            continue
        foot = _foot(outline, tree, run, int(np.asarray(place)[k]))
        if foot is None:
            continue
        at, index, slant = foot
        if slant > NOTCH_SLANT_DEG:
            continue
        spent.add(number)
        if _is_overshoot(outline, corners, run, at, step):
            continue
        feet.append((index, at, ends[1 - k], number, far))
    return _merged(outline, feet, step), spent


def _crosses_outline(outline: Points, points: Points) -> bool:
    sides = [_inside(outline, p) for p in points[[0, len(points) // 2, -1]]]
    return sides[0] != sides[2]


def _foot(outline: Points, tree: cKDTree, run: Run, near: int) -> tuple[Points, int, float] | None:
    """Where the straight line through a tick meets the outline near it: point, index, slant from square."""
    d = run.direction
    side = np.array([-d[1], d[0]])
    n = len(outline)
    around = (np.arange(-30, 31) + near) % n
    off = (outline[around] - run.middle) @ side
    change = np.flatnonzero((off[:-1] * off[1:] <= 0) & (np.abs(off[:-1] - off[1:]) > 1e-12))
    if len(change) == 0:
        return None
    best = change[np.argmin(np.abs(change - 30))]
    i, j = int(around[best]), int(around[best + 1])
    share = off[best] / (off[best] - off[best + 1])
    at = outline[i] + share * (outline[j] - outline[i])
    tangent = outline[(i + 3) % n] - outline[(i - 3) % n]
    tangent /= max(float(np.hypot(tangent[0], tangent[1])), 1e-9)
    slant = math.degrees(math.asin(min(1.0, abs(float(tangent @ d)))))
    return at, i, slant


def _is_overshoot(outline: Points, corners: Points, run: Run, at: Points, step: float) -> bool:
    """A tail beyond a corner that runs on as one of the edges that meet there."""
    if len(corners) == 0:
        return False
    distance = np.hypot(*(corners - at).T)
    k = int(np.argmin(distance))
    if distance[k] > 2.0 or run.length_mm > OVERSHOOT_MM:
        return False
    n = len(outline)
    i = int(np.argmin(np.hypot(*(outline - corners[k]).T)))
    reach = max(2, round(6.0 / step))
    for edge in (outline[(i + reach) % n], outline[(i - reach) % n]):
        d = edge - corners[k]
        d = d / max(float(np.hypot(d[0], d[1])), 1e-9)
        if abs(float(d @ run.direction)) > math.cos(math.radians(OVERSHOOT_DEG)):
            return True
    return False


def _merged(
    outline: Points, feet: list[tuple[int, Points, Points, int, float]], step: float
) -> list[FoundMark]:
    """One notch for the two halves of a tick or the strokes of a V."""
    n = len(outline)
    groups: list[list[tuple[int, Points, Points, int, float]]] = []
    for foot in sorted(feet, key=lambda f: f[0]):
        for group in groups:
            gap = abs(foot[0] - group[-1][0])
            if min(gap, n - gap) * step < SAME_NOTCH_MM:
                group.append(foot)
                break
        else:
            groups.append([foot])
    out = []
    for group in groups:
        weight = np.array([g[4] for g in group])
        at = (np.array([g[1] for g in group]) * weight[:, None]).sum(axis=0) / weight.sum()
        inner = [g[2] for g in group if _inside(outline, g[2])]
        tip = inner[0] if inner else group[0][2]
        out.append(FoundMark("notch", np.array([at, tip])))
    return out


def _grain_and_lines(runs: list[Run], width_mm: float) -> tuple[list[FoundMark], list[FoundMark]]:
    """Straight lines with an arrow head are grain lines; other long smooth ones are lines."""
    grains: list[tuple[float, FoundMark, Run]] = []
    barbs: set[int] = set()
    for number, run in enumerate(runs):
        if run.length_mm < GRAIN_SHORTEST_MM or not run.straight:
            continue
        reach = BARB_NEAR_MM + 2.0 * width_mm
        heads = [
            _barbs_at(run.points_mm[place], sign * run.direction, runs, number, reach)
            for place, sign in ((0, 1.0), (-1, -1.0))
        ]
        pointed = sum(1 for h in heads if len(h) >= 2)
        if pointed == 0 and not all(heads):
            continue
        barbs |= set(heads[0]) | set(heads[1]) | {number}
        tips = [runs[k].points_mm for h in heads for k in h]
        grains.append((run.length_mm, FoundMark("grain", _shaft(run, tips)), run))
    lines = []
    for number, run in enumerate(runs):
        if number in barbs or run.length_mm < LINE_SHORTEST_MM or run.drawn_share < 0.4:
            continue
        chord = float(np.hypot(*(run.points_mm[-1] - run.points_mm[0])))
        if chord < 1e-6 or run.length_mm / chord > LINE_SINUOSITY:
            continue
        if run.length_mm < WORD_LINE_MM and _looks_written(run, runs, number):
            continue
        lines.append(FoundMark("line", _thinned(run, width_mm)))
    if len(grains) > 1:
        # the longest shaft is the grain; further arrows (a fold, a pleat) are kept as lines
        grains.sort(key=lambda g: -g[0])
        lines.extend(FoundMark("line", g[1].points_mm) for g in grains[1:])
        grains = grains[:1]
    return [g[1] for g in grains], lines


def _barbs_at(tip: Points, back: Points, runs: list[Run], shaft: int, near_mm: float) -> list[int]:
    """Short strokes that leave the end of a shaft slanting back along it."""
    out = []
    for k, run in enumerate(runs):
        if k == shaft or not BARB_MM[0] < run.length_mm < min(BARB_MM[1], 0.6 * runs[shaft].length_mm):
            continue
        for place in (0, -1):
            end, other = run.points_mm[place], run.points_mm[-1 - place]
            if float(np.hypot(*(end - tip))) > near_mm:
                continue
            d = other - end
            d = d / max(float(np.hypot(d[0], d[1])), 1e-9)
            angle = math.degrees(math.acos(float(np.clip(d @ back, -1.0, 1.0))))
            if BARB_DEG[0] < angle < BARB_DEG[1]:
                out.append(k)
                break
    return out


def _shaft(run: Run, tips: list[Points]) -> Points:
    """Both ends of a grain line: the straight line through its middle part, as far as shaft and head reach."""
    p = run.points_mm
    margin = max(1, round(0.06 * len(p)))
    inner = p[margin:-margin] if len(p) > 4 * margin else p
    middle = inner.mean(axis=0)
    axis = principal_axis(inner)
    axis = axis if float(axis @ (p[-1] - p[0])) >= 0 else -axis
    reach = (p - middle) @ axis
    low, high = float(reach.min()), float(reach.max())
    for tip in tips:
        along = (tip - middle) @ axis
        low, high = min(low, float(along.min())), max(high, float(along.max()))
    return np.array([middle + low * axis, middle + high * axis])


def _looks_written(run: Run, runs: list[Run], number: int) -> bool:
    """Bent strokes close by: a letter among letters."""
    reach = max(0.5 * run.length_mm, 6.0)
    bent, short = 0, 0
    for k, other in enumerate(runs):
        if k == number or not 1.5 < other.length_mm < 1.6 * WORD_LINE_MM:
            continue
        gap = np.hypot(*(run.points_mm[:, None, :] - other.points_mm[None, ::3, :]).transpose(2, 0, 1)).min()
        if gap < reach:
            short += 1
            bent += not other.straight
    return bent >= 2 or short >= 4


def _thinned(run: Run, width_mm: float) -> Points:
    """A line mark as few points: its two ends when straight, else every few millimetres."""
    p = run.points_mm
    if run.straight:
        d = run.direction
        reach = (p - run.middle) @ d
        return np.array([run.middle + reach[0] * d, run.middle + reach[-1] * d])
    epsilon = max(0.15, 0.2 * width_mm)
    thin = cv2.approxPolyDP(p.astype(np.float32).reshape(-1, 1, 2), epsilon, False).reshape(-1, 2)
    return np.asarray(thin, dtype=np.float64)


def _crosses(graph: StrokeGraph, chains_mm: list[Points], outline: Points) -> list[FoundMark]:
    """Four short free arms that meet in one place, two and two in line."""
    out: list[FoundMark] = []
    for node, meeting in enumerate(graph.at_node):
        if len(meeting) != 4 or len(set(meeting)) != 4:
            continue
        arms = []
        for k in meeting:
            s = graph.strokes[k]
            other = s.b if s.a == node else s.a
            chain = chains_mm[k] if s.a == node else chains_mm[k][::-1]
            if not s.drawn or len(graph.at_node[other]) != 1:
                break
            arms.append(chain[-1] - chain[0])
        if len(arms) != 4:
            continue
        length = np.array([float(np.hypot(a[0], a[1])) for a in arms])
        if (
            length.min() < CROSS_ARM_MM[0]
            or length.max() > CROSS_ARM_MM[1]
            or length.max() > 2.5 * length.min()
        ):
            continue
        angle = np.sort([math.atan2(a[1], a[0]) for a in arms])
        turn = np.degrees(np.diff(np.append(angle, angle[0] + 2 * math.pi)))
        opposite = turn[:2] + turn[1:3]
        if turn.min() < 45 or np.abs(opposite - 180).max() > 30:
            continue
        first = next(k for k in meeting)
        s = graph.strokes[first]
        at = chains_mm[first][0] if s.a == node else chains_mm[first][-1]
        if _inside(outline, at):
            out.append(FoundMark("point", np.array([at])))
    return out
