"""The adviser on a pattern: remedies as changes that apply, amounts of the trade, halves, profiles, reasons."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput, NotFound
from eke.fit import fit_kinds
from eke.fit.advice_draft import Offer, applied
from eke.fit.advice_here import WAYS, AdviceHere, advise_here
from eke.fit.adviser import STAY_PERCENT
from eke.fit.remedies import SHOWINGS
from eke.geometry import Move, Path
from eke.pattern.corners import dart_intake_mm
from eke.pattern.darts import dart_of
from eke.pattern.model import CutOf, Edge, EdgeId, EdgePlace, Mark, Pattern, Piece, PieceId
from fit.bodies import bodice, do, length, moved, pattern_of, seam, sound

KINDS = {kind.name: kind for kind in fit_kinds()}
CODES = [one.code for one in SHOWINGS]
BUST = (90.0, 230.0)


def advised(pattern: Pattern, code: str, edge: str, mm: float, pinned: float, **how: Any) -> AdviceHere:
    return advise_here(pattern, KINDS, code, EdgePlace(EdgeId(edge), mm=mm), pinned, **how)


def of_kind(told: AdviceHere, kind: str) -> list[Offer]:
    return [one for one in told.offers if one.kind == kind]


def most(offer: Offer) -> float:
    return max(taken for _, taken in offer.params["knots"])


def princess(armhole_mm: float = 150.0) -> Pattern:
    """A front in two panels, sewn from the shoulder over the bust to the hem; the armhole is on the side panel.

    The armhole is ``armhole_mm`` long: a straight line, so that what is eased onto a stay is exact.
    """
    over = Path.polyline([(100.0, 0.0), (95.0, 230.0), (110.0, 430.0)])
    inner = [
        ("hem", Path.line((0.0, 0.0), over.start)),
        ("panel", over),
        ("shoulder", Path.line(over.end, (70.0, 445.0))),
        ("neck", Path.line((70.0, 445.0), (0.0, 350.0))),
        ("fold", Path.line((0.0, 350.0), (0.0, 0.0))),
    ]
    top = 430.0 - 20.0
    low = top - math.sqrt(armhole_mm**2 - 60.0**2)
    outer = [
        ("hem", Path.line((100.0, 0.0), (240.0, 0.0))),
        ("side", Path.line((240.0, 0.0), (230.0, low))),
        ("armhole", Path.line((230.0, low), (170.0, top))),
        ("shoulder", Path.line((170.0, top), over.end)),
        ("panel", over.reversed()),
    ]
    pieces = []
    for name, rows in (("front", inner), ("side front", outer)):
        edges = tuple(
            Edge(EdgeId(f"{name}-{n}"), p, "fold" if n == "fold" else "hem" if n == "hem" else "seam", n)
            for n, p in rows
        )
        grain = ((60.0, 50.0), (60.0, 250.0)) if name == "front" else ((170.0, 50.0), (170.0, 200.0))
        pieces.append(
            Piece(
                PieceId(name),
                name,
                edges,
                marks=(Mark("bp", "apex", (BUST,)),) if name == "front" else (),
                grain=grain,
                fold=EdgeId("front-fold") if name == "front" else None,
                cuts=(CutOf("outer", 1, pairs=name != "front"),),
            )
        )
    return seam(pattern_of(*pieces), "princess", [("front-panel", False)], [("side front-panel", True)])


def test_every_way_of_the_table_is_worked_out() -> None:
    for showing in SHOWINGS:
        for remedy in showing.remedies:
            assert remedy.kind == "" or (remedy.way or remedy.kind) in WAYS


# ---- halves


def test_what_is_pinned_at_the_whole_neck_is_half_on_each_half_piece() -> None:
    told = advised(bodice(), "neck-gapes-front", "front-neck", 60.0, 12.0)
    assert told.amount_mm == 6.0
    (lap,) = of_kind(told, "fit.wedge")
    assert lap.params["width_mm"] == 6.0
    assert told.means == "12 mm on the whole body: 6 mm on each half."
    half = advised(bodice(), "neck-gapes-front", "front-neck", 60.0, 12.0, whole=False)
    assert of_kind(half, "fit.wedge")[0].params["width_mm"] == 12.0


def test_a_piece_that_is_drawn_whole_takes_it_all_at_its_middle_and_half_elsewhere() -> None:
    rows = [("hem", (0, 0), (300, 0)), ("right", (300, 0), (300, 400)), ("neck", (300, 400), (0, 400)), ("left", (0, 400), (0, 0))]  # fmt: skip
    edges = tuple(Edge(EdgeId(n), Path.line(p, q), "hem" if n == "hem" else "seam", n) for n, p, q in rows)
    back = pattern_of(Piece(PieceId("back"), "back", edges, grain=((150.0, 50.0), (150.0, 300.0))))
    middle = advised(back, "neck-gapes-back", "neck", 150.0, 10.0)
    assert middle.amount_mm == 10.0
    assert of_kind(middle, "fit.add_dart")[0].params["intake_mm"] == 10.0
    aside = advised(back, "neck-gapes-back", "neck", 60.0, 10.0)
    assert of_kind(aside, "fit.add_dart")[0].params["intake_mm"] == 5.0
    assert "do the same on its other side" in aside.means


def test_lengths_are_not_halved() -> None:
    told = advised(bodice(), "shoulder-tip-folds", "front-armhole", 190.0, 12.0)
    assert of_kind(told, "fit.shoulder_slope")[0].params["drop_mm"] == 12.0


# ---- seams and their profile


def test_an_armhole_is_taken_out_of_a_princess_seam_as_the_trade_does() -> None:
    """Nothing at the shoulder, most at mid-armhole height, nothing at the bust point (common practice)."""
    pattern = princess()
    told = advised(pattern, "armhole-gapes", "side front-armhole", 75.0, 4.0, whole=False)
    shared, alone = [one for one in of_kind(told, "fit.take_in") if not one.eased_mm][:2]
    assert shared.params["share_a"] == 0.5
    assert alone.params["share_a"] == 0.0  # side b lies on the side front
    panel = pattern.edge("front-panel")[1].path
    armhole = pattern.edge("side front-armhole")[1].path
    (low, at_low), (mid, at_mid), (top, at_top) = shared.params["knots"]
    assert (at_low, at_mid, at_top) == (0.0, 4.0, 0.0)
    assert low == pytest.approx(panel.nearest(BUST).at_mm, abs=0.01)
    assert top == pytest.approx(panel.length_mm, abs=0.05)
    assert panel.point_at(mid)[1] == pytest.approx((armhole.start[1] + armhole.end[1]) / 2.0, abs=0.01)
    assert "nothing at the bust point" in shared.means[0]


def test_twelve_of_gape_are_eight_from_the_seam_and_four_eased() -> None:
    """Trade values 4.27: 3 % of 150 mm in firm cotton is 4.5 mm, so 4 are eased and 8 taken in."""
    told = advised(princess(150.0), "armhole-gapes", "side front-armhole", 75.0, 12.0, whole=False)
    (mixed,) = [one for one in of_kind(told, "fit.take_in") if one.eased_mm]
    assert (mixed.amount_mm, mixed.eased_mm) == (8.0, 4.0)
    assert most(mixed) == 8.0
    assert mixed.sensible
    assert mixed.note == "The armhole gapes, 12 mm on one half: 8 mm here, 4 mm eased onto a stay"
    eased = next(one for one in told.offers if one.kind == "")
    assert not eased.sensible
    assert "8.0 %" in eased.reason


def test_easing_alone_is_sensible_where_the_cloth_takes_it() -> None:
    told = advised(
        princess(150.0), "armhole-gapes", "side front-armhole", 75.0, 7.0, whole=False, cloth="wool"
    )
    assert told.offers[0].kind == ""
    assert "4.7 %; wool takes 5 %" in told.offers[0].reason
    assert not [one for one in told.offers if one.eased_mm and one.kind]


def test_the_side_is_let_out_by_a_quarter_on_each_of_four_edges() -> None:
    """Trade values 4.18: hip +40 mm at two side seams is 10 mm on each of four edges."""
    pattern = bodice()
    told = advised(pattern, "tight-over-hip", "front-side", 30.0, 40.0)
    shared = of_kind(told, "fit.take_in")[0]
    assert min(taken for _, taken in shared.params["knots"]) == -20.0
    after = applied(pattern, KINDS, shared.kind, shared.params)
    for name in ("front", "back"):
        hem = after.edge(f"{name}-hem")[1].path.length_mm - pattern.edge(f"{name}-hem")[1].path.length_mm
        assert hem == pytest.approx(10.0, abs=0.3)


def test_a_centre_seam_is_taken_in_on_its_one_edge_by_half() -> None:
    pattern = bodice()
    piece = pattern.piece("back")
    fold = replace(piece.edge("back-fold"), kind="seam", name="centre back")
    pattern = pattern.with_piece(
        replace(piece.with_edge(fold), fold=None, cuts=(CutOf("outer", 1, pairs=True),))
    )
    pattern = seam(pattern, "cb", [("back-fold", False)], [("back-fold", False)], b_mirrored=True)
    told = advised(pattern, "neck-gapes-back", "back-neck", 80.0, 12.0)
    centre = next(
        one for one in of_kind(told, "fit.take_in") if one.params["seam"] == "cb" and not one.eased_mm
    )
    assert centre.params["share_a"] == 1.0
    assert most(centre) == 6.0
    knots = sorted(centre.params["knots"])
    assert knots[1][0] - knots[0][0] == pytest.approx(120.0, abs=0.1)  # to nothing about 120 mm down
    after = applied(pattern, KINDS, centre.kind, centre.params)
    assert length(after, "back-neck") == pytest.approx(length(pattern, "back-neck") - 6.0, abs=0.3)


def test_no_seam_said_says_what_to_do_first() -> None:
    alone = pattern_of(bodice().piece("front"))
    told = advised(alone, "armhole-gapes", "front-armhole", 100.0, 12.0)
    assert not of_kind(told, "fit.take_in")
    assert any("Say its seams in Pattern first" in one.why for one in told.not_here)
    sleeve = advised(pattern_of(bodice().piece("sleeve")), "sleeve-pulls", "sleeve-cap-a", 40.0, 12.0)
    assert not sleeve.offers
    assert "not sewn" in sleeve.not_here[0].why


# ---- darts


def darted() -> Pattern:
    pattern = bodice()
    return do(pattern, "fit.add_dart", edge="front-side", mm=120.0, from_end="start", intake_mm=20.0, apex=[120.0, 190.0])  # fmt: skip


def test_a_gape_goes_into_the_dart_that_is_there() -> None:
    pattern = darted()
    (dart,) = pattern.piece("front").darts
    told = advised(pattern, "armhole-gapes", "front-armhole", 100.0, 12.0, whole=False)
    into = next(one for one in of_kind(told, "fit.wedge") if not one.eased_mm)
    assert into.params["to"] == {"dart": dart.id}
    after = applied(pattern, KINDS, into.kind, into.params)
    told_mm = dart_intake_mm(*dart_of(after, dart.id))
    assert told_mm > 20.0
    assert f"takes up {told_mm:.1f}".removesuffix(".0") in into.means[0]
    lost = length(pattern, "front-armhole") - length(after, "front-armhole")
    # the edge is redrawn smooth across the wedge, which fills a little of it in again
    assert 8.0 < lost <= 12.0
    assert f"is {lost:.1f} mm shorter" in into.means[1]


def test_a_new_dart_points_short_of_the_bust_point_that_is_marked() -> None:
    pattern = bodice()
    front = replace(pattern.piece("front"), marks=(Mark("bp", "apex", ((110.0, 220.0),)),))
    told = advised(pattern.with_piece(front), "armhole-gapes", "front-armhole", 130.0, 12.0)
    (dart,) = of_kind(told, "fit.add_dart")
    assert math.dist(dart.params["apex"], (110.0, 220.0)) == pytest.approx(25.0, abs=1e-6)
    assert "25 mm from the bust point" in " ".join(dart.means)
    assert "to the neck it is" in " ".join(dart.means) or "to the side it is" in " ".join(dart.means)
    unmarked = of_kind(advised(bodice(), "armhole-gapes", "front-armhole", 130.0, 12.0), "fit.add_dart")[0]
    assert "No bust point is marked" in " ".join(unmarked.means)


def test_a_dart_that_looks_awkward_is_said_and_comes_last() -> None:
    told = advised(bodice(), "armhole-gapes", "front-armhole", 8.0, 12.0)
    (dart,) = of_kind(told, "fit.add_dart")
    assert not dart.sensible
    assert dart.reason.startswith("It looks awkward: ")
    wide = of_kind(advised(bodice(), "neck-gapes-front", "front-neck", 70.0, 70.0), "fit.add_dart")
    assert all(not one.sensible for one in wide)


def test_a_place_on_the_leg_of_a_dart_is_refused() -> None:
    pattern = darted()
    (dart,) = pattern.piece("front").darts
    with pytest.raises(BadInput, match="leg of a dart"):
        advised(pattern, "armhole-gapes", str(dart.first_leg), 10.0, 12.0)


# ---- what goes only in part


def test_what_only_goes_in_part_is_offered_with_less() -> None:
    told = advised(bodice(), "front-sags", "front-neck", 70.0, 160.0)
    for one in of_kind(told, "fit.wedge"):
        assert one.amount_mm < 160.0
        assert not one.sensible
        assert one.reason.startswith("Only ")


def test_a_fold_says_why_a_wedge_is_not_possible() -> None:
    told = advised(bodice(), "folds-above-back-waist", "back-fold", 100.0, 12.0)
    assert any("a fold stays straight" in one.why for one in told.not_here)
    assert of_kind(told, "fit.lengthen")


# ---- for all places and amounts

PLACES = [(e.id, p) for p in bodice().pieces.values() for e in p.edges]


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(CODES),
    st.sampled_from([e for e, _ in PLACES]),
    st.floats(0.0, 1.0),
    st.floats(0.5, 300.0),
    st.booleans(),
    st.sampled_from(sorted(STAY_PERCENT)),
)
def test_every_offer_applies_and_amounts_add_up(
    code: str, edge: str, share: float, pinned: float, whole: bool, cloth: str
) -> None:
    pattern = bodice()
    place = EdgePlace(EdgeId(edge), fraction=share)
    told = advise_here(pattern, KINDS, code, place, pinned, whole=whole, cloth=cloth)
    assert told.offers or told.not_here
    ranks = [one.sensible for one in told.offers]
    assert ranks == sorted(ranks, reverse=True)
    for one in told.offers:
        assert one.reason
        assert one.source
        assert one.note.startswith(told.seen)
        assert one.eased_mm >= 0.0
        if one.kind:
            assert one.amount_mm > 0.0
            sound(applied(pattern, KINDS, one.kind, one.params))
        if one.kind and one.eased_mm:
            assert (
                one.amount_mm + one.eased_mm == pytest.approx(told.amount_mm, abs=0.011) or not one.sensible
            )
    for one in told.not_here:
        assert one.why.endswith((".", "?"))


@settings(max_examples=15, deadline=None)
@given(
    st.floats(-400.0, 400.0),
    st.floats(-400.0, 400.0),
    st.sampled_from(["armhole-gapes", "neck-gapes-front", "loose-at-waist"]),
)
def test_where_the_pieces_lie_does_not_matter(dx: float, dy: float, code: str) -> None:
    edge, mm = {"armhole-gapes": ("front-armhole", 100.0), "neck-gapes-front": ("front-neck", 60.0), "loose-at-waist": ("front-side", 100.0)}[code]  # fmt: skip
    here = advised(bodice(), code, edge, mm, 12.0)
    there = advised(moved(bodice(), Move.translation(dx, dy)), code, edge, mm, 12.0)
    assert [(o.does, o.kind, o.amount_mm, o.eased_mm, o.sensible) for o in here.offers] == [
        (o.does, o.kind, o.amount_mm, o.eased_mm, o.sensible) for o in there.offers
    ]


def test_refused_in_words() -> None:
    for pinned in (0.0, -3.0, 999.0, float("nan")):
        with pytest.raises(BadInput, match="how much was pinned"):
            advised(bodice(), "armhole-gapes", "front-armhole", 100.0, pinned)
    with pytest.raises(NotFound, match="There is no advice"):
        advised(bodice(), "wings", "front-armhole", 100.0, 5.0)
    with pytest.raises(BadInput, match="cotton and wool"):
        advised(bodice(), "shoulder-tip-folds", "front-armhole", 100.0, 8.0, cloth="tin")
    with pytest.raises(NotFound, match="no edge"):
        advised(bodice(), "armhole-gapes", "nobody", 100.0, 8.0)
