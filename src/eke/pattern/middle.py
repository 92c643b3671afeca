"""The middle line of a piece that is drawn whole: marked on it, along its grain, across it, or where it mirrors best.

The best mirror line is found by iteration: the mirrored outline is laid against the outline itself, and the line is turned
and shifted so that the distances across it get least (least squares towards the tangents at the nearest points: Chen &
Medioni, Image and Vision Computing 10 (3), 1992), from the grain and from both principal axes of the outline (an axis of
symmetry is always one of them: plain mechanics).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

from eke.errors import BadInput
from eke.geometry import Move, Path, Pt
from eke.geometry.segments import distance, unit
from eke.pattern.corners import grain_of
from eke.pattern.model import Edge, Piece

By = Literal["marked", "grain", "across", "fit", "edge", "said"]
Points = npt.NDArray[np.float64]

CENTRE_WORDS: Final = frozenset({"centre", "center", "middle", "mid", "fold", "cf", "cb"})
"""A line whose name holds one of these marks the middle of its piece."""
SAMPLES: Final = 64
"""Places round the outline by which a mirror line is found."""
STEPS: Final = 15
SETTLED_MM: Final = 1e-6
"""The search ends when a step moves the line by less."""
AS_GOOD: Final = 1.5
ALIKE_MM: Final = 0.5
"""A line along or across the grain is proposed where the halves lie no farther apart over it, in the mean square, than this,
or than so many times as far as over the best line."""

EQUAL_MM: Final = 1e-3
"""Halves that lie no farther apart are the same: then no other line than theirs is the middle."""


@dataclass(frozen=True, slots=True)
class Middle:
    """A middle line: from ``start`` to ``end`` of it, upwards, or to the right where it lies flat.

    ``rms_mm``: how far apart both halves lie over it, in the mean square.
    """

    by: By
    start: Pt
    end: Pt
    rms_mm: float

    @property
    def direction(self) -> Pt:
        """The unit direction of the line."""
        return unit(self.start, self.end)

    @property
    def mirror(self) -> Move:
        """The reflection in the line."""
        return Move.mirror(self.start, self.end)

    @property
    def sides(self) -> tuple[str, str]:
        """What its two sides are called: the left one looking along it, and the other."""
        (ux, uy) = self.direction
        return ("left", "right") if abs(uy) >= abs(ux) else ("upper", "lower")

    def left_mm(self, point: Pt) -> float:
        """Return how far a point lies to the left of the line; below 0: to the right."""
        (x, y), (ux, uy) = self.start, self.direction
        return (point[1] - y) * ux - (point[0] - x) * uy

    def foot(self, point: Pt) -> Pt:
        """Return the point of the line that lies nearest to a point."""
        (x, y), (ux, uy) = self.start, self.direction
        along = (point[0] - x) * ux + (point[1] - y) * uy
        return (x + along * ux, y + along * uy)


def middles_of(piece: Piece) -> tuple[Middle, ...]:
    """Return the lines that may be the middle of a piece, the proposed one first.

    A line that is marked as the middle goes before all; then one along or across the grain, where the halves agree over
    it about as well as over the best line of all.
    """
    drawn = _outline(piece)
    grain, across = _along_grain(piece, "grain", drawn), _along_grain(piece, "across", drawn)
    best = _best(grain, drawn)
    worse = EQUAL_MM if best.rms_mm <= EQUAL_MM else max(AS_GOOD * best.rms_mm, ALIKE_MM)
    told = sorted((grain, across, best), key=lambda one: (one.rms_mm > worse, one.by == "fit"))
    return (*_marked(piece, drawn), *told)


def middle_of(piece: Piece, by: By | None = None, along: tuple[Pt, Pt] | None = None) -> Middle:
    """Return one middle line of a piece: the proposed one, one found in a way that is named, or one through two points.

    Raises
    ------
    BadInput
        When two points are one, or no line is marked as the middle.
    """
    if along is not None:
        return said_middle(piece, along)
    if by is None:
        return middles_of(piece)[0]
    drawn = _outline(piece)
    if by in ("grain", "across"):
        return _along_grain(piece, by, drawn)
    if by == "fit":
        return _best(_along_grain(piece, "grain", drawn), drawn)
    marked = _marked(piece, drawn) if by == "marked" else []
    if not marked:
        raise BadInput(
            f"No line of “{piece.name}” is marked as its middle. Draw one and call it “centre”, or take the line along the "
            "grain."
        )
    return marked[0]


def said_middle(piece: Piece, along: tuple[Pt, Pt]) -> Middle:
    """Return the middle line through two points that the maker gave. Raises :class:`BadInput` where they are one."""
    if not distance(*along) > 1.0:
        raise BadInput("A middle line goes through two points at least 1 mm apart.")
    return _made("said", _outline(piece), along[0], unit(*along))


def middle_of_edge(edge: Edge) -> Middle:
    """Return the line square to an edge's chord through its middle: the edge folded end to end.

    Raises
    ------
    BadInput
        When the edge goes round to its start.
    """
    path = edge.path
    if not distance(path.start, path.end) > 1.0:
        raise BadInput(f"“{edge.name or 'That edge'}” goes round to its start and has no middle of its own.")
    (x0, y0), (x1, y1) = path.start, path.end
    ux, uy = unit(path.start, path.end)
    way = (-uy, ux)
    return _made("edge", _sampled(path, [path]), ((x0 + x1) / 2.0, (y0 + y1) / 2.0), way)


# ---------------------------------------------------------------- the search


@dataclass(frozen=True, slots=True)
class _Drawn:
    """A line with places on it, each standing for so many mm of it: the same from wherever it begins, either way round."""

    line: Path
    points: Points
    weight: Points


def _sampled(line: Path, paths: Sequence[Path]) -> _Drawn:
    points, weight = [], []
    for path in paths:
        count = max(2, round(SAMPLES * path.length_mm / line.length_mm))
        points.append(path.points_at((np.arange(count) + 0.5) / count * path.length_mm))
        weight.append(np.full(count, path.length_mm / count))
    return _Drawn(line, np.concatenate(points), np.concatenate(weight))


def _outline(piece: Piece) -> _Drawn:
    return _sampled(piece.outline, [edge.path for edge in piece.edges])


def _along_grain(piece: Piece, by: By, drawn: _Drawn) -> Middle:
    ux, uy = grain_of(piece)
    way = (ux, uy) if by == "grain" else (-uy, ux)
    return _fitted(drawn, by, _through(drawn.points, way), way, turn=False)


def _best(grain: Middle, drawn: _Drawn) -> Middle:
    starts = [(grain.direction, grain.start), *_principal(drawn)]
    tried = (_fitted(drawn, "fit", about, way, turn=True) for way, about in starts)
    return min(tried, key=lambda one: one.rms_mm)


def _through(points: Points, way: Pt) -> Pt:
    """The middle of the points across a direction, and along it."""
    along, off = points @ np.array(way), points @ np.array((-way[1], way[0]))
    a, o = (along.min() + along.max()) / 2.0, (off.min() + off.max()) / 2.0
    return (float(a * way[0] - o * way[1]), float(a * way[1] + o * way[0]))


def _principal(drawn: _Drawn) -> list[tuple[Pt, Pt]]:
    centre = np.average(drawn.points, axis=0, weights=drawn.weight)
    _, ways = np.linalg.eigh(np.cov((drawn.points - centre).T, aweights=drawn.weight))
    about = (float(centre[0]), float(centre[1]))
    return [((float(ways[0, k]), float(ways[1, k])), about) for k in (0, 1)]


def _marked(piece: Piece, drawn: _Drawn) -> list[Middle]:
    made = []
    for mark in piece.marks:
        words = set(mark.name.casefold().replace("-", " ").split())
        if len(mark.points) > 1 and words & CENTRE_WORDS and distance(mark.points[0], mark.points[-1]) > 1.0:
            made.append(_made("marked", drawn, mark.points[0], unit(mark.points[0], mark.points[-1])))
    return made


def _fitted(drawn: _Drawn, by: By, about: Pt, way: Pt, *, turn: bool) -> Middle:
    """Return the line through about there that mirrors the outline best; without ``turn`` its direction stays."""
    angle, centre, root = math.atan2(way[1], way[0]), np.array(about), np.sqrt(drawn.weight)
    for _ in range(STEPS):
        u = np.array((math.cos(angle), math.sin(angle)))
        n = np.array((-u[1], u[0]))
        arm = drawn.points - centre
        mirrored = centre + np.outer(arm @ u, u) - np.outer(arm @ n, n)
        feet, normal = _feet(drawn.line, mirrored)
        off = np.sum((feet - mirrored) * normal, axis=1)
        # shifting the line by s moves the image by 2 s, turning it by a turns the image by 2 a
        image = mirrored - centre
        rows = [2.0 * (normal @ n)]
        if turn:
            rows.append(2.0 * (normal[:, 1] * image[:, 0] - normal[:, 0] * image[:, 1]))
        step = np.linalg.lstsq(np.stack(rows, axis=1) * root[:, None], off * root, rcond=1e-9)[0]
        centre = centre + step[0] * n
        if turn:
            angle += float(step[1])
        if np.abs(step * ([1.0, 100.0] if turn else [1.0])).max() < SETTLED_MM:
            break
    return _made(by, drawn, (float(centre[0]), float(centre[1])), (math.cos(angle), math.sin(angle)))


def _feet(outline: Path, points: Points) -> tuple[Points, Points]:
    """Return the nearest points of the outline, and the normals there."""
    found = [outline.nearest((float(x), float(y))) for x, y in points]
    tangent = outline.tangents_at([f.at_mm for f in found])
    return np.array([f.point for f in found]), np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)


def _made(by: By, drawn: _Drawn, about: Pt, way: Pt) -> Middle:
    """Return a line as far as the outline reaches along it, upwards, or to the right where it lies flat."""
    ux, uy = way
    if (abs(uy) >= abs(ux) and uy < 0.0) or (abs(uy) < abs(ux) and ux < 0.0):
        ux, uy = -ux, -uy
    along = (drawn.points - np.array(about)) @ np.array((ux, uy))
    low, high = float(along.min()), float(along.max())
    start = (about[0] + low * ux, about[1] + low * uy)
    end = (about[0] + high * ux, about[1] + high * uy)
    image = Move.mirror(start, end).apply_array(drawn.points)
    gaps = np.array([drawn.line.nearest((float(x), float(y))).distance_mm for x, y in image])
    return Middle(by, start, end, float(np.sqrt(np.average(gaps**2, weights=drawn.weight))))
