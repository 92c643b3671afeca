"""Scale, measured on pages that an independent renderer (pdfium) draws."""

import time
from io import BytesIO

import numpy as np
import pikepdf
import pypdfium2
import pytest
from PIL import Image

from eke.errors import BadInput
from eke.formats.faces import metrics
from eke.formats.pdf import LARGEST_UNITS, pages_to_pdf
from eke.paper.drawn import DrawnPiece, at
from eke.paper.page import Area, Group, Page, Picture, Stroke, Words, rectangle, segment
from eke.paper.sheet import PatternSheet, arrange
from eke.paper.sizes import MARGIN_MM, PAPERS
from eke.paper.styles import CUT, LineStyle
from eke.paper.tiling import FOOT_MM, cell_of, tile, tiled_pages, whole_page
from eke.units import MM_PER_INCH
from paper.samples import pinafore

M = metrics()
DPI = 600


def rendered(data, number=0, dpi=DPI):
    page = pypdfium2.PdfDocument(data)[number]
    return page.render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()


def centres_mm(values, dpi=DPI):
    """Centres of the dark stretches of a row or column of pixels, in mm from its start."""
    dark = np.flatnonzero(values < 128)
    groups = np.split(dark, np.flatnonzero(np.diff(dark) > 2) + 1)
    return np.array([(g.mean() + 0.5) / dpi * MM_PER_INCH for g in groups if len(g)])


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_test_square_is_a_hundred_millimetres_within_a_tenth(paper):
    pages = tiled_pages(pinafore(), PAPERS[paper], M, title="Pinafore")
    picture = rendered(pages_to_pdf(pages, title="Pinafore"))
    # rows and columns that cross the square where nothing is written: between two ticks, at three heights
    left, low = MARGIN_MM + 4.0, MARGIN_MM + 4.0
    height = PAPERS[paper].height_mm
    px = DPI / MM_PER_INCH
    for share in (15.0, 75.0, 95.0):
        row = picture[round((height - low - share) * px)]
        found = centres_mm(row[: round((left + 104) * px)])
        assert found[-1] - found[0] == pytest.approx(100.0, abs=0.1)
        assert found[0] == pytest.approx(left, abs=0.1)
        column = picture[:, round((left + share) * px)]
        found = centres_mm(column[round((height - low - 104) * px) :])
        assert found[-1] - found[0] == pytest.approx(100.0, abs=0.1)


def test_the_measurement_can_fail():
    page = Page(210, 297, (Stroke((segment(20, 100, 20, 200), segment(120.3, 100, 120.3, 200)), CUT),))
    found = centres_mm(rendered(pages_to_pdf([page], title="Off"))[round(150 / 25.4 * DPI)])
    assert abs(found[1] - found[0] - 100.0) > 0.2


def printed_line_mm(darkness, near_mm, dpi):
    """Where a printed cell edge lies, found in the picture within 2 mm of where it is looked for."""
    px = dpi / MM_PER_INCH
    first = round((near_mm - 2) * px)
    window = darkness[first : round((near_mm + 2) * px)]
    weights = np.clip(window - 0.5 * window.max(), 0, None)
    return float((np.arange(len(window)) @ weights / weights.sum() + first + 0.5) / px)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_long_edge_over_joined_pages_keeps_its_length_within_two_tenths(paper):
    """Pages are laid edge to edge by the cell edges printed on them, as a maker does, and a slanting cut line
    is followed over all of them."""
    size = PAPERS[paper]
    ring = np.array([[15.0, 12.0], [613.0, 912.0], [300.0, 12.0]])
    cell = cell_of(size)
    rows = int(np.ceil(930 / cell[1]))
    sheet = PatternSheet(640, rows * cell[1], (DrawnPiece("1", "Wedge", (ring,)),))
    tiling = tile(sheet, size)
    data = pages_to_pdf(tiled_pages([], size, M, title="W", sheet=sheet), title="W")
    dpi = 300
    px = dpi / MM_PER_INCH
    measured = []
    for number, one in enumerate(tiling.tiles, 1):
        dark = 255.0 - rendered(data, number, dpi)
        down = size.height_mm - MARGIN_MM - FOOT_MM
        left = printed_line_mm(dark[: round(down * px)].mean(axis=0), MARGIN_MM, dpi)
        low = printed_line_mm(dark[:, : round((MARGIN_MM + cell[0]) * px)].mean(axis=1), down, dpi)
        # laid on the table: the page's cell edges come where the map has them
        for up in np.arange(20.0, cell[1] - 10.0, 40.0):
            row = round((low - up) * px - 0.5)
            height = one.y_mm + low - (row + 0.5) / px
            want = 15.0 + 598.0 * (height - 12.0) / 900.0  # the slanting edge by its equation
            there = want - one.x_mm + left
            if not (14.0 < height < 890.0 and left + 18 < there < left + cell[0] - 18):
                continue
            first = round((there - 4) * px)
            found = centres_mm(255.0 - dark[row, first : round((there + 4) * px)], dpi)
            if len(found):
                x = found[np.argmin(np.abs(found - 4.0))] + first / px - left + one.x_mm
                measured.append((float(x), float(height), want))
    measured = np.array(measured)
    print(f"{len(measured)} places, worst {np.abs(measured[:, 0] - measured[:, 2]).max():.3f} mm")
    assert len(measured) >= 12
    assert len({one.row for one in tiling.tiles}) == rows
    assert measured[:, 0] == pytest.approx(measured[:, 2], abs=0.2)
    low, high = measured[np.argmin(measured[:, 1])], measured[np.argmax(measured[:, 1])]
    assert high[1] - low[1] > 700
    length, want = np.hypot(*(high - low)[:2]), np.hypot(high[2] - low[2], high[1] - low[1])
    assert length == pytest.approx(want, abs=0.2)


