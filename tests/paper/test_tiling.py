import re

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from eke.errors import BadInput, BadShape
from eke.formats.faces import metrics
from eke.paper.checks import TEST_SQUARE_MM
from eke.paper.drawn import DrawnPiece, at, bounds_of
from eke.paper.page import Group, Stroke, Words, flat, rectangle, words_box
from eke.paper.sheet import GAP_MM, PatternSheet, arrange
from eke.paper.sizes import MARGIN_MM, PAPERS
from eke.paper.tiling import FOOT_MM, cell_of, column_name, tile, tiled_pages, whole_page

from .looks import check_writing, writing
from .samples import bias_strip, front, pinafore, pocket, strap, tab

M = metrics()
A4 = PAPERS["a4"]


def plain(number, ring):
    return DrawnPiece(str(number), f"Piece {number}", (np.asarray(ring, float),))


@st.composite
def shapes(draw):
    """A star about the origin: any number of corners, any size up to a big table."""
    n = draw(st.integers(3, 12))
    radius = np.array(draw(st.lists(st.floats(15, 420), min_size=n, max_size=n)))
    angle = np.linspace(0, 2 * np.pi, n, endpoint=False)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])


pieces_of = st.lists(shapes(), min_size=1, max_size=6).map(
    lambda rings: [plain(i, r) for i, r in enumerate(rings, 1)]
)
papers = st.sampled_from([PAPERS["a4"], PAPERS["letter"], PAPERS["a3"]])


@given(pieces_of, papers)
@settings(max_examples=40)
def test_every_point_of_every_piece_is_on_a_page(pieces, paper):
    cell = cell_of(paper)
    sheet = arrange(pieces, cell_mm=cell)
    tiling = tile(sheet, paper)
    lines = shapely.union_all([shapely.LinearRing(piece.cut[0]) for piece in sheet.pieces])
    cells = [shapely.box(t.x_mm, t.y_mm, t.x_mm + cell[0], t.y_mm + cell[1]) for t in tiling.tiles]
    missing = lines.difference(shapely.union_all(cells).buffer(1e-6))
    assert missing.length < 1e-3
    # and no page is printed in vain
    regions = [shapely.Polygon(piece.cut[0]) for piece in sheet.pieces]
    assert all(any(box.distance(region) < 1.0 for region in regions) for box in cells)


@given(pieces_of)
@settings(max_examples=40)
def test_pieces_lie_apart_on_the_sheet_unturned_and_unchanged(pieces):
    cell = cell_of(A4)
    sheet = arrange(pieces, cell_mm=cell)
    boxes = [piece.bounds() for piece in sheet.pieces]
    x0, y0, x1, y1 = bounds_of(sheet.pieces)
    assert x0 >= 0
    assert y0 >= 0
    assert x1 <= sheet.width_mm
    assert y1 <= sheet.height_mm
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            assert shapely.box(*a).distance(shapely.box(*b)) >= GAP_MM - 1e-6
    for before, after in zip(pieces, sheet.pieces, strict=True):
        steps = after.cut[0] - before.cut[0]
        assert steps == pytest.approx(np.broadcast_to(steps[0], steps.shape), abs=1e-9)


def test_a_small_piece_is_not_cut_by_a_join():
    sheet = arrange([pocket()] * 6, cell_mm=cell_of(A4))
    tiling = tile(sheet, A4)
    w, h = cell_of(A4)
    boxes = [shapely.box(t.x_mm, t.y_mm, t.x_mm + w, t.y_mm + h) for t in tiling.tiles]
    assert all(any(box.contains(shapely.Polygon(p.cut[0])) for box in boxes) for p in sheet.pieces)
    assert len(tiling.tiles) == 6


def test_cells_left_empty_are_not_printed():
    far = PatternSheet(900, 4 * cell_of(A4)[1], (at(pocket(), 10, 10), at(pocket(), 700, 900)))
    tiling = tile(far, A4)
    assert [t.name for t in tiling.tiles] == ["D1", "E1", "A4"]
    assert (tiling.columns, tiling.rows) == (5, 4)
    assert tiling.joins() == {((0, 3), (0, 4)): 1}


