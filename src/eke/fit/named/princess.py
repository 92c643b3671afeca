"""Turn a dart into a princess-type seam: the piece is cut from an edge to the dart's point and through the dart.

Each side of the new seam is one line, from the edge over the bust to the mouth of the dart, rounded over the point where
the cut and the leg meet. The side panel is then a little longer over the bust than the front, which is eased in
(3 to 10 mm between notches 50 mm to either side of the bust point, common practice); the ease is said on the seam, and
notched. To go back, join the seam for as far as its sides lie on one another (``fit.join``).

Params
------
dart
    The dart that opens into the seam.
edge, with fraction, mm (from_end), notch or point
    Where the seam begins: on the shoulder, the armhole or the neck.
part
    What the new side panel is called.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

from eke.changes import Context, child_id
from eke.errors import BadInput
from eke.fit import reading as read
from eke.fit.cutting import cut_apart
from eke.fit.parts import At, trued
from eke.pattern.corners import dart_apex, place_at, sound
from eke.pattern.darts import dart_of
from eke.pattern.model import Dart, EdgeId, Notch, Pattern, Piece, RunPart

NOTCH_MM: Final = 50.0
"""Notches lie so far above and below the bust point (common practice)."""


def princess(
    pattern: Pattern, piece: Piece, dart: Dart, at: At, change_id: str, part_name: str = ""
) -> Pattern:
    """Return the pattern with ``piece`` cut from ``at`` through ``dart``, each side one fair line."""
    apex = dart_apex(piece, dart)
    made = cut_apart(
        pattern,
        piece,
        at,
        dart,
        change_id,
        part_name=part_name or f"{piece.name}, side",
        seam_name="princess",
    )
    (seam_id,) = set(made.seams) - set(pattern.seams)
    seam = made.seams[seam_id]
    sides = []
    for run in (seam.a, seam.b):
        made, edge_id = _one_line(made, run)
        sides.append((RunPart(run[0].piece, edge_id, run[0].reverse),))
    made = made.with_seam(replace(seam, a=sides[0], b=sides[1]))
    lengths = [made.edge(side[0].edge)[1].path.length_mm for side in sides]
    made = made.with_seam(replace(made.seams[seam_id], ease_mm=round(lengths[0] - lengths[1], 2)))
    for number, side in enumerate(sides):
        made = _notched(made, side[0].edge, apex, child_id(piece.id, change_id, f"notch {number}"))
    return made


def _one_line(pattern: Pattern, run: tuple[RunPart, ...]) -> tuple[Pattern, EdgeId]:
    """The cut and the leg as one edge, blended where they meet; it keeps the id of the cut."""
    piece = pattern.piece(run[0].piece)
    order = [p.edge for p in (reversed(run) if run[0].reverse else run)]
    before, after = (piece.edge(e) for e in order)
    cut = next(e for e in (before, after) if e.name != "dart")
    path = trued(before.path, after.path)
    joined = replace(cut, path=path, name="princess", shape="fair")
    edges = tuple(joined if e.id == before.id else e for e in piece.edges if e.id != after.id)
    made = pattern.with_piece(sound(replace(piece, edges=edges), piece))
    return made, cut.id


def _notched(pattern: Pattern, edge_id: EdgeId, apex: tuple[float, float], notch_id: str) -> Pattern:
    piece, edge = pattern.edge(edge_id)
    at = edge.path.nearest(apex).at_mm
    notches = [
        Notch(f"{notch_id} {k}", place_at(edge, mm))
        for k, mm in enumerate((at - NOTCH_MM, at + NOTCH_MM))
        if 10.0 < mm < edge.path.length_mm - 10.0
    ]
    return pattern.with_piece(replace(piece, notches=(*piece.notches, *notches)))


def _apply(state: Pattern, params: dict[str, Any], context: Context) -> Pattern:
    piece, dart = dart_of(state, read.text(params, "dart"))
    other, edge, at = read.place_on(state, params)
    if other.id != piece.id:
        raise BadInput(
            f"The dart is on “{piece.name}”; let the seam begin on an edge of it, not on “{other.name}”."
        )
    if edge.id in (dart.first_leg, dart.second_leg):
        raise BadInput("The seam begins on another edge than the dart's own legs.")
    return princess(state, piece, dart, at, context.record_id, str(params.get("part") or ""))


def _say(params: read.Params) -> str:
    return f"Turned a dart of {read.called(params, 'a piece')} into a princess seam"


KIND = read.named("fit.princess", _apply, _say, "edge", "dart")
