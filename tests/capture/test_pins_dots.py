"""Outlines set with dots: recall and precision, order, corners at anchors."""

from dataclasses import replace

import numpy as np
import pytest
from tests.capture.outline_drawings import Paper, bodice, both_ways

from eke.capture.lines import line_maps, paper_mask, stroke_image, view_of
from eke.capture.outline import find_pieces
from eke.capture.pins import find_dots
from eke.capture.pins_order import groups_of_dots, is_line_of_dots, ordered_ring
from eke.capture.pins_outline import outline_through_dots
from eke.errors import NotTrustworthy


def along(points, rng, low, high, corners):
    """Places 'low' to 'high' mm apart along an outline, with a dot at each corner."""
    ring = np.vstack([points, points[:1]])
    at = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))])
    stops = sorted(float(at[np.argmin(np.hypot(*(ring[:-1] - c).T))]) for c in corners)
    out, anchor = [], []
    for a, b in zip(stops, [*stops[1:], stops[0] + at[-1]], strict=True):
        out.append(a)
        anchor.append(True)
        s = a + rng.uniform(low, high)
        while s < b - 0.6 * low:
            out.append(s)
            anchor.append(False)
            s += rng.uniform(low, high)
    s = np.mod(out, at[-1])
    return np.column_stack([np.interp(s, at, ring[:, 0]), np.interp(s, at, ring[:, 1])]), np.array(anchor)


def dotted(seed=1, low=6.0, high=11.0, rings=True, faint=False, pixel=0.2):
    rng = np.random.default_rng(seed)
    points, corners, _ = bodice()
    places, anchor = along(points, rng, low, high, corners)
    places = places + rng.normal(0, 0.12, places.shape)
    sheet = Paper(mm_per_px=pixel)
    if faint:
        sheet.outline(points, (), 0.4, (165, 163, 160))
    for p, a in zip(places, anchor, strict=True):
        sheet.dot(p, 0.4 if rings or not a else 0.95)
        if a and rings:
            sheet.ring(p)
    return sheet, points, corners, places, anchor


def spots(rect):
    view = view_of(rect)
    stroke = stroke_image(view)
    mask = paper_mask(view, view.to_px(rect.paper_polygon_mm))
    return find_dots(view, stroke, line_maps(stroke, view.mm_per_px, mask)[1])


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("rings", [True, False])
def test_dots_are_found_and_nothing_else(seed, rings):
    sheet, _, _, places, anchor = dotted(seed, rings=rings)
    found = spots(sheet.rectified(seed))
    d = np.hypot(*(found.at_mm[:, None] - places[None]).transpose(2, 0, 1))
    assert (d.min(axis=0) < 0.5).mean() >= 0.98
    assert (d.min(axis=1) < 0.5).mean() >= 0.95
    assert np.median(d.min(axis=0)) < 0.1
    assert np.array_equal(found.anchor, anchor[d.argmin(axis=1)])


@pytest.mark.parametrize(("low", "high"), [(5.0, 7.0), (6.0, 11.0), (9.0, 15.0)])
def test_order_along_the_outline(low, high):
    rng = np.random.default_rng(6)
    points, corners, _ = bodice()
    places, _ = along(points, rng, low, high, corners)
    shuffled = rng.permutation(len(places))
    (group,) = groups_of_dots(places[shuffled])
    assert len(group) == len(places)
    ring = ordered_ring(places[shuffled])
    assert is_line_of_dots(places[shuffled], ring)
    order = shuffled[ring]
    steps = np.mod(np.diff(np.append(order, order[0])), len(places))
    assert set(steps.tolist()) in ({1}, {len(places) - 1})


@pytest.mark.parametrize("seed", range(4))
def test_no_dot_or_stretch_of_dots_lies_better_elsewhere(seed):
    """Against every move of one to three dots and every turned stretch, tried one by one."""
    at = np.random.default_rng(seed).uniform(0.0, 100.0, (16, 2))
    ring = ordered_ring(at, np.ones(len(at), bool))

    def length(order):
        return float(np.hypot(*(at[order] - at[np.roll(order, -1)]).T).sum())

    own = length(ring)
    for begin in range(len(ring)):
        turned = np.roll(ring, -begin)
        for size in range(1, 13):
            piece, rest = turned[:size], turned[size:]
            assert length(np.concatenate([piece[::-1], rest])) > own - 1e-6
            for place in range(1, len(rest)) if size <= 3 else ():
                for each in (piece, piece[::-1]):
                    assert length(np.concatenate([rest[:place], each, rest[place:]])) > own - 1e-6


def test_a_stray_dot_is_left_out():
    rng = np.random.default_rng(6)
    points, corners, _ = bodice()
    places, _ = along(points, rng, 6, 9, corners)
    with_stray = np.vstack([places, [[52.0, 150.0]]])
    assert len(places) not in ordered_ring(with_stray)


