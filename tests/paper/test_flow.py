import pytest
from hypothesis import given
from hypothesis import strategies as st

from eke.formats.faces import metrics
from eke.paper.flow import BODY_MM, INNER_MM, Column, Flow, shortened, stitches, wrap
from eke.paper.page import Stroke, Words, flat, words_box
from eke.paper.sizes import PAPERS
from eke.paper.work_sheets import (
    CutLine,
    LedgerLine,
    Notion,
    WorkPart,
    WorkStep,
    cutting_sheet,
    ledger_sheet,
    order_sheet,
)

from .looks import check_writing, writing

M = metrics()
WORDS = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs")), max_size=120)


@given(WORDS, st.floats(12, 150))
def test_no_line_is_wider_than_it_may_be(text, width_mm):
    lines = wrap(text, "sentence", BODY_MM, width_mm, M)
    assert all(M.width_mm(line, "sentence", BODY_MM) <= width_mm + 1e-9 for line in lines)


@given(WORDS, st.floats(12, 150))
def test_wrapping_loses_nothing(text, width_mm):
    lines = wrap(text, "sentence", BODY_MM, width_mm, M)
    assert "".join(lines).replace("-", "").replace(" ", "") == "".join(text.split()).replace("-", "")


@given(WORDS, st.floats(0, 100))
def test_shortened_fits_or_is_nothing(text, width_mm):
    out = shortened(text, "measure", BODY_MM, width_mm, M)
    assert M.width_mm(out, "measure", BODY_MM) <= width_mm + 1e-9
    if out != text and out:
        assert out.endswith("…")
        assert text.startswith(out[:-1])


@given(st.floats(20, 400))
def test_stitches_begin_and_end_with_a_whole_stitch(width_mm):
    row = stitches(10, 10 + width_mm, 5)
    assert row.lines[0][0, 0] == pytest.approx(10)
    assert row.lines[-1][1, 0] == pytest.approx(10 + width_mm)
    lengths = [line[1, 0] - line[0, 0] for line in row.lines]
    assert min(lengths) == pytest.approx(max(lengths))


STEPS = tuple(
    WorkStep(f"Sew seam number {n}, right sides together, from the notch to the hem.", ("Press open.",))
    for n in range(60)
)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_a_long_order_of_work_runs_over_pages_and_loses_no_step(paper):
    pages = order_sheet(
        "Work jacket", [WorkPart("Sewing", STEPS)], PAPERS[paper], M, cautions=["Mind the iron. " * 12]
    )
    assert len(pages) > 2
    everything = [w.text for page in pages for w in writing(page)]
    assert [w for w in everything if w.isdigit()] == [str(n) for n in range(1, 61)]
    for number, page in enumerate(pages, 1):
        check_writing(page, margin_mm=10)
        assert f"{number} of {len(pages)}" in [w.text for w in writing(page)]
    boxes = sum(isinstance(i, Stroke) and i.style.meaning == "tick box" for p in pages for i in flat(p.items))
    assert boxes == 60


def test_nothing_is_written_over_the_foot():
    flow = Flow(PAPERS["a4"], "Long", M)
    for _ in range(90):
        flow.sentence(
            "A sentence that takes a line or so, and then a little more of the next one to be sure."
        )
    pages = flow.pages()
    for page in pages:
        *body, left, right = writing(page)
        foot_top = words_box(left, M)[:, 1].max()
        assert right.text.endswith(str(len(pages)))
        assert all(words_box(w, M)[:, 1].min() >= foot_top for w in body)


def test_table_headings_come_again_and_cells_stay_in_their_columns():
    flow = Flow(PAPERS["a4"], "Table", M)
    rows = [
        (str(n), "a note that is long enough to be broken into two lines or even three", "1 234.50")
        for n in range(40)
    ]
    flow.table((Column("No", 1), Column("Note", 2), Column("Sum", 1, "right")), rows)
    pages = flow.pages()
    assert len(pages) > 1
    width = (PAPERS["a4"].width_mm - 2 * INNER_MM) / 4
    for page in pages:
        check_writing(page, margin_mm=10)
        found = writing(page)
        assert "Note" in [w.text for w in found]
        for words in found:
            if words.text in ("1 234.50", "Sum"):
                box = words_box(words, M)
                assert box[:, 0].min() >= INNER_MM + 3 * width
                assert box[:, 0].max() <= INNER_MM + 4 * width


def test_cutting_sheet_groups_by_cloth_in_the_order_given():
    lines = [
        CutLine("1", "Front", "1", "Outer"),
        CutLine("1", "Front", "1", "Lining"),
        CutLine("2", "Back", "2", "Outer"),
    ]
    (page,) = cutting_sheet("Apron", lines, [Notion("Buttons", "2")], PAPERS["a4"], M)
    texts = [w.text for w in writing(page)]
    assert texts.index("Outer") < texts.index("Back") < texts.index("Lining") < texts.index("Notions")
    check_writing(page, margin_mm=10)


def test_the_sum_of_a_ledger_is_bold_and_alone():
    lines = [LedgerLine("Curtains", "two", "7.00 EUR"), LedgerLine("Spent", "", "7.00 EUR")]
    (page,) = ledger_sheet("Apron", [("Bought", lines)], PAPERS["letter"], M)
    roles = {w.text: w.role for w in writing(page) if isinstance(w, Words)}
    assert (roles["Curtains"], roles["Spent"]) == ("measure", "strong")


def test_a_cell_longer_than_a_page_goes_on_below():
    flow = Flow(PAPERS["a4"], "Long cell", M)
    flow.table(
        (Column("What", 1), Column("Note", 1)), [("Curtain", "a word " * 700), ("Last", "")], ticks=True
    )
    pages = flow.pages()
    assert len(pages) > 2
    for page in pages:
        check_writing(page, margin_mm=10)
    written = " ".join(w.text for page in pages for w in writing(page)).split()
    assert written.count("word") == 700
    boxes = [
        i for p in pages for i in flat(p.items) if isinstance(i, Stroke) and i.style.meaning == "tick box"
    ]
    assert len(boxes) == 2
