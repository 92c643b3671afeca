"""Dots to a closed line: which belong to one piece, and in which order.

Dots set along an outline, closer to each other than to any other part of it, are visited in the right order
by the shortest closed tour (J. Giesen, "Curve reconstruction, the traveling salesman problem, and Menger's
theorem on length", Discrete & Computational Geometry 24, 2000). The tour is built greedily from the shortest
links and improved by turning stretches around and by moving short stretches; a dot whose visit costs a
detour out of proportion is not part of the outline.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

__all__ = ["groups_of_dots", "is_line_of_dots", "ordered_ring"]

Points = NDArray[np.float64]
Floats = NDArray[np.float64]

FURTHEST_MM = 24.0  # dots further apart than this are not neighbours on an outline
LOOSE = 2.1  # ... nor dots further apart than this many usual steps
FEWEST = 7
CROWD = 7  # dots within a little over two steps, itself among them
CROWDED_SHARE = 0.2  # of dots with another dot nearer than their neighbours along the line
MOST = 400  # more dots than this are a texture
DETOUR_MM = 5.0
ASIDE_MM = 2.5  # pins are off by a few tenths
STRAIGHT_ON_DEG = 12.0  # besides what the line turns there: more, and it goes two ways
DETOUR_SHARE = 0.6  # of the way from neighbour to neighbour by this dot


def groups_of_dots(at: Points) -> list[NDArray[np.int64]]:
    """Indices of dots that hang together, the largest group first."""
    if len(at) < FEWEST:
        return []
    tree = cKDTree(at)
    near = np.asarray(tree.query(at, k=min(3, len(at)))[0])
    usual = float(np.median(near[:, -1]))
    reach = min(FURTHEST_MM, max(LOOSE * usual, 8.0))
    pairs = tree.query_pairs(reach, output_type="ndarray")
    n = len(at)
    links = coo_matrix((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(n, n))
    count, label = connected_components(links, directed=False)
    groups = [np.flatnonzero(label == k) for k in range(count)]
    # along a line few dots lie within two steps; in a texture or a text a crowd does
    within = 2.2 * float(np.median(near[:, 1]))
    crowd = np.asarray(tree.query_ball_point(at, within, return_length=True))
    groups = [g for g in groups if float(np.median(crowd[g])) <= CROWD]
    return sorted((g for g in groups if FEWEST <= len(g) <= MOST), key=len, reverse=True)


def ordered_ring(at: Points, keep: NDArray[np.bool_] | None = None) -> NDArray[np.int64]:
    """Order of the dots along a closed line; dots that fit nowhere are left out, save those to keep."""
    kept = np.zeros(len(at), dtype=np.bool_) if keep is None else keep
    index = np.arange(len(at))
    tour = _improved(at, _greedy(at))
    for _ in range(len(at) // 3 + 1):
        worst = _worst_detour(at[index], tour, kept[index])
        if worst < 0 or len(tour) <= FEWEST:
            break
        index = np.delete(index, tour[worst])
        tour = _improved(at[index], _shrunk(tour, worst))
    return np.asarray(index[tour], dtype=np.int64)


def is_line_of_dots(at: Points, ring: NDArray[np.int64]) -> bool:
    """Do the dots lie along one line, or are they a scatter that any tour would join?"""
    p = at[ring]
    n = len(p)
    step = np.hypot(*(np.roll(p, -1, axis=0) - p).T)
    d = np.hypot(*(p[:, None] - p[None]).transpose(2, 0, 1))
    apart = np.abs(np.arange(n)[:, None] - np.arange(n)[None])
    apart = np.minimum(apart, n - apart)
    d[apart < min(4, n // 3)] = np.inf
    crowded = d.min(axis=1) < 0.9 * np.maximum(step, np.roll(step, 1))
    return bool(crowded.mean() < CROWDED_SHARE and step.max() < FURTHEST_MM + 4.0)


def _shrunk(tour: NDArray[np.int64], place: int) -> NDArray[np.int64]:
    gone = tour[place]
    rest = np.delete(tour, place)
    return np.asarray(np.where(rest > gone, rest - 1, rest), dtype=np.int64)


def _worst_detour(at: Points, tour: NDArray[np.int64], kept: NDArray[np.bool_]) -> int:
    p = at[tour]
    before, after = np.roll(p, 1, axis=0), np.roll(p, -1, axis=0)
    gap = np.hypot(*(after - before).T)
    ways = np.hypot(*(p - before).T) + np.hypot(*(after - p).T)
    detour = ways - gap
    # the corner of an outline is a detour too: only a spike (there and back) is out of proportion
    spike = (
        (detour > DETOUR_MM)
        & (detour > DETOUR_SHARE * ways)
        & (gap < 1.3 * np.median(np.hypot(*(after - p).T)))
    )
    spike &= ~kept[tour]
    # a dot beside a line that runs straight on past it is the end of a notch, whatever it looks like
    past = _turn_past(p)
    corner = (
        0.5 * gap * np.tan(np.radians(0.5 * np.minimum(past, 175.0)))
    )  # so far out lies one that turns as much
    spike |= (_beside_chord(p) > corner + ASIDE_MM) & (_turns_without(p) < past + STRAIGHT_ON_DEG)
    if not spike.any():
        return -1
    return int(np.argmax(np.where(spike, detour, -1.0)))


def _beside_chord(p: Points) -> Floats:
    """(n,) mm of each dot of a ring from the straight line between its neighbours."""
    before, after = np.roll(p, 1, axis=0), np.roll(p, -1, axis=0)
    chord, own = after - before, p - before
    length = np.maximum(np.hypot(*chord.T), 1e-9)
    return np.asarray(np.abs(chord[:, 0] * own[:, 1] - chord[:, 1] * own[:, 0]) / length)


def _turn_past(p: Points) -> Floats:
    """(n,) degrees by which the ring's direction after each dot and its neighbours differs from that before them."""
    into, out = _steps_around(p)
    return np.asarray(np.degrees(np.abs(np.angle(out * np.conj(into)))), dtype=np.float64)


