"""Strokes that are no outline, put together again where they run straight on through a crossing or a gap."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from eke.capture.axis import off_axis, principal_axis
from eke.capture.lines_graph import StrokeGraph

__all__ = ["Run", "runs_off_outlines"]

Points = NDArray[np.float64]

ON_OUTLINE_MM = 0.7  # a stroke this close to an outline, besides half its width, is the outline,
ON_OUTLINE_SHARE = 0.6  # if more than this share of it is
STRAIGHT_ON_DEG = 17.0  # less than the barb of an arrow turns from its shaft
DIRECTION_MM = 4.0
HOOKS_FROM_MM = 25.0  # on a line this long, what bends off at its ends belongs to something else
HOOK_MM = 0.7
JOIN_FROM_MM = 18.0  # a straight line this long is looked for beyond a word that lies across it
JOIN_GAP_MM = 22.0
JOIN_SIDE_MM = 1.0


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """An open line of one or more strokes.

    Parameters
    ----------
    points_mm
        (n, 2) from end to end.
    length_mm
        Along it.
    drawn_share
        Share of the length that was drawn and not bridged.
    bow_mm
        Largest distance from the straight line through it.
    degree_a, degree_b
        Strokes of any kind that meet at its ends (1: a free end).
    """

    points_mm: Points
    length_mm: float
    drawn_share: float
    bow_mm: float
    degree_a: int
    degree_b: int

    @property
    def direction(self) -> Points:
        """Unit direction of the straight line through it, from first to last point."""
        axis = principal_axis(self.points_mm)
        return axis if float(axis @ (self.points_mm[-1] - self.points_mm[0])) >= 0 else -axis

    @property
    def middle(self) -> Points:
        """Mean of its points."""
        return np.asarray(self.points_mm.mean(axis=0), dtype=np.float64)

    @property
    def straight(self) -> bool:
        """No more bowed than a hand draws with a ruler, or a short tick without one."""
        return self.bow_mm < max(0.45, 0.012 * self.length_mm)


def runs_off_outlines(
    graph: StrokeGraph, chains_mm: list[Points], outlines_mm: list[Points], width_mm: float
) -> list[Run]:
    """Runs of all strokes that lie on no outline.

    Parameters
    ----------
    graph
        Strokes and nodes.
    chains_mm
        Points of each stroke in mm, in the order of ``graph.strokes``.
    outlines_mm
        Dense closed outlines.
    width_mm
        Width of the stroke.
    """
    on = _share_near(chains_mm, outlines_mm, ON_OUTLINE_MM + 0.5 * width_mm)
    free = [share <= ON_OUTLINE_SHARE for share in on]
    partner: dict[tuple[int, int], tuple[int, int]] = {}
    for node, meeting in enumerate(graph.at_node):
        _pair_up(graph, chains_mm, [k for k in set(meeting) if free[k]], node, partner)
    out = []
    used: set[int] = set()
    for k in range(len(graph.strokes)):
        if not free[k] or k in used or not graph.strokes[k].drawn:
            continue
        run = _whole_run(graph, chains_mm, k, partner, used)
        if run is not None:
            out.append(run)
    return _joined(out)


def _share_near(chains_mm: list[Points], outlines_mm: list[Points], limit_mm: float) -> list[float]:
    """Of each chain the share of its points, ends left out, that lie near an outline."""
    if not outlines_mm or not chains_mm:
        return [0.0] * len(chains_mm)
    inner = [chain if len(chain) < 6 else chain[1:-1] for chain in chains_mm]
    tree = cKDTree(np.concatenate(outlines_mm))
    near = np.isfinite(tree.query(np.concatenate(inner), distance_upper_bound=limit_mm)[0])
    counts = np.array([len(chain) for chain in inner])
    before = np.concatenate([[0], np.cumsum(near)])
    first = np.cumsum(counts) - counts
    return list((before[first + counts] - before[first]) / counts)


def _away(chain: Points, from_start: bool) -> Points:
    """Direction in which a chain leaves its start (or its end)."""
    p = chain if from_start else chain[::-1]
    d = p[1:] - p[:-1]
    # the first place is at 0
    n = max(2, 1 + int(np.searchsorted(np.cumsum(np.hypot(d[:, 0], d[:, 1])), DIRECTION_MM)))
    d = p[min(n, len(p) - 1)] - p[0]
    return np.asarray(d / max(float(np.hypot(d[0], d[1])), 1e-9), dtype=np.float64)


def _pair_up(
    graph: StrokeGraph,
    chains: list[Points],
    strokes: list[int],
    node: int,
    partner: dict[tuple[int, int], tuple[int, int]],
) -> None:
    """At a node, join the strokes that run straight on, the straightest pair first."""
    options = []
    for i, a in enumerate(strokes):
        for b in strokes[i + 1 :]:
            u = _away(chains[a], graph.strokes[a].a == node)
            v = _away(chains[b], graph.strokes[b].a == node)
            turn = math.degrees(math.acos(float(np.clip(-(u @ v), -1.0, 1.0))))
            if turn < STRAIGHT_ON_DEG:
                options.append((turn, a, b))
    taken: set[int] = set()
    for _, a, b in sorted(options):
        if a in taken or b in taken or a == b:
            continue
        taken |= {a, b}
        partner[(a, node)] = (b, node)
        partner[(b, node)] = (a, node)


def _length(chain: Points) -> float:
    p = np.concatenate([chain[:: max(1, len(chain) // 12)], chain[-1:]])
    d = p[1:] - p[:-1]
    return float(np.hypot(d[:, 0], d[:, 1]).sum())


def _whole_run(
    graph: StrokeGraph,
    chains: list[Points],
    first: int,
    partner: dict[tuple[int, int], tuple[int, int]],
    used: set[int],
) -> Run | None:
    used.add(first)
    stroke = graph.strokes[first]
    parts = [(first, False)]  # stroke, reversed
    ends = []
    for forward in (True, False):
        k, node = first, stroke.b if forward else stroke.a
        while (k, node) in partner:
            k, _ = partner[(k, node)]
            if k in used:
                break
            used.add(k)
            s = graph.strokes[k]
            backwards = (s.b == node) if forward else (s.a == node)
            parts.append((k, backwards)) if forward else parts.insert(0, (k, backwards))
            node = s.a if s.b == node else s.b
        ends.append(node)
    points = np.concatenate([chains[k][::-1] if back else chains[k] for k, back in parts])
    total = sum(_length(chains[k]) for k, _ in parts)
    drawn = sum(_length(chains[k]) for k, _ in parts if graph.strokes[k].drawn)
    if len(points) < 3 or total <= 0:
        return None
    degree = [len(graph.at_node[n]) for n in ends]
    trimmed = _without_hooks(points) if total > HOOKS_FROM_MM else points
    if len(trimmed) < len(points):
        share = len(trimmed) / len(points)
        return Run(trimmed, total * share, drawn / total, _bow_mm(trimmed), 2, 2)
    return Run(points, total, drawn / total, _bow_mm(points), degree[1], degree[0])


def _bow_mm(points: Points) -> float:
    return float(np.abs(off_axis(points)).max())


def _without_hooks(points: Points) -> Points:
    """A straight line without the bits of other strokes that hang on its ends; else unchanged."""
    inner = points[len(points) // 5 : -(len(points) // 5)]
    near = np.abs(off_axis(points, inner)) < HOOK_MM
    bad = np.flatnonzero(~near)
    half = len(points) // 2
    low = int(bad[bad < half].max()) + 1 if (bad < half).any() else 0
    high = int(bad[bad >= half].min()) if (bad >= half).any() else len(points)
    return points[low:high] if high - low > 0.7 * len(points) else points


def _joined(runs: list[Run]) -> list[Run]:
    """Join straight runs in one line, parted by a word or a crossing line."""
    order = sorted(runs, key=lambda r: -r.length_mm)
    out: list[Run] = []
    while order:
        run = order.pop(0)
        if run.length_mm > JOIN_FROM_MM and run.straight:
            k = 0
            while k < len(order):
                other = order[k]
                if other.length_mm > 0.5 * JOIN_FROM_MM and other.straight and _in_line(run, other):
                    run = _chained(run, order.pop(k))
                    k = 0
                else:
                    k += 1
        out.append(run)
    return out


def _in_line(run: Run, other: Run) -> bool:
    d = run.direction
    side = np.array([-d[1], d[0]])
    if np.abs((other.points_mm - run.middle) @ side).max() > JOIN_SIDE_MM:
        return False
    along, mine = (other.points_mm - run.middle) @ d, (run.points_mm - run.middle) @ d
    gap = max(float(along.min() - mine.max()), float(mine.min() - along.max()))
    return -2.0 < gap < JOIN_GAP_MM


def _chained(run: Run, other: Run) -> Run:
    d = run.direction
    points = np.concatenate([run.points_mm, other.points_mm])
    points = points[np.argsort((points - run.middle) @ d, kind="stable")]
    reach = (points - run.middle) @ d
    total = float(reach[-1] - reach[0])
    drawn = run.length_mm * run.drawn_share + other.length_mm * other.drawn_share
    return Run(points, total, min(1.0, drawn / max(total, 1e-9)), _bow_mm(points), 1, 1)
