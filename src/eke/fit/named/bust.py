"""Give a front more room over the bust (full bust), or less (small bust), with a dart.

The front is slashed from the hem or waist up to the bust point and on to the armhole, and from the bust point to the
side. The upper side part swings about its place on the armhole, the lower side part goes out with it parallel, and
the part below the bust at the centre goes down to match. Armhole, shoulder and neck keep their lengths; a dart at the
side takes up what the side gained, so that it still fits the back; the hem is wider by the amount (take it in at the
side, or in a waist dart, where that is not wanted). A small bust is the same with the sign turned: the dart gets
smaller, and the centre shorter.

Params
------
edge, with fraction or mm (from_end)
    The place on the hem or waist where the slash begins: below the bust point.
by_mm
    How much wider at the bust, on this half: half of what is missing on the body. Below 0 is a small bust.
armhole
    {edge, notch or fraction or mm}: where the slash ends on the armhole.
dart
    The bust dart at the side, whose point is the bust point; or
side, apex
    where there is none: {edge, fraction or mm} the place on the side where it opens, and the bust point [x, y].
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any, Final

from shapely.geometry import LineString, Point, Polygon

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.lines import down_of
from eke.fit.parts import (
    At,
    Opening,
    Stretch,
    as_end,
    as_start,
    nearest_region,
    rearranged,
    region,
    seams_over,
)
from eke.geometry import Move, Path, Pt, intersections
from eke.geometry.segments import distance
from eke.pattern.corners import called, dart_angle_deg, dart_apex, index_of
from eke.pattern.darts import dart_of
from eke.pattern.model import Dart, EdgeId, Pattern, Piece

MOST_MM: Final = 80.0
"""More than this on one half is another size, not a change of this one."""
LEAST_DART_DEG: Final = 0.3
"""A dart that is left with less has vanished."""


def bust(
    pattern: Pattern,
    piece: Piece,
    low: At,
    by_mm: float,
    armhole: At,
    dart: Dart | None,
    side: At | None,
    apex: Pt,
    change_id: str,
) -> Pattern:
    """Return the pattern with ``piece`` wider by ``by_mm`` at the bust point ``apex`` (below 0: narrower).

    Raises
    ------
    BadInput
        When the places do not lie round the bust point as they must, or the dart would be turned inside out; the
        message says how much would go.
    """
    down = down_of(piece)
    hinge_at = piece.edges[armhole.index].path.point_at(armhole.mm)
    out = _outwards(down, apex, _mouth(piece, dart, side))
    up_mm = -((hinge_at[0] - apex[0]) * down[0] + (hinge_at[1] - apex[1]) * down[1])
    out_mm = (hinge_at[0] - apex[0]) * out[0] + (hinge_at[1] - apex[1]) * out[1]
    if up_mm < 20.0 or out_mm < 0.0:
        raise BadInput("The place on the armhole lies above the bust point and on its outer side.")
    if dart is None and by_mm < 0.0:
        raise BadInput("A small bust makes the bust dart smaller. Say which dart that is.")
    if dart is not None:
        now = dart_angle_deg(piece, dart)
        most = _narrower_by(now - LEAST_DART_DEG, up_mm, out_mm)
        if by_mm < -most:
            raise BadInput(
                f"The dart of {now:.1f}° would be used up. It can go {math.floor(most)} mm narrower; take the rest out "
                "elsewhere.",
                most_mm=most,
            )
    turn_deg = _turn_for(by_mm, up_mm, out_mm)
    swing = Move.rotation(turn_deg if out[0] * -down[1] - out[1] * -down[0] > 0.0 else -turn_deg, hinge_at)
    # where the bust point goes with the upper side part; all below goes with it without turning
    swung = swing.apply(apex)
    shift = (swung[0] - apex[0], swung[1] - apex[1])
    lower = Move.translation(*shift)
    fall = shift[0] * down[0] + shift[1] * down[1]
    centre = Move.translation(fall * down[0], fall * down[1])
    level = _level_at_centre(piece, apex, out)
    # the outline from the low place, outwards round the side to the armhole, on to the centre, and down again
    plan = _Plan(piece, low, armhole, dart, side, level)
    moves = {"lower": lower, "upper": swing, "stays": Move(), "centre": centre}
    stretches, joints, regions = plan.stretches(moves, apex, swung, change_id)
    made = rearranged(piece, stretches, joints, nearest_region(regions), change_id, keep_straight=True)
    return seams_over(pattern.with_piece(made.piece), made.parted)


class _Plan:
    """The order of the places round the piece, for a front drawn either way round."""

    def __init__(
        self, piece: Piece, low: At, armhole: At, dart: Dart | None, side: At | None, level: At
    ) -> None:
        self.piece, self.low, self.armhole, self.level = piece, low, armhole, level
        self.dart, self.side = dart, side
        # counter-clockwise from the low place: is the armhole met before the level at the centre?
        self.outwards_first = self._round(armhole) < self._round(level)
        middle = self._dart_places()
        order = [self._round(middle[0]), self._round(middle[1])]
        span = sorted((0.0 if self.outwards_first else self._whole, self._round(armhole)))
        if not all(span[0] < o < span[1] for o in order):
            raise BadInput("The dart opens on the side, between the hem and the armhole.")

    @property
    def _whole(self) -> float:
        return self.piece.outline.length_mm

    def _round(self, at: At) -> float:
        def whole(place: At) -> float:
            return sum(e.path.length_mm for e in self.piece.edges[: place.index]) + place.mm

        return (whole(at) - whole(self.low)) % self._whole

    def _dart_places(self) -> tuple[At, At]:
        """The ends of the two stretches beside the dart's mouth, counter-clockwise."""
        if self.dart is None:
            assert self.side is not None  # one of the two is given
            return self.side, self.side
        one, two = index_of(self.piece, self.dart.first_leg), index_of(self.piece, self.dart.second_leg)
        count = len(self.piece.edges)
        return At((one - 1) % count, self.piece.edges[one - 1].path.length_mm), At((two + 1) % count, 0.0)

    def stretches(
        self, moves: dict[str, Move], apex: Pt, swung: Pt, change_id: str
    ) -> tuple[list[Stretch], list[Opening | None], list[tuple[Polygon, Move]]]:
        piece = self.piece
        first, second = self._dart_places()
        opened = self.dart or _new_dart(piece.edges[first.index].id, change_id)
        ccw = [
            ("lower", self.low, first),
            ("upper", second, as_end(piece, self.armhole)),
            ("stays", as_start(piece, self.armhole), self.level),
            ("centre", self.level, self.low),
        ]
        if not self.outwards_first:
            ccw = [
                ("centre", self.low, self.level),
                ("stays", self.level, as_end(piece, self.armhole)),
                ("upper", as_start(piece, self.armhole), first),
                ("lower", second, self.low),
            ]
        before_dart = "lower" if self.outwards_first else "upper"
        stretches = [Stretch(a, b, moves[part]) for part, a, b in ccw]
        joints: list[Opening | None] = [
            Opening(opened, swung) if part == before_dart else None for part, _, _ in ccw
        ]
        regions = [(region(piece, a, b, (apex,)), moves[part]) for part, a, b in ccw]
        return stretches, joints, regions


