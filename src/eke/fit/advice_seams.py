"""Ways to a remedy at a seam: which seams are near, and the profile that the trade takes along them.

A gaping armhole is taken out of a princess seam from nothing at the shoulder, most at mid-armhole height, to nothing at
the bust point, on one panel or both; a gaping neck from the seam's upper end to nothing at the bust point, or about
120 mm down (common practice). Amounts are what the seam takes up in all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from eke.fit.advice_draft import Draft, NotHere
from eke.fit.advice_place import (
    LENGTHWISE,
    Here,
    about,
    bust_point,
    meets,
    runs,
    seam_words,
)
from eke.fit.advice_ways import Case
from eke.fit.seams import run_length_mm
from eke.geometry import line_crossings
from eke.geometry.segments import distance
from eke.pattern.corners import folds_away, turn_deg
from eke.pattern.measure import run_of
from eke.pattern.model import Edge, Pattern, Piece, RunPart, Seam
from eke.pattern.proposing.words import ARMHOLE, NECK, groups_of, words_of
from eke.sentences import in_a_row
from eke.units import format_mm

NEAR_MM: Final = 150.0
"""A seam farther from the place than about from the armhole to beyond the bust point does not reach it (common practice)."""
FADE_MM: Final = 120.0
"""A gape is gone so far down a seam where no bust point is marked (common practice, for the back neck)."""
STEP_MM: Final = 178.0
"""From waist to hip are about 7 in (The New Dressmaker, 1921, ch. 3): over so much a change at either is gone."""
CURVED_DEG: Final = 70.0
"""A seam whose edge turns by more is an armhole or a neck, not one between two panels (common practice)."""
AT_SEAM_MM: Final = 30.0
"""A fold pinned so near to the end of a seam lies across it, and both sides give (common practice)."""
LEAST_FADE_MM: Final = 40.0
"""Over less a seam that is taken in gets a step instead of a curve (common practice)."""
BACK_MM: Final = 0.01
"""A knot lies so far from a seam's very end, which is told with rounding."""


@dataclass(frozen=True, slots=True)
class Found:
    """A seam that a place can be taken out of: where along its first side, mm of ``whole_mm``, and on which side it lies.

    ``touches``: it ends at the edge that gapes.
    """

    seam: Seam
    side: str
    edge: Edge
    at_mm: float
    whole_mm: float
    away_mm: float
    touches: bool
    own: bool = False

    @property
    def one_edge(self) -> bool:
        """Whether both sides are one edge, cut twice: it is taken in there once."""
        return self.seam.b_mirrored


def near(here: Here) -> tuple[Found, ...]:
    """Return the lengthwise seams of the piece near the place, without the place's own, the nearest first.

    They end at the edge of the place, or pass it at the height of its middle.
    """
    found = []
    _, y0, _, y1 = here.edge.path.bounds
    for edge in here.piece.edges:
        if edge.id == here.edge.id or folds_away(here.piece, edge.id) or _is_opening(edge):
            continue
        corner = meets(here, edge)
        if corner is not None:
            at, away = edge.path.nearest(corner).at_mm, abs(here.edge.path.nearest(corner).at_mm - here.mm)
        else:
            hit = _level_with(here, edge, (y0 + y1) / 2.0)
            if hit is None or hit[1] > NEAR_MM:
                continue
            at, away = hit
        if abs(edge.path.tangent_at(at)[1]) < LENGTHWISE:
            continue
        for seam, side, run, part, before in runs(here.pattern, edge.id):
            if any(p.edge == here.edge.id for p in seam.parts()):
                continue
            along, whole = _along(here.pattern, seam, run, part, before, at)
            if corner is None or min(along, whole - along) < 1.0:
                found.append(Found(seam, side, edge, along, whole, away, corner is not None))
    unique: dict[str, Found] = {}
    for one in sorted(found, key=lambda f: (f.away_mm, f.seam.id, f.side)):
        unique.setdefault(one.seam.id, one)
    return tuple(unique.values())


def own(here: Here) -> tuple[Found, ...]:
    """Return the seams between panels that the place's own edge is in."""
    if _is_opening(here.edge):
        return ()
    return tuple(
        Found(
            seam,
            side,
            here.edge,
            *_along(here.pattern, seam, run, part, before, here.mm),
            0.0,
            False,
            own=True,
        )
        for seam, side, run, part, before in runs(here.pattern, here.edge.id)
    )


def _is_opening(edge: Edge) -> bool:
    """Whether an edge is an armhole or a neck, by its name or its curve: no seam that is taken in for its width."""
    if groups_of(words_of(edge.name)) & {ARMHOLE, NECK}:
        return True
    first, last = edge.path.tangent_at(0.0), edge.path.tangent_at(edge.path.length_mm, side="before")
    return abs(turn_deg(first, last)) > CURVED_DEG


