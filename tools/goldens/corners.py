"""Corners moved: the edges that follow, as :func:`eke.pattern.corners.with_corner` has them."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

from tools.goldens.garment import demo_pinafore, points_of, shirt

from eke.errors import BadShape
from eke.geometry import Path
from eke.pattern.corners import corner_point, interior_angle_deg, with_corner, with_end_moved
from eke.pattern.model import Edge, Piece


def _edges(piece: Piece) -> list[dict[str, Any]]:
    return [{"id": e.id, "segments": points_of(e.path), "length_mm": e.path.length_mm} for e in piece.edges]


def _knot(edge: Edge, joint: int, dx: float, dy: float) -> Path:
    """Move a joint inside an edge: the two parts follow, as two edges with a corner there would."""
    head = replace(edge, path=Path(edge.path.segments[:joint]), shape="as traced")
    tail = replace(edge, path=Path(edge.path.segments[joint:]), shape="as traced")
    x, y = head.path.end
    to = (x + dx, y + dy)
    return with_end_moved(head, "end", to).path.joined(with_end_moved(tail, "start", to).path)


def make() -> Any:
    """Return the golden; its garments are those of ``garment.json``."""
    rng = random.Random(31)
    cases = []
    for pattern in (demo_pinafore(), shirt()):
        for piece in pattern.pieces.values():
            for edge in piece.edges:
                x, y = corner_point(edge, "end")
                far = rng.random() < 0.15
                reach = 400.0 if far else 30.0
                to = (round(x + rng.uniform(-reach, reach), 3), round(y + rng.uniform(-reach, reach), 3))
                end = "end"
                try:
                    made = with_corner(piece, edge.id, "end", to)
                except BadShape as trouble:
                    cases.append(
                        {
                            "garment": pattern.name.lower(),
                            "piece": piece.id,
                            "edge": edge.id,
                            "end": end,
                            "to": list(to),
                            "sound": False,
                            "inside_out": "inside out" in trouble.message,
                        }
                    )
                    continue
                cases.append(
                    {
                        "garment": pattern.name.lower(),
                        "piece": piece.id,
                        "edge": edge.id,
                        "end": end,
                        "to": list(to),
                        "sound": True,
                        "edges": _edges(made),
                        "angle_deg": interior_angle_deg(replace(made, darts=()), edge.id, "end"),
                    }
                )
    knots = []
    for pattern in (demo_pinafore(), shirt()):
        for piece in pattern.pieces.values():
            for edge in piece.edges:
                for joint in range(1, len(edge.path.segments)):
                    dx, dy = round(rng.uniform(-8, 8), 3), round(rng.uniform(-8, 8), 3)
                    path = _knot(edge, joint, dx, dy)
                    x, y = edge.path.segments[joint].start
                    knots.append(
                        {
                            "garment": pattern.name.lower(),
                            "piece": piece.id,
                            "edge": edge.id,
                            "joint": joint,
                            "to": [x + dx, y + dy],
                            "segments": points_of(path),
                            "length_mm": path.length_mm,
                        }
                    )
    return {"format": "eke-golden-corners-1", "unit": "mm", "cases": cases, "knots": knots}
