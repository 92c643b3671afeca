from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from eke.formats.faces import metrics
from eke.paper.drawn import (
    NOTCH_INSIDE_MM,
    DrawnGrain,
    DrawnLine,
    DrawnNotch,
    DrawnPiece,
    at,
    grain_items,
    net_ring,
    notch_items,
    outline_items,
    piece_items,
)
from eke.paper.hatching import hatch_lines, role_hatch
from eke.paper.page import Area, Stroke, Words, rectangle, words_box
from eke.paper.placing import room_for, shape

from .samples import front, pinafore, pocket, side_front, strap, tab

M = metrics()


def lines_of(items, meaning):
    return [line for i in items if isinstance(i, Stroke) and i.style.meaning == meaning for line in i.lines]


def test_a_fold_is_drawn_as_a_fold_and_not_cut():
    items = outline_items(front())
    (fold,) = lines_of(items, "fold")
    assert fold[:, 0] == pytest.approx([0, 0])
    cut = shapely.union_all([shapely.LineString(line) for line in lines_of(items, "cut")])
    assert cut.intersection(shapely.LineString(fold)).length < 0.2
    # everything else of the outline is cut: the ring less the stretch from hem allowance to neck allowance
    ring = shapely.LinearRing(front().cut[0])
    assert cut.length == pytest.approx(ring.length - 600, abs=0.5)


def test_a_piece_without_a_fold_is_cut_all_round():
    (ring,) = lines_of(outline_items(pocket()), "cut")
    assert shapely.LinearRing(ring).length == pytest.approx(2 * (150 + 160))


def test_seam_lines_are_dashed_where_there_is_an_allowance_only():
    seams = lines_of(outline_items(front()), "seam")
    assert len(seams) == 5
    assert not any((line[:, 0] == 0).all() for line in seams)


@given(st.floats(-180, 180), st.integers(1, 3), st.floats(0, 20))
def test_a_notch_crosses_the_seam_line_at_a_right_angle(outward_deg, count, reach_mm):
    (stroke,) = notch_items(DrawnNotch(30, 40, outward_deg, count, reach_mm))
    assert len(stroke.lines) == count
    out = np.array([np.cos(np.radians(outward_deg)), np.sin(np.radians(outward_deg))])
    for line in stroke.lines:
        ends = (line - [30, 40]) @ out
        assert ends == pytest.approx([-NOTCH_INSIDE_MM, reach_mm])
    middle = np.mean([line.mean(axis=0) for line in stroke.lines], axis=0)
    along = np.array([-out[1], out[0]])
    assert (middle - [30, 40]) @ along == pytest.approx(0, abs=1e-9)


def test_grain_has_two_heads_unless_it_runs_one_way():
    both = [i for i in grain_items(DrawnGrain(0, 0, 0, 100)) if isinstance(i, Area)]
    one = [i for i in grain_items(DrawnGrain(0, 0, 0, 100, one_way=True)) if isinstance(i, Area)]
    assert len(both) == 2
    assert len(one) == 1
    assert one[0].rings[0][:, 1].max() == 100


@pytest.mark.parametrize("piece", [front(), side_front(), pocket(), strap()], ids=lambda p: p.name)
def test_words_stay_inside_the_piece_and_off_its_lines(piece):
    items = piece_items(piece, M)
    net = shapely.Polygon(net_ring(piece))
    boxes = [shapely.Polygon(words_box(i, M)) for i in items if isinstance(i, Words)]
    assert {piece.number, piece.name, *piece.labels} <= {i.text for i in items if isinstance(i, Words)}
    for number, box in enumerate(boxes):
        assert net.contains(box)
        assert not any(box.intersection(other).area > 0.5 for other in boxes[number + 1 :])
        if piece.grain:
            g = piece.grain
            assert not box.intersects(shapely.LineString([(g.x0_mm, g.y0_mm), (g.x1_mm, g.y1_mm)]))


def test_a_piece_too_small_for_its_number_has_it_beside_it():
    words = [i for i in piece_items(tab(), M) if isinstance(i, Words)]
    assert [w.text for w in words] == ["5 Tab"]
    assert words[0].x_mm > tab().bounds()[2]


@given(st.floats(-300, 300), st.floats(-300, 300), st.floats(-180, 180), st.booleans())
def test_moving_a_piece_moves_all_of_it(dx, dy, turn, mirror):
    piece = front()
    there = at(piece, dx, dy, turn, mirror=mirror)
    assert shapely.Polygon(there.cut[0]).area == pytest.approx(shapely.Polygon(piece.cut[0]).area)
    assert shapely.LinearRing(there.cut[0]).is_ccw == shapely.LinearRing(piece.cut[0]).is_ccw
    assert shapely.LinearRing(net_ring(there)).is_ccw
    # a notch still points from the net outline to the cutting line
    for before, after in zip(piece.notches, there.notches, strict=True):
        out = np.array([np.cos(np.radians(after.outward_deg)), np.sin(np.radians(after.outward_deg))])
        a = shapely.LinearRing(piece.cut[0]).distance(_tip(before))
        b = shapely.LinearRing(there.cut[0]).distance(
            shapely.Point(after.x_mm + out[0] * after.reach_mm, after.y_mm + out[1] * after.reach_mm)
        )
        assert a == pytest.approx(b, abs=1e-6)


