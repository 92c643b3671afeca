"""Printed marker sheets as data: where each marker lies on the paper, and the check line beside them.

A *check line* is a printed line whose nominal length is known: what the maker reads on it with a ruler tells
how large the printer really printed. Sheet coordinates are those of the paper as it is read: origin at its
top-left corner, x right, **y down**, millimetres; this is the form of the geometry files that makers share.

Markers are the square black-bordered codes of OpenCV's ``aruco`` dictionaries, which are printed by many
programs; which dictionary and which numbers a sheet uses is part of its geometry.

References
----------
ISO 216: A4 is 210 x 297 mm. ASME Y14.1 size A (Letter): 8.5 x 11 in = 215.9 x 279.4 mm.
S. Garrido-Jurado et al., "Automatic generation and detection of highly reliable fiducial markers under
occlusion", Pattern Recognition 47 (2014).
"""

from __future__ import annotations

import importlib
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from eke.errors import BadInput

__all__ = [
    "OWN_DICTIONARY",
    "OWN_SHEETS",
    "CheckLine",
    "SheetGeometry",
    "SheetMarker",
    "marker_cells",
    "own_sheet",
    "own_sheet_number",
    "parse_sheet_geometry",
]

OWN_DICTIONARY = "DICT_5X5_1000"
OWN_COLUMNS, OWN_ROWS = 5, 3
OWN_MARKER_MM = 38.0
OWN_PITCH_MM = 52.0  # 14 mm of white between markers: more than two cells, so each is found alone
OWN_TOP_MM = 18.0
OWN_CHECK_LINE_MM = 240.0
OWN_CHECK_LINE_BELOW_MM = 14.0  # under the last row: 28 mm and more from the paper's edge
OWN_SHEETS = 1000 // (OWN_COLUMNS * OWN_ROWS)
"""How many sheets can lie in one picture and still be told apart: numbers 0 to 65."""

PAPER_MM: Mapping[str, tuple[float, float]] = {"a4": (297.0, 210.0), "letter": (279.4, 215.9)}
"""Own sheets are printed across (landscape): width, height."""

MAX_MARKERS = 1000
SQUARE_TOLERANCE = 0.02  # a marker drawn further off square than this is a typing error, not a layout


@dataclass(frozen=True, slots=True)
class SheetMarker:
    """One marker: its number in the dictionary and its four corners on the sheet.

    ``corners_mm`` in the order top-left, top-right, bottom-right, bottom-left of the marker's own picture.
    """

    number: int
    corners_mm: tuple[tuple[float, float], ...]

    @property
    def side_mm(self) -> float:
        """Mean length of its four sides."""
        c = np.asarray(self.corners_mm)
        return float(np.mean(np.hypot(*(np.roll(c, -1, axis=0) - c).T)))


@dataclass(frozen=True, slots=True)
class CheckLine:
    """The printed line that the maker measures; ends on the sheet and nominal length."""

    start_mm: tuple[float, float]
    end_mm: tuple[float, float]
    nominal_mm: float


@dataclass(frozen=True, slots=True)
class SheetGeometry:
    """A printed sheet of markers; see the module's words for the frame."""

    dictionary: str
    sheet_mm: tuple[float, float]
    markers: tuple[SheetMarker, ...]
    check_line: CheckLine | None
    name: str = "sheet"

    @property
    def cells_across(self) -> int:
        """Cells along a marker's side, its black border included."""
        return _dictionary_bits(self.dictionary) + 2


def _dictionary_bits(dictionary: str) -> int:
    """Inner cells along a side, read from the name ``DICT_4X4_50``; the other families by name."""
    if dictionary == "DICT_ARUCO_ORIGINAL":
        return 5
    part = dictionary.removeprefix("DICT_").split("X", 1)[0]
    if part.isdigit():
        return int(part)
    april = {
        "DICT_APRILTAG_16h5": 4,
        "DICT_APRILTAG_25h9": 5,
        "DICT_APRILTAG_36h10": 6,
        "DICT_APRILTAG_36h11": 6,
    }
    bits = {k.lower(): v for k, v in april.items()}.get(dictionary.lower())
    if bits is None:
        raise BadInput(f"The marker dictionary {dictionary!r} is not known.", dictionary=dictionary)
    return bits


def own_sheet(paper: Literal["a4", "letter"] = "a4", number: int = 0) -> SheetGeometry:
    """Eke's own sheet: 15 markers of 38 mm and a check line of 240 mm, on A4 or Letter laid across.

    The distances between the markers do not depend on the paper, so a picture need not tell the two apart.
    ``number`` (0 to 65) gives every sheet markers of its own, so that many can lie in one picture.
    """
    if paper not in PAPER_MM:
        raise BadInput(f"There is no reference sheet for {paper!r} paper: a4 or letter.", paper=paper)
    if not 0 <= number < OWN_SHEETS:
        raise BadInput(f"Reference sheets are numbered 0 to {OWN_SHEETS - 1}, not {number}.", number=number)
    width, height = PAPER_MM[paper]
    across = (OWN_COLUMNS - 1) * OWN_PITCH_MM + OWN_MARKER_MM
    left = (width - across) / 2.0
    markers = []
    for row in range(OWN_ROWS):
        for column in range(OWN_COLUMNS):
            x, y = left + column * OWN_PITCH_MM, OWN_TOP_MM + row * OWN_PITCH_MM
            s = OWN_MARKER_MM
            corners = ((x, y), (x + s, y), (x + s, y + s), (x, y + s))
            markers.append(SheetMarker(number * OWN_COLUMNS * OWN_ROWS + row * OWN_COLUMNS + column, corners))
    line_y = OWN_TOP_MM + (OWN_ROWS - 1) * OWN_PITCH_MM + OWN_MARKER_MM + OWN_CHECK_LINE_BELOW_MM
    start = (width - OWN_CHECK_LINE_MM) / 2.0
    check = CheckLine((start, line_y), (start + OWN_CHECK_LINE_MM, line_y), OWN_CHECK_LINE_MM)
    return SheetGeometry(OWN_DICTIONARY, (width, height), tuple(markers), check, f"sheet {number}")


