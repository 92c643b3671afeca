"""Primitives of fit changes: move an edge by a profile, keep its corners on its neighbours.

A *profile* says how far an edge moves inwards at places along it: knots ``(mm along, mm inwards)``, smooth
and without overshoot between them (monotone cubic interpolation, Fritsch and Carlson 1980), constant beyond.
Everything here is pure and knows nothing of seams.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import LineString

from eke.errors import BadInput, BadShape
from eke.geometry.path import Path, Pt
from eke.pattern.corners import meeting, sound
from eke.pattern.model import Edge, Notch, Piece

FIT_MM: Final = 0.05
"""A moved edge is redrawn within this of the exact displacement: a tenth of a pencil line."""
STEP_MM: Final = 3.0
"""Spacing of the places at which a displacement is worked out."""

Profile = Callable[[NDArray[np.float64]], NDArray[np.float64]]


def smooth_profile(knots: Sequence[tuple[float, float]]) -> Profile:
    """Return the profile through ``knots`` (mm along, mm inwards), monotone between them.

    Raises
    ------
    BadInput
        When there is no knot, or two lie at the same place.
    """
    if not knots:
        raise BadInput("Say at least one place and how much to take in there.")
    ordered = sorted(knots)
    at = np.array([k[0] for k in ordered], dtype=np.float64)
    amount = np.array([k[1] for k in ordered], dtype=np.float64)
    if not (np.isfinite(at).all() and np.isfinite(amount).all()):
        raise BadInput("A place or an amount is not a number.")
    if len(at) > 1 and float(np.min(np.diff(at))) <= 0.0:
        raise BadInput(
            f"Two amounts are given for the same place, {at[int(np.argmin(np.diff(at)))]:g} mm along the seam."
        )
    if len(at) == 1:
        return lambda mm: np.full_like(mm, amount[0])
    from scipy.interpolate import PchipInterpolator  # slow to load, and seldom needed at the start

    inner = PchipInterpolator(at, amount)
    return lambda mm: np.asarray(inner(np.clip(mm, at[0], at[-1])), dtype=np.float64)


def displaced(path: Path, inwards: Profile) -> Path:
    """Return ``path`` with each place moved to its left by ``inwards`` of its arc length."""
    count = max(2, int(np.ceil(path.length_mm / STEP_MM)) + 1)
    at = np.unique(np.concatenate([np.linspace(0.0, path.length_mm, count), path.joints_mm]))
    amount = inwards(at)
    if np.all(np.abs(amount) < 1e-9):
        return path
    tangents = path.tangents_at(at)
    moved = path.points_at(at) + amount[:, None] * np.column_stack([-tangents[:, 1], tangents[:, 0]])
    chord = moved[-1] - moved[0]
    length = float(np.hypot(*chord))
    if length <= 1.0:
        raise BadShape("So much cannot be taken in: nothing of the edge would be left. Take in less.")
    off = np.abs((moved[:, 0] - moved[0, 0]) * chord[1] - (moved[:, 1] - moved[0, 1]) * chord[0]) / length
    if float(off.max()) <= FIT_MM / 5.0:
        return Path.line(_pt(moved[0]), _pt(moved[-1]))
    count = 3
    while True:
        # as few places as keep the smooth curve through them near to all others
        chosen = np.unique(np.round(np.linspace(0, len(moved) - 1, count)).astype(int))
        made = Path.from_points(moved[chosen])
        if len(chosen) == len(moved) or _worst_mm(made, moved) <= FIT_MM:
            return made
        count = 2 * count - 1


def _worst_mm(path: Path, points: NDArray[np.float64]) -> float:
    """Greatest distance of ``points`` from ``path``, to a hundredth of a millimetre."""
    line = LineString(path.flatten(FIT_MM / 5.0))
    return float(shapely.distance(line, shapely.points(points)).max())


def with_moved_edges(piece: Piece, moved: dict[str, Path]) -> Piece:
    """Return ``piece`` with some edges exchanged for moved ones; corners slide along the neighbours.

    Where a moved edge meets a neighbour that stays, the new corner lies on the neighbour (run on straight
    where it is too short). Notches on neighbours stay where they were on the cloth.

    Raises
    ------
    BadShape
        When the outline would cross itself or turn inside out.
    """
    count = len(piece.edges)
    paths = [moved.get(edge.id, edge.path) for edge in piece.edges]
    changed = [edge.id in moved for edge in piece.edges]
    for i in range(count):
        j = (i + 1) % count
        if not (changed[i] or changed[j]):
            continue
        if _apart(paths[i].end, paths[j].start) < 1e-9:
            continue
        met = meeting(paths[i], paths[j], piece.edges[i].path.end)
        if met is not None:
            paths[i], paths[j] = met
        elif changed[i] and changed[j]:
            corner = _middle(paths[i].end, paths[j].start)
            paths[i] = paths[i].with_ends(paths[i].start, corner)
            paths[j] = paths[j].with_ends(corner, paths[j].end)
        else:
            raise BadShape(
                f"The moved edge of “{piece.name}” no longer meets its neighbour. Take in less there, or taper to nothing."
            )
    edges = tuple(replace(edge, path=path) for edge, path in zip(piece.edges, paths, strict=True))
    made = replace(piece, edges=edges, notches=_kept(piece, edges, moved))
    return sound(made, piece)


def _kept(piece: Piece, edges: Sequence[Edge], moved: dict[str, Path]) -> tuple[Notch, ...]:
    """Notches on edges that were only trimmed or run on stay at their place on the cloth."""
    by_id = {edge.id: edge for edge in edges}
    kept = []
    for notch in piece.notches:
        edge = by_id[notch.at.edge]
        old = piece.edge(edge.id)
        if edge.id in moved or edge.path == old.path:
            kept.append(notch)
            continue
        at = edge.path.nearest(old.path.point_at(old.mm_of(notch.at))).at_mm
        length = edge.path.length_mm
        if notch.at.fraction is not None:
            place = replace(notch.at, fraction=at / length)
        else:
            place = replace(notch.at, mm=at if notch.at.from_end == "start" else length - at)
        kept.append(replace(notch, at=place))
    return tuple(kept)


def _apart(p: Pt, q: Pt) -> float:
    return float(np.hypot(p[0] - q[0], p[1] - q[1]))


def _middle(p: Pt, q: Pt) -> Pt:
    return ((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0)


def _pt(p: NDArray[np.float64]) -> Pt:
    return (float(p[0]), float(p[1]))