@pytest.mark.parametrize("seed", range(6))
def test_the_end_of_a_notch_is_no_dot_of_the_outline(seed):
    """It lies a notch's length beside the line, nearer to its neighbours than the next dots, and may look like an anchor."""
    rng = np.random.default_rng(seed)
    points, corners, _ = bodice()
    places, anchor = along(points, rng, 6, 11, corners)
    plain = [k for k in range(2, len(places) - 2) if not anchor[k - 1 : k + 3].any()]
    k = int(rng.choice(plain))
    way = places[k + 1] - places[k]
    end = places[k] + 0.5 * way + 6.0 * np.array([-way[1], way[0]]) / np.hypot(*way)
    ring = ordered_ring(np.vstack([places, end]), np.append(anchor, rng.random() < 0.5))
    assert sorted(ring.tolist()) == list(range(len(places)))


def test_a_scatter_is_no_outline():
    rng = np.random.default_rng(3)
    at = rng.uniform(0, 200, (150, 2))
    for group in groups_of_dots(at):
        assert not is_line_of_dots(at, group[ordered_ring(at[group])])


@pytest.mark.parametrize("rings", [True, False])
def test_outline_through_dots(rings):
    sheet, truth, corners, _, _ = dotted(2, rings=rings)
    (piece,) = find_pieces(sheet.rectified())
    p95, worst = both_ways(piece.outline_mm, truth)
    assert p95 < 0.5
    assert worst < 1.2
    near = np.hypot(*(piece.corners_mm[:, None] - corners[None]).transpose(2, 0, 1))
    assert near.min(axis=0).max() < 0.6
    assert len(piece.corners_mm) == len(corners)
    assert len(piece.segments) <= 8
    assert p95 < 1.25 * 1.96 * piece.drawn_sigma_mm + 0.1


def test_a_faint_line_between_dots_is_followed():
    sheet, truth, corners, _, _ = dotted(4, low=9.0, high=15.0, faint=True)
    (piece,) = find_pieces(sheet.rectified())
    p95, _ = both_ways(piece.outline_mm, truth)
    assert p95 < 0.4
    assert len(piece.corners_mm) == len(corners)


def test_marks_beside_dots():
    sheet, _, _, _, _ = dotted(5)
    sheet.arrow((80, 90), (80, 230), width_mm=0.5)
    (piece,) = find_pieces(sheet.rectified())
    (grain,) = [m for m in piece.marks if m.kind == "grain"]
    d = grain.points_mm[1] - grain.points_mm[0]
    assert abs(np.degrees(np.arctan2(d[0], d[1])) % 180 - 0) % 180 < 0.5 or abs(d[0]) < 1.0
    assert np.hypot(*d) == pytest.approx(140.0, abs=3.0)


def test_pricks_far_from_the_camera_are_fainter_than_specks_may_be():
    """Alone they are not told from specks; in a closed line of pricks they are."""
    rng = np.random.default_rng(6)
    truth, corners, _ = bodice()
    places, anchor = along(truth, rng, 6.0, 11.0, corners)
    sheet = Paper(mm_per_px=0.29)
    middle = places[:, 0].mean()
    for p, a in zip(places, anchor, strict=True):
        far = p[0] < middle
        sheet.dot(p, 0.2 if far else 0.32, (178, 178, 178))
        if a:
            sheet.ring(p, ink=(178, 178, 178))
    rect = sheet.rectified(noise=1.0)
    bold = spots(rect)
    assert np.sum(bold.at_mm[:, 0] < middle - 10.0) < 0.5 * np.sum(places[:, 0] < middle - 10.0)
    (piece,) = find_pieces(rect)
    p95, worst = both_ways(piece.outline_mm, truth)
    assert p95 < 0.5
    assert worst < 1.5
    assert len(piece.corners_mm) == len(corners)
    assert any("faint" in w for w in piece.warnings), "one may be missing"


@pytest.mark.parametrize(("touched", "found"), [(False, 0), (True, 1)])
def test_a_ring_of_specks_beside_what_looks_like_the_paper_is_no_faint_piece(touched, found):
    """Dotted joints of a floor hid the piece on the paper: nothing was looked for there any more."""
    rng = np.random.default_rng(6)
    truth, corners, _ = bodice()
    places, _ = along(truth, rng, 6.0, 11.0, corners)
    sheet = Paper(mm_per_px=0.29)
    for p in places:
        sheet.dot(p, 0.2, (178, 178, 178))
    rect = sheet.rectified(noise=1.0, with_paper=False)
    middle = truth.mean(axis=0)
    elsewhere = np.array([[0.0, 0.0], [9.0, 0.0], [9.0, 9.0], [0.0, 9.0]])
    here = middle + np.array([[-120.0, -190.0], [120.0, -190.0], [120.0, 190.0], [-120.0, 190.0]])
    touches = [(float(middle[0]), float(middle[1]), "+")] if touched else []
    (piece,) = find_pieces(replace(rect, likely_paper_mm=here))
    assert any("faint" in w for w in piece.warnings)
    beside = replace(rect, likely_paper_mm=elsewhere)
    if found:
        assert len(find_pieces(beside, touches=touches)) == 1
    else:
        with pytest.raises(NotTrustworthy, match="No closed outline"):
            find_pieces(beside, touches=touches)


