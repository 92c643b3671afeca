"""Paths: lengths, places along them, chords, nearest points, cuts."""

from __future__ import annotations

import random
from typing import Any

from eke.geometry import Cubic, Line, Path, Pt


def made(rng: random.Random, count: int) -> Path:
    """Return a chain of ``count`` random lines and curves of the size of garment pieces."""
    here: Pt = (0.0, 0.0)

    def somewhere(spread_mm: float = 300.0) -> Pt:
        return (
            round(here[0] + rng.uniform(-spread_mm, spread_mm), 3),
            round(here[1] + rng.uniform(-spread_mm, spread_mm), 3),
        )

    segments: list[Line | Cubic] = []
    for _ in range(count):
        there = somewhere()
        if rng.random() < 0.35:
            segments.append(Line(here, there))
        else:
            segments.append(Cubic(here, somewhere(), somewhere(), there))
        here = there
    return Path(tuple(segments))


def samples() -> dict[str, Path]:
    """Return the paths by name: known shapes, hard ones and random ones."""
    found = {
        "a straight side": Path.line((10.0, -5.0), (310.0, 395.0)),
        "a square, closed": Path.polyline([(0, 0), (100, 0), (100, 100), (0, 100)], closed=True),
        "a quarter of a circle of 120 mm": Path.arc((0.0, 0.0), 120.0, 0.0, 90.0),
        "a whole circle of 60 mm, closed": Path.arc((40.0, 30.0), 60.0, 0.0, 360.0),
        "an armhole": Path(
            (
                Cubic((0.0, 0.0), (28.0, 4.0), (41.0, 30.0), (43.0, 62.0)),
                Cubic((43.0, 62.0), (44.5, 86.0), (40.0, 118.0), (52.0, 148.0)),
            )
        ),
        "a cusp": Path((Cubic((0.0, 0.0), (100.0, 100.0), (0.0, 100.0), (100.0, 0.0)),)),
        "nearly a cusp": Path((Cubic((0.0, 0.0), (100.0, 100.2), (0.0, 100.0), (100.0, 0.0)),)),
        "a curve that is straight": Path((Cubic((0.0, 0.0), (10.0, 10.0), (50.0, 50.0), (90.0, 90.0)),)),
        "a curve that goes back on itself": Path(
            (Cubic((0.0, 0.0), (150.0, 0.0), (-50.0, 0.0), (100.0, 0.0)),)
        ),
        "a handle of no length": Path((Cubic((0.0, 0.0), (0.0, 0.0), (60.0, 80.0), (120.0, 10.0)),)),
        "a loop": Path((Cubic((0.0, 0.0), (260.0, 180.0), (-160.0, 180.0), (100.0, 0.0)),)),
        "a short stroke": Path.line((0.0, 0.0), (0.02, 0.01)),
    }
    rng = random.Random(20)
    for i in range(24):
        found[f"random {i + 1}"] = made(rng, rng.randint(1, 5))
    return found


def make() -> Any:
    """Return the golden."""
    rng = random.Random(7)
    cases = []
    for name, path in samples().items():
        length = path.length_mm
        at = [0.0, *sorted(round(rng.random() * length, 4) for _ in range(4)), length]
        left, bottom, right, top = path.bounds
        off = [
            (
                round(rng.uniform(left - 80.0, right + 80.0), 3),
                round(rng.uniform(bottom - 80.0, top + 80.0), 3),
            )
            for _ in range(4)
        ]
        cut = round(length * rng.uniform(0.2, 0.8), 4)
        cases.append(
            {
                "name": name,
                "segments": [{"points": [list(p) for p in s.points]} for s in path.segments],
                "length_mm": length,
                "closed": path.is_closed,
                "joints_mm": list(path.joints_mm),
                "bounds": list(path.bounds),
                "places": [
                    {"mm": mm, "point": list(path.point_at(mm)), "tangent": list(path.tangent_at(mm))}
                    for mm in at
                ],
                "nearest": [
                    {"to": list(pt), "at_mm": n.at_mm, "point": list(n.point), "distance_mm": n.distance_mm}
                    for pt in off
                    for n in [path.nearest(pt)]
                ],
                "cut": {
                    "mm": cut,
                    "parts": [
                        [{"points": [list(p) for p in s.points]} for s in part.segments]
                        for part in path.split(cut)
                    ]
                    if length > 1.0
                    else [],
                },
                "flat": path.flatten(1.0).tolist(),
                "flat_tolerance_mm": 1.0,
                "flat_fine_points": len(path.flatten()),
            }
        )
    return {"format": "eke-golden-paths-1", "unit": "mm", "cases": cases}
