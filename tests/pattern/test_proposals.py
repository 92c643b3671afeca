"""Proposed seams on patterns whose seams are known."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from eke.geometry import Move, Path
from eke.pattern.corners import moved_piece
from eke.pattern.measure import run_length_mm
from eke.pattern.model import CutOf, Edge, EdgeId, EdgePlace, Notch, Pattern, Piece, PieceId
from eke.pattern.proposals import Proposal, propose_seams

from .samples import bodice, curve, edge, rectangle


def nameless(pattern: Pattern) -> Pattern:
    pieces = {
        k: replace(p, edges=tuple(replace(e, name="") for e in p.edges)) for k, p in pattern.pieces.items()
    }
    return replace(pattern, pieces=pieces)


def mirrored(piece: Piece) -> Piece:
    """The piece turned over, edges in counter-clockwise order again."""
    move = Move.mirror((0.0, 0.0), (0.0, 1.0))
    edges = tuple(replace(e, path=e.path.moved(move).reversed()) for e in reversed(piece.edges))
    by_id = {e.id: e for e in edges}

    def turned(n: Notch) -> Notch:
        old = piece.edge(n.at.edge)
        mm = old.path.length_mm - old.mm_of(n.at)
        return replace(n, at=EdgePlace(n.at.edge, fraction=mm / by_id[n.at.edge].path.length_mm))

    return replace(piece, edges=edges, notches=tuple(turned(n) for n in piece.notches), grain=None)


def told(proposals: tuple[Proposal, ...]) -> set[frozenset[frozenset[str]]]:
    return {frozenset((frozenset(x.edge for x in p.a), frozenset(x.edge for x in p.b))) for p in proposals}


def pair(a: str, b: str) -> frozenset[frozenset[str]]:
    return frozenset((frozenset([a]), frozenset([b])))


@pytest.mark.parametrize("turned_over", [False, True])
@pytest.mark.parametrize("named", [False, True])
def test_bodice_sides_and_shoulders_and_nothing_else(turned_over: bool, named: bool) -> None:
    pattern = replace(bodice(), seams={})
    if turned_over:
        pattern = pattern.with_piece(mirrored(pattern.piece("back")))
    if not named:
        pattern = nameless(pattern)
    found = propose_seams(pattern)
    assert told(found) == {pair("front-side", "back-side"), pair("front-shoulder", "back-shoulder")}
    for proposal in found:
        # drawn fold to fold both are walked alike; turned over, against one another
        assert (proposal.a[0].reverse != proposal.b[0].reverse) == turned_over
        assert proposal.confidence > 0.8
        assert proposal.reasons


def sleeve(cap_mm: float, *, at=(1000.0, 0.0)) -> Piece:
    """A sleeve: cap, two underarm edges of one length, hem; the cap is scaled to ``cap_mm``."""
    x, y = at
    width = 300.0

    def cap(height: float) -> Path:
        top = (x + width / 2, y + 300 + height)
        right = curve((x + width, y + 300), 150.0, top, 180.0, 0.42)
        left = curve(top, 180.0, (x, y + 300), 210.0, 0.42)
        return right.joined(left)

    low, high = 20.0, 400.0
    for _ in range(60):
        mid = (low + high) / 2
        low, high = (mid, high) if cap(mid).length_mm < cap_mm else (low, mid)
    edges: tuple[Edge, ...] = (
        edge("sleeve-hem", Path.line((x + 30, y), (x + width - 30, y)), "hem", name=""),
        edge("sleeve-under-1", Path.line((x + width - 30, y), (x + width, y + 300)), name=""),
        edge("sleeve-cap", cap(low), name=""),
        edge("sleeve-under-2", Path.line((x, y + 300), (x + 30, y)), name=""),
    )
    return Piece(PieceId("sleeve"), "sleeve", edges)


@pytest.mark.parametrize("ease", [0.0, 0.06])
def test_a_sleeve_goes_into_the_armhole_over_both_pieces(ease: float) -> None:
    pattern = nameless(replace(bodice(), seams={}))
    round_mm = sum(pattern.edge(e)[1].path.length_mm for e in ("front-armhole", "back-armhole"))
    pattern = pattern.with_piece(sleeve(round_mm * (1.0 + ease)))
    found = propose_seams(pattern)
    armhole = frozenset((frozenset(["sleeve-cap"]), frozenset(["front-armhole", "back-armhole"])))
    assert armhole in told(found)
    assert pair("sleeve-under-1", "sleeve-under-2") in told(found)
    (cap,) = [p for p in found if "sleeve-cap" in {x.edge for x in (*p.a, *p.b)}]
    assert cap.ease_mm == pytest.approx(round_mm * ease if ease else 0.0, abs=0.2)


@pytest.mark.parametrize("seed", range(4))
def test_tracing_noise_and_places_on_the_table_do_not_matter(seed: int) -> None:
    rng = np.random.default_rng(seed)
    pattern = nameless(replace(bodice(), seams={}))
    for piece in tuple(pattern.pieces.values()):
        rough = []
        corners = [np.array(e.path.start) + rng.normal(0, 0.5, 2) for e in piece.edges]
        for i, e in enumerate(piece.edges):
            to = corners[(i + 1) % len(corners)]
            rough.append(replace(e, path=e.path.with_ends(tuple(corners[i]), tuple(to))))
        moved = moved_piece(replace(piece, edges=tuple(rough)), Move.translation(*rng.uniform(-900, 900, 2)))
        pattern = pattern.with_piece(moved)
    assert told(propose_seams(pattern)) == {
        pair("front-side", "back-side"),
        pair("front-shoulder", "back-shoulder"),
    }


def test_lengths_that_do_not_agree_are_not_proposed() -> None:
    pattern = Pattern().with_piece(rectangle("a", 60, 300)).with_piece(rectangle("b", 90, 360, at=(300, 0)))
    for proposal in propose_seams(pattern):
        a, b = (run_length_mm(pattern, run) for run in (proposal.a, proposal.b))
        assert a == pytest.approx(b, rel=0.05)


def test_a_centre_seam_is_offered_on_a_piece_cut_as_a_pair() -> None:
    piece = replace(rectangle("back", 200, 400), cuts=(CutOf(pairs=True),))
    own = [e if e.id != "back-right" else replace(e, kind="opening") for e in piece.edges]
    pattern = Pattern().with_piece(replace(piece, edges=tuple(own)))
    (found,) = [p for p in propose_seams(pattern) if p.b_mirrored]
    assert found.a[0].edge == "back-left"
    assert found.confidence < 0.9


def test_what_is_said_already_is_not_proposed_again() -> None:
    assert told(propose_seams(bodice())) == set()
    assert propose_seams(Pattern()) == ()
    assert EdgeId("e") == "e"


def test_with_one_seam_said_the_others_are_still_proposed() -> None:
    pattern = bodice()
    pattern = replace(pattern, seams={k: s for k, s in pattern.seams.items() if k == "side"})
    assert told(propose_seams(pattern)) == {pair("front-shoulder", "back-shoulder")}
