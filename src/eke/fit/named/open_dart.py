"""Open a dart that was traced sewn shut: the piece turns about the dart's point until the dart takes up what it did.

A line that was traced from an edge inwards is where the dart is sewn. Every edge keeps its length, and both legs are as
long as that line; folded shut, what lies beside the dart is again as it was traced. A piece with a dart sewn shut does
not lie flat beyond the dart's point, and nothing on paper says where it gave: so the rest is hinged at two places of the
outline, about square to the dart and at corners where there are any, and gains the bulge between them.

Params
------
mark, or edge with fraction or mm (from_end) or notch, and apex
    The line that was traced; or its place on an edge, and the dart's point [x, y].
intake_mm
    What was measured across the dart at the edge, on the wrong side.
measured
    "whole" (where not said): from leg to leg, opened out; "folded": as it lies folded, half of that.
pressed
    Towards which leg it is pressed, counter-clockwise: "first" (where not said) or "second".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Final, Literal, cast

from shapely.geometry import Point, Polygon

from eke.changes import Context, child_id
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.hinge import NEAREST_PIVOT_MM, WIDEST_DEG, stays_inside
from eke.fit.named.darts import LEAST_LEG_MM
from eke.fit.parts import (
    END_MM,
    At,
    Opening,
    Rearranged,
    Stretch,
    as_end,
    as_start,
    edges_of,
    holds_grain,
    nearest_region,
    rearranged,
    region,
    seams_over,
)
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
from eke.geometry import Move, Pt, looks_straight
from eke.geometry.segments import distance, unit
from eke.pattern.model import Dart, EdgeId, Pattern, Piece

MOST_SLANTED_DEG: Final = 80
"""The places where the piece is hinged lie within so much of square to the dart."""
STEP_DEG: Final = 2
CORNER_COST: Final = 2.0
"""What hinging costs, in degrees of slant that it is worth: at a corner, where no line bends …"""
CURVE_COST: Final = 14.0
"""… in a curve …"""
STRAIGHT_COST: Final = 32.0
"""… and in a straight line, which would be straight no longer."""
FOLD_COST: Final = 60.0
"""At the end of a fold, whose neighbour would be square to it no longer: less and less over …"""
FOLD_REACH_MM: Final = 80.0
"""… so much of that neighbour, which would leave the fold square but not the line square to it."""
OWN_COST: Final = 34.0
"""On the dart's own edge."""
APART_MM: Final = 40.0
"""So far from the dart's mouth its edge is not bent."""

Pressed = Literal["first", "second"]


@dataclass(frozen=True, slots=True)
class _Hinges:
    """The two places where the piece is hinged: behind the mouth and ahead of it, counter-clockwise."""

    behind: At
    ahead: At
    cost: float


def open_dart(
    pattern: Pattern, line: TracedLine, intake_mm: float, pressed: Pressed, change_id: str
) -> Pattern:
    """Return the pattern with a dart opened along a traced line that begins at an edge.

    Raises
    ------
    BadInput
        When the line reaches no edge, or is too short; or the dart is wider than it can be, with the most that works.
    BadShape
        When the outline would cross itself.
    """
    mouth, behind, ahead = hinges_of(line, intake_mm)
    piece, edge, apex = line.piece, line.piece.edges[mouth.index], line.end
    ids = [EdgeId(child_id(edge.id, change_id, label)) for label in ("leg1", "leg2")]
    dart = Dart(child_id(edge.id, change_id, "dart"), ids[0], ids[1], pressed)
    made = _opened(without_mark(piece, line.mark), mouth, behind, ahead, apex, dart, change_id)
    return seams_over(pattern.with_piece(made.piece), made.parted)


def hinges_of(line: TracedLine, intake_mm: float) -> tuple[At, At, At]:
    """Return where a dart opens, and where its piece is hinged behind the mouth and ahead of it, counter-clockwise.

    Raises
    ------
    BadInput
        As :func:`open_dart`.
    """
    piece, mouth = line.piece, line.at_start
    if mouth is None:
        name, mm = nearest_edge(piece, line.start)
        far, off = nearest_edge(piece, line.end)
        near, gap = (name, mm) if mm <= off else (far, off)
        raise BadInput(
            f"This line reaches no edge of “{piece.name}”: it ends {gap:.0f} mm from “{near}”. Let it begin there, or mark it as "
            "a dart inside the piece.",
            nearest_mm=gap,
        )
    if line.at_end is not None:
        raise BadInput(
            f"This line runs across “{piece.name}” from edge to edge, and a dart ends inside. Open it as a tuck or pleat, or "
            "draw it shorter."
        )
    edge = piece.edges[mouth.index]
    if edge.kind == "fold":
        raise BadInput(
            f"“{piece.name}” lies on a fold there, and a fold stays straight. Choose another edge."
        )
    between_ends(piece, mouth)
    apex, start = line.end, line.start
    leg = distance(start, apex)
    if leg < LEAST_LEG_MM:
        raise BadInput(
            f"A dart of {leg:.0f} mm cannot be sewn to a point; it is {LEAST_LEG_MM:g} mm or longer."
        )
    if not Polygon(piece.outline.flatten()).contains(Point(apex)):
        raise BadInput(f"The point of the dart lies outside “{piece.name}”. Choose a place on the piece.")
    stays_inside(piece, start, apex)
    most = 2.0 * leg * math.sin(math.radians(WIDEST_DEG / 2.0))
    if intake_mm > most:
        raise BadInput(
            f"A dart {leg:.0f} mm long cannot take up {intake_mm:g} mm: its legs would stand more than {WIDEST_DEG:g}° apart. "
            f"Up to {most:.0f} mm in all works.",
            most_mm=most,
        )
    angle = 2.0 * math.degrees(math.asin(intake_mm / (2.0 * leg)))
    found = _hinges(piece, mouth, start, apex, angle)
    if found is None:
        raise BadInput(
            f"“{piece.name}” cannot be opened at that point: it lies too near to an edge or a fold on one side of the dart. "
            f"Let the dart end {NEAREST_PIVOT_MM:g} mm or more from them."
        )
    return mouth, found.behind, found.ahead


