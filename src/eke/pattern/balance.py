"""Balance lines: a level line of one name ("waist") over all pieces, meeting itself across every seam.

A line that ends inside its piece is read on, straight, to the first edge it meets, since it is drawn by hand and
often short. On both sides of a seam its distance along the seam from the common end is compared, ease counted, as
for notches (trade value: ±1 mm on paper; a note above the limits of notches).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from eke.changes import child_id
from eke.errors import BadInput, ChangeConflict
from eke.findings import Finding, Fix
from eke.geometry import Path, Pt, intersections
from eke.geometry.segments import distance
from eke.pattern.corners import folds_away
from eke.pattern.measure import Run
from eke.pattern.model import Mark, Pattern, Piece
from eke.pattern.tolerances import Tolerances, graded
from eke.pattern.walking import Walk, walk

REACH_MM: Final = 5000.0
"""A line is read on so far beyond its ends: longer than any piece."""
ON_EDGE_MM: Final = 0.5
"""A line that comes so near to an edge ends on it: a pencil line's width."""
MATE_MM: Final = 60.0
"""Lines of one name that meet a seam farther apart are two different lines, such as a yoke's and a waist's."""


@dataclass(frozen=True, slots=True)
class LineOnRun:
    """A balance line met while walking a run: ``at_mm`` from the run's start, at ``point`` of the piece."""

    mark: Mark
    piece: Piece
    at_mm: float
    point: Pt


@dataclass(frozen=True, slots=True)
class LinePair:
    """A balance line on run A and its mate on run B. ``apart_mm``: how far B's lies from where it should, along B."""

    a: LineOnRun
    b: LineOnRun
    apart_mm: float


def line_name(mark: Mark) -> str:
    """Return the name by which lines belong together: case and spaces at its ends do not count."""
    return " ".join(mark.name.casefold().split())


def read_on(mark: Mark) -> Path:
    """Return a balance line with both its ends read on, straight, beyond any piece.

    Raises
    ------
    BadInput
        When the mark is one point, or all its points are one place.
    """
    points = [p for i, p in enumerate(mark.points) if i == 0 or distance(p, mark.points[i - 1]) > 1e-6]
    if len(points) < 2:
        raise BadInput(f"“{mark.name or 'A balance line'}” is one point; a line needs two.")
    head, tail = _beyond(points[1], points[0]), _beyond(points[-2], points[-1])
    return Path.polyline([head, *points, tail])


def _beyond(before: Pt, end: Pt) -> Pt:
    share = REACH_MM / distance(before, end)
    return (end[0] + share * (end[0] - before[0]), end[1] + share * (end[1] - before[1]))


def meets(piece: Piece, mark: Mark) -> tuple[tuple[str, float, Pt], ...]:
    """Return where a balance line leaves its piece: ``(edge id, mm along that edge, point)``.

    Darts do not count: the line goes on over them. A line that was drawn short is read on from each end to the
    first edge it meets, and no farther, so that it does not reach a part of the piece beyond a gap.
    """
    try:
        line = read_on(mark)
    except BadInput:
        return ()
    start, end = REACH_MM, line.length_mm - REACH_MM
    found = sorted(
        (c.at_b_mm, str(edge.id), c.at_a_mm)
        for edge in piece.edges
        if edge.kind != "fold" and not folds_away(piece, edge.id)
        for c in intersections(edge.path, line)
    )
    within = [f for f in found if start - ON_EDGE_MM <= f[0] <= end + ON_EDGE_MM]
    before = [f for f in found if f[0] < start - ON_EDGE_MM]
    after = [f for f in found if f[0] > end + ON_EDGE_MM]
    kept = list(within)
    if before and _inside(piece, line, start):
        kept.append(before[-1])
    if after and _inside(piece, line, end):
        kept.append(after[0])
    by_id = {str(e.id): e for e in piece.edges}
    return tuple((e, mm, by_id[e].path.point_at(mm)) for _, e, mm in sorted(kept))


def _inside(piece: Piece, line: Path, at_mm: float) -> bool:
    """Whether the line is within the piece at ``at_mm``, by counting how often it came over the outline."""
    crossed = sorted(c.at_b_mm for c in intersections(piece.outline, line))
    places = [mm for i, mm in enumerate(crossed) if i == 0 or mm - crossed[i - 1] > 1e-6]
    if any(abs(mm - at_mm) <= ON_EDGE_MM for mm in places):
        return False  # it ends on an edge: there it has arrived
    return sum(mm < at_mm for mm in places) % 2 == 1


