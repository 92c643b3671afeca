"""The first page of a printed pattern: measure me, how to join the pages, and the map of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from eke.paper.checks import TEST_SQUARE_MM, test_square
from eke.paper.drawn import DrawnGrain, grain_items
from eke.paper.flow import BODY_MM, HEADING_MM, LEADING, TITLE_MM, shortened, stitches, wrap
from eke.paper.page import (
    LEAST_SIZE_MM,
    Area,
    Group,
    Item,
    Page,
    Stroke,
    TextMetrics,
    Words,
    moved,
    rectangle,
    segment,
)
from eke.paper.sheet import PatternSheet
from eke.paper.sizes import MARGIN_MM, Paper
from eke.paper.styles import BALANCE, CUT, FOLD, FRAME, GRAIN, NOTCH, QUIET, SEAM, TINT, WHITE, LineStyle

OUTLINE: Final = LineStyle("outline on a map", 0.25)
STEPS: Final = (
    "Print this page, and measure the square.",
    "Print the rest. Cut off the left and the upper margin along the dashed line, where there is one.",
    "Lay each page on the strip of its neighbour. The two halves of a button make a whole, and its stitches run through.",
    "Stick the rows first, then row to row.",
)


@dataclass(frozen=True, slots=True, eq=False)
class Cover:
    """What the cover shows: ``names`` are the printed pages by (row, column)."""

    title: str
    columns: int
    rows: int
    cell_mm: tuple[float, float]
    names: Mapping[tuple[int, int], str]
    sheet: PatternSheet
    notes: tuple[str, ...] = ()


def cover_page(cover: Cover, paper: Paper, metrics: TextMetrics) -> Page:
    """Return the cover."""
    left, right = MARGIN_MM + 4.0, paper.width_mm - MARGIN_MM - 4.0
    width = right - left
    items: list[Item] = []
    y = paper.height_mm - MARGIN_MM - TITLE_MM
    items.append(Words(shortened(cover.title, "title", TITLE_MM, width, metrics), left, y, TITLE_MM, "title"))
    y -= 7.0
    count = len(cover.names)
    under = f"The paper pattern at true scale: {count} page{'s' if count != 1 else ''} of {paper.name}, after this one."
    items.append(
        Words(
            shortened(under, "sentence", BODY_MM, width, metrics), left, y, BODY_MM, "sentence", colour=QUIET
        )
    )
    y -= 3.6
    items.append(stitches(left, right, y))
    y -= 4.0
    # upper part: how to join, at the left; the kinds of line, at the right
    legend_w = 62.0
    step_y = y
    for number, text in enumerate(STEPS if count > 1 else STEPS[:1], 1):
        lines = wrap(text, "sentence", BODY_MM, width - legend_w - 16.0, metrics)
        step_y -= BODY_MM
        items.append(Words(f"{number}", left + 3.0, step_y, BODY_MM, "strong", "middle"))
        for n, line in enumerate(lines):
            items.append(Words(line, left + 8.0, step_y - n * BODY_MM * LEADING, BODY_MM, "sentence"))
        step_y -= (len(lines) - 1) * BODY_MM * LEADING + BODY_MM * 0.7
    for note in cover.notes:
        for line in wrap(note, "measure", BODY_MM, width - legend_w - 8.0, metrics):
            step_y -= BODY_MM
            items.append(Words(line, left, step_y, BODY_MM, "measure", colour=QUIET))
            step_y -= BODY_MM * (LEADING - 1)
    items += _legend(right - legend_w, y)
    # lower part: the test square at the left, the page map in what is left
    low = MARGIN_MM + 4.0
    items += test_square(left, low, metrics)
    beside = width - TEST_SQUARE_MM - 8.0
    upper = min(step_y, y - 48.0) - 6.0
    above = upper - (low + TEST_SQUARE_MM) - 8.0
    ratio = (cover.columns * cover.cell_mm[0]) / (cover.rows * cover.cell_mm[1])
    room_beside = _fit(ratio, beside, upper - low - 9.0)
    room_above = _fit(ratio, width, above - 9.0)
    if room_beside >= room_above:
        box = (left + TEST_SQUARE_MM + 8.0, low, beside, upper - low)
        items += _contents(cover, (left, low + TEST_SQUARE_MM + 8.0, TEST_SQUARE_MM, above), metrics)
    else:
        box = (left, low + TEST_SQUARE_MM + 8.0, width, above)
        items += _contents(cover, (left + TEST_SQUARE_MM + 8.0, low, beside, TEST_SQUARE_MM), metrics)
    items += _map(cover, box, metrics)
    return Page(paper.width_mm, paper.height_mm, tuple(items), f"{cover.title}: start here")


def _fit(ratio: float, width: float, height: float) -> float:
    """Return the width of the largest box of ``ratio`` (width to height) in a box."""
    return max(0.0, min(width, height * ratio))


def _legend(x: float, top: float) -> list[Item]:
    """Return what the kinds of line mean."""
    items: list[Item] = []
    y = top - BODY_MM
    for style, text in (
        (CUT, "cut"),
        (SEAM, "sew"),
        (FOLD, "on the fold"),
        (BALANCE, "balance line"),
        (GRAIN, "grain"),
        (NOTCH, "notch"),
    ):
        mid = y + BODY_MM * 0.3
        if style is GRAIN:
            items += grain_items(DrawnGrain(x, mid, x + 26.0, mid), head_mm=4.5)
        elif style is NOTCH:
            items.append(Stroke((segment(x, mid - 1.5, x + 26.0, mid - 1.5),), SEAM))
            items.append(Stroke((segment(x + 13.0, mid - 3.2, x + 13.0, mid + 2.4),), NOTCH))
        else:
            items.append(Stroke((segment(x, mid, x + 26.0, mid),), style))
        items.append(Words(text, x + 30.0, y, BODY_MM, "measure"))
        y -= 7.2
    return items


def _contents(cover: Cover, box: tuple[float, float, float, float], metrics: TextMetrics) -> list[Item]:
    """Return the list of pieces in ``box``, as far as there is room; what is left out is said."""
    x, y, width, height = box
    step = BODY_MM * LEADING
    top = y + height - HEADING_MM
    rows = int((height - HEADING_MM - 2.0) / step)
    if rows < 2:
        return []
    items: list[Item] = [Words("What is on them", x, top, HEADING_MM, "title")]
    pieces = cover.sheet.pieces
    shown = pieces if len(pieces) <= rows else pieces[: rows - 1]
    indent = 2.5 + max(metrics.width_mm(piece.number, "strong", BODY_MM) for piece in pieces)
    base = top - 2.0
    for piece in shown:
        base -= step
        words = ", ".join((piece.name, *(label for label in piece.labels[-1:] if label)))
        items.append(Words(piece.number, x + indent - 2.5, base, BODY_MM, "strong", "end"))
        text = shortened(words, "measure", BODY_MM, width - indent, metrics)
        items.append(Words(text, x + indent, base, BODY_MM, "measure"))
    if len(shown) < len(pieces):
        more = f"and {len(pieces) - len(shown)} more"
        items.append(Words(more, x + indent, base - step, BODY_MM, "measure", colour=QUIET))
    return items


def _map(cover: Cover, box: tuple[float, float, float, float], metrics: TextMetrics) -> list[Item]:
    """Return the map of the pages in ``box`` (x, y, width, height), with the pieces small on it."""
    x, y, width, height = box
    head = HEADING_MM + 3.0
    sheet_w, sheet_h = cover.columns * cover.cell_mm[0], cover.rows * cover.cell_mm[1]
    scale = min(width / sheet_w, (height - head) / sheet_h)
    left, top = x, y + height - head
    items: list[Item] = [Words("Which page goes where", left, y + height - HEADING_MM, HEADING_MM, "title")]
    cell_w, cell_h = cover.cell_mm[0] * scale, cover.cell_mm[1] * scale
    frames, tints = [], []
    names: list[Item] = []
    for (row, column), name in sorted(cover.names.items()):
        cell = rectangle(left + column * cell_w, top - (row + 1) * cell_h, cell_w, cell_h)
        frames.append(cell)
        if (row + column) % 2 == 0:
            tints.append(cell)
        size = LEAST_SIZE_MM
        wide = metrics.width_mm(name, "strong", size)
        if wide < cell_w - 1.0 and cell_h > size + 1.0:
            x0, base = left + column * cell_w + 1.0, top - row * cell_h - size
            ground = TINT if (row + column) % 2 == 0 else WHITE
            names.append(Area((rectangle(x0 - 0.4, base - 0.7, wide + 0.8, size),), ground))
            names.append(Words(name, x0, base, size, "strong", colour=QUIET))
    items += [Area((cell,), TINT) for cell in tints]
    items.append(Stroke(tuple(frames), FRAME, closed=True))
    low = top - sheet_h * scale
    outlines = tuple(
        moved(ring * scale, left, low + (sheet_h - cover.sheet.height_mm) * scale)
        for piece in cover.sheet.pieces
        for ring in piece.cut[:1]
    )
    items.append(Stroke(outlines, OUTLINE, closed=True))
    items += names
    return [Group(tuple(items))]