def _tip(notch):
    turn = np.radians(notch.outward_deg)
    return shapely.Point(
        notch.x_mm + np.cos(turn) * notch.reach_mm, notch.y_mm + np.sin(turn) * notch.reach_mm
    )


@given(st.floats(5, 200), st.floats(5, 200), st.floats(3, 60), st.floats(3, 20))
def test_room_is_inside_or_not_there(w, h, want_w, want_h):
    region = shape([rectangle(10, 20, w, h)])
    spot = room_for(region, want_w, want_h)
    if spot is None:
        assert want_w >= w - 1e-6 or want_h >= h - 1e-6
    else:
        box = shapely.box(
            spot[0] - want_w / 2, spot[1] - want_h / 2, spot[0] + want_w / 2, spot[1] + want_h / 2
        )
        assert region.contains(box)


def test_a_hole_has_no_room():
    region = shape([rectangle(0, 0, 100, 100), rectangle(20, 20, 60, 60)])
    assert region.area == pytest.approx(100 * 100 - 60 * 60)
    assert room_for(region, 70, 30) is None
    assert room_for(region, 60, 15) is not None


def test_hatch_lines_are_as_far_apart_as_asked_and_inside():
    region = shape([rectangle(0, 0, 30, 30), rectangle(10, 10, 10, 10)])
    lines = hatch_lines(region, 2.0, 0.0)
    assert {round(float(y) % 2.0, 6) for line in lines for y in line[:, 1]} == {0.0}
    total = sum(shapely.LineString(line).length for line in lines)
    # level lines every 2 mm: the area over the spacing, to within a line at each edge
    assert total == pytest.approx(region.area / 2.0, abs=60)
    assert all(region.buffer(1e-6).contains(shapely.LineString(line)) for line in lines)


def test_roles_can_be_told_apart_without_colour():
    region = shape([rectangle(0, 0, 30, 30)])

    def look(role):
        strokes = [line for i in role_hatch(region, role) if isinstance(i, Stroke) for line in i.lines]
        dots = sum(len(i.rings) for i in role_hatch(region, role) if isinstance(i, Area))
        angles = {round(float(np.degrees(np.arctan2(*(b - a)[::-1]))) % 180) for a, b in strokes}
        return (tuple(sorted(angles)), len(strokes) // 10, bool(dots))

    roles = ("outer", "lining", "interlining", "interfacing", "mock-up")
    assert len({look(role) for role in roles}) == len(roles)


@pytest.mark.parametrize("piece", pinafore(), ids=lambda p: p.name)
def test_drawing_is_the_same_every_time(piece: DrawnPiece):
    one, two = piece_items(piece, M), piece_items(piece, M)
    assert [type(i) for i in one] == [type(i) for i in two]
    assert [(i.text, i.x_mm, i.y_mm) for i in one if isinstance(i, Words)] == [
        (i.text, i.x_mm, i.y_mm) for i in two if isinstance(i, Words)
    ]


def test_long_labels_are_broken_rather_than_dropped():
    long = replace(
        strap(), labels=("Pinafore for a nine-year-old, third trial", "cut 2 from the outer cloth")
    )
    words = [i for i in piece_items(long, M) if isinstance(i, Words)]
    assert " ".join(w.text for w in words if w.role == "measure") == " ".join(long.labels)
    net = shapely.Polygon(net_ring(long))
    assert all(net.contains(shapely.Polygon(words_box(w, M))) for w in words)


def test_how_often_to_cut_is_said_even_where_it_fits_only_by_itself():
    """A strap with a line down its middle leaves little room on either side."""
    middle = DrawnLine(np.array([[20, 20], [20, 440.0]]), "mark")
    narrow = replace(
        strap(), points=(), grain=None, lines=(middle,), labels=("Pinafore", "cut 2 from the outer cloth")
    )
    words = [i for i in piece_items(narrow, M) if isinstance(i, Words)]
    assert "cut 2 from the outer cloth" in [w.text for w in words]
    net = shapely.Polygon(net_ring(narrow))
    boxes = [shapely.Polygon(words_box(w, M)) for w in words]
    assert all(net.contains(box) and not box.intersects(shapely.LineString(middle.points)) for box in boxes)
    assert all(a.disjoint(b) for n, a in enumerate(boxes) for b in boxes[n + 1 :])