def _level_with(here: Here, edge: Edge, y: float) -> tuple[float, float] | None:
    """Return mm along an edge where it passes the height ``y``, and how far from the place that is."""
    met = line_crossings(edge.path, (0.0, y), (1.0, 0.0))
    if not met:
        return None
    mm, point = min(met, key=lambda one: distance(one[1], here.point))
    return mm, distance(point, here.point)


def _along(
    pattern: Pattern, seam: Seam, run: tuple[RunPart, ...], part: RunPart, before: float, at: float
) -> tuple[float, float]:
    """Return mm along the seam's first side for a place on one of its edges, and how long that side is."""
    length = pattern.edge(part.edge)[1].path.length_mm
    whole = run_length_mm(pattern, seam.a)
    on_run = before + (length - at if part.reverse else at)
    return on_run * whole / run_length_mm(pattern, run), whole


def _height(pattern: Pattern, seam: Seam, along: float) -> float:
    """How high the seam's first side lies at ``along`` mm, in the frame of its piece there."""
    return run_of(pattern, seam.a).point_at(along)[1][1]


def bust_along(pattern: Pattern, seam: Seam) -> float | None:
    """Return where along a seam's first side the bust point lies, marked on a piece of either side; None: none is."""
    for run in (seam.a, seam.b):
        so_far = 0.0
        best: tuple[float, float] | None = None
        for part in run:
            piece, edge = pattern.edge(part.edge)
            point = bust_point(piece)
            if point is not None:
                nearest = edge.path.nearest(point)
                own_mm = edge.path.length_mm - nearest.at_mm if part.reverse else nearest.at_mm
                if best is None or nearest.distance_mm < best[0]:
                    best = (nearest.distance_mm, so_far + own_mm)
            so_far += edge.path.length_mm
        if best is not None and best[0] <= NEAR_MM:
            return best[1] * run_length_mm(pattern, seam.a) / so_far
    return None


def knots_of(found: Found, amount: float, ends: tuple[float | None, float | None]) -> list[list[float]]:
    """Return the knots of a profile: the amount at the place, 0 at both ends; an end of None keeps the amount."""
    last = found.whole_mm - BACK_MM
    at = min(max(found.at_mm, 0.0), last)
    knots = [[at, amount]]
    knots += [[min(max(end, 0.0), last), 0.0] for end in ends if end is not None]
    return [[round(mm, 3), round(taken, 3)] for mm, taken in sorted(knots)]


def _ends(case: Case, found: Found, fade_mm: float) -> tuple[float | None, float | None]:
    """Where a profile is back at nothing, before and after the place; at an end of the seam there is nothing beyond."""
    bust = bust_along(case.here.pattern, found.seam) if not found.own else None
    made: list[float | None] = []
    for step in (-1.0, 1.0):
        room = found.at_mm if step < 0.0 else found.whole_mm - found.at_mm
        if room < LEAST_FADE_MM:
            made.append(None)
        elif bust is not None and step * (bust - found.at_mm) >= LEAST_FADE_MM:
            made.append(bust)
        elif not found.own and not found.touches and _rises(case, found, step):
            made.append(found.at_mm + step * room)  # up to the shoulder, however far
        else:
            made.append(found.at_mm + step * min(room, fade_mm))
    return made[0], made[1]


def _rises(case: Case, found: Found, step: float) -> bool:
    """Whether going on along the seam goes up."""
    pattern, seam = case.here.pattern, found.seam
    end = found.whole_mm if step > 0.0 else 0.0
    return _height(pattern, seam, end) > _height(pattern, seam, found.at_mm)


def _drafts(
    case: Case, found: Found, fade_mm: float, *, one_only: bool = False, below: bool = False
) -> Iterator[Draft]:
    ends = _ends(case, found, fade_mm)
    if below:
        ends = (
            ends[0] if _rises(case, found, -1.0) else None,
            ends[1] if _rises(case, found, 1.0) else None,
        )
    here, seam = case.here, found.seam
    own_share = 1.0 if found.side == "a" else 0.0
    here_first = found.touches and found.away_mm > AT_SEAM_MM
    shares = [own_share] if one_only or found.one_edge else [0.5, own_share]
    if here_first and len(shares) == 2:
        shares.reverse()
    other = _other_side(here.pattern, found)
    for share in shares:
        both = share == 0.5
        where = (
            "shared by both sides"
            if both
            else "on each half alike"
            if found.one_edge
            else f"on “{here.piece.name}” alone"
        )
        yield Draft(
            f"{'Out of' if case.sign > 0.0 else 'Let out'} the {seam_words(here.pattern, seam)}, {where}",
            "fit.take_in",
            case.amount_mm,
            lambda amount, share=share: _params(found, case.sign * amount, ends, share),  # type: ignore[misc]
            case.reason or _why(case, found, both, other),
            case.advice.sensible,
            lambda after, amount, share=share: _means(here.pattern, found, ends, amount, share, other),  # type: ignore[misc]
        )


