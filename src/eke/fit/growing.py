"""Where a garment is spread to be made larger: upright lines below neck, shoulder and underarm, found by edge names.

A girth is shared between the lines of each quarter of a bodice as cutters grade it (see :data:`QUARTER`); where a
garment has not all of them, the lines that it has share the whole.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from eke.errors import BadInput
from eke.fit.lines import GarmentLine, direction_of, is_clean, is_crossed, line_across
from eke.geometry import Pt
from eke.pattern.model import Edge, Pattern, Piece
from eke.pattern.proposing.words import (
    ARMHOLE,
    NECK,
    RAGLAN,
    SHOULDER,
    WAIST,
    groups_of,
    wanted_by,
    words_of,
)

QUARTER: Final = {"neck": 0.05, "shoulder": 0.075, "underarm": 0.125}
"""Shares of a change of girth in each quarter of a bodice: of 40 mm 2 at the neck, 3 in the shoulder and 5 beside the
armhole, 10 in all (common practice)."""
BELOW: Final = 0.25
"""Share in each quarter of a garment that begins at the waist."""
ARMHOLE_DEPTH: Final = 0.1
"""How much deeper an armhole becomes, by the change of girth: 4 mm for 40 (common practice)."""
TRIED: Final = 18
"""Places on an edge that are tried for a line that meets neither dart nor corner."""

_EDGES: Final = {"neck": {NECK}, "shoulder": {SHOULDER}, "underarm": {ARMHOLE, RAGLAN}, "waist": {WAIST}}
_NOT_BODY: Final = frozenset(
    {"sleeve", "collar", "stand", "neckband", "hood", "waistband", "cuff", "gusset", "facing", "pocket", "flap", "tab",
     "strap", "belt", "tie", "band", "placket", "binding", "loop"}
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class UprightLine:
    """A line with the grain through a garment.

    ``sides`` is how often it runs down the body: twice for a half on the fold or a pair, and as often again for the
    back that it reaches over a shoulder.
    """

    line: GarmentLine
    sides: int


def is_body(piece: Piece) -> bool:
    """Whether a piece covers the body itself, and is no sleeve, collar, facing or band."""
    return not words_of(piece.name) & _NOT_BODY


def is_sleeve(piece: Piece) -> bool:
    """Whether a piece is sewn into an armhole, by its name."""
    return ARMHOLE in wanted_by(words_of(piece.name)) and not is_body(piece)


def on_body(piece: Piece) -> int:
    """How often a piece lies round the body. A half that is cut more than once is lined with itself."""
    if piece.fold is not None or any(cut.pairs for cut in piece.cuts):
        return 2
    return max((cut.count for cut in piece.cuts if cut.role == "outer"), default=1)


def edges_at(pattern: Pattern, group: str) -> Iterator[tuple[Piece, Edge]]:
    """Edges of the body of that group: ``neck``, ``shoulder``, ``underarm`` or ``waist``."""
    for piece in pattern.pieces.values():
        if not is_body(piece):
            continue
        for number, edge in enumerate(piece.edges):
            if groups_of(words_of(edge.name)) & _EDGES[group] and (
                group != "underarm" or _ends_at_side(piece, number)
            ):
                yield piece, edge


def groups_here(pattern: Pattern) -> dict[str, float]:
    """The groups of lines that a garment has, with the share of each in a quarter.

    Raises
    ------
    BadInput
        When no edge has the name of one.
    """
    found = {group: share for group, share in QUARTER.items() if next(edges_at(pattern, group), None)}
    if found:
        return found
    if next(edges_at(pattern, "waist"), None):
        return {"waist": BELOW}
    raise BadInput(
        "Name the edges first: neck, shoulder and armhole, or the waist. By their names it is found where the pieces "
        "grow."
    )


def upright_lines(pattern: Pattern, group: str) -> tuple[UprightLine, ...]:
    """Return the lines of one group, each crossing its pieces once and no dart; edges without such a line have none."""
    lines: list[UprightLine] = []
    for piece, edge in edges_at(pattern, group):
        if any(id_ == piece.id and _meets(piece, edge, p) for one in lines for id_, p in one.line.through):
            continue
        for mm in _places(piece, edge, group):
            start = edge.path.point_at(mm)
            try:
                line = line_across(pattern, piece, start, "upright")
            except BadInput:
                continue
            if is_clean(pattern, line, "upright") and not any(
                is_body(pattern.piece(id_)) for id_ in line.stuck
            ):
                lines.append(UprightLine(line, _sides(pattern, piece, line)))
                break
    return tuple(lines)


def _sides(pattern: Pattern, piece: Piece, line: GarmentLine) -> int:
    met = ((pattern.piece(id_), point) for id_, point in line.through)
    shouldered = [other for other, point in met if is_body(other) and _over_shoulder(other, point)]
    return sum(map(on_body, shouldered)) or on_body(piece)


def _over_shoulder(piece: Piece, point: Pt) -> bool:
    return any(SHOULDER in groups_of(words_of(e.name)) and _meets(piece, e, point) for e in piece.edges)


def _meets(piece: Piece, edge: Edge, point: Pt) -> bool:
    """Whether the upright line through a point of a piece passes between the ends of an edge."""
    x = _across(piece, point)
    ends = sorted((_across(piece, edge.path.start), _across(piece, edge.path.end)))
    return ends[0] <= x <= ends[1]


def _across(piece: Piece, point: Pt) -> float:
    u = direction_of(piece, "level")
    return point[0] * u[0] + point[1] * u[1]


def _places(piece: Piece, edge: Edge, group: str) -> list[float]:
    """Places on an edge for an upright line, mm from its start, the best first."""
    length = edge.path.length_mm
    places = [length * (k + 0.5) / TRIED for k in range(TRIED)]
    at = {mm: _across(piece, edge.path.point_at(mm)) for mm in places}
    ends = [_across(piece, edge.path.start), _across(piece, edge.path.end)]
    if group == "underarm":
        # between the narrowest place and the side: where a half chest ends and the underarm begins
        side = _side_end(piece, edge)
        inmost = max(at.values(), key=lambda x: abs(x - side))
        wanted = (side + inmost) / 2.0
    else:
        wanted = sum(ends) / 2.0
    # two places beside the middle are equally good but for rounding, which must not choose between them
    ranked = sorted(places, key=lambda mm: round(abs(at[mm] - wanted), 3))
    return [mm for mm in ranked if is_crossed(piece, edge, mm, "upright")]


def _side_end(piece: Piece, edge: Edge) -> float:
    """Where the lower end of an armhole lies across the piece."""
    down = direction_of(piece, "upright")
    low = max((edge.path.start, edge.path.end), key=lambda p: p[0] * down[0] + p[1] * down[1])
    return _across(piece, low)


def _ends_at_side(piece: Piece, number: int) -> bool:
    """Whether an armhole's lower end is at a side seam: an edge that runs down, and is no yoke's."""
    edge, count = piece.edges[number], len(piece.edges)
    down = direction_of(piece, "upright")
    start, end = ((p[0] * down[0] + p[1] * down[1]) for p in (edge.path.start, edge.path.end))
    beside = piece.edges[(number + 1) % count] if end > start else piece.edges[(number - 1) % count]
    return not is_crossed(piece, beside, beside.path.length_mm / 2.0, "upright")
