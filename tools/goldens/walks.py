"""Seams walked: notches met on both sides, pairs, running differences, as :mod:`eke.pattern.walking` has them."""

from __future__ import annotations

import random
from dataclasses import replace
from typing import Any

from tools.goldens.garment import demo_pinafore, shirt, view_of

from eke.geometry import Path
from eke.pattern.model import (
    Edge,
    EdgeId,
    EdgePlace,
    Notch,
    Pattern,
    Piece,
    PieceId,
    RunPart,
    Seam,
    SeamId,
)
from eke.pattern.walking import walk


def walked(pattern: Pattern, seam_id: str) -> dict[str, Any]:
    """Return the walk of one seam."""
    found = walk(pattern, seam_id)
    return {
        "garment": pattern.name.lower(),
        "seam": seam_id,
        "difference_mm": found.difference_mm,
        **{
            side: {
                "length_mm": run.length_mm,
                "stretches": [
                    {"piece": s.piece.id, "edge": s.edge.id, "from_mm": s.from_mm, "to_mm": s.to_mm}
                    for s in run.stretches
                ],
                "notches": [
                    {"id": n.notch.id, "at_mm": n.at_mm, "count": n.notch.count} for n in run.notches()
                ],
            }
            for side, run in (("a", found.a), ("b", found.b))
        },
        "pairs": [{"a": p.a.notch.id, "b": p.b.notch.id, "apart_mm": p.apart_mm} for p in found.pairs],
        "alone": sorted(n.notch.id for n in found.alone),
        "running": [list(row) for row in found.running(20)],
    }


def _panels(rng: random.Random, number: int) -> Pattern:
    """Return two panels sewn side to side, with notches anywhere, so that some find a mate and some do not."""
    length, ease = rng.uniform(180.0, 320.0), rng.choice([0.0, 0.0, 12.0, -9.0])
    pattern = Pattern(f"panels {number}")
    for name, height in (("one", length + ease), ("two", length)):
        corners = [(0.0, 0.0), (90.0, 0.0), (90.0, height), (0.0, height)]
        edges = tuple(
            Edge(EdgeId(f"{name}.{side}"), Path.line(corners[i], corners[(i + 1) % 4]), "seam", side)
            for i, side in enumerate(("bottom", "right", "top", "left"))
        )
        side = EdgeId(f"{name}.right" if name == "one" else f"{name}.left")
        notches = tuple(
            Notch(f"{name}.{i}", EdgePlace(side, mm=round(rng.uniform(0.0, length), 2)), rng.randint(1, 2))
            for i in range(rng.randint(1, 4))
        )
        pattern = pattern.with_piece(Piece(PieceId(name), name, edges, notches))
    if number == 1:
        # two poor pairs, or one good pair with two notches left alone?
        for name, side, mms in (("one", "right", (100.0, 125.0)), ("two", "left", (123.0, 150.0))):
            edge = pattern.piece(name).edge(f"{name}.{side}")
            along = [mm if name == "one" else edge.path.length_mm - mm for mm in mms]
            notches = tuple(Notch(f"{name}.{i}", EdgePlace(edge.id, mm=mm)) for i, mm in enumerate(along))
            pattern = pattern.with_piece(replace(pattern.piece(name), notches=notches))
    placed = [f"one.{i}" for i in range(len(pattern.piece("one").notches))]
    between = (placed[0], placed[-1]) if len(placed) > 1 and rng.random() < 0.5 else None
    seam = Seam(
        SeamId("side"),
        (RunPart(PieceId("one"), EdgeId("one.right")),),
        (RunPart(PieceId("two"), EdgeId("two.left"), True),),
        "side",
        ease,
        between,
    )
    return pattern.with_seam(seam)


def make() -> Any:
    """Return the golden; its garments are those of ``garment.json`` and some panels of its own."""
    rng = random.Random(13)
    panels = [_panels(rng, i + 1) for i in range(24)]
    return {
        "format": "eke-golden-walks-1",
        "unit": "mm",
        "garments": [view_of(p, {}) for p in panels],
        "walks": [walked(p, s) for p in (demo_pinafore(), shirt(), *panels) for s in p.seams],
    }
