"""Ways to a remedy at one edge: easing, darts that are there, new darts, wedges; worked out on the pattern."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from eke.fit.advice_draft import Draft, NotHere
from eke.fit.advice_place import Here, about, bust_point, hits, meets, nearest_edge, toward
from eke.fit.adviser import Advice
from eke.fit.hinge import NEAREST_PIVOT_MM
from eke.fit.showing import Remedy
from eke.geometry import Pt
from eke.geometry.segments import distance
from eke.pattern.corners import called, dart_apex, dart_intake_mm, folds_away, turn_deg
from eke.pattern.darts import dart_of
from eke.pattern.model import Dart, Edge, Pattern
from eke.units import format_mm

SHORT_MM: Final = 25.0
"""A dart's point ends so far from the bust point: 25 to 40 mm is generally safe (Erwin 1954)."""
OFF_MM: Final = 40.0
"""A dart whose point is farther than this from the bust point makes a bulge of its own (the other end of that range)."""
DEEP_MM: Final = 80.0
"""How long a dart is where no bust point is marked: 70 to 90 mm (common practice)."""
SHALLOW_MM: Final = 40.0
"""A shorter dart puckers at its point (common practice)."""
CLEAR_MM: Final = 20.0
"""A dart's point nearer to a seam than this is sewn into its allowance, and looks awkward (common practice)."""
POKES_MM: Final = 30.0
"""A dart that is wider pokes at its point; two are better then (common practice)."""
CORNER_MM: Final = 15.0
"""A dart that opens nearer to a corner than this looks like a slip (common practice)."""
MARGIN_MM: Final = 2.0
"""So much of an edge stays on each side of a mouth."""
SQUARE_DEG: Final = 31.0
"""A wedge or a dart leaves its edge at no flatter angle; the wedge itself refuses below 30°."""
ACROSS_DEG: Final = 45.0
"""What lies steeper than this above or below a place does not lie across the piece from it."""
ENDS_AT: Final = (0.5, 0.35, 0.65, 0.2, 0.8)
"""Where a wedge across a piece ends, as shares of the edge there: its middle, or as near to it as can be seen."""


@dataclass(frozen=True, slots=True)
class Case:
    """What a way is worked out for: the place, the remedy, its share of the amount, the cloth.

    ``amount_mm`` is above 0; ``sign`` is below 0 where cloth is let in.
    """

    here: Here
    remedy: Remedy
    advice: Advice
    cloth: str

    @property
    def amount_mm(self) -> float:
        """How much goes on this piece, at a seam in all."""
        return round(abs(self.advice.amount_mm) * (1.0 if self.remedy.length else self.here.share), 2)

    @property
    def sign(self) -> float:
        """1 takes cloth out, −1 lets it in."""
        return 1.0 if self.remedy.factor >= 0.0 else -1.0

    @property
    def reason(self) -> str:
        """What the arithmetic says where it does not suit; empty where it does."""
        return "" if self.advice.sensible else self.advice.reason

    def no(self, why: str) -> NotHere:
        """Say that the remedy is not possible here."""
        return NotHere(self.remedy.does, why)


def into_dart(case: Case) -> Iterator[Draft | NotHere]:
    """Turn the amount into each dart of the piece whose point sees the place: a wedge to its point."""
    here, amount = case.here, case.amount_mm
    if not here.piece.darts:
        yield case.no(f"“{here.piece.name}” has no dart.")
        return
    mm = here.fitted(amount, MARGIN_MM)
    for dart in here.piece.darts:
        yield _into(case, dart, here.mm if mm is None else mm)


def _into(case: Case, dart: Dart, mm: float) -> Draft | NotHere:
    here = case.here
    apex, wide = dart_apex(here.piece, dart), dart_intake_mm(here.piece, dart)
    opens = _opens_at(here, dart)

    def means(after: Pattern, amount: float) -> tuple[str, ...]:
        piece, now = dart_of(after, dart.id)
        told = dart_intake_mm(piece, now)
        said = [f"The dart at {opens} takes up {format_mm(told)} then; now it is {format_mm(wide)}."]
        said += _shorter(after, here)
        if told > POKES_MM:
            said.append(f"Wider than {format_mm(POKES_MM)} it pokes: split it in two afterwards.")
        return tuple(said)

    return Draft(
        f"Turn it into the dart at {opens}",
        "fit.wedge",
        case.amount_mm,
        lambda amount: {
            "edge": here.edge.id,
            "mm": mm,
            "from_end": "start",
            "width_mm": amount,
            "to": {"dart": dart.id},
        },
        f"The dart is {about(distance(here.point, apex))} from the place, and was too small for the roundness below it.",
        means=means,
    )


