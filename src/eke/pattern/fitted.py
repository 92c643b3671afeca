"""A fitted mock-up piece laid on its pattern piece: where it differs, by how much, and what is only uncertainty.

The mock-up is unpicked, its new seam lines are marked, and the piece is photographed and traced like any other. The
traced outline is laid on the pattern piece rigidly and never scaled. A fitting moves some stretches and leaves the rest, so
the rest decides how the two lie: places that lie apart count the less the farther they do (iteratively reweighted least
squares with the weights of Geman and McClure, 1985; from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from eke.errors import BadInput
from eke.geometry import Move, Path, Pt, register
from eke.pattern.corners import called
from eke.pattern.model import EdgeKind, Piece
from eke.pattern.twice import APART_MM, compared_at, laid_path

LEAST_MM: Final = 1.0
"""No outline is surer than this: a pencil, the weave, and cloth that does not lie quite flat (common practice)."""
PLACES: Final = 61
"""Places along each edge at which the two are held against each other."""
SAMPLES: Final = 400
"""Places round the traced outline by which it is laid."""
FIRST_REACH_MM: Final = 8.0
"""At first a place counts half when it lies about so far off; then less and less, down to what is uncertain."""
ROUNDS: Final = 25
FEW_SAMPLES: Final = 100
FEW_ROUNDS: Final = 10
"""Enough to tell which way to begin is the right one."""
POOR_SHARE: Final = 0.5
"""When less than so much of the outline agrees, nothing says how the two lie on each other."""


@dataclass(frozen=True, slots=True)
class EdgeFitted:
    """How the fitted piece lies along one edge of the pattern piece.

    ``out_mm`` are (mm along the edge, mm that the fitted line lies outside it; below 0 inside), square to the edge.
    ``beyond``: it lies farther off somewhere than the tracing is uncertain.
    """

    edge: str
    name: str
    kind: EdgeKind
    out_mm: tuple[tuple[float, float], ...]
    longer_mm: float
    beyond: bool

    @property
    def mean_mm(self) -> float:
        """How far it lies outside on the whole; below 0: inside."""
        return sum(out for _, out in self.out_mm) / len(self.out_mm)

    @property
    def most_mm(self) -> float:
        """The greatest distance, above 0 outside and below 0 inside."""
        return max((out for _, out in self.out_mm), key=abs)

    @property
    def most_at_mm(self) -> float:
        """Where along the edge that is."""
        return max(self.out_mm, key=lambda row: abs(row[1]))[0]


@dataclass(frozen=True, slots=True)
class Fitted:
    """A fitted piece laid on its pattern piece.

    ``agreeing`` is the share of its outline that lies no farther off than it is uncertain; below a half the fit is
    ``poor``.
    """

    move: Move
    turned_over: bool
    uncertainty_mm: float
    agreeing: float
    edges: tuple[EdgeFitted, ...]

    @property
    def poor(self) -> bool:
        """Whether too little agrees to say how the two lie on each other."""
        return self.agreeing < POOR_SHARE


def laid_on(piece: Piece, traced: Piece, uncertainty_mm: float) -> Fitted:
    """Return how a traced mock-up piece lies on the pattern piece that it was cut from.

    Parameters
    ----------
    uncertainty_mm
        What the tracing is worth: with 90 % confidence, 95 % of its outline lies within it.

    Raises
    ------
    BadInput
        When they are hardly the same piece; the message says how far apart they lie.
    """
    worth = max(uncertainty_mm, LEAST_MM)
    own, outline = piece.outline, traced.outline
    tried = [
        _held(outline, own, start, worth, samples=FEW_SAMPLES, rounds=FEW_ROUNDS)
        for start in _starts(outline, own)
    ]
    move, agreeing = _held(outline, own, max(tried, key=lambda row: row[1])[0], worth)
    laid = laid_path(outline, move)
    greatest = shapely.hausdorff_distance(_ring(own), _ring(laid), densify=0.02)
    if greatest > APART_MM:
        raise BadInput(
            f"“{traced.name}” and “{piece.name}” lie up to {greatest:.0f} mm apart when they are laid on one another. A "
            "fitting hardly moves so much; choose the pattern piece that it was cut from, or trace it again.",
            apart_mm=greatest,
        )
    lines = compared_at(piece, traced, move)
    edges = []
    for edge in piece.edges:
        line = lines[edge.id]
        rows = tuple(
            (float(mm), _square_to(edge.path, float(mm), line))
            for mm in np.linspace(0.0, edge.path.length_mm, PLACES)
        )
        beyond = max(abs(out) for _, out in rows) > worth
        longer = line.length_mm - edge.path.length_mm
        edges.append(EdgeFitted(edge.id, called(piece, edge), edge.kind, rows, longer, beyond))
    return Fitted(move, move.flips, worth, agreeing, tuple(edges))


def _starts(outline: Path, own: Path) -> list[Move]:
    """Ways to begin: as it lies best all in all, turned over where that is plainly better; and shifted from there."""
    found = [register(outline, own)]
    over = register(outline, own, may_flip=True)
    if over.move.flips:
        found.append(over)
    least = min(one.rms_mm for one in found)
    # the mirror image only where it is plainly better: a piece with two equal halves is not turned over
    best = next(one.move for one in found if one.rms_mm <= max(1.5 * least, LEAST_MM))
    # all in all, half of what a hem was shortened goes to the top; so it is also tried with one side on one side
    x0, y0, x1, y1 = laid_path(outline, best).bounds
    a0, b0, a1, b1 = own.bounds
    return [
        best.then(Move.translation(dx, dy))
        for dx in (0.0, a0 - x0, a1 - x1)
        for dy in (0.0, b0 - y0, b1 - y1)
    ]


def _held(
    outline: Path, own: Path, start: Move, worth: float, *, samples: int = SAMPLES, rounds: int = ROUNDS
) -> tuple[Move, float]:
    """Refine a move so that what agrees lies on one another; return it with the share that does."""
    line = laid_path(outline, start)
    ring = shapely.LineString(own.flatten(0.02))
    scale = own.length_mm / ring.length
    points = line.points_at(np.arange(samples) / samples * line.length_mm)
    move, off = start, np.zeros(len(points))
    for k in range(rounds):
        reach = max(FIRST_REACH_MM * 0.8**k, worth)
        off, normal = _off(points, ring, own, scale)
        weight = 1.0 / (1.0 + (off / reach) ** 2) ** 2
        centre = points.mean(axis=0)
        arm = points - centre
        rows = np.stack(
            [normal[:, 1] * arm[:, 0] - normal[:, 0] * arm[:, 1], normal[:, 0], normal[:, 1]], axis=1
        )
        root = np.sqrt(weight)
        turn, dx, dy = np.linalg.lstsq(rows * root[:, None], -off * root, rcond=None)[0]
        step = Move.rotation(float(np.degrees(turn)), (float(centre[0]), float(centre[1]))).then(
            Move.translation(float(dx), float(dy))
        )
        points, move = step.apply_array(points), move.then(step)
    off, _ = _off(points, ring, own, scale)
    return move, float(np.mean(np.abs(off) <= worth))


def _off(
    points: NDArray[np.float64], ring: shapely.LineString, own: Path, scale: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """How far each point lies off the line, square to it, and the normal of the line there."""
    along = np.asarray(shapely.line_locate_point(ring, shapely.points(points)))
    feet = shapely.get_coordinates(shapely.line_interpolate_point(ring, along))
    tangent = own.tangents_at(np.clip(along * scale, 0.0, own.length_mm))
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)
    return np.sum((points - feet) * normal, axis=1), normal


def _square_to(path: Path, mm: float, line: Path) -> float:
    """How far a line lies outside a place of an edge, square to the edge."""
    x, y = path.point_at(mm)
    u, v = path.tangent_at(mm)
    near: Pt = line.nearest((x, y)).point
    # outlines run counter-clockwise: right of the line is outside
    return (near[0] - x) * v - (near[1] - y) * u


def _ring(path: Path) -> shapely.LinearRing:
    return shapely.LinearRing(path.flatten(0.1))
