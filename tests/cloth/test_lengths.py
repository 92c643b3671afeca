"""Shrinkage, widths, repeats and weights against published figures."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.cloth import (
    Cloth,
    Flaw,
    advice_for,
    check_by_weight,
    drop_mm,
    extra_for_repeat_mm,
    gsm_of,
    kills_mites,
    length_at_width,
    length_before_wash,
    rectangle,
    shrink_percent,
    treatment,
    washed,
    weight_g,
    weight_words,
)
from eke.errors import BadInput
from eke.units import GSM_PER_OZ_YD2, MM_PER_INCH

YARD = 36 * MM_PER_INCH


@pytest.mark.parametrize(("percent", "buy_m"), [(5, 2.105), (3, 2.062), (10, 2.222)])
def test_length_to_buy_so_that_two_metres_are_left(percent, buy_m):
    # arithmetic of the shrinkage percentage as ISO 5077 defines it
    assert length_before_wash(2000, percent) / 1000 == pytest.approx(buy_m, abs=0.001)
    assert shrink_percent(length_before_wash(2000, percent), 2000) == pytest.approx(percent)


# Width conversion table, yards, 35–36 in first: widely reprinted by extension services
WIDTHS_IN = (35.5, 39, 41, 44.5, 50, 53, 59, 66)
TABLE = """2 1.75 1.75 1.625 1.5 1.375 1.25 1.125
2.25 2 2 1.75 1.625 1.5 1.375 1.25
2.5 2.25 2.25 2.125 1.75 1.75 1.625 1.5
2.875 2.5 2.5 2.25 2 1.875 1.75 1.625
3.125 2.75 2.75 2.5 2.25 2 1.875 1.75
3.375 3 2.875 2.75 2.375 2.25 2 1.875
3.75 3.25 3.125 2.875 2.625 2.375 2.25 2.125
4.25 3.5 3.375 3.125 2.75 2.625 2.375 2.25
4.5 3.75 3.625 3.375 3 2.75 2.625 2.5
4.75 4 3.875 3.625 3.25 2.875 2.75 2.625
5 4.25 4.125 3.875 3.375 3.125 2.875 2.75"""


def test_another_width_agrees_with_the_reprinted_table_within_12_percent():
    for row in TABLE.splitlines():
        yards = [float(cell) for cell in row.split()]
        for width_in, said in zip(WIDTHS_IN, yards, strict=True):
            ours = length_at_width(yards[0] * YARD, WIDTHS_IN[0] * 25.4, width_in * 25.4) / YARD
            assert 0.90 <= said / ours <= 1.12, (yards[0], width_in, said, ours)


def test_one_conversion_by_hand():
    # 2¼ yd at 44–45 in become 1¾ yd at 58–60 in, within ¼ yd
    assert length_at_width(2.25 * YARD, 44.5, 59) / YARD == pytest.approx(1.75, abs=0.25)


def test_repeats():
    # extension leaflet on plaids: 4¼ in repeat, two stacked pieces need 8½ in more
    assert extra_for_repeat_mm(4.25 * 25.4, 2) == pytest.approx(8.5 * 25.4)
    assert drop_mm(100, 26) == 104  # 100 in cut from a 26 in repeat: 104 a drop
    assert drop_mm(104, 26) == 104


def test_weights():
    assert weight_g(800_000, 150) == pytest.approx(120)
    assert gsm_of(120, 800_000) == pytest.approx(150)
    assert pytest.approx(206.8, abs=0.05) == 6.1 * GSM_PER_OZ_YD2
    assert weight_words(206.8) == "207 g/m² (6.1 oz/yd²), medium"
    assert "light" in weight_words(149)
    assert "heavy" in weight_words(351)


def test_the_scales_check_the_shape():
    cloth = Cloth("c", "sheet", rectangle(1000, 800), weight_gsm=150)
    assert check_by_weight(cloth, 122).agrees
    off = check_by_weight(cloth, 240)
    assert not off.agrees
    assert "120 g (+100 %)" in off.sentence
    with pytest.raises(BadInput, match="square metre"):
        check_by_weight(Cloth("c", "sheet", rectangle(1000, 800)), 122)


@given(st.floats(0, 359), st.floats(0, 12), st.floats(0, 12), st.floats(100, 300))
def test_washing_shrinks_along_warp_and_weft_only(grain, warp, weft, gsm):
    turn = math.radians(grain - 90)
    c, s = math.cos(turn), math.sin(turn)
    outline = tuple((x * c - y * s, x * s + y * c) for x, y in rectangle(1000, 2000))
    spot = tuple((x * c - y * s, x * s + y * c) for x, y in ((100, 100), (200, 100), (200, 200)))
    before = Cloth("c", "x", outline, flaws=(Flaw("f", spot),), grain_deg=grain, weight_gsm=gsm,
                   shrink_warp_percent=warp, shrink_weft_percent=weft, repeat_mm=(50, 40))  # fmt: skip
    after = washed(before)
    assert after.size_mm == pytest.approx((1000 * (1 - weft / 100), 2000 * (1 - warp / 100)))
    assert after.repeat_mm == pytest.approx((50 * (1 - warp / 100), 40 * (1 - weft / 100)))
    ratio = (1 - warp / 100) * (1 - weft / 100)
    assert after.area_mm2 == pytest.approx(before.area_mm2 * ratio)
    assert before.usable_area_mm2() * ratio == pytest.approx(after.usable_area_mm2())
    assert weight_g(after.area_mm2, after.weight_gsm) == pytest.approx(weight_g(before.area_mm2, gsm))
    assert washed(after) == after


def test_washing_needs_to_know_the_warp():
    with pytest.raises(BadInput, match="which way the warp"):
        washed(Cloth("c", "x", rectangle(10, 10), shrink_warp_percent=6))
    assert washed(Cloth("c", "x", rectangle(10, 10), shrink_warp_percent=6, shrink_weft_percent=6)).washed


@pytest.mark.parametrize(
    ("wash", "tumble", "how"),
    [(60, None, "wash"), (95, False, "wash"), (59, True, "tumble"), (40, False, "freeze"), (None, True, "tumble"),
     (None, None, "ask"), (40, None, "ask")],
)  # fmt: skip
def test_used_cloth_is_treated_in_the_order_of_the_sources(wash, tumble, how):
    # Naylor and Boase 2010 (60 °C 30 min; dryer 30 min; −18 °C 4 days)
    assert treatment(wash, tumble) == how


def test_advice_names_the_thresholds():
    freeze = advice_for(
        Cloth("c", "wool", rectangle(9, 9), second_hand=True, hottest_wash_deg=30, tumble_dry=False)
    )
    assert "−18 °C" in freeze[0].sentence.replace("-18", "−18")
    assert "4 days" in freeze[0].sentence
    wash = advice_for(Cloth("c", "cotton", rectangle(9, 9), second_hand=True, hottest_wash_deg=60))
    assert "60 °C for at least 30 minutes" in wash[0].sentence
    assert [kills_mites(t) for t in (54, 55)] == [False, True]  # McDonald and Tovey 1992
    new = advice_for(Cloth("c", "new", rectangle(9, 9), washed=True, grain_deg=90))
    assert [a.topic for a in new] == ["straightening"]
