"""A dashed inner line must not silently take the place of an outline that is too pale to be seen."""

import numpy as np
import pytest
from tests.capture.outline_drawings import Paper, bodice, both_ways, wavered

from eke.capture.outline import find_pieces

DARK, PAPER = (40, 38, 40), (225, 222, 214)


def two_inks(truth, below, shade):
    """The outline drawn dark above a height and paler below: shade 0 is paper, 1 the ink."""
    sheet = Paper(paper=PAPER)
    pale = tuple(round(p + shade * (d - p)) for p, d in zip(PAPER, DARK, strict=True))
    ring = np.vstack([truth, truth[:1]])
    low = ring[:, 1] < below
    for flag, ink in ((True, pale), (False, DARK)):
        at = np.flatnonzero(low == flag)
        for part in np.split(at, np.flatnonzero(np.diff(at) > 1) + 1):
            if len(part) > 1:
                sheet.stroke(ring[part], 0.7, ink)
    return sheet


def dashes(sheet, truth, height, dash, gap, jitter=0.0, seed=0):
    rng = np.random.default_rng(seed)
    across = truth[np.abs(truth[:, 1] - height) < 1.0][:, 0]
    x = across.min()
    while x < across.max():
        long = dash * (1.0 + jitter * rng.uniform(-1.0, 1.0))
        sheet.stroke([(x, height), (min(x + long, across.max()), height)], 0.7, DARK)
        x += long + gap * (1.0 + jitter * rng.uniform(-1.0, 1.0))


@pytest.mark.parametrize(("dash", "gap", "jitter"), [(6.5, 4.0, 0.0), (8.0, 3.0, 0.2), (6.0, 3.5, 0.15)])
@pytest.mark.parametrize("shade", [0.0, 0.08, 0.3])
def test_an_edge_that_is_not_seen_is_not_replaced_in_silence(dash, gap, jitter, shade):
    points, _, _ = bodice()
    truth = wavered(points, np.random.default_rng(3))
    sheet = two_inks(truth, 120.0, shade)
    dashes(sheet, truth, 123.0, dash, gap, jitter)
    (piece,) = find_pieces(sheet.rectified(seed=2))
    p95, _ = both_ways(piece.outline_mm, truth)
    if p95 > 1.0:
        assert any("dashed" in w for w in piece.warnings)
        assert p95 < 1.96 * piece.drawn_sigma_mm
    if shade > 0.25:
        assert p95 < 0.4  # such a pale line can be followed, and is


def test_a_dashed_line_inside_a_well_drawn_outline_raises_no_doubt():
    points, _, _ = bodice()
    truth = wavered(points, np.random.default_rng(4))
    sheet = two_inks(truth, 0.0, 1.0)
    dashes(sheet, truth, 123.0, 6.5, 4.0)
    (piece,) = find_pieces(sheet.rectified())
    assert both_ways(piece.outline_mm, truth)[0] < 0.3
    assert piece.warnings == ()
    assert piece.drawn_sigma_mm < 0.3


def test_the_skips_of_a_pen_raise_no_doubt():
    points, _, _ = bodice()
    truth = wavered(points, np.random.default_rng(5))
    sheet = Paper(paper=PAPER)
    sheet.outline(truth, ((60, 4), (120, 4), (135, 5), (300, 4), (420, 5), (500, 3), (700, 4)))
    (piece,) = find_pieces(sheet.rectified())
    assert both_ways(piece.outline_mm, truth)[0] < 0.3
    assert piece.warnings == ()


def test_skips_that_happen_to_lie_close_together_raise_no_doubt():
    points, _, _ = bodice()
    truth = wavered(points, np.random.default_rng(7))
    sheet = Paper(paper=PAPER)
    # four skips with 11, 4 and 11 mm of line between them, others far away
    sheet.outline(truth, ((60, 6), (77, 6), (87, 6), (104, 5), (400, 7), (600, 5)))
    (piece,) = find_pieces(sheet.rectified())
    assert both_ways(piece.outline_mm, truth)[0] < 0.4
    assert not any("dashed" in w for w in piece.warnings)


def test_an_outline_that_is_dashed_all_round_was_meant_so():
    points, _, _ = bodice()
    truth = wavered(points, np.random.default_rng(6))
    sheet = Paper(paper=PAPER)
    sheet.outline(truth, [(s, 3.5) for s in np.arange(8.0, 820.0, 11.0)])
    (piece,) = find_pieces(sheet.rectified())
    assert both_ways(piece.outline_mm, truth)[0] < 0.5
    assert not any("dashed" in w for w in piece.warnings)
