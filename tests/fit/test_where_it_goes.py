"""Where a fit change can be meant: shoulders, bust points, joined sides; and what is offered where it cannot."""

from __future__ import annotations

import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from eke.errors import BadInput
from eke.geometry import Path as Line
from eke.pattern.model import Edge, EdgeId, Pattern, Piece, PieceId
from fit.bodies import block, bodice, do, length, pattern_of, seam

sys.path.insert(0, str(Path(__file__).parents[2]))

from bench.pattern import bottoms, dresses

from fit.test_resize import sewn


def named(pattern: Pattern, name: str) -> Pattern:
    """The bodice with its shoulders called otherwise."""
    for id_ in ("front", "back"):
        piece = pattern.piece(id_)
        edges = tuple(replace(e, name=name) if e.name == "shoulder" else e for e in piece.edges)
        pattern = pattern.with_piece(replace(piece, edges=edges))
    return pattern


# ---- shoulders


@pytest.mark.parametrize("name", ["shoulder", "", "top", "yoke"])
def test_a_shoulder_is_known_by_its_name_or_by_its_shape(name: str) -> None:
    after = do(named(bodice(), name), "fit.shoulder_slope", seam="shoulder", tip="start", drop_mm=6.0)
    assert length(after, "front-side") == pytest.approx(214.0, abs=1e-6)


@pytest.mark.parametrize("name", ["side", "waist", "princess", "neck"])
def test_an_edge_that_is_called_something_else_is_no_shoulder(name: str) -> None:
    with pytest.raises(BadInput, match="is no shoulder: a shoulder runs at the top"):
        do(named(bodice(), name), "fit.shoulder_slope", seam="shoulder", tip="start", drop_mm=6.0)


@pytest.mark.parametrize("other", ["side", "underarm"])
@pytest.mark.parametrize("tip", ["start", "end"])
def test_other_seams_are_refused(other: str, tip: str) -> None:
    with pytest.raises(BadInput, match="is no shoulder"):
        do(bodice(), "fit.shoulder_slope", seam=other, tip=tip, drop_mm=6.0)


@pytest.mark.parametrize("name", ["shoulder", ""])
def test_the_neck_end_is_no_tip_and_the_other_end_is_told(name: str) -> None:
    with pytest.raises(BadInput, match="its end at the armhole") as refused:
        do(named(bodice(), name), "fit.shoulder_slope", seam="shoulder", tip="end", drop_mm=6.0)
    assert refused.value.data["goes_with"] == {"tip": "start"}


def test_an_edge_at_a_hem_or_without_an_armhole_is_no_shoulder() -> None:
    made = seam(
        pattern_of(block(name="one"), block(name="two")), "s", [("one-top", False)], [("two-top", False)]
    )
    blank = made
    for id_ in ("one", "two"):
        piece = blank.piece(id_)
        blank = blank.with_piece(replace(piece, edges=tuple(replace(e, name="") for e in piece.edges)))
    hems = seam(blank, "s", [("one-hem", False)], [("two-hem", False)])
    with pytest.raises(BadInput, match="is no shoulder"):
        do(hems, "fit.shoulder_slope", seam="s", tip="start", drop_mm=6.0)


# ---- the bust of a front that is not on a fold


def test_a_front_with_its_grain_in_the_middle_knows_its_side_by_the_dart() -> None:
    """The grain of an opened front may lie on either side of the bust point: it says nothing of the centre."""
    before = bodice()
    front = before.piece("front")
    opened = tuple(replace(e, kind="opening") if e.kind == "fold" else e for e in front.edges)
    places = {"edge": "front-hem", "mm": 95.0, "armhole": {"edge": "front-armhole", "notch": "front-n"}}
    places |= {"side": {"edge": "front-side", "mm": 170.0}, "apex": [95.0, 190.0]}
    shapes = []
    for x in (20.0, 95.0, 160.0):
        piece = replace(front, edges=opened, fold=None, grain=((x, 40.0), (x, 160.0)))
        after = do(before.with_piece(piece), "fit.bust", by_mm=15.0, **places)
        shapes.append(after.piece("front").outline.flatten().round(6).tolist())
        assert length(after, "front-hem") == pytest.approx(255.0, abs=0.1)
    assert shapes[0] == shapes[1] == shapes[2]


