"""Reference sheet, ruler steps and journal."""

from dataclasses import replace

import cv2
import numpy as np
import pypdfium2
import pytest
import shapely

from eke.capture.sheet import own_sheet
from eke.errors import BadInput
from eke.formats.faces import metrics
from eke.formats.pdf import pages_to_pdf
from eke.paper.drawn import net_ring
from eke.paper.journal import Journal, JournalCloth, JournalPicture, journal_page
from eke.paper.page import Picture, Stroke, flat
from eke.paper.reference_sheet import reference_sheet
from eke.paper.ruler_steps import RulerChange, RulerStep, ruler_pages, sketch, step_sentence
from eke.paper.sizes import PAPERS

from .looks import check_writing, writing
from .samples import pinafore, side_front

M = metrics()
A4 = PAPERS["a4"]


def rendered(page, dpi):
    pdf = pypdfium2.PdfDocument(pages_to_pdf([page], title="Sheet"))
    return pdf[0].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()


@pytest.mark.parametrize(("paper", "number"), [("a4", 0), ("letter", 3), ("a4", 65)])
def test_markers_are_found_on_the_printed_sheet_where_they_should_be(paper, number):
    """OpenCV's detector, which we did not make, reads the page that our writer printed."""
    geometry = own_sheet(paper, number)
    dpi = 200
    picture = rendered(reference_sheet(geometry, M), dpi)
    book = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_5X5_1000)
    wanted = cv2.aruco.DetectorParameters()
    wanted.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    corners, numbers, _ = cv2.aruco.ArucoDetector(book, wanted).detectMarkers(picture)
    found = {int(n): c[0] for n, c in zip(numbers.ravel(), corners, strict=True)}
    assert set(found) == {m.number for m in geometry.markers}
    for marker in geometry.markers:
        there = (found[marker.number] + 0.5) / dpi * 25.4  # pixel centres; y down, like the geometry
        assert there == pytest.approx(np.array(marker.corners_mm), abs=0.15)


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_the_check_line_is_as_long_as_it_says(paper):
    geometry = own_sheet(paper, 1)
    dpi = 600
    picture = rendered(reference_sheet(geometry, M), dpi)
    row = round((geometry.check_line.start_mm[1] + 2.0) / 25.4 * dpi)  # below the line: only the end ticks
    dark = np.flatnonzero(picture[row] < 128)
    groups = np.split(dark, np.flatnonzero(np.diff(dark) > 3) + 1)
    assert len(groups) == 2
    length = (groups[1].mean() - groups[0].mean()) / dpi * 25.4
    assert length == pytest.approx(geometry.check_line.nominal_mm, abs=0.1)


def test_the_sheet_says_its_number_and_what_to_measure():
    page = reference_sheet(own_sheet("letter", 7), M)
    texts = [w.text for w in writing(page)]
    assert "sheet 7" in texts
    assert any("240 mm" in text for text in texts)
    check_writing(page, margin_mm=9)


def test_a_sheet_that_nobody_could_check_is_not_printed():
    with pytest.raises(BadInput, match="check line"):
        reference_sheet(replace(own_sheet(), check_line=None), M)


def change():
    piece = side_front()
    old = piece.edges[1].points
    new = np.array([[170, 0], [122, 420], [135, 520.0]])
    steps = (
        RulerStep("at the armhole", 0, 0, 135, 520),
        RulerStep("100 mm down", 100, 8, 130, 420),
        RulerStep("at the hem", 522, 0, 170, 0),
    )
    return RulerChange("Side front", "side seam", "the armhole", net_ring(piece), old, new, steps)


@pytest.mark.parametrize(
    ("inwards_mm", "unit", "text"),
    [
        (8.0, "mm", "60 mm down: 8 mm in"),
        (-6.35, "inch", "60 mm down: 1/4 in out"),
        (0.01, "mm", "60 mm down: 0"),
    ],
)
def test_a_step_is_said_as_a_maker_says_it(inwards_mm, unit, text):
    assert step_sentence(RulerStep("60 mm down", 60, inwards_mm, 0, 0), unit) == text


def test_ruler_steps_are_all_written_with_a_number_in_the_sketch():
    (page,) = ruler_pages("Take in", "Too wide.", [change()], A4, M, after=["Measure again."])
    texts = [w.text for w in writing(page)]
    for number, step in enumerate(change().steps, 1):
        assert step_sentence(step) in texts
        assert texts.count(str(number)) >= 2
    check_writing(page, margin_mm=10)


def test_many_changes_run_over_pages():
    pages = ruler_pages("Take in", "", [change()] * 7, A4, M)
    assert len(pages) >= 3
    for page in pages:
        check_writing(page, margin_mm=10)


def test_the_sketch_shows_the_change_on_its_own_side():
    items = [i for i in sketch(change(), 74, 82) if isinstance(i, Stroke)]
    (old,) = next(i for i in items if i.style.meaning == "old edge").lines
    (new,) = next(i for i in items if i.style.meaning == "new edge").lines
    apart = [shapely.LineString(old).distance(shapely.Point(p)) for p in new]
    # the largest change stands out by about the same on every sketch, and the ends stay where they are
    assert 4.0 < max(apart) < 9.0
    assert apart[0] == pytest.approx(0, abs=1e-6)
    assert apart[-1] == pytest.approx(0, abs=1e-6)
    assert new[len(new) // 4 : -len(new) // 8, 0].mean() < old[:, 0].mean()


def journal(n=3):
    return Journal(
        "Pinafore",
        "Copied from a worn-out favourite.",
        tuple(JournalPicture(f"p{k}", f"Picture {k}") for k in range(n)),
        pinafore(),
        tuple(f"Change number {k}: took in the side seam by 8 mm at the waist." for k in range(1, n + 1)),
        tuple(JournalCloth(f"Curtain {k}", "second-hand", "half", "3.50 EUR") for k in range(n)),
        (("Cloth", "7.00 EUR"), ("In all", "7.00 EUR")),
        ("Offcut 1: 420 × 610 mm",),
        ("A note.",),
    )


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("n", [0, 1, 3, 40])
def test_the_journal_is_one_page_whatever_is_in_it(paper, n):
    page = journal_page(journal(n), PAPERS[paper], M)
    check_writing(page, margin_mm=9)
    texts = " ".join(w.text for w in writing(page))
    if n == 40:
        assert "more" in texts
    else:
        assert "In all" in texts
    for item in flat(page.items):
        if isinstance(item, Picture):
            assert item.x_mm >= 10
            assert item.x_mm + item.width_mm <= page.width_mm - 10


def test_a_journal_of_many_pieces_keeps_them_on_the_page():
    many = [replace(piece, number=str(n)) for n, piece in enumerate(pinafore() * 12, 1)]
    page = journal_page(replace(journal(), pieces=tuple(many)), A4, M)
    check_writing(page, margin_mm=9)
    for item in flat(page.items):
        if isinstance(item, Stroke) and item.style.meaning == "cut":
            xy = np.vstack(item.lines)
            assert xy[:, 0].min() >= 10
            assert xy[:, 0].max() <= page.width_mm - 10
