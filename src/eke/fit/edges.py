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
from eke.geometry.path import Path, Pt, flattened, power_form
from eke.geometry.smooth import smooth_control
from eke.pattern.corners import meeting, sound
from eke.pattern.model import Edge, Notch, Piece

FIT_MM: Final = 0.05
"""A moved edge is redrawn within this of the exact displacement: a tenth of a pencil line."""
STEP_MM: Final = 3.0
"""Spacing of the places at which a displacement is worked out."""

MARGIN_MM: Final = FIT_MM / 5.0
"""Chords by which a redrawn edge is measured stay so near to it."""
LEAST_COUNT: Final = 3
FIRST_COUNT: Final = 9
"""Places that a moved edge is first drawn through: taken in or out along a profile, most need these or twice as many."""
_NEWTON_STEPS: Final = 2
"""Steps from the share of a place between its neighbours to its foot on the curve."""
_COMPLEX: Final = np.array([1.0, 1.0j])
"""From x and y to x + iy."""

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
    return _monotone(at, amount)


def _monotone(at: NDArray[np.float64], amount: NDArray[np.float64]) -> Profile:
    """Return the piecewise cubic through the knots that rises and falls only where they do.

    The slopes are Fritsch and Butland's (SIAM J. Sci. Stat. Comput. 5, 1984): a harmonic mean of the chords' slopes
    within, weighted by their spans; at the ends the parabola through three knots, held back where it would overshoot.
    """
    span = np.diff(at)
    rise = np.diff(amount) / span
    slope = np.full(len(at), rise[0])
    if len(at) > 2:
        before, after, w1, w2 = rise[:-1], rise[1:], 2.0 * span[1:] + span[:-1], span[1:] + 2.0 * span[:-1]
        same_way = before * after > 0.0
        inverse = np.divide(w1, before, out=np.zeros_like(w1), where=same_way)
        inverse += np.divide(w2, after, out=np.zeros_like(w2), where=same_way)
        slope[1:-1] = np.divide(w1 + w2, inverse, out=np.zeros_like(w1), where=same_way)
        slope[0] = _end_slope(span[0], span[1], rise[0], rise[1])
        slope[-1] = _end_slope(span[-1], span[-2], rise[-1], rise[-2])
    second = (3.0 * rise - 2.0 * slope[:-1] - slope[1:]) / span
    third = (slope[:-1] + slope[1:] - 2.0 * rise) / span**2

    def profile(mm: NDArray[np.float64]) -> NDArray[np.float64]:
        held = np.minimum(np.maximum(mm, at[0]), at[-1])
        k = np.minimum(np.searchsorted(at, held, side="right") - 1, len(span) - 1)
        on = held - at[k]
        return np.asarray(amount[k] + on * (slope[k] + on * (second[k] + on * third[k])), dtype=np.float64)

    return profile


def _end_slope(near: float, next_: float, rise: float, next_rise: float) -> float:
    """Return the slope at an end from the spans and rises of its two chords."""
    slope = ((2.0 * near + next_) * rise - near * next_rise) / (near + next_)
    if slope * rise <= 0.0:
        return 0.0
    return 3.0 * rise if rise * next_rise <= 0.0 and abs(slope) > 3.0 * abs(rise) else slope


def displaced(path: Path, inwards: Profile) -> Path:
    """Return ``path`` with each place moved to its left by ``inwards`` of its arc length."""
    count = max(2, int(np.ceil(path.length_mm / STEP_MM)) + 1)
    at = np.unique(np.concatenate([np.linspace(0.0, path.length_mm, count), path.joints_mm]))
    amount = inwards(at)
    if float(np.abs(amount).max()) < 1e-9:
        return path
    points, tangents = path.places_at(at)
    moved = points + amount[:, None] * np.column_stack([-tangents[:, 1], tangents[:, 0]])
    chord = moved[-1] - moved[0]
    length = float(np.hypot(*chord))
    if length <= 1.0:
        raise BadShape("So much cannot be taken in: nothing of the edge would be left. Take in less.")
    off = np.abs((moved[:, 0] - moved[0, 0]) * chord[1] - (moved[:, 1] - moved[0, 1]) * chord[0]) / length
    if float(off.max()) <= MARGIN_MM:
        return Path.line(_pt(moved[0]), _pt(moved[-1]))
    fitting = _fitted(moved, FIRST_COUNT)
    # as few places as keep the smooth curve through them near to all others: more where it is not, else fewer
    if fitting is None:
        count = 2 * FIRST_COUNT - 1
        while (fitting := _fitted(moved, count)) is None:
            count = 2 * count - 1
    else:
        count = (FIRST_COUNT + 1) // 2
        while count >= LEAST_COUNT and (fewer := _fitted(moved, count)) is not None:
            fitting, count = fewer, (count + 1) // 2
    return Path.from_control(fitting)


