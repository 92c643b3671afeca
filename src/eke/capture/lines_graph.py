"""From a map of line strength to a graph of strokes: thin to one pixel, cut at the junctions, follow.

The thinning deletes border pixels that hold nothing together, from the four sides in turn (A. Rosenfeld,
"A characterization of parallel thinning algorithms", Information and Control 29, 1975), on the list of the
dark pixels only, so its cost follows the length of line and not the size of the picture.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from eke.capture.connected import connected, places_of

__all__ = ["Stroke", "StrokeGraph", "stroke_graph", "thin", "without_crumbs"]

Points = NDArray[np.float64]
Mask = NDArray[np.uint8]

# neighbours in the order E, NE, N, NW, W, SW, S, SE as (row, column) steps
_STEPS = ((0, 1), (-1, 1), (-1, 0), (-1, -1), (0, -1), (1, -1), (1, 0), (1, 1))


def _deletable_table() -> NDArray[np.bool_]:
    """For each of the 256 neighbourhoods: may the middle go without changing what hangs together?"""
    out = np.zeros(256, dtype=np.bool_)
    for code in range(256):
        n = [(code >> k) & 1 for k in range(8)]
        if sum(n) < 2:
            continue  # an end or a lone pixel stays
        # Yokoi's number for 8-connected figures: 1 means removing keeps the topology
        crossing = sum((1 - n[k]) - (1 - n[k]) * (1 - n[k + 1]) * (1 - n[(k + 2) % 8]) for k in (0, 2, 4, 6))
        out[code] = crossing == 1
    return out


_DELETABLE = _deletable_table()


def thin(mask: Mask) -> Mask:
    """Thin a 0/1 mask to lines of one pixel, 8-connected, with the same connections and ends."""
    padded, alive, stride = _padded(mask)
    flat = padded.ravel()
    steps = np.array([r * stride + c for r, c in _STEPS], dtype=np.int64)
    while True:
        removed = 0
        for side in (2, 6, 4, 0):
            border = alive[flat[alive + steps[side]] == 0]
            code = np.zeros(len(border), dtype=np.uint8)
            for k in range(8):
                code |= flat[border + steps[k]] << np.uint8(k)
            gone = border[_DELETABLE[code]]
            flat[gone] = 0
            removed += len(gone)
            alive = alive[flat[alive] != 0]
        if removed == 0:
            return padded[1:-1, 1:-1].copy()


def without_crumbs(skeleton: Mask, least_px: float) -> Mask:
    """A skeleton without what hangs together over fewer pixels."""
    places, group, count = connected(skeleton)
    large = np.bincount(group, minlength=count) >= least_px
    out = np.zeros(skeleton.shape, np.uint8)
    out.ravel()[places[large[group]]] = 1
    return out


def _padded(mask: Mask) -> tuple[Mask, NDArray[np.intp], int]:
    """A mask of 0 and 1 with a rim of zeros, the flat places of what is set in it, and how long its rows are."""
    height, width = mask.shape
    stride = width + 2
    row, column = np.divmod(places_of(mask), width)
    places = (row + 1) * stride + column + 1
    padded = np.zeros((height + 2, stride), dtype=np.uint8)
    padded.ravel()[places] = 1
    return padded, places, stride


@dataclass(slots=True, eq=False)
class Stroke:
    """A run of line between two nodes.

    Parameters
    ----------
    a, b
        Node numbers at its ends (equal for a closed run).
    points_px
        (n, 2) column, row; from node to node.
    drawn
        False for a bridge over a gap.
    strength
        Mean ridge strength along it, 0 for a bridge.
    """

    a: int
    b: int
    points_px: Points
    drawn: bool = True
    strength: float = 0.0
    length_px: float = field(init=False)
    """Length along the pixels, smoothed over steps of a few pixels (stairs counted once)."""

    def __post_init__(self) -> None:
        p = (
            self.points_px[:: max(1, len(self.points_px) // 200)]
            if len(self.points_px) > 400
            else self.points_px
        )
        if len(p) > 8:
            p = np.concatenate([p[:1], p[2:-2:3], p[-1:]])
        d = p[1:] - p[:-1]
        self.length_px = float(np.hypot(d[:, 0], d[:, 1]).sum())


@dataclass(slots=True, eq=False)
class StrokeGraph:
    """Nodes (ends and junctions) and the strokes between them; a stroke set to None has been dropped."""

    nodes_px: list[Points]
    strokes: list[Stroke]
    at_node: list[list[int]] = field(default_factory=list)

    def rebuild(self) -> None:
        """Recompute which strokes meet at each node."""
        self.at_node = [[] for _ in self.nodes_px]
        for k, s in enumerate(self.strokes):
            self.at_node[s.a].append(k)
            self.at_node[s.b].append(k)

    def ends(self) -> list[int]:
        """Nodes at which exactly one stroke ends."""
        return [n for n, at in enumerate(self.at_node) if len(at) == 1]


def stroke_graph(skeleton: Mask, strength: NDArray[np.float32]) -> StrokeGraph:
    """Cut a one-pixel skeleton into strokes at its junctions."""
    height, width = skeleton.shape
    padded, alive, stride = _padded(skeleton)
    flat = padded.ravel()
    steps = np.array([r * stride + c for r, c in _STEPS], dtype=np.int64)
    is_junction = _set_around(flat, alive, steps) >= 3
    junction_idx = alive[is_junction]
    junction = np.zeros(padded.shape, np.uint8)
    junction.ravel()[junction_idx] = 1
    _, group, count = connected(junction)

    rows, cols = np.divmod(junction_idx, stride)
    sums = np.bincount(group, minlength=count)
    mean_c = np.bincount(group, weights=cols - 1.0, minlength=count) / sums
    mean_r = np.bincount(group, weights=rows - 1.0, minlength=count) / sums
    nodes: list[Points] = list(np.column_stack([mean_c, mean_r]))
    node_at: dict[int, int] = dict(zip(junction_idx.tolist(), group.tolist(), strict=True))

    plain = alive[~is_junction]
    plain_set = set(plain.tolist())
    step_list = steps.tolist()
    strokes: list[Stroke] = []

    def xy(idx: int) -> tuple[float, float]:
        return float(idx % stride - 1), float(idx // stride - 1)

    def node_beside(idx: int, avoid: int = -1) -> int:
        """Junction that this pixel touches (an edge neighbour before a corner neighbour), or -1."""
        best = -1
        for k in (0, 2, 4, 6, 1, 3, 5, 7):
            node = node_at.get(idx + step_list[k], -1)
            if node >= 0 and node != avoid:
                return node
            if node >= 0:
                best = node
        return best

    def follow(start: int) -> list[int]:
        run = [start]
        plain_set.discard(start)
        here = start
        while True:
            for s in step_list:
                there = here + s
                if there in plain_set:
                    run.append(there)
                    plain_set.discard(there)
                    here = there
                    break
            else:
                return run

    def new_end(idx: int) -> int:
        nodes.append(np.array(xy(idx)))
        return len(nodes) - 1

    flat[junction_idx] = 0
    starts = plain[_set_around(flat, plain, steps) <= 1]
    for start in starts.tolist():
        if start not in plain_set:
            continue
        run = follow(start)
        a = node_beside(run[0])
        b = node_beside(run[-1], avoid=a if len(run) < 4 else -1)
        if len(run) == 1 and a == b:
            b = -1
        points = [xy(i) for i in run]
        if a >= 0:
            points.insert(0, (float(nodes[a][0]), float(nodes[a][1])))
        else:
            a = new_end(run[0])
        if b >= 0:
            points.append((float(nodes[b][0]), float(nodes[b][1])))
        else:
            b = new_end(run[-1])
        strokes.append(Stroke(a, b, np.array(points)))
    while plain_set:  # closed runs without any junction
        start = next(iter(plain_set))
        run = follow(start)
        node = new_end(run[0])
        strokes.append(Stroke(node, node, np.array([xy(i) for i in [*run, run[0]]])))
    if strokes:
        counts = np.array([len(s.points_px) for s in strokes])
        at = np.round(np.concatenate([s.points_px for s in strokes])).astype(np.int64)
        values = strength[at[:, 1].clip(0, height - 1), at[:, 0].clip(0, width - 1)]
        means = np.add.reduceat(values, np.cumsum(counts) - counts, dtype=np.float64) / counts
        for s, mean in zip(strokes, means.tolist(), strict=True):
            s.strength = mean
    graph = StrokeGraph(nodes, strokes)
    graph.rebuild()
    return graph


def _set_around(flat: Mask, places: NDArray[np.intp], steps: NDArray[np.int64]) -> Mask:
    """How many of the eight neighbours of each place are set."""
    return np.asarray(sum(flat[places + step] for step in steps), dtype=np.uint8)
