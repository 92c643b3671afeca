"""Peers for the table: general packing libraries, where they are installed (``pip install eke[peers]``)."""

from __future__ import annotations

from typing import Any


def spyrrow_strip(raw: dict[str, Any], seconds: float, seed: int, workers: int) -> dict[str, Any] | None:
    """Return spyrrow's lay of a strip case as ``nesting-answer-1``, or ``None`` where it is not installed."""
    try:
        import spyrrow
    except ImportError:
        return None
    items = [
        spyrrow.Item(
            p["id"], [tuple(q) for q in p["polygon"][:-1]], p["demand"], [float(a) for a in p["rotations"]]
        )
        for p in raw["pieces"]
    ]
    instance = spyrrow.StripPackingInstance(raw["name"], strip_height=raw["strip_height"], items=items)
    config = spyrrow.StripPackingConfig(
        early_termination=False, total_computation_time=int(seconds), num_workers=workers, seed=seed
    )
    found = instance.solve(config)
    return {
        "format": "nesting-answer-1",
        "case": raw["name"],
        "placements": [
            {"piece": p.id, "rotation_deg": p.rotation, "translation": list(p.translation)}
            for p in found.placed_items
        ],
        "unplaced": [],
        "seed": seed,
        "seconds": seconds,
    }