def test_fainter_pricks_are_looked_for_beside_a_piece_that_was_found():
    """Of two pricked pieces the one further away has pricks of which most are fainter than specks may be."""
    rng = np.random.default_rng(6)
    truth, corners, _ = bodice()
    places, anchor = along(truth, rng, 6.0, 11.0, corners)
    aside = np.array([np.ptp(truth[:, 0]) + 40.0, 0.0])
    sheet = Paper(width_mm=520.0, mm_per_px=0.29)
    for p, a in zip(places, anchor, strict=True):
        sheet.dot(p, 0.32, (178, 178, 178))
        sheet.dot(p + aside, 0.24, (178, 178, 178))
        if a:
            sheet.ring(p, ink=(178, 178, 178))
            sheet.ring(p + aside, ink=(178, 178, 178))
    rect = sheet.rectified(noise=1.0)
    bold = spots(rect).at_mm
    assert np.sum(bold[:, 0] > aside[0]) < 0.6 * len(places), "else this is no case of faint pricks"
    clear, faint = sorted(find_pieces(rect), key=lambda p: p.outline_mm[:, 0].mean())
    for piece, by in ((clear, 0.0), (faint, aside)):
        p95, _ = both_ways(piece.outline_mm, truth + by)
        assert p95 < 0.5
        assert len(piece.corners_mm) == len(corners)
    assert not any("faint" in w for w in clear.warnings)
    assert any("faint" in w for w in faint.warnings)


def square_of_dots(radius_mm=0.0, side_mm=200.0, spacing_mm=8.0):
    """Dots along a square with corners of a radius, none of them at a corner."""
    r, half = max(radius_mm, 1e-6), side_mm / 2
    t = np.linspace(0.0, np.pi / 2, 60)
    arcs = [
        np.array([cx, cy])
        + r * np.column_stack([np.cos(t + quarter * np.pi / 2), np.sin(t + quarter * np.pi / 2)])
        for quarter, (cx, cy) in enumerate(
            [(half - r, half - r), (r - half, half - r), (r - half, r - half), (half - r, r - half)]
        )
    ]
    path = np.vstack([*arcs, arcs[0][:1]])
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(path, axis=0).T))])
    count = round(at[-1] / spacing_mm)
    places = (np.arange(count) + 0.5) * at[-1] / count
    dots = np.column_stack([np.interp(places, at, path[:, 0]), np.interp(places, at, path[:, 1])])
    return dots + np.random.default_rng(3).normal(0.0, 0.1, dots.shape), path


def test_a_corner_whose_dot_was_not_seen_lies_where_its_edges_meet():
    dots, path = square_of_dots()
    nowhere = np.zeros(len(dots), bool)
    found = outline_through_dots(dots, nowhere, some_unseen=True)
    near = np.hypot(*(found.corners_mm[:, None] - path[None]).transpose(2, 0, 1)).min(axis=1)
    corners = np.array([[100, 100], [-100, 100], [-100, -100], [100, -100]], float)
    gaps = np.hypot(*(found.corners_mm[:, None] - corners[None]).transpose(2, 0, 1))
    assert len(found.corners_mm) == 4
    assert near.max() < 0.8
    assert gaps.min(axis=0).max() < 0.8
    assert both_ways(found.outline_mm, path)[1] < 1.0


@pytest.mark.parametrize("radius", [20.0, 30.0, 60.0])
def test_a_round_corner_stays_round(radius):
    dots, path = square_of_dots(radius)
    nowhere = np.zeros(len(dots), bool)
    found, plain = (outline_through_dots(dots, nowhere, some_unseen=unseen) for unseen in (True, False))
    assert len(found.corners_mm) == len(plain.corners_mm)
    assert both_ways(found.outline_mm, path)[1] < both_ways(plain.outline_mm, path)[1] + 0.1


@pytest.mark.parametrize("seed", range(8))
def test_an_outline_never_strays_from_its_dots(seed):
    """A corner without its dot let a curve go on for 34 mm and come back."""
    rng = np.random.default_rng(seed)
    points, corners, _ = bodice()
    places, anchor = along(points, rng, 5.0, 8.0, corners)
    gone = rng.permutation(np.flatnonzero(anchor))[:3]
    keep = ~np.isin(np.arange(len(places)), gone)
    ring = (places + rng.normal(0.0, 0.12, places.shape))[keep]
    found = outline_through_dots(ring, anchor[keep], some_unseen=True)
    gap = np.hypot(*np.diff(np.vstack([ring, ring[:1]]), axis=0).T).max()
    assert both_ways(found.outline_mm, points)[1] < max(6.0, 0.7 * gap)
