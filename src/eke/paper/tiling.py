"""A large sheet on small paper, true to scale: pages that join, a map of them, and nothing printed in vain.

Words used here:

cell
    the part of the sheet that a page shows for good. Cells lie side by side without a gap.
strip
    the paper to the right of a cell and below it, where the neighbour is stuck on. What is drawn goes on
    a few millimetres into the strip, so that lines can be seen to meet.
column, row
    columns have letters from the left, rows have numbers from the top: page B3 is second from the left in
    the third row.

The joining rule is one sentence: *cut off the left and the upper margin along the dashed line, lay the page on
the strip of its neighbour, and match the halves of the buttons.*
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil
from typing import Final

import numpy as np
import shapely
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from eke.errors import BadInput
from eke.paper.checks import CHECK_SCALE_MM, check_scale
from eke.paper.cover import Cover, cover_page
from eke.paper.drawn import DrawnPiece, piece_items, room_beside_mm
from eke.paper.flow import shortened
from eke.paper.join_marks import RADIUS_MM, button
from eke.paper.page import (
    LEAST_SIZE_MM,
    Area,
    Group,
    Item,
    Page,
    Picture,
    Stroke,
    TextMetrics,
    Words,
    flat,
    rectangle,
    segment,
    words_box,
)
from eke.paper.sheet import PatternSheet, arrange
from eke.paper.sizes import MARGIN_MM, Paper
from eke.paper.styles import GUIDE, JOIN, QUIET

STRIP_MM: Final = 10.0
"""Right strip: wide enough for a glue stick or tape."""
FOOT_MM: Final = 13.0
"""Lower strip: as the right one, with room for the page's name and check scale."""
MARKS_AT: Final = (0.22, 0.78)
"""Where the two buttons of a join lie, as shares of the cell’s side: far apart, so that they also fix the angle."""
BLEED_MM: Final = 4.0
"""How far the drawing goes on into the strip."""
TOUCH_MM: Final = 0.3
"""A line that comes this near to a page is drawn on it: half the width of the broadest line, and a little."""


@dataclass(frozen=True, slots=True)
class Tile:
    """One page of the sheet: row and column from 0 (row 0 on top), its place on the sheet, its name."""

    row: int
    column: int
    x_mm: float
    y_mm: float
    name: str


@dataclass(frozen=True, slots=True)
class Tiling:
    """Which pages a sheet needs. ``tiles`` holds only those with something on them, row by row."""

    paper: Paper
    cell_width_mm: float
    cell_height_mm: float
    rows: int
    columns: int
    tiles: tuple[Tile, ...]

    def joins(self) -> dict[tuple[tuple[int, int], tuple[int, int]], int]:
        """Return the number of each join between two printed neighbours, counted row by row from 1."""
        kept = {(t.row, t.column) for t in self.tiles}
        pairs = [
            ((row, column), other)
            for row, column in sorted(kept)
            for other in ((row, column + 1), (row + 1, column))
            if other in kept
        ]
        return {pair: number for number, pair in enumerate(pairs, 1)}


def cell_of(paper: Paper) -> tuple[float, float]:
    """Return width and height of the cell on a page of ``paper``."""
    return paper.width_mm - 2 * MARGIN_MM - STRIP_MM, paper.height_mm - 2 * MARGIN_MM - FOOT_MM


def column_name(column: int) -> str:
    """Return A … Z, AA, AB, … for columns from 0."""
    name = ""
    column += 1
    while column:
        column, digit = divmod(column - 1, 26)
        name = chr(65 + digit) + name
    return name


def tile(sheet: PatternSheet, paper: Paper) -> Tiling:
    """Return the pages that ``sheet`` needs on ``paper``; cells where nothing is drawn are left out."""
    cell_w, cell_h = cell_of(paper)
    columns = max(1, ceil(sheet.width_mm / cell_w - 1e-9))
    rows = max(1, ceil(sheet.height_mm / cell_h - 1e-9))
    top = sheet.height_mm
    ink = _ink(sheet)
    tiles = []
    for row in range(rows):
        for column in range(columns):
            x, y = column * cell_w, top - (row + 1) * cell_h
            box = shapely.box(x - TOUCH_MM, y - TOUCH_MM, x + cell_w + TOUCH_MM, y + cell_h + TOUCH_MM)
            if any(box.intersects(part) for part in ink):
                tiles.append(Tile(row, column, x, y, f"{column_name(column)}{row + 1}"))
    return Tiling(paper, cell_w, cell_h, rows, columns, tuple(tiles))


