"""What lies beside a drawn line and is no part of it: print beside a gap, letters on a bow, a wrong paper's edge, boards."""

from dataclasses import replace

import numpy as np
import pytest
from tests.capture.outline_drawings import Paper, away, bodice, both_ways, wavered

from eke.capture import outline
from eke.capture.outline import find_pieces
from eke.capture.outline_paper import drawn_beside, part_of

GREY = (118, 116, 110)


def blocked(sheet, low, high, colour=GREY):
    """A printed picture: a filled rectangle from one corner to the other, in mm."""
    for y in np.arange(low[1], high[1], 0.5):
        sheet.stroke([(low[0], y), (high[0], y)], 0.8, colour)


@pytest.mark.parametrize("beside_mm", [0.0, 1.5, 3.0])
def test_a_gap_beside_a_printed_picture_is_crossed_straight(beside_mm):
    sheet = Paper()
    truth = wavered(bodice()[0], np.random.default_rng(5))
    blocked(sheet, (40.0 + beside_mm, 130.0), (90.0, 162.0))
    at = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(truth, axis=0).T))])
    middle = at[np.argmin(np.hypot(*(truth - [40.0, 160.0]).T))]
    sheet.outline(truth, ((middle - 3.5, 7.0),), 1.7, (25, 25, 25))
    (piece,) = find_pieces(sheet.rectified())
    assert len(piece.corners_mm) == 6
    assert away(piece.outline_mm, truth).max() < 1.0


@pytest.mark.parametrize("right_mm", [20.0, 38.0])
def test_a_letter_on_a_bow_leads_nobody_aside(right_mm):
    """The line goes on in a bow under the letter, and the way round the letter is as dark."""
    sheet = Paper()
    angle = np.linspace(0.0, 2.0 * np.pi, 700, endpoint=False)
    truth = np.array([130.0, 180.0]) + 50.0 * np.column_stack([np.cos(angle), np.sin(angle)])
    sheet.outline(truth, (), 2.0, (150, 45, 50))
    sheet.stroke([(20.0, 40.0), (20.0, 330.0)], 2.0, (150, 45, 50))
    below = 180.0 - np.sqrt(50.0**2 - right_mm**2)
    sheet.text("g", (124.0 + right_mm, below - 5.0), 12.0, (70, 68, 66), 1.2)
    (piece,) = find_pieces(sheet.rectified())
    p95, worst = both_ways(piece.outline_mm, truth)
    assert len(piece.corners_mm) == 0
    assert p95 < 0.3
    assert worst < 0.5


def test_lines_that_run_off_what_was_taken_for_the_paper_are_followed_beyond():
    sheet = Paper(width_mm=480)
    left, right = bodice()[0], bodice(dx=215)[0]
    sheet.outline(left)
    sheet.outline(right)
    whole = sheet.rectified()
    cut = np.array([[90.0, 2.0], [478.0, 2.0], [478.0, 358.0], [90.0, 358.0]])
    pieces = find_pieces(replace(whole, paper_polygon_mm=cut))
    assert len(pieces) == 2
    assert all(min(both_ways(p.outline_mm, t)[0] for t in (left, right)) < 0.3 for p in pieces)


def test_a_far_side_that_fades_is_followed_on_paper():
    sheet = Paper(width_mm=480)
    left, right = bodice()[0], bodice(dx=215)[0]
    sheet.outline(left, (), 0.7, (60, 60, 60))
    closed = np.vstack([right, right[:1]])
    shade = np.clip(np.interp(closed[:, 0], [255.0, 330.0], [165.0, 100.0]), 100.0, 165.0)
    for k in range(len(closed) - 1):
        sheet.stroke(closed[k : k + 2], 0.7, (int(shade[k]),) * 3)
    pieces = find_pieces(sheet.rectified(noise=1.0))
    assert len(pieces) == 2


def boards(sheet, low, high):
    """Three boards, each of another brown, with dark joints all round."""
    width = (high[0] - low[0]) / 3
    for k, colour in enumerate(((150, 112, 84), (118, 84, 60), (160, 122, 92))):
        blocked(sheet, (low[0] + k * width, low[1]), (low[0] + (k + 1) * width, high[1]), colour)
    for x in low[0] + width * np.arange(4):
        sheet.stroke([(x, low[1]), (x, high[1])], 1.2, (40, 30, 25))
    for y in (low[1], high[1]):
        sheet.stroke([(low[0], y), (high[0], y)], 1.2, (40, 30, 25))


def test_boards_beside_the_paper_are_no_pieces_and_a_second_paper_is_paper():
    sheet = Paper(width_mm=700)
    first, second = bodice()[0], bodice(dx=215)[0]
    sheet.outline(first)
    sheet.outline(second)
    boards(sheet, (500.0, 60.0), (660.0, 300.0))
    likely = np.array([[0.0, 0.0], [230.0, 0.0], [230.0, 360.0], [0.0, 360.0]])
    pieces = find_pieces(replace(sheet.rectified(with_paper=False), likely_paper_mm=likely))
    assert len(pieces) == 2, "the one on what looks like the paper, and the other beside it, but no board"
    assert max(p.outline_mm[:, 0].max() for p in pieces) < 450.0


