import cv2
import numpy as np
import pytest

from eke.capture.sheet import (
    OWN_DICTIONARY,
    OWN_SHEETS,
    marker_cells,
    own_sheet,
    own_sheet_number,
    parse_sheet_geometry,
)
from eke.errors import BadInput

# ISO 216 (A4) and ASME Y14.1 (size A), both laid across
PAPERS = {"a4": (297.0, 210.0), "letter": (11 * 25.4, 8.5 * 25.4)}


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_own_sheet_fits_its_paper_with_margins_of_ten_millimetres(paper):
    sheet = own_sheet(paper)
    assert sheet.sheet_mm == pytest.approx(PAPERS[paper])
    corners = np.array([c for m in sheet.markers for c in m.corners_mm])
    assert corners.min() >= 10.0
    assert np.all(corners.max(axis=0) <= np.array(PAPERS[paper]) - 10.0)
    line = sheet.check_line
    assert line.nominal_mm == pytest.approx(np.hypot(*np.subtract(line.end_mm, line.start_mm)))
    for end in (line.start_mm, line.end_mm):
        assert 15.0 <= end[0] <= PAPERS[paper][0] - 15.0
        assert 15.0 <= end[1] <= PAPERS[paper][1] - 15.0
    assert line.start_mm[1] > corners[:, 1].max() + 5.0, "the check line keeps clear of the markers"


def test_sheets_of_all_numbers_share_no_marker():
    seen = [m.number for n in range(OWN_SHEETS) for m in own_sheet("a4", n).markers]
    assert len(seen) == len(set(seen))
    assert max(seen) < 1000
    for n in (0, 7, OWN_SHEETS - 1):
        assert {own_sheet_number(m.number) for m in own_sheet("letter", n).markers} == {n}


def test_a4_and_letter_sheets_have_the_same_distances():
    a, b = own_sheet("a4", 3), own_sheet("letter", 3)
    shift = np.subtract(b.markers[0].corners_mm[0], a.markers[0].corners_mm[0])
    for m, n in zip(a.markers, b.markers, strict=True):
        assert np.asarray(n.corners_mm) - np.asarray(m.corners_mm) == pytest.approx(np.tile(shift, (4, 1)))


def test_cells_drawn_as_squares_are_read_by_opencvs_own_detector():
    sheet = own_sheet("a4", 5)
    page = np.full((2100, 2970), 255, np.uint8)
    for marker in sheet.markers:
        cells = marker_cells(sheet.dictionary, marker.number)
        (x, y), side = marker.corners_mm[0], marker.side_mm / len(cells)
        for row, column in np.argwhere(cells):
            left, top = (x + column * side) * 10, (y + row * side) * 10
            page[round(top) : round(top + side * 10), round(left) : round(left + side * 10)] = 0
    detector = cv2.aruco.ArucoDetector(cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, OWN_DICTIONARY)))
    corners, numbers, _ = detector.detectMarkers(page)
    seen = {int(n): c.reshape(4, 2) for n, c in zip(numbers.ravel(), corners, strict=True)}
    assert set(seen) == {m.number for m in sheet.markers}
    for marker in sheet.markers:
        assert seen[marker.number] == pytest.approx(np.asarray(marker.corners_mm) * 10 - 0.5, abs=1.5)


def test_any_layout_and_dictionary_is_taken():
    entry = {
        "dictionary": "DICT_6X6_250",
        "markers": [{"id": 7, "corners_mm": [[0, 0], [30, 0], [30, 30], [0, 30]]}],
        "check_line_mm": {"p0": [0, 40], "p1": [100, 40], "nominal": 100.0},
    }
    sheet = parse_sheet_geometry(entry)
    assert sheet.cells_across == 8
    assert sheet.markers[0].side_mm == pytest.approx(30.0)
    assert sheet.check_line.nominal_mm == 100.0


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({}, "no list of markers"),
        ({"grid": {"markers": []}}, "several sheets"),
        ({"dictionary": "DICT_9X9", "markers": 3}, "list of one or more"),
        ({"dictionary": "nonsense", "markers": [1]}, "not known"),
        ({"dictionary": "DICT_4X4_50", "markers": [{"id": 1, "corners_mm": [[0, 0]]}]}, "1 corners"),
        (
            {
                "dictionary": "DICT_4X4_50",
                "markers": [{"id": 1, "corners_mm": [[0, 0], [9, 0], [9, 4], [0, 4]]}],
            },
            "not a square",
        ),
        (
            {
                "dictionary": "DICT_4X4_50",
                "markers": [{"id": 1, "corners_mm": [[0, 0], ["x", 0], [9, 4], [0, 4]]}],
            },
            "two numbers",
        ),
    ],
)
def test_a_wrong_geometry_says_what_is_wrong(entry, words):
    with pytest.raises(BadInput, match=words):
        parse_sheet_geometry(entry)


def test_there_is_no_sheet_of_other_papers_or_numbers():
    with pytest.raises(BadInput, match="numbered 0 to 65"):
        own_sheet("a4", OWN_SHEETS)
    with pytest.raises(BadInput, match="a4 or letter"):
        own_sheet("a5")
