"""The pattern as paper draws it: pieces with cut line, seam line, notches, marks and grain, ready for a page."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from eke.actions.room import GarmentState
from eke.cloth import Cloth, washed
from eke.cutting import CutPiece, Laid
from eke.derive import PRESETS, AllowancePreset, allowance_of, cut_outline, first_sewn
from eke.geometry.tolerance import FLATTEN_MM
from eke.paper.base_line import Flaw, LaidCloth, LaidPiece
from eke.paper.drawn import DrawnEdge, DrawnGrain, DrawnLine, DrawnNotch, DrawnPiece, DrawnPoint
from eke.pattern import gathers
from eke.pattern.model import CutOf, Mark, Pattern, Piece

_LINE_KIND = {"balance": "balance", "line": "inside", "dart": "dart", "stitch": "dart", "fold": "crease"}
_ROLE_WORDS = {
    "outer": "",
    "lining": "lining",
    "interlining": "interlining",
    "interfacing": "interfacing",
    "mock-up": "mock-up",
}


def drawn_pieces(
    state: GarmentState, *, preset: AllowancePreset = PRESETS["home"], only: Sequence[str] | None = None
) -> tuple[DrawnPiece, ...]:
    """Return the pieces of a garment (drawn and derived) as they are printed: half pieces stay halves.

    ``only`` names piece ids; numbers are those of the whole garment, so that a part printed again fits in.
    """
    every = [*state.pattern.pieces.values(), *(d.piece for d in state.derivation.pieces.values())]
    found = []
    for number, piece in enumerate(every, start=1):
        if only is None or piece.id in only:
            found.append(drawn_piece(state.pattern, piece, str(number), preset, state.name))
    return tuple(found)


def drawn_piece(
    pattern: Pattern, piece: Piece, number: str, preset: AllowancePreset, garment: str = ""
) -> DrawnPiece:
    """Return one piece as it is printed, with its allowances."""
    cut = cut_outline(piece, preset, first_at=first_sewn(pattern, piece))
    edges = tuple(
        DrawnEdge(edge.path.flatten(FLATTEN_MM), edge.kind, allowance_of(edge, preset))
        for edge in piece.edges
    )
    grain = None
    if piece.grain is not None:
        (x0, y0), (x1, y1) = piece.grain
        grain = DrawnGrain(x0, y0, x1, y1)
    role = piece.cuts[0].role if piece.cuts else "outer"
    labels = [garment] if garment else []
    labels += [_cut_words(piece, cut_of) for cut_of in piece.cuts]
    return DrawnPiece(
        number=number,
        name=piece.name,
        cut=(cut.ring,),
        edges=edges,
        notches=tuple(_notches(piece, preset)),
        points=tuple(_point(mark) for mark in piece.marks if len(mark.points) == 1),
        lines=(
            *(
                DrawnLine(np.array(m.points), _LINE_KIND.get(m.kind, "mark"), m.name)  # type: ignore[arg-type]
                for m in piece.marks
                if len(m.points) > 1
            ),
            *(
                DrawnLine(np.array(gathers.wave_of(piece, g)), "mark", gathers.told(piece, g))
                for g in piece.gathers
            ),
        ),
        grain=grain,
        labels=tuple(labels),
        role=role,
    )


def _cut_words(piece: Piece, cut: CutOf) -> str:
    role = _ROLE_WORDS[cut.role]
    what = f" in {role}" if role else ""
    if piece.fold is not None:
        return f"cut {cut.count} on the fold{what}"
    if cut.pairs:
        return f"cut {'a pair' if cut.count == 1 else f'{cut.count} pairs'}{what}"
    return f"cut {cut.count}{what}"


def _notches(piece: Piece, preset: AllowancePreset) -> list[DrawnNotch]:
    found = []
    for notch in piece.notches:
        edge = piece.edge(notch.at.edge)
        at = edge.mm_of(notch.at)
        x, y = edge.path.point_at(at)
        nx, ny = edge.path.normal_at(at)  # to the left: inwards
        found.append(
            DrawnNotch(
                x, y, math.degrees(math.atan2(-ny, -nx)), notch.count, max(allowance_of(edge, preset), 4.0)
            )
        )
    return found


def _point(mark: Mark) -> DrawnPoint:
    kind = mark.kind if mark.kind in ("drill", "apex", "button", "buttonhole") else "point"
    return DrawnPoint(mark.points[0][0], mark.points[0][1], kind, mark.name)


def laid_cloth(cloth: Cloth) -> LaidCloth:
    """Return a cloth as the lay plan draws it: as it will be when it has been washed."""
    ready = washed(cloth)
    facts = [text for text in (ready.origin, f"nap {ready.nap}" if ready.nap != "none" else "") if text]
    return LaidCloth(
        ready.name,
        np.array(ready.outline),
        tuple(np.array(h) for h in ready.holes),
        tuple(Flaw(np.array(f.polygon), f.kind) for f in ready.flaws),
        90.0 if ready.grain_deg is None else ready.grain_deg,
        facts=tuple(facts),
    )


def laid_pieces(
    laid: Sequence[Laid], pieces: Sequence[CutPiece], numbers: Mapping[str, str]
) -> tuple[LaidPiece, ...]:
    """Return laid pieces as the lay plan draws them, where they lie."""
    by_id = {piece.id: piece for piece in pieces}
    found = []
    for one in laid:
        piece = by_id[one.piece]
        outline = np.array(one.outline)
        length = 0.25 * float(np.ptp(outline, axis=0).min())
        centre = outline.mean(axis=0)
        up_rad = math.radians(90.0 + one.turn_deg)
        dx, dy = length * math.cos(up_rad), length * math.sin(up_rad)
        drawn = DrawnPiece(
            number=numbers.get(piece.piece, ""),
            name=one.name,
            cut=(outline,),
            grain=DrawnGrain(
                float(centre[0] - dx), float(centre[1] - dy), float(centre[0] + dx), float(centre[1] + dy)
            ),
            role=piece.role,
        )
        found.append(LaidPiece(drawn, one.turn_deg, one.mirrored))
    return tuple(found)


def piece_numbers(state: GarmentState) -> dict[str, str]:
    """Return the number of each piece by its id, as printed on it."""
    every = [*state.pattern.pieces.values(), *(d.piece for d in state.derivation.pieces.values())]
    return {piece.id: str(number) for number, piece in enumerate(every, start=1)}