LEFT = np.array([[0.0, 0.0], [230.0, 0.0], [230.0, 360.0], [0.0, 360.0]])


def looked_at(monkeypatch):
    """The pictures in which pieces are looked for closely, in turn."""
    seen, usual = [], outline._pieces_on

    def counted(rectified, *rest):
        seen.append(rectified)
        return usual(rectified, *rest)

    monkeypatch.setattr(outline, "_pieces_on", counted)
    return seen


def test_only_the_likely_paper_is_looked_at_closely_where_nothing_is_drawn_beside_it(monkeypatch):
    sheet = Paper(width_mm=700)
    truth = bodice()[0]
    sheet.outline(truth)
    boards(sheet, (300.0, 60.0), (660.0, 300.0))
    whole = replace(sheet.rectified(with_paper=False), likely_paper_mm=LEFT)
    seen = looked_at(monkeypatch)
    (piece,) = find_pieces(whole)
    assert len(seen) == 1
    assert seen[0].image_rgb.shape[1] < 0.5 * whole.image_rgb.shape[1]
    assert both_ways(piece.outline_mm, truth)[0] < 0.3


@pytest.mark.parametrize("ink", [(40, 40, 40), (150, 150, 150)], ids=["pen", "pencil"])
@pytest.mark.parametrize("drawn", [True, False])
def test_what_is_drawn_beside_the_likely_paper_is_noticed_from_further_away(ink, drawn):
    sheet = Paper(width_mm=480)
    sheet.outline(bodice()[0], (), 0.6, ink)
    if drawn:
        sheet.outline(bodice(dx=215)[0], (), 0.6, ink)
    assert drawn_beside(sheet.rectified(with_paper=False, noise=1.0), LEFT) == drawn


def test_lines_that_leave_the_likely_paper_are_followed_beyond(monkeypatch):
    """A tile, a picture or half of the paper may look like the paper."""
    sheet = Paper(width_mm=480)
    truth = bodice(dx=120)[0]
    sheet.outline(truth)
    seen = looked_at(monkeypatch)
    shares = []
    (piece,) = find_pieces(
        replace(sheet.rectified(with_paper=False), likely_paper_mm=LEFT),
        listener=lambda what, share: shares.append(share),
    )
    assert len(seen) == 2
    assert shares == sorted(shares), "looking again takes nothing back"
    assert both_ways(piece.outline_mm, truth)[0] < 0.3


def test_a_touch_beside_the_likely_paper_finds_what_is_drawn_there(monkeypatch):
    sheet = Paper(width_mm=480)
    left, right = bodice()[0], bodice(dx=215)[0]
    sheet.outline(left)
    sheet.outline(right)
    whole = replace(sheet.rectified(with_paper=False), likely_paper_mm=LEFT)
    seen = looked_at(monkeypatch)
    (piece,) = find_pieces(whole, touches=[(*left.mean(axis=0), "+")])
    assert len(seen) == 1, "nothing else was asked for"
    assert both_ways(piece.outline_mm, left)[0] < 0.3
    (piece,) = find_pieces(whole, touches=[(*right.mean(axis=0), "+")])
    assert both_ways(piece.outline_mm, right)[0] < 0.3


@pytest.mark.parametrize("at", [(900.0, 100.0), (-40.0, 320.0)])
def test_a_likely_paper_that_is_hardly_in_the_picture_hides_nothing(at):
    sheet = Paper()
    truth = bodice()[0]
    sheet.outline(truth)
    whole = replace(sheet.rectified(with_paper=False), likely_paper_mm=np.array(at) + 0.3 * LEFT)
    (piece,) = find_pieces(whole)
    assert both_ways(piece.outline_mm, truth)[0] < 0.3


@pytest.mark.parametrize("corner", [(30.0, 40.0), (-50.0, -50.0), (200.0, 330.0)])
def test_a_part_of_a_picture_lies_where_it_lay(corner):
    """Cut at the picture's rim, too."""
    sheet = Paper()
    sheet.outline(bodice()[0])
    whole = sheet.rectified()
    low = np.array(corner)
    polygon = low + np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 80.0], [0.0, 80.0]])
    part = part_of(whole, polygon)
    height, width = part.image_rgb.shape[:2]
    assert 0 < width * height < whole.image_rgb.size / 3
    rows, columns = np.mgrid[0:height:7, 0:width:7]
    at = part.px_to_mm(np.column_stack([columns.ravel(), rows.ravel()]))
    there = np.round(whole.mm_to_px(at)).astype(int)
    assert np.allclose(whole.mm_to_px(at), there, atol=1e-6)
    own = part.image_rgb[rows.ravel(), columns.ravel()]
    assert np.array_equal(own, whole.image_rgb[there[:, 1], there[:, 0]])
    assert part.paper_polygon_mm is polygon