def _turns_without(p: Points) -> Floats:
    """(n,) degrees, the larger turn at the two neighbours of each dot of a ring, were it left out."""
    into, out = _steps_around(p)
    z = p[:, 0] + 1j * p[:, 1]
    across = np.roll(z, -1) - np.roll(z, 1)
    turns = np.abs([np.angle(across * np.conj(into)), np.angle(out * np.conj(across))])
    return np.asarray(np.degrees(turns.max(axis=0)), dtype=np.float64)


def _steps_around(p: Points) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """The step to the dot before each dot of a ring, and the one from the dot after it."""
    z = p[:, 0] + 1j * p[:, 1]
    return np.roll(z, 1) - np.roll(z, 2), np.roll(z, -2) - np.roll(z, -1)


def _greedy(at: Points) -> NDArray[np.int64]:
    """Chain the shortest links first, never a third at a dot, never a ring before the end."""
    n = len(at)
    d = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    i, j = np.triu_indices(n, 1)
    order = np.argsort(d[i, j])
    degree = np.zeros(n, dtype=np.int64)
    part = list(range(n))
    links: list[list[int]] = [[] for _ in range(n)]

    def root(k: int) -> int:
        while part[k] != k:
            part[k] = part[part[k]]
            k = part[k]
        return k

    made = 0
    for e in order:
        a, b = int(i[e]), int(j[e])
        if degree[a] > 1 or degree[b] > 1 or root(a) == root(b):
            continue
        part[root(a)] = root(b)
        links[a].append(b)
        links[b].append(a)
        degree[a] += 1
        degree[b] += 1
        made += 1
        if made == n - 1:
            break
    start = next(k for k in range(n) if len(links[k]) < 2)
    tour, last = [start], -1
    while len(tour) < n:
        here = tour[-1]
        ahead = [k for k in links[here] if k != last]
        last = here
        tour.append(ahead[0])
    return np.array(tour, dtype=np.int64)


def _improved(at: Points, tour: NDArray[np.int64]) -> NDArray[np.int64]:
    """Two-opt and or-opt until neither helps."""
    n = len(tour)
    if n < 5:
        return tour
    d = np.hypot(*(at[:, None] - at[None]).transpose(2, 0, 1))
    for _ in range(20 * n):
        turned = _two_opt(d, tour)
        moved = _or_opt(d, turned if turned is not None else tour)
        if moved is not None:
            tour = moved
        elif turned is not None:
            tour = turned
        else:
            break
    return tour


def _two_opt(d: Floats, tour: NDArray[np.int64]) -> NDArray[np.int64] | None:
    """The best single reversal of a stretch, or None."""
    ahead = np.roll(tour, -1)
    step = d[tour, ahead]
    gain = step[:, None] + step[None, :] - d[np.ix_(tour, tour)] - d[np.ix_(ahead, ahead)]
    gain = np.triu(gain, 2)
    gain[0, -1] = 0.0
    best = int(gain.argmax())
    i, j = divmod(best, len(tour))
    if gain[i, j] < 1e-9:
        return None
    out = tour.copy()
    out[i + 1 : j + 1] = out[i + 1 : j + 1][::-1]
    return out


def _or_opt(d: Floats, tour: NDArray[np.int64]) -> NDArray[np.int64] | None:
    """The best move of a stretch of one to three dots to elsewhere; None where none helps."""
    n = len(tour)
    ahead = np.roll(tour, -1)
    to_place, to_next, link = d[:, tour], d[:, ahead], d[tour, ahead]
    away = (np.arange(n)[None, :] - np.arange(n)[:, None]) % n  # of places from where a stretch begins
    most, best = 1e-9, (0, 0, 0, False)
    for size in (1, 2, 3):
        if n < size + 3:
            break
        first, last = tour, np.roll(tour, 1 - size)
        before, after = np.roll(tour, 1), np.roll(tour, -size)
        saved = d[before, first] + d[last, after] - d[before, after]
        worth = np.flatnonzero(saved > most)
        if not len(worth):
            continue
        # between its own dots it does not go, nor where it was
        barred = (away[worth] < size) | (away[worth] == n - 1)
        for flipped in (False, True):
            head, tail = (last, first) if flipped else (first, last)
            gain = saved[worth, None] - (to_place[head[worth]] + to_next[tail[worth]] - link)
            gain[barred] = -np.inf
            row, place = divmod(int(gain.argmax()), n)
            if gain[row, place] > most:
                most, best = float(gain[row, place]), (size, int(worth[row]), place, flipped)
    size, begin, place, flipped = best
    if not size:
        return None
    turned = np.roll(tour, -begin)
    piece, rest = turned[:size], turned[size:]
    at = int(away[begin, place]) - size
    return np.concatenate([rest[: at + 1], piece[::-1] if flipped else piece, rest[at + 1 :]])
