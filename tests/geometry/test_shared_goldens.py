"""The goldens that the front end shares: up to date, and held against SciPy and shapely as outside references."""

from __future__ import annotations

import json
import math
from itertools import pairwise
from pathlib import Path as FilePath

import numpy as np
import pytest
import shapely
from scipy.integrate import quad
from shapely import affinity
from tools.make_goldens import MAKERS, differs, main, text_of

SHARED = FilePath(__file__).parents[1] / "shared"


def golden(name: str) -> dict:
    return json.loads((SHARED / name).read_text(encoding="utf-8"))


PATHS = golden("paths.json")["cases"]
RINGS = golden("polygons.json")
RIGID = golden("rigid.json")


def control(segment: dict) -> np.ndarray:
    points = np.array(segment["points"], dtype=np.float64)
    if len(points) == 4:
        return points
    return points[0] + np.outer([0, 1 / 3, 2 / 3, 1], points[1] - points[0])


def at(points: np.ndarray, t: np.ndarray) -> np.ndarray:
    u = 1 - t[:, None]
    t = t[:, None]
    return u**3 * points[0] + 3 * u**2 * t * points[1] + 3 * u * t**2 * points[2] + t**3 * points[3]


def speed(points: np.ndarray, t: float) -> float:
    d = np.diff(points, axis=0)
    return float(3 * np.hypot(*((1 - t) ** 2 * d[0] + 2 * (1 - t) * t * d[1] + t**2 * d[2])))


def test_the_goldens_are_up_to_date():
    assert main(["--check", "paths.json", "polygons.json", "rigid.json"]) == 0


def test_all_goldens_are_made_by_the_tool():
    assert {file.name for file in SHARED.glob("*.json")} == set(MAKERS)


def test_the_comparison_of_goldens_fails_where_it_must():
    one = {"a": [1.0, 2.0], "b": True, "c": "word", "d": None}
    assert differs(one, json.loads(text_of(one))) is None
    for other in (
        {"a": [1.0, 2.1], "b": True, "c": "word", "d": None},
        {"a": [1.0], "b": True, "c": "word", "d": None},
        {"a": [1.0, 2.0], "b": False, "c": "word", "d": None},
        {"a": [1.0, 2.0], "b": True, "c": "other", "d": None},
        {"a": [1.0, 2.0], "b": True, "c": "word"},
        {"a": [1.0, "2"], "b": True, "c": "word", "d": None},
        {"a": [1.0, 2.0], "b": 1.5, "c": "word", "d": None},
    ):
        assert differs(one, other)
    with pytest.raises(ValueError, match="none"):
        text_of([math.nan])


@pytest.mark.parametrize("case", PATHS, ids=[c["name"] for c in PATHS])
def test_lengths_by_scipy(case):
    """Adaptive quadrature of QUADPACK, broken where the speed is least, as a cusp needs."""
    total = 0.0
    for segment, start, end in zip(case["segments"], case["joints_mm"], case["joints_mm"][1:], strict=False):
        points = control(segment)
        grid = np.linspace(0.0, 1.0, 2001)
        slow = grid[int(np.argmin([speed(points, t) for t in grid]))]
        breaks = sorted({0.0, float(slow), 1.0, *(float(np.clip(slow + e, 0, 1)) for e in (-1e-3, 1e-3))})
        length = sum(
            quad(lambda t, p=points: speed(p, t), a, b, epsabs=1e-9, epsrel=1e-10, limit=400)[0]
            for a, b in pairwise(breaks)
        )
        assert end - start == pytest.approx(length, rel=1e-7, abs=1e-6)
        total += length
    assert case["length_mm"] == pytest.approx(total, rel=1e-7, abs=1e-6)


