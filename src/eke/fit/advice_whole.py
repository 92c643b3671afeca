"""Ways to a remedy that changes more than the edge that was pointed at: shoulders, bust, hems, sleeves, openings."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final

from eke.fit.advice_draft import Draft, Means, NotHere
from eke.fit.advice_place import (
    LENGTHWISE,
    Here,
    about,
    beside,
    bust_point,
    edge_met,
    hits,
    runs,
    seam_words,
)
from eke.fit.advice_ways import POKES_MM, Case
from eke.fit.seams import run_length_mm
from eke.geometry.segments import distance
from eke.pattern.corners import called, dart_apex, dart_intake_mm, folds_away, neighbour
from eke.pattern.darts import dart_of
from eke.pattern.model import Edge, Pattern
from eke.units import format_mm

ABOVE_WAIST_MM: Final = 60.0
"""A piece that reaches so far above its waist line is no skirt (common practice)."""
KNOT_MM: Final = 1.0
"""Knots lie no nearer to each other."""


def _draft(
    case: Case,
    does: str,
    params: Callable[[float], dict[str, Any]],
    *said: str,
    means: Means | None = None,
    left_of: Callable[[float], float] = lambda most: most,
    reason: str = "",
) -> Draft:
    return Draft(
        does,
        case.remedy.kind,
        case.amount_mm,
        params,
        case.reason or reason or case.remedy.watch or case.advice.reason,
        case.advice.sensible,
        means or (lambda after, amount: said),
        left_of,
    )


def _upper_seam(here: Here) -> tuple[str, str, str] | None:
    """Return the seam of the edge above the place (or of its own edge, where that is a shoulder): id, tip, words.

    The tip is the end of the seam, as it is walked, that lies nearer to the place.
    """
    above = (
        here.edge if abs(here.edge.path.tangent_at(here.mm)[1]) < LENGTHWISE else beside(here, here.edge)[0]
    )
    for seam, _, _, part, _ in runs(here.pattern, above.id):
        start, end = above.path.start, above.path.end
        if part.reverse:
            start, end = end, start
        tip = "start" if distance(start, here.point) <= distance(end, here.point) else "end"
        return str(seam.id), tip, seam_words(here.pattern, seam)
    return None


def shoulder_slope(case: Case) -> Iterator[Draft | NotHere]:
    """The shoulder tip lower or higher, the underarm with it."""
    found = _upper_seam(case.here)
    if found is None:
        yield case.no(
            "The shoulder is not sewn to anything yet. Say its seam in Pattern first, and press the armhole close to it."
        )
        return
    seam, tip, words = found
    sign = case.sign
    yield _draft(
        case,
        f"{'Lower' if sign > 0.0 else 'Raise'} the tip of the {words} and the underarm by {format_mm(case.amount_mm)}",
        lambda mm: {"seam": seam, "tip": tip, "drop_mm": sign * mm},
        "On both pieces alike; the armhole keeps its size, and the sleeve stays.",
    )


def bust(case: Case) -> Iterator[Draft | NotHere]:
    """More or less room over the bust: through the bust point, from the hem to the armhole and the side."""
    here = case.here
    dart = min(here.piece.darts, key=lambda d: distance(dart_apex(here.piece, d), here.point), default=None)
    point = dart_apex(here.piece, dart) if dart is not None else bust_point(here.piece)
    if point is None:
        yield case.no(
            f"“{here.piece.name}” has neither a dart nor a marked bust point. Mark the bust point in Pattern first."
        )
        return
    if abs(here.edge.path.tangent_at(here.mm)[1]) < LENGTHWISE:
        yield case.no("Press the side of the front at the height of the bust for this one.")
        return
    low = edge_met(here.piece, point, (0.0, -1.0))
    armhole = beside(here, here.edge)[0]
    if low is None or folds_away(here.piece, low[0].id) or low[0].id == here.edge.id:
        yield case.no(f"No hem or waist lies straight below the bust point of “{here.piece.name}”.")
        return
    notch = next((n for n in here.piece.notches if n.at.edge == armhole.id), None)
    upper: dict[str, Any] = {"edge": armhole.id} | ({"notch": notch.id} if notch else {"fraction": 0.5})
    opening: dict[str, Any] = (
        {"dart": dart.id}
        if dart is not None
        else {"side": {"edge": here.edge.id, "mm": here.mm}, "apex": [*point]}
    )
    more = case.sign > 0.0
    yield _draft(
        case,
        f"{'More' if more else 'Less'} room over the bust, {format_mm(case.amount_mm)} on this half",
        lambda mm: {
            "edge": low[0].id,
            "mm": low[1],
            "from_end": "start",
            "by_mm": mm if more else -mm,
            "armhole": upper,
            **opening,
        },
        f"Slashed from the {called(here.piece, low[0])} through the bust point to the {called(here.piece, armhole)}.",
        "Armhole, shoulder and neck keep their lengths.",
    )


def flare(case: Case) -> Iterator[Draft | NotHere]:
    """Slashes from the hem of the piece to the edge above it, each opened alike."""
    here = case.here
    hem = _hem(here)
    if hem is None:
        yield case.no(f"No edge of “{here.piece.name}” is said to be a hem. Say it in Pattern first.")
        return
    from_hem = Here(here.pattern, here.piece, hem, hem.path.length_mm / 2.0, here.share)
    top = hits(from_hem, (0.0, 1.0))
    if top is None or top[0].kind == "fold" or folds_away(here.piece, top[0].id):
        yield case.no(f"No plain edge lies straight above the hem of “{here.piece.name}”.")
        return
    above = top[0]
    if any(
        mark.name.casefold() == "waist" and max(y for _, y in mark.points) < top[2][1] - ABOVE_WAIST_MM
        for mark in here.piece.marks
    ):
        yield case.no(
            f"“{here.piece.name}” goes on above the waist; slashed to the {called(here.piece, above)} it would widen there too."
        )
        return
    yield _draft(
        case,
        f"Slash from the {called(here.piece, hem)} to the {called(here.piece, above)} and spread by {format_mm(case.amount_mm)}",
        lambda mm: {"edge": hem.id, "to": {"edge": above.id}, "by_mm": mm},
        "Slashed at three places, each opened alike.",
        reason=f"The {called(here.piece, above)} keeps its length; only the hem gets wider.",
    )


def _hem(here: Here) -> Edge | None:
    hems = [e for e in here.piece.edges if e.kind == "hem"]
    return here.edge if here.edge in hems else min(hems, key=lambda e: e.path.bounds[1], default=None)


def dart_intake(case: Case) -> Iterator[Draft | NotHere]:
    """The dart of the piece that is nearest to the place takes up more or less."""
    here = case.here
    if not here.piece.darts:
        yield case.no(f"“{here.piece.name}” has no dart.")
        return
    dart = min(
        here.piece.darts,
        key=lambda d: distance(here.piece.edge(d.first_leg).path.start, here.point),
    )
    now = dart_intake_mm(here.piece, dart)
    wider = case.sign > 0.0
    opens = called(here.piece, neighbour(here.piece, dart.first_leg, "start"))

    def means(after: Pattern, amount: float) -> tuple[str, ...]:
        told = dart_intake_mm(*dart_of(after, dart.id))
        pokes = (f"Wider than {format_mm(POKES_MM)} it pokes: split it in two.",) if told > POKES_MM else ()
        return (f"It takes up {format_mm(told)} then; now it is {format_mm(now)}.", *pokes)

    yield _draft(
        case,
        f"{'Widen' if wider else 'Narrow'} the dart at the {opens} by {format_mm(case.amount_mm)}",
        lambda mm: {"dart": dart.id, "intake_mm": round(now + mm if wider else now - mm, 3)},
        means=means,
        left_of=lambda most: most - now,
    )


def hem(case: Case) -> Iterator[Draft | NotHere]:
    """The hem longer or shorter, level, on every piece that it runs round."""
    edge = _hem(case.here)
    if edge is None:
        yield case.no(f"No edge of “{case.here.piece.name}” is said to be a hem. Say it in Pattern first.")
        return
    yield _draft(
        case,
        f"Make the {called(case.here.piece, edge)} {format_mm(case.amount_mm)} longer",
        lambda mm: {"edge": edge.id, "by_mm": case.remedy.factor * mm},
        "All hems that hang together go with it.",
    )


def top(case: Case) -> Iterator[Draft | NotHere]:
    """The upper edge raised or trimmed: most at the place, to nothing at its other end."""
    here = case.here
    if here.edge.kind == "fold":
        x = here.edge.path.start if here.edge.path.start[1] > here.edge.path.end[1] else here.edge.path.end
        edge = beside(here, here.edge)[0]
        at = edge.path.nearest(x).at_mm
    elif abs(here.edge.path.tangent_at(here.mm)[1]) >= LENGTHWISE:
        edge = beside(here, here.edge)[0]
        at = 0.0 if neighbour(here.piece, edge.id, "start").id == here.edge.id else edge.path.length_mm
    else:
        edge, at = here.edge, here.mm
    length = edge.path.length_mm
    far = length if at < length / 2.0 else 0.0
    if abs(far - at) < KNOT_MM or folds_away(here.piece, edge.id):
        yield case.no(f"No edge of “{here.piece.name}” runs across at that place.")
        return
    sign = 1.0 if case.remedy.factor > 0.0 else -1.0
    yield _draft(
        case,
        f"{'Raise' if sign > 0.0 else 'Trim'} the {called(here.piece, edge)} by {format_mm(case.amount_mm)} there, to nothing at its other end",
        lambda mm: {"edge": edge.id, "knots": sorted([[at, sign * mm], [far, 0.0]])},
        f"Most at {about(at)} along it.",
    )


def lengthen(case: Case) -> Iterator[Draft | NotHere]:
    """At a level line through the place, on every piece that it crosses."""
    here = case.here
    longer = case.remedy.factor > 0.0
    if abs(here.edge.path.tangent_at(here.mm)[1]) < LENGTHWISE:
        yield case.no("Press a side edge at the height where it is to be lengthened or shortened.")
        return
    yield _draft(
        case,
        f"{'Lengthen' if longer else 'Shorten'} by {format_mm(case.amount_mm)} at a level line from the {here.words}",
        lambda mm: {
            "edge": here.edge.id,
            "mm": here.mm,
            "from_end": "start",
            "by_mm": mm if longer else -mm,
        },
        "The line goes on over the seams to the pieces beside it.",
    )


def broaden(case: Case) -> Iterator[Draft | NotHere]:
    """The back swung out from the middle of the shoulder about the armhole."""
    here = case.here
    lies_flat = abs(here.edge.path.tangent_at(here.mm)[1]) < LENGTHWISE
    upper, lower = beside(here, here.edge)
    shoulder, armhole = (here.edge, lower) if lies_flat else (upper, here.edge)
    if "fold" in (shoulder.kind, armhole.kind) or {shoulder.id, armhole.id} & {
        leg for d in here.piece.darts for leg in (d.first_leg, d.second_leg)
    }:
        yield case.no(
            f"No shoulder lies above that place on “{here.piece.name}”. Press the armhole of the back."
        )
        return
    notch = next((n for n in here.piece.notches if n.at.edge == armhole.id), None)
    to: dict[str, Any] = {"edge": armhole.id} | ({"notch": notch.id} if notch else {"fraction": 0.5})
    yield _draft(
        case,
        f"Swing “{here.piece.name}” out by {format_mm(case.amount_mm)} from the middle of the {called(here.piece, shoulder)}",
        lambda mm: {"edge": shoulder.id, "fraction": 0.5, "by_mm": mm, "to": to},
        f"The {called(here.piece, shoulder)} is {format_mm(case.amount_mm)} longer then: ease it, or take a dart there.",
    )


def sleeve_cap(case: Case) -> Iterator[Draft | NotHere]:
    """The cap fitted to the armhole that it is sewn to, with the ease that was asked for."""
    here = case.here
    found = next(iter(runs(here.pattern, here.edge.id)), None)
    if found is None:
        yield case.no(
            f"The {here.words} of “{here.piece.name}” is not sewn to an armhole yet. Say its seam in Pattern first."
        )
        return
    seam, side, _, _, _ = found
    yield _draft(
        case,
        f"Fit the {here.words} of “{here.piece.name}” to the armhole, {format_mm(case.amount_mm)} longer than it",
        lambda mm: {"seam": str(seam.id), "cap": side, "ease_mm": mm, "how": "both"},
        "The cap gets wider and higher until it is; the sleeve's own seam keeps its length.",
    )


def move_seam(case: Case) -> Iterator[Draft | NotHere]:
    """The seam moved: the piece that was pressed gains what the other loses."""
    here = case.here
    found = next(iter(runs(here.pattern, here.edge.id)), None)
    if found is None or found[0].b_mirrored:
        yield case.no(
            f"The {here.words} of “{here.piece.name}” is not sewn to another piece yet. Say its seam in Pattern first."
        )
        return
    seam, side, _, _, _ = found
    whole = run_length_mm(here.pattern, seam.a)
    sign = 1.0 if side == "a" else -1.0
    yield _draft(
        case,
        f"Move the {seam_words(here.pattern, seam)} by {format_mm(case.amount_mm)}: “{here.piece.name}” gains, the other side loses",
        lambda mm: {"seam": str(seam.id), "knots": [[0.0, sign * mm], [whole, sign * mm]]},
        "Press the piece that is to gain: the back, where the seam lies too far behind.",
    )


def opening(case: Case) -> Iterator[Draft | NotHere]:
    """The neck lowered at its lower end."""
    here = case.here
    if here.edge.kind == "fold":
        yield case.no("A fold is no neckline. Press the neck edge.")
        return
    at_start = here.edge.path.start[1] < here.edge.path.end[1]
    yield _draft(
        case,
        f"Lower the {here.words} of “{here.piece.name}” by {format_mm(case.amount_mm)} at its lower end",
        lambda mm: {"edge": here.edge.id, ("start_mm" if at_start else "end_mm"): mm},
        "It keeps its direction at both ends.",
    )
