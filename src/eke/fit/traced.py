"""A line that was traced inside a piece: where it reaches the outline, and what was measured there.

A dart, tuck or pleat that is sewn shut shows on a tracing only as the line along which it is sewn. How deep it is was
measured on the wrong side of the garment: as the whole that it takes up, or folded, which is half of that.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Final

from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.hinge import MARGIN_MM
from eke.fit.parts import At
from eke.geometry import Pt, line_crossings
from eke.geometry.segments import unit
from eke.pattern.corners import called
from eke.pattern.inner_darts import LEAST_MM, line_mark
from eke.pattern.model import Pattern, Piece

REACHES_MM: Final = 6.0
"""A line that ends no farther from the outline than this was meant to reach it: a pencil stops a little short."""


@dataclass(frozen=True, slots=True)
class TracedLine:
    """A straight line on a piece: its two ends, and the places on the outline that they reach, where they do."""

    piece: Piece
    start: Pt
    end: Pt
    at_start: At | None
    at_end: At | None
    mark: str | None = None

    def turned_round(self) -> TracedLine:
        """Return it from its other end."""
        return replace(self, start=self.end, end=self.start, at_start=self.at_end, at_end=self.at_start)


def traced_line(pattern: Pattern, params: read.Params) -> TracedLine:
    """Return the line that ``mark`` names, or ``edge`` with a place on it and ``apex`` or ``to``."""
    if params.get("mark") is not None:
        piece, mark = line_mark(pattern, read.text(params, "mark"))
        start, end = mark.points[0], mark.points[-1]
        one, two = _reached(piece, start, end), _reached(piece, end, start)
        line = TracedLine(
            piece,
            start if one is None else point_at(piece, one),
            end if two is None else point_at(piece, two),
            one,
            two,
            mark.id,
        )
        return line if one is not None else line.turned_round()
    piece, _, at = read.place_on(pattern, params)
    start = point_at(piece, at)
    if params.get("apex") is not None:
        return TracedLine(piece, start, read.point(params, "apex"), at, None)
    said = read.part(params, "to")
    other, _, to = read.place_on(pattern, said)
    if other.id != piece.id:
        raise BadInput(
            f"The line stays on one piece; its other end is on “{other.name}”, not on “{piece.name}”."
        )
    return TracedLine(piece, start, point_at(piece, to), at, to)


def nearest_edge(piece: Piece, point: Pt) -> tuple[str, float]:
    """Return what the edge nearest to a point is called, and how far off it lies, mm."""
    found = [(e.path.nearest(point).distance_mm, called(piece, e)) for e in piece.edges]
    mm, name = min(found)
    return name, mm


def whole_intake_mm(params: read.Params, key: str = "intake_mm") -> float:
    """Return what is taken up in all: the number under ``key``, doubled where it was measured folded.

    Raises
    ------
    BadInput
        When it is nothing.
    """
    amount = read.number(params, key)
    if amount < LEAST_MM:
        raise BadInput(
            f"It takes up {amount:g} mm: nothing opens by that. Say what you measured, {LEAST_MM:g} mm or more.",
            least_mm=LEAST_MM,
        )
    return amount * folds(params)


def folds(params: read.Params) -> float:
    """Return 2 where what was measured is the folded depth, and 1 where it is the whole."""
    return 2.0 if read.word(params, "measured", ("whole", "folded"), "whole") == "folded" else 1.0


@contextmanager
def as_measured(times: float) -> Iterator[None]:
    """Tell the nearest amount that works as it was measured: folded, where it was."""
    try:
        yield
    except BadInput as refused:
        most = refused.data.get("most_mm")
        if most is None or times == 1.0:
            raise
        told = float(most) / times
        raise BadInput(f"{refused.message} Folded, that is {told:.0f} mm.", most_mm=told) from None


def said_intake(params: read.Params, key: str = "intake_mm") -> str:
    """Return what was measured in words: "30 mm", or "30 mm (15 mm folded)"."""
    amount = float(params.get(key, 0.0))
    if params.get("measured") == "folded":
        return f"{2.0 * amount:g} mm ({amount:g} mm folded)"
    return f"{amount:g} mm"


def without_mark(piece: Piece, mark_id: str | None) -> Piece:
    """Return the piece without a mark, which has become what it stood for."""
    return replace(piece, marks=tuple(m for m in piece.marks if m.id != mark_id))


def point_at(piece: Piece, at: At) -> Pt:
    """Return the point of a place on the outline."""
    return piece.edges[at.index].path.point_at(at.mm)


def first_met(piece: Piece, start: Pt, way: Pt, least_mm: float = 1.0) -> tuple[At, float] | None:
    """Return where a ray first meets the outline, and how far away; nearer than ``least_mm`` does not count."""
    found = [
        (At(index, mm), along)
        for index, edge in enumerate(piece.edges)
        for mm, p in line_crossings(edge.path, start, way)
        if (along := (p[0] - start[0]) * way[0] + (p[1] - start[1]) * way[1]) > least_mm
    ]
    return min(found, key=lambda f: (f[1], f[0].index)) if found else None


def between_ends(piece: Piece, at: At) -> None:
    """Refuse a place that lies at the end of its edge, where nothing can open."""
    edge = piece.edges[at.index]
    if not MARGIN_MM < at.mm < edge.path.length_mm - MARGIN_MM:
        raise BadInput(
            f"The line meets “{piece.name}” at a corner of “{called(piece, edge)}”. Let it end {MARGIN_MM:g} mm or more beside it."
        )


def _reached(piece: Piece, end: Pt, other: Pt) -> At | None:
    """The place that a line reaches when it is run on a little, or drawn a little shorter."""
    way = unit(other, end)
    met = [
        (abs(along), At(index, mm))
        for index, edge in enumerate(piece.edges)
        for mm, p in line_crossings(edge.path, end, way)
        if abs(along := (p[0] - end[0]) * way[0] + (p[1] - end[1]) * way[1]) <= REACHES_MM
    ]
    return min(met, key=lambda m: (m[0], m[1].index))[1] if met else None
