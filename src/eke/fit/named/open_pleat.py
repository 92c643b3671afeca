"""Open a tuck or pleat that was traced shut: the piece is spread along its line by what it takes up.

A line from edge to edge is spread alike all along, or by another amount at its other end. A line from an edge inwards is
sewn or held only so far, and the cloth is released below it: the piece is spread to nothing at the edge that the line
runs on to, unless an amount is said for there too. The outline across the pleat is trued as folded. Walking folds it
shut, so that every seam is as long as it was.

Params
------
mark, or edge with fraction or mm (from_end) or notch, and to or apex
    The line that was traced; or its place on an edge, and the place on another edge that it runs to, or the point [x, y]
    where its stitching ends.
intake_mm
    What was measured across it where the line begins, on the wrong side.
far_mm
    The same at the other edge; where not said, as much for a line from edge to edge and nothing for one that ends inside.
measured
    "whole" (where not said): all that it takes up; "folded": its depth as it lies folded, half of that.
how
    "pleat" (where not said): folded and held at the edge; "tuck": sewn along its line.
pressed
    On which side its fold lies, counter-clockwise at the edge: "first" (where not said) or "second".
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final, Literal, cast

from shapely.geometry import Point, Polygon

from eke.changes import Context, child_id
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.hinge import NEAREST_PIVOT_MM, SLANTED, WIDEST_DEG, stays_inside
from eke.fit.parts import At, Inlet, Joint, seams_over
from eke.fit.spread import spread_along, spread_sides
from eke.fit.traced import (
    TracedLine,
    as_measured,
    between_ends,
    first_met,
    folds,
    nearest_edge,
    point_at,
    said_intake,
    traced_line,
    whole_intake_mm,
    without_mark,
)
from eke.geometry import Move, Path, Pt
from eke.geometry.segments import distance, unit
from eke.pattern.corners import called
from eke.pattern.inner_darts import LEAST_MM
from eke.pattern.model import Edge, EdgeId, Mark, Pattern, Piece, Pleat
from eke.pattern.pleats import mouth_paths

MOST_MM: Final = 400.0
"""A pleat that takes up more was mistyped."""
Side = Literal["first", "second"]


def open_pleat(
    pattern: Pattern,
    line: TracedLine,
    intake_mm: float,
    far_mm: float | None,
    how: Literal["tuck", "pleat"],
    pressed: Side,
    change_id: str,
) -> Pattern:
    """Return the pattern with a tuck or pleat opened along a traced line that begins at an edge.

    ``far_mm`` is what it takes up at the other edge; ``None``: as much for a line from edge to edge, else nothing.

    Raises
    ------
    BadInput
        When the line reaches no edge, meets a fold or a corner, or the amounts cannot be spread; with the nearest that can.
    BadShape
        When the outline would cross itself.
    """
    piece = line.piece
    near, far, released = ends_of(line)
    start, end = point_at(piece, near), point_at(piece, far)
    long = distance(start, end)
    other = far_mm if far_mm is not None else (0.0 if released else intake_mm)
    _require_width(max(intake_mm, other))
    if other < 0.0:
        raise BadInput("At its other end it takes up nothing, or more: 0 mm or above.", least_mm=0.0)
    if other < LEAST_MM:
        other = 0.0
    most = 2.0 * long * math.sin(math.radians(WIDEST_DEG / 2.0))
    if abs(intake_mm - other) > most:
        raise BadInput(
            f"That would turn the piece by more than {WIDEST_DEG:g}°. Between both ends of a line of {long:.0f} mm the amounts "
            f"may differ by {most:.0f} mm: up to {other + most:.0f} mm where it begins.",
            most_mm=other + most,
        )
    moves, _ = spread_sides(piece, near, far, intake_mm, other)
    behind, ahead = moves
    # from here on all is where it ends up: the first line on the side behind the mouth, the second ahead of it
    ends = [(behind.apply(p), ahead.apply(p)) for p in (start, end)]
    middle = [((p[0] + q[0]) / 2.0, (p[1] + q[1]) / 2.0) for p, q in ends]
    crease = unit(middle[0], middle[1])
    one, two = piece.edges[near.index], piece.edges[far.index]
    ids = [EdgeId(child_id(one.id, change_id, f"pleat {k}")) for k in range(4)]
    across = mouth_paths(
        _before(piece, near, behind),
        _after(piece, near, ahead),
        opened(behind, ahead),
        middle[0],
        crease,
        under_before=pressed == "first",
    )
    joints: list[Joint] = [None, Inlet(_mouth(one, across, (ids[0], ids[1])))]
    mouths = [(ids[0], ids[1])]
    if other > 0.0:
        across = mouth_paths(
            _before(piece, far, ahead),
            _after(piece, far, behind),
            opened(ahead, behind),
            middle[1],
            crease,
            under_before=pressed == "second",
        )
        joints[0] = Inlet(_mouth(two, across, (ids[2], ids[3])))
        mouths.append((ids[2], ids[3]))
    made = spread_along(without_mark(piece, line.mark), near, far, intake_mm, other, change_id, joints)
    to = line.end if released else end
    marks = _marks(piece, (start, to), moves, middle[0], crease, how, pressed, ids[0], change_id)
    pleat = Pleat(child_id(one.id, change_id, how), tuple(mouths), marks[0].id, marks[1].id, pressed)
    opened_piece = replace(made.piece, marks=(*made.piece.marks, *marks), pleats=(*made.piece.pleats, pleat))
    return seams_over(pattern.with_piece(opened_piece), made.parted)


def ends_of(line: TracedLine) -> tuple[At, At, bool]:
    """Return where a line begins and ends on the outline, and whether it was drawn only part of the way.

    Raises
    ------
    BadInput
        When it begins at no edge, or meets a fold, a corner, or an edge along which it runs.
    """
    piece, near, far = line.piece, line.at_start, line.at_end
    if near is None:
        name, mm = nearest_edge(piece, line.start)
        raise BadInput(
            f"This line reaches no edge of “{piece.name}”: it begins {mm:.0f} mm from “{name}”. A tuck or pleat that is opened "
            "begins at an edge; draw the line on to there.",
            nearest_mm=mm,
        )
    released = far is None
    if far is None:
        if not Polygon(piece.outline.flatten()).contains(Point(line.end)):
            raise BadInput(
                f"The end of the stitching lies outside “{piece.name}”. Choose a place on the piece."
            )
        met = first_met(piece, line.end, unit(line.start, line.end))
        if met is None:
            raise BadInput(
                f"The line, run on, does not meet the outline of “{piece.name}” again. Draw it otherwise."
            )
        far = met[0]
    for at in (near, far):
        edge = piece.edges[at.index]
        if edge.kind == "fold":
            raise BadInput(
                f"“{piece.name}” lies on a fold there, and a fold stays straight. Make it a seam first, or choose another place."
            )
        between_ends(piece, at)
    way = unit(point_at(piece, near), point_at(piece, far))
    for at in (near, far):
        u = piece.edges[at.index].path.tangent_at(at.mm)
        if abs(u[0] * way[1] - u[1] * way[0]) < SLANTED:
            raise BadInput(
                f"The line runs along “{called(piece, piece.edges[at.index])}” rather than away from it, so a pleat there could not "
                "be folded onto it. Let it meet the edge more squarely."
            )
    long = distance(point_at(piece, near), point_at(piece, far))
    if long < NEAREST_PIVOT_MM:
        raise BadInput(
            f"The line is {long:.0f} mm long. A tuck or pleat is {NEAREST_PIVOT_MM:g} mm or longer."
        )
    stays_inside(piece, point_at(piece, near), point_at(piece, far))
    return near, far, released


def _require_width(mm: float) -> None:
    if mm < LEAST_MM:
        raise BadInput(
            f"It takes up {mm:g} mm: nothing opens by that. {LEAST_MM:g} mm or more works.", least_mm=LEAST_MM
        )
    if mm > MOST_MM:
        raise BadInput(
            f"A pleat that takes up {mm:g} mm is more than any that is sewn; up to {MOST_MM:g} mm in all works. Open two.",
            most_mm=MOST_MM,
        )


def opened(one: Move, other: Move) -> Move:
    """Return the move from where one side lies to where the other does: of what lay on each other while it was shut."""
    return one.inverse().then(other)


def _before(piece: Piece, at: At, move: Move) -> Path:
    """The edge up to the mouth, where it ends up."""
    return piece.edges[at.index].path.slice(0.0, at.mm).moved(move)


def _after(piece: Piece, at: At, move: Move) -> Path:
    path = piece.edges[at.index].path
    return path.slice(at.mm, path.length_mm).moved(move)


def _mouth(edge: Edge, paths: tuple[Path, Path], ids: tuple[EdgeId, EdgeId]) -> tuple[Edge, Edge]:
    shared = replace(edge, name="pleat", shape="as traced")
    return replace(shared, id=ids[0], path=paths[0]), replace(shared, id=ids[1], path=paths[1])


def _marks(
    piece: Piece,
    line: tuple[Pt, Pt],
    moves: tuple[Move, Move],
    on_crease: Pt,
    crease: Pt,
    how: str,
    pressed: Side,
    parent: str,
    change_id: str,
) -> tuple[Mark, Mark, Mark]:
    """Both lines that lie on each other, and the one between them where the cloth is folded over."""
    long = distance(*line)
    lines = [tuple(move.apply(p) for p in line) for move in moves]
    middle = (on_crease, (on_crease[0] + long * crease[0], on_crease[1] + long * crease[1]))
    ids = [child_id(parent, change_id, label) for label in ("first", "second", "crease")]
    if how == "tuck":
        told = (("stitch", "sew together"), ("stitch", "sew together"), ("fold", "fold"))
    else:
        over, onto = ("fold", "fold here"), ("stitch", "lay the fold here")
        told = (
            (over, onto, ("fold", "inner fold"))
            if pressed == "first"
            else (onto, over, ("fold", "inner fold"))
        )
    return tuple(  # type: ignore[return-value]
        Mark(id_, kind, tuple(points), name)  # type: ignore[arg-type]
        for id_, (kind, name), points in zip(ids, told, (*lines, middle), strict=True)
    )


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    times = folds(params)
    far = None if params.get("far_mm") is None else read.number(params, "far_mm") * times
    how = cast(Literal["tuck", "pleat"], read.word(params, "how", ("pleat", "tuck"), "pleat"))
    pressed = cast(Side, read.word(params, "pressed", ("first", "second"), "first"))
    with as_measured(times):
        return open_pleat(
            state, traced_line(state, params), whole_intake_mm(params), far, how, pressed, context.record_id
        )


def _say(params: read.Params) -> str:
    what = "tuck" if params.get("how") == "tuck" else "pleat"
    return f"Opened a {what} of {said_intake(params)} at {read.called(params, 'a piece')}"


KIND = read.named("fit.open_pleat", _apply, _say, "mark", "edge", "to")