def _ink(sheet: PatternSheet) -> list[BaseGeometry]:
    """Return the regions of all pieces: a page wholly inside a piece is kept, since it holds it together."""
    parts: list[BaseGeometry] = []
    for piece in sheet.pieces:
        region = shapely.make_valid(shapely.Polygon(piece.cut[0]))
        parts.append(region)
    for part in parts:
        shapely.prepare(part)
    return parts


def _joins_region(tiling: Tiling) -> BaseGeometry:
    """Return what lies on the joins and in the corners of the page names: words keep off it if they can."""
    w, h = tiling.cell_width_mm, tiling.cell_height_mm
    parts: list[BaseGeometry] = []
    for one in tiling.tiles:
        edges = shapely.box(one.x_mm, one.y_mm, one.x_mm + w, one.y_mm + h).exterior
        parts.append(edges.buffer(2.0))
        for share in MARKS_AT:
            places = (
                (one.x_mm, one.y_mm + h * share),
                (one.x_mm + w, one.y_mm + h * share),
                (one.x_mm + w * share, one.y_mm),
                (one.x_mm + w * share, one.y_mm + h),
            )
            parts += [shapely.Point(p).buffer(RADIUS_MM + 7.0) for p in places]
    return shapely.union_all(parts)


@dataclass(frozen=True, slots=True, eq=False)
class _Thing:
    """Something drawn, and the box it lies in."""

    item: Item
    low: tuple[float, float]
    high: tuple[float, float]


def _things(items: Sequence[Item], metrics: TextMetrics) -> list[_Thing]:
    out = []
    for item in flat(items):
        match item:
            case Stroke():
                xy = np.vstack(item.lines)
                grow = item.style.width_mm / 2
            case Area():
                xy, grow = np.vstack(item.rings), 0.0
            case Words():
                xy, grow = words_box(item, metrics), 0.0
            case Picture():
                xy = rectangle(item.x_mm, item.y_mm, item.width_mm, item.height_mm)
                grow = 0.0
        low, high = xy.min(axis=0) - grow, xy.max(axis=0) + grow
        out.append(_Thing(item, (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))))
    return out


def tiled_pages(
    pieces: Sequence[DrawnPiece],
    paper: Paper,
    metrics: TextMetrics,
    *,
    title: str,
    notes: Sequence[str] = (),
    sheet: PatternSheet | None = None,
) -> tuple[Page, ...]:
    """Return a cover with test square and page map, and the pattern on pages of ``paper`` at true scale.

    Parameters
    ----------
    pieces
        What to print; arranged to need few pages, unless ``sheet`` says where they lie.
    title
        Name of the pattern, on every page.
    notes
        Sentences for the cover, such as which line was traced.

    Raises
    ------
    BadInput
        When there is no piece.
    """
    if sheet is None:
        sheet = arrange(
            pieces, cell_mm=cell_of(paper), beside_mm=[room_beside_mm(piece, metrics) for piece in pieces]
        )
    tiling = tile(sheet, paper)
    if not tiling.tiles:
        raise BadInput("There is no piece to print. Choose at least one.")
    clear = _joins_region(tiling)
    drawn = [item for piece in sheet.pieces for item in piece_items(piece, metrics, keep_clear=clear)]
    things = _things(drawn, metrics)
    joins = tiling.joins()
    cover = Cover(
        title=title,
        columns=tiling.columns,
        rows=tiling.rows,
        cell_mm=(tiling.cell_width_mm, tiling.cell_height_mm),
        names={(t.row, t.column): t.name for t in tiling.tiles},
        sheet=sheet,
        notes=tuple(notes),
    )
    pages = [cover_page(cover, paper, metrics)]
    for number, one in enumerate(tiling.tiles, 1):
        pages.append(_tile_page(one, tiling, joins, things, metrics, title, number))
    return tuple(pages)