def _turn_for(by_mm: float, up_mm: float, out_mm: float) -> float:
    """The turn about the armhole that carries the bust point ``by_mm`` outwards."""
    reach = math.hypot(up_mm, out_mm)
    # the bust point lies below and inside the hinge: at this angle from straight down
    lean = math.atan2(-out_mm, up_mm)
    target = (-out_mm + by_mm) / reach
    if not -1.0 < target < math.sin(math.radians(60.0)):
        raise BadInput(f"With this place on the armhole {by_mm:g} mm is too much. Choose one higher up.")
    return math.degrees(math.asin(target) - lean)


def _narrower_by(angle_deg: float, up_mm: float, out_mm: float) -> float:
    """How far inwards the bust point goes when that angle is turned back."""
    turned = math.atan2(-out_mm, up_mm) - math.radians(max(angle_deg, 0.0))
    return -math.hypot(up_mm, out_mm) * math.sin(turned) - out_mm


def _outwards(down: Pt, apex: Pt, mouth: Pt) -> Pt:
    """The unit vector across the grain, from the bust point to the side where the dart opens."""
    across = (-down[1], down[0])
    along = (mouth[0] - apex[0]) * across[0] + (mouth[1] - apex[1]) * across[1]
    return across if along > 0.0 else (-across[0], -across[1])