@pytest.mark.parametrize(
    ("paper", "size"), [("a4", (210, 297)), ("letter", (215.9, 279.4)), ("a0", (841, 1189))]
)
def test_page_sizes(paper, size):
    one = PAPERS[paper]
    document = pypdfium2.PdfDocument(pages_to_pdf([Page(one.width_mm, one.height_mm)], title="Size"))
    assert np.array(document.get_page_size(0)) / 72 * 25.4 == pytest.approx(size, abs=0.001)


@pytest.mark.parametrize("width_mm", [4000.0, 5080.0, 5081.0, 12000.0])
def test_sheets_over_five_metres_keep_their_scale(width_mm):
    """ISO 32000-1, annex C.2: at most 14 400 units a side; UserUnit gives the size of one."""
    line = segment(100, 50, width_mm - 100, 50)
    data = pages_to_pdf([Page(width_mm, 300, (Stroke((line,), CUT),))], title="Long")
    with pikepdf.open(BytesIO(data)) as pdf:
        page = pdf.pages[0]
        unit = float(page.obj.get("/UserUnit", 1))
        box = [float(v) for v in page.mediabox]
    assert box[2] <= LARGEST_UNITS + 0.01
    assert box[2] * unit / 72 * 25.4 == pytest.approx(width_mm, rel=1e-5)
    assert (unit > 1) == (width_mm > 5080.0)
    # the line, drawn by pdfium in user units: both margins are 100 mm
    dpi = 20 / unit
    row = rendered(data, 0, dpi)
    dark = np.flatnonzero((row < 200).any(axis=0))
    scale = 25.4 / dpi * unit
    assert dark[0] * scale == pytest.approx(100, abs=2 * scale)
    assert (dark[-1] + 1) * scale == pytest.approx(width_mm - 100, abs=2 * scale)


def test_the_same_plan_gives_the_same_bytes():
    pages = tiled_pages(pinafore(), PAPERS["a4"], M, title="Pinafore")
    assert pages_to_pdf(pages, title="Pinafore") == pages_to_pdf(pages, title="Pinafore")
    assert pages_to_pdf([Page(6000, 100)], title="x") == pages_to_pdf([Page(6000, 100)], title="x")


def test_title_names_of_pages_and_printing_at_true_size():
    pages = tiled_pages(pinafore(), PAPERS["a4"], M, title="Pinafore")
    with pikepdf.open(BytesIO(pages_to_pdf(pages, title="Pinafore “9”", subject="Pattern"))) as pdf:
        assert str(pdf.docinfo["/Title"]) == "Pinafore “9”"
        assert pdf.Root.ViewerPreferences.PrintScaling == "/None"
        with pdf.open_outline() as outline:
            assert [item.title for item in outline.root] == [page.name for page in pages]


