from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from eke.errors import BadShape
from eke.formats.faces import metrics
from eke.formats.svg import page_to_svg
from eke.paper.base_line import LaidCloth, LaidPiece, base_line, key_corners
from eke.paper.drawn import at
from eke.paper.lay_plan import SCALES, lay_plan, number_only
from eke.paper.page import Stroke, disc, flat, moved, rectangle
from eke.paper.sizes import PAPERS

from .golden import same_as_golden
from .looks import check_writing, writing
from .samples import CURTAIN, LAID, front, pocket

M = metrics()
A4 = PAPERS["a4"]


def test_measures_start_at_the_lower_end_of_the_selvedge():
    base = base_line(CURTAIN)
    assert base.name == "the selvedge"
    assert (base.x_mm, base.y_mm) == (0, 0)
    assert base.measure(np.array([[181.0, 20.0]]))[0] == pytest.approx([20, 181])


def test_without_a_selvedge_the_longest_straight_edge_along_the_grain_serves():
    base = base_line(replace(CURTAIN, selvedges=()))
    assert base.name == "the straight edge"
    assert (base.x_mm, base.y_mm, base.length_mm) == (0, 0, 1500)


def test_a_selvedge_on_the_right_measures_to_the_left():
    base = base_line(replace(CURTAIN, selvedges=(np.array([[1150, 10], [1155, 1480.0]]),)))
    along, across = base.measure(np.array([[1050.0, 10.0]]))[0]
    assert across == pytest.approx(100, abs=0.1)
    assert along == pytest.approx(0, abs=0.4)


def test_a_round_cloth_gets_a_chalked_line():
    base = base_line(LaidCloth("Round", disc(700, 700, 700, sides=200)))
    assert "chalked" in base.name
    assert base.measure(np.array([[700.0, 700.0]]))[0] == pytest.approx([700, 700], abs=0.5)


def test_grain_across_puts_the_base_line_across():
    base = base_line(LaidCloth("Strip", rectangle(0, 0, 2800, 600), grain_deg=0))
    assert base.along == (1.0, 0.0)
    assert base.across == pytest.approx((0.0, 1.0))


@given(st.floats(-500, 500), st.floats(-500, 500), st.floats(-80, 80))
def test_measures_do_not_change_when_cloth_and_pieces_are_turned_together(dx, dy, turn_deg):
    ring = front().cut[0] + [300, 200]
    still = base_line(CURTAIN).measure(key_corners(ring))
    turned = LaidCloth(
        "Curtain",
        moved(CURTAIN.outline, dx, dy, turn_deg),
        grain_deg=90 + turn_deg,
        selvedges=tuple(moved(s, dx, dy, turn_deg) for s in CURTAIN.selvedges),
    )
    there = base_line(turned).measure(moved(key_corners(ring), dx, dy, turn_deg))
    assert there == pytest.approx(still, abs=1e-6)


def test_key_corners_are_the_two_farthest_apart():
    ring = pocket().cut[0]
    first, second = key_corners(ring)
    assert np.hypot(*(second - first)) == pytest.approx(np.hypot(150, 160))
    assert first[1] < second[1]


def test_a_shape_without_corners_is_measured_at_its_lowest_and_highest():
    first, second = key_corners(disc(50, 60, 30, sides=200))
    assert first[1] == pytest.approx(30, abs=0.1)
    assert second[1] == pytest.approx(90, abs=0.1)


def test_the_table_tells_both_corners_of_every_piece():
    pages = lay_plan(CURTAIN, LAID, A4, M)
    texts = [w.text for page in pages for w in writing(page)]
    base = base_line(CURTAIN)
    for laid in LAID:
        for value in base.measure(key_corners(laid.piece.cut[0])).ravel():
            assert number_only(float(value), "mm") in texts
    assert texts.count("face down") == 1
    assert "face up, upside" in texts or "face up, upside down" in texts
    for page in pages:
        check_writing(page, margin_mm=5)


def test_turns_are_told_from_the_grain():
    cloth = LaidCloth("Strip", rectangle(0, 0, 2800, 600), grain_deg=0)
    pages = lay_plan(cloth, [LaidPiece(at(front(), 800, 500, -90), -90)], A4, M)
    texts = [w.text for page in pages for w in writing(page)]
    assert "face up" in texts
    assert not any("turned" in text for text in texts)


