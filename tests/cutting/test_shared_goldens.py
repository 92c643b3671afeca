"""The goldens of lays, garments, corners and walks that the front end shares, held against shapely."""

from __future__ import annotations

import json
from math import comb
from pathlib import Path

import numpy as np
import pytest
import shapely
from shapely import affinity
from tools.make_goldens import main

SHARED = Path(__file__).parents[1] / "shared"


def golden(name: str) -> dict:
    return json.loads((SHARED / name).read_text(encoding="utf-8"))


LAYS = golden("lays.json")


def laid(ring, row) -> shapely.Polygon:
    shape = shapely.Polygon(ring)
    if row["mirrored"]:
        shape = affinity.scale(shape, -1.0, 1.0, origin=(0.0, 0.0))
    shape = affinity.rotate(shape, row["turn_deg"], origin=(0.0, 0.0))
    return affinity.translate(shape, row["x_mm"], row["y_mm"])


def chords(points) -> list:
    """Points of a segment from its start up to, but without, its end, by Bernstein's polynomials."""
    control = np.array(points, dtype=np.float64)
    degree = len(control) - 1
    t = np.linspace(0.0, 1.0, 64 if degree == 3 else 2)[:-1, None]
    weights = [comb(degree, k) * t**k * (1 - t) ** (degree - k) for k in range(degree + 1)]
    return list(sum(w * p for w, p in zip(weights, control, strict=True)))


def verdict(shape: shapely.Polygon, lay: dict, least_quality: int, slack_mm: float) -> dict:
    """What shapely alone says; ``slack_mm`` is how much a gap may fall short, and area along the outline."""
    cloth, gaps = lay["cloth"], lay["gaps"]
    sound = shapely.Polygon(cloth["outline"], cloth["holes"])
    area = slack_mm * 10.0
    ground = shape.difference(sound).area > area
    if gaps["edge_mm"] > 0:
        ground |= shape.distance(shapely.Polygon(cloth["outline"]).exterior) < gaps["edge_mm"] - slack_mm
    ground |= any(
        shape.distance(shapely.Polygon(hole)) < gaps["hole_mm"] - slack_mm for hole in cloth["holes"]
    )
    pieces = []
    for one in lay["laid"]:
        other = shapely.Polygon(one["outline"])
        if shape.intersection(other).area > area or shape.distance(other) < gaps["pieces_mm"] - slack_mm:
            pieces.append(one["id"])
    flaw = any(
        shape.intersection(shapely.Polygon(f["polygon"])).area > area
        for f in cloth["flaws"]
        if f["quality"] < least_quality
    )
    return {"ground": ground, "pieces": sorted(pieces), "flaw": flaw}


@pytest.mark.parametrize("name", ["lays.json", "garment.json", "corners.json", "walks.json"])
def test_the_goldens_are_up_to_date(name):
    assert main(["--check", name]) == 0


@pytest.mark.parametrize("lay", LAYS["cases"], ids=[c["name"] for c in LAYS["cases"]])
def test_random_places_by_shapely(lay):
    assert sum(row["free"] for row in lay["tries"]) >= 15
    assert sum(not row["free"] for row in lay["tries"]) >= 15
    for row in lay["tries"]:
        piece = LAYS["pieces"][row["mover"]]
        said = verdict(laid(piece["ring"], row), lay, piece["least_quality"], 0.02)
        assert said == {key: row[key] for key in said}
        assert row["free"] == (not (row["ground"] or row["pieces"] or row["flaw"]))


def test_nearly_touching_by_shapely():
    kinds = set()
    for lay in LAYS["near"]:
        for row in lay["tries"]:
            shape = laid(row["ring"], row)
            said = verdict(shape, lay, row["least_quality"], 0.02)
            assert said == {key: row[key] for key in said}
            assert row["free"] != row["within_gap"]
            kinds.add((row["beside"], row["within_gap"]))
    assert len(kinds) == 10


def test_garments_are_closed_chains_of_edges():
    for garment in golden("garment.json")["garments"]:
        assert len(garment["pieces"]) >= 4
        for piece in [*garment["pieces"], *garment["derived"]]:
            ends = [(e["segments"][0]["points"][0], e["segments"][-1]["points"][-1]) for e in piece["edges"]]
            for (_, end), (start, _) in zip(ends, [*ends[1:], ends[0]], strict=True):
                assert end == pytest.approx(start, abs=1e-6)
            net = shapely.Polygon(
                [p for e in piece["edges"] for s in e["segments"] for p in chords(s["points"])]
            )
            assert net.is_valid
            assert net.exterior.is_ccw
            cut = shapely.Polygon(piece["cut_outline"])
            assert cut.is_valid
            assert cut.buffer(0.2).contains(net)


def test_corners_that_were_moved_are_where_they_were_put():
    cases = golden("corners.json")["cases"]
    assert sum(c["sound"] for c in cases) > 30
    assert sum(not c["sound"] for c in cases) >= 3
    folds = {
        (g["id"], e["id"])
        for g in golden("garment.json")["garments"]
        for p in g["pieces"]
        for e in p["edges"]
        if e["kind"] == "fold"
    }
    for case in cases:
        if not case["sound"]:
            continue
        ids = [e["id"] for e in case["edges"]]
        edge = case["edges"][ids.index(case["edge"])]
        after = case["edges"][(ids.index(case["edge"]) + 1) % len(ids)]
        end = edge["segments"][-1]["points"][-1]
        assert after["segments"][0]["points"][0] == pytest.approx(end)
        if not {(case["garment"], case["edge"]), (case["garment"], after["id"])} & folds:
            assert end == pytest.approx(case["to"])


def cheapest(a, b, expected, mate_mm=30.0) -> float:
    """The least cost of pairing notches in order, by trying all ways there are."""
    if not a or not b:
        return mate_mm / 2 * (len(a) + len(b))
    costs = [
        mate_mm / 2 + cheapest(a[1:], b, expected, mate_mm),
        mate_mm / 2 + cheapest(a, b[1:], expected, mate_mm),
    ]
    gap = abs(b[0]["at_mm"] - expected(a[0]["at_mm"]))
    if a[0]["count"] == b[0]["count"] and gap <= mate_mm:
        costs.append(gap + cheapest(a[1:], b[1:], expected, mate_mm))
    return min(costs)


def test_notches_are_paired_as_cheaply_as_can_be():
    walks, garments = golden("walks.json"), golden("garment.json")["garments"]
    eases = {
        (g["id"], s["id"]): (s["ease_mm"], s["ease_between"])
        for g in [*garments, *walks["garments"]]
        for s in g["seams"]
    }
    tried = 0
    for walk in walks["walks"]:
        ease, between = eases[walk["garment"], walk["seam"]]
        if between is not None:
            continue
        length = walk["a"]["length_mm"]
        wanted = cheapest(
            walk["a"]["notches"], walk["b"]["notches"], lambda mm, e=ease, n=length: mm - e * min(mm / n, 1.0)
        )
        said = sum(abs(p["apart_mm"]) for p in walk["pairs"]) + 15.0 * len(walk["alone"])
        assert said == pytest.approx(wanted, abs=1e-6)
        assert walk["difference_mm"] == pytest.approx(length - walk["b"]["length_mm"] - ease, abs=1e-6)
        tried += bool(walk["pairs"] and walk["alone"])
    assert tried >= 4
