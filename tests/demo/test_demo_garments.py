"""The demo's drafts: seams that match, corners that join, marks that agree."""

from __future__ import annotations

import numpy as np
import pytest
from demo.drafting import along, bezier, chain, flatten, length_mm, mirror, solve, split, tangent
from demo.garments import (
    CHEST_MM,
    MISTRACED,
    MISTRACED_MM,
    SEAMS,
    WAIST_MM,
    WAIST_Y_MM,
    as_traced,
    notch_points,
    outline_chain,
    outline_points,
    piece,
    pieces,
    pinafore,
)
from scipy.integrate import quad
from shapely.geometry import LineString, Polygon

ALL = [p.id for p in pieces()]


def edge(name: str):
    piece_id, edge_id = name.lstrip("-").split(".")
    return piece(piece_id).edge(edge_id)


def corner_deg(p, i: int) -> float:
    """Interior angle where edge i begins."""
    a, b = tangent(p.edges[i - 1].path, at_end=True), tangent(p.edges[i].path, at_end=False)
    return 180.0 - float(np.degrees(np.arctan2(a[0] * b[1] - a[1] * b[0], a @ b)))


def corner_at(p, before: str, after: str) -> float:
    ids = [e.id for e in p.edges]
    i = ids.index(after)
    assert ids[i - 1] == before
    return corner_deg(p, i)


def test_length_agrees_with_quadrature_of_scipy():
    s = np.array([[0.0, 0], [120, -40], [-30, 260], [90, 200]])

    def speed(t: float) -> float:
        u = 1 - t
        v = 3 * ((s[1] - s[0]) * u * u + 2 * (s[2] - s[1]) * u * t + (s[3] - s[2]) * t * t)
        return float(np.hypot(*v))

    assert length_mm((s,)) == pytest.approx(quad(speed, 0, 1, epsabs=1e-11)[0], rel=1e-9)


def test_a_cut_curve_keeps_its_shape_and_length():
    s = np.array([[0.0, 0], [50, 90], [140, 80], [150, -20]])
    a, b = split(s, 0.37)
    assert length_mm((a,)) + length_mm((b,)) == pytest.approx(length_mm((s,)), rel=1e-9)
    np.testing.assert_allclose(bezier(a, [0.5])[0], bezier(s, [0.185])[0], atol=1e-12)
    np.testing.assert_allclose(along((a, b), length_mm((a,)))[0], a[3], atol=1e-6)


def test_mirroring_twice_changes_nothing():
    path = outline_chain(piece("front"))
    for a, b in zip(path, mirror(mirror(path)), strict=True):
        np.testing.assert_array_equal(a, b)


def test_helpers_refuse_what_does_not_close():
    with pytest.raises(ValueError, match="begins at"):
        chain([(0, 0), (1, 0)], [(2, 0), (3, 0)])
    with pytest.raises(ValueError, match="does not close"):
        solve(lambda x: x + 10, 0, 1)
    with pytest.raises(ValueError, match="beyond the end"):
        along(chain([(0, 0), (10, 0)]), 11)


@pytest.mark.parametrize("piece_id", ALL)
def test_outlines_are_closed_simple_and_counter_clockwise(piece_id: str):
    for p in (piece(piece_id), as_traced(piece(piece_id))):
        path = outline_chain(p)
        chain(*path)  # each segment begins where the one before ends
        np.testing.assert_allclose(path[-1][-1], path[0][0], atol=1e-9)
        ring = Polygon(outline_points(p, 0.5))
        assert ring.is_valid
        assert ring.exterior.is_ccw
        assert LineString(flatten(path, 0.2)).length == pytest.approx(length_mm(path), rel=1e-5)


@pytest.mark.parametrize("seam", SEAMS, ids=lambda s: s.name)
def test_the_two_sides_of_each_seam_are_equally_long(seam):
    a = sum(length_mm(edge(n).path) for n in seam.a)
    b = sum(length_mm(edge(n).path) for n in seam.b)
    assert a == pytest.approx(b, abs=0.01)


def test_seam_table_and_edges_tell_the_same():
    told = {frozenset(n.lstrip("-") for n in (*s.a, *s.b)) for s in SEAMS}
    drawn = {frozenset((f"{p.id}.{e.id}", other)) for p in pinafore() for e in p.edges for other in e.sewn_to}
    # the back's place for the strap is an opening of the tracing until the strap is sewn to it
    assert told == drawn


