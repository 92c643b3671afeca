"""A place in words is found again on its own pattern, or it is said to be unclear; never is it found elsewhere."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.fit.elsewhere_places import (
    NotClear,
    Spot,
    find_seam_like,
    find_spot,
    part_of,
    same,
    spot_along,
    spot_on,
)
from eke.pattern.corners import called, dart_at
from eke.pattern.model import Pattern, Seam, SeamId

sys.path.insert(0, str(Path(__file__).parents[2]))

from bench.pattern.drafting import Garment
from bench.pattern.garments import ALL

GARMENTS = [draft() for draft in ALL]


def sewn(garment: Garment) -> Pattern:
    pattern = garment.pattern
    for number, seam in enumerate(garment.sewn):
        pattern = pattern.with_seam(Seam(SeamId(f"s{number}"), seam.a, seam.b, b_mirrored=seam.b_mirrored))
    return pattern


@pytest.mark.parametrize("garment", GARMENTS, ids=lambda g: g.name)
def test_an_edge_is_found_again_or_nothing_is(garment: Garment) -> None:
    pattern, found, asked = garment.pattern, 0, 0
    for piece in pattern.pieces.values():
        for edge in piece.edges:
            if dart_at(piece, edge.id) is not None:
                continue
            for share in (0.0, 0.2, 0.5, 0.9):
                mm = share * edge.path.length_mm
                asked += 1
                try:
                    again = find_spot(pattern, spot_on(pattern, piece, edge, mm))
                except NotClear:
                    continue
                found += 1
                assert (again.piece.id, again.edge.id, again.turned) == (piece.id, edge.id, False)
                assert again.mm == pytest.approx(mm, abs=1e-9)
    assert found >= 0.6 * asked, (found, asked)


@pytest.mark.parametrize("garment", GARMENTS, ids=lambda g: g.name)
def test_a_seam_is_found_again_whichever_way_it_is_said(garment: Garment) -> None:
    pattern = sewn(garment)
    for seam in pattern.seams.values():
        for swapped in (False, True):
            if swapped and seam.b_mirrored:
                continue
            for turned in (False, True):
                a, b = (
                    tuple(replace(part, reverse=not part.reverse) for part in run[::-1]) if turned else run
                    for run in (seam.a, seam.b)
                )
                other = pattern.with_seam(replace(seam, a=b if swapped else a, b=a if swapped else b))
                try:
                    again = find_seam_like(other, spot_along(pattern, seam, 20.0))
                except NotClear:
                    continue
                assert again.seam.id == seam.id
                assert again.turned == turned
                if {p.piece for p in seam.a} != {p.piece for p in seam.b}:
                    assert again.swapped == swapped


def test_another_garment_has_the_place_under_its_own_names() -> None:
    blouse, dress = (next(g.pattern for g in GARMENTS if g.name == n) for n in ("blouse", "princess dress"))
    front = next(p for p in blouse.pieces.values() if p.name == "front")
    by_name = {called(front, edge): edge for edge in front.edges}
    side = find_spot(dress, spot_on(blouse, front, by_name["side"], 40.0))
    assert (side.piece.name, called(side.piece, side.edge)) == ("side front", "side")
    with pytest.raises(NotClear, match="not clear"):  # the armhole runs over two pieces there
        find_spot(dress, spot_on(blouse, front, by_name["armhole"], 40.0))


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("front", "front"),
        ("Side front", "front"),
        ("left back", "back"),
        ("upper sleeve", "sleeve"),
        ("front facing", "facing front"),
        ("Skirt, front", "front skirt"),
        ("pocket", "pocket"),
        ("left", "left"),
    ],
)
def test_the_part_of_the_garment_is_read_from_the_name(name: str, part: str) -> None:
    assert part_of(replace(GARMENTS[0].pieces[0], name=name)) == part


ENDS = st.sampled_from(["centre", "shoulder", "side", "hem"])
SPOTS = st.builds(
    Spot, st.just("back"), st.sampled_from(["neck", "waist"]), st.tuples(ENDS, ENDS), st.floats(0.0, 1.0)
)


@given(SPOTS, SPOTS)
def test_being_the_same_place_goes_both_ways(one: Spot, other: Spot) -> None:
    assert same(one, one)
    assert same(one, other) == same(other, one)
    turned = replace(one, ends=one.ends[::-1], share=1.0 - one.share)
    assert same(one, turned)
