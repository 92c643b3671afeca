"""How a part that was traced shut is opened on the paper pattern: where to cut, how far to spread, what to draw.

The paper is cut and spread as the program does it: a dart along its line and from its point to two places of the outline,
where a hair of paper is left as a hinge; a tuck or pleat along its line; gathers at even slashes.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Final

from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.named.open_dart import hinges_of
from eke.fit.named.open_gathers import span_of
from eke.fit.named.open_pleat import ends_of
from eke.fit.parts import At
from eke.fit.ruler import RulerRow, RulerStep, end_names
from eke.fit.traced import folds, point_at, traced_line, whole_intake_mm
from eke.geometry.segments import distance
from eke.pattern.corners import called
from eke.pattern.model import Pattern, Piece
from eke.units import format_mm

OPENINGS: Final = frozenset({"fit.open_dart", "fit.open_pleat", "fit.open_gathers"})
"""The kinds that are drawn by cutting and spreading."""
CORNER_MM: Final = 1.0
"""A place nearer to the end of an edge than this is told as the corner."""


def opening_steps(
    before: Pattern, kind: str, params: Mapping[str, Any], unit: str = "mm"
) -> tuple[tuple[RulerStep, ...], tuple[str, ...]]:
    """Return the steps on the paper of ``before``, one for each edge that is cut to, and the ids of those edges.

    Raises
    ------
    BadInput
        When the kind is none of :data:`OPENINGS`.
    """
    if kind == "fit.open_dart":
        return _dart(before, params, unit)
    if kind == "fit.open_pleat":
        return _pleat(before, params, unit)
    if kind == "fit.open_gathers":
        return _gathers(before, params, unit)
    raise BadInput(f"“{kind}” is not drawn by cutting and spreading.")


def _dart(
    before: Pattern, params: Mapping[str, Any], unit: str
) -> tuple[tuple[RulerStep, ...], tuple[str, ...]]:
    line = traced_line(before, params)
    intake = whole_intake_mm(params)
    mouth, behind, ahead = hinges_of(line, intake)
    piece = line.piece
    first, second = (_where(piece, at, unit) for at in (behind, ahead))
    leg = format_mm(distance(line.start, line.end), unit)
    steps = (
        (mouth, f"{piece.name}: cut along the traced line from {_where(piece, mouth, unit)} to its end."),
        (behind, f"From there cut to {first}, and leave a hair of paper uncut."),
        (
            ahead,
            f"From there cut to {second} too, and leave a hair. Turn both sides until the mouth is {format_mm(intake, unit)} "
            f"wide and their points meet, stick paper beneath, and draw both legs {leg} long to that point.",
        ),
    )
    return _told(piece, steps, unit)


def _pleat(
    before: Pattern, params: Mapping[str, Any], unit: str
) -> tuple[tuple[RulerStep, ...], tuple[str, ...]]:
    line = traced_line(before, params)
    near, far, released = ends_of(line)
    piece = line.piece
    intake = whole_intake_mm(params)
    other = intake if not released else 0.0
    if params.get("far_mm") is not None:
        other = read.number(params, "far_mm") * folds(params)
    apart = format_mm(intake, unit)
    if math.isclose(other, intake):
        spread = f"Lay the two parts {apart} apart all along the cut"
    elif other > 0.0:
        spread = f"Lay the two parts {apart} apart where the cut begins, and {format_mm(other, unit)} where it ends"
    else:
        spread = f"Spread the cut to {apart} where it begins, to nothing where it ends"
    what = "tuck" if params.get("how") == "tuck" else "pleat"
    steps = (
        (
            near,
            f"{piece.name}: cut along the line from {_where(piece, near, unit)} to {_where(piece, far, unit)}.",
        ),
        (
            far,
            f"{spread}, and stick paper beneath. Fold the {what} as it is pressed, cut the edge across it, and open it again.",
        ),
    )
    return _told(piece, steps, unit)


def _gathers(
    before: Pattern, params: Mapping[str, Any], unit: str
) -> tuple[tuple[RulerStep, ...], tuple[str, ...]]:
    piece, edge, low, high, flat = span_of(before, params)
    _, opposite = before.edge(read.text(read.part(params, "to"), "edge"))
    slashes = int(read.number(params, "slashes", 5.0))
    each = format_mm((flat - (high - low)) / slashes, unit)
    start, end = end_names(piece, edge)
    rows = tuple(
        RulerRow(mm, 0.0, edge.path.point_at(mm), _cut_at(mm, unit))
        for k in range(slashes)
        for mm in (low + (high - low) * (k + 0.5) / slashes,)
    )
    places = "; ".join(format_mm(row.along_mm, unit) for row in rows)
    how = (
        "right through, and lay the strips"
        if params.get("far") == "same"
        else "but for a hair of paper, and spread the slashes"
    )
    sentence = (
        f"{piece.name}, {called(piece, edge)}, from {start}: mark {places}. Cut from each mark to the {called(piece, opposite)} {how} "
        f"{each} apart. Stick paper beneath, and draw the edge as one smooth line."
    )
    step = RulerStep(piece.id, piece.name, called(piece, edge), start, end, rows, sentence)
    return (step,), (edge.id,)


def _told(
    piece: Piece, steps: tuple[tuple[At, str], ...], unit: str
) -> tuple[tuple[RulerStep, ...], tuple[str, ...]]:
    made: list[RulerStep] = []
    ids: list[str] = []
    for at, sentence in steps:
        edge = piece.edges[at.index]
        start, end = end_names(piece, edge)
        row = RulerRow(at.mm, 0.0, point_at(piece, at), _cut_at(at.mm, unit, "to" if made else "from"))
        made.append(RulerStep(piece.id, piece.name, called(piece, edge), start, end, (row,), sentence))
        ids.append(str(edge.id))
    return tuple(made), tuple(dict.fromkeys(ids))


def _cut_at(along_mm: float, unit: str, way: str = "from") -> str:
    return f"cut {way} here, {format_mm(along_mm, unit)} along"


def _where(piece: Piece, at: At, unit: str) -> str:
    edge = piece.edges[at.index]
    start, end = end_names(piece, edge)
    if at.mm < CORNER_MM:
        return f"the corner of the {called(piece, edge)} and {start}"
    if at.mm > edge.path.length_mm - CORNER_MM:
        return f"the corner of the {called(piece, edge)} and {end}"
    return f"the {called(piece, edge)}, {format_mm(at.mm, unit)} from {start}"