def inside_mm(piece: Piece, line: Path) -> float:
    """Return how much of a line lies within a piece; open darts lie outside and so do not count."""
    at = sorted(c.at_b_mm for c in intersections(piece.outline, line))
    places = [mm for i, mm in enumerate(at) if i == 0 or mm - at[i - 1] > 1e-6]
    return sum(b - a for a, b in zip(places[::2], places[1::2], strict=False))


def lines_on(run: Run) -> tuple[LineOnRun, ...]:
    """Return all balance lines that a run meets, in order."""
    made = []
    for stretch in run.stretches:
        for mark in stretch.piece.marks:
            if mark.kind != "balance" or not line_name(mark):
                continue
            for edge_id, mm, point in meets(stretch.piece, mark):
                if edge_id == stretch.edge.id:
                    along = stretch.path.length_mm - mm if stretch.part.reverse else mm
                    made.append(LineOnRun(mark, stretch.piece, stretch.from_mm + along, point))
    return tuple(sorted(made, key=lambda met: (met.at_mm, met.mark.id)))


def balance_pairs(walked: Walk) -> tuple[LinePair, ...]:
    """Return the balance lines that meet a seam on both sides, nearest to nearest by name."""
    if {p.edge for p in walked.seam.a} == {p.edge for p in walked.seam.b}:
        return ()  # an edge and its own mirror image
    if not any(m.kind == "balance" for s in walked.a.stretches for m in s.piece.marks):
        return ()
    ones, others = lines_on(walked.a), lines_on(walked.b)
    near = sorted(
        (abs(apart), i, j, apart)
        for i, a in enumerate(ones)
        for j, b in enumerate(others)
        if line_name(a.mark) == line_name(b.mark)
        for apart in (b.at_mm - walked.expected_on_b(a.at_mm),)
        if abs(apart) <= MATE_MM
    )
    used_a: set[int] = set()
    used_b: set[int] = set()
    made = []
    for _, i, j, apart in near:
        if i not in used_a and j not in used_b:
            used_a.add(i)
            used_b.add(j)
            made.append(LinePair(ones[i], others[j], apart))
    return tuple(sorted(made, key=lambda pair: pair.a.at_mm))


def balance_findings(walked: Walk, named: str, t: Tolerances) -> Iterator[Finding]:
    """Yield what is wrong with the balance lines of one seam, which is called ``named`` in sentences."""
    seam = walked.seam
    for pair in balance_pairs(walked):
        severity = graded(pair.apart_mm, t.notch_fine_mm, t.notch_note_mm)
        if severity is None:
            continue
        one, other = pair.a, pair.b
        where = [seam.id, one.mark.id, other.mark.id]
        yield Finding(
            "balance-apart",
            severity,
            f"{named}: the {other.mark.name} line of “{other.piece.name}” meets it {abs(pair.apart_mm):.1f} mm from where "
            f"that of “{one.piece.name}” does (limit {t.notch_fine_mm:g} mm).",
            tuple(where),
            other.point,
            pair.apart_mm,
            t.notch_fine_mm,
            (
                *_remedies(seam.id, other, one),
                *(() if one.mark.id == other.mark.id else _remedies(seam.id, one, other)),
                Fix("finding.settle", {"code": "balance-apart", "where": where}, "It is meant"),
            ),
        )


def _remedies(seam_id: str, moved: LineOnRun, mate: LineOnRun) -> Iterator[Fix]:
    params = {"seam": seam_id, "mark": moved.mark.id, "to": mate.mark.id, "at_mm": round(moved.at_mm, 3)}
    name = moved.mark.name
    if moved.mark.id != mate.mark.id:  # a line that meets itself is not cured by moving it as a whole
        yield Fix("balance.match", params, f"Move the {name} line of “{moved.piece.name}”, as level as it is")
    yield Fix(
        "balance.match",
        {**params, "only_end": True},
        f"Move only this end of the {name} line of “{moved.piece.name}”",
    )


# ---------------------------------------------------------------- what a maker can do


