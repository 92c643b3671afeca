"""Garments of the bench in a workroom: their pieces taken in as they are drafted, edges named, seams said."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from bench.pattern.drafting import Garment

from eke.actions import patterns, projects
from eke.actions.room import Room
from eke.geometry import Cubic
from eke.pattern.model import Piece, RunPart

TRACING = {"photo": None, "reference": "a4", "scale_percent": 0.1, "uncertainty_mm": 0.3}


def start_drafted(room: Room, project: str, *drafts: Garment) -> None:
    """Begin a project with these garments in it, sewn as they are drafted."""
    projects.start_project(room, project)
    for draft in drafts:
        projects.enter_garment(room, project, draft.name, {"wearer_age_years": 30})
        for piece in draft.pieces:
            _take(room, draft.name, piece)
        for sewn in draft.sewn:
            _sew(room, draft.name, sewn.a, sewn.b, sewn.b_mirrored)


def _take(room: Room, garment: str, piece: Piece) -> None:
    rows = [
        {"kind": "cubic" if isinstance(s, Cubic) else "line", "points": [list(p) for p in s.points]}
        for edge in piece.edges
        for s in edge.path.segments
    ]
    corners = [list(edge.path.start) for edge in piece.edges]
    grain = {"kind": "grain", "points": [list(p) for p in piece.grain or ((0, 0), (0, 100))]}
    params: dict[str, Any] = {
        "piece": piece.id, "name": piece.name, "segments": rows, "corners": corners,
        "marks": [grain], "tracing": TRACING,
    }  # fmt: skip
    patterns.change(room, garment, "trace.add", params)
    made = room.garment(garment).pattern.piece(piece.id)
    for edge, drawn in zip(made.edges, piece.edges, strict=True):
        patterns.change(room, garment, "edge.set", {"edge": edge.id, "name": drawn.name, "kind": drawn.kind})


def _sew(room: Room, garment: str, a: Sequence[RunPart], b: Sequence[RunPart], mirrored: bool) -> None:
    def run(parts: Sequence[RunPart]) -> list[str]:
        pattern = room.garment(garment).pattern
        made = []
        for part in parts:
            name = str(part.edge).split(".", 1)[1]
            edge = next(e for e in pattern.piece(part.piece).edges if e.name == name)
            made.append(f"-{edge.id}" if part.reverse else edge.id)
        return made

    name = next(n for n in (str(run[0].edge).split(".", 1)[1] for run in (a, b)) if n != "cap")
    patterns.say_seam(room, garment, name, run(a), run(b), b_mirrored=mirrored)