# ---- joining


def test_sides_are_joined_from_the_end_from_which_they_lie_on_one_another_farther() -> None:
    pattern = sewn(dresses.pinafore)
    panel = next(s for s in pattern.seams.values() if s.a[0].edge == "front.panel seam")
    with pytest.raises(BadInput, match="from the other end") as refused:
        do(pattern, "fit.join", seam=panel.id)
    facts = refused.value.data
    assert facts["goes_with"] == {"from_end": "end"}
    made = do(pattern, "fit.join", seam=panel.id, up_to_mm=facts["most_mm"], **facts["goes_with"])
    assert len(made.pieces) == len(pattern.pieces) - 1
    assert len(made.piece(panel.a[0].piece).darts) == 1


def test_what_is_told_to_be_joined_can_be_joined() -> None:
    """Beyond the joined part of a gored skirt's seam the hips would overlap: as far as is told, they do not."""
    pattern = sewn(bottoms.gored_skirt)
    right = next(s for s in pattern.seams.values() if s.a[0].edge == "front.right")
    with pytest.raises(BadInput, match="can be joined for") as refused:
        do(pattern, "fit.join", seam=right.id)
    facts = refused.value.data
    do(pattern, "fit.join", seam=right.id, up_to_mm=facts["most_mm"], **facts["goes_with"])


def test_pieces_that_would_overlap_from_either_end_are_refused_in_plain_words() -> None:
    def hollow(name: str) -> Piece:
        corners = [(0.0, 0.0), (100.0, 0.0), (70.0, 200.0), (100.0, 400.0), (0.0, 400.0)]
        ends = [(0, 1, "hem"), (1, 2, "right"), (3, 4, "top"), (4, 0, "left")]
        edges = []
        for i, j, called in ends:
            points = [corners[1], corners[2], corners[3]] if called == "right" else [corners[i], corners[j]]
            path = Line.line(points[0], points[1])
            for p, q in pairwise(points[1:]):
                path = path.joined(Line.line(p, q))
            edges.append(Edge(EdgeId(f"{name}-{called}"), path, "seam", called))
        return Piece(PieceId(name), name, tuple(edges), grain=((40.0, 100.0), (40.0, 300.0)))

    made = pattern_of(hollow("one"), hollow("two"))
    made = seam(made, "s", [("one-right", False)], [("two-right", True)])
    with pytest.raises(BadInput, match="would lie over one another farther on") as refused:
        do(made, "fit.join", seam="s")
    assert "most_mm" not in refused.value.data
    # and so it is said where a part was asked for that would cross
    with pytest.raises(BadInput, match="would lie over one another farther on"):
        do(made, "fit.join", seam="s", up_to_mm=100.0)


# ---- a place a little beside


def test_a_line_at_a_corner_is_told_the_nearest_place_that_goes() -> None:
    before = bodice()
    shoulder = before.edge("front-shoulder")[1].path
    low = before.edge("front-armhole")[1].path.start[1]
    assert low == 220.0
    places = {"edge": "front-fold", "only": ["front"], "by_mm": 10.0}
    # on the fold at the height of the underarm: the line leaves the piece at its corner
    mm = before.edge("front-fold")[1].path.nearest((0.0, low)).at_mm
    with pytest.raises(BadInput, match="Move it a little") as refused:
        do(before, "fit.lengthen", mm=mm, **places)
    goes = refused.value.data["goes_with"]
    assert 0.0 < abs(goes["mm"] - mm) <= 30.0
    after = do(before, "fit.lengthen", **{**places, **goes})
    assert length(after, "front-fold") == pytest.approx(length(before, "front-fold") + 10.0, abs=1e-6)
    assert after.edge("front-shoulder")[1].path.length_mm == pytest.approx(shoulder.length_mm, abs=1e-6)
