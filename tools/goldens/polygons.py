"""Rings and moves: areas, centres, insides, distances; turning, mirroring, laying."""

from __future__ import annotations

import math
import random
from typing import Any

import numpy as np
import shapely

from eke.cutting.door import placed
from eke.geometry import Move, Path, centroid, contains, signed_area_mm2

Ring = list[tuple[float, float]]


def star(rng: random.Random, points: int, size_mm: float, centre: tuple[float, float] = (0.0, 0.0)) -> Ring:
    """Return a simple counter-clockwise ring with dents and bulges round a centre."""
    angles = sorted(rng.random() * 2.0 * math.pi for _ in range(points))
    ring = []
    for angle in angles:
        reach = size_mm * rng.uniform(0.35, 1.0)
        ring.append(
            (round(centre[0] + reach * math.cos(angle), 3), round(centre[1] + reach * math.sin(angle), 3))
        )
    return ring


def rings() -> dict[str, Ring]:
    """Return rings by name; all are simple."""
    found: dict[str, Ring] = {
        "a square": [(0, 0), (100, 0), (100, 100), (0, 100)],
        "a square, clockwise": [(0, 0), (0, 100), (100, 100), (100, 0)],
        "an L": [(0, 0), (120, 0), (120, 40), (40, 40), (40, 160), (0, 160)],
        "a triangle far away": [(5000, 5000), (5080, 5010), (5020, 5090)],
        "a circle of 50 mm": [
            (float(x), float(y)) for x, y in Path.arc((20, 10), 50, 0, 360).flatten(0.05)[:-1]
        ],
    }
    rng = random.Random(3)
    while len(found) < 21:
        ring = star(rng, rng.randint(5, 24), 120.0, (rng.randint(-200, 200), rng.randint(-200, 200)))
        if shapely.Polygon(ring).is_valid:
            found[f"random {len(found) - 4}"] = ring
    return found


def make() -> Any:
    """Return the golden of rings; hulls and distances come from shapely, the rest from :mod:`eke.geometry`."""
    rng = random.Random(11)
    all_rings = rings()
    shapes = {name: shapely.Polygon(ring) for name, ring in all_rings.items()}
    cases = []
    for name, ring in all_rings.items():
        array = np.array(ring, dtype=np.float64)
        left, bottom, right, top = shapes[name].bounds
        asked = [
            (round(rng.uniform(left - 20, right + 20), 3), round(rng.uniform(bottom - 20, top + 20), 3))
            for _ in range(12)
        ]
        hull = shapely.Polygon(shapely.get_coordinates(shapes[name].convex_hull))
        cases.append(
            {
                "name": name,
                "ring": [list(p) for p in ring],
                "area_mm2": signed_area_mm2(array),
                "centre": list(centroid(array)),
                "bounds": list(shapes[name].bounds),
                "perimeter_mm": shapes[name].exterior.length,
                "inside": [{"point": list(p), "is": contains(array, p)} for p in asked],
                "hull_area_mm2": hull.area,
                "hull_points": len(hull.exterior.coords) - 1,
            }
        )
    names = list(all_rings)
    apart = [
        {"a": a, "b": b, "distance_mm": shapes[a].distance(shapes[b])}
        for i, a in enumerate(names)
        for b in names[i + 1 :: 4]
    ]
    crossing = [
        {"name": "a bow", "ring": [[0, 0], [100, 100], [100, 0], [0, 100]], "simple": False},
        {
            "name": "a fish",
            "ring": [[0, 0], [80, 40], [120, 0], [120, 60], [80, 10], [0, 60]],
            "simple": False,
        },
        *({"name": n, "ring": [list(p) for p in r], "simple": True} for n, r in all_rings.items()),
    ]
    return {
        "format": "eke-golden-polygons-1",
        "unit": "mm",
        "cases": cases,
        "apart": apart,
        "crossing": crossing,
    }


def _row(move: Move) -> dict[str, float]:
    return {"a": move.a, "b": move.b, "tx": move.tx, "c": move.c, "d": move.d, "ty": move.ty}


def make_rigid() -> Any:
    """Return the golden of moves and of pieces where they lie."""
    rng = random.Random(5)

    def point() -> tuple[float, float]:
        return (round(rng.uniform(-500, 500), 3), round(rng.uniform(-500, 500), 3))

    moves = []
    for turn in (0.0, 90.0, 180.0, 270.0, -90.0, 45.0, 12.5, 359.0, -170.25, 720.0, 33.0):
        about, by, p, q, pt = point(), point(), point(), point(), point()
        turned = Move.rotation(turn, about)
        mirrored = Move.mirror(p, q)
        both = turned.then(Move.translation(*by)).then(mirrored)
        moves.append(
            {
                "turn_deg": turn,
                "about": list(about),
                "shift": list(by),
                "p": list(p),
                "q": list(q),
                "point": list(pt),
                "turned": list(turned.apply(pt)),
                "mirrored": list(mirrored.apply(pt)),
                "all": _row(both),
                "all_point": list(both.apply(pt)),
                "back": _row(both.inverse()),
                "between": _row(Move.between(p, q, about, pt)),
            }
        )
    flag = [[0, 0], [120, 0], [120, 90], [60, 90], [40, 260], [0, 300]]
    laid = []
    for turn in (0.0, 90.0, 180.0, 270.0, 2.0, 133.7, 315.0):
        for mirrored_too in (False, True):
            x, y = point()
            ring = placed(tuple((float(a), float(b)) for a, b in flag), turn, x, y, mirrored=mirrored_too)
            laid.append(
                {
                    "turn_deg": turn,
                    "x_mm": x,
                    "y_mm": y,
                    "mirrored": mirrored_too,
                    "ring": [list(p) for p in ring],
                }
            )
    return {"format": "eke-golden-rigid-1", "unit": "mm", "moves": moves, "flag": flag, "laid": laid}
