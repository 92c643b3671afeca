"""Larger and smaller: the quarters add up, seams go on matching, lengths are apart; lines with the grain."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput
from eke.fit.growing import edges_at, upright_lines
from eke.geometry import Move
from eke.pattern.measure import run_length_mm
from eke.pattern.model import Pattern, Piece, Seam, SeamId
from eke.pattern.walking import walk
from fit.bodies import bodice, do, length, moved, same_shape

sys.path.insert(0, str(Path(__file__).parents[2]))

from bench.pattern.garments import ALL

SILENT_MM = 1.5
"""Differences below this are shared in silence (trade.md 2, common practice)."""
NOT_SEWN = {"box_bag"}
NOT_WORN_ROUND = {"hood"}


def corner(pattern: Pattern, edge: str, end: str = "start"):
    path = pattern.edge(edge)[1].path
    return path.start if end == "start" else path.end


def sewn(draft) -> Pattern:
    garment = draft()
    made = garment.pattern
    for number, one in enumerate(garment.sewn):
        seam = Seam(
            SeamId(f"s{number}"), tuple(one.a), tuple(one.b), f"seam {number}", b_mirrored=one.b_mirrored
        )
        made = made.with_seam(seam)
    return made


def differences(pattern: Pattern) -> dict[str, float]:
    return {s.id: run_length_mm(pattern, s.a) - run_length_mm(pattern, s.b) for s in pattern.seams.values()}


@pytest.mark.parametrize("piece", ["front", "back"])
def test_a_quarter_of_a_bodice_grows_as_cutters_grade_it(piece: str) -> None:
    """40 mm round: neck 2, shoulder 3, half chest 5, underarm 10, armhole depth 4 (common practice; trade.md 4.25)."""
    before, after = bodice(), do(bodice(), "fit.resize", girth_mm=40.0)

    def by(edge: str, end: str = "start") -> tuple[float, float]:
        (x0, y0), (x1, y1) = corner(before, f"{piece}-{edge}", end), corner(after, f"{piece}-{edge}", end)
        return x1 - x0, y1 - y0

    middle = by("fold")
    neck, tip, underarm = by("shoulder", "end"), by("shoulder"), by("armhole")
    assert neck[0] - middle[0] == pytest.approx(2.0, abs=1e-6)
    assert tip[0] - neck[0] == pytest.approx(3.0, abs=1e-6)
    assert tip[0] - middle[0] == pytest.approx(5.0, abs=1e-6)
    assert underarm[0] - middle[0] == pytest.approx(10.0, abs=1e-6)
    assert tip[1] - underarm[1] == pytest.approx(4.0, abs=1e-6)
    assert length(after, f"{piece}-side") == pytest.approx(length(before, f"{piece}-side"), abs=1e-6)


def test_the_sleeve_follows_its_armhole_with_the_ease_that_it_had() -> None:
    before, after = bodice(), do(bodice(), "fit.resize", girth_mm=40.0)
    assert length(after, "front-armhole") > length(before, "front-armhole") + 3.0
    assert differences(after) == pytest.approx(differences(before), abs=0.06)
    assert after.seams == before.seams
    # lines beside the armhole leave a narrow sleeve through its slanting underarm: both sides alike
    assert length(after, "sleeve-under-a") == pytest.approx(length(before, "sleeve-under-a"), abs=1.0)
    assert walk(after, "underarm").difference_mm == pytest.approx(0.0, abs=1e-3)


WORN = [d for d in ALL if d.__name__ not in NOT_SEWN | NOT_WORN_ROUND]


@pytest.mark.parametrize(
    ("draft", "girth_mm"),
    [*((d, 40.0) for d in WORN), *((d, -30.0) for d in WORN[::4])],
    ids=lambda one: getattr(one, "__name__", str(one)),
)
def test_seams_of_drafted_garments_match_as_before(draft, girth_mm: float) -> None:
    before = sewn(draft)
    after = do(before, "fit.resize", girth_mm=girth_mm)
    was, now = differences(before), differences(after)
    off = {name: now[name] - was[name] for name in was}
    two_piece_cap = {s.id for s in before.seams.values() if len({p.piece for p in s.a}) > 1}
    for name, mm in off.items():
        # a collar, band or a cap of two pieces follows by its own slope, and is told of by the walk
        assert abs(mm) < (3.0 if name in two_piece_cap else 2.0), (before.seams[SeamId(name)].a, mm)
    assert sum(abs(mm) > SILENT_MM for mm in off.values()) <= 1


@settings(max_examples=15, deadline=None)
@given(girth_mm=st.floats(-40.0, 80.0).filter(lambda mm: abs(mm) >= 0.2))
def test_the_girth_is_what_was_asked(girth_mm: float) -> None:
    before, after = bodice(), do(bodice(), "fit.resize", girth_mm=girth_mm, armhole_mm=0.0)

    def round_mm(pattern: Pattern) -> float:
        return 2.0 * sum(
            corner(pattern, f"{p}-side", "end")[0] - corner(pattern, f"{p}-fold")[0]
            for p in ("front", "back")
        )

    assert round_mm(after) - round_mm(before) == pytest.approx(girth_mm, abs=1e-6)
    assert walk(after, "side").difference_mm == pytest.approx(0.0, abs=1e-6)


def test_smaller_after_larger_is_the_same_size() -> None:
    before = bodice()
    after = do(do(before, "fit.resize", girth_mm=30.0), "fit.resize", change="c2", girth_mm=-30.0)
    for piece in ("front", "back"):
        for edge in ("hem", "side", "shoulder", "fold"):
            name = f"{piece}-{edge}"
            assert length(after, name) == pytest.approx(length(before, name), abs=0.05)
        assert length(after, f"{piece}-armhole") == pytest.approx(length(before, f"{piece}-armhole"), abs=1.0)


@pytest.mark.parametrize("move", [Move.translation(300.0, -40.0), Move.rotation(25.0, (0.0, 0.0))])
def test_a_moved_pattern_grows_alike(move: Move) -> None:
    straight = do(bodice(), "fit.resize", girth_mm=40.0)
    turned = do(moved(bodice(), move), "fit.resize", girth_mm=40.0)
    for name, piece in moved(straight, move).pieces.items():
        same_shape(piece, turned.piece(name), 0.1)


def test_lengths_are_said_apart() -> None:
    before = bodice()
    after = do(before, "fit.resize", girth_mm=0.0, length_mm=25.0, sleeve_mm=15.0)
    for edge, mm in (
        ("front-side", 25.0),
        ("back-fold", 25.0),
        ("sleeve-under-a", 15.0),
        ("front-shoulder", 0.0),
    ):
        grown = length(after, edge) - length(before, edge)
        assert grown == pytest.approx(mm, abs=0.4), edge  # the underarm of a sleeve runs a little aslant
    assert differences(after) == pytest.approx(differences(before), abs=0.06)


def test_the_makers_own_numbers() -> None:
    after = do(
        bodice(), "fit.resize", girth_mm=40.0, neck_mm=0.0, shoulder_mm=4.0, underarm_mm=6.0, armhole_mm=0.0
    )
    assert corner(after, "front-shoulder", "end")[0] == pytest.approx(70.0, abs=1e-6)
    assert corner(after, "front-side", "end")[0] == pytest.approx(250.0, abs=1e-6)
    assert length(after, "front-side") == pytest.approx(length(bodice(), "front-side"), abs=1e-6)


def test_a_skirt_grows_at_its_waist_and_takes_the_waistband_along() -> None:
    draft = next(d for d in ALL if d.__name__ == "straight_skirt")
    before, after = sewn(draft), do(sewn(draft), "fit.resize", girth_mm=40.0)

    def wide(piece: Piece) -> float:
        x0, _, x1, _ = piece.outline.bounds
        return x1 - x0

    grown = {p.name: wide(after.piece(p.id)) - wide(p) for p in before.pieces.values()}
    assert grown["front"] == pytest.approx(10.0, abs=0.01)
    assert grown["back"] == pytest.approx(10.0, abs=0.01)
    assert grown["waistband"] == pytest.approx(20.0, abs=0.01)  # drawn as a half on the fold


def test_what_cannot_be_is_said() -> None:
    plain = bodice()
    nameless = replace(
        plain,
        pieces={
            k: replace(p, edges=tuple(replace(e, name="") for e in p.edges)) for k, p in plain.pieces.items()
        },
    )
    with pytest.raises(BadInput, match="Name the edges first"):
        do(nameless, "fit.resize", girth_mm=40.0)
    with pytest.raises(BadInput, match="how much larger"):
        do(plain, "fit.resize", girth_mm=0.0)
    with pytest.raises(BadInput, match="several sizes") as much:
        do(plain, "fit.resize", girth_mm=900.0)
    assert much.value.data["most_mm"] == 200.0
    with pytest.raises(BadInput, match="waist"):
        do(plain, "fit.resize", girth_mm=40.0, waist_mm=3.0)


def test_a_line_with_the_grain_goes_over_the_shoulder() -> None:
    before = bodice()
    after = do(before, "fit.widen", edge="front-shoulder", fraction=0.5, by_mm=8.0)
    for piece in ("front", "back"):
        assert length(after, f"{piece}-hem") == pytest.approx(248.0, abs=1e-6)
        assert corner(after, f"{piece}-shoulder", "end") == pytest.approx((70.0, 430.0), abs=1e-6)
    assert after.piece("sleeve") == before.piece("sleeve")
    assert walk(after, "shoulder").difference_mm == pytest.approx(0.0, abs=1e-6)
    alone = do(before, "fit.widen", edge="front-shoulder", fraction=0.5, by_mm=8.0, not_over=["shoulder"])
    assert alone.piece("back") == before.piece("back")
    narrower = do(after, "fit.widen", change="c2", edge="front-shoulder", fraction=0.5, by_mm=-8.0)
    assert length(narrower, "front-hem") == pytest.approx(240.0, abs=1e-6)


def test_a_side_seam_is_no_place_for_a_line_with_the_grain() -> None:
    with pytest.raises(BadInput, match="runs with the grain there"):
        do(bodice(), "fit.widen", edge="front-side", fraction=0.5, by_mm=8.0)
    with pytest.raises(BadInput, match="how much wider"):
        do(bodice(), "fit.widen", edge="front-shoulder", fraction=0.5, by_mm=0.0)


def test_lines_keep_clear_of_darts() -> None:
    """A straight skirt has a dart in the middle of its waist; no line meets a leg of it."""
    pattern = sewn(next(d for d in ALL if d.__name__ == "straight_skirt"))
    lines = upright_lines(pattern, "waist")
    assert len(lines) == len(list(edges_at(pattern, "waist")))
    for one in lines:
        for piece_id, point in one.line.through:
            for dart in pattern.piece(piece_id).darts:
                legs = [pattern.piece(piece_id).edge(leg).path for leg in (dart.first_leg, dart.second_leg)]
                xs = sorted((legs[0].start[0], legs[1].end[0]))
                assert not xs[0] - 0.5 < point[0] < xs[1] + 0.5
