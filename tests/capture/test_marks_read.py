"""Notches, grain lines, lines inside, crosses and words, in mm."""

import numpy as np
import pytest
from tests.capture.outline_drawings import Paper, bodice, both_ways, wavered

from eke.capture.outline import find_pieces


def sheet_with_outline(seed=1, width=0.7):
    sheet = Paper()
    points, _, _ = bodice()
    truth = wavered(points, np.random.default_rng(seed))
    sheet.outline(truth, (), width)
    return sheet, truth


def tick(truth, share, inside_mm=5.0, outside_mm=4.0):
    k = int(share * len(truth))
    d = truth[(k + 3) % len(truth)] - truth[k - 3]
    d /= np.hypot(*d)
    inward = np.array([-d[1], d[0]])
    return truth[k], truth[k] + inward * inside_mm, truth[k] - inward * outside_mm


def of_kind(piece, kind):
    return [m.points_mm for m in piece.marks if m.kind == kind]


@pytest.mark.parametrize("width", [0.5, 0.9, 1.8])
@pytest.mark.parametrize(("inside", "outside"), [(5.0, 4.0), (6.0, 0.0), (0.0, 7.0)])
def test_notches_across_inside_and_outside(width, inside, outside):
    sheet, truth = sheet_with_outline(3, width)
    places = []
    for share in (0.08, 0.3, 0.36, 0.9):
        at, a, b = tick(truth, share, inside, outside)
        sheet.stroke([a, b], width)
        places.append(at)
    (piece,) = find_pieces(sheet.rectified())
    found = np.array([n[0] for n in of_kind(piece, "notch")])
    assert len(found) == len(places)
    d = np.hypot(*(found[:, None] - np.array(places)[None]).transpose(2, 0, 1))
    assert d.min(axis=0).max() < 1.0


def test_double_notches_stay_two():
    sheet, truth = sheet_with_outline()
    for share in (0.30, 0.307):
        _, a, b = tick(truth, share)
        sheet.stroke([a, b])
    (piece,) = find_pieces(sheet.rectified())
    assert len(of_kind(piece, "notch")) == 2


@pytest.mark.parametrize("width", [1.5, 2.1, 2.7])
@pytest.mark.parametrize("strokes", [1, 2])
def test_notches_of_a_broad_pen_are_read_and_bend_nothing(width, strokes):
    """Two strokes three millimetres apart of so broad a pen are one blot, wider than any stroke."""
    sheet, truth = sheet_with_outline(3, width)
    corners = bodice()[1]
    step = float(np.median(np.hypot(*np.diff(truth, axis=0).T)))
    places = []
    for share in (0.08, 0.3, 0.9):
        places.append(tick(truth, share)[0])
        for k in range(strokes):
            at, a, _ = tick(truth, share + (k - (strokes - 1) / 2) * 3.0 / step / len(truth), 6.0)
            sheet.stroke([at, a], width)
    (piece,) = find_pieces(sheet.rectified())
    found = np.array([n[0] for n in of_kind(piece, "notch")])
    d = np.hypot(*(found[:, None] - np.array(places)[None]).transpose(2, 0, 1))
    assert d.min(axis=0).max() < 1.0 + 1.5 * (strokes - 1), "each is found"
    assert d.min(axis=1).max() < 2.6, "and nothing else"
    assert len(piece.corners_mm) == len(corners)
    p95, worst = both_ways(piece.outline_mm, truth)
    assert p95 < 0.3
    assert worst < 1.0


def test_print_beside_a_broad_line_is_no_notch():
    sheet, truth = sheet_with_outline(3, 2.1)
    for share, word in ((0.05, "illib"), (0.2, "tdl"), (0.55, "hkl"), (0.8, "lilt")):
        x, y = truth[int(share * len(truth))]
        sheet.text(word, (x - 6, y - 2), 4.0, width_mm=0.4)
    (piece,) = find_pieces(sheet.rectified())
    assert of_kind(piece, "notch") == []


@pytest.mark.parametrize("width", [0.5, 1.0, 2.0])
def test_grain_line_with_a_word_across(width):
    sheet, _ = sheet_with_outline(2, width)
    start, end = np.array([80.0, 70.0]), np.array([96.0, 240.0])
    sheet.arrow(start, end, width)
    sheet.text("back", (66, 150), 14.0)
    (piece,) = find_pieces(sheet.rectified())
    (grain,) = of_kind(piece, "grain")
    d, want = grain[1] - grain[0], end - start
    turn = np.degrees(np.arctan2(d[0] * want[1] - d[1] * want[0], d @ want))
    assert min(abs(turn), 180 - abs(turn)) < 0.5
    assert np.hypot(*d) == pytest.approx(np.hypot(*want), abs=5.0)
    # the word gives no line
    assert of_kind(piece, "line") == []


def test_dart_legs_and_a_dashed_waist_are_lines():
    sheet, _ = sheet_with_outline()
    apex = (110.0, 150.0)
    sheet.stroke([(102.0, 42.2), apex])
    sheet.stroke([(118.0, 42.8), apex])
    for x in np.arange(42, 196, 11.0):
        sheet.stroke([(x, 200.0), (x + 7.0, 200.0)])
    (piece,) = find_pieces(sheet.rectified())
    lines = of_kind(piece, "line")
    level = [p for p in lines if np.ptp(p[:, 1]) < 2.0 and np.ptp(p[:, 0]) > 130]
    legs = [p for p in lines if np.hypot(*(p - apex).T).min() < 9.0 and np.ptp(p[:, 1]) > 80]
    assert len(level) == 1
    assert abs(level[0][:, 1].mean() - 200.0) < 0.3
    assert len(legs) == 2
    assert of_kind(piece, "notch") == []


def test_words_alone_are_nothing():
    sheet, _ = sheet_with_outline()
    sheet.text("pocket 2x", (60, 160), 16.0)
    sheet.text("fold", (120, 220), 9.0)
    (piece,) = find_pieces(sheet.rectified())
    assert [m.kind for m in piece.marks if m.kind != "point"] == []


def test_a_cross_is_a_point():
    sheet, _ = sheet_with_outline()
    sheet.stroke([(117.0, 177.0), (123.0, 183.0)])
    sheet.stroke([(117.0, 183.0), (123.0, 177.0)])
    (piece,) = find_pieces(sheet.rectified())
    (point,) = of_kind(piece, "point")
    assert np.hypot(*(point[0] - [120.0, 180.0])) < 0.6