def test_all_fonts_are_inside():
    page = Page(
        210,
        297,
        tuple(
            Words("Süß ŋ ⅛ → 1174", 20, 40 + 20 * n, 6, r)
            for n, r in enumerate(("title", "sentence", "measure", "strong"))
        ),
    )
    with pikepdf.open(BytesIO(pages_to_pdf([page], title="Fonts"))) as pdf:
        fonts = [f for f in pdf.pages[0].Resources.Font.values() if "/FontDescriptor" in f]
        assert len(fonts) >= 4
        assert all("/FontFile2" in f.FontDescriptor for f in fonts)
    text = pypdfium2.PdfDocument(pages_to_pdf([page], title="Fonts"))[0].get_textpage().get_text_range()
    assert text.count("Süß ŋ ⅛ → 1174") == 4


def test_words_turn_about_their_start_and_end_where_they_should():
    page = Page(200, 200, (Words("HHHHHHHH", 100, 40, 10, "strong", "start", 90),))
    dark = np.argwhere(rendered(pages_to_pdf([page], title="T"), 0, 300) < 128) / 300 * 25.4
    width = M.width_mm("HHHHHHHH", "strong", 10)
    assert 200 - dark[:, 0].max() == pytest.approx(40, abs=1.0)
    assert 200 - dark[:, 0].min() == pytest.approx(40 + width, abs=1.0)
    assert dark[:, 1].max() == pytest.approx(100, abs=0.3)


def test_clips_moves_and_holes():
    ring = rectangle(0, 0, 40, 40)
    page = Page(
        100,
        100,
        (
            Group(
                (Area((ring, rectangle(10, 10, 20, 20)), "#000000"),),
                50,
                50,
                180,
                clip=rectangle(0, 0, 100, 45),
            ),
        ),
    )
    picture = rendered(pages_to_pdf([page], title="C"), 0, 254)  # 10 pixels to the mm

    def dark(x, y):
        return picture[round((100 - y) * 10), round(x * 10)] < 128

    assert dark(15, 15)  # a corner of the turned square
    assert not dark(30, 30)  # its hole
    assert not dark(45, 47)  # cut off by the clip
    assert dark(45, 43)
    assert not dark(55, 30)  # beyond the square


@pytest.mark.parametrize(("fit", "reaches"), [("whole", False), ("fill", True)])
def test_pictures_keep_their_shape(fit, reaches):
    out = BytesIO()
    Image.new("RGB", (400, 100), "#000000").save(out, "PNG")
    page = Page(100, 100, (Picture("p", 10, 10, 80, 80, fit),))
    picture = rendered(pages_to_pdf([page], title="P", pictures={"p": out.getvalue()}), 0, 254)
    assert picture[500, 500] < 128
    assert (picture[200, 500] < 128) == reaches  # well above the middle: only when the box is filled
    assert picture[500, 50] > 128  # never outside the box


def test_a_missing_picture_is_an_empty_frame():
    page = Page(100, 100, (Picture("gone", 10, 10, 80, 80),))
    picture = rendered(pages_to_pdf([page], title="P"), 0, 254)
    assert picture[500, 500] > 200
    assert (picture[500, 90:110] < 230).any()


def test_no_page_is_said():
    with pytest.raises(BadInput, match="no page"):
        pages_to_pdf([], title="None")


def test_whole_pattern_keeps_true_scale():
    page = whole_page(pinafore(), M, title="Pinafore", width_mm=700)
    data = pages_to_pdf([page], title="Pinafore")
    size = np.array(pypdfium2.PdfDocument(data).get_page_size(0)) / 72 * 25.4
    assert size == pytest.approx([page.width_mm, page.height_mm], abs=0.001)


@pytest.mark.slow
def test_forty_pages_in_two_seconds():
    """A promise of speed, so measured; far from the limit, so that a busy machine does not fail it."""
    pieces = [at(piece, 0, 0) for piece in pinafore() for _ in range(4)]
    start = time.perf_counter()
    sheet = arrange(pieces, cell_mm=cell_of(PAPERS["a4"]))
    pages = tiled_pages(pieces, PAPERS["a4"], M, title="Many", sheet=sheet)
    data = pages_to_pdf(pages, title="Many")
    took = time.perf_counter() - start
    print(f"{len(pages)} pages, {len(data)} bytes, {took:.2f} s")
    assert len(pages) > 20
    assert took < 10.0


def test_line_widths_are_drawn_as_said():
    page = Page(100, 100, (Stroke((segment(50, 10, 50, 90),), LineStyle("wide", 2.0)),))
    row = rendered(pages_to_pdf([page], title="W"), 0, 254)[500]
    assert (row < 128).sum() / 10 == pytest.approx(2.0, abs=0.11)