def match_line(
    pattern: Pattern,
    seam_id: str,
    mark_id: str,
    to_id: str,
    *,
    at_mm: float | None = None,
    only_end: bool = False,
) -> Pattern:
    """Return the pattern with a balance line moved to where its mate on the other side of the seam wants it.

    Parameters
    ----------
    at_mm
        Where along its own side of the seam the line meets it now; needed only where a line meets both sides.
    only_end
        Only the end at this seam moves, so that the line slants; else it moves as a whole, parallel.

    Raises
    ------
    ChangeConflict
        When these two lines do not meet this seam, one on each side.
    """
    walked = walk(pattern, seam_id)
    choices = []
    for pair in balance_pairs(walked):
        for moved, mate, on_a in ((pair.a, pair.b, True), (pair.b, pair.a, False)):
            if moved.mark.id == mark_id and mate.mark.id == to_id:
                choices.append((0.0 if at_mm is None else abs(moved.at_mm - at_mm), on_a, moved, pair))
    if not choices:
        raise ChangeConflict(
            "These two balance lines do not meet this seam, one on each side.",
            seam=seam_id,
            marks=(mark_id, to_id),
        )
    _, on_a, moved, pair = min(choices, key=lambda c: (c[0], c[1]))
    run = walked.a if on_a else walked.b
    wanted = _wanted_on_a(walked, pair.b.at_mm) if on_a else walked.expected_on_b(pair.a.at_mm)
    to = run.point_at(wanted)[1]
    points = list(moved.mark.points)
    near = 0 if distance(points[0], moved.point) <= distance(points[-1], moved.point) else -1
    if only_end:
        points[near] = to
    else:
        ux, uy = points[1][0] - points[0][0], points[1][1] - points[0][1]
        if near == -1:
            ux, uy = points[-1][0] - points[-2][0], points[-1][1] - points[-2][1]
        norm = math.hypot(ux, uy)
        # across the line only: along it, it stays
        off = ((to[0] - moved.point[0]) * -uy + (to[1] - moved.point[1]) * ux) / norm
        points = [(x - off * uy / norm, y + off * ux / norm) for x, y in points]
    piece = pattern.piece(moved.piece.id)
    mark = replace(moved.mark, points=tuple(points))
    return pattern.with_piece(
        replace(piece, marks=tuple(mark if m.id == mark.id else m for m in piece.marks))
    )


def carry_line(pattern: Pattern, seam_id: str, mark_id: str, change_id: str) -> Pattern:
    """Return the pattern with a balance line carried over a seam: drawn level on the piece at its other side.

    Raises
    ------
    ChangeConflict
        When the line does not meet the seam, or the piece there has a line of that name already.
    """
    walked = walk(pattern, seam_id)
    for run, other, on_a in ((walked.a, walked.b, True), (walked.b, walked.a, False)):
        met = next((m for m in lines_on(run) if m.mark.id == mark_id), None)
        if met is None:
            continue
        at = walked.expected_on_b(met.at_mm) if on_a else _wanted_on_a(walked, met.at_mm)
        piece, (_, y) = other.point_at(at)
        piece = pattern.piece(piece.id)
        if any(m.kind == "balance" and line_name(m) == line_name(met.mark) for m in piece.marks):
            raise ChangeConflict(
                f"“{piece.name}” has a {met.mark.name} line already. Move that one instead.", piece=piece.id
            )
        xa, _, xb, _ = piece.outline.bounds
        level = Path.line((xa - 10.0, y), (xb + 10.0, y))
        xs = sorted(xa - 10.0 + c.at_b_mm for c in intersections(piece.outline, level))
        if len(xs) < 2 or xs[-1] - xs[0] < 1.0:
            raise ChangeConflict(
                f"A level line there only touches a corner of “{piece.name}”. Draw the line on it by hand.",
                piece=piece.id,
            )
        made = Mark(
            child_id(piece.id, change_id, "balance"), "balance", ((xs[0], y), (xs[-1], y)), met.mark.name
        )
        return pattern.with_piece(replace(piece, marks=(*piece.marks, made)))
    raise ChangeConflict("That balance line does not meet this seam.", seam=seam_id, mark=mark_id)


def _wanted_on_a(walked: Walk, b_mm: float) -> float:
    """Return the place on A whose mate is ``b_mm`` on B (halving: it rises with it)."""
    low, high = 0.0, walked.a.length_mm
    for _ in range(60):
        mid = (low + high) / 2.0
        low, high = (mid, high) if walked.expected_on_b(mid) < b_mm else (low, mid)
    return (low + high) / 2.0
