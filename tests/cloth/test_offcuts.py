"""What is left after cutting has its true shape, and nothing is lost in the sums."""

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import affinity
from shapely.geometry import Polygon, box
from shapely.ops import unary_union

from eke.cloth import Cloth, Flaw, as_cloths, rectangle, rest_of
from eke.errors import BadInput

CURTAIN = Cloth(
    "c", "curtain", rectangle(1300, 2200), holes=(((600, 1000), (700, 1000), (650, 1100)),), grain_deg=90
)
BOXES = st.lists(
    st.tuples(st.integers(0, 6), st.integers(0, 10), st.floats(0.3, 1), st.floats(0.3, 1)), max_size=12
)


def pieces_on_a_grid(cells):
    seen = {}
    for i, j, w, h in cells:
        seen[i, j] = box(i * 185, j * 200, i * 185 + 180 * w, j * 200 + 195 * h)
    return [p for p in seen.values() if CURTAIN.polygon.covers(p)]


@given(BOXES, st.floats(0, 3), st.floats(0, 40))
def test_pieces_waste_and_offcuts_make_up_the_cloth(cells, kerf, least_width):
    pieces = pieces_on_a_grid(cells)
    rest = rest_of(CURTAIN, pieces, kerf_mm=kerf, least_width_mm=least_width)
    kept = sum(p.area for p in rest.kept)
    assert rest.cut_mm2 + rest.waste_mm2 + kept == pytest.approx(CURTAIN.area_mm2)
    assert rest.waste_mm2 >= -1e-6
    room = CURTAIN.polygon.difference(unary_union(pieces)).buffer(1e-4)
    for part in rest.kept:
        assert room.covers(part)
        assert all(part.distance(piece) >= kerf * 0.97 - 1e-6 for piece in pieces)
    for i, part in enumerate(rest.kept):
        assert all(part.intersection(other).area < 1e-6 for other in rest.kept[:i])


@given(BOXES, st.floats(0, 360), st.floats(-500, 500))
def test_moving_cloth_and_pieces_together_moves_the_offcuts(cells, turn, dx):
    pieces = pieces_on_a_grid(cells)

    def move(shape):
        return affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), dx, -dx)

    moved = move(CURTAIN.polygon)
    there = Cloth("c", "x", moved.exterior.coords[:-1], holes=tuple(r.coords[:-1] for r in moved.interiors))
    here, after = rest_of(CURTAIN, pieces), rest_of(there, [move(p) for p in pieces])
    assert [p.area for p in after.kept] == pytest.approx([p.area for p in here.kept], rel=1e-3)


def test_a_rectangle_cut_from_a_corner_leaves_an_l_with_square_corners():
    cloth = Cloth("c", "sheet", rectangle(1000, 1000))
    (kept,) = rest_of(cloth, [box(0, 0, 600, 700)], kerf_mm=0).kept
    assert kept.area == pytest.approx(1_000_000 - 420_000, rel=1e-3)
    assert kept.symmetric_difference(cloth.polygon.difference(box(0, 0, 600, 700))).area < 600


def test_a_narrow_strip_between_pieces_is_waste_and_parts_the_rest():
    cloth = Cloth("c", "sheet", rectangle(1000, 1000))
    rest = rest_of(cloth, [box(0, 400, 495, 600), box(505, 400, 1000, 600)])
    assert len(rest.kept) == 2
    assert rest.waste_mm2 > 10 * 180


def test_scraps_are_counted_as_waste():
    rest = rest_of(Cloth("c", "s", rectangle(100, 100)), [box(0, 0, 100, 60)], kerf_mm=0)
    assert rest.kept == ()
    assert rest.waste_mm2 == pytest.approx(4000)


def test_offcuts_inherit_and_carry_their_flaws():
    stain = Flaw("f", ((500, 900), (900, 900), (900, 1000), (500, 1000)), "stain", quality=1)
    parent = Cloth(
        "c", "sheet", rectangle(1000, 1000), flaws=(stain,), grain_deg=75, weight_gsm=140, second_hand=True
    )
    rest = rest_of(parent, [box(690, 0, 710, 1000)])
    left, right = as_cloths(parent, rest.kept, ["a", "b"])
    assert {left.parent, right.parent} == {"c"}
    assert left.grain_deg == right.grain_deg == 75
    assert left.second_hand
    for offcut in (left, right):
        (flaw,) = offcut.flaws
        assert flaw.quality == 1
        assert offcut.polygon.buffer(1e-6).covers(Polygon(flaw.polygon))


@pytest.mark.parametrize(
    ("pieces", "says"),
    [
        ([box(900, 0, 1100, 100)], "beside it"),
        ([box(0, 0, 100, 100), box(50, 50, 150, 150)], "over each other by 25"),
    ],
)
def test_what_cannot_be_cut_is_refused(pieces, says):
    with pytest.raises(BadInput, match=says):
        rest_of(Cloth("c", "sheet", rectangle(1000, 1000)), pieces)