def _params(
    found: Found, amount: float, ends: tuple[float | None, float | None], share: float
) -> dict[str, Any]:
    share_a = 1.0 if found.one_edge else share
    return {"seam": str(found.seam.id), "knots": knots_of(found, amount, ends), "share_a": share_a}


def _other_side(pattern: Pattern, found: Found) -> str:
    run = found.seam.b if found.side == "a" else found.seam.a
    return in_a_row(f"“{pattern.edge(part.edge)[0].name}”" for part in run)


def _why(case: Case, found: Found, both: bool, other: str) -> str:
    if found.own:
        return (
            f"Each side moves by half, so “{case.here.piece.name}” and {other} keep their balance."
            if both
            else f"Only “{case.here.piece.name}” changes; {other} stays."
        )
    far = f"It {'ends' if found.touches else 'passes'} {about(found.away_mm)} from the place"
    if found.one_edge:
        return f"{far}, and the whole amount is shared by both halves."
    if not both:
        return f"{far}; {other} stays as it is."
    if found.touches and found.away_mm > AT_SEAM_MM:
        return f"{far}; half of it comes out of {other}, which may not gape."
    return f"{far}, and neither panel changes much."


def _means(
    pattern: Pattern,
    found: Found,
    ends: tuple[float | None, float | None],
    amount: float,
    share: float,
    other: str,
) -> tuple[str, ...]:
    """How the profile runs, in the order along the seam, from its upper end."""
    knots = knots_of(found, amount, ends)
    top_first = _height(pattern, found.seam, 0.0) >= _height(pattern, found.seam, found.whole_mm)
    rows = [(mm if top_first else found.whole_mm - mm, taken) for mm, taken in knots]
    bust = bust_along(pattern, found.seam)
    said = []
    for mm, taken in sorted(rows):
        at_bust = bust is not None and abs((bust if top_first else found.whole_mm - bust) - mm) < 1.0
        where = (
            "at its upper end"
            if mm < 1.0
            else "at its lower end"
            if mm > found.whole_mm - 1.0
            else "at the bust point"
            if at_bust
            else f"{about(mm)} down"
        )
        said.append(f"{format_mm(taken) if taken else 'nothing'} {where}")
    told = [f"Along the seam: {', '.join(said)}."]
    if found.one_edge:
        told.append(f"{format_mm(amount)} on each half.")
    elif share == 0.5:
        told.append(f"Each side moves by {format_mm(amount / 2.0)}.")
    return tuple(told)


def level(case: Case) -> Iterator[Draft | NotHere]:
    """Out of each seam near the place: most at the height of the middle of the edge, or where the seam ends at it."""
    found = near(case.here)
    if not found:
        yield case.no(_none_near(case.here))
    for one in found:
        yield from _drafts(case, one, FADE_MM)


def from_top(case: Case) -> Iterator[Draft | NotHere]:
    """Out of each seam near the place, most at its upper end."""
    found = near(case.here)
    if not found:
        yield case.no(_none_near(case.here))
    for one in found:
        up = 0.0 if _rises(case, one, -1.0) else one.whole_mm
        top = (
            one if one.touches else Found(one.seam, one.side, one.edge, up, one.whole_mm, one.away_mm, False)
        )
        yield from _drafts(case, top, FADE_MM)


def at_place(case: Case) -> Iterator[Draft | NotHere]:
    """At the place on its own seam, to nothing above and below; or at the seam beside the place."""
    yield from _here(case)


def at_place_and_below(case: Case) -> Iterator[Draft | NotHere]:
    """At the place on its own seam, to nothing above, and on down to the hem."""
    yield from _here(case, below=True)


def at_place_alone(case: Case) -> Iterator[Draft | NotHere]:
    """At the place on its own seam, or the seam below it, on this piece alone."""
    yield from _here(case, one_only=True)


def _here(case: Case, *, below: bool = False, one_only: bool = False) -> Iterator[Draft | NotHere]:
    found = tuple(f for f in own(case.here) if _lengthwise(f, case.here)) or near(case.here)[:1]
    if not found:
        yield case.no(_none_near(case.here))
    for one in found:
        yield from _drafts(case, one, STEP_MM, below=below, one_only=one_only)


def _lengthwise(found: Found, here: Here) -> bool:
    return abs(here.edge.path.tangent_at(here.mm)[1]) >= LENGTHWISE


def _none_near(here: Here) -> str:
    piece: Piece = here.piece
    if not any(here.pattern.seams_of(e.id) for e in piece.edges):
        return f"Nothing is said yet of what “{piece.name}” is sewn to. Say its seams in Pattern first."
    return f"No seam that runs up and down ends at the {here.words} of “{piece.name}” or passes within {format_mm(NEAR_MM)}."
