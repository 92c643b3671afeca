"""Make the sides of all seams match together, with the least change to what was traced.

Moving a corner changes both edges that meet there, so curing one seam may break the next. Here all corners move
at once: the unknowns are the shifts of the corners (along the fold for corners on a fold, none for corners that
are kept), the equations are one length difference for each seam, and of all solutions the one with the least sum
of squared shifts is taken (minimum-norm least squares; Gauss–Newton steps since lengths are not quite linear).

What is held stays so, also where seams cannot match beside it: each length that is held is an equation that is solved
first, and the seams are matched by the shifts that leave it as it is; a corner that is held on a balance line slides
along it, and a notch is set where the line meets its edge afterwards.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
import numpy.typing as npt

from eke.errors import BadInput, BadShape, NotFound
from eke.pattern.balance import read_on
from eke.pattern.corners import End, corner_point, sound, with_end_moved
from eke.pattern.held import length_now_mm, line_of, off_line, point_held
from eke.pattern.model import Edge, HeldLength, Pattern, Piece
from eke.pattern.on_line import put_back
from eke.pattern.walking import walk

Array = npt.NDArray[np.float64]

MATCHED_MM: Final = 0.01
"""Seams are matched when they differ by less: nothing that a pencil or a needle knows."""
MOST_SHIFT_MM: Final = 10.0
"""No corner moves farther: a greater difference is a question to the maker, not a thing to be smoothed over."""
_PROBE_MM: Final = 0.01
_STEPS: Final = 8
_RANK: Final = 1e-6
"""Combinations of shifts that change no length by more than this share of the greatest are left alone."""


@dataclass(frozen=True, slots=True)
class Matched:
    """The matched pattern, what is left on each seam that could not be matched, and how far a corner moved."""

    pattern: Pattern
    left_mm: Mapping[str, float]
    greatest_shift_mm: float


@dataclass(frozen=True, slots=True)
class _Equation:
    """Lengths that should add up: edges with the sign with which each counts, and how far off they are."""

    signs: tuple[tuple[float, str], ...]
    off_mm: Callable[[Pattern], float]


@dataclass(frozen=True, slots=True)
class _Corner:
    """Where an edge ends and the next begins, and the directions in which it may move, ``(k, 2)``."""

    piece: str
    before: str
    after: str
    ways: tuple[tuple[float, float], ...]


def match_all(pattern: Pattern, keep: Collection[str] = (), only: Collection[str] | None = None) -> Matched:
    """Return the pattern in which all seams (or those named by ``only``) match, ease counted, and what is held stays so.

    Parameters
    ----------
    keep
        Ids of edges that stay as they are, both corners included.
    only
        Ids of the seams to match; the others are kept as they are, difference and all.

    Raises
    ------
    BadShape
        When a corner would have to move by more than 10 mm, or an outline would cross itself.
    """
    held = {pattern.resolve(e) for e in keep}
    seams = [s.id for s in pattern.seams.values() if {p.edge for p in s.a} != {p.edge for p in s.b}]
    wanted = {s: 0.0 if only is None or s in only else walk(pattern, s).difference_mm for s in seams}
    lengths = _of_lengths(pattern)
    equations = [*lengths, *(_of_seam(pattern, s, wanted[s]) for s in seams)]
    corners = _corners(pattern, held)
    start = {(c.piece, c.before): pattern.piece(c.piece).edge(c.before).path.end for c in corners}
    for _ in range(_STEPS):
        off = np.array([one.off_mm(pattern) for one in equations])
        if not len(off) or np.abs(off).max() <= MATCHED_MM / 10.0:
            break
        jacobian = _jacobian(pattern, corners, equations)
        shift = _least_shift(jacobian, off, len(lengths))
        if np.abs(shift).max(initial=0.0) < _PROBE_MM * 1e-3:
            break
        pattern = _shifted(pattern, corners, shift)
    moved = max(
        (
            float(np.hypot(*np.subtract(pattern.piece(p).edge(e).path.end, at)))
            for (p, e), at in start.items()
        ),
        default=0.0,
    )
    if moved > MOST_SHIFT_MM:
        raise BadShape(
            f"To match all seams a corner would have to move by {moved:.1f} mm. Look at the greatest difference first; "
            f"Eke shares up to {MOST_SHIFT_MM:g} mm at a corner by itself.",
            shift_mm=moved,
        )
    for piece in pattern.pieces.values():
        sound(piece, piece)
    pattern = _notches_on_lines(pattern)
    left = {s: walk(pattern, s).difference_mm - wanted[s] for s in seams}
    return Matched(pattern, {s: mm for s, mm in left.items() if abs(mm) > MATCHED_MM}, moved)


def _of_seam(pattern: Pattern, seam_id: str, wanted_mm: float) -> _Equation:
    seam = pattern.seam(seam_id)
    signs = tuple(
        (sign, pattern.edge(part.edge)[1].id) for sign, run in ((1.0, seam.a), (-1.0, seam.b)) for part in run
    )
    return _Equation(signs, lambda now: walk(now, seam_id).difference_mm - wanted_mm)


def _of_lengths(pattern: Pattern) -> list[_Equation]:
    """One equation for each length that is held; one that is far off is a question already and stays as it is."""
    made = []
    for held in pattern.held_lengths.values():
        try:
            now = length_now_mm(pattern, held)
        except NotFound:
            continue
        to_mm = held.mm if abs(now - held.mm) <= MOST_SHIFT_MM else now
        made.append(_of_length(pattern, held, to_mm))
    return made


def _of_length(pattern: Pattern, held: HeldLength, to_mm: float) -> _Equation:
    edges = dict.fromkeys(pattern.resolve(edge) for edge in held.edges)
    return _Equation(tuple((1.0, e) for e in edges), lambda now: length_now_mm(now, held) - to_mm)


def _least_shift(jacobian: Array, off: Array, first: int) -> Array:
    """Return the least shift that sets the first equations right, and the others as well as it can beside them."""
    shift = np.linalg.lstsq(jacobian[:first], -off[:first], rcond=_RANK)[0]
    free = np.eye(jacobian.shape[1])
    if first:
        _, values, across = np.linalg.svd(jacobian[:first])
        rank = int(np.sum(values > _RANK * values.max(initial=0.0)))
        free = across[rank:].T  # shifts that change none of them
    rest, left = jacobian[first:], -off[first:] - jacobian[first:] @ shift
    return np.asarray(shift + free @ np.linalg.lstsq(rest @ free, left, rcond=_RANK)[0])


def _notches_on_lines(pattern: Pattern) -> Pattern:
    """Return the pattern with held notches set where their line meets the edge now."""
    for key, held in pattern.held_points.items():
        if held.edge is not None:
            continue
        try:
            if off_line(pattern, held)[4] > MATCHED_MM:
                pattern = put_back(pattern, key)
        except BadInput:
            continue  # it is found as what is held and no longer so
    return pattern


def _corners(pattern: Pattern, held: Collection[str]) -> list[_Corner]:
    made = []
    for piece in pattern.pieces.values():
        for i, before in enumerate(piece.edges):
            after = piece.edges[(i + 1) % len(piece.edges)]
            if before.id in held or after.id in held or before.id == after.id:
                continue
            fold = next((e for e in (before, after) if e.kind == "fold"), None)
            ways: tuple[tuple[float, float], ...] = ((1.0, 0.0), (0.0, 1.0))
            if fold is not None:
                ways = (fold.path.tangent_at(0.0),)
            level = _level_at(pattern, piece, before, after.id)
            if level is not None:
                across = fold is not None and abs(ways[0][0] * level[1] - ways[0][1] * level[0]) > _RANK
                ways = () if across else (level,)
            if not ways:
                continue
            made.append(_Corner(piece.id, before.id, after.id, ways))
    return made


def _level_at(pattern: Pattern, piece: Piece, before: Edge, after: str) -> tuple[float, float] | None:
    """Return the direction of the balance line on which a corner is held, or nothing where it is free."""
    key = point_held(pattern, piece, corner=after) if pattern.held_points else None
    if key is None:
        return None
    try:
        level = read_on(line_of(piece, pattern.held_points[key].line))
    except BadInput:
        return None  # the line is gone
    return level.tangent_at(level.nearest(before.path.end).at_mm)


def _jacobian(pattern: Pattern, corners: list[_Corner], equations: Sequence[_Equation]) -> Array:
    """Return how far off each equation gets with each way of each corner, ``(equations, ways)``."""
    column: dict[tuple[str, End], int] = {}
    count = 0
    for corner in corners:
        column[corner.before, "end"] = count
        column[corner.after, "start"] = count
        count += len(corner.ways)
    ways = {(key): c for c in corners for key in ((c.before, "end"), (c.after, "start"))}
    matrix = np.zeros((len(equations), count))
    ends: tuple[End, End] = ("start", "end")
    for row, equation in enumerate(equations):
        for sign, edge_id in equation.signs:
            _, edge = pattern.edge(edge_id)
            for end in ends:
                at = column.get((edge.id, end))
                if at is None:
                    continue
                for k, way in enumerate(ways[edge.id, end].ways):
                    matrix[row, at + k] += sign * _growth(edge, end, way)
    return matrix


def _growth(edge: Edge, end: End, way: tuple[float, float]) -> float:
    """Return how much longer an edge gets for each mm that its end moves along ``way``."""
    x, y = corner_point(edge, end)
    lengths = [
        with_end_moved(
            edge, end, (x + sign * _PROBE_MM * way[0], y + sign * _PROBE_MM * way[1])
        ).path.length_mm
        for sign in (1.0, -1.0)
    ]
    return (lengths[0] - lengths[1]) / (2.0 * _PROBE_MM)


def _shifted(pattern: Pattern, corners: list[_Corner], shift: Array) -> Pattern:
    at = 0
    pieces: dict[str, Piece] = {}
    for corner in corners:
        piece = pieces.get(corner.piece) or pattern.piece(corner.piece)
        amounts = shift[at : at + len(corner.ways)]
        at += len(corner.ways)
        x, y = piece.edge(corner.before).path.end
        to = (
            float(x + sum(a * w[0] for a, w in zip(amounts, corner.ways, strict=True))),
            float(y + sum(a * w[1] for a, w in zip(amounts, corner.ways, strict=True))),
        )
        before = with_end_moved(piece.edge(corner.before), "end", to)
        piece = piece.with_edge(before)
        piece = piece.with_edge(with_end_moved(piece.edge(corner.after), "start", to))
        pieces[corner.piece] = piece
    return replace(pattern, pieces={k: pieces.get(k, p) for k, p in pattern.pieces.items()})
