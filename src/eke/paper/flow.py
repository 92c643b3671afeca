"""Writing that flows: lines broken to a width, headings, tables, tick lists, over as many pages as it takes.

A :class:`Flow` is a pen that moves down the page. Whoever lays out a document asks it to write the next thing;
it starts a new page when there is no room left, repeats the running title there, and numbers the pages at the
end.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, Literal

from eke.paper.page import (
    LEAST_SIZE_MM,
    Area,
    Group,
    Item,
    Page,
    Role,
    Stroke,
    TextMetrics,
    Words,
    rectangle,
    segment,
)
from eke.paper.sizes import MARGIN_MM, Paper
from eke.paper.styles import BOX, GUIDE, INK, QUIET, STITCHES, TINT

TITLE_MM: Final = 8.4
HEADING_MM: Final = 5.6
BODY_MM: Final = LEAST_SIZE_MM
LEADING: Final = 1.36
"""Line distance as a multiple of the size: room for accents, calm to read."""
INNER_MM: Final = 15.0
"""White around the writing: more than the printer needs, so that a page can be held and filed."""


TICK_INSET_MM: Final = 8.0


def wrap(text: str, role: Role, size_mm: float, width_mm: float, metrics: TextMetrics) -> list[str]:
    """Return ``text`` broken into lines no wider than ``width_mm``; a word that is too long is divided."""
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split():
            longer = f"{line} {word}" if line else word
            if metrics.width_mm(longer, role, size_mm) <= width_mm:
                line = longer
                continue
            if line:
                lines.append(line)
            line = word
            while metrics.width_mm(line, role, size_mm) > width_mm and len(line) > 1:
                keep = len(line) - 1
                while keep > 1 and metrics.width_mm(line[:keep] + "-", role, size_mm) > width_mm:
                    keep -= 1
                lines.append(line[:keep] + "-")
                line = line[keep:]
        lines.append(line)
    return lines


def shortened(text: str, role: Role, size_mm: float, width_mm: float, metrics: TextMetrics) -> str:
    """Return ``text``, ended with “…” where it would be wider than ``width_mm``."""
    if metrics.width_mm(text, role, size_mm) <= width_mm:
        return text
    keep = len(text)
    while keep > 0 and metrics.width_mm(text[:keep].rstrip() + "…", role, size_mm) > width_mm:
        keep -= 1
    return text[:keep].rstrip() + "…" if keep else ""


def stitches(x0_mm: float, x1_mm: float, y_mm: float) -> Stroke:
    """Return a row of running stitches, the rule beneath a title; it begins and ends with a whole stitch."""
    stitch, gap = STITCHES.dash_mm
    count = max(1, round((x1_mm - x0_mm + gap) / (stitch + gap)))
    step = (x1_mm - x0_mm + gap) / count
    style = replace(STITCHES, dash_mm=())
    return Stroke(
        tuple(segment(x0_mm + i * step, y_mm, x0_mm + i * step + step - gap, y_mm) for i in range(count)),
        style,
    )


def tick_box(x_mm: float, y_mm: float, size_mm: float = 4.0) -> Stroke:
    """Return an empty box to tick, standing on (x, y)."""
    return Stroke((rectangle(x_mm, y_mm, size_mm, size_mm),), BOX, closed=True)


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table: heading, share of the width, and how figures sit."""

    heading: str
    share: float
    align: Literal["left", "right"] = "left"
    role: Role = "measure"


