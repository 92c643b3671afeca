"""Taking in and letting out: amounts, tapering, and corners that stay on their neighbours."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadInput, BadShape, ChangeConflict
from eke.fit import TakeIn, run_length_mm, take_in, take_in_steps
from eke.geometry.path import Path
from eke.pattern.measure import width_at_mm
from eke.pattern.model import Edge, EdgeId, Pattern, Piece, PieceId, RunPart, Seam, SeamId
from fit.bodies import block, do, pattern_of, seam


def skirt():
    """Two mirrored skirt pieces, 250 wide at the waist, 300 at the hem, 600 long, joined at the side."""
    pattern = Pattern("skirt")
    for name in ("front", "back"):
        sign = 1.0 if name == "front" else -1.0
        ring = [(0.0, 0.0), (sign * 300.0, 0.0), (sign * 250.0, 600.0), (0.0, 600.0)]
        labels = ["hem", "side", "waist", "centre"]
        if sign < 0:
            ring = [ring[0], *ring[:0:-1]]
            labels = labels[::-1]
        closed = [*ring, ring[0]]
        edges = tuple(
            Edge(
                EdgeId(f"{name}-{label}"),
                Path.line(a, b),
                name=label,
                kind="hem" if label == "hem" else "seam",
            )
            for label, a, b in zip(labels, closed, closed[1:], strict=False)
        )
        pattern = pattern.with_piece(
            Piece(PieceId(name), name.title(), edges, grain=((sign * 50, 100.0), (sign * 50, 400.0)))
        )
    seam = Seam(
        SeamId("side"),
        (RunPart(PieceId("front"), EdgeId("front-side")),),
        (RunPart(PieceId("back"), EdgeId("back-side"), reverse=True),),
        name="side seam",
    )
    return pattern.with_seam(seam)


def width_at(pattern, piece, y):
    points = pattern.piece(piece).outline.flatten(0.01)
    xs = []
    for (x0, y0), (x1, y1) in pairwise(points):
        if min(y0, y1) <= y <= max(y0, y1) and y0 != y1:
            xs.append(x0 + (x1 - x0) * (y - y0) / (y1 - y0))
    return max(xs) - min(xs)


def test_hip_plus_40_is_10_on_each_of_four_edges():
    # trade: a girth change G over n side seams is G/(2n) for each edge; 40 over 2 seams is 10 mm
    before = skirt()
    # one side seam lets out 20 mm in all; the garment has two of them
    after = take_in(before, TakeIn("side", ((0.0, -20.0), (600.0, -20.0))))
    for piece in ("front", "back"):
        slope = np.hypot(50.0, 600.0) / 600.0
        assert width_at(after, piece, 300.0) - width_at(before, piece, 300.0) == pytest.approx(
            10.0 * slope, abs=0.05
        )


def test_a_taper_ends_at_nothing_and_leaves_the_rest_alone():
    before = skirt()
    length = run_length_mm(before, before.seam("side").a)
    after = take_in(before, TakeIn("side", ((0.0, 0.0), (300.0, 16.0), (length, 0.0))))
    for edge in ("front-hem", "front-waist", "front-centre", "back-hem", "back-waist"):
        assert after.edge(edge)[1].path == before.edge(edge)[1].path
    front = after.edge("front-side")[1].path
    assert front.nearest(before.edge("front-side")[1].path.point_at(300.0)).distance_mm == pytest.approx(
        8.0, abs=0.1
    )
    # both sides still match
    assert run_length_mm(after, after.seam("side").a) == pytest.approx(
        run_length_mm(after, after.seam("side").b), abs=0.1
    )


def test_corners_slide_along_hem_and_waist():
    after = take_in(skirt(), TakeIn("side", ((0.0, 12.0), (600.0, 12.0)), share_a=1.0))
    hem, side = after.edge("front-hem")[1].path, after.edge("front-side")[1].path
    assert hem.end == pytest.approx(side.start, abs=1e-9)
    assert hem.end[1] == pytest.approx(0.0, abs=1e-9)
    assert after.piece("back") == skirt().piece("back")
    assert after.piece("front").outline.is_closed


@given(st.floats(-15.0, 30.0), st.floats(-15.0, 30.0), st.floats(0.0, 1.0))
def test_in_then_out_is_where_it_began(first, second, share):
    before = skirt()
    knots = ((0.0, first), (600.0, second))
    there = take_in(before, TakeIn("side", knots, share))
    back = take_in(
        there,
        TakeIn(
            "side",
            tuple(
                (
                    a
                    * run_length_mm(there, there.seam("side").a)
                    / run_length_mm(before, before.seam("side").a),
                    -b,
                )
                for a, b in knots
            ),
            share,
        ),
    )
    old = before.piece("front").outline
    for p in back.piece("front").outline.flatten(1.0):
        assert old.nearest((float(p[0]), float(p[1]))).distance_mm < 0.6


def test_ruler_steps_say_the_places_and_amounts():
    before = skirt()
    length = run_length_mm(before, before.seam("side").a)
    steps = take_in_steps(before, TakeIn("side", ((0.0, 0.0), (300.0, 16.0), (length, 0.0))))
    assert [s.piece_name for s in steps] == ["Front", "Back"]
    for step in steps:
        assert "at the hem 0" in step.sentence
        assert "300 mm along 8 mm in" in step.sentence
        assert "at the waist 0" in step.sentence


def test_refusals():
    with pytest.raises(ChangeConflict):
        take_in(skirt(), TakeIn("gone", ((0.0, 5.0),)))
    with pytest.raises(BadInput, match="no place 900 mm along"):
        take_in(skirt(), TakeIn("side", ((900.0, 5.0),)))
    with pytest.raises(BadInput, match="same place"):
        take_in(skirt(), TakeIn("side", ((10.0, 5.0), (10.0, 6.0))))
    with pytest.raises(BadShape):
        take_in(skirt(), TakeIn("side", ((0.0, 900.0), (600.0, 900.0))))


def test_an_edge_sewn_to_its_own_mirror_image_takes_half_of_the_amount():
    """12 mm taken in at a centre back are 6 mm on each half, which is drawn once (plain arithmetic)."""
    made = pattern_of(block())
    made = seam(made, "centre", [("block-centre", False)], [("block-centre", False)], b_mirrored=True)
    after = do(made, "fit.take_in", seam="centre", knots=[[0.0, 12.0], [600.0, 12.0]])
    assert width_at_mm(after.piece("block"), 300.0) == pytest.approx(240.0 - 6.0, abs=1e-6)
    rows = [
        r.in_mm for s in take_in_steps(made, TakeIn("centre", ((0.0, 12.0), (600.0, 12.0)))) for r in s.rows
    ]
    assert rows
    assert rows == pytest.approx([6.0] * len(rows))
    # all of it on one side was always said for the edge alone
    whole = do(made, "fit.take_in", seam="centre", knots=[[0.0, 12.0], [600.0, 12.0]], share_a=1.0)
    assert width_at_mm(whole.piece("block"), 300.0) == pytest.approx(240.0 - 12.0, abs=1e-6)
