"""Closed loops in a graph of strokes: what could be the outline of a piece.

Loose tails fall away, strokes that only connect two loops are cut, and of each part that remains the outer
boundary is taken. Everything inside is a mark.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from eke.capture.lines_graph import StrokeGraph

__all__ = ["Loop", "closed_parts", "find_loops", "outer_loop"]

Points = NDArray[np.float64]


@dataclass(frozen=True, slots=True, eq=False)
class Loop:
    """The outer boundary of one closed part of the graph.

    Parameters
    ----------
    points_px
        (n, 2) column, row, one per pixel step, closed, first not repeated; clockwise on the screen or not.
    bridged
        bool (n,): True where no line was drawn and a gap was closed.
    strength
        Median ridge strength of the drawn strokes on the boundary.
    strokes
        Numbers of the strokes of the closed part (boundary and inside).
    area_px
        Area enclosed.
    """

    points_px: Points
    bridged: NDArray[np.bool_]
    strength: float
    strokes: tuple[int, ...]
    area_px: float


def closed_parts(graph: StrokeGraph) -> list[list[int]]:
    """Groups of stroke numbers that stay connected when any one of them is taken away."""
    alive = _without_tails(graph)
    bridges = _cut_edges(graph, alive)
    kept = [k for k in range(len(graph.strokes)) if alive[k] and k not in bridges]
    parent = list(range(len(graph.nodes_px)))

    def root(n: int) -> int:
        while parent[n] != n:
            parent[n] = parent[parent[n]]
            n = parent[n]
        return n

    for k in kept:
        s = graph.strokes[k]
        parent[root(s.a)] = root(s.b)
    groups: dict[int, list[int]] = {}
    for k in kept:
        groups.setdefault(root(graph.strokes[k].a), []).append(k)
    return list(groups.values())


def _without_tails(graph: StrokeGraph) -> list[bool]:
    alive = [True] * len(graph.strokes)
    degree = [len(at) for at in graph.at_node]
    stack = [n for n, d in enumerate(degree) if d == 1]
    while stack:
        n = stack.pop()
        for k in graph.at_node[n]:
            if not alive[k]:
                continue
            s = graph.strokes[k]
            if s.a == s.b:
                continue
            alive[k] = False
            other = s.b if s.a == n else s.a
            degree[n] -= 1
            degree[other] -= 1
            if degree[other] == 1:
                stack.append(other)
            break
    return alive


def _cut_edges(graph: StrokeGraph, alive: list[bool]) -> set[int]:
    """Strokes whose removal would disconnect the graph (Tarjan 1974, without recursion)."""
    order = [-1] * len(graph.nodes_px)
    low = [0] * len(graph.nodes_px)
    out: set[int] = set()
    clock = 0
    for first in range(len(graph.nodes_px)):
        if order[first] >= 0 or not graph.at_node[first]:
            continue
        order[first] = low[first] = clock
        clock += 1
        stack = [(first, -1, iter(graph.at_node[first]))]
        while stack:
            node, came_by, rest = stack[-1]
            advanced = False
            for k in rest:
                if not alive[k] or k == came_by:
                    continue
                s = graph.strokes[k]
                other = s.b if s.a == node else s.a
                if other == node:
                    continue
                if order[other] < 0:
                    order[other] = low[other] = clock
                    clock += 1
                    stack.append((other, k, iter(graph.at_node[other])))
                    advanced = True
                    break
                low[node] = min(low[node], order[other])
            if advanced:
                continue
            stack.pop()
            if stack:
                above = stack[-1][0]
                low[above] = min(low[above], low[node])
                if low[node] > order[above]:
                    out.add(came_by)
    return out


def outer_loop(graph: StrokeGraph, numbers: list[int]) -> Loop | None:
    """Outer boundary of a closed part."""
    chains = [np.round(graph.strokes[k].points_px).astype(np.int32) for k in numbers]
    everything = np.concatenate(chains)
    low = everything.min(axis=0) - 2
    width, height = (everything.max(axis=0) - low + 3).tolist()
    canvas = np.zeros((height, width), dtype=np.uint8)
    bridge = np.zeros((height, width), dtype=np.uint8)
    for k, chain in zip(numbers, chains, strict=True):
        shifted = [(chain - low).reshape(-1, 1, 2)]
        cv2.polylines(canvas, shifted, False, 1, 1, cv2.LINE_8)
        if not graph.strokes[k].drawn:
            cv2.polylines(bridge, shifted, False, 1, 1, cv2.LINE_8)
    for k, chain in zip(numbers, chains, strict=True):
        if graph.strokes[k].drawn:
            inner = (chain - low)[1:-1]
            bridge[inner[:, 1], inner[:, 0]] = 0
    outside = canvas.copy()
    cv2.floodFill(outside, None, (0, 0), 2, flags=4)
    filled = (outside != 2).astype(np.uint8)
    contours, _ = cv2.findContours(filled, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    if not contours:
        return None
    contour = max(contours, key=cv2.contourArea).reshape(-1, 2)
    if len(contour) < 8:
        return None
    points = contour.astype(np.float64) + low
    bridged = bridge[contour[:, 1], contour[:, 0]] != 0
    drawn = [graph.strokes[k] for k in numbers if graph.strokes[k].drawn]
    if not drawn:
        return None
    weights = np.array([max(1, len(s.points_px)) for s in drawn], dtype=np.float64)
    levels = np.array([s.strength for s in drawn])
    order = np.argsort(levels)
    middle = int(np.searchsorted(np.cumsum(weights[order]), weights.sum() / 2))
    strength = float(levels[order[min(middle, len(order) - 1)]])
    area = float(cv2.contourArea(contour.astype(np.float32)))
    return Loop(points, bridged, strength, tuple(numbers), area)


def find_loops(
    graph: StrokeGraph, mm_per_px: float, least_area_mm2: float, least_width_mm: float
) -> list[Loop]:
    """Loops big enough to be a piece, the largest first."""
    out = []
    for numbers in closed_parts(graph):
        points = np.concatenate([graph.strokes[k].points_px for k in numbers])
        extent = (points.max(axis=0) - points.min(axis=0)) * mm_per_px
        if float(extent.min()) < least_width_mm or float(extent.prod()) < least_area_mm2:
            continue
        loop = outer_loop(graph, numbers)
        if loop is not None and loop.area_px * mm_per_px**2 >= least_area_mm2:
            out.append(loop)
    return sorted(out, key=lambda loop: -loop.area_px)
