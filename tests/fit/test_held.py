"""Fit changes and what is held: an edge that a dart or a cut parts stays held in its parts; what moves it is told."""

from __future__ import annotations

import pytest

from eke.findings import Finding
from eke.pattern.checking import check
from eke.pattern.held import length_held, length_now_mm
from eke.pattern.lengths import with_length
from eke.pattern.model import Pattern

from .bodies import bodice, do, length, sound


def lost(pattern: Pattern) -> list[Finding]:
    return [f for f in check(pattern) if f.code in ("length-held", "target-gone")]


def side_held() -> Pattern:
    pattern = bodice()
    return with_length(pattern, "front-side", length(pattern, "front-side"), held_as="h")


def test_a_dart_in_a_held_edge_leaves_it_as_long_when_it_is_shut() -> None:
    before = side_held()
    made = do(before, "fit.add_dart", edge="front-side", mm=120.0, intake_mm=20.0, apex=[120.0, 190.0])
    held = made.held_lengths["h"]
    assert len(held.edges) == 2
    assert all(length_held(made, edge) is not None for edge in held.edges)
    off = length_now_mm(made, held) - held.mm
    found = [f for f in lost(made) if f.code == "length-held"]
    assert [f.amount for f in found] == ([pytest.approx(off)] if abs(off) > 0.5 else [])
    # made good again over its parts, the dart between them is left as it is
    remedied = with_length(made, held.edges[0], held.mm, "start", held_as="h")
    sound(remedied)
    assert length_now_mm(remedied, remedied.held_lengths["h"]) == pytest.approx(held.mm)
    assert len(remedied.held_lengths) == 1


def test_a_cut_through_a_held_edge_leaves_it_held_over_both_pieces() -> None:
    before = side_held()
    to = {"edge": "front-fold", "mm": 60.0, "from_end": "end"}
    made = do(before, "fit.cut", edge="front-side", mm=60.0, to=to, part="front, below", seam="waist")
    held = made.held_lengths["h"]
    assert {made.edge(edge)[0].name for edge in held.edges} == {"front", "front, below"}
    assert length_now_mm(made, held) == pytest.approx(held.mm)
    assert lost(made) == []


def test_what_a_fit_change_makes_of_a_held_hem_is_told_with_remedies_that_cure_it() -> None:
    pattern = bodice()
    before = with_length(pattern, "front-hem", length(pattern, "front-hem"), held_as="h")
    made = do(before, "fit.take_in", seam="side", knots=[[0.0, 8.0], [100.0, 8.0], [200.0, 0.0]])
    (found,) = lost(made)
    assert found.amount == pytest.approx(-4.0, abs=0.1)
    fix = found.fixes[0]
    assert fix.kind == "true.length"
    remedied = with_length(made, fix.params["edge"], fix.params["length_mm"], fix.params["keep"], held_as="h")
    sound(remedied)
    assert lost(remedied) == []