def test_columns_are_named_like_a_spreadsheet():
    assert [column_name(c) for c in (0, 25, 26, 51, 52, 701, 702)] == [
        "A",
        "Z",
        "AA",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


def buttons(page):
    """(centre, number of corners) of the whole and half buttons on a page, and the numbers beside them."""
    found = []
    for group in page.items:
        if isinstance(group, Group) and any(
            isinstance(i, Stroke) and i.style.meaning == "join mark" for i in group.items
        ):
            found += [
                (item.lines[0].mean(axis=0), len(item.lines[0]))
                for item in group.items
                if isinstance(item, Stroke) and item.closed
            ]
    return found


def test_both_pages_of_a_join_carry_the_same_buttons_in_the_same_place():
    sheet = arrange(pinafore(), cell_mm=cell_of(A4))
    tiling = tile(sheet, A4)
    pages = {p.name: p for p in tiled_pages(pinafore(), A4, M, title="Pinafore", sheet=sheet)[1:]}
    origin = np.array([MARGIN_MM, MARGIN_MM + FOOT_MM])
    where = {t.name: np.array([t.x_mm, t.y_mm]) for t in tiling.tiles}
    seen = {}
    for name, page in pages.items():
        for centre, corners in buttons(page):
            place = tuple(np.round(centre - origin + where[name], 3))
            seen.setdefault(place, []).append((name, corners))
    assert len(seen) == 2 * len(tiling.joins())
    for place, both in seen.items():
        assert len(both) == 2, place
        (one, corners), (two, same) = both
        assert corners == same
        assert one != two


def test_each_join_number_stands_on_both_its_pages_and_nowhere_else():
    tiling = tile(arrange(pinafore(), cell_mm=cell_of(A4)), A4)
    pages = tiled_pages(pinafore(), A4, M, title="Pinafore")[1:]
    names = {(t.row, t.column): t.name for t in tiling.tiles}
    for (here, there), number in tiling.joins().items():
        with_it = [
            page.name
            for page in pages
            if any(
                isinstance(i, Words) and i.text == str(number)
                for g in page.items
                if isinstance(g, Group)
                and any(isinstance(s, Stroke) and s.style.meaning == "join mark" for s in g.items)
                for i in g.items
            )
        ]
        assert sorted(with_it) == sorted([names[here], names[there]])


@pytest.mark.parametrize("paper", ["a4", "letter", "a3"])
def test_pages_have_the_paper_s_size_and_readable_writing_on_them(paper):
    pages = tiled_pages(
        pinafore(), PAPERS[paper], M, title="A pinafore with a very long name " * 5, notes=["A note. " * 20]
    )
    assert {(p.width_mm, p.height_mm) for p in pages} == {(PAPERS[paper].width_mm, PAPERS[paper].height_mm)}
    for page in pages:
        assert check_writing(page, margin_mm=9.0) > 2


def test_the_first_page_has_the_test_square_and_the_map_names_all_pages():
    cover, *pages = tiled_pages(pinafore(), A4, M, title="Pinafore")
    squares = [
        np.ptp(line, axis=0)
        for item in flat(cover.items)
        if isinstance(item, Stroke) and item.style.meaning == "check" and item.closed
        for line in item.lines
    ]
    assert squares == [pytest.approx([TEST_SQUARE_MM, TEST_SQUARE_MM])]
    texts = {w.text for w in writing(cover)}
    assert {p.name for p in pages} <= texts


def test_every_page_has_a_check_scale_of_fifty_millimetres():
    for page in tiled_pages(pinafore(), A4, M, title="Pinafore")[1:]:
        longest = max(
            (float(np.ptp(line, axis=0).max()) for i in flat(page.items) if isinstance(i, Stroke)
             and i.style.meaning == "check" for line in i.lines),
        )  # fmt: skip
        assert longest == pytest.approx(50.0)
        assert "50 mm" in [w.text for w in writing(page)]


def test_all_lines_keep_inside_what_a_printer_reaches():
    for page in tiled_pages(pinafore(), A4, M, title="Pinafore")[1:]:
        for item in page.items:
            inner = [item] if not isinstance(item, Group) else []
            for one in flat(inner):
                if isinstance(one, Stroke):
                    xy = np.vstack(one.lines)
                    assert xy.min() >= MARGIN_MM - 0.01
                    assert xy[:, 0].max() <= page.width_mm - MARGIN_MM + 0.01
            if isinstance(item, Group):
                assert item.clip is not None
                assert item.clip.min() >= MARGIN_MM - 0.01
                assert (
                    item.clip.max(axis=0)
                    <= [page.width_mm - MARGIN_MM + 0.01, page.height_mm - MARGIN_MM + 0.01]
                ).all()


def test_the_drawing_is_moved_and_never_scaled():
    sheet = PatternSheet(400, 600, (at(front(), 20, 20),))
    tiling = tile(sheet, A4)
    for one, page in zip(
        tiling.tiles, tiled_pages([front()], A4, M, title="F", sheet=sheet)[1:], strict=True
    ):
        drawing = next(g for g in page.items if isinstance(g, Group) and isinstance(g.items[0], Group))
        inner = drawing.items[0]
        assert (drawing.dx_mm, drawing.dy_mm, drawing.turn_deg, inner.turn_deg) == (0, 0, 0, 0)
        assert (inner.dx_mm, inner.dy_mm) == pytest.approx(
            (MARGIN_MM - one.x_mm, MARGIN_MM + FOOT_MM - one.y_mm)
        )


def test_more_pieces_than_the_cover_can_list_are_counted():
    many = [plain(n, rectangle(0, 0, 40, 30)) for n in range(1, 60)]
    cover = tiled_pages(many, A4, M, title="Many")[0]
    more = [w.text for w in writing(cover) if re.fullmatch(r"and \d+ more", w.text)]
    listed = sum(bool(re.fullmatch(r"Piece \d+", w.text)) for w in writing(cover))
    assert more == [f"and {59 - listed} more"]
    check_writing(cover, margin_mm=9)


def test_nothing_to_print_is_said():
    with pytest.raises(BadInput, match="no piece"):
        tiled_pages([], A4, M, title="Nothing")
    with pytest.raises(BadInput, match="no piece"):
        whole_page([], M, title="Nothing")
    with pytest.raises(BadShape, match="cutting line"):
        DrawnPiece("1", "Front", ())


@given(pieces_of, st.floats(300, 2000))
@settings(max_examples=20)
def test_the_whole_page_holds_all_pieces(pieces, width_mm):
    page = whole_page(pieces, M, title="Whole", width_mm=width_mm)
    assert page.width_mm >= width_mm
    for item in flat(page.items):
        if isinstance(item, Stroke):
            xy = np.vstack(item.lines)
            assert xy.min() >= 0
            assert xy[:, 0].max() <= page.width_mm
            assert xy[:, 1].max() <= page.height_mm


def test_a_name_beside_a_tiny_piece_is_printed_too():
    many = [tab()] * 30
    pages = tiled_pages(many, A4, M, title="Tabs")
    (page,) = pages[1:]
    drawing = next(g for g in page.items if isinstance(g, Group) and isinstance(g.items[0], Group))
    low, high = drawing.clip.min(axis=0), drawing.clip.max(axis=0)
    names = [i for i in flat((drawing,)) if isinstance(i, Words) and i.text == "5 Tab"]
    assert len(names) == 30
    for words in names:
        box = words_box(words, M)
        assert (box >= low).all()
        assert (box <= high).all()


def test_words_keep_off_the_joins():
    sheet = arrange([strap(), front(), bias_strip()], cell_mm=cell_of(A4))
    pages = tiled_pages([], A4, M, title="Words", sheet=sheet)[1:]
    where = {t.name: t for t in tile(sheet, A4).tiles}
    for name in ("Strap", "Front", "Binding", "cut 1 on the fold", "on the bias"):
        whole = 0
        for page in pages:
            one = where[page.name]
            cell = rectangle(MARGIN_MM, MARGIN_MM + FOOT_MM, *cell_of(A4))
            for words in flat(page.items):
                if isinstance(words, Words) and words.text == name:
                    whole += shapely.Polygon(cell).contains(shapely.Polygon(words_box(words, M)))
            assert one.name == page.name
        assert whole == 1, name


def test_a_roll_is_kept_short():
    pieces = [strap(), front(), strap(), pocket()]
    page = whole_page(pieces, M, title="Roll", width_mm=900)
    tallest = max(p.bounds()[3] - p.bounds()[1] for p in pieces)
    assert page.height_mm < tallest + 80


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_piece_that_just_fills_a_cell_needs_one_page(paper):
    w, h = cell_of(PAPERS[paper])
    sheet = arrange(
        [plain(1, rectangle(0, 0, w - 1.3, h - 1.3)), plain(2, rectangle(0, 0, 30, 20))], cell_mm=(w, h)
    )
    assert len(tile(sheet, PAPERS[paper]).tiles) == 2
