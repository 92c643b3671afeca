"""Stripes that meet at the seams: balance lines of one name lie on the same stripe of one cloth.

A balance line runs round the body at one height and meets its namesake at every seam, so when two pieces have
theirs at the same phase of the repeat along the warp, stripes across the cloth run on from one to the other. One line
is enough for a piece (the one that most pieces have); a piece without it is tied by another line, through a piece
that has both. Stripes along the warp, and where in the repeat the line lies, are left to the maker's eye.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from eke.cloth import Cloth
from eke.cutting.listing import grain_deg
from eke.cutting.piece import CutPiece
from eke.lay.problem import PhaseRule, Repeat
from eke.pattern.balance import line_name

MATCH_MM: Final = 1.5
"""How far stripes may miss each other at a seam: hardly seen from a step away (common practice)."""
WARP_DEG: Final = 90.0
"""Where the warp runs inside the packing, see :mod:`eke.cutting.door`."""


def balance_points(cut: CutPiece) -> dict[str, tuple[float, float]]:
    """Return a point on each named balance line, in the frame of the cut piece; none where it has no pattern piece."""
    if cut.source is None:
        return {}
    drawn = cut.source.piece
    turn = np.radians(90.0 - grain_deg(drawn))
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    found: dict[str, tuple[float, float]] = {}
    for mark in drawn.marks:
        name = line_name(mark)
        if mark.kind == "balance" and name:
            x, y = np.asarray(mark.points, dtype=np.float64).mean(axis=0) @ matrix
            found.setdefault(name, (float(-x if cut.mirrored else x), float(y)))
    return found


def matched_lines(pieces: Sequence[CutPiece]) -> dict[str, tuple[str, ...]]:
    """Return the names of the balance lines, by piece id, by which visible pieces are matched."""
    lines = {piece.id: balance_points(piece) for piece in pieces if not piece.hidden and piece.grain != "any"}
    copies = {piece.id: piece.copies for piece in pieces}
    often = {
        name: sum(copies[id_] for id_, its in lines.items() if name in its)
        for name in sorted({name for its in lines.values() for name in its})
    }
    order = sorted((name for name in often if often[name] > 1), key=lambda name: (-often[name], name))
    chosen: dict[str, list[str]] = {}
    for name in order:
        fresh = [id_ for id_, its in lines.items() if name in its and id_ not in chosen]
        bridge = next((id_ for id_ in chosen if name in lines[id_]), None)
        if fresh and bridge is not None:
            chosen[bridge].append(name)
        for id_ in fresh:
            chosen[id_] = [name]
    return {id_: tuple(names) for id_, names in chosen.items()}


def repeat_of(cloth: Cloth) -> tuple[Repeat, ...]:
    """Return the repeat along the warp in the frame of the packing; its origin is anywhere, as only matching counts."""
    period_mm = cloth.repeat_mm[0]
    return () if period_mm is None else (Repeat(cloth.id, period_mm, WARP_DEG),)


def match_rules(pieces: Sequence[CutPiece], cloths: Sequence[Cloth]) -> Mapping[str, tuple[PhaseRule, ...]]:
    """Return the phase rules, by piece id, that make stripes meet; pieces match within each cloth by itself."""
    striped = [cloth.id for cloth in cloths if cloth.repeat_mm[0] is not None]
    points = {piece.id: balance_points(piece) for piece in pieces}
    return {
        id_: tuple(
            PhaseRule(points[id_][name], cloth, match=f"{name} on {cloth}", tolerance_mm=MATCH_MM)
            for cloth in striped
            for name in names
        )
        for id_, names in matched_lines(pieces).items()
    }