def _fitted(points: NDArray[np.float64], count: int) -> NDArray[np.float64] | None:
    """Control points of the smooth curve through ``count`` of the points, spread evenly, where it is near to all others;
    through all of them where there are no more."""
    last = len(points) - 1
    chosen = np.rint(np.linspace(0, last, count)).astype(np.intp) if count <= last else np.arange(last + 1)
    control = smooth_control(points[chosen])
    return control if count > last or _is_near(control, points, chosen) else None


def _is_near(control: NDArray[np.float64], points: NDArray[np.float64], chosen: NDArray[np.intp]) -> bool:
    """Whether the smooth curve through the ``chosen`` points has all the others within :data:`FIT_MM`.

    Each is compared with the cubic between its chosen neighbours. Where that is too close to call, or the farthest
    may lie nearer to another cubic, the distances from the whole flattened curve decide.
    """
    number = np.arange(len(points))
    k = np.minimum(np.searchsorted(chosen, number, side="right") - 1, len(control) - 1)
    off, a, b, c = (power_form(control) @ _COMPLEX)[k].T
    off = off - points @ _COMPLEX
    t = (number - chosen[k]) / (chosen[k + 1] - chosen[k])
    # mostly the places that the points were taken at, or the worst of them alone, tell it
    apart = np.abs(off + t * (a + t * (b + t * c)))
    worst = int(np.argmax(apart))
    if apart[worst] <= FIT_MM - MARGIN_MM:
        return True
    if _foot_distance(off[worst], a[worst], b[worst], c[worst], t[worst]) > FIT_MM + MARGIN_MM and _alone(
        control, points[worst], int(k[worst])
    ):
        return False
    for _ in range(_NEWTON_STEPS):
        # the foot of a point: there the curve runs square to the way to it
        gap, run = off + t * (a + t * (b + t * c)), a + t * (2.0 * b + t * (3.0 * c))
        t = np.minimum(np.maximum(t - (gap * run.conj()).real / (run * run.conj()).real, 0.0), 1.0)
    apart = np.abs(off + t * (a + t * (b + t * c)))
    worst = int(np.argmax(apart))
    if apart[worst] <= FIT_MM - MARGIN_MM:
        return True
    if apart[worst] > FIT_MM + MARGIN_MM and _alone(control, points[worst], int(k[worst])):
        return False
    line = LineString(flattened(control, False, MARGIN_MM))
    return float(shapely.distance(line, shapely.points(points)).max()) <= FIT_MM


def _foot_distance(off: complex, a: complex, b: complex, c: complex, t: float) -> float:
    """Distance of one point from its cubic, in power form about the point, by Newton's steps from ``t``."""
    off, a, b, c, t = complex(off), complex(a), complex(b), complex(c), float(t)
    for _ in range(_NEWTON_STEPS):
        gap, run = off + t * (a + t * (b + t * c)), a + t * (2.0 * b + t * (3.0 * c))
        square = run.real * run.real + run.imag * run.imag
        if square == 0.0:
            break
        t = min(max(t - (gap * run.conjugate()).real / square, 0.0), 1.0)
    return abs(off + t * (a + t * (b + t * c)))


def _alone(control: NDArray[np.float64], point: NDArray[np.float64], own: int) -> bool:
    """Whether no cubic but its ``own`` may run near a point: each stays within the box of its control points."""
    low, high = control.min(axis=1) - FIT_MM, control.max(axis=1) + FIT_MM
    others = ((low <= point) & (point <= high)).all(axis=1)
    others[own] = False
    return not bool(others.any())


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