def own_sheet_number(marker: int) -> int | None:
    """Number of the own sheet that carries a marker of :data:`OWN_DICTIONARY`, or None."""
    number = marker // (OWN_COLUMNS * OWN_ROWS)
    return number if 0 <= number < OWN_SHEETS else None


def _point(value: Any, what: str) -> tuple[float, float]:
    try:
        x, y = (float(v) for v in value)
    except (TypeError, ValueError):
        raise BadInput(
            f"The sheet geometry gives {what} as {value!r}; two numbers in mm are needed."
        ) from None
    if not (math.isfinite(x) and math.isfinite(y)):
        raise BadInput(f"The sheet geometry gives {what} as {value!r}; two numbers in mm are needed.")
    return x, y


def parse_sheet_geometry(entry: Mapping[str, Any], *, name: str = "sheet") -> SheetGeometry:
    """Sheet from one entry of a geometry file: dictionary, markers with corners in mm, check line.

    Any layout and any dictionary of OpenCV is taken. Raises BadInput with the sentence for the maker.
    """
    if not isinstance(entry, Mapping) or "markers" not in entry:
        inner = [k for k, v in entry.items() if isinstance(v, Mapping) and "markers" in v] if entry else []
        hint = f" It holds several sheets ({', '.join(inner)}): give one of them." if inner else ""
        raise BadInput(f"This is not the geometry of a marker sheet: it has no list of markers.{hint}")
    dictionary = str(entry.get("dictionary", ""))
    _dictionary_bits(dictionary)
    raw = entry["markers"]
    if not isinstance(raw, list) or not 0 < len(raw) <= MAX_MARKERS:
        raise BadInput("The sheet geometry needs a list of one or more markers.")
    markers = []
    for item in raw:
        try:
            number, corners = int(item["id"]), item["corners_mm"]
        except (TypeError, KeyError, ValueError):
            raise BadInput("Each marker of a sheet geometry needs an id and its corners_mm.") from None
        points = tuple(_point(c, f"a corner of marker {number}") for c in corners)
        if len(points) != 4:
            raise BadInput(
                f"Marker {number} of the sheet geometry has {len(points)} corners instead of four."
            )
        marker = SheetMarker(number, points)
        c = np.asarray(points)
        sides = np.hypot(*(np.roll(c, -1, axis=0) - c).T)
        diagonals = np.array([np.hypot(*(c[2] - c[0])), np.hypot(*(c[3] - c[1]))])
        off = max(np.ptp(sides), np.ptp(diagonals)) / max(marker.side_mm, 1e-9)
        if marker.side_mm < 1.0 or off > SQUARE_TOLERANCE:
            raise BadInput(f"Marker {number} of the sheet geometry is not a square.")
        markers.append(marker)
    if len({m.number for m in markers}) != len(markers):
        raise BadInput("The sheet geometry names one marker twice.")
    corners_all = np.array([c for m in markers for c in m.corners_mm])
    if "sheet_mm" in entry:
        sheet_mm = _point(entry["sheet_mm"], "the size of the paper")
    else:
        sheet_mm = (float(corners_all[:, 0].max()), float(corners_all[:, 1].max()))
    check = entry.get("check_line_mm")
    line = None
    if isinstance(check, Mapping) and "p0" in check and "p1" in check:
        start, end = _point(check["p0"], "the check line"), _point(check["p1"], "the check line")
        nominal = float(check.get("nominal", math.dist(start, end)))
        if not nominal > 0.0:
            raise BadInput("The check line of the sheet geometry has no length.")
        line = CheckLine(start, end, nominal)
    return SheetGeometry(dictionary, sheet_mm, tuple(markers), line, name)


@cache
def sheet_json(geometry: SheetGeometry) -> dict[str, Any]:
    """Return a sheet's geometry as plain values that :func:`parse_sheet_geometry` reads."""
    line = geometry.check_line
    checked = (
        {}
        if line is None
        else {
            "check_line_mm": {"p0": list(line.start_mm), "p1": list(line.end_mm), "nominal": line.nominal_mm}
        }
    )
    return {
        "format": "eke-sheet-1",
        "dictionary": geometry.dictionary,
        "sheet_mm": list(geometry.sheet_mm),
        "origin": "sheet top-left, x right, y down",
        **checked,
        "markers": [
            {"id": m.number, "corners_mm": [list(p) for p in m.corners_mm], "side_mm": m.side_mm}
            for m in geometry.markers
        ],
    }


def marker_cells(dictionary: str, number: int) -> NDArray[np.bool_]:
    """Cells of a marker, border included: True is black, row 0 is the top. For drawing it as squares."""
    # looked up by name only when somebody draws a sheet: the pages of eke.paper need no picture library
    cv2: Any = importlib.import_module("cv2")
    constant = next(
        (n for n in dir(cv2.aruco) if n.lower() == dictionary.lower() and n.startswith("DICT_")), None
    )
    if constant is None:
        raise BadInput(f"The marker dictionary {dictionary!r} is not known.", dictionary=dictionary)
    book = cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, constant))
    if not 0 <= number < book.bytesList.shape[0]:
        raise BadInput(f"{dictionary} has no marker {number}.", dictionary=dictionary, number=number)
    cells = np.asarray(cv2.aruco.generateImageMarker(book, number, book.markerSize + 2, borderBits=1)) < 128
    cells.setflags(write=False)
    return cells
