"""All seams matched together: equalities hold, kept edges stay, little moves, and what cannot be is said."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadShape
from eke.pattern.corners import with_corner
from eke.pattern.matching import MATCHED_MM, match_all
from eke.pattern.model import Pattern
from eke.pattern.walking import walk

from .samples import Story, bodice, rectangle, seam


def rough(seed: int, rms: float = 0.8) -> Pattern:
    """The bodice with every corner off by chance, and armholes and necks sewn to bands of their true length."""
    pattern = bodice()
    rng = np.random.default_rng(seed)
    for number, name in enumerate(("armhole", "neck")):
        edges = [pattern.edge(f"{p}-{name}")[1] for p in ("front", "back")]
        band = rectangle(
            f"{name}-band", sum(e.path.length_mm for e in edges), 30, at=(0.0, 1000.0 + 100 * number)
        )
        pattern = pattern.with_piece(band)
        run = [("front", f"front-{name}", name == "neck"), ("back", f"back-{name}", name != "neck")]
        pattern = pattern.with_seam(seam(name, run, [(f"{name}-band", f"{name}-band-hem", False)]))
    for piece_id in ("front", "back"):
        for edge in pattern.piece(piece_id).edges:
            x, y = pattern.piece(piece_id).edge(edge.id).path.end
            to = (x + rng.normal(0, rms), y + rng.normal(0, rms))
            pattern = pattern.with_piece(with_corner(pattern.piece(piece_id), edge.id, "end", to))
    return pattern


@settings(max_examples=12)
@given(st.integers(0, 10_000))
def test_all_seams_match_and_little_moves(seed: int) -> None:
    pattern = rough(seed)
    before = {s: walk(pattern, s).difference_mm for s in pattern.seams}
    found = match_all(pattern)
    assert found.left_mm == {}
    for s in pattern.seams:
        assert abs(walk(found.pattern, s).difference_mm) <= MATCHED_MM
    assert found.greatest_shift_mm <= max(map(abs, before.values())) + 0.5
    for piece in ("front", "back"):
        assert found.pattern.piece(piece).edge(f"{piece}-fold").path.start[0] == pytest.approx(
            pattern.piece(piece).edge(f"{piece}-fold").path.start[0]
        )


def test_sharing_one_by_one_breaks_others_where_matching_all_does_not() -> None:
    # gores with slanting corners: a longer side seam moves the waist along with it
    pattern = Pattern().with_piece(rectangle("a", 200, 300)).with_piece(rectangle("b", 200, 300, at=(500, 0)))
    pattern = pattern.with_piece(with_corner(pattern.piece("a"), "a-right", "end", (120.0, 300.0)))
    pattern = pattern.with_piece(with_corner(pattern.piece("b"), "b-left", "start", (580.0, 306.0)))
    for n in ("a", "b"):
        length = pattern.edge(f"{n}-top")[1].path.length_mm - 1.0
        pattern = pattern.with_piece(rectangle(f"{n}-band", length, 40, at=(0, 600 if n == "a" else 800)))
        pattern = pattern.with_seam(
            seam(f"waist-{n}", [(n, f"{n}-top", False)], [(f"{n}-band", f"{n}-band-hem", False)])
        )
    pattern = pattern.with_seam(seam("side", [("a", "a-right", False)], [("b", "b-left", True)]))
    one_by_one = Story(pattern)
    for s in pattern.seams:
        one_by_one.do("true.share", seam=s)
    assert max(abs(walk(one_by_one.state, s).difference_mm) for s in pattern.seams) > 0.5
    story = Story(pattern)
    story.do("true.match_all")
    assert max(abs(walk(story.state, s).difference_mm) for s in pattern.seams) <= MATCHED_MM


def test_kept_edges_do_not_move_at_all() -> None:
    pattern = rough(5)
    found = match_all(pattern, keep=["front-side", "front-shoulder"])
    for e in ("front-side", "front-shoulder"):
        assert found.pattern.edge(e)[1].path == pattern.edge(e)[1].path
    assert found.left_mm == {}


def test_only_the_seams_that_are_named_change() -> None:
    pattern = rough(8)
    found = match_all(pattern, only=["side"])
    assert walk(found.pattern, "side").difference_mm == pytest.approx(0.0, abs=MATCHED_MM)
    for s in ("shoulder", "neck", "armhole"):
        assert walk(found.pattern, s).difference_mm == pytest.approx(
            walk(pattern, s).difference_mm, abs=MATCHED_MM
        )


def test_what_cannot_be_met_is_reported_and_nothing_else_is_spoilt() -> None:
    pattern = rough(2)
    everything = [e.id for p in pattern.pieces.values() for e in p.edges if e.id != "front-neck"]
    found = match_all(pattern, keep=everything)
    assert set(found.left_mm) == {
        s for s in pattern.seams if abs(walk(pattern, s).difference_mm) > MATCHED_MM
    }
    assert found.pattern == pattern


def test_ease_is_kept_and_a_great_difference_is_asked_about() -> None:
    pattern = rough(1)
    eased = pattern.with_seam(replace(pattern.seam("shoulder"), ease_mm=-6.0))
    found = match_all(eased)
    walked = walk(found.pattern, "shoulder")
    assert walked.a.length_mm - walked.b.length_mm == pytest.approx(-6.0, abs=MATCHED_MM)
    with pytest.raises(BadShape, match="would have to move by"):
        match_all(pattern.with_seam(replace(pattern.seam("side"), ease_mm=70.0)))
    assert math.isfinite(found.greatest_shift_mm)
