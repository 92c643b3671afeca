"""Allowances: widths, corners, folds, and the values of the trade."""

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import LineString, Point, Polygon

from eke.derive import PRESETS, cut_outline, preset_named
from eke.errors import BadInput, BadShape
from eke.geometry.path import Path
from eke.pattern.model import Edge, EdgeId, Piece, PieceId


def piece(points, kinds=None, allowances=None):
    ring = [*points, points[0]]
    edges = tuple(
        Edge(
            EdgeId(f"e{i}"),
            Path.line(a, b),
            kind=(kinds or {}).get(i, "seam"),
            allowance_mm=(allowances or {}).get(i),
        )
        for i, (a, b) in enumerate(pairwise(ring))
    )
    return Piece(PieceId("p"), "test piece", edges)


SQUARE = [(0.0, 0.0), (200.0, 0.0), (200.0, 300.0), (0.0, 300.0)]


def test_a_rectangle_grows_by_its_allowances():
    made = cut_outline(piece(SQUARE, allowances={0: 40.0, 1: 15.0, 2: 10.0, 3: 0.0}))
    x0, y0 = made.ring.min(axis=0)
    x1, y1 = made.ring.max(axis=0)
    assert (x0, y0, x1, y1) == pytest.approx((0.0, -40.0, 215.0, 310.0), abs=1e-6)
    assert made.area_mm2 == pytest.approx(215.0 * 350.0, rel=1e-9)


def test_quarter_circle_offsets():
    # concave quarter circle r = 70: seam 109.96; cut edge 10 mm inside 94.25, outside 125.66 (plain geometry)
    arc = Path.arc((0.0, 0.0), 70.0, 0.0, 90.0)
    assert arc.length_mm == pytest.approx(109.96, abs=0.01)
    edges = (
        Edge(EdgeId("arc"), arc, allowance_mm=10.0),
        Edge(EdgeId("a"), Path.line((0.0, 70.0), (0.0, 0.0)), allowance_mm=0.0),
        Edge(EdgeId("b"), Path.line((0.0, 0.0), (70.0, 0.0)), allowance_mm=0.0),
    )
    made = cut_outline(Piece(PieceId("p"), "quarter", edges))
    outer = made.ring[np.hypot(*made.ring.T) > 75.0]
    assert np.hypot(*outer.T) == pytest.approx(80.0, abs=0.01)
    assert LineString(outer[np.argsort(np.arctan2(outer[:, 1], outer[:, 0]))]).length == pytest.approx(
        125.66, abs=0.1
    )
    neck = (
        Edge(EdgeId("neck"), Path.arc((100.0, 100.0), 70.0, 270.0, 180.0), allowance_mm=10.0),
        Edge(
            EdgeId("l"),
            Path.polyline([(30.0, 100.0), (0.0, 100.0), (0.0, 0.0), (100.0, 0.0), (100.0, 30.0)]),
            allowance_mm=0.0,
        ),
    )
    inside = cut_outline(Piece(PieceId("n"), "neck", neck)).ring
    radii = np.hypot(inside[:, 0] - 100.0, inside[:, 1] - 100.0)
    assert radii.min() == pytest.approx(60.0, abs=0.02)


@pytest.mark.parametrize("lean_deg", [-20.0, -8.0, 0.0, 8.0, 20.0])
def test_a_hem_folds_onto_the_piece(lean_deg):
    # trade: the hem allowance is the mirror image of the piece in the hem line; folded, the cut edges coincide
    lean = 300.0 * math.tan(math.radians(lean_deg))
    made = cut_outline(piece([(0.0, 0.0), (400.0, 0.0), (400.0 - lean, 300.0), (lean, 300.0)], {0: "hem"}))
    ring = Polygon(made.ring)
    below = ring.intersection(Polygon([(-999, 0), (999, 0), (999, -999), (-999, -999)]))
    above = ring.intersection(Polygon([(-999, 0), (999, 0), (999, 40), (-999, 40)]))
    mirrored = Polygon([(x, -y) for x, y in below.exterior.coords])
    assert mirrored.symmetric_difference(above).area < 0.5 * 40.0
    assert below.bounds[1] == pytest.approx(-40.0, abs=1e-6)


def test_a_sharp_corner_is_cut_back_and_said():
    made = cut_outline(piece([(0.0, 0.0), (300.0, 0.0), (0.0, 60.0)]))
    tip = Point(300.0, 0.0)
    assert max(tip.distance(Point(p)) for p in made.ring if p[0] > 250) <= 2.6 * 15.0
    assert any(f.code == "allowance-corner" for f in made.findings)
    assert Polygon(made.ring).contains(Polygon([(0.0, 0.0), (300.0, 0.0), (0.0, 60.0)]))


def test_refusals_are_sentences():
    with pytest.raises(BadShape, match="crosses itself"):
        cut_outline(piece([(0.0, 0.0), (200.0, 300.0), (200.0, 0.0), (0.0, 300.0)]))
    with pytest.raises(BadInput, match="cannot be -3 mm"):
        piece(SQUARE, allowances={0: -3.0})
    with pytest.raises(BadInput, match="There are: home"):
        preset_named("haute couture")


@given(
    st.lists(st.floats(40.0, 160.0), min_size=5, max_size=9),
    st.lists(st.sampled_from([0.0, 6.0, 10.0, 15.0, 25.4]), min_size=9, max_size=9),
)
def test_every_edge_has_its_width(radii, widths):
    """The cut line holds the net line, and stands off each edge by its width along its middle."""
    n = len(radii)
    points = [
        (r * math.cos(2 * math.pi * k / n), r * math.sin(2 * math.pi * k / n)) for k, r in enumerate(radii)
    ]
    net = Polygon(points)
    made = cut_outline(piece(points, allowances={i: widths[i] for i in range(n)}))
    cut = Polygon(made.ring)
    assert cut.is_valid
    assert cut.buffer(1e-3).contains(net)
    for i in range(n):
        a, b = np.array(points[i]), np.array(points[(i + 1) % n])
        if np.hypot(*(b - a)) < 60.0:
            continue
        middle = (a + b) / 2.0
        out = np.array([b[1] - a[1], a[0] - b[0]]) / np.hypot(*(b - a))
        seen = LineString([middle, middle + 200.0 * out]).intersection(cut).length
        assert seen >= widths[i] - 0.05


def test_presets_differ_where_the_trade_says():
    assert PRESETS["home"].seam_mm == pytest.approx(15.875, abs=1.0)  # 5/8 in
    assert PRESETS["mock-up"].seam_mm == pytest.approx(25.4)  # 1 in, University of Minnesota Folder 244
