"""Two states of one pattern side by side: their pieces laid on one another, and their finished measures.

A piece lies with its grain along +y in both states, so the two are laid on one another by a shift alone: none where
any corner has stayed where it was, else the shift that most corners share, else the mean of all. A piece is the same
piece by its id, never by its shape.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import shapely
from numpy.typing import NDArray

from eke.geometry import Pt
from eke.geometry.segments import distance
from eke.pattern.corners import called, dart_apex
from eke.pattern.finished import FinishedMeasure, MeasureKind, finished_measures
from eke.pattern.model import Edge, Pattern, Piece

How = Literal["same", "changed", "added", "removed"]
Points = NDArray[np.float64]

ALIKE_MM: Final = 0.05
"""Lines that lie so near to each other are the same: curves are flattened to this, and no pen draws finer."""
EVERY_MM: Final = 4.0
"""Spacing of the places at which two outlines are held against each other; a change of fit is far longer."""
LEAST_SHARED: Final = 0.5
"""Measures of other names are the same one when they run along at least so much of the same edges."""


@dataclass(frozen=True, slots=True)
class PieceBetween:
    """A piece in two states. ``shift_mm`` lays the earlier one on the later one.

    ``apart_mm`` is how far the two outlines lie apart at most, at the edge called ``where``; ``at`` is the place, on
    the later outline. It is 0 where only marks, notches or points of darts differ, and for what is new or gone.
    """

    id: str
    name: str
    how: How
    before: Piece | None
    after: Piece | None
    shift_mm: Pt = (0.0, 0.0)
    apart_mm: float = 0.0
    where: str = ""
    at: Pt | None = None


@dataclass(frozen=True, slots=True)
class MeasureBetween:
    """A finished measure in two states; nothing where one of them does not have it."""

    before: FinishedMeasure | None
    after: FinishedMeasure | None

    @property
    def _known(self) -> FinishedMeasure:
        known = self.after or self.before
        assert known is not None
        return known

    @property
    def name(self) -> str:
        """What it is called, in the later state where it is there."""
        return self._known.name

    @property
    def kind(self) -> MeasureKind:
        """Round the garment, or along it."""
        return self._known.kind

    @property
    def difference_mm(self) -> float | None:
        """How much larger it has become; nothing where it is in one state only."""
        if self.before is None or self.after is None:
            return None
        return self.after.mm - self.before.mm


def pieces_between(
    before: Mapping[str, Piece], after: Mapping[str, Piece], aliases: Mapping[str, str] | None = None
) -> tuple[PieceBetween, ...]:
    """Return the pieces of two states in the order of the later one, those that are gone last.

    Parameters
    ----------
    before, after
        Pieces by id.
    aliases
        Ids of the earlier state that have another one in the later.
    """
    known = aliases or {}
    old = {known.get(key, key): piece for key, piece in before.items()}
    made = [piece_between(key, old.get(key), piece) for key, piece in after.items()]
    made += [piece_between(key, piece, None) for key, piece in old.items() if key not in after]
    return tuple(made)


def piece_between(key: str, before: Piece | None, after: Piece | None) -> PieceBetween:
    """Return one piece in two states; nothing before: it is new; nothing after: it is gone."""
    if before is None or after is None:
        piece = after if after is not None else before
        assert piece is not None
        return PieceBetween(key, piece.name, "added" if before is None else "removed", before, after)
    shift = laid_by(before, after)
    old, new = _shifted(dense(before), shift), dense(after)
    apart, at = apart_at(old, new, _shifted(_sewn(before), shift), _sewn(after))
    if apart <= ALIKE_MM:
        how: How = "same" if _marked_alike(before, after, shift) else "changed"
        return PieceBetween(key, after.name, how, before, after, shift)
    edge = _edge_at(after, at, old)
    return PieceBetween(key, after.name, "changed", before, after, shift, apart, called(after, edge), at)


def _edge_at(after: Piece, at: Pt, before: Points) -> Edge:
    """The edge at a place; at a corner the one that lies farther off the earlier outline on the whole."""
    ring = shapely.LinearRing(before)

    def off(edge: Edge) -> float:
        return float(np.mean(shapely.distance(shapely.points(_along(edge)), ring)))

    near = {e.id: e.path.nearest(at).distance_mm for e in after.edges}
    return max((e for e in after.edges if near[e.id] <= min(near.values()) + ALIKE_MM), key=off)


def laid_by(before: Piece, after: Piece) -> Pt:
    """Return the shift in mm that lays a piece on its later state, grain on grain."""
    now = {e.id: e.path.start for e in after.edges}
    moves = [_from_to(e.path.start, now[e.id]) for e in before.edges if e.id in now]
    if not moves:
        return _from_to(_middle(before), _middle(after))
    if any(distance(move, (0.0, 0.0)) <= ALIKE_MM for move in moves):
        return (0.0, 0.0)
    votes = [sum(distance(one, move) <= ALIKE_MM for one in moves) for move in moves]
    if max(votes) > 1:
        return moves[votes.index(max(votes))]
    return (sum(x for x, _ in moves) / len(moves), sum(y for _, y in moves) / len(moves))


def dense(piece: Piece) -> Points:
    """Return the outline as a ring of points, none farther than 4 mm from the next."""
    line = shapely.LinearRing(piece.outline.flatten(ALIKE_MM))
    return np.asarray(shapely.get_coordinates(shapely.segmentize(line, EVERY_MM)), dtype=np.float64)


def _sewn(piece: Piece) -> Points:
    """Places along the outline without the legs of darts: a dart cuts deep, and is no edge that was moved."""
    legs = {leg for dart in piece.darts for leg in (dart.first_leg, dart.second_leg)}
    return np.vstack([_along(e) for e in piece.edges if e.id not in legs])


def _along(edge: Edge) -> Points:
    line = shapely.segmentize(shapely.LineString(edge.path.flatten(ALIKE_MM)), EVERY_MM)
    return np.asarray(shapely.get_coordinates(line), dtype=np.float64)


def apart_at(
    one: Points, other: Points, on_one: Points | None = None, on_other: Points | None = None
) -> tuple[float, Pt]:
    """Return how far two rings lie apart at most, either way, and where on the ``other`` that is.

    ``on_one`` and ``on_other`` are the places that count; without them every point of the rings does.
    """
    first, second = shapely.LinearRing(one), shapely.LinearRing(other)
    from_one, from_other = (one if on_one is None else on_one), (other if on_other is None else on_other)
    there = np.asarray(shapely.distance(shapely.points(from_one), second))
    here = np.asarray(shapely.distance(shapely.points(from_other), first))
    i, k = int(np.argmax(there)), int(np.argmax(here))
    if here[k] >= there[i]:
        return float(here[k]), (float(from_other[k, 0]), float(from_other[k, 1]))
    near = second.interpolate(second.project(shapely.Point(from_one[i])))
    return float(there[i]), (near.x, near.y)


def measures_between(before: Pattern, after: Pattern) -> tuple[MeasureBetween, ...]:
    """Return the finished measures of two states: those of the later one in its order, then those that are gone.

    A measure is the same one by its name and by the edges that it runs along.
    """
    old, new = finished_measures(before), finished_measures(after)
    pairs = sorted(
        ((_likeness(one, two, after), i, k) for i, one in enumerate(old) for k, two in enumerate(new)),
        key=lambda row: (-row[0], row[1], row[2]),
    )
    of_new: dict[int, int] = {}
    for likeness, i, k in pairs:
        if likeness > 0.0 and k not in of_new and i not in of_new.values():
            of_new[k] = i
    made = [MeasureBetween(old[of_new[k]] if k in of_new else None, two) for k, two in enumerate(new)]
    met = set(of_new.values())
    return (*made, *(MeasureBetween(one, None) for i, one in enumerate(old) if i not in met))


def _likeness(one: FinishedMeasure, other: FinishedMeasure, later: Pattern) -> float:
    """How surely two measures are the same one: by name first, then by the edges; 0: they are not."""
    if one.kind != other.kind:
        return 0.0
    a, b = {later.resolve(e) for e in one.edges}, {later.resolve(e) for e in other.edges}
    shared = len(a & b) / len(a | b) if a or b else 0.0
    if one.name == other.name:
        return 2.0 + shared
    return shared if shared >= LEAST_SHARED else 0.0


def _marked_alike(before: Piece, after: Piece, shift: Pt) -> bool:
    return _alike(_marks(before, shift), _marks(after, (0.0, 0.0)))


def _marks(piece: Piece, shift: Pt) -> list[tuple[str, Pt]]:
    """Notches, marks and points of darts as words and places, in a steady order."""
    rows: list[tuple[str, Pt]] = []
    for notch in piece.notches:
        edge = piece.edge(notch.at.edge)
        rows.append((f"notch {notch.id} {notch.count}", edge.path.point_at(edge.mm_of(notch.at))))
    for mark in piece.marks:
        rows += [(f"{mark.kind} {mark.id} {k}", point) for k, point in enumerate(mark.points)]
    rows += [(f"dart {dart.id}", dart_apex(piece, dart)) for dart in piece.darts]
    return sorted((words, (x + shift[0], y + shift[1])) for words, (x, y) in rows)


def _alike(some: list[tuple[str, Pt]], others: list[tuple[str, Pt]]) -> bool:
    return len(some) == len(others) and all(
        words == same and distance(p, q) <= ALIKE_MM
        for (words, p), (same, q) in zip(some, others, strict=True)
    )


def _shifted(points: Points, shift: Pt) -> Points:
    out: Points = points + np.asarray(shift)
    return out


def _from_to(p: Pt, q: Pt) -> Pt:
    return (q[0] - p[0], q[1] - p[1])


def _middle(piece: Piece) -> Pt:
    x0, y0, x1, y1 = piece.outline.bounds
    return ((x0 + x1) / 2.0, (y0 + y1) / 2.0)


def counted(pieces: Iterable[PieceBetween]) -> Mapping[How, int]:
    """Return how many pieces are the same, changed, added and removed."""
    found: dict[How, int] = {"same": 0, "changed": 0, "added": 0, "removed": 0}
    for one in pieces:
        found[one.how] += 1
    return found
