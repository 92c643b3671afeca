"""Shoulders, necklines, armholes, hems, flare, and the cap that follows the armhole."""

from dataclasses import replace

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.geometry import Move
from eke.pattern.checking import check
from eke.pattern.corners import interior_angle_deg
from eke.pattern.walking import walk
from fit.bodies import area, block, bodice, do, length, moved, pattern_of, same_shape

MOVES = [Move.translation(30.0, 11.0), Move.rotation(25.0), Move.mirror((0, 0), (0, 1))]


@given(st.floats(-15.0, 15.0))
def test_shoulder_slope_keeps_armhole_shoulder_and_side(drop):
    # trade: the shoulder tip by the amount to 0 at the neck, the underarm by the same: armhole within 2
    before = bodice()
    after = do(before, "fit.shoulder_slope", seam="shoulder", tip="start", drop_mm=drop)
    for piece in ("front", "back"):
        tip, was = (p.edge(f"{piece}-shoulder")[1].path.start for p in (after, before))
        assert was[1] - tip[1] == pytest.approx(drop, abs=1e-9)
        assert after.edge(f"{piece}-neck")[1].path == before.edge(f"{piece}-neck")[1].path
        assert length(after, f"{piece}-shoulder") == pytest.approx(120.0, abs=1e-9)
        assert length(after, f"{piece}-armhole") == pytest.approx(length(before, f"{piece}-armhole"), abs=2.0)
        assert length(after, f"{piece}-side") == pytest.approx(220.0 - drop, abs=1e-6)
    assert walk(after, "side").difference_mm == pytest.approx(0.0, abs=1e-6)
    assert after.piece("sleeve") == before.piece("sleeve")
    back = do(after, "fit.shoulder_slope", seam="shoulder", tip="start", drop_mm=-drop)
    same_shape(back.piece("front"), before.piece("front"), 0.1)


def test_a_neckline_goes_down_the_fold_and_out_at_both_shoulders():
    before = bodice()
    after = do(before, "fit.opening", edge="front-neck", start_mm=15.0, end_mm=20.0)
    assert length(after, "front-fold") == pytest.approx(length(before, "front-fold") - 20.0, abs=1e-9)
    assert length(after, "front-shoulder") == pytest.approx(105.0, abs=1e-9)
    # the back neck follows at the shoulder, and stays where it was at its fold
    assert length(after, "back-shoulder") == pytest.approx(105.0, abs=1e-9)
    assert length(after, "back-fold") == length(before, "back-fold")
    assert walk(after, "shoulder").difference_mm == pytest.approx(0.0, abs=1e-9)
    # square to the fold as before, and as smooth over the shoulder
    for piece in ("front", "back"):
        assert interior_angle_deg(after.piece(piece), f"{piece}-neck", "end") == pytest.approx(90.0, abs=0.1)
        assert interior_angle_deg(after.piece(piece), f"{piece}-neck", "start") == pytest.approx(
            interior_angle_deg(before.piece(piece), f"{piece}-neck", "start"), abs=0.1
        )
    alone = do(before, "fit.opening", edge="front-neck", start_mm=15.0, mates=False)
    assert alone.piece("back") == before.piece("back")
    # 4.22: then the shoulders differ, and walking says so
    assert walk(alone, "shoulder").difference_mm == pytest.approx(-15.0, abs=1e-6)
    assert any(f.code.startswith("seam") for f in check(alone))


@given(st.floats(-8.0, 12.0), st.floats(-10.0, 15.0))
@example(0.0, -0.25)
def test_openings_there_and_back(start, end):
    # less than a tenth of a millimetre is no change, and is refused
    assume(max(abs(start), abs(end)) >= 0.1)
    before = bodice()
    there = do(before, "fit.opening", edge="front-neck", start_mm=start, end_mm=end)
    back = do(there, "fit.opening", edge="front-neck", start_mm=-start, end_mm=-end)
    for piece in ("front", "back"):
        same_shape(back.piece(piece), before.piece(piece), 0.6)


def test_the_cap_follows_a_lower_armhole_with_the_same_ease():
    # trade: ease after is ease before within 2; the underarm seam of the sleeve keeps its length
    before = bodice()
    eased = do(before, "fit.sleeve_cap", seam="armhole", ease_mm=30.0)
    assert walk(eased, "armhole").a.length_mm - walk(eased, "armhole").b.length_mm == pytest.approx(
        30.0, abs=1e-6
    )
    lower = do(eased, "fit.opening", edge="front-armhole", start_mm=12.0)
    assert length(lower, "back-side") == pytest.approx(208.0, abs=1e-9)
    # 4.22: the sleeve does not fit now, and walking says so
    assert abs(walk(lower, "armhole").difference_mm) > 3.0
    assert any(f.code.startswith("seam") for f in check(lower))
    for how in ("wider", "higher", "both"):
        after = do(lower, "fit.sleeve_cap", seam="armhole", how=how)
        seam = walk(after, "armhole")
        assert seam.difference_mm == pytest.approx(0.0, abs=1e-6)
        assert seam.a.length_mm - seam.b.length_mm == pytest.approx(30.0, abs=1e-6)
        for edge in ("sleeve-under-a", "sleeve-under-b"):
            assert length(after, edge) == pytest.approx(length(lower, edge), abs=1.0)
        assert walk(after, "underarm").difference_mm == pytest.approx(0.0, abs=1e-6)
        across = after.edge("sleeve-under-a")[1].path.end[0] - lower.edge("sleeve-under-a")[1].path.end[0]
        assert (abs(across) > 0.1) == (how != "higher")