def _opens_at(here: Here, dart: Dart) -> str:
    at = next(k for k, e in enumerate(here.piece.edges) if e.id == dart.first_leg)
    return f"the {called(here.piece, here.piece.edges[at - 1])}"


def new_dart(case: Case) -> Iterator[Draft | NotHere]:
    """A dart at the place: to the bust point where one is marked, else square into the piece."""
    here, amount = case.here, case.amount_mm
    if here.edge.kind == "fold":
        yield case.no(f"“{here.piece.name}” lies on a fold there, and no dart can be cut into a fold.")
        return
    mm = here.fitted(amount, MARGIN_MM)
    if mm is None:
        yield case.no(
            f"The {here.words} is {about(here.edge.path.length_mm)} long on “{here.piece.name}”; a dart of "
            f"{format_mm(amount)} does not fit there."
        )
        return
    mouth = here.edge.path.point_at(mm)
    bust = bust_point(here.piece)
    point = _pointed(here, mm, mouth, bust)
    if point is None:
        yield case.no(
            f"There is no room for a dart from the {here.words} into “{here.piece.name}”: it would come out of the piece, "
            "or be too short to sew to a point."
        )
        return
    awkward = _awkward(here, mm, mouth, point, bust, amount)
    yield Draft(
        f"A new dart at the {here.words}" + (", pointing to the bust" if bust else ""),
        "fit.add_dart",
        amount,
        lambda taken: {
            "edge": here.edge.id,
            "mm": mm,
            "from_end": "start",
            "intake_mm": taken,
            "apex": [*point],
        },
        f"It looks awkward: {awkward[0]}."
        if awkward
        else "Its point lies clear of seams"
        + (" and near the bust." if bust else ", square to the edge.")
        + " A dart there shows.",
        not awkward,
        lambda after, taken: (*_points_where(here, mouth, point, bust), *(f"Awkward: {a}." for a in awkward)),
    )


def _pointed(here: Here, mm: float, mouth: Pt, bust: Pt | None) -> Pt | None:
    """Where a new dart ends: short of the bust point; else square into the piece as deep as there is room."""
    if bust is not None and distance(mouth, bust) >= SHALLOW_MM + SHORT_MM and here.sees(mouth, bust):
        along = here.edge.path.tangent_at(mm)
        flat = abs(turn_deg((bust[0] - mouth[0], bust[1] - mouth[1]), along))
        if SQUARE_DEG <= flat <= 180.0 - SQUARE_DEG:
            return toward(mouth, bust, distance(mouth, bust) - SHORT_MM)
    x, y = here.edge.path.tangent_at(mm)
    deep = DEEP_MM
    while deep >= SHALLOW_MM:
        point = (mouth[0] - y * deep, mouth[1] + x * deep)
        near = nearest_edge(here, point)
        if here.holds(point) and here.sees(mouth, point) and (near is None or near[1] >= CLEAR_MM):
            return point
        deep -= 5.0
    point = (mouth[0] - y * SHALLOW_MM, mouth[1] + x * SHALLOW_MM)
    return point if here.holds(point) and here.sees(mouth, point) else None


def _points_where(here: Here, mouth: Pt, point: Pt, bust: Pt | None) -> tuple[str, ...]:
    said = [f"It is {about(distance(mouth, point))} long."]
    if bust is not None:
        said.append(f"Its point ends {about(distance(point, bust))} from the bust point.")
    else:
        said.append(
            f"No bust point is marked on “{here.piece.name}”, so it points square to the edge. Mark it in Pattern to have "
            "it point there."
        )
    if (near := nearest_edge(here, point)) is not None:
        said.append(f"From its point to the {called(here.piece, near[0])} it is {about(near[1])}.")
    return tuple(said)


def _awkward(here: Here, mm: float, mouth: Pt, point: Pt, bust: Pt | None, intake: float) -> list[str]:
    """Why a new dart looks awkward, the gravest first; nothing where it does not."""
    said = []
    near = nearest_edge(here, point)
    if near is not None and near[1] < CLEAR_MM:
        said.append(f"its point is only {about(near[1])} from the {called(here.piece, near[0])}")
    if bust is not None and distance(point, bust) > OFF_MM:
        said.append(f"its point ends {about(distance(point, bust))} from the bust and bulges there")
    if any(distance(dart_apex(here.piece, dart), point) < SHORT_MM for dart in here.piece.darts):
        said.append("its point meets the point of a dart that is there")
    if intake > POKES_MM:
        said.append(f"it takes up more than {format_mm(POKES_MM)} and pokes")
    if min(mm, here.edge.path.length_mm - mm) - intake / 2.0 < CORNER_MM:
        said.append(f"it opens less than {format_mm(CORNER_MM)} from the end of the {here.words}")
    return said