@pytest.mark.parametrize("case", PATHS, ids=[c["name"] for c in PATHS])
def test_places_and_chords_by_shapely(case):
    t = np.linspace(0.0, 1.0, 4001)
    dense = shapely.LineString(np.vstack([at(control(s), t) for s in case["segments"]]))
    length = dense.length
    assert case["length_mm"] == pytest.approx(length, rel=1e-5)
    for place in case["places"]:
        assert dense.interpolate(place["mm"]).distance(shapely.Point(place["point"])) < max(
            1e-5 * length, 1e-6
        )
        assert math.hypot(*place["tangent"]) == pytest.approx(1.0)
    for found in case["nearest"]:
        to = shapely.Point(found["to"])
        assert found["distance_mm"] == pytest.approx(dense.distance(to), abs=2e-3)
        assert to.distance(shapely.Point(found["point"])) == pytest.approx(found["distance_mm"])
        assert dense.interpolate(found["at_mm"]).distance(shapely.Point(found["point"])) < max(
            2e-5 * length, 1e-5
        )
    flat = shapely.LineString(case["flat"])
    assert shapely.hausdorff_distance(flat, dense, densify=0.2) < case["flat_tolerance_mm"] + 0.5
    assert (
        max(flat.distance(p) for p in shapely.points(dense.coords[::7])) <= case["flat_tolerance_mm"] + 1e-6
    )
    left, bottom, right, top = dense.bounds
    assert case["bounds"] == pytest.approx([left, bottom, right, top], abs=1e-2)
    parts = [np.vstack([at(control(s), t) for s in part]) for part in case["cut"]["parts"]]
    if parts:
        assert shapely.LineString(parts[0]).length == pytest.approx(case["cut"]["mm"], rel=1e-5)
        assert sum(shapely.LineString(p).length for p in parts) == pytest.approx(length, rel=1e-5)


@pytest.mark.parametrize("case", RINGS["cases"], ids=[c["name"] for c in RINGS["cases"]])
def test_rings_by_shapely(case):
    shape = shapely.Polygon(case["ring"])
    sign = 1.0 if shape.exterior.is_ccw else -1.0
    assert case["area_mm2"] == pytest.approx(sign * shape.area)
    assert case["centre"] == pytest.approx([shape.centroid.x, shape.centroid.y])
    for asked in case["inside"]:
        assert asked["is"] == shape.contains(shapely.Point(asked["point"]))


def test_rings_apart_and_crossing_by_shapely():
    shapes = {c["name"]: shapely.Polygon(c["ring"]) for c in RINGS["cases"]}
    assert len(RINGS["apart"]) > 40
    assert any(row["distance_mm"] == 0 for row in RINGS["apart"])
    for row in RINGS["apart"]:
        assert row["distance_mm"] == pytest.approx(shapes[row["a"]].distance(shapes[row["b"]]), abs=1e-9)
    for row in RINGS["crossing"]:
        assert row["simple"] == shapely.LinearRing(row["ring"]).is_simple


def test_moves_by_shapely():
    for row in RIGID["moves"]:
        about, pt = row["about"], shapely.Point(row["point"])
        turned = affinity.rotate(pt, row["turn_deg"], origin=tuple(about))
        assert row["turned"] == pytest.approx([turned.x, turned.y], abs=1e-8)
        m = row["all"]
        moved = affinity.affine_transform(pt, [m["a"], m["b"], m["c"], m["d"], m["tx"], m["ty"]])
        assert row["all_point"] == pytest.approx([moved.x, moved.y], abs=1e-6)
        # the middle between a point and its mirror image lies on the mirror line, square to it
        p, q, image = (np.array(row[k]) for k in ("p", "q", "mirrored"))
        here, along = np.array(row["point"]), q - p
        half = (here + image) / 2 - p
        assert along[0] * half[1] - along[1] * half[0] == pytest.approx(0.0, abs=1e-4)
        assert (image - here) @ along == pytest.approx(0.0, abs=1e-4)


def test_flags_laid_by_shapely():
    flag = shapely.Polygon(RIGID["flag"])
    for row in RIGID["laid"]:
        shape = affinity.scale(flag, -1.0, 1.0, origin=(0.0, 0.0)) if row["mirrored"] else flag
        shape = affinity.translate(
            affinity.rotate(shape, row["turn_deg"], origin=(0.0, 0.0)), row["x_mm"], row["y_mm"]
        )
        laid = shapely.Polygon(row["ring"])
        assert laid.exterior.is_ccw
        assert laid.symmetric_difference(shape).area < 1e-3