@pytest.mark.parametrize(("unit", "text"), [("mm", "508"), ("cm", "50.8"), ("inch", "20")])
def test_units(unit, text):
    assert number_only(508.0, unit) == text
    assert number_only(-20.32, "inch") == "−13/16"


def test_the_plan_is_drawn_at_a_round_scale_and_to_scale():
    page = lay_plan(CURTAIN, LAID, A4, M)[0]
    said = next(w.text for w in writing(page) if w.text.startswith("Drawn 1 to"))
    scale = float(said.split(";")[0].removeprefix("Drawn 1 to "))
    assert scale in SCALES
    rings = [
        line
        for i in flat(page.items)
        if isinstance(i, Stroke) and i.style.meaning == "cut"
        for line in i.lines
    ]
    areas = sorted(shapely.Polygon(ring).area * scale**2 for ring in rings)
    assert areas == pytest.approx(sorted(shapely.Polygon(one.piece.cut[0]).area for one in LAID))
    (cloth,) = (i for i in flat(page.items) if isinstance(i, Stroke) and i.style.meaning == "cloth")
    assert np.ptp(cloth.lines[0], axis=0) * scale == pytest.approx(np.ptp(CURTAIN.outline, axis=0))


def test_holes_and_flaws_are_named_on_free_cloth():
    page = lay_plan(CURTAIN, LAID, A4, M)[0]
    texts = [w.text for w in writing(page)]
    assert "hole" in texts
    assert "faded" in texts


@pytest.mark.parametrize(
    ("size", "grain_deg", "page"),
    [((2800, 600), 0, (210, 297)), ((2800, 600), 90, (297, 210)), ((600, 2800), 90, (210, 297))],
)
def test_the_grain_runs_up_the_page(size, grain_deg, page):
    cloth = LaidCloth("Strip", rectangle(0, 0, *size), grain_deg=grain_deg)
    piece = at(pocket(), 400, 300, grain_deg - 90)
    plan = lay_plan(cloth, [LaidPiece(piece, grain_deg - 90)], A4, M)[0]
    assert (plan.width_mm, plan.height_mm) == page
    (arrow,) = (i for i in flat(plan.items) if isinstance(i, Stroke) and i.style.meaning == "grain")
    a, b = arrow.lines[0]
    assert a[0] == pytest.approx(b[0])
    assert b[1] > a[1]  # a one-way piece points up


@given(st.floats(-180, 180), st.floats(3, 60))
def test_a_plan_stays_on_its_page_however_the_cloth_was_measured(turn_deg, wave_mm):
    angle = np.linspace(0, 2 * np.pi, 90, endpoint=False)
    radius = 700 + wave_mm * np.cos(9 * angle)
    ring = moved(np.column_stack([radius * np.cos(angle), 0.8 * radius * np.sin(angle)]), 300, -200, turn_deg)
    cloth = LaidCloth("Tablecloth", ring, grain_deg=turn_deg + 20)
    for page in lay_plan(cloth, [LaidPiece(at(pocket(), 300, -200, turn_deg))], A4, M):
        check_writing(page, margin_mm=5)
        for item in flat(page.items):
            if isinstance(item, Stroke):
                xy = np.vstack(item.lines)
                assert xy.min() >= 5
                assert (xy.max(axis=0) <= [page.width_mm - 5, page.height_mm - 5]).all()


def test_a_traced_edge_in_many_stretches_is_one_edge():
    """A photographed curtain: its side wanders by 2 mm, and is still measured over its whole length."""
    y = np.linspace(0, 1500, 40)
    left = np.column_stack([2.0 * np.sin(y / 60.0), y])
    outline = np.vstack([left[::-1], [[1100, 0], [1110, 1480]]])
    base = base_line(LaidCloth("Curtain", outline))
    assert base.name == "the straight edge"
    assert base.length_mm > 1450


def test_a_cloth_without_outline_is_refused():
    with pytest.raises(BadShape, match="Scrap"):
        lay_plan(LaidCloth("Scrap", np.zeros((2, 2))), LAID, A4, M)


def test_golden_plan():
    """A small lay as text, to be read in a diff and looked at in a browser."""
    cloth = LaidCloth("Remnant", rectangle(0, 0, 300, 400), selvedges=(np.array([[0, 0], [0, 400.0]]),))
    (page,) = lay_plan(
        cloth, [LaidPiece(at(pocket(), 40, 30)), LaidPiece(at(pocket(), 200, 360, 180), 180)], A4, M
    )
    same_as_golden("lay_plan.svg", page_to_svg(page, carry_fonts=False, decimals=1))