def to_armhole(case: Case) -> Iterator[Draft | NotHere]:
    """Lap from the place to nothing at about the middle of the edge across the piece, the one most level with it."""
    here = case.here
    found = []
    for edge in here.piece.edges:
        if edge.id == here.edge.id or edge.kind == "fold" or folds_away(here.piece, edge.id):
            continue
        if meets(here, edge) is None and (end := _end_across(here, edge)) is not None:
            found.append((*end, edge.id))
    if not found:
        yield case.no(f"Nothing lies across “{here.piece.name}” from there for a wedge to end at.")
        return
    _, share, edge_id = min(found)
    edge = here.piece.edge(edge_id)
    middle = "the middle of " if share == ENDS_AT[0] else ""
    yield _wedge(
        case, edge.id, edge.path.length_mm * share, f"{middle}the {called(here.piece, edge)}", "across"
    )


def _end_across(here: Here, edge: Edge) -> tuple[float, float] | None:
    """Return (degrees from level, share of the edge) of the first place in :data:`ENDS_AT` that a wedge can end at."""
    for share in ENDS_AT:
        point = edge.path.point_at(edge.path.length_mm * share)
        way = (point[0] - here.point[0], point[1] - here.point[1])
        off = abs(math.degrees(math.atan2(way[1], abs(way[0]))))
        flat = abs(turn_deg(way, here.edge.path.tangent_at(here.mm)))
        if (
            off <= ACROSS_DEG
            and SQUARE_DEG <= flat <= 180.0 - SQUARE_DEG
            and here.sees(here.point, point)
            and distance(here.point, point) >= NEAREST_PIVOT_MM
        ):
            return off, share
    return None


def level(case: Case) -> Iterator[Draft | NotHere]:
    """A wedge at the place to nothing at the edge that lies level with it."""
    x = case.here.inwards[0]
    met = hits(case.here, (1.0 if x >= 0.0 else -1.0, 0.0))
    if met is None:
        yield case.no(f"Nothing lies level with that place on “{case.here.piece.name}”.")
        return
    yield _wedge(case, met[0].id, met[1], f"the {called(case.here.piece, met[0])}", "level")


def to_hem(case: Case) -> Iterator[Draft | NotHere]:
    """Lap from the place straight down, to nothing at the hem."""
    met = hits(case.here, (0.0, -1.0))
    if met is None or folds_away(case.here.piece, met[0].id):
        yield case.no(f"No hem lies straight below that place on “{case.here.piece.name}”.")
        return
    yield _wedge(case, met[0].id, met[1], f"the {called(case.here.piece, met[0])}", "down")


def _wedge(case: Case, to_edge: str, to_mm: float, to_words: str, way: str) -> Draft | NotHere:
    here = case.here
    fitted = here.fitted(case.amount_mm if case.sign > 0.0 else 0.0, MARGIN_MM)
    mm = here.mm if fitted is None else fitted
    ends_at = here.piece.edge(to_edge).path.point_at(to_mm)
    turns = math.degrees(
        2.0 * math.asin(min(1.0, case.amount_mm / 2.0 / max(distance(here.point, ends_at), case.amount_mm)))
    )
    kept = (
        "The width below stays" if way != "down" else "The width below goes too, in proportion to the height"
    )
    return Draft(
        f"{'Lap' if case.sign > 0.0 else 'Spread'} from the {here.words} to nothing at {to_words}",
        "fit.wedge",
        case.amount_mm,
        lambda amount: {
            "edge": here.edge.id,
            "mm": mm,
            "from_end": "start",
            "width_mm": case.sign * amount,
            "to": {"edge": to_edge, "mm": min(max(to_mm, 0.0), here.piece.edge(to_edge).path.length_mm)},
        },
        case.reason or f"{kept}; the part beyond turns by about {turns:.1f}°.",
        case.advice.sensible,
        lambda after, amount: _shorter(after, here),
    )


def _shorter(after: Pattern, here: Here) -> tuple[str, ...]:
    """How much the edge, redrawn smooth across the wedge, loses or gains; nothing where it is no longer one edge."""
    told = _length(after, here) - here.edge.path.length_mm
    if told == -here.edge.path.length_mm:
        return ()
    more = "shorter" if told < 0.0 else "longer"
    return (
        f"Redrawn smooth, the {here.words} of “{here.piece.name}” is {format_mm(abs(told))} {more} then.",
    )


def _length(after: Pattern, here: Here) -> float:
    """Length of the edge in a pattern where it may have been changed, 0 where it is no longer one edge."""
    found = [e for p in after.pieces.values() for e in p.edges if e.id == here.edge.id]
    return found[0].path.length_mm if found else 0.0