def _mouth(piece: Piece, dart: Dart | None, side: At | None) -> Pt:
    """Where on the side the dart opens."""
    if dart is not None:
        return piece.edge(dart.first_leg).path.start
    assert side is not None  # one of the two is given
    return piece.edges[side.index].path.point_at(side.mm)


def _level_at_centre(piece: Piece, apex: Pt, out: Pt) -> At:
    """Where the level line through the bust point meets the centre."""
    xa, ya, xb, yb = piece.outline.bounds
    reach = math.hypot(xb - xa, yb - ya) + 1.0
    line = Path.line(apex, (apex[0] - reach * out[0], apex[1] - reach * out[1]))
    met = [
        (m.at_b_mm, At(k, m.at_a_mm)) for k, e in enumerate(piece.edges) for m in intersections(e.path, line)
    ]
    # the point of a dart lies on the outline itself
    inner = sorted((far, at.index, at.mm) for far, at in met if far > 1.0)
    if not inner:
        raise BadInput(f"The bust point does not lie on “{piece.name}”.")
    _, index, mm = inner[0]
    return At(index, mm)


def _new_dart(edge_id: EdgeId, change_id: str) -> Dart:
    child = Context(change_id).child_id
    return Dart(child(edge_id, "dart"), EdgeId(child(edge_id, "leg1")), EdgeId(child(edge_id, "leg2")))


def _sees(piece: Piece, apex: Pt, at: At, what: str) -> None:
    spot = piece.edges[at.index].path.point_at(at.mm)
    if distance(apex, spot) < 20.0:
        raise BadInput(f"The bust point is too near to {what}.")
    if not Polygon(piece.outline.flatten()).buffer(0.5).covers(LineString([apex, spot])):
        raise BadInput(f"The slash from the bust point to {what} would leave “{piece.name}”.")


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, edge, low = read.place_on(state, params)
    by_mm = read.number(params, "by_mm")
    if not 0.1 <= abs(by_mm) <= MOST_MM:
        raise BadInput(f"Say how much wider on this half, up to {MOST_MM:g} mm. More is another size.")
    other, _, armhole = read.place_on(state, read.part(params, "armhole"))
    dart, side = None, None
    if params.get("dart") is not None:
        third, dart = dart_of(state, read.text(params, "dart"))
        apex = dart_apex(third, dart)
    else:
        third, _, side = read.place_on(state, read.part(params, "side"))
        apex = read.point(params, "apex")
    if {other.id, third.id} != {piece.id}:
        raise BadInput(f"All places lie on one piece, “{piece.name}”.")
    if not Polygon(piece.outline.flatten()).buffer(0.1).contains(Point(apex)):
        raise BadInput(f"The bust point lies outside “{piece.name}”.")
    if not 1.0 < low.mm < edge.path.length_mm - 1.0:
        raise BadInput(f"The slash begins between the ends of “{called(piece, edge)}”.")
    for at, what in ((low, "the hem"), (armhole, "the armhole"), *(((side, "the side"),) if side else ())):
        _sees(piece, apex, at, what)
    return bust(state, replace(piece), low, by_mm, armhole, dart, side, apex, context.record_id)


def _say(params: read.Params) -> str:
    done = "more room" if read.over(params, "by_mm") else "less room"
    return f"Gave a front {done} over the bust: {read.mm(params, 'by_mm')} on each half"


KIND = read.named("fit.bust", _apply, _say, "edge", "armhole", "dart", "side")