def _opened(
    piece: Piece, mouth: At, hinge_behind: At, hinge_ahead: At, apex: Pt, dart: Dart, change_id: str
) -> Rearranged:
    """Hinge both sides of the dart until their points are one again: the mirror image of the point in the hinges."""
    one, two = point_at(piece, hinge_behind), point_at(piece, hinge_ahead)
    new_apex = Move.mirror(one, two).apply(apex)
    behind, ahead = Move.between(one, apex, one, new_apex), Move.between(two, apex, two, new_apex)
    stops, starts = as_end(piece, hinge_ahead), as_start(piece, hinge_ahead)
    closes, begins = as_end(piece, hinge_behind), as_start(piece, hinge_behind)
    parts = ((mouth, stops, ahead), (starts, closes, Move()), (begins, mouth, behind))
    cloths = [region(piece, a, b, (apex,)) for a, b, _ in parts]
    stays = next(
        (k for k, (a, b, _) in enumerate(parts) if holds_grain(piece, cloths[k], edges_of(piece, a, b))), 1
    )
    back = parts[stays][2].inverse()
    moves = [Move() if k == stays else move.then(back) for k, (_, _, move) in enumerate(parts)]
    return rearranged(
        piece,
        [Stretch(a, b, move) for (a, b, _), move in zip(parts, moves, strict=True)],
        (None, None, Opening(dart, back.apply(new_apex))),
        nearest_region(list(zip(cloths, moves, strict=True))),
        change_id,
    )


def _hinges(piece: Piece, mouth: At, start: Pt, apex: Pt, angle_deg: float) -> _Hinges | None:
    """The least harmful of the pairs of places: seen from the point they stand half the dart's angle less than 180° apart,
    so that turning about both opens the dart by all of it."""
    half = 90.0 - angle_deg / 4.0
    towards = unit(apex, start)
    slants = {float(s) for s in range(-MOST_SLANTED_DEG, MOST_SLANTED_DEG + 1, STEP_DEG)}
    for edge in piece.edges:
        if distance(edge.path.start, apex) < NEAREST_PIVOT_MM:
            continue
        way = unit(apex, edge.path.start)
        turned = math.degrees(
            math.atan2(towards[0] * way[1] - towards[1] * way[0], towards[0] * way[0] + towards[1] * way[1])
        )
        slants |= {s for s in (turned - half, turned + half) if abs(s) <= MOST_SLANTED_DEG}
    best: _Hinges | None = None
    for slant in sorted(slants, key=lambda s: (abs(s), s)):
        ways = [Move.rotation(slant + side * half).apply_vector(towards) for side in (-1.0, 1.0)]
        met = [first_met(piece, apex, way) for way in ways]
        if met[0] is None or met[1] is None:
            continue
        costs = [_cost(piece, mouth, at, reach) for at, reach in (met[0], met[1])]
        if None in costs:
            continue
        cost = abs(slant) + sum(c for c in costs if c is not None)
        if best is None or cost < best.cost - 1e-6:
            best = _Hinges(_snapped(piece, met[0][0]), _snapped(piece, met[1][0]), cost)
    return best


def _snapped(piece: Piece, at: At) -> At:
    """The corner itself, where the place lies on it but for rounding."""
    length = piece.edges[at.index].path.length_mm
    if at.mm <= 1e-3:
        return At(at.index, 0.0)
    return At(at.index, length) if at.mm >= length - 1e-3 else at


def _cost(piece: Piece, mouth: At, at: At, reach: float) -> float | None:
    """What it costs to hinge the piece there; nothing: it cannot be done."""
    edge = piece.edges[at.index]
    length = edge.path.length_mm
    if reach < NEAREST_PIVOT_MM:
        return None
    if at.mm <= 1e-3 or at.mm >= length - 1e-3:
        other = piece.edges[(at.index + (1 if at.mm > 1e-3 else -1)) % len(piece.edges)]
        return FOLD_COST if "fold" in (edge.kind, other.kind) else CORNER_COST
    if at.mm < END_MM * 2.0 or at.mm > length - END_MM * 2.0:
        return None  # beside a corner, not on it
    if edge.kind == "fold" or any(edge.id in (d.first_leg, d.second_leg) for d in piece.darts):
        return None
    beside = (
        (piece.edges[at.index - 1], at.mm),
        (piece.edges[(at.index + 1) % len(piece.edges)], length - at.mm),
    )
    near = min((mm for other, mm in beside if other.kind == "fold"), default=FOLD_REACH_MM)
    cost = FOLD_COST * max(0.0, 1.0 - near / FOLD_REACH_MM)
    if at.index == mouth.index:
        return cost + OWN_COST if abs(at.mm - mouth.mm) >= APART_MM else None
    return cost + (STRAIGHT_COST if looks_straight(edge.path) else CURVE_COST)


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    pressed = cast(Pressed, read.word(params, "pressed", ("first", "second"), "first"))
    line = traced_line(state, params)
    with as_measured(folds(params)):
        return open_dart(state, line, whole_intake_mm(params), pressed, context.record_id)


def _say(params: read.Params) -> str:
    where = read.called(params, "a piece")
    return f"Opened a traced dart of {said_intake(params)} at {where}"


KIND = read.named("fit.open_dart", _apply, _say, "mark", "edge")
