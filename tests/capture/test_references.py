import pytest

from eke.capture.evidence import A4_MM, CARD_MM, CARD_THICKNESS_MM, LETTER_MM, rectangle_body
from eke.capture.references import Reference, parse_reference
from eke.errors import BadInput

GEOMETRY = {
    "dictionary": "DICT_4X4_50",
    "markers": [{"id": 0, "corners_mm": [[0, 0], [36, 0], [36, 36], [0, 36]]}],
    "check_line_mm": {"p0": [0, 50], "p1": [200, 50], "nominal": 200.0},
}


def test_the_forms_of_the_command_line():
    assert parse_reference("auto") == Reference("auto")
    assert parse_reference("sheet,check_line_mm=239.5").check_line_mm == 239.5
    got = parse_reference("sheet,geometry=g.json,check_line_mm=199", load_geometry=lambda name: GEOMETRY)
    assert got.geometry.dictionary == "DICT_4X4_50"
    assert got.check_line_mm == 199.0
    corners = parse_reference("a4,corners=1:2;300:4;310:500;2:490").corners_px
    assert corners == ((1.0, 2.0), (300.0, 4.0), (310.0, 500.0), (2.0, 490.0))
    ruler = parse_reference("points,from=10:20,to=400:25.5,distance_mm=300,height_mm=2")
    assert (ruler.from_px, ruler.to_px) == ((10.0, 20.0), (400.0, 25.5))
    assert (ruler.distance_mm, ruler.height_mm) == (300.0, 2.0)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("a5", "no reference"),
        ("a4,check_line_mm=3", "not understood for a4"),
        ("a4,corners=1:2;3:4", "four corners"),
        ("a4,corners=1:2;3:4;5:6;x:7", "not a place"),
        ("sheet,check_line_mm=20", "about 240 mm"),
        ("sheet,check_line_mm=9.45", "about 240 mm"),  # inches
        ("sheet,check_line_mm=nan", "not a length"),
        ("points,from=1:1", "two points need|Two points need"),
        ("points,from=1:1,to=5:5,distance_mm=10", "closer than 20"),
        ("points,from=1:1,to=500:5,distance_mm=0", "more than 0"),
        ("points,from=1:1,to=500:5,distance_mm=9,height_mm=500", "no ruler"),
        ("a4,corners=1:2;3:4;5:6;7:8,corners=1:2;3:4;5:6;7:8", "twice"),
        ("sheet,geometry=x", "cannot be read here"),
    ],
)
def test_a_wrong_statement_says_what_is_wrong(text, words):
    with pytest.raises(BadInput, match=words):
        parse_reference(text)


def test_sizes_are_those_of_the_standards():
    assert A4_MM == (210.0, 297.0)  # ISO 216:2007, table 1
    assert pytest.approx((8.5 * 25.4, 11 * 25.4)) == LETTER_MM  # ASME Y14.1, size A
    # ISO/IEC 7810:2019, 5.1: finished ID-1 cards measure 85.47 to 85.72 by 53.92 to 54.03 mm
    assert pytest.approx(((85.47 + 85.72) / 2, (53.92 + 54.03) / 2)) == CARD_MM
    assert CARD_THICKNESS_MM == 0.76


@pytest.mark.parametrize(("kind", "tolerance_mm"), [("a4", 2.0), ("letter", 2.0), ("card", 0.125)])
def test_the_tolerance_of_a_side_is_that_of_its_standard(kind, tolerance_mm):
    body = rectangle_body(kind)
    aspect = next(e for e in body.extras if e.name == "aspect")
    width = body.outline_mm[:, 0].max() - body.outline_mm[:, 0].min()
    # scale and aspect are independent; together they move the long side of the standard's tolerance (2 sigma)
    side = 2.0 * width * (body.scale_sigma**2 + aspect.sigma**2) ** 0.5
    assert side == pytest.approx(tolerance_mm, rel=0.35)