def test_the_hem_goes_on_over_the_side_seam():
    before = bodice()
    after = do(before, "fit.hem", edge="front-hem", by_mm=40.0)
    for piece in ("front", "back"):
        assert area(after.piece(piece)) - area(before.piece(piece)) == pytest.approx(40.0 * 240.0, abs=0.1)
        assert length(after, f"{piece}-side") == pytest.approx(260.0, abs=1e-6)
    assert after.piece("sleeve") == before.piece("sleeve")
    assert walk(after, "side").difference_mm == pytest.approx(0.0, abs=1e-6)
    back = do(after, "fit.hem", edge="back-hem", by_mm=-40.0)
    same_shape(back.piece("front"), before.piece("front"))
    curved = do(before, "fit.hem", edge="front-hem", knots=[[0.0, 20.0], [240.0, 0.0]])
    assert length(curved, "front-fold") == pytest.approx(length(before, "front-fold") + 20.0, abs=0.1)
    assert curved.piece("back") == before.piece("back")


@pytest.mark.parametrize("slashes", [1, 3, 5])
@pytest.mark.parametrize("by", [90.0, -45.0])
def test_flare_is_added_at_the_hem_and_nothing_at_the_waist(slashes, by):
    before = pattern_of(block(300.0, 600.0))
    after = do(before, "fit.flare", edge="block-hem", to={"edge": "block-top"}, by_mm=by, slashes=slashes)
    assert length(after, "block-hem") == pytest.approx(300.0 + by, abs=1.5)
    assert length(after, "block-top") == pytest.approx(300.0, abs=0.6)
    for edge in ("side", "centre"):
        assert length(after, f"block-{edge}") == pytest.approx(600.0, abs=1e-6)
    # a wedge of that width and 600 long
    assert area(after.piece("block")) - area(before.piece("block")) == pytest.approx(by * 300.0, rel=0.05)


@pytest.mark.parametrize("move", MOVES)
def test_moved_in_is_moved_out(move):
    before = bodice()
    swap = move.flips
    for kind, params in (
        ("fit.shoulder_slope", {"seam": "shoulder", "tip": "start", "drop_mm": 9.0}),
        ("fit.opening", {"edge": "front-neck", "end_mm" if not swap else "start_mm": 18.0}),
        ("fit.hem", {"edge": "front-hem", "by_mm": 22.0}),
        ("fit.sleeve_cap", {"seam": "armhole", "ease_mm": 25.0}),
    ):
        plain = dict(params)
        if kind == "fit.opening":
            plain = {"edge": "front-neck", "end_mm": 18.0}
        want = moved(do(before, kind, **plain), move)
        there = moved(before, move)
        if swap:
            # a mirrored edge is walked the other way, so the runs of the seams are told anew
            there = mirrored_runs(there)
        got = do(there, kind, **params)
        for piece in ("front", "back", "sleeve"):
            same_shape(got.piece(piece), want.piece(piece), 0.02)


def mirrored_runs(pattern):
    for seam in tuple(pattern.seams.values()):
        runs = [tuple(replace(p, reverse=not p.reverse) for p in run) for run in (seam.a, seam.b)]
        pattern = pattern.with_seam(replace(seam, a=runs[0], b=runs[1]))
    return pattern


def test_refusals_name_what_would_work():
    before = bodice()
    with pytest.raises(BadInput, match="the corner can go 115 mm along it at most"):
        do(before, "fit.opening", edge="front-neck", start_mm=140.0)
    with pytest.raises(BadInput, match=r"up to \d+ mm can be done"):
        do(before, "fit.shoulder_slope", seam="shoulder", drop_mm=70.0)
    with pytest.raises(BadInput, match=r"can be brought to \d+ to \d+ mm"):
        do(before, "fit.sleeve_cap", seam="armhole", ease_mm=900.0)
    with pytest.raises(BadInput, match="a or b"):
        do(before, "fit.sleeve_cap", seam="side", ease_mm=9.0)
    with pytest.raises(BadInput, match="1 to 12 slashes"):
        do(before, "fit.flare", edge="front-hem", to={"edge": "front-neck"}, by_mm=30.0, slashes=2.5)
    with pytest.raises(BadInput, match="another edge"):
        do(before, "fit.flare", edge="front-hem", to={"edge": "front-hem"}, by_mm=30.0)
    with pytest.raises(BadInput, match="no place 900 mm"):
        do(before, "fit.hem", edge="front-hem", knots=[[900.0, 5.0]])
    with pytest.raises(BadInput, match="no hem"):
        do(before, "fit.hem", edge="front-fold", by_mm=5.0)
