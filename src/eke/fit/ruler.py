"""Ruler steps: a fit change as it is drawn on the paper piece, with a ruler and a pencil.

The maker's paper is the pattern. Each step says from where to measure along the old line, how far, and how far
square to it the new line lies: "at the shoulder 0; 60 mm down 8 in; at the bust point 0".
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from eke.fit.darts import dart_angle_deg
from eke.fit.edges import smooth_profile
from eke.fit.seams import TakeIn, moved_sides, run_length_mm
from eke.geometry.path import Pt
from eke.pattern.model import Edge, EdgePlace, Pattern, Piece, RunPart
from eke.units import format_mm

EVERY_MM: Final = 60.0
"""Places between the maker's own are given about this far apart: enough to draw a smooth line through."""
TRIFLE_MM: Final = 0.25
"""Less than this nobody draws."""


@dataclass(frozen=True, slots=True)
class RulerRow:
    """One measure: ``along_mm`` from the start, ``in_mm`` square to the old line (negative: outwards)."""

    along_mm: float
    in_mm: float
    at: Pt
    place: str = ""


@dataclass(frozen=True, slots=True)
class RulerStep:
    """What to do on one paper piece: a sentence, and the measures it is made of."""

    piece: str
    piece_name: str
    edge_name: str
    start_name: str
    end_name: str
    rows: tuple[RulerRow, ...]
    sentence: str


def take_in_steps(pattern: Pattern, change: TakeIn, unit: str = "mm") -> tuple[RulerStep, ...]:
    """Return the ruler steps for ``change`` on the pattern as it was before it."""
    seam = pattern.seam(change.seam)
    whole = run_length_mm(pattern, seam.a)
    profile = smooth_profile(change.knots)
    steps = []
    for run, share in moved_sides(seam, change):
        scale = whole / run_length_mm(pattern, run)
        so_far = 0.0
        for part in run:
            piece, edge = pattern.edge(part.edge)
            length = edge.path.length_mm
            wanted = {k / scale - so_far for k, _ in change.knots}
            wanted |= set(np.linspace(0.0, length, max(2, round(length / EVERY_MM) + 1)).tolist())
            rows: list[RulerRow] = []
            for along in sorted(w for w in wanted if -1e-6 <= w <= length + 1e-6):
                if rows and along - rows[-1].along_mm < 5.0:
                    continue
                amount = share * float(profile(np.array([(so_far + along) * scale]))[0])
                at = edge.path.point_at(length - along if part.reverse else along)
                rows.append(RulerRow(along, amount, at))
            so_far += length
            if max(abs(r.in_mm) for r in rows) < TRIFLE_MM:
                continue
            steps.append(_step(piece, edge, part, rows, seam.name or "seam", unit))
    return tuple(steps)


def dart_steps(
    pattern: Pattern, edge_id: str, at: EdgePlace, intake_mm: float, apex: Pt, unit: str = "mm"
) -> tuple[RulerStep, ...]:
    """Return the ruler steps for a new dart."""
    piece, edge = pattern.edge(edge_id)
    centre = edge.mm_of(at)
    mouth = edge.path.point_at(centre)
    start, end = end_names(piece, edge)
    rows = (
        RulerRow(centre - intake_mm / 2.0, 0.0, edge.path.point_at(centre - intake_mm / 2.0), "first leg"),
        RulerRow(centre, 0.0, mouth, "middle of the dart"),
        RulerRow(centre + intake_mm / 2.0, 0.0, edge.path.point_at(centre + intake_mm / 2.0), "second leg"),
    )
    depth = math.dist(mouth, apex)
    leg = math.hypot(depth, intake_mm / 2.0)
    sentence = (
        f"{piece.name}: measure {format_mm(centre, unit)} from {start} along the {edge.name or 'edge'} and mark it. "
        f"Mark {format_mm(intake_mm / 2.0, unit)} to each side. From the middle draw {format_mm(depth, unit)} to the point "
        f"of the dart, and join it to both marks (the dart closes {dart_angle_deg(intake_mm, leg):.1f}°)."
    )
    return (RulerStep(piece.id, piece.name, edge.name or "edge", start, end, rows, sentence),)


def end_names(piece: Piece, edge: Edge) -> tuple[str, str]:
    """Return how the start and the end of an edge are called: by the neighbouring edges."""
    at = piece.edges.index(edge)
    before, after = piece.edges[at - 1], piece.edges[(at + 1) % len(piece.edges)]
    return f"the {before.name or 'corner before it'}", f"the {after.name or 'corner after it'}"


def _step(
    piece: Piece, edge: Edge, part: RunPart, rows: list[RulerRow], seam_name: str, unit: str
) -> RulerStep:
    start, end = end_names(piece, edge)
    if part.reverse:
        start, end = end, start
    texts = []
    for row in rows:
        length = edge.path.length_mm
        if abs(row.in_mm) < TRIFLE_MM:
            amount = "0"
        else:
            amount = f"{format_mm(abs(row.in_mm), unit)} {'in' if row.in_mm > 0 else 'out'}"
        if row.along_mm < 1.0:
            texts.append(f"at {start} {amount}")
        elif row.along_mm > length - 1.0:
            texts.append(f"at {end} {amount}")
        else:
            texts.append(f"{format_mm(row.along_mm, unit)} along {amount}")
    sentence = (
        f"{piece.name}, {seam_name}, from {start}: {'; '.join(texts)}. Join the marks with a smooth line."
    )
    return RulerStep(piece.id, piece.name, edge.name or "edge", start, end, tuple(rows), sentence)