class Flow:
    """A pen that moves down pages of one paper.

    Attributes
    ----------
    y_mm
        Where the next thing starts, in page mm (y up).
    x_mm, width_mm
        The column of writing.
    """

    def __init__(self, paper: Paper, title: str, metrics: TextMetrics, *, under: str = "") -> None:
        self.paper = paper
        self.metrics = metrics
        self.title = title
        self.x_mm = INNER_MM
        self.width_mm = paper.width_mm - 2 * INNER_MM
        self.floor_mm = MARGIN_MM + 10.0
        self._done: list[tuple[Item, ...]] = []
        self._items: list[Item] = []
        self.y_mm = 0.0
        self._head(title, under, TITLE_MM)

    def _head(self, title: str, under: str, size_mm: float) -> None:
        self.y_mm = self.paper.height_mm - INNER_MM
        for line in wrap(title, "title", size_mm, self.width_mm, self.metrics):
            self.y_mm -= size_mm
            self.add(Words(line, self.x_mm, self.y_mm, size_mm, "title"))
            self.y_mm -= size_mm * (LEADING - 1)
        if under:
            for line in wrap(under, "sentence", BODY_MM, self.width_mm, self.metrics):
                self.y_mm -= BODY_MM
                self.add(Words(line, self.x_mm, self.y_mm, BODY_MM, "sentence", colour=QUIET))
                self.y_mm -= BODY_MM * (LEADING - 1)
        self.y_mm -= 1.0
        self.add(stitches(self.x_mm, self.x_mm + self.width_mm, self.y_mm))
        self.y_mm -= 6.0

    def add(self, *items: Item) -> None:
        """Put things on the current page as they are."""
        self._items.extend(items)

    def gap(self, mm: float) -> None:
        """Leave some white."""
        self.y_mm -= mm

    def need(self, height_mm: float) -> None:
        """Start a new page unless ``height_mm`` is left on this one."""
        if self.y_mm - height_mm < self.floor_mm:
            self.turn()

    @property
    def left_mm(self) -> float:
        """How much height is left on the page."""
        return self.y_mm - self.floor_mm

    def turn(self) -> None:
        """Start a new page, with the title in small at its head."""
        self._done.append(tuple(self._items))
        self._items = []
        self._head(self.title, "", HEADING_MM)

    def heading(self, text: str, *, keep_mm: float = 12.0) -> None:
        """Write a heading; it stays together with ``keep_mm`` of what follows."""
        lines = wrap(text, "title", HEADING_MM, self.width_mm, self.metrics)
        self.need(len(lines) * HEADING_MM * LEADING + 3.0 + keep_mm)
        self.gap(3.0)
        for line in lines:
            self.y_mm -= HEADING_MM
            self.add(Words(line, self.x_mm, self.y_mm, HEADING_MM, "title"))
            self.y_mm -= HEADING_MM * (LEADING - 1)
        self.gap(1.4)

    def sentence(
        self,
        text: str,
        *,
        role: Role = "sentence",
        size_mm: float = BODY_MM,
        colour: str = INK,
        indent_mm: float = 0.0,
    ) -> None:
        """Write a paragraph."""
        for line in wrap(text, role, size_mm, self.width_mm - indent_mm, self.metrics):
            self.need(size_mm * LEADING)
            self.y_mm -= size_mm
            self.add(Words(line, self.x_mm + indent_mm, self.y_mm, size_mm, role, colour=colour))
            self.y_mm -= size_mm * (LEADING - 1)
        self.gap(1.2)

    def tick(self, number: str, text: str, notes: Sequence[str] = ()) -> None:
        """Write a step with a box to tick, its number, its text, and quiet notes beneath."""
        indent = 17.0
        lines = wrap(text, "sentence", BODY_MM, self.width_mm - indent, self.metrics)
        below = [
            ln for n in notes for ln in wrap(n, "measure", BODY_MM, self.width_mm - indent, self.metrics)
        ]
        step = BODY_MM * LEADING
        self.need(min((len(lines) + len(below)) * step + 2.0, self.paper.height_mm / 2))
        first = True
        for line, role, colour in [(ln, "sentence", INK) for ln in lines] + [
            (ln, "measure", QUIET) for ln in below
        ]:
            self.need(step)
            self.y_mm -= BODY_MM
            if first:
                self.add(tick_box(self.x_mm, self.y_mm - 0.6))
                self.add(Words(number, self.x_mm + indent - 2.5, self.y_mm, BODY_MM, "strong", "end"))
                first = False
            self.add(Words(line, self.x_mm + indent, self.y_mm, BODY_MM, role, colour=colour))  # type: ignore[arg-type]
            self.y_mm -= BODY_MM * (LEADING - 1)
        self.gap(2.2)

    def caution(self, text: str) -> None:
        """Write a caution: a bar at the left, so that it is seen without colour."""
        lines = wrap(text, "sentence", BODY_MM, self.width_mm - 7.0, self.metrics)
        height = len(lines) * BODY_MM * LEADING
        self.need(min(height + 3.0, self.paper.height_mm / 2))
        top = self.y_mm
        for line in lines:
            if self.y_mm - BODY_MM * LEADING < self.floor_mm:
                self._bar(top)
                self.turn()
                top = self.y_mm
            self.y_mm -= BODY_MM
            self.add(Words(line, self.x_mm + 7.0, self.y_mm, BODY_MM, "sentence"))
            self.y_mm -= BODY_MM * (LEADING - 1)
        self._bar(top)
        self.gap(3.0)

    def _bar(self, top_mm: float) -> None:
        low = self.y_mm + BODY_MM * (LEADING - 1) - 1.2
        self.add(Area((rectangle(self.x_mm + 1.5, low, 1.6, top_mm - low),), INK))

    def table(
        self,
        columns: Sequence[Column],
        rows: Sequence[Sequence[str]],
        *,
        total_last: bool = False,
        ticks: bool = False,
    ) -> None:
        """Write a table: a hairline between rows, cells wrapped, headings repeated on new pages.

        ``total_last``: the last row is a sum. ``ticks``: a box to tick before every row.
        """
        total = sum(c.share for c in columns)
        pad = 3.0
        inset = TICK_INSET_MM if ticks else 0.0
        widths = [(self.width_mm - inset) * c.share / total for c in columns]
        step = BODY_MM * LEADING
        self._table_head(columns, widths, pad, inset)
        most = int((self.paper.height_mm / 2) / step)
        for number, row in enumerate(rows):
            strong = total_last and number == len(rows) - 1
            whole = [
                wrap(text, "strong" if strong else column.role, BODY_MM, width - pad, self.metrics)
                for text, column, width in zip(row, columns, widths, strict=True)
            ]
            # a cell longer than half a page goes on in a row below
            for start in range(0, max(len(cell) for cell in whole), most):
                cells = [cell[start : start + most] for cell in whole]
                self._row(cells, columns, widths, pad, inset, strong=strong, tick=ticks and start == 0)
        self.gap(3.0)

    def _row(
        self,
        cells: Sequence[Sequence[str]],
        columns: Sequence[Column],
        widths: Sequence[float],
        pad: float,
        inset: float,
        *,
        strong: bool,
        tick: bool,
    ) -> None:
        step = BODY_MM * LEADING
        height = max(len(cell) for cell in cells) * step + 2.4
        if self.y_mm - height < self.floor_mm:
            self.turn()
            self._table_head(columns, widths, pad, inset)
        self.y_mm -= 1.0
        if tick:
            self.add(tick_box(self.x_mm, self.y_mm - BODY_MM - 0.6))
        x = self.x_mm + inset
        for cell, column, width in zip(cells, columns, widths, strict=True):
            role: Role = "strong" if strong else column.role
            for n, line in enumerate(cell):
                y = self.y_mm - BODY_MM - n * step
                if column.align == "right":
                    self.add(Words(line, x + width - pad, y, BODY_MM, role, "end"))
                else:
                    self.add(Words(line, x, y, BODY_MM, role))
            x += width
        self.y_mm -= height - 1.0
        self.add(Stroke((segment(self.x_mm, self.y_mm, self.x_mm + self.width_mm, self.y_mm),), GUIDE))

    def _table_head(
        self, columns: Sequence[Column], widths: Sequence[float], pad: float, inset: float
    ) -> None:
        heads = [
            wrap(c.heading, "strong", BODY_MM, w - pad, self.metrics) if c.heading else []
            for c, w in zip(columns, widths, strict=True)
        ]
        deepest = max(len(h) for h in heads)
        if not deepest:
            return
        height = deepest * BODY_MM * LEADING + 2.4
        self.need(height + 2.5 * BODY_MM * LEADING)
        self.add(Area((rectangle(self.x_mm - 1.5, self.y_mm - height, self.width_mm + 3.0, height),), TINT))
        x = self.x_mm + inset
        for head, column, width in zip(heads, columns, widths, strict=True):
            for n, line in enumerate(head):
                y = self.y_mm - 1.2 - BODY_MM - n * BODY_MM * LEADING
                if column.align == "right":
                    self.add(Words(line, x + width - pad, y, BODY_MM, "strong", "end"))
                else:
                    self.add(Words(line, x, y, BODY_MM, "strong"))
            x += width
        self.y_mm -= height

    def drawing(self, group: Group, height_mm: float) -> None:
        """Put a drawing ``height_mm`` high (its origin at lower left) at the pen, and move below it."""
        self.need(height_mm)
        self.y_mm -= height_mm
        self.add(replace(group, dx_mm=group.dx_mm + self.x_mm, dy_mm=group.dy_mm + self.y_mm))
        self.gap(4.0)

    def pages(self, *, foot: str = "") -> tuple[Page, ...]:
        """Return the pages, with a quiet foot and page numbers."""
        sheets = [*self._done, tuple(self._items)]
        y = MARGIN_MM + 2.0
        out = []
        for number, items in enumerate(sheets, 1):
            name = self.title if len(sheets) == 1 else f"{self.title}, {number} of {len(sheets)}"
            count = f"{number} of {len(sheets)}"
            room = self.width_mm - self.metrics.width_mm(count, "measure", BODY_MM) - 6.0
            text = shortened(foot or self.title, "measure", BODY_MM, room, self.metrics)
            feet = (
                Words(text, self.x_mm, y, BODY_MM, "measure", colour=QUIET),
                Words(count, self.x_mm + self.width_mm, y, BODY_MM, "measure", "end", colour=QUIET),
            )
            out.append(Page(self.paper.width_mm, self.paper.height_mm, (*items, *feet), name))
        return tuple(out)
