"""What the maker draws on a photograph or rubs out of it: a missing stretch, a false dot, a line that crosses."""

import numpy as np
import pytest
from tests.capture.outline_drawings import Paper, bodice, both_ways, wavered
from tests.capture.test_pins_dots import dotted

from eke.capture.by_hand import Stroke, drawn_share, with_strokes
from eke.capture.outline import find_pieces
from eke.errors import NotTrustworthy


def broken(gap_mm=70.0, width=1.0):
    """A front whose side was not drawn for a while; the truth, and the two ends of the gap."""
    sheet = Paper()
    truth = wavered(bodice()[0], np.random.default_rng(3))
    closed = np.vstack([truth, truth[:1]])
    at = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    sheet.outline(truth, [(60.0, gap_mm)], width)
    inside = (at > 60.0) & (at < 60.0 + gap_mm)
    return sheet, truth, closed[inside]


@pytest.mark.parametrize("width", [0.7, 2.2])
def test_a_missing_stretch_is_drawn_from_line_to_line(width):
    sheet, truth, gap = broken(width=width)
    flat = sheet.rectified()
    with pytest.raises(NotTrustworthy):
        find_pieces(flat)
    # a finger begins and ends a little beside the lines
    by_finger = Stroke("draw", np.array([gap[0] + [0.0, 2.0], gap[-1] + [0.0, -2.0]]))
    put, lines = with_strokes(flat, [by_finger])
    (piece,) = find_pieces(put)
    assert both_ways(piece.outline_mm, truth)[0] < 0.8
    assert drawn_share(piece.outline_mm, lines) == pytest.approx(70.0 / 930.0, abs=0.03)
    assert flat.image_rgb is not put.image_rgb, "the photograph itself stays as it is"


def test_what_is_rubbed_out_is_no_line():
    sheet, truth, _ = broken(gap_mm=0.0)
    sheet.stroke([(60.0, 150.0), (250.0, 158.0)], 1.0)  # right across the piece and out of it
    flat = sheet.rectified()
    crossed = find_pieces(flat)
    plain = max(crossed, key=lambda p: len(p.outline_mm))
    rubbed, _ = with_strokes(flat, [Stroke("rub", np.array([[62.0, 150.0], [190.0, 155.5]]))])
    (piece,) = find_pieces(rubbed)
    assert both_ways(piece.outline_mm, truth)[0] < 0.4
    assert any(m.kind == "line" for m in plain.marks)
    assert not any(m.kind == "line" for m in piece.marks)


def test_a_false_dot_is_rubbed_out_and_a_missing_one_set():
    sheet, truth, _, places, _ = dotted(1)
    inside = np.array([70.0, 150.0])
    sheet.dot(inside, 0.6)
    k = 12
    sheet.dot(places[k], 1.4, sheet.paper)  # one dot was not pricked through
    flat = sheet.rectified(1)
    put, lines = with_strokes(flat, [Stroke("rub", inside[None]), Stroke("draw", places[k][None])])
    assert not lines
    (piece,) = find_pieces(put)
    assert not [m for m in piece.marks if m.kind == "point"]
    assert both_ways(piece.outline_mm, truth)[0] < 0.5


def test_nothing_said_is_nothing_done():
    flat = Paper().rectified()
    assert with_strokes(flat, []) == (flat, [])


@pytest.mark.parametrize(
    "points", [[[-900.0, -900.0]], [[-900.0, 20.0], [-800.0, 30.0]], [[100.0, 100.0]] * 3]
)
@pytest.mark.parametrize("how", ["draw", "rub"])
def test_strokes_beside_the_picture_or_on_blank_paper_do_no_harm(how, points):
    put, _ = with_strokes(Paper().rectified(), [Stroke(how, np.array(points))])
    with pytest.raises(NotTrustworthy):
        find_pieces(put)
