"""The reference sheet: printed markers that give a photograph its scale, a line to measure, three sentences.

Where the markers lie is settled by :mod:`eke.capture.sheet`; here they are only drawn, without a grey or a
seam, with white around each. The sheet lies across (landscape).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
import numpy.typing as npt
import shapely

from eke.capture.sheet import SheetGeometry, SheetMarker, marker_cells
from eke.errors import BadInput
from eke.paper.flow import LEADING, wrap
from eke.paper.page import LEAST_SIZE_MM, Area, Item, Page, PointsMm, Stroke, TextMetrics, Words, segment
from eke.paper.sizes import MARGIN_MM
from eke.paper.styles import CHECK, QUIET, LineStyle

BLACK: Final = "#000000"
END_TICK: Final = LineStyle("check", 0.25)
HOW: Final = (
    "Print at 100 %, with “fit to page” off. Lay the sheet flat on the paper or cloth, beside the drawing, never on it.",
    "Hold the camera level above the middle, and keep the whole sheet in the picture. Leave its margins on.",
)


def reference_sheet(geometry: SheetGeometry, metrics: TextMetrics) -> Page:
    """Return the page of a marker sheet.

    Raises
    ------
    BadInput
        When the sheet has no check line, so that nobody could tell how large it was printed.
    """
    width, height = geometry.sheet_mm
    line = geometry.check_line
    if line is None:
        raise BadInput("This sheet has no check line. Add one, so that the print can be measured.")
    items: list[Item] = [Area(marker_rings(m, geometry, height), BLACK) for m in geometry.markers]
    size = LEAST_SIZE_MM
    left = min(x for m in geometry.markers for x, _ in m.corners_mm)
    right = max(x for m in geometry.markers for x, _ in m.corners_mm)
    head = height - MARGIN_MM - size * 0.72
    items.append(Words("Eke reference sheet", left, head, size, "title"))
    items.append(Words(geometry.name, right, head, size, "strong", "end"))
    (x0, y0), (x1, y1) = line.start_mm, line.end_mm
    y0, y1 = height - y0, height - y1
    items.append(Stroke((segment(x0, y0, x1, y1),), CHECK))
    ticks = [segment(x, y - 2.6, x, y + 2.6) for x, y in ((x0, y0), (x1, y1))]
    ticks += [segment(x0 + k, y0, x0 + k, y0 + 1.2) for k in range(10, int(line.nominal_mm), 10)]
    items.append(Stroke(tuple(ticks), END_TICK))
    y = y0 - 3.0 - size
    say = f"Measure me: {line.nominal_mm:g} mm from end to end. Tell Eke what your ruler says."
    items.append(Words(say, (x0 + x1) / 2, y, size, "strong", "middle"))
    y -= size * LEADING + 0.6
    for sentence in HOW:
        for text in wrap(sentence, "sentence", size, width - 2 * MARGIN_MM - 8.0, metrics):
            items.append(Words(text, (x0 + x1) / 2, y, size, "sentence", "middle", colour=QUIET))
            y -= size * LEADING
    return Page(width, height, tuple(items), f"Reference {geometry.name}")


def marker_rings(marker: SheetMarker, geometry: SheetGeometry, height_mm: float) -> tuple[PointsMm, ...]:
    """Return the black of a marker as rings in page mm, joined so that no hairline shows between cells."""
    cells = marker_cells(geometry.dictionary, marker.number)
    corners = np.array(marker.corners_mm)  # top left, top right, bottom right, bottom left; y down
    across, down = (corners[1] - corners[0]) / cells.shape[1], (corners[3] - corners[0]) / cells.shape[0]
    rings = []
    for ring in _joined(cells):
        xy = corners[0] + ring[:, :1] * across + ring[:, 1:] * down
        rings.append(np.column_stack([xy[:, 0], height_mm - xy[:, 1]]))
    return tuple(rings)


def _joined(cells: npt.NDArray[np.bool_]) -> Sequence[PointsMm]:
    """Return the outlines of the black cells in units of cells, x right and y down."""
    rows, columns = np.nonzero(cells)
    region = shapely.union_all(shapely.box(columns, rows, columns + 1.0, rows + 1.0))
    rings: list[PointsMm] = []
    for part in shapely.get_parts(region):
        rings.append(np.asarray(part.exterior.coords)[:-1])
        rings.extend(np.asarray(hole.coords)[:-1] for hole in part.interiors)
    return rings