def test_seams_are_walked_in_one_direction():
    """A run with a minus runs against its outline: both runs begin low (at the hem) or at the same end."""
    for s in SEAMS:
        if s.name == "strap to back":
            continue
        first = edge(s.a[0]).path[0][0]
        second = edge(s.b[0]).path[-1][-1]
        assert s.b[0].startswith("-")
        assert abs(first[1] - second[1]) < 3.0
        assert first[1] < 15.0


@pytest.mark.parametrize("seam", SEAMS, ids=lambda s: s.name)
def test_notches_meet_their_mates(seam):
    """Mates have as many notches at the same distances from the same end (common practice)."""
    a, b = edge(seam.a[0]), edge(seam.b[0])
    whole = length_mm(b.path)
    mates = [(whole - d, n) for d, n in reversed(b.notches_mm)]
    assert len(a.notches_mm) == len(mates)
    for (d, n), (e, m) in zip(a.notches_mm, mates, strict=True):
        assert d == pytest.approx(e, abs=0.01)
        assert n == m


def test_front_has_single_and_back_double_notches():
    """Single at the front, double at the back: common practice."""
    assert [n for _, n in edge("front.panel").notches_mm] == [1, 1]
    assert 2 in [n for _, n in edge("back.panel").notches_mm]


def test_joined_corners_make_a_straight_line():
    """Where free edges run on across a seam, the corners add to 180 degrees (plain geometry)."""
    f, sf, sb, b = (piece(i) for i in ("front", "side_front", "side_back", "back"))
    sums = [
        corner_at(f, "hem", "panel") + corner_at(sf, "panel", "hem"),
        corner_at(f, "panel", "armhole") + corner_at(sf, "armhole", "panel"),
        corner_at(sf, "hem", "side") + corner_at(sb, "side", "hem"),
        corner_at(sf, "side", "armhole") + corner_at(sb, "armhole", "side"),
        corner_at(sb, "hem", "panel") + corner_at(b, "panel", "hem"),
        corner_at(sb, "panel", "armhole") + corner_at(b, "armhole", "panel"),
    ]
    np.testing.assert_allclose(sums, 180.0, atol=0.5)


@pytest.mark.parametrize(("piece_id", "before", "after"), [("front", "neck", "fold"), ("front", "fold", "hem"),
                                                          ("back", "hem", "fold"), ("back", "fold", "neck")])  # fmt: skip
def test_edges_meet_the_fold_at_right_angles(piece_id: str, before: str, after: str):
    assert corner_at(piece(piece_id), before, after) == pytest.approx(90.0, abs=0.5)


def test_girths_are_those_of_the_draft():
    def width(piece_id: str, y: float) -> float:
        ring = Polygon(outline_points(piece(piece_id), 0.2))
        return ring.intersection(LineString([(-500, y), (500, y)])).length

    panels = ("front", "side_front", "side_back", "back")
    assert 2 * sum(width(i, WAIST_Y_MM) for i in panels) == pytest.approx(WAIST_MM, abs=0.5)
    # the side panels are rounded over the chest, so flat widths add to a little more than the girth
    assert 2 * sum(width(i, 474.0) for i in panels) == pytest.approx(CHEST_MM, abs=10)
    assert WAIST_MM > 680  # wide enough to step in over the hips of a nine-year-old (about 700 with give)


def test_buttonholes_are_as_long_as_the_button_is_wide_and_high():
    """Length = diameter + height (The Vogue Sewing Book, 1970, quoted second-hand): 20 + 4 mm."""
    for line in piece("strap").lines:
        assert np.hypot(*(line[1] - line[0])) == pytest.approx(24.0)


def test_the_tracing_has_one_edge_too_long():
    for p in pinafore():
        for e, t in zip(p.edges, as_traced(p).edges, strict=True):
            more = length_mm(t.path) - length_mm(e.path)
            if f"{p.id}.{e.id}" == MISTRACED:
                assert more == pytest.approx(MISTRACED_MM, abs=1e-6)
            elif (p.id, e.id) != ("side_front", "hem"):
                assert more == 0


def test_the_apron_pocket_was_traced_with_its_allowance():
    net, drawn = (
        Polygon(outline_points(piece("apron_pocket"))),
        Polygon(outline_points(as_traced(piece("apron_pocket")))),
    )
    grown = net.buffer(10.0, join_style="mitre")
    assert drawn.symmetric_difference(grown).area < 1.0


def test_notches_point_inwards():
    for p in pieces():
        ring = Polygon(outline_points(p, 0.5))
        for at, inwards, _ in notch_points(p):
            assert ring.contains(LineString([at + inwards, at + 4 * inwards]))
