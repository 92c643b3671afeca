"""Make larger or smaller, for another wearer or a growing child.

Upright lines below the neck, through the shoulder and beside the armhole are spread on all pieces that they cross, so
that the girth grows by the whole amount and every seam meets its mate; the armhole becomes deeper; lengths are
said apart. Sleeve caps, also those of sleeves in two parts, are fitted to their armholes again with the ease that they
had, gathers drawn up.

The lines are found by the names of edges (neck, shoulder, armhole, raglan, waist). Of a change of 40 mm each quarter of a
bodice takes 2 at the neck, 3 in the shoulder and 5 beside the armhole, 10 in all, and the armhole is 4 mm deeper (common
practice); a garment that lacks one of these shares its part among the others. A line never meets a dart. Collars and
bands follow along their seams; where their own slope makes them a millimetre too long or short, the walk of the seam
says so.

Params
------
girth_mm
    How much larger round the body, in all; below 0 smaller.
neck_mm, shoulder_mm, underarm_mm, waist_mm
    What each quarter takes at the neck, in the shoulder and beside the armhole (or, on a garment that begins there, at
    the waist); where none is given, the girth is shared as said above.
armhole_mm
    How much deeper the armhole becomes; a tenth of the change of girth where not given.
length_mm
    How much longer the body becomes, at the middle of its longest side seam.
sleeve_mm
    How much longer the sleeves become, at the middle of their underarm seam.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from typing import Any, Final

from eke.changes import Context
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.growing import ARMHOLE_DEPTH, edges_at, groups_here, is_body, is_sleeve, upright_lines
from eke.fit.lines import GarmentLine, is_clean, is_crossed, line_across
from eke.fit.named.lengthen import lengthen
from eke.fit.named.sleeve_cap import fit_cap, sewn_run_mm
from eke.fit.named.widen import widen
from eke.geometry import Pt
from eke.pattern.corners import folds_away
from eke.pattern.model import Edge, Pattern, Piece, Seam

LEAST_MM: Final = 0.1
"""Less than this is no change."""
MOST_MM: Final = 200.0
"""More than this round the body is another pattern: several sizes at once (our own limit)."""
HEIGHTS: Final = (0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8)
"""Where along an armhole a level line is tried, the best first."""
OWN: Final = {"neck_mm": "neck", "shoulder_mm": "shoulder", "underarm_mm": "underarm", "waist_mm": "waist"}
CAP_MM: Final = 0.05
"""A cap that is off by more than this is fitted again."""


def resize(
    pattern: Pattern,
    girth_mm: float,
    change_id: str,
    *,
    own_mm: dict[str, float] | None = None,
    armhole_mm: float | None = None,
    length_mm: float = 0.0,
    sleeve_mm: float = 0.0,
) -> Pattern:
    """Return the pattern larger by ``girth_mm`` round the body (below 0: smaller).

    ``own_mm`` are the maker's amounts in each quarter, by group of lines; see the module.

    Raises
    ------
    BadInput
        When no edge is named by which the lines are found, or there is no way for a line between darts and corners.
    """
    before = pattern
    if own_mm or abs(girth_mm) >= LEAST_MM:
        pattern = widen(pattern, _round_the_body(pattern, girth_mm, own_mm or {}), change_id)
    deeper = ARMHOLE_DEPTH * girth_mm if armhole_mm is None else armhole_mm
    if abs(deeper) >= LEAST_MM:
        pattern = _deeper(pattern, deeper, change_id)
    if abs(length_mm) >= LEAST_MM:
        pattern = _longer(pattern, _upright_edges(pattern, is_body), "side seam", length_mm, change_id)
    if abs(sleeve_mm) >= LEAST_MM:
        pattern = _longer(pattern, _upright_edges(pattern, is_sleeve), "underarm seam", sleeve_mm, change_id)
    return _caps_fitted(before, pattern)


def _round_the_body(
    pattern: Pattern, girth_mm: float, own_mm: dict[str, float]
) -> list[tuple[GarmentLine, float]]:
    """The upright lines, each with its amount."""
    shares = groups_here(pattern)
    for group in own_mm:
        if group not in shares:
            raise BadInput(
                f"No edge is named by which the line at the {group} is found. Leave its amount out."
            )
    lines = {group: upright_lines(pattern, group) for group in shares}
    if own_mm:
        return [(one.line, by_mm) for group, by_mm in own_mm.items() for one in lines[group]]
    whole = sum(shares[group] * one.sides for group, found in lines.items() for one in found)
    if not whole:
        raise BadInput(
            "There is no way with the grain through these pieces between darts and corners. Make them wider one by one."
        )
    return [(one.line, girth_mm * shares[group] / whole) for group, found in lines.items() for one in found]


def _deeper(pattern: Pattern, by_mm: float, change_id: str) -> Pattern:
    """Lengthen at the height of the armholes, each piece once."""
    done: set[str] = set()
    for piece, edge in list(edges_at(pattern, "underarm")):
        if piece.id in done:
            continue
        found = _level_line(pattern, piece, edge, done)
        if found is not None:
            start, line = found
            pattern = lengthen(pattern, piece, start, by_mm, change_id, set(line.pieces) - done)
            done |= set(line.pieces)
        elif not done:
            raise BadInput(
                f"There is no level way through the armhole of “{piece.name}” between darts and corners. Say 0 for the depth "
                "of the armhole, and lengthen by hand."
            )
    return pattern


def _level_line(
    pattern: Pattern, piece: Piece, edge: Edge, done: Collection[str]
) -> tuple[Pt, GarmentLine] | None:
    """A place on an armhole, and the level line there: one that comes to no piece of the body that is done already.

    A side panel has none: what lies above it has been lengthened.
    """
    for share in HEIGHTS:
        mm = share * edge.path.length_mm
        if not is_crossed(piece, edge, mm, "level"):
            continue
        start = edge.path.point_at(mm)
        try:
            line = line_across(pattern, piece, start, "level")
        except BadInput:
            continue
        again = any(id_ in done and is_body(pattern.piece(id_)) for id_ in line.pieces)
        if not again and is_clean(pattern, line, "level"):
            return start, line
    return None


def _upright_edges(pattern: Pattern, wanted: Callable[[Piece], bool]) -> Iterator[tuple[Piece, Edge]]:
    """Seams that run with the grain on pieces of a kind."""
    for piece in pattern.pieces.values():
        for edge in piece.edges if wanted(piece) else ():
            middle = edge.path.length_mm / 2.0
            if (
                edge.kind == "seam"
                and not folds_away(piece, edge.id)
                and not is_crossed(piece, edge, middle, "upright")
            ):
                yield piece, edge


def _longer(
    pattern: Pattern, edges: Iterator[tuple[Piece, Edge]], what: str, by_mm: float, change_id: str
) -> Pattern:
    # edges that are sewn together are of one length but for rounding, which must not choose between them
    piece, edge = max(edges, key=lambda found: round(found[1].path.length_mm, 3), default=(None, None))
    if piece is None or edge is None:
        raise BadInput(f"There is no {what} at which it could be made longer.")
    return lengthen(pattern, piece, edge.path.point_at(edge.path.length_mm / 2.0), by_mm, change_id)


def _caps_fitted(before: Pattern, pattern: Pattern) -> Pattern:
    """Fit the sleeves whose armholes have changed, each with the ease that it had."""
    for seam in pattern.seams.values():
        was = _longer_by(before, before.seam(seam.id))
        if abs(_longer_by(pattern, seam) - was) <= CAP_MM:
            continue
        for cap, run, ease_mm in (("a", seam.a, was), ("b", seam.b, -was)):
            if all(is_sleeve(pattern.edge(part.edge)[0]) for part in run):
                try:
                    fitted = fit_cap(pattern, seam.id, cap, ease_mm, "both")
                except BadInput:
                    break  # a dart in the cap, or a band: the walk of the seam will tell
                pattern = fitted.with_seam(seam)
                break
    return pattern


def _longer_by(pattern: Pattern, seam: Seam) -> float:
    return sewn_run_mm(pattern, seam.a) - sewn_run_mm(pattern, seam.b)


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    girth_mm = read.number(params, "girth_mm", 0.0)
    own = {group: read.number(params, key) for key, group in OWN.items() if params.get(key) is not None}
    rest = [read.number(params, key, 0.0) for key in ("length_mm", "sleeve_mm")]
    depth = None if params.get("armhole_mm") is None else read.number(params, "armhole_mm")
    if all(abs(mm) < LEAST_MM for mm in (girth_mm, depth or 0.0, *own.values(), *rest)):
        raise BadInput("Say how much larger or smaller.")
    for mm in (girth_mm, depth or 0.0, *own.values(), *rest):
        if abs(mm) > MOST_MM:
            raise BadInput(
                f"{abs(mm):g} mm at once are several sizes: the shape would not come with it. Up to {MOST_MM:g} mm work.",
                most_mm=MOST_MM,
            )
    return resize(
        state, girth_mm, context.record_id, own_mm=own, armhole_mm=depth, length_mm=rest[0], sleeve_mm=rest[1]
    )


def _say(params: read.Params) -> str:
    girth = float(params.get("girth_mm") or 0.0)
    if not girth:
        return "Made it larger or smaller by the maker's own amounts"
    return f"Made it {'larger' if girth > 0 else 'smaller'} by {read.mm(params, 'girth_mm')} round the body"


KIND = read.named("fit.resize", _apply, _say)
