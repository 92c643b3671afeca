"""Gaps in drawn lines: which loose ends belong together.

Two ends are joined when each points at the other, or when both point at a corner that neither reaches; one
end is joined to the side of another stroke that it almost touches. The cheapest pair goes first and an end
is used once. A line that stops where a notch or another short stroke was drawn has no loose end of its own, for the
short stroke hangs on it; it counts as ending there too. The middle of a broad pen's stroke turns into the notch in a
bow, so such an end aims two ways: as it runs there and, where that joins nothing, as the line ran before the bow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from eke.capture.axis import principal_axis
from eke.capture.lines_graph import Stroke, StrokeGraph

__all__ = ["bridge_gaps"]

Points = NDArray[np.float64]

LONGEST_GAP_MM = 14.0  # a pen skips a few mm; a folded or shiny place a little more
NEAR_MM = 1.6  # so close, the direction of short ends no longer matters
CORNER_REACH_MM = 7.0  # how far each line may stop before the corner that both aim at
SIDE_REACH_MM = 4.0  # how far an end may stop before the line that it runs into
AIM_DEG = 28.0  # how far an end may aim past its partner
TANGENT_MM = 5.0  # stretch of line whose direction an end has
SHORTEST_MM = 1.2  # crumbs shorter than this have no direction worth following
SPUR_MM = 12.0  # a longer stroke that hangs on a line is no notch and no overshoot
MOST_ENDS = 3000
MOST_SPURS = 5  # a double notch beside an overshoot
KNEE_DEG = 35.0  # a line that turns by more than this close to its end was begun anew there
KNEE_ARM_MM = (
    1.5,
    3.0,
    5.0,
)  # over how much line the direction is read: before a knee; after it at least, and at most
BOW_MM = 4.0  # over so much line a stroke of 2 mm turns into another: its width, and as much again
STRAIGHT_ON_DEG = 40.0  # across the foot of a notch a line goes on within so much
HEADING_MM = 3.0  # stretch of line whose direction it has there
HIDDEN_COST_MM = 3.0  # a hidden end is joined to only where no loose one is as near
BEYOND_COST_MM = 100.0  # ... and as its line aims beyond the bow, only where nothing else can be joined


@dataclass(frozen=True, slots=True)
class _End:
    node: int
    at: Points
    aim: Points  # unit vector out of the line
    length: float
    cost_mm: float = (
        0.0  # of a hidden end, on which a short stroke hangs: it is joined to where no other is as near
    )


def bridge_gaps(graph: StrokeGraph, mm_per_px: float, longest_gap_mm: float = LONGEST_GAP_MM) -> int:
    """Add bridges (strokes that are not ``drawn``) to the graph in place; returns how many."""
    _cut_knees(graph, mm_per_px)
    ends = _loose_ends(graph, mm_per_px)
    if not ends:
        return 0
    ends += _hidden_ends(graph, mm_per_px)
    used: set[int] = set()  # nodes
    bridges: list[tuple[float, int, int, Points]] = []
    for i, j in _likely_pairs(ends, mm_per_px, longest_gap_mm):
        cost, points = _join_cost(ends[i], ends[j], mm_per_px)
        if math.isfinite(cost) and ends[i].node != ends[j].node:
            bridges.append((cost + ends[i].cost_mm + ends[j].cost_mm, i, j, points))
    added = 0
    for _cost, i, j, points in sorted(bridges, key=lambda b: b[0]):
        a, b = ends[i].node, ends[j].node
        if a in used or b in used:
            continue
        used |= {a, b}
        graph.strokes.append(Stroke(a, b, points, drawn=False))
        added += 1
    loose = [e for e in ends if e.node not in used and not e.cost_mm]
    added += _join_sides(graph, loose, mm_per_px)
    graph.rebuild()
    return added


def _likely_pairs(ends: list[_End], mm_per_px: float, longest_gap_mm: float) -> list[tuple[int, int]]:
    """Pairs of ends near enough to each other that may point at one another or at one corner."""
    at, aim = np.array([e.at for e in ends]), np.array([e.aim for e in ends])
    pairs = cKDTree(at).query_pairs(longest_gap_mm / mm_per_px, output_type="ndarray")
    if not len(pairs):
        return []
    i, j = pairs[np.lexsort(pairs.T[::-1])].T
    gap = at[j] - at[i]
    distance = np.hypot(gap[:, 0], gap[:, 1])
    ahead = np.cos(math.radians(AIM_DEG)) * distance
    aimed = ((aim[i] * gap).sum(axis=1) > ahead) & (-(aim[j] * gap).sum(axis=1) > ahead)
    long = np.array([e.length >= 2 * TANGENT_MM for e in ends])
    near = distance * mm_per_px < NEAR_MM
    keep = aimed | near | (long[i] & long[j])
    return list(zip(i[keep].tolist(), j[keep].tolist(), strict=True))


def _loose_ends(graph: StrokeGraph, mm_per_px: float) -> list[_End]:
    found = []
    for node in graph.ends():
        stroke = graph.strokes[graph.at_node[node][0]]
        length = stroke.length_px * mm_per_px
        if length >= SHORTEST_MM:
            found.append((length, node, stroke))
    if len(found) > MOST_ENDS:  # a texture, not a drawing
        found = sorted(found, key=lambda f: -f[0])[:MOST_ENDS]
    return [_end(stroke, node, length, mm_per_px) for length, node, stroke in found]


def _end(stroke: Stroke, node: int, length_mm: float, mm_per_px: float, cost_mm: float = 0.0) -> _End:
    points = stroke.points_px if stroke.a == node else stroke.points_px[::-1]
    near = points[: max(3, round(TANGENT_MM / mm_per_px))]
    return _End(node, points[0], _direction(near[::-1]), length_mm, cost_mm)


def _hidden_ends(graph: StrokeGraph, mm_per_px: float) -> list[_End]:
    """Ends of long lines on which nothing but a few short strokes hang that lead nowhere, each as often as it aims."""
    length = [stroke.length_px * mm_per_px for stroke in graph.strokes]
    bow, far = round(BOW_MM / mm_per_px), round((BOW_MM + TANGENT_MM) / mm_per_px)
    heading_px = max(2, round(HEADING_MM / mm_per_px))
    out = []
    for node, strokes in enumerate(graph.at_node):
        if len(strokes) < 2:
            continue
        longest = max(strokes, key=length.__getitem__)
        if length[longest] > SPUR_MM and _leads_nowhere(graph, node, longest, length):
            out.append(_end(graph.strokes[longest], node, length[longest], mm_per_px, HIDDEN_COST_MM))
        for number in strokes:
            if not _leads_nowhere(graph, node, number, length):
                continue
            way, long = _way(graph, node, number, length, heading_px)
            if long > SPUR_MM and len(way) >= far:
                out.append(_End(node, way[0], _direction(way[bow:far][::-1]), long, BEYOND_COST_MM))
    return out


def _way(
    graph: StrokeGraph, node: int, number: int, length: list[float], heading_px: int
) -> tuple[Points, float]:
    """The line that leaves a node by one of its strokes and goes straight on over other nodes; and its length, in mm.

    It is followed until it is longer than a spur.
    """
    parts: list[Points] = []
    seen: set[int] = set()
    total = 0.0
    while True:
        seen.add(number)
        stroke = graph.strokes[number]
        parts.append(stroke.points_px if stroke.a == node else stroke.points_px[::-1])
        total += length[number]
        if total > SPUR_MM:
            break
        node = stroke.b if stroke.a == node else stroke.a
        ahead = [k for k in graph.at_node[node] if k not in seen]
        if not ahead:
            break
        back = _heading(np.concatenate(parts)[::-1], heading_px)
        leaving = [graph.strokes[k].points_px[:: 1 if graph.strokes[k].a == node else -1] for k in ahead]
        turns = [-float(back @ _heading(points, heading_px)) for points in leaving]
        best = int(np.argmax(turns))
        if turns[best] < math.cos(math.radians(STRAIGHT_ON_DEG)):
            break
        number = ahead[best]
    return np.concatenate(parts), total


def _heading(points: Points, reach_px: int) -> Points:
    """Unit vector from the first point to one a little way on."""
    d = points[min(reach_px, len(points) - 1)] - points[0]
    return np.asarray(d / max(float(np.hypot(d[0], d[1])), 1e-9), dtype=np.float64)


def _leads_nowhere(graph: StrokeGraph, node: int, without: int, length: list[float]) -> bool:
    """Are all strokes that can be reached from a node without one of its strokes few and short?"""
    seen, ahead = {without}, [node]
    far = {graph.strokes[without].a, graph.strokes[without].b} - {node}
    while ahead:
        here = ahead.pop()
        if here in far:
            return False
        for k in graph.at_node[here]:
            if k in seen:
                continue
            seen.add(k)
            if length[k] >= SPUR_MM or len(seen) > MOST_SPURS + 1:
                return False
            stroke = graph.strokes[k]
            ahead.append(stroke.b if stroke.a == here else stroke.a)
    return True


def _cut_knees(graph: StrokeGraph, mm_per_px: float) -> None:
    """Cut strokes where they turn sharply close to a loose end: the short part may be a notch, and no part of the line."""
    short, least, long = (max(2, round(arm / mm_per_px)) for arm in KNEE_ARM_MM)
    reach = round(SPUR_MM / mm_per_px)
    places: dict[int, list[int]] = {}
    for node in graph.ends():
        number = graph.at_node[node][0]
        stroke = graph.strokes[number]
        points = stroke.points_px if stroke.a == node else stroke.points_px[::-1]
        last = min(reach, len(points) - 1 - least)
        if last <= short:
            continue
        at = np.arange(short, last + 1)
        before = points[at] - points[at - short]
        after = points[np.minimum(at + long, len(points) - 1)] - points[at]
        turn = np.abs(
            np.arctan2(before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0], (before * after).sum(axis=1))
        )
        knee = int(at[turn.argmax()])
        if turn.max() > math.radians(KNEE_DEG):
            places.setdefault(number, []).append(
                knee if stroke.a == node else len(stroke.points_px) - 1 - knee
            )
    for number, knees in places.items():
        nodes = []
        for place in sorted(set(knees)):
            graph.nodes_px.append(graph.strokes[number].points_px[place].copy())
            nodes.append((place, len(graph.nodes_px) - 1))
        _cut(graph, number, nodes)
    if places:
        graph.rebuild()


def _direction(points: Points) -> Points:
    """Unit direction of a short chain from first to last point (principal axis)."""
    if len(points) < 2:
        return np.array([1.0, 0.0])
    axis = principal_axis(points)
    return axis if float(axis @ (points[-1] - points[0])) >= 0 else -axis


def _join_cost(p: _End, q: _End, mm_per_px: float) -> tuple[float, Points]:
    gap = q.at - p.at
    distance = float(np.hypot(gap[0], gap[1])) * mm_per_px
    straight = np.array([p.at, q.at])
    if distance < 1e-9:
        return 0.0, straight
    unit = gap * (mm_per_px / distance)
    off_p = math.degrees(math.acos(float(np.clip(p.aim @ unit, -1, 1))))
    off_q = math.degrees(math.acos(float(np.clip(-(q.aim @ unit), -1, 1))))
    if distance < NEAR_MM and off_p < 100 and off_q < 100:
        return distance, straight
    # a short dash points less surely than a long line, and a long gap must be aimed at better
    slack = AIM_DEG * min(1.0, 0.4 + 6.0 / (distance + 6.0))
    if off_p < slack and off_q < slack:
        # the side step between two dashes of a curve grows with the gap; both ends share it
        return distance * (1.0 + (off_p + off_q) / 30.0), straight
    corner = _corner_between(p, q, mm_per_px)
    if corner is not None:
        legs = (np.hypot(*(corner - p.at)) + np.hypot(*(corner - q.at))) * mm_per_px
        return float(legs) * 1.5 + 1.0, np.array([p.at, corner, q.at])
    return math.inf, straight


def _corner_between(p: _End, q: _End, mm_per_px: float) -> Points | None:
    """Where two lines would meet if both ran on, when that is near and ahead of both."""
    cross = p.aim[0] * q.aim[1] - p.aim[1] * q.aim[0]
    if abs(cross) < math.sin(math.radians(25)) or min(p.length, q.length) < 2 * TANGENT_MM:
        return None
    d = q.at - p.at
    s = (d[0] * q.aim[1] - d[1] * q.aim[0]) / cross
    t = (d[0] * p.aim[1] - d[1] * p.aim[0]) / cross
    reach = CORNER_REACH_MM / mm_per_px
    slack = -1.0 / mm_per_px
    if slack < s < reach and slack < t < reach:
        return np.asarray(p.at + s * p.aim, dtype=np.float64)
    return None


def _join_sides(graph: StrokeGraph, ends: list[_End], mm_per_px: float) -> int:
    """Join an end to the side of a stroke that it would run into; the stroke is cut there."""
    if not ends:
        return 0
    reach = SIDE_REACH_MM / mm_per_px
    chains = [s.points_px for s in graph.strokes if s.drawn]
    owner = np.concatenate([np.full(len(c), k) for k, c in enumerate(chains)])
    drawn = [k for k, s in enumerate(graph.strokes) if s.drawn]
    inside = np.concatenate([np.arange(len(c)) for c in chains])
    points = np.concatenate(chains)
    tree = cKDTree(points)
    cuts: dict[int, list[tuple[int, int]]] = {}
    for end in ends:
        own = graph.at_node[end.node][0]
        best: tuple[float, int] | None = None
        for hit in tree.query_ball_point(end.at, reach):
            if drawn[int(owner[hit])] == own:
                continue
            gap = points[hit] - end.at
            distance = float(np.hypot(gap[0], gap[1]))
            ahead = float(gap @ end.aim)
            if distance > 0 and ahead < 0.8 * distance:
                continue
            if best is None or distance < best[0]:
                best = (distance, hit)
        if best is not None:
            hit = best[1]
            cuts.setdefault(drawn[int(owner[hit])], []).append((int(inside[hit]), end.node))
    added = 0
    for number, places in cuts.items():
        stroke = graph.strokes[number]
        chain = stroke.points_px
        nodes: list[tuple[int, int]] = []
        for place, end_node in sorted(places):
            if place <= 0:
                target = stroke.a
            elif place >= len(chain) - 1:
                target = stroke.b
            else:
                graph.nodes_px.append(chain[place].copy())
                target = len(graph.nodes_px) - 1
                nodes.append((place, target))
            link = np.array([graph.nodes_px[end_node], graph.nodes_px[target]])
            graph.strokes.append(Stroke(end_node, target, link, drawn=False))
            added += 1
        if nodes:
            _cut(graph, number, nodes)
    return added


def _cut(graph: StrokeGraph, number: int, nodes: list[tuple[int, int]]) -> None:
    """Cut a stroke at the given (place in its chain, node) pairs; the first part keeps its number."""
    stroke = graph.strokes[number]
    chain, last = stroke.points_px, stroke.b
    pieces: list[Stroke] = []
    start, node = 0, stroke.a
    for place, cut_node in nodes:
        if place == start:
            continue
        pieces.append(Stroke(node, cut_node, chain[start : place + 1], strength=stroke.strength))
        start, node = place, cut_node
    pieces.append(Stroke(node, last, chain[start:], strength=stroke.strength))
    graph.strokes[number] = pieces[0]
    graph.strokes.extend(pieces[1:])
