"""Seams walked: notches met on both sides, pairs, running differences, as :mod:`eke.pattern.walking` has them."""

from __future__ import annotations

from typing import Any

from tools.goldens.garment import demo_pinafore, shirt

from eke.pattern.model import Pattern
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


def make() -> Any:
    """Return the golden; its garments are those of ``garment.json``."""
    return {
        "format": "eke-golden-walks-1",
        "unit": "mm",
        "walks": [walked(p, s) for p in (demo_pinafore(), shirt()) for s in p.seams],
    }