def _tile_page(
    tile_: Tile,
    tiling: Tiling,
    joins: dict[tuple[tuple[int, int], tuple[int, int]], int],
    things: Sequence[_Thing],
    metrics: TextMetrics,
    title: str,
    number: int,
) -> Page:
    paper, w, h = tiling.paper, tiling.cell_width_mm, tiling.cell_height_mm
    left, low = MARGIN_MM, MARGIN_MM + FOOT_MM
    here = (tile_.row, tile_.column)
    around = {
        "right": joins.get((here, (here[0], here[1] + 1))),
        "below": joins.get((here, (here[0] + 1, here[1]))),
        "left": joins.get(((here[0], here[1] - 1), here)),
        "above": joins.get(((here[0] - 1, here[1]), here)),
    }
    # what is drawn: the cell, and a little of the strip
    x0, y0 = tile_.x_mm, tile_.y_mm - BLEED_MM
    x1, y1 = tile_.x_mm + w + BLEED_MM, tile_.y_mm + h
    seen = tuple(
        t.item for t in things if t.high[0] >= x0 and t.low[0] <= x1 and t.high[1] >= y0 and t.low[1] <= y1
    )
    lines = translate(_lines_of(seen), left - tile_.x_mm, low - tile_.y_mm)
    drawing = Group(
        (Group(seen, left - tile_.x_mm, low - tile_.y_mm),),
        clip=rectangle(left, low - BLEED_MM, w + BLEED_MM, h + BLEED_MM),
    )
    return Page(
        paper.width_mm,
        paper.height_mm,
        (
            *_edges(left, low, w, h, around),
            drawing,
            *_marks(left, low, w, h, around),
            *_names(left, low, w, h, tile_, tiling, around, metrics, title, number, lines),
        ),
        tile_.name,
    )


def _edges(left: float, low: float, w: float, h: float, around: dict[str, int | None]) -> tuple[Item, ...]:
    """Return the cell's edges: dashed where the page is cut, thin and plain where the neighbour will lie."""
    sides = {
        "left": segment(left, low, left, low + h),
        "above": segment(left, low + h, left + w, low + h),
        "right": segment(left + w, low, left + w, low + h),
        "below": segment(left, low, left + w, low),
    }
    cut = tuple(sides[s] for s in ("left", "above") if around[s])
    rest = tuple(sides[s] for s in sides if s not in ("left", "above") or not around[s])
    return tuple(
        item for item in (Stroke(rest, GUIDE) if rest else None, Stroke(cut, JOIN) if cut else None) if item
    )


def _marks(left: float, low: float, w: float, h: float, around: dict[str, int | None]) -> tuple[Item, ...]:
    """Return the buttons on all joins of a page: whole where the strip shows it, halves where it is cut off."""
    whole: list[Item] = []
    halves: list[Item] = []
    for side, out in (("right", whole), ("below", whole), ("left", halves), ("above", halves)):
        number = around[side]
        if number is None:
            continue
        for share in MARKS_AT:
            if side in ("right", "left"):
                out += button(number, left + (w if side == "right" else 0.0), low + h * share, across=True)
            else:
                out += button(number, left + w * share, low + (h if side == "above" else 0.0), across=False)
    # on the strip the far number is left out: the neighbour brings it
    strip = rectangle(left, low - FOOT_MM + 4.5, w + STRIP_MM, h + FOOT_MM - 4.5)
    cell = rectangle(left, low, w, h)
    groups = []
    if whole:
        kept = [i for i in whole if not (isinstance(i, Words) and (i.x_mm > left + w or i.y_mm < low))]
        groups.append(Group(tuple(kept), clip=strip))
    if halves:
        kept = [i for i in halves if not (isinstance(i, Words) and (i.x_mm < left or i.y_mm > low + h))]
        groups.append(Group(tuple(kept), clip=cell))
    return tuple(groups)


