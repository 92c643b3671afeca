"""The bench of proposed seams: its garments are sound, its noise is what it says, and proposals keep their level."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.geometry import path_area_mm2, trouble_of
from eke.pattern.corners import dart_at
from eke.pattern.measure import run_length_mm
from eke.pattern.proposals import AS_GOOD, CLEAR_GAIN, Proposal, confidence_of, propose_seams

sys.path.insert(0, str(Path(__file__).parents[2]))

from bench.pattern.__main__ import measured
from bench.pattern.garments import ALL, HELD_OUT, IMPROVED_BY
from bench.pattern.scoring import Score
from bench.pattern.tracing import CORNER_MM, traced

GATHERED = {"puff-sleeve dress", "hooded top", "T-shirt", "raglan top", "shirt"}
"""Garments with gathers, pleats or bands that are stretched on."""


def test_there_are_eighteen_garments_in_two_halves_without_overlap() -> None:
    assert len(ALL) == len(set(ALL)) == 18
    assert len(IMPROVED_BY) == len(HELD_OUT) == 9


@pytest.mark.parametrize("draft", ALL, ids=lambda d: d.__name__)
def test_drafts_are_sound_and_their_seams_fit(draft) -> None:
    garment = draft()
    pattern = garment.pattern
    for piece in garment.pieces:
        assert trouble_of(piece.outline) is None
        assert path_area_mm2(piece.outline) > 0.0
    sewn = {p.edge for s in garment.sewn for p in s.or_a}
    for seam in garment.sewn:
        for part in (*seam.a, *seam.b):
            edge = pattern.edge(part.edge)[1]
            assert edge.kind in ("seam", "hem")
        a, b = run_length_mm(pattern, seam.a), run_length_mm(pattern, seam.b)
        if garment.name not in GATHERED:
            assert abs(a - b) <= 30.0 + 1e-6
        assert 0.5 < a / b < 2.0
        own = {p.edge for p in (*seam.a, *(() if seam.b_mirrored else seam.b))}
        assert not own & sewn
        sewn |= own
    # what is left unsewn was said to be a hem, an opening or a fold, or is the leg of a dart
    for piece in garment.pieces:
        for edge in piece.edges:
            if edge.id not in sewn and dart_at(piece, edge.id) is None:
                assert edge.kind in ("hem", "opening", "fold"), edge.id


@pytest.mark.parametrize("seed", range(4))
def test_noise_keeps_the_outlines_sound_and_the_truth_true(seed: int) -> None:
    for draft in ALL[::3]:
        clean, rough = draft(), traced(draft(), seed)
        for piece in rough.pieces:
            assert trouble_of(piece.outline) is None
            assert path_area_mm2(piece.outline) > 0.0
        pattern = rough.pattern
        for was, now in zip(clean.sewn, rough.sewn, strict=True):
            for run, noisy in ((was.a, now.a), (was.b, now.b)):
                true = run_length_mm(clean.pattern, run)
                assert abs(run_length_mm(pattern, noisy) - true) < 10.0 * CORNER_MM + 0.012 * true


def test_scores_count_right_wrong_and_missing() -> None:
    garment = ALL[0]()
    first = garment.sewn[0]
    right = Proposal(first.a, first.b, 0.0, 0.9, ())
    wrong = Proposal(first.a, garment.sewn[1].b, 0.0, 0.4, ())
    score = Score()
    score.add([right, right, wrong], garment)  # the same seam twice is right once
    assert (score.right, score.wrong, score.missing) == (1, 2, len(garment.sewn) - 1)
    assert (score.right_way, score.asked_way) == (1, 1)
    assert score.brier == pytest.approx((0.01 + 0.81 + 0.16) / 3)


@pytest.mark.slow
@pytest.mark.parametrize(("drafts", "right", "wrong"), [(IMPROVED_BY, 0.8, 0.25), (HELD_OUT, 0.7, 0.35)])
def test_proposals_keep_their_level(drafts, right: float, wrong: float) -> None:
    score = measured(drafts, range(6))
    assert score.share_right >= right
    assert 1.0 - score.share_of_proposals <= wrong
    assert score.brier < 0.2
    # what is said is worth its number: roughly, since a few garments decide what a row of the table holds
    assert score.off < 0.1
    for low, high, least in ((0.0, 0.7, 0.2), (0.7, 0.9, 0.2), (0.9, 1.01, 0.06)):
        here = [(said, right) for said, right in score.confidence if low <= said < high]
        assert len(here) > 20
        said, right = (sum(column) / len(here) for column in zip(*here, strict=True))
        assert abs(said - right) < least, (low, said, right)


def test_a_score_says_by_how_much_the_confidence_is_off() -> None:
    honest, boaster = Score(), Score()
    honest.confidence = [(0.65, k < 65) for k in range(100)]
    boaster.confidence = [(0.97, k < 65) for k in range(100)]
    assert honest.off == pytest.approx(0.0)
    assert boaster.off == pytest.approx(0.32)
    assert honest.log_loss < boaster.log_loss
    assert honest.brier < boaster.brier
    both = Score(right=3, garments=1)
    both.join(honest)
    both.join(boaster)
    assert len(both.confidence) == 200
    assert (both.right, both.garments) == (3, 1)
    assert both.off == pytest.approx(0.16)


@given(st.floats(-5.0, 50.0), st.floats(0.0, 10.0))
def test_the_more_a_seam_is_needed_the_surer_it_is(margin: float, more: float) -> None:
    assert AS_GOOD <= confidence_of(margin) <= confidence_of(margin + more) < 1.0
    assert confidence_of(-1.0) == AS_GOOD
    assert confidence_of(CLEAR_GAIN) == pytest.approx((1.0 + AS_GOOD) / 2.0)


def test_a_traced_blouse_is_understood() -> None:
    """Told which edges are hems, and named: all five seams, walked the right way."""
    rough = traced(ALL[0](), 1)
    score = Score()
    score.add(propose_seams(rough.pattern), rough)
    assert (score.right, score.wrong, score.missing) == (5, 0, 0)