def _names(
    left: float,
    low: float,
    w: float,
    h: float,
    tile_: Tile,
    tiling: Tiling,
    around: dict[str, int | None],
    metrics: TextMetrics,
    title: str,
    number: int,
    lines: BaseGeometry,
) -> tuple[Item, ...]:
    """Return the page's name in its corner, the foot with the check scale, and who is stuck on where."""
    size = LEAST_SIZE_MM
    foot = low - FOOT_MM
    scale_x = left + w + STRIP_MM - CHECK_SCALE_MM
    base = foot + 0.6
    words = [f"{tile_.name}"]
    count = f"page {number} of {len(tiling.tiles)}"
    room = scale_x - 20.0 - left - metrics.width_mm(f"{tile_.name}  ·  {count}  ·  ", "measure", size)
    name = shortened(title, "measure", size, room, metrics)
    words.append(f"{count}  ·  {name}" if name else count)
    own = metrics.width_mm(tile_.name + "  ", "strong", size)
    items: list[Item] = [
        _corner_name(tile_, left, low, w, h, lines, metrics),
        Words(words[0], left, base, size, "strong"),
        Words(words[1], left + own, base, size, "measure", colour=QUIET),
        *check_scale(scale_x, base),
    ]
    if around["right"]:
        other = f"{column_name(tile_.column + 1)}{tile_.row + 1} goes on this strip"
        items.append(
            Words(other, left + w + STRIP_MM - 2.0, low + h / 2, size, "measure", "middle", 90.0, QUIET)
        )
    if around["below"]:
        other = f"{column_name(tile_.column)}{tile_.row + 2} goes on this strip"
        items.append(
            Words(other, left + w / 2, low - BLEED_MM - size * 0.95, size, "measure", "middle", 0.0, QUIET)
        )
    return tuple(items)


def _lines_of(items: Sequence[Item]) -> BaseGeometry:
    """Return all strokes among ``items`` as one set of lines."""
    rows = [line for item in items if isinstance(item, Stroke) for line in item.lines if len(line) > 1]
    closed = [np.vstack([r, r[:1]]) for i in items if isinstance(i, Stroke) and i.closed for r in i.lines]
    return shapely.MultiLineString([*rows, *closed])


def _corner_name(
    tile_: Tile, left: float, low: float, w: float, h: float, lines: BaseGeometry, metrics: TextMetrics
) -> Words:
    """Return the page's name at the upper left, moved along the top or down the side if a line runs there."""
    size = 7.0
    wide, high = metrics.width_mm(tile_.name, "strong", size), metrics.cap_height_mm("strong", size)
    x0, y0 = left + 2.5, low + h - 3.0 - high
    spots = [(x0 + k * 12.0, y0) for k in range(3)] + [(x0, y0 - k * 10.0) for k in range(1, 4)]
    spots += [(left + w - 2.5 - wide, y0)]
    for x, y in spots:
        if not lines.intersects(shapely.box(x - 1.0, y - 1.0, x + wide + 1.0, y + high + 1.0)):
            break
    else:
        x, y = x0, y0
    return Words(tile_.name, x, y, size, "strong", colour=QUIET)


def whole_page(
    pieces: Sequence[DrawnPiece], metrics: TextMetrics, *, title: str, width_mm: float = 900.0
) -> Page:
    """Return all pieces on one page of their own size, for a wide printer or a projector.

    ``width_mm`` is the roll's width; the page is as long as the pieces need, with a check scale below.

    Raises
    ------
    BadInput
        When there is no piece.
    """
    if not pieces:
        raise BadInput("There is no piece to print. Choose at least one.")
    widest = max(b[2] - b[0] for b in (piece.bounds() for piece in pieces))
    columns = max(1, int(max(width_mm, widest + 2 * MARGIN_MM) // 50))
    beside = [room_beside_mm(piece, metrics) for piece in pieces]
    sheet = arrange(pieces, cell_mm=(50.0, 50.0), most_columns=columns, beside_mm=beside, shortest=True)
    width = max(width_mm, sheet.width_mm)
    foot = 16.0
    items: list[Item] = [Group(tuple(i for p in sheet.pieces for i in piece_items(p, metrics)), 0.0, foot)]
    items += check_scale(MARGIN_MM + 20.0, MARGIN_MM - 4.0)
    name = shortened(title, "title", 6.0, width - CHECK_SCALE_MM - 60.0, metrics)
    items.append(Words(name, MARGIN_MM + CHECK_SCALE_MM + 28.0, MARGIN_MM - 4.0, 6.0, "title"))
    return Page(width, sheet.height_mm + foot, tuple(items), title)
